"""The work of a grid cut into chunks, and one chunk of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.scale.grid import Cell, Grid
from scenariokit.scenario import OUTCOMES, column_name
from scenariokit.uncertainty import placed
from scenariokit.uncertainty.streaming import blocks

CHUNK = 65_536
"""Draws of one chunk by default: some seconds of work, some megabytes of results."""


@dataclass(frozen=True)
class Chunk:
    """A piece of the work: some draws of one cell, for all methods.

    Parameters
    ----------
    cell : Cell
        Where.
    start, stop : int
        First draw, and the one after the last.
    """

    cell: Cell
    start: int
    stop: int

    @property
    def name(self) -> str:
        """Name of its file, without an ending."""
        return f"part-{self.cell.number:06d}-{self.start:012d}-{self.stop:012d}"

    @property
    def rows(self) -> int:
        """How many draws it has."""
        return self.stop - self.start


def chunks(grid: Grid, size: int = CHUNK) -> Iterator[Chunk]:
    """Yield the whole work of a grid, cell by cell.

    Parameters
    ----------
    grid : Grid
        The work.
    size : int
        Draws of a chunk at most; the numbers do not depend on it.

    Raises
    ------
    RangeError
        If `size` is below 1.
    """
    if size < 1:
        problem = Problem("chunk", f"{size}", "is too few draws", "1 or more", kind="range")
        raise argument_error([problem], "chunks")
    return _chunks(grid, size)


def _chunks(grid: Grid, size: int) -> Iterator[Chunk]:
    for cell in grid.cells():
        for start in range(0, grid.draws, size):
            yield Chunk(cell, start, min(start + size, grid.draws))


def chunk_values(grid: Grid, chunk: Chunk) -> dict[str, Any]:
    """Return the outcomes of a chunk as plain numbers, one row a method, one column a draw.

    Each number is the same to the last bit whatever the chunk is, because a
    draw depends on seed and number alone, and is worked on apart from others.
    """
    scenarios = grid.scenarios(chunk.cell)
    uncertainty = grid.drawn(scenarios)
    found = {name: np.empty((len(scenarios), chunk.rows)) for name in grid.outcomes}
    places = placed(scenarios, uncertainty)
    for block in blocks(
        places, uncertainty, chunk.start, chunk.stop, grid.seed, grid.outcomes
    ):  # fmt: skip
        first = block.start - chunk.start
        for name, rows in block.outcomes.items():
            found[name][:, first : first + rows.shape[1]] = rows
    return found


def outcome_columns(grid: Grid) -> dict[str, str]:
    """Return the column of each outcome of a grid, with its unit as a suffix."""
    return {name: column_name(OUTCOMES[name], "metric") for name in grid.outcomes}
