"""Stochastic dominance: which option is better whatever one thinks of risk, or if one shuns it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scenariokit import units
from scenariokit.decide.rows import (
    direction_problems,
    number_problems,
    plain_numbers,
    sign_for,
)
from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.parameters import Direction
from scenariokit.units import QuantityLike

Order = Literal["first order", "second order", ""]

ORDER_WORDS: dict[Order, str] = {
    "first order": mark("better for everyone, however they look at risk"),
    "second order": mark("better for everyone who shuns risk"),
    "": mark("not better for everyone: it depends on what one thinks of risk"),
}
"""What each order of dominance says, in plain words."""
_PAIR_WORDS: dict[Order, str] = {
    "first order": mark(
        "{one} beside {other}: better for everyone, however they look at risk "
        "(first order dominance)"
    ),
    "second order": mark(
        "{one} beside {other}: better for everyone who shuns risk (second order dominance)"
    ),
}


@dataclass(frozen=True)
class DominanceTable:
    """Which option dominates which. Make it by `dominance_table`.

    Parameters
    ----------
    first : ndarray of bool
        ``[i, j]``: option i dominates option j to the first order.
    second : ndarray of bool
        To the second order; true wherever `first` is.
    better : {'higher', 'lower'}
        Which direction is better.
    """

    first: Any
    second: Any
    better: Direction

    def order(self, one: int, other: int) -> Order:
        """Return the strongest order to which one option dominates another; empty for none."""
        if self.first[one, other]:
            return "first order"
        return "second order" if self.second[one, other] else ""

    def pairs(self) -> tuple[tuple[int, int, Order], ...]:
        """Return every dominance as (better one, worse one, strongest order)."""
        rows, columns = np.nonzero(self.second)
        return tuple(
            (int(one), int(other), self.order(int(one), int(other)))
            for one, other in zip(rows, columns, strict=True)
        )

    def words(self, names: Sequence[str]) -> tuple[str, ...]:
        """Return a line for every dominance, in plain words.

        Parameters
        ----------
        names : sequence of str
            What a person reads for each option.
        """
        return tuple(
            tr(_PAIR_WORDS[order], one=names[one], other=names[other])
            for one, other, order in self.pairs()
        )


def dominates(one: QuantityLike, other: QuantityLike, better: Direction = "higher") -> Order:
    """Return to which order the draws of one option dominate those of another.

    First order: F₁(x) ≤ F₂(x) for all x and below somewhere, with F the
    distribution function. Second order: ∫F₁ ≤ ∫F₂, from minus infinity to x,
    for all x and below somewhere; the same as E[(x - X₁)⁺] ≤ E[(x - X₂)⁺], a
    smaller mean shortfall below every target x.

    Parameters
    ----------
    one, other : array or quantity
        Draws of the two, of any lengths. Quantities may have different units
        of one dimension.
    better : {'higher', 'lower'}
        Which direction is better. For costs, where lower is better, the
        negatives are compared: first order then is F₁ ≥ F₂, and second order a
        smaller mean excess E[(X₁ - x)⁺] over every limit x. It is the choice
        of all who dread the high costs most; of two costs of one mean it takes
        the steadier.

    Returns
    -------
    {'first order', 'second order', ''}
        First order: whoever thinks the better direction better prefers `one`.
        Second order: whoever does so and shuns risk. Empty: neither can be
        said, or both are alike.

    Raises
    ------
    UnitError, RangeError
        If units do not match, either is empty or holds what is no finite
        number, or the direction is another word.

    Notes
    -----
    Exact for the draws: the steps of F are compared as whole numbers, its
    integral where it bends. Differences of the integral below the rounding of
    a sum of so many numbers count as none. Which draws belong together does
    not matter. What it says of the tails rests on the few draws that lie there.

    References
    ----------
    Hadar, J., Russell, W. R. (1969), American Economic Review 59:25-34;
    Hanoch, G., Levy, H. (1969), Review of Economic Studies 36:335-346,
    doi:10.2307/2296431. Both from memory, not checked against a copy.

    Examples
    --------
    >>> dominates([3, 3, 4, 4], [1, 4, 4, 5])
    'second order'
    >>> dominates([2.0, 3.0], [1.0, 3.0, 4.0])
    ''
    >>> dominates([9, 11], [8, 12], better="lower")
    'second order'
    """
    a, b = _read_samples([one, other], better, "dominates")
    first, second = _compare(a, b)
    return "first order" if first else "second order" if second else ""


def dominance_table(samples: Any, better: Direction = "higher") -> DominanceTable:
    """Return which option dominates which, for all pairs.

    Parameters
    ----------
    samples : array, quantity, or sequence of these
        Options by draws; or one array of draws for each option, of any lengths.
    better : {'higher', 'lower'}
        Which direction is better; see `dominates` for what that means for costs.

    Returns
    -------
    DominanceTable

    Raises
    ------
    UnitError, RangeError
        As in `dominates`.

    Examples
    --------
    >>> found = dominance_table([[1, 4, 4, 5], [3, 3, 4, 4], [0, 1, 2, 3]])
    >>> found.words(["A", "B", "C"])[0]
    'A beside C: better for everyone, however they look at risk (first order dominance)'
    >>> found.order(1, 0)
    'second order'
    """
    sorted_rows = _read_samples(samples, better, "dominance_table")
    if len({row.size for row in sorted_rows}) == 1:
        first, second = _equal_lengths(np.stack(sorted_rows))
        return DominanceTable(first, second, better)
    count = len(sorted_rows)
    first, second = np.zeros((2, count, count), dtype=bool)
    for one in range(count):
        for other in range(count):
            if one != other:
                found = _compare(sorted_rows[one], sorted_rows[other])
                first[one, other], second[one, other] = found
    return DominanceTable(first, second, better)


def sorted_dominance(rows: Any) -> tuple[Any, Any]:
    """Return first and second order among options whose draws are sorted, and more is better.

    Parameters
    ----------
    rows : ndarray
        Options by draws, each row ascending; finite.

    Returns
    -------
    tuple of ndarray of bool
        ``[i, j]``: option i dominates option j to the first and to the second order.
    """
    return _equal_lengths(rows)


def mean_shortfall(values: Any, target: Any, better: Direction = "higher") -> Any:
    """Return by how much draws fall short of a target on average: E[(t - X)⁺].

    Parameters
    ----------
    values : array or quantity
        Draws on the last axis.
    target : float, array or quantity
        The target or targets; of several the result has one column each.
    better : {'higher', 'lower'}
        With ``'lower'`` the mean excess over the target, E[(X - t)⁺].

    Returns
    -------
    array or quantity
        As `values` was given.

    Raises
    ------
    UnitError, RangeError
        If units do not match, a number is not finite, or the direction is another word.

    Notes
    -----
    One option dominates another to the second order if its mean shortfall is
    the smaller or the same for every target.

    Examples
    --------
    >>> mean_shortfall([1.0, 4.0, 4.0, 5.0], [2.0, 4.0]).tolist()
    [0.25, 0.75]
    """
    problems = direction_problems(better)
    floats, unit = plain_numbers(values)
    targets, target_problems = _in_unit("target", target, unit)
    problems += number_problems("values", floats)
    problems += target_problems or number_problems("target", targets)
    if floats.size == 0:
        problems.append(Problem("values", "", "hold no draw", "one or more", kind="range"))
    if problems:
        raise argument_error(problems, "mean_shortfall")
    single = targets.ndim == 0
    gap = sign_for(better) * (np.atleast_1d(targets) - floats[..., np.newaxis])
    found = np.maximum(gap, 0.0).mean(axis=-2)
    found = found[..., 0] if single else found
    return found if unit is None else units.registry().Quantity(found, unit)


def _equal_lengths(rows: Any) -> tuple[Any, Any]:
    """Return both orders for sorted rows of one length: compare draw by draw, and sums of them."""
    draws = rows.shape[1]
    lowest = rows[:, 0].min()
    slack = 4 * draws * draws * np.finfo(float).eps * (rows[:, -1].max() - lowest)
    sums = np.cumsum(rows - lowest, axis=1)
    at_least = np.stack([np.all(row >= rows, axis=1) for row in rows])
    no_less = np.stack([np.all(row + slack >= sums, axis=1) for row in sums])
    first = at_least & ~at_least.T
    # Rounding must not let an option dominate one that dominates it to the first order.
    second = (no_less & ~no_less.T & ~first.T) | first
    return first, second


def _compare(a: Any, b: Any) -> tuple[bool, bool]:
    """Return whether sorted draws `a` dominate `b` to the first and to the second order."""
    at = np.union1d(a, b)
    # Counts times the other's number of draws are whole numbers: no rounding in comparing F.
    below_a = np.searchsorted(a, at, side="right") * b.size
    below_b = np.searchsorted(b, at, side="right") * a.size
    gap = below_b - below_a
    if np.all(gap >= 0) and np.any(gap > 0):
        return True, True
    integral = np.cumsum(gap[:-1] * np.diff(at))
    slack = 4 * at.size * np.finfo(float).eps * (at[-1] - at[0]) * a.size * b.size
    return False, bool(np.all(integral >= -slack) and np.any(integral > slack))


def _read_samples(samples: Any, better: Direction, subject: str) -> list[Any]:
    """Return each option's draws, turned so that more is better, ascending."""
    problems = direction_problems(better)
    unit: Any = None
    rows = []
    for number, sample in enumerate(samples):
        field = f"draws of option {number}"
        if number == 0:
            floats, unit = plain_numbers(sample)
            wrong: list[Problem] = []
        else:
            floats, wrong = _in_unit(field, sample, unit)
        if not wrong and floats.size == 0:
            wrong = [Problem(field, "", "hold no draw", "one or more", kind="range")]
        problems += wrong or number_problems(field, floats)
        rows.append(floats.ravel())
    if not rows:
        problems.append(Problem("samples", "", "hold no option", "one or more", kind="range"))
    if problems:
        raise argument_error(problems, subject)
    return [np.sort(row if better == "higher" else -row) for row in rows]


def _in_unit(field: str, value: Any, unit: Any) -> tuple[Any, list[Problem]]:
    """Return numbers in `unit` (None: plain numbers), and what is wrong with them."""
    if (unit is None) == hasattr(value, "m_as"):
        reason = "and the first do not both have a unit"
        return np.asarray(0.0), [Problem(field, f"{value}", reason, kind="unit")]
    if unit is None:
        return np.asarray(value, dtype=float), []
    own = units.adopt(value)
    if not own.is_compatible_with(unit):
        reason = f"is in {own.units}, of another dimension"
        return np.asarray(0.0), [Problem(field, "", reason, f"a unit like {unit}", kind="unit")]
    return np.asarray(own.m_as(unit), dtype=float), []
