"""Large comparisons: many places, seasons, prices and draws, on one machine or a cluster."""

from __future__ import annotations

from scenariokit.scale.documents import load_grid, save_grid
from scenariokit.scale.folding import fold
from scenariokit.scale.grid import Cell, Grid, example_grid
from scenariokit.scale.reading import read, summarise
from scenariokit.scale.runs import Run, run
from scenariokit.scale.work import CHUNK, Chunk, chunk_values, chunks

__all__ = [
    "CHUNK",
    "Cell",
    "Chunk",
    "Grid",
    "Run",
    "chunk_values",
    "chunks",
    "example_grid",
    "fold",
    "load_grid",
    "read",
    "run",
    "save_grid",
    "summarise",
]
