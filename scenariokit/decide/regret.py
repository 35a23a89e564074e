"""Regret draw by draw, the mean of the worst draws, and what each simple rule would pick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.decide.chance import payoffs
from scenariokit.decide.rows import option_rows, plain_numbers
from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction

WORST_SHARE = 0.1
"""Share of the draws that counts as bad; common practice, no published source."""


def regrets(values: Any, better: Direction = "higher") -> Any:
    """Return by how much each option falls short of the best one, draw by draw.

    Parameters
    ----------
    values : array or quantity
        Options by draws, or by stated scenarios.
    better : {'higher', 'lower'}
        Which direction is better.

    Returns
    -------
    array or quantity
        Of the same shape and unit, never below zero; in each draw it is zero
        for the best option.

    Raises
    ------
    RangeError
        If it is no table, holds what is no finite number, or the direction is
        another word.

    References
    ----------
    Savage, L. J. (1951), Journal of the American Statistical Association
    46:55-67, doi:10.2307/2280094 (from memory, not checked against a copy).

    Examples
    --------
    >>> regrets([[60, 40, 10], [90, 30, -30], [20, 20, 20]]).tolist()
    [[30.0, 0.0, 10.0], [0.0, 10.0, 50.0], [70.0, 20.0, 0.0]]
    """
    table = option_rows(values, better, "regrets")
    return table.given_back(table.up.max(axis=0) - table.up)


def regret_quantiles(
    values: Any, levels: Sequence[float] = (0.5, 0.9, 0.95), better: Direction = "higher"
) -> Any:
    """Return quantiles of each option's regret over the draws.

    Parameters
    ----------
    values : array or quantity
        Options by draws.
    levels : sequence of float
        From 0 to 1.
    better : {'higher', 'lower'}
        Which direction is better.

    Returns
    -------
    array or quantity
        Options by levels.

    Raises
    ------
    RangeError
        As in `regrets`, or if a level is not from 0 to 1.

    Examples
    --------
    >>> regret_quantiles([[3, 1, 2], [1, 2, 2]], [0.5, 1.0]).tolist()
    [[0.0, 1.0], [0.0, 2.0]]
    """
    asked = np.atleast_1d(np.asarray(levels, dtype=float))
    if not np.all((asked >= 0) & (asked <= 1)):
        problem = Problem("levels", f"{levels}", "hold what is no probability", "0 to 1",
                          kind="range")  # fmt: skip
        raise argument_error([problem], "regret_quantiles")
    table = option_rows(values, better, "regret_quantiles")
    short = table.up.max(axis=0) - table.up
    return table.given_back(sorted_quantiles(np.sort(short, axis=1), asked))


def sorted_quantiles(rows: Any, levels: Any) -> Any:
    """Return quantiles of rows that are sorted already, linear between the draws.

    Examples
    --------
    >>> sorted_quantiles(np.array([[1.0, 2.0, 4.0]]), [0.5, 0.75]).tolist()
    [[2.0, 3.0]]
    """
    place = np.asarray(levels, dtype=float) * (rows.shape[1] - 1)
    below = np.floor(place).astype(int)
    above = np.minimum(below + 1, rows.shape[1] - 1)
    part = place - below
    low, high = rows[:, below], rows[:, above]
    return np.where(part > 0, low + (high - low) * part, low)


def mean_of_worst(values: Any, share: float = WORST_SHARE, better: Direction = "higher") -> Any:
    """Return the mean of each option's worst draws.

    Parameters
    ----------
    values : array or quantity
        Options by draws.
    share : float
        Share of the draws that counts, above 0 and up to 1, where it gives the
        mean of all. A part of a draw counts for that part.
    better : {'higher', 'lower'}
        Which direction is better.

    Raises
    ------
    RangeError
        As in `regrets`, or if `share` is no such share.

    Notes
    -----
    An option that dominates another to the second order has no lower mean of
    its worst draws, whatever `share` is: so whoever chooses by it shuns risk.
    A single low quantile does not have that property.

    References
    ----------
    Rockafellar, R. T., Uryasev, S. (2000), Journal of Risk 2(3):21-41,
    doi:10.21314/JOR.2000.038 (conditional value at risk; from memory).

    Examples
    --------
    >>> mean_of_worst([[1.0, 4.0, 4.0, 5.0], [3.0, 3.0, 4.0, 4.0]], 0.5).tolist()
    [2.5, 3.0]
    """
    if not 0 < share <= 1:
        problem = Problem("share", f"{share:g}", "is no share of draws", "above 0 to 1",
                          kind="range")  # fmt: skip
        raise argument_error([problem], "mean_of_worst")
    table = option_rows(values, better, "mean_of_worst")
    found = sorted_mean_of_worst(np.sort(table.up, axis=1), share)
    return table.given_back(table.sign * found)


def sorted_mean_of_worst(rows: Any, share: float) -> Any:
    """Return the mean of the first `share` of rows that are sorted ascending."""
    counted = share * rows.shape[1]
    whole = int(counted * (1 + 1e-12))
    total = rows[:, :whole].sum(axis=1)
    part = counted - whole
    if part > 1e-9 * counted:
        total = total + part * rows[:, whole]
    return total / counted


@dataclass(frozen=True)
class Picks:
    """What each rule picks from a table of payoffs; equal options all stand.

    Parameters
    ----------
    on_average : tuple of int
        Options of the best mean; the same as those of the least expected regret.
    at_worst : tuple of int
        Options whose worst scenario is the least bad (maximin).
    least_greatest_regret : tuple of int
        Options whose greatest regret is the smallest (minimax regret).
    """

    on_average: tuple[int, ...]
    at_worst: tuple[int, ...]
    least_greatest_regret: tuple[int, ...]


def picks(values: Any, better: Direction = "higher", probabilities: Any = None) -> Picks:
    """Return which options three simple rules pick from a table of payoffs.

    Parameters
    ----------
    values : array or quantity
        Options by stated scenarios, or by draws.
    better : {'higher', 'lower'}
        Which direction is better.
    probabilities : array, optional
        Of the scenarios; all alike if left out. Only the mean uses them.

    Raises
    ------
    RangeError
        As in `payoffs`.

    Notes
    -----
    The greatest regret depends on which options stand beside each other: one
    that is taken away because it is best nowhere changes nothing, but one that
    is best somewhere may turn the order of two others.

    Examples
    --------
    >>> picks([[60, 40, 10], [90, 30, -30], [20, 20, 20]], probabilities=[0.3, 0.5, 0.2])
    Picks(on_average=(0,), at_worst=(2,), least_greatest_regret=(0,))
    """
    found = payoffs(values, better, probabilities)
    sign = 1.0 if better == "higher" else -1.0
    scores = (
        sign * plain_numbers(found.expected)[0],
        sign * plain_numbers(found.worst)[0],
        -plain_numbers(found.greatest_regret)[0],
    )
    return Picks(*(best_of(score) for score in scores))


def best_of(scores: Any, slack: float = 1e-12) -> tuple[int, ...]:
    """Return the numbers of the highest scores; those that differ by rounding alone are equal.

    Examples
    --------
    >>> best_of([0.1 + 0.2, 0.3, 0.1])
    (0, 1)
    """
    given = np.asarray(scores, dtype=float)
    top = given.max()
    return tuple(int(n) for n in np.flatnonzero(given >= top - slack * np.abs(given).max()))
