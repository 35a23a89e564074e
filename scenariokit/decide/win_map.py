"""Which method is best at each pair of values of two parameters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.decide.crossings import ROUNDING
from scenariokit.decide.over_range import (
    ends_of,
    has,
    outcome_named,
    outcome_over,
    parameter_at,
    path_column,
    refuse_draws,
    shown_number,
    sign_of,
    stated,
)
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import Parameter, UnitSystem
from scenariokit.scenario import Scenario
from scenariokit.uncertainty.placing import one_crop_and_currency
from scenariokit.units import Floats, QuantityLike

if TYPE_CHECKING:
    import pandas as pd

MOST_CELLS = 100_000
BLOCK = 8192
"""Cells worked on at a time: a season day by day for each must fit into memory."""
Ranges = Mapping[str, tuple[QuantityLike, QuantityLike]]
"""Path to the low and high end of what is looked at."""


@dataclass(frozen=True)
class WinMap:
    """The best of several methods over two parameters. Make it by `win_map`.

    Parameters
    ----------
    methods : tuple of str
        Ids, in the order of `best`.
    x, y : quantity
        Values of the two parameters.
    best : ndarray of int
        Number of the best method, ``[y, x]``; -1 where none has the outcome.
        Of equal ones the first.
    lead : quantity
        By how much it is ahead of the second, ``[y, x]``; NaN without a second.
    outcome : quantity
        Its outcome, ``[y, x]``; NaN where none has one.
    ties : ndarray of bool
        Where the second is as good, ``[y, x]``.
    paths : tuple of str
        Of the two parameters.
    described : tuple of Parameter
        The two parameters.
    """

    methods: tuple[str, ...]
    x: Any
    y: Any
    best: Any
    lead: Any
    outcome: Any
    ties: Any
    paths: tuple[str, str]
    described: tuple[Parameter, Parameter]

    @property
    def shares(self) -> dict[str, float]:
        """In which share of all cells each method is the best."""
        return {
            method: float((self.best == number).mean())
            for number, method in enumerate(self.methods)
        }

    def frame(self, system: UnitSystem = "metric", rate: float = 1.0) -> pd.DataFrame:
        """Return the map as a table of plain numbers, one row a cell.

        Parameters
        ----------
        system : {'metric', 'us'}
            The reader's units of the two parameters.
        rate : float
            Money shown for one unit of the price list's currency.

        Returns
        -------
        pandas.DataFrame
            Columns of the parameters carry their unit as a suffix; ``best`` is
            empty where no method has the outcome.
        """
        import pandas as pd

        x, y = (
            shown_number(values, one, system, rate)
            for values, one in zip((self.x, self.y), self.described, strict=True)
        )
        across, up = np.meshgrid(x, y)
        names = np.array([*self.methods, ""], dtype=object)
        columns = [
            path_column(path, one, system)
            for path, one in zip(self.paths, self.described, strict=True)
        ]
        return pd.DataFrame(
            {
                columns[0]: across.ravel(),
                columns[1]: up.ravel(),
                "best": names[self.best.ravel()],
                "tie": self.ties.ravel(),
            }
        )


def win_map(
    scenarios: Sequence[Scenario],
    x_path: str,
    y_path: str,
    name: str = "margin_per_area",
    cells: tuple[int, int] = (24, 24),
    ranges: Ranges | None = None,
) -> WinMap:
    """Return which method is best over the ranges of two parameters.

    Parameters
    ----------
    scenarios : sequence of Scenario
        What is compared.
    x_path, y_path : str
        Two different paths; each moves in all methods that have it.
    name : str
        The outcome.
    cells : tuple of int
        How many values of each, 2 or more.
    ranges : mapping, optional
        Path to low and high end; where left out those of the parameter's
        slider, and beyond it as far as the parameter stands now.

    Raises
    ------
    ArgumentError
        If the paths are alike or unknown, there is no such outcome, an end
        cannot be, or there are too few or too many cells.
    InfeasibleError
        If the scenarios cannot stand side by side.

    Notes
    -----
    All cells of a method are worked out in vectorised passes of 8192. A method
    whose measures do not fit each other in a cell, or without the outcome
    there, is not best there.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> both = [scenario_for("medium_bag"), scenario_for("perforated_tray")]
    >>> found = win_map(both, "prices.medium_factor", "prices.labour_price",
    ...                 "cost_per_kilogram", cells=(2, 2))
    >>> found.methods[found.best[0, 1]]
    'perforated_tray'
    """
    one_crop_and_currency(scenarios)
    refuse_draws(scenarios)
    wide, high = cells
    problems = []
    if x_path == y_path:
        problems.append(Problem("y_path", y_path, tr("is the same parameter twice"), kind="range"))
    if min(cells) < 2 or wide * high > MOST_CELLS:
        problems.append(Problem("cells", f"{cells}", "are too few or too many",
                                f"2 by 2 to {MOST_CELLS} in all", kind="range"))  # fmt: skip
    extra = sorted(set(ranges or {}) - {x_path, y_path})
    if extra:
        problems.append(Problem("ranges", ", ".join(extra), "is neither of the two paths",
                                f"{x_path}, {y_path}", kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "win_map")
    sides = [
        side_of(scenarios, path, count, ranges)
        for path, count in zip((x_path, y_path), cells, strict=True)
    ]
    (x_described, x), (y_described, y) = sides
    table = sign_of(name) * np.stack(
        [grid_outcome(one, (x_path, y_path), (x, y), name) for one in scenarios]
    )
    best, lead, top, ties = _placed(table)
    unit = outcome_named(name).unit
    return WinMap(
        tuple(one.method.id for one in scenarios), units.quantity(x, x_described.unit),
        units.quantity(y, y_described.unit), best, units.quantity(lead, unit),
        units.quantity(sign_of(name) * top, unit), ties, (x_path, y_path),
        (x_described, y_described),
    )  # fmt: skip


def side_of(
    scenarios: Sequence[Scenario], path: str, count: int, ranges: Ranges | None
) -> tuple[Parameter, Floats]:
    """Return description and plain values of one of two parameters."""
    described = parameter_at(scenarios, path)
    low, high = (ranges or {}).get(path, (None, None))
    here = [stated(one, path) for one in scenarios if has(one, path)]
    return described, np.linspace(*ends_of(described, low, high, here), count)


def grid_outcome(
    scenario: Scenario, paths: tuple[str, str], sides: tuple[Floats, Floats], name: str
) -> Floats:
    """Return a scenario's outcome at each pair of values, ``[y, x]``, a block at a time."""
    x, y = sides
    across, up = (part.ravel() for part in np.meshgrid(x, y))
    found = np.empty(across.size)
    for start in range(0, across.size, BLOCK):
        part = slice(start, start + BLOCK)
        found[part] = outcome_over(scenario, {paths[0]: across[part], paths[1]: up[part]}, name)
    return found.reshape(len(y), len(x))


def _placed(table: Floats) -> tuple[Any, Any, Any, Any]:
    """Return number, lead and outcome of the best of each cell, and where the second is as good."""
    none = np.isnan(table).all(axis=0)
    filled = np.where(np.isnan(table), -np.inf, table)
    best = np.where(none, -1, filled.argmax(axis=0))
    top = np.where(none, np.nan, filled.max(axis=0))
    lead = np.full(best.shape, np.nan)
    if len(table) > 1:
        ordered = np.sort(filled, axis=0)
        both = np.isfinite(ordered[-2])
        lead[both] = ordered[-1][both] - ordered[-2][both]
    ties = lead <= ROUNDING * np.abs(np.where(none, 0.0, top))
    return best, lead, top, ties
