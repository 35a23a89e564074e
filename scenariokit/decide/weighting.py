"""Weighing several criteria: fixed anchors, a weighted worth, and all weightings tried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.decide.rows import number_problems
from scenariokit.decide.sweep import MOST_CRITERIA, Sweep, all_weights, plain_totals, weight_sweep
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import Direction

__all__ = ["Criterion", "Weighing", "all_weights", "read_weights", "weigh"]


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
    sweep : Sweep
        More of the same: the middle of the weightings that make each win, and
        who is ahead for none.
    """

    worth: Any
    weights: Any
    total: Any
    win_share: Any
    winning: Any
    sweep: Sweep

    @property
    def never(self) -> Any:
        """Which options win for no weighting at all."""
        return self.sweep.never

    @property
    def outside(self) -> Any:
        """Where worth lies beyond the anchors, below 0 or above 1; options by criteria.

        Such a worth goes on along the line and is not cut off; whether the
        line still means anything there is for whoever set the anchors.
        """
        return (self.worth < 0) | (self.worth > 1)

    @property
    def order(self) -> tuple[int, ...]:
        """Numbers of the options from the highest total to the lowest; of equal ones the first."""
        return tuple(int(number) for number in np.argsort(-self.total, kind="stable"))


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
        value is no finite number.

    Notes
    -----
    Worth is (x - poor)/(excellent - poor), so the order of two options does
    not change when a third is added or taken away; the scales that stretch
    from the worst to the best of the options at hand do not have that
    property. About all weightings see `weight_sweep`.

    References
    ----------
    Keeney, R. L., Raiffa, H. (1976), Decisions with Multiple Objectives,
    chapter 3 (additive value with fixed anchors; from memory, not checked
    against a copy).

    Examples
    --------
    >>> yields = Criterion("yield", "Yield", "kg/m^2", 0, 8, "common practice")
    >>> cost = Criterion("cost", "Cost", "money/kg", 4, 0, "invented")
    >>> weigh([[6.0, 2.0], [4.0, 1.0]], [yields, cost], [1, 1]).total.tolist()
    [0.625, 0.625]
    """
    table = np.asarray(values, dtype=float)
    problems = []
    if table.ndim != 2 or 0 in table.shape or table.shape[1] != len(criteria):
        reason = "do not have one number for each option and criterion"
        problems.append(Problem("values", f"shape {table.shape}", reason,
                                f"(options, {len(criteria)}), one of each or more", kind="range"))  # fmt: skip
    if len(criteria) > MOST_CRITERIA:
        problems.append(Problem("criteria", f"{len(criteria)}", "are too many to sweep all weightings",
                                f"up to {MOST_CRITERIA}", kind="range"))  # fmt: skip
    problems += number_problems("values", table)
    shares, wrong = read_weights(weights, len(criteria))
    if problems or wrong:
        raise argument_error([*problems, *wrong], "weigh")
    worth = np.column_stack([one.worth(table[:, n]) for n, one in enumerate(criteria)])
    found = weight_sweep(worth)
    total = plain_totals(worth, shares)
    return Weighing(worth, shares, total, found.win_share, found.winning, found)


def read_weights(weights: Sequence[float], count: int) -> tuple[Any, list[Problem]]:
    """Return weights brought to add to 1, and what is wrong with them.

    Parameters
    ----------
    weights : sequence of float
        How much each counts, 0 or more and not all 0.
    count : int
        How many there must be.
    """
    given = np.asarray(weights, dtype=float)
    total = float(given.sum())
    if given.shape == (count,) and np.all(given >= 0) and 0 < total < np.inf:
        return given / total, []
    reason = tr("are not one for each criterion, or not 0 or more, or all 0")
    return given, [Problem("weights", f"{list(weights)}", reason, f"{count} numbers", kind="range")]
