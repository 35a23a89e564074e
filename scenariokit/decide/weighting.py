"""Weighing several criteria: fixed anchors, a weighted worth, and all weightings tried."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction


@dataclass(frozen=True)
class Criterion:
    """One thing that counts, and what is poor and what is excellent in it.

    The two anchors are stated beforehand and never taken from the options that
    happen to be compared: then the order of two options cannot change because
    a third one is added or taken away.

    Parameters
    ----------
    name, label : str
        The outcome, and what a person reads.
    unit : str
        Unit of the anchors.
    poor, excellent : float
        Worth 0 and worth 1; `excellent` may be the smaller. Beyond them worth
        goes on along the same line, below 0 or above 1.
    source : str
        Where the anchors come from.
    """

    name: str
    label: str
    unit: str
    poor: float
    excellent: float
    source: str

    def __post_init__(self) -> None:
        """Refuse anchors that are no two different numbers."""
        if not (np.isfinite([self.poor, self.excellent]).all() and self.poor != self.excellent):
            value = f"{self.poor:g}, {self.excellent:g}"
            problem = Problem(f"{self.name}: poor, excellent", value, "are not two numbers",
                              "two different numbers", kind="range")  # fmt: skip
            raise argument_error([problem], "Criterion")

    @property
    def better(self) -> Direction:
        """Which direction is better."""
        return "higher" if self.excellent > self.poor else "lower"

    def worth(self, values: Any) -> Any:
        """Return the worth of plain values in the criterion's unit: 0 poor, 1 excellent."""
        return (np.asarray(values, dtype=float) - self.poor) / (self.excellent - self.poor)


@dataclass(frozen=True)
class Weighing:
    """What weighing says. Make it by `weigh`.

    Parameters
    ----------
    worth : ndarray
        Options by criteria: 0 poor, 1 excellent.
    weights : ndarray
        The weights used; they add to 1.
    total : ndarray
        Weighted worth of each option.
    win_share : ndarray
        For which share of all weightings each option has the highest total;
        ties are shared.
    winning : ndarray
        Options by criteria by two: least and greatest weight of each criterion
        among the weightings for which the option wins; NaN if it wins for none.
    """

    worth: Any
    weights: Any
    total: Any
    win_share: Any
    winning: Any

    @property
    def never(self) -> Any:
        """Which options win for no weighting at all."""
        return self.win_share == 0


def weigh(values: Any, criteria: Sequence[Criterion], weights: Sequence[float]) -> Weighing:
    """Return the weighted worth of options, and who wins for which weightings.

    Parameters
    ----------
    values : array
        Options by criteria, plain numbers in the units of the criteria.
    criteria : sequence of Criterion
        What counts.
    weights : sequence of float
        How much each counts, 0 or more and not all 0; they are brought to add to 1.

    Raises
    ------
    RangeError
        If the shapes do not fit, a weight is below zero or none is above, or a
        value is NaN.

    Notes
    -----
    All weightings are those of an even lattice over the weights that add to 1.
    An option that no other beats may still win for none of them, because a
    weighted sum only ever picks corners of what can be had.

    Examples
    --------
    >>> yields = Criterion("yield", "Yield", "kg/m^2", 0, 8, "common practice")
    >>> cost = Criterion("cost", "Cost", "money/kg", 4, 0, "invented")
    >>> weigh([[6.0, 2.0], [4.0, 1.0]], [yields, cost], [1, 1]).total.tolist()
    [0.625, 0.625]
    """
    table = np.asarray(values, dtype=float)
    given = np.asarray(weights, dtype=float)
    problems = []
    if table.ndim != 2 or table.shape[1] != len(criteria) or np.isnan(table).any():
        reason = "do not have one number for each option and criterion"
        problems.append(Problem("values", f"shape {table.shape}", reason,
                                f"(options, {len(criteria)})", kind="range"))  # fmt: skip
    if given.shape != (len(criteria),) or not np.all(given >= 0) or not given.sum() > 0:
        reason = "are not one for each criterion, or not 0 or more, or all 0"
        problems.append(Problem("weights", f"{list(weights)}", reason,
                                f"{len(criteria)} numbers", kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "weigh")
    worth = np.column_stack([one.worth(table[:, n]) for n, one in enumerate(criteria)])
    shares = given / given.sum()
    # A plain sum in fixed order: what stands beside an option must not change its last digit.
    total = np.sum(worth * shares, axis=1)
    win_share, winning = _sweep(worth)
    return Weighing(worth, shares, total, win_share, winning)


LATTICE = {1: 1, 2: 1000, 3: 60, 4: 24, 5: 14, 6: 10}
"""Parts into which the whole weight is cut, by number of criteria."""
FEWEST_PARTS = 8


def all_weights(criteria: int) -> Any:
    """Return an even lattice of weights that add to 1, one row a weighting.

    Each weighting stands at the middle of its cell, so that no weight is 0.
    """
    parts = LATTICE.get(criteria, FEWEST_PARTS)
    bars = np.array(list(itertools.combinations(range(parts + criteria - 1), criteria - 1)), int)
    bars = bars.reshape(len(bars), criteria - 1)
    edges = np.concatenate(
        [np.full((len(bars), 1), -1), bars, np.full((len(bars), 1), parts + criteria - 1)], axis=1
    )
    counts = np.diff(edges, axis=1) - 1
    return (counts + 1 / criteria) / (parts + 1)


def _sweep(worth: Any) -> tuple[Any, Any]:
    lattice = all_weights(worth.shape[1])
    totals = lattice @ worth.T
    best = totals.max(axis=1, keepdims=True)
    top = totals >= best - 1e-12
    shares = (top / top.sum(axis=1, keepdims=True)).mean(axis=0)
    ranges = np.full((worth.shape[0], worth.shape[1], 2), np.nan)
    for option in range(worth.shape[0]):
        mine = lattice[top[:, option]]
        if len(mine):
            ranges[option, :, 0], ranges[option, :, 1] = mine.min(axis=0), mine.max(axis=0)
    return shares, ranges
