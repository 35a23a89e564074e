"""The line in a map of two parameters along which two methods are equal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.decide.crossings import narrowed
from scenariokit.decide.over_range import (
    outcome_named,
    outcome_over,
    path_column,
    refuse_draws,
    shown_number,
    sign_of,
)
from scenariokit.decide.win_map import MOST_CELLS, Ranges, grid_outcome, side_of
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import Parameter, UnitSystem
from scenariokit.scenario import Scenario
from scenariokit.uncertainty.placing import one_crop_and_currency
from scenariokit.units import Floats

if TYPE_CHECKING:
    import pandas as pd

STEPS = (24, 24)
"""Spaces across and up, unless others are asked for."""
_SMOOTH = 1e-7


@dataclass(frozen=True)
class BreakEvenLine:
    """Pieces of the line along which two methods are equal. Make it by `break_even_line`.

    Parameters
    ----------
    one, other : str
        Ids of the two methods.
    x_start, y_start, x_end, y_end : quantity
        Ends of each straight piece; every end lies on the line itself.
    jump : ndarray of bool
        Of each piece whether at one of its ends the methods leap past each
        other and are not equal.
    paths : tuple of str
        Of the two parameters, across and up.
    described : tuple of Parameter
        The two parameters.
    """

    one: str
    other: str
    x_start: Any
    y_start: Any
    x_end: Any
    y_end: Any
    jump: Any
    paths: tuple[str, str]
    described: tuple[Parameter, Parameter]

    def __len__(self) -> int:
        """Return how many pieces there are; none where the methods are equal nowhere."""
        return len(self.jump)

    def frame(self, system: UnitSystem = "metric", rate: float = 1.0) -> pd.DataFrame:
        """Return the pieces as a table of plain numbers, one row a piece.

        Parameters
        ----------
        system : {'metric', 'us'}
            The reader's units.
        rate : float
            Money shown for one unit of the price list's currency.
        """
        import pandas as pd

        table: dict[str, Any] = {}
        for end, values in (
            ("start", (self.x_start, self.y_start)), ("end", (self.x_end, self.y_end)),
        ):  # fmt: skip
            for path, described, one in zip(self.paths, self.described, values, strict=True):
                column = f"{end}_{path_column(path, described, system)}"
                table[column] = shown_number(one, described, system, rate)
        return pd.DataFrame({**table, "jump": self.jump})


def break_even_line(
    pair: tuple[Scenario, Scenario],
    x_path: str,
    y_path: str,
    name: str = "margin_per_area",
    steps: tuple[int, int] = STEPS,
    ranges: Ranges | None = None,
) -> BreakEvenLine:
    """Return the line along which two methods are equal, over the ranges of two parameters.

    Parameters
    ----------
    pair : tuple of Scenario
        The two methods.
    x_path, y_path : str
        Two different paths; each moves in both methods if both have it.
    name : str
        The outcome.
    steps : tuple of int
        Spaces across and up within which the line is drawn straight, 1 or more.
    ranges : mapping, optional
        As in `win_map`.

    Returns
    -------
    BreakEvenLine

    Raises
    ------
    ArgumentError
        If the paths are alike or unknown, there is no such outcome, an end
        cannot be, or there are too few or too many steps.
    InfeasibleError
        If the two cannot stand side by side.

    Notes
    -----
    The difference is looked at in the corners of a mesh. Where it changes its
    sign along an edge, the place is pinned down to neighbouring floats, all
    edges in one vectorised pass a method and round; a piece joins two such
    places of a mesh's cell. Where a cell has four, the sign in its middle says
    which belong together. What begins and ends within one cell is not seen,
    nor are corners at which a method has no value.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> both = (scenario_for("medium_bag"), scenario_for("perforated_tray"))
    >>> line = break_even_line(both, "prices.medium_factor", "prices.labour_price",
    ...                        "cost_per_kilogram", steps=(4, 4))
    >>> len(line) > 0, bool(line.jump.any())
    (True, False)
    """
    one_crop_and_currency(pair)
    refuse_draws(pair)
    problems = []
    if x_path == y_path:
        problems.append(Problem("y_path", y_path, tr("is the same parameter twice"), kind="range"))
    if min(steps) < 1 or (steps[0] + 1) * (steps[1] + 1) > MOST_CELLS:
        problems.append(Problem("steps", f"{steps}", "are too few or too many",
                                f"1 by 1, up to {MOST_CELLS} corners", kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "break_even_line")
    outcome_named(name)
    paths = (x_path, y_path)
    (x_described, x), (y_described, y) = (
        side_of(pair, path, count + 1, ranges) for path, count in zip(paths, steps, strict=True)
    )
    sign = sign_of(name)

    def ahead(across: Floats, up: Floats) -> Floats:
        first, second = (
            outcome_over(one, {x_path: across.ravel(), y_path: up.ravel()}, name) for one in pair
        )
        return (sign * (first - second)).reshape(across.shape)

    corners = [grid_outcome(one, paths, (x, y), name) for one in pair]
    mesh = _Mesh(x, y, sign * (corners[0] - corners[1]), ahead)
    pieces = mesh.pieces()
    ends = np.array([piece[:4] for piece in pieces]).reshape(-1, 4).T
    jump = np.array([piece[4] for piece in pieces], dtype=bool)
    x_unit, y_unit = x_described.unit, y_described.unit
    return BreakEvenLine(
        pair[0].method.id, pair[1].method.id, units.quantity(ends[0], x_unit),
        units.quantity(ends[1], y_unit), units.quantity(ends[2], x_unit),
        units.quantity(ends[3], y_unit), jump, paths, (x_described, y_described),
    )  # fmt: skip


class _Mesh:
    """A difference at the corners of a mesh, and where it is zero along the edges."""

    def __init__(self, x: Floats, y: Floats, corners: Floats, ahead: Any) -> None:
        self.x, self.y, self.corners, self.ahead = x, y, corners, ahead
        self.known = ~np.isnan(corners)
        self.above = corners > 0
        self.level = self._edges(axis=1)
        self.upright = self._edges(axis=0)

    def _edges(self, axis: int) -> dict[tuple[int, int], tuple[float, float, bool]]:
        """Return place and kind of the zero on each edge along an axis that has one."""
        first = tuple(slice(None, -1) if one == axis else slice(None) for one in (0, 1))
        second = tuple(slice(1, None) if one == axis else slice(None) for one in (0, 1))
        turned = (self.above[first] != self.above[second]) & self.known[first] & self.known[second]
        rows, columns = np.nonzero(turned)
        if not rows.size:
            return {}
        along = self.x if axis == 1 else self.y
        start = columns if axis == 1 else rows
        fixed = (self.y[rows] if axis == 1 else self.x[columns])[:, np.newaxis]
        values = self.corners[first][turned], self.corners[second][turned]

        def function(places: Floats) -> Floats:
            still = np.broadcast_to(fixed, places.shape)
            return self.ahead(*((places, still) if axis == 1 else (still, places)))

        low, high, low_end, high_end = narrowed(function, along[start], along[start + 1], *values)
        left = np.minimum(np.abs(low_end), np.abs(high_end))
        jumps = ~(left <= _SMOOTH * np.maximum(np.abs(values[0]), np.abs(values[1])))
        at = np.where(np.abs(low_end) <= np.abs(high_end), low, high)
        places = (at, self.y[rows]) if axis == 1 else (self.x[columns], at)
        return {
            (int(row), int(column)): (float(px), float(py), bool(jump))
            for row, column, px, py, jump in zip(rows, columns, *places, jumps, strict=True)
        }

    def pieces(self) -> list[tuple[float, float, float, float, bool]]:
        """Return the straight pieces of the line, cell by cell."""
        found = []
        cells = {(row - down, column) for row, column in self.level for down in (0, 1)} | {
            (row, column - back) for row, column in self.upright for back in (0, 1)
        }
        for row, column in sorted(cells):
            if not (0 <= row < len(self.y) - 1 and 0 <= column < len(self.x) - 1):
                continue
            sides = [  # counter-clockwise from below
                self.level.get((row, column)),
                self.upright.get((row, column + 1)),
                self.level.get((row + 1, column)),
                self.upright.get((row, column)),
            ]
            for start, end in self._joined(row, column, sides):
                found.append((*start[:2], *end[:2], start[2] or end[2]))
        return found

    def _joined(self, row: int, column: int, sides: list[Any]) -> list[tuple[Any, Any]]:
        """Return which of a cell's places belong together."""
        places = [one for one in sides if one is not None]
        if len(places) == 2:
            return [(places[0], places[1])]
        if len(places) < 4:  # a corner without a value
            return []
        below, right, above, left = sides
        middle = self.ahead(
            (self.x[column : column + 1] + self.x[column + 1 : column + 2]) / 2,
            (self.y[row : row + 1] + self.y[row + 1 : row + 2]) / 2,
        )
        if bool(middle[0] > 0) == bool(self.above[row, column]):
            return [(below, right), (above, left)]
        return [(below, left), (right, above)]
