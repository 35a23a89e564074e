"""What many draws come to: quantiles, differences and how often each method is best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.scenario import OUTCOMES, column_name
from scenariokit.units import Quantity


@dataclass(frozen=True)
class Difference:
    """One method's outcome less another's, in the same draws.

    Parameters
    ----------
    name, one, other : str
        The outcome and the two methods.
    values : quantity
        One value a draw.
    """

    name: str
    one: str
    other: str
    values: Quantity

    def quantiles(self, levels: Sequence[float] = (0.05, 0.5, 0.95)) -> Quantity:
        """Return quantiles of the difference."""
        rows = quantile_rows(self.values.magnitude[np.newaxis], levels)
        return units.quantity(rows[0], OUTCOMES[self.name].unit)

    @property
    def share_better(self) -> float:
        """In which share of the draws the first is better; equal draws count half.

        A draw in which one of them does not have the outcome counts as not better.
        """
        gap = sign_of(self.name) * self.values.magnitude
        return float(np.mean((gap > 0) + 0.5 * (gap == 0)))

    @property
    def undefined(self) -> float:
        """In which share of the draws one of them does not have the outcome."""
        return float(np.isnan(self.values.magnitude).mean())


def sign_of(name: str) -> float:
    """Return 1 for an outcome of which more is better, -1 for one of which less is.

    Raises
    ------
    InfeasibleError
        If neither is.
    """
    better = OUTCOMES[name].better
    if better == "neither":
        raise InfeasibleError(f"neither more nor less of {name!r} is better, so none is best in it")
    return 1.0 if better == "higher" else -1.0


def best_rows(rows: Any, *, higher: bool) -> Any:
    """Return which rows have the best value of each column; none where all are NaN."""
    worst = -np.inf if higher else np.inf
    known = np.where(np.isnan(rows), worst, rows)
    best = known.max(axis=0) if higher else known.min(axis=0)
    return (known == best) & ~np.isnan(rows)


def level_column(name: str, level: float | str) -> str:
    """Return the column of a quantile, or of something else such as the mean, with its unit.

    Examples
    --------
    >>> level_column("yield_per_area", 0.05)
    'yield_per_area_p5_kg_per_m2'
    """
    whole = column_name(OUTCOMES[name], "metric")
    what = level if isinstance(level, str) else f"p{100 * level:g}".replace(".", "_")
    return f"{name}_{what}{whole.removeprefix(name)}"


def checked_levels(levels: Any) -> Any:
    """Return levels of quantiles as an array.

    Raises
    ------
    RangeError
        If one is not from 0 to 1.
    """
    asked = np.asarray(levels, dtype=float)
    if not np.all((asked >= 0) & (asked <= 1)):
        problem = Problem("levels", f"{levels}", "hold what is no probability", "0 to 1",
                          kind="range")  # fmt: skip
        raise argument_error([problem], "quantiles")
    return asked


def quantile_rows(rows: Any, levels: Any) -> Any:
    """Return quantiles of each row, leaving out NaN; NaN for a row of nothing else.

    Raises
    ------
    RangeError
        If a level is not from 0 to 1.
    """
    asked = checked_levels(levels)
    if not np.isnan(rows).any():
        return np.quantile(rows, asked, axis=1).T
    found = np.full((len(rows), *asked.shape), np.nan)
    for number, row in enumerate(rows):
        known = row[~np.isnan(row)]
        if known.size:
            found[number] = np.quantile(known, asked)
    return found
