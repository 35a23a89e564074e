"""Choosing under uncertainty: chance of being best, regret, value of knowing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.decide.dominance import Order, dominates
from scenariokit.decide.rows import option_rows
from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction

__all__ = ["Dominance", "Payoffs", "best_share", "dominance", "normal_loss", "payoffs"]

Dominance = Order
dominance = dominates


def _weights(probabilities: Any, count: int, subject: str) -> Any:
    if probabilities is None:
        return np.full(count, 1 / count)
    found = np.asarray(probabilities, dtype=float)
    fit = found.shape == (count,) and np.all(found >= 0) and abs(found.sum() - 1) <= 1e-9
    if not fit:
        problem = Problem("probabilities", f"{probabilities}", "are no probabilities of the states",
                          f"{count} of them, 0 or more, that add to 1", kind="range")  # fmt: skip
        raise argument_error([problem], subject)
    return found


def best_share(values: Any, better: Direction = "higher") -> Any:
    """Return in which share of the draws each option is the best; ties are shared equally.

    Parameters
    ----------
    values : array or quantity
        Options by draws. NaN counts as worse than any number; in a draw in
        which no option has a value none is best, and the shares then add up to
        less than 1.
    better : {'higher', 'lower'}
        Which direction is better.

    Returns
    -------
    ndarray
        One share an option.

    Raises
    ------
    RangeError
        If it is no table, a value is infinite, or the direction is another word.

    Notes
    -----
    The draws of a column belong together. Near twins share their chance, so
    that a method can lose its lead by a copy of itself: no rule here chooses
    by these shares alone.

    Examples
    --------
    >>> best_share([[3, 1, 2, 5], [1, 2, 2, 4]]).tolist()
    [0.625, 0.375]
    """
    up = option_rows(values, better, "best_share", missing=True).up
    known = np.where(np.isnan(up), -np.inf, up)
    best = known.max(axis=0)
    top = (known == best) & np.isfinite(best)
    return (top / np.maximum(top.sum(axis=0), 1)).mean(axis=1)


@dataclass(frozen=True)
class Payoffs:
    """What each option brings on the whole. Make it by `payoffs`.

    Parameters
    ----------
    expected : ndarray or quantity
        Mean of each option.
    worst : ndarray or quantity
        Its worst state.
    expected_regret, greatest_regret : ndarray or quantity
        By how much it falls short of the best option of each state: on
        average, and at most.
    perfect : float or quantity
        Mean of the best option of each state: what choosing after the fact
        would bring.
    value_of_knowing : float or quantity
        What it would be worth to know the state before choosing: the
        difference between that and the best mean, which is also the smallest
        expected regret (expected value of perfect information).
    """

    expected: Any
    worst: Any
    expected_regret: Any
    greatest_regret: Any
    perfect: Any
    value_of_knowing: Any


def payoffs(values: Any, better: Direction = "higher", probabilities: Any = None) -> Payoffs:
    """Return means, worst cases, regrets and the value of knowing, in the unit of `values`.

    Parameters
    ----------
    values : array or quantity
        Options by states (or draws), of one unit.
    better : {'higher', 'lower'}
        Which direction is better.
    probabilities : array, optional
        Of the states; all alike if left out.

    Raises
    ------
    RangeError
        If `values` is no table, holds what is no finite number, or the
        probabilities do not fit.

    Notes
    -----
    From draws the value of knowing is found a little too low, because the best
    of sampled means is on average above the best true one; `information` says
    by how much, at most.

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
    table = option_rows(values, better, "payoffs")
    up, sign = table.up, table.sign
    weights = _weights(probabilities, up.shape[1], "payoffs")
    best = up.max(axis=0)
    short = best - up
    expected = up @ weights
    perfect = float(best @ weights)
    # The smallest expected regret is the same number, but never below zero by rounding.
    regret = short @ weights
    return Payoffs(
        table.given_back(sign * expected),
        table.given_back(sign * up.min(axis=1)),
        table.given_back(regret),
        table.given_back(short.max(axis=1)),
        table.given_back(sign * perfect),
        table.given_back(float(regret.min())),
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
        If the deviation is below zero, or either is no finite number.

    Examples
    --------
    >>> round(normal_loss(2, 4), 6)
    0.791186
    """
    problems = []
    if not math.isfinite(gap):
        problems.append(Problem("gap", f"{gap:g}", "is no number", "a finite number", kind="range"))
    if not 0 <= deviation < math.inf:
        reason = "is below zero" if deviation < 0 else "is no number"
        problems.append(Problem("deviation", f"{deviation:g}", reason, "0 or more", kind="range"))
    if problems:
        raise argument_error(problems, "normal_loss")
    if deviation == 0:
        return 0.0
    u = abs(gap) / deviation
    density = math.exp(-u * u / 2) / math.sqrt(2 * math.pi)
    return deviation * (density - u * math.erfc(u / math.sqrt(2)) / 2)
