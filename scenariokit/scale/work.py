"""The work of a grid cut into chunks, and one chunk of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.scale.grid import Cell, Grid
from scenariokit.scenario import OUTCOMES, column_name
from scenariokit.uncertainty import placed
from scenariokit.uncertainty.streaming import Block, blocks

CHUNK = 65_536
"""Draws of one chunk by default, a whole set of draws: a second of work, some megabytes of results."""
BLOCK = 12_288
"""Draws worked on at a time: arrays of 96 kB. From 128 kB on the C library may ask the system for
each array's memory anew, as it does in Dask's workers, which takes more time than the work."""


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
        If `size` is no whole number from 1 on.
    """
    if isinstance(size, bool) or not isinstance(size, int) or size < 1:
        problem = Problem(
            "chunk", f"{size}", tr("is no number of draws"), tr("1 or more"), kind="range"
        )
        raise argument_error([problem], "chunks")
    return _chunks(grid, size)


def _chunks(grid: Grid, size: int) -> Iterator[Chunk]:
    for cell in grid.cells():
        yield from cell_chunks(cell, grid.draws, size)


def cell_chunks(cell: Cell, draws: int, size: int) -> Iterator[Chunk]:
    """Yield the work of one cell, `size` draws at a time."""
    for start in range(0, draws, size):
        yield Chunk(cell, start, min(start + size, draws))


def chunk_values(grid: Grid, chunk: Chunk) -> dict[str, Any]:
    """Return the outcomes of a chunk as plain numbers, one row a method, one column a draw.

    Each number is the same to the last bit whatever the chunk is, because a
    draw depends on seed and number alone, and is worked on apart from others.
    """
    found = {name: np.empty((len(grid.methods), chunk.rows)) for name in grid.outcomes}
    for block in chunk_blocks(grid, chunk):
        for name, rows in block.outcomes.items():
            found[name][:, block.start - chunk.start : block.stop - chunk.start] = rows
    return found


def chunk_blocks(grid: Grid, chunk: Chunk) -> Iterator[Block]:
    """Yield the outcomes of a chunk a few thousand draws at a time, in order."""
    scenarios = grid.scenarios(chunk.cell)
    uncertainty = grid.drawn(scenarios)
    return blocks(
        placed(scenarios, uncertainty), uncertainty, chunk.start, chunk.stop, grid.seed,
        grid.outcomes, BLOCK,
    )  # fmt: skip


def outcome_columns(grid: Grid) -> dict[str, str]:
    """Return the column of each outcome of a grid, with its unit as a suffix."""
    return {name: column_name(OUTCOMES[name], "metric") for name in grid.outcomes}
