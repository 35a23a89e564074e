"""Choosing under uncertainty: chance of being best, regret, dominance, value of knowing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy import special

from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction

Dominance = Literal["first order", "second order", ""]


def _table(values: Any, better: Direction, subject: str) -> Any:
    """Return options by draws, turned so that more is better; no value counts as the worst."""
    rows = np.asarray(values, dtype=float)
    problems = []
    if rows.ndim != 2 or 0 in rows.shape:
        problems.append(Problem("values", f"shape {rows.shape}", "is no table of options by draws",
                                "(options, draws)", kind="range"))  # fmt: skip
    if better not in ("higher", "lower"):
        problems.append(Problem("better", better, "is no direction", "higher, lower", kind="range"))
    if problems:
        raise argument_error(problems, subject)
    up = rows if better == "higher" else -rows
    return np.where(np.isnan(up), -np.inf, up)


def _weights(probabilities: Any, count: int, subject: str) -> Any:
    if probabilities is None:
        return np.full(count, 1 / count)
    found = np.asarray(probabilities, dtype=float)
    if found.shape != (count,) or np.any(found < 0) or abs(found.sum() - 1) > 1e-9:
        problem = Problem("probabilities", f"{probabilities}", "are no probabilities of the states",
                          f"{count} of them, 0 or more, that add to 1", kind="range")  # fmt: skip
        raise argument_error([problem], subject)
    return found


def best_share(values: Any, better: Direction = "higher") -> Any:
    """Return in which share of the draws each option is the best; ties are shared equally.

    Parameters
    ----------
    values : array
        Options by draws. NaN counts as worse than any number.
    better : {'higher', 'lower'}
        Which direction is better.

    Raises
    ------
    RangeError
        If it is no table, or the direction is another word.

    Examples
    --------
    >>> best_share([[3, 1, 2, 5], [1, 2, 2, 4]]).tolist()
    [0.625, 0.375]
    """
    up = _table(values, better, "best_share")
    top = up == up.max(axis=0)
    return (top / top.sum(axis=0)).mean(axis=1)


@dataclass(frozen=True)
class Payoffs:
    """What each option brings on the whole. Make it by `payoffs`.

    Parameters
    ----------
    expected : ndarray
        Mean of each option.
    worst : ndarray
        Its worst state.
    expected_regret, greatest_regret : ndarray
        By how much it falls short of the best option of each state: on
        average, and at most.
    perfect : float
        Mean of the best option of each state: what choosing after the fact
        would bring.
    value_of_knowing : float
        What it would be worth to know the state before choosing: the
        difference between that and the best mean, which is also the smallest
        expected regret (expected value of perfect information).
    """

    expected: Any
    worst: Any
    expected_regret: Any
    greatest_regret: Any
    perfect: float
    value_of_knowing: float


def payoffs(values: Any, better: Direction = "higher", probabilities: Any = None) -> Payoffs:
    """Return means, worst cases, regrets and the value of knowing, in the unit of `values`.

    Parameters
    ----------
    values : array
        Options by states (or draws), plain numbers of one unit.
    better : {'higher', 'lower'}
        Which direction is better.
    probabilities : array, optional
        Of the states; all alike if left out.

    Raises
    ------
    RangeError
        If `values` is no table, holds NaN, or the probabilities do not fit.

    Notes
    -----
    From draws the value of knowing is found too high, by about the standard
    error of the best mean, because the best of sampled means is taken.

    References
    ----------
    Raiffa, H., Schlaifer, R. (1961), Applied Statistical Decision Theory
    (definitions; from memory).

    Examples
    --------
    >>> found = payoffs([[60, 40, 10], [90, 30, -30], [20, 20, 20]], probabilities=[0.3, 0.5, 0.2])
    >>> [float(one) for one in found.expected.round(6)], round(found.value_of_knowing, 6)
    ([40.0, 36.0, 20.0], 11.0)
    """
    rows = np.asarray(values, dtype=float)
    up = _table(rows, better, "payoffs")
    if np.isnan(rows).any():
        problem = Problem("values", "NaN", "have no value somewhere", "numbers", kind="range")
        raise argument_error([problem], "payoffs")
    weights = _weights(probabilities, up.shape[1], "payoffs")
    sign = 1.0 if better == "higher" else -1.0
    best = up.max(axis=0)
    short = best - up
    expected = up @ weights
    perfect = float(best @ weights)
    return Payoffs(
        sign * expected,
        sign * up.min(axis=1),
        short @ weights,
        short.max(axis=1),
        sign * perfect,
        max(perfect - float(expected.max()), 0.0),
    )


def normal_loss(gap: float, deviation: float) -> float:
    """Return the value of knowing which of two options is better, if their gap is normal.

    s (phi(u) - u Q(u)) with u = |d| / s: the unit normal loss times s.

    Parameters
    ----------
    gap, deviation : float
        d and s, mean and standard deviation of what one brings more than the
        other, in one unit; s 0 or more.

    Raises
    ------
    RangeError
        If the deviation is below zero.

    Examples
    --------
    >>> round(normal_loss(2, 4), 6)
    0.791186
    """
    if deviation < 0:
        problem = Problem("deviation", f"{deviation:g}", "is below zero", "0 or more", kind="range")
        raise argument_error([problem], "normal_loss")
    if deviation == 0:
        return 0.0
    u = abs(gap) / deviation
    density = math.exp(-u * u / 2) / math.sqrt(2 * math.pi)
    return deviation * (density - u * float(special.ndtr(-u)))


def dominance(one: Any, other: Any, better: Direction = "higher") -> Dominance:
    """Return whether draws of one option dominate those of another stochastically.

    Parameters
    ----------
    one, other : array
        Draws of the two, of any lengths.
    better : {'higher', 'lower'}
        Which direction is better.

    Returns
    -------
    {'first order', 'second order', ''}
        First order: whoever wants more prefers `one`. Second order: whoever
        wants more and shuns risk does. Empty: neither can be said, or both are
        alike.

    Raises
    ------
    RangeError
        If either is empty or holds NaN.

    Notes
    -----
    Exact for the draws: their distribution functions, and the integrals of
    these, are compared where they bend.

    Examples
    --------
    >>> dominance([3, 3, 4, 4], [1, 4, 4, 5])
    'second order'
    """
    a, b = (np.sort(np.asarray(part, dtype=float).ravel()) for part in (one, other))
    if a.size == 0 or b.size == 0 or np.isnan(a).any() or np.isnan(b).any():
        problem = Problem("draws", "", "are missing or hold NaN", "numbers", kind="range")
        raise argument_error([problem], "dominance")
    if better == "lower":
        a, b = -a[::-1], -b[::-1]
    at = np.union1d(a, b)
    below_a = np.searchsorted(a, at, side="right") / a.size
    below_b = np.searchsorted(b, at, side="right") / b.size
    slack = 1e-12
    if np.all(below_a <= below_b + slack) and np.any(below_a < below_b - slack):
        return "first order"
    steps = np.diff(at)
    gap = np.concatenate([[0.0], np.cumsum((below_b - below_a)[:-1] * steps)])
    size = max(float(np.abs(at).max()), 1.0) * slack * 10
    if np.all(gap >= -size) and np.any(gap > size):
        return "second order"
    return ""
