"""Summaries of a grid worked out without keeping a single draw."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from typing import TYPE_CHECKING, Any

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.scale.clusters import Cluster, checked_cluster, on_cluster
from scenariokit.scale.documents import Origin, origin
from scenariokit.scale.grid import Cell, Grid
from scenariokit.scale.work import Chunk, cell_chunks, chunk_blocks
from scenariokit.scenario import OUTCOMES
from scenariokit.uncertainty import RunningSummary
from scenariokit.uncertainty.summaries import checked_levels

if TYPE_CHECKING:
    import pandas as pd

STRETCH = 2**20
"""Draws of one task on a cluster: some seconds of work, and two megabytes of sums and counts."""


def fold(
    grid: Grid,
    levels: Sequence[float] = (0.05, 0.5, 0.95),
    progress: Callable[[int, int], None] | None = None,
    *,
    cluster: Cluster = None,
) -> pd.DataFrame:
    """Return the summaries of a grid without keeping a single draw.

    Memory does not grow with the draws, and time grows in proportion.

    Parameters
    ----------
    grid : Grid
        What to work out.
    levels : sequence of float
        Which quantiles, read from histograms of 4096 bins, so that each is
        within a 2700th of the range of the first draws.
    progress : callable, optional
        Told how many draws are done, of how many in all cells; what it raises
        stops the run.
    cluster : int, str or distributed.Client, optional
        As for `run`. No folder is needed; the numbers are the same to the bit.

    Returns
    -------
    pandas.DataFrame
        One row a cell and method: for each outcome its mean and quantiles, in
        how many draws it does not exist, and in which share of the draws the
        method is best, ties shared, unless neither more nor less is better.

    Raises
    ------
    RangeError
        If a level is no probability.
    InfeasibleError
        As for `run`, of the cluster.
    ScenarioKitError
        What a cell raised.

    Examples
    --------
    >>> from scenariokit.scale import Grid, fold
    >>> grid = Grid(("medium_bag", "wedge_pots"), draws=4096, outcomes=("yield_per_area",))
    >>> fold(grid)[["method", "yield_per_area_p50_kg_per_m2"]].round(1).values.tolist()
    [['medium_bag', 6.6], ['wedge_pots', 4.8]]
    """
    import pandas as pd

    asked = tuple(float(level) for level in checked_levels(levels))
    checked_cluster(cluster)
    if cluster is None:
        return pd.concat(_folded_here(grid, asked, progress), ignore_index=True)
    total, done, frames = len(grid.cells()) * grid.draws, 0, []
    with closing(_folded_there(grid, asked, cluster)) as results:
        for draws, found in results:
            frames += found
            done += draws
            if progress is not None:
                progress(done, total)
    return pd.concat(frames, ignore_index=True)


def _folded_here(
    grid: Grid, levels: Sequence[float], progress: Callable[[int, int], None] | None
) -> Iterator[pd.DataFrame]:
    cells, draws = grid.cells(), grid.draws
    for cell in cells:

        def told(done: int, before: int = cell.number * draws) -> None:
            if progress is not None:
                progress(before + done, len(cells) * draws)

        yield _frame(grid, cell, _stretch(grid, Chunk(cell, 0, draws), told), levels)


def _folded_there(grid: Grid, levels: Sequence[float], cluster: Cluster) -> Any:
    """Yield how many draws are done each time that some are, and the cells finished by them."""
    tasks = ((grid, batch, tuple(levels), origin()) for batch in _batches(grid))
    whole: RunningSummary | None = None
    for batch, found in zip(_batches(grid), on_cluster(cluster, fold_batch, tasks), strict=True):
        draws = sum(one.rows for one in batch)
        if not isinstance(found, RunningSummary):
            yield draws, found
            continue
        found.scenarios = tuple(grid.scenarios(batch[0].cell))
        if whole is None:
            whole = found
        else:
            whole.merge(found)
        finished = whole.stop == grid.draws
        yield draws, [_frame(grid, batch[0].cell, whole, levels)] if finished else []
        whole = None if finished else whole


def _batches(grid: Grid) -> Iterator[tuple[Chunk, ...]]:
    """Yield stretches of one cell, or cells as many as make a stretch."""
    together = max(STRETCH // grid.draws, 1)
    cells = grid.cells()
    for first in range(0, len(cells), together):
        parts = [
            list(cell_chunks(one, grid.draws, STRETCH)) for one in cells[first : first + together]
        ]
        if together > 1:
            yield tuple(part[0] for part in parts)
        else:
            yield from ((one,) for one in parts[0])


def fold_batch(
    grid: Grid, batch: tuple[Chunk, ...], levels: Sequence[float], source: Origin
) -> RunningSummary | list[pd.DataFrame]:
    """Fold some draws, in a worker: a stretch of a cell, or several cells to the end.

    Raises
    ------
    InfeasibleError
        If the worker has another scenariokit.
    """
    if origin() != source:
        raise InfeasibleError(
            tr(
                "a worker has {origin} and this machine {source}; install the same on all of them",
                origin=origin(),
                source=source,
            )
        )
    folded = [_stretch(grid, one) for one in batch]
    if batch[0].rows < grid.draws:
        # Quantities of our units do not pass to another process; it makes the scenarios itself.
        folded[0].scenarios = ()
        return folded[0]
    return [_frame(grid, one.cell, found, levels) for one, found in zip(batch, folded, strict=True)]


def _stretch(grid: Grid, chunk: Chunk, told: Callable[[int], None] | None = None) -> RunningSummary:
    """Return what some draws of a cell come to."""
    scenarios = grid.scenarios(chunk.cell)
    found = RunningSummary.begin(
        scenarios, grid.drawn(scenarios), grid.seed, grid.outcomes, start=chunk.start
    )
    for piece in chunk_blocks(grid, chunk):
        found.add(piece)
        if told is not None:
            told(piece.stop)
    return found


def _frame(grid: Grid, cell: Cell, found: RunningSummary, levels: Sequence[float]) -> pd.DataFrame:
    """Return the summaries of a cell, with where it is."""
    frame = found.frame(levels)
    for name in grid.outcomes:
        if OUTCOMES[name].better != "neither":
            after = list(frame.columns).index(f"{name}_undefined") + 1
            frame.insert(after, f"{name}_share_best", found.share_best(name))
    for name in ("currency", "price_list", "planting_month", "site"):
        frame.insert(0, name, getattr(cell, name))
    return frame
