"""Reading the results of a grid: some columns of some cells, or summaries in little memory."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.scale.grid import Cell, Grid
from scenariokit.scale.store import ENDING, grid_of
from scenariokit.scale.work import outcome_columns
from scenariokit.scenario import OUTCOMES, column_name
from scenariokit.uncertainty import summarise_draws
from scenariokit.uncertainty.summaries import best_rows, checked_levels, level_column, quantile_rows

if TYPE_CHECKING:
    import pandas as pd

KEYS = ("method", "site", "planting_month", "price_list", "currency", "draw")


def read(
    folder: str | Path,
    outcomes: Collection[str] | None = None,
    *,
    methods: Collection[str] | None = None,
    sites: Collection[str] | None = None,
    planting_months: Collection[int] | None = None,
    price_lists: Collection[str] | None = None,
) -> pd.DataFrame:
    """Return results as a table, one row a method and draw.

    Parameters
    ----------
    folder : path
        Where `run` put them.
    outcomes : collection of str, optional
        Names of outcomes; all that were kept if left out.
    methods, sites, planting_months, price_lists : collection, optional
        Only these.

    Returns
    -------
    pandas.DataFrame
        Columns carry their unit as a suffix.

    Raises
    ------
    InfeasibleError
        If an outcome was not kept, or some chunks are not there yet.
    ScenarioFileError
        If the folder holds no grid.
    """
    import pyarrow.dataset as dataset

    grid = grid_of(folder)
    columns = outcome_columns(grid)
    wanted = list(columns) if outcomes is None else list(outcomes)
    missing = [name for name in wanted if name not in columns]
    if missing:
        raise InfeasibleError(f"{', '.join(missing)} was not kept; there is {', '.join(columns)}")
    data = dataset.dataset(_files(folder, grid), format="parquet")
    chosen = None
    for name, values in (
        ("method", methods), ("site", sites), ("planting_month", planting_months),
        ("price_list", price_lists),
    ):  # fmt: skip
        if values is not None:
            part = dataset.field(name).isin(list(values))
            chosen = part if chosen is None else chosen & part
    table = data.to_table(columns=[*KEYS, *(columns[name] for name in wanted)], filter=chosen)
    frame: pd.DataFrame = table.to_pandas()
    return frame


def _files(folder: str | Path, grid: Grid, cell: Cell | None = None) -> list[str]:
    """Return the files of a cell, or of all, in the order of the draws.

    Raises
    ------
    InfeasibleError
        If draws are missing.
    """
    pattern = "part-*" if cell is None else f"part-{cell.number:06d}-*"
    found = sorted(Path(folder).glob(f"{pattern}{ENDING}"))
    stops: dict[int, int] = {}
    for path in found:
        _, number, start, stop = path.stem.split("-")
        if int(start) == stops.get(int(number), 0):
            stops[int(number)] = int(stop)
    due = [one.number for one in (grid.cells() if cell is None else [cell])]
    unfinished = [number for number in due if stops.get(number, 0) != grid.draws]
    if unfinished:
        raise InfeasibleError(
            f"{folder}: {len(unfinished)} of {len(due)} cells are not finished; run the grid into "
            "the same folder again, it goes on where it stopped"
        )
    return [str(path) for path in found]


def summarise(
    folder: str | Path, outcome: str, levels: Sequence[float] = (0.05, 0.5, 0.95)
) -> pd.DataFrame:
    """Return mean, quantiles and chance of being best of every method in every cell.

    Parameters
    ----------
    folder : path
        Where `run` put the results.
    outcome : str
        An outcome that was kept.
    levels : sequence of float
        Which quantiles, exact for the draws.

    Returns
    -------
    pandas.DataFrame
        One row a cell and method. One column of one cell is read at a time.

    Raises
    ------
    InfeasibleError, ScenarioFileError
        As in `read`.
    RangeError
        If a level is no probability.
    """
    import pandas as pd
    import pyarrow.dataset as dataset

    grid, asked = grid_of(folder), checked_levels(levels)
    columns = outcome_columns(grid)
    if outcome not in columns:
        raise InfeasibleError(f"{outcome} was not kept; there is {', '.join(columns)}")
    column, rows = columns[outcome], []
    for cell in grid.cells():
        data = dataset.dataset(_files(folder, grid, cell), format="parquet")
        table = data.to_table(columns=["method", "draw", column]).to_pandas()
        found = np.stack([
            table[table["method"] == method].sort_values("draw")[column].to_numpy()
            for method in grid.methods
        ])  # fmt: skip
        rows += _cell_rows(grid, cell, found, outcome, asked)
    return pd.DataFrame(rows)


def _cell_rows(
    grid: Grid, cell: Cell, found: Any, outcome: str, levels: Any
) -> list[dict[str, Any]]:
    quantiles = quantile_rows(found, levels)
    higher = OUTCOMES[outcome].better != "lower"
    best = best_rows(found, higher=higher)
    known = ~np.isnan(found)
    means = [float(row[some].mean()) if some.any() else np.nan
             for row, some in zip(found, known, strict=True)]  # fmt: skip
    return [
        {
            "site": cell.site, "planting_month": cell.planting_month,
            "price_list": cell.price_list, "method": method, "draws": found.shape[1],
            f"{outcome}_undefined": float(1 - known[number].mean()),
            f"{column_name(OUTCOMES[outcome], 'metric')}_mean": means[number],
            **{level_column(outcome, level): float(value)
               for level, value in zip(levels, quantiles[number], strict=True)},
            f"{outcome}_share_best": float(np.mean(best[number])),
        }
        for number, method in enumerate(grid.methods)
    ]  # fmt: skip


def fold(
    grid: Grid,
    levels: Sequence[float] = (0.05, 0.5, 0.95),
    progress: Callable[[int, int], None] | None = None,
) -> pd.DataFrame:
    """Return the summaries of a grid without keeping a single draw.

    Memory does not grow with the draws, and time grows in proportion.

    Parameters
    ----------
    grid : Grid
        What to work out.
    levels : sequence of float
        Which quantiles, read from histograms whose error is stated beside them.
    progress : callable, optional
        Told how many draws are done, of how many in all cells; what it raises
        stops the run.

    Returns
    -------
    pandas.DataFrame
        One row a cell and method, as `RunningSummary.frame` gives them.
    """
    import pandas as pd

    cells, frames = grid.cells(), []
    for number, cell in enumerate(cells):
        scenarios = grid.scenarios(cell)

        def told(done: int, total: int, number: int = number) -> None:
            if progress is not None:
                progress(number * total + done, len(cells) * total)

        found = summarise_draws(
            scenarios, grid.drawn(scenarios), grid.draws, grid.seed, grid.outcomes, progress=told
        )
        frame = found.frame(levels)
        for name in ("price_list", "planting_month", "site"):
            frame.insert(0, name, getattr(cell, name))
        frames.append(frame)
    return pd.concat(frames, ignore_index=True)
