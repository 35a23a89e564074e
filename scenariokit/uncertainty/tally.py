"""Counts and sums of one outcome that come out the same however its draws are cut up."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np


class ExactSum:
    """A sum of floats without rounding, so that it does not depend on their order.

    Notes
    -----
    It is kept as floats that do not overlap; only `value` rounds, once.

    References
    ----------
    Shewchuk 1997, Discrete & Computational Geometry 18:305, doi:10.1007/PL00009321; from memory.

    Examples
    --------
    >>> total = ExactSum([1e16, 1.0])
    >>> total.add([-1e16])
    >>> total.value
    1.0
    """

    def __init__(self, values: Iterable[float] = ()) -> None:
        self.parts: list[float] = []
        self.add(values)

    def add(self, values: Iterable[float]) -> None:
        """Add finite floats."""
        for value in values:
            rest, kept = value, []
            for part in self.parts:
                large, small = (rest, part) if abs(rest) >= abs(part) else (part, rest)
                rest = large + small
                lost = small - (rest - large)
                if lost:
                    kept.append(lost)
            self.parts = [*kept, rest]

    @property
    def value(self) -> float:
        """The sum, rounded once."""
        return math.fsum(self.parts)


@dataclass(frozen=True)
class Bins:
    """Where the values of one outcome are counted, one row a method.

    Parameters
    ----------
    pivot : ndarray
        A value near the middle: sums are taken about it, so that a variance
        does not come from the difference of two large numbers.
    low, width : ndarray
        Lower end of the first bin, and the width of each.
    count : int
        How many there are; values beyond them are counted at either side.
    """

    pivot: Any
    low: Any
    width: Any
    count: int

    def same_as(self, other: Bins) -> bool:
        """Return whether both count alike, so that what they counted may be added."""
        mine, others = (self.pivot, self.low, self.width), (other.pivot, other.low, other.width)
        alike = all(np.array_equal(a, b) for a, b in zip(mine, others, strict=True))
        return alike and self.count == other.count


def bins_from(rows: Any, count: int) -> Bins:
    """Return bins for values like those of `rows`, a quarter wider on either side.

    Parameters
    ----------
    rows : ndarray
        Values of a first few draws, one row a method; NaN where there is none.
    count : int
        How many bins.
    """
    known = [row[np.isfinite(row)] for row in rows]
    ends = np.array([(row.min(), row.max()) if row.size else (0.0, 0.0) for row in known])
    reach = ends[:, 1] - ends[:, 0]
    # One value alone gets a narrow range, so that it is told to about a millionth.
    reach = np.where(reach > 0, reach, np.maximum(np.abs(ends[:, 0]) * 1e-6, 1e-12))
    pivot = np.array([np.median(row) if row.size else 0.0 for row in known])
    return Bins(pivot, ends[:, 0] - reach / 4, 1.5 * reach / count, count)


class Tally:
    """Counts and sums of one outcome, one row a method.

    Parameters
    ----------
    bins : Bins
        Where values are counted.
    better : float
        1 if more is better, -1 if less is, 0 if neither.
    """

    def __init__(self, bins: Bins, better: float) -> None:
        methods = len(bins.pivot)
        self.bins, self.better = bins, better
        self.defined = np.zeros(methods, dtype=np.int64)
        self.sums = [ExactSum() for _ in range(methods)]
        self.squares = [ExactSum() for _ in range(methods)]
        self.least, self.greatest = np.full(methods, np.inf), np.full(methods, -np.inf)
        self.counts = np.zeros((methods, bins.count + 2), dtype=np.int64)
        self.best = np.zeros((methods, methods + 1), dtype=np.int64)
        """In how many draws a method is best, by how many are best together."""

    def take(self, rows: Any) -> None:
        """Count in the values of one panel of draws, one row a method."""
        known = np.isfinite(rows)
        gaps = None if known.all() else ~known
        # What does not exist is put at the pivot, where it adds nothing to the sums.
        pivot = self.bins.pivot[:, np.newaxis]
        given = rows if gaps is None else np.where(known, rows, pivot)
        away = given - pivot
        first, second = away.sum(axis=1), np.square(away).sum(axis=1)
        for method in range(len(rows)):
            self.sums[method].add((float(first[method]),))
            self.squares[method].add((float(second[method]),))
        self.defined += known.sum(axis=1)
        low = rows if gaps is None else np.where(known, rows, np.inf)
        high = rows if gaps is None else np.where(known, rows, -np.inf)
        self.least = np.minimum(self.least, low.min(axis=1))
        self.greatest = np.maximum(self.greatest, high.max(axis=1))
        self._count(away, gaps)
        if self.better:
            self._compare(low if self.better < 0 else high)

    def _count(self, away: Any, gaps: Any) -> None:
        """Count the values in their bins; the first and the last are for what lies beyond."""
        bins, size = self.bins, self.bins.count + 2
        start = (bins.pivot - bins.low) / bins.width
        place = away * (1 / bins.width)[:, np.newaxis] + (start + 1)[:, np.newaxis]
        # Every place is above zero here, so cutting off the rest is rounding down.
        where = np.minimum(np.maximum(place, 0.0), size - 1.0).astype(np.int32)
        for method, row in enumerate(where):
            kept = row if gaps is None else row[~gaps[method]]
            self.counts[method] += np.bincount(kept, minlength=size)

    def _compare(self, rows: Any) -> None:
        """Count the draws in which each method is best; one without a value is infinitely bad."""
        top = rows.max(axis=0) if self.better > 0 else rows.min(axis=0)
        best = (rows == top) & np.isfinite(top)
        together = best.sum(axis=0)
        most = int(together.max())
        if most == 1 and together.min() == 1:
            self.best[:, 1] += best.sum(axis=1)
            return
        for number in range(1, most + 1):
            self.best[:, number] += (best & (together == number)).sum(axis=1)

    def merge(self, other: Tally) -> None:
        """Add what another tally of the same bins has counted in other draws."""
        self.defined = self.defined + other.defined
        for mine, others in ((self.sums, other.sums), (self.squares, other.squares)):
            for one, more in zip(mine, others, strict=True):
                one.add(more.parts)
        self.least = np.minimum(self.least, other.least)
        self.greatest = np.maximum(self.greatest, other.greatest)
        self.counts = self.counts + other.counts
        self.best = self.best + other.best

    def copy(self) -> Tally:
        """Return a tally that may be added to without changing this one."""
        return copy.deepcopy(self)

    # -- what it comes to ------------------------------------------------------------

    def mean(self) -> Any:
        """Return the mean of the values of each method; NaN where there is none."""
        away = np.array([one.value for one in self.sums])
        return self.bins.pivot + away / np.where(self.defined > 0, self.defined, np.nan)

    def variance(self) -> Any:
        """Return the variance of the values of each method; NaN where fewer than two are."""
        first = np.array([one.value for one in self.sums])
        second = np.array([one.value for one in self.squares])
        count = np.where(self.defined > 1, self.defined, np.nan)
        return np.maximum(second - first**2 / count, 0.0) / (count - 1)

    def share_best(self, draws: int) -> Any:
        """Return in which share of the draws each method is best, ties shared."""
        shared = 1.0 / np.arange(1, self.best.shape[1])
        return (self.best[:, 1:] * shared).sum(axis=1) / draws

    def quantiles(self, levels: Any) -> tuple[Any, Any]:
        """Return quantiles of each method, and by how much each may be out."""
        found = np.full((len(self.counts), len(levels)), np.nan)
        off = found.copy()
        for method, defined in enumerate(self.defined):
            if defined:
                found[method], off[method] = self._row_quantiles(method, levels)
        return found, off

    def _row_quantiles(self, method: int, levels: Any) -> tuple[Any, Any]:
        bins, counts = self.bins, self.counts[method]
        below = np.cumsum(counts)
        inner = bins.low[method] + np.arange(bins.count + 1) * bins.width[method]
        least, greatest = self.least[method], self.greatest[method]
        edges = np.concatenate([[min(least, inner[0])], inner, [max(greatest, inner[-1])]])
        # As `np.quantile`: between the two values whose ranks are next to the one wanted.
        rank = np.asarray(levels) * (self.defined[method] - 1)
        ends, places = [], []
        for order in (np.floor(rank), np.ceil(rank)):
            at = np.searchsorted(below, order, side="right")
            # No value lies beyond the least and the greatest, wherever their bins end.
            low, high = np.maximum(edges[at], least), np.minimum(edges[at + 1], greatest)
            part = (order - (below[at] - counts[at]) + 0.5) / counts[at]
            ends.append((low, high))
            places.append(low + part * (high - low))
        part = rank - np.floor(rank)
        return places[0] + part * (places[1] - places[0]), ends[1][1] - ends[0][0]
