"""Reading the results of a grid: some columns of some cells, or summaries in little memory."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, ScenarioFileError, argument_error
from scenariokit.language import tr
from scenariokit.scale.grid import Cell, Grid
from scenariokit.scale.store import Stated, fault_of, parquet, part_path, stated_in
from scenariokit.scale.work import Chunk, cell_chunks, outcome_columns
from scenariokit.scenario import OUTCOMES
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
        Only these. Nothing else is read, and cells left out need not be
        finished.

    Returns
    -------
    pandas.DataFrame
        Columns carry their unit as a suffix; money is in ``currency``. Words
        are categories.

    Raises
    ------
    InfeasibleError
        If an outcome was not kept, or some chunks are not there yet.
    RangeError
        If the grid has no such method, site, month or price list.
    ScenarioFileError
        If the folder holds no grid, or a file is damaged.
    """
    import pyarrow as pa

    stated = stated_in(folder)
    grid = stated.grid
    columns = outcome_columns(grid)
    wanted = [*KEYS, *(columns[name] for name in _kept(grid, outcomes))]
    cells = _chosen(grid, methods, sites, planting_months, price_lists)
    groups = [at for at, one in enumerate(grid.methods) if methods is None or one in methods]
    tables = [
        _read_groups(path, groups, wanted)
        for cell in cells
        for path in _files(folder, stated, cell)
    ]
    whole = pa.concat_tables(tables).unify_dictionaries()
    frame: pd.DataFrame = whole.to_pandas()
    return frame


def _kept(grid: Grid, outcomes: Collection[str] | None) -> list[str]:
    """Return the names of outcomes, if all of them were kept."""
    wanted = list(grid.outcomes if outcomes is None else outcomes)
    missing = [name for name in wanted if name not in grid.outcomes]
    if missing:
        raise InfeasibleError(
            tr(
                "{missing} was not kept; there is {kept}",
                missing=", ".join(missing),
                kept=", ".join(grid.outcomes),
            )
        )
    return wanted


def _chosen(
    grid: Grid,
    methods: Collection[str] | None,
    sites: Collection[str] | None,
    planting_months: Collection[int] | None,
    price_lists: Collection[str] | None,
) -> list[Cell]:
    """Return the cells asked for, if there is all that was asked for."""
    asked = {"methods": methods, "sites": sites, "planting_months": planting_months,
             "price_lists": price_lists}  # fmt: skip
    problems = [
        Problem(name, ", ".join(unknown), tr("is not in this grid"),
                ", ".join(str(one) for one in getattr(grid, name)), kind="range")
        for name, given in asked.items()
        if given is not None
        and (unknown := [str(one) for one in given if one not in getattr(grid, name)])
    ]  # fmt: skip
    if problems:
        raise argument_error(problems, "read")
    return [
        cell
        for cell in grid.cells()
        if (sites is None or cell.site in sites)
        and (planting_months is None or cell.planting_month in planting_months)
        and (price_lists is None or cell.price_list in price_lists)
    ]


def _files(folder: str | Path, stated: Stated, cell: Cell) -> list[Path]:
    """Return the files of a cell, in the order of the draws.

    Raises
    ------
    InfeasibleError
        If one is not there.
    ScenarioFileError
        If one is damaged, or of another run.
    """
    found = []
    for chunk in cell_chunks(cell, stated.grid.draws, stated.chunk):
        path = part_path(folder, chunk)
        if not path.exists():
            raise InfeasibleError(
                tr(
                    "{folder}: the cell {cell} is not finished; run the grid into the same folder "
                    "again, it goes on where it stopped",
                    folder=folder,
                    cell=_words(chunk),
                )
            )
        if fault := fault_of(stated.grid, chunk, path):
            raise ScenarioFileError(
                tr("{path}: {fault}; run the grid into the folder again", path=path, fault=fault)
            )
        found.append(path)
    return found


def _words(chunk: Chunk) -> str:
    cell = chunk.cell
    return tr(
        "{site}, month {month}, {price_list}",
        site=cell.site,
        month=cell.planting_month,
        price_list=cell.price_list,
    )


def _read_groups(path: Path, groups: Sequence[int], columns: Sequence[str]) -> Any:
    """Return some columns of some row groups of a file, their checksums compared.

    Raises
    ------
    ScenarioFileError
        If the file is damaged.
    """
    try:
        with parquet().ParquetFile(path, page_checksum_verification=True) as file:
            return file.read_row_groups(list(groups), columns=list(columns))
    except OSError as error:
        raise ScenarioFileError(
            tr(
                "{path}: is damaged ({error}); remove it and run the grid into the folder again",
                path=path,
                error=error,
            )
        ) from error


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
        One row a cell and method: mean and quantiles of the draws in which the
        outcome exists, in how many it does not, and in which share of all
        draws the method is best, ties shared; without the latter where neither
        more nor less is better.

    Raises
    ------
    InfeasibleError, ScenarioFileError
        As in `read`.
    RangeError
        If a level is no probability.

    Notes
    -----
    One column of one method of one cell is read at a time: memory grows with
    the draws of a cell, 24 bytes each, and with nothing else.
    """
    import pandas as pd

    stated, asked = stated_in(folder), checked_levels(levels)
    _kept(stated.grid, [outcome])
    rows = [
        row
        for cell in stated.grid.cells()
        for row in _cell_rows(stated.grid, cell, _files(folder, stated, cell), outcome, asked)
    ]
    return pd.DataFrame(rows)


def _cell_rows(
    grid: Grid, cell: Cell, files: Sequence[Path], outcome: str, levels: Any
) -> Iterator[dict[str, Any]]:
    column = outcome_columns(grid)[outcome]
    best = _share_best(grid, files, outcome)
    for number, method in enumerate(grid.methods):
        found = np.concatenate([_values(path, (number,), column) for path in files])
        known = found[~np.isnan(found)]
        quantiles = quantile_rows(found[np.newaxis], levels)[0]
        yield {
            "site": cell.site,
            "planting_month": cell.planting_month,
            "price_list": cell.price_list,
            "currency": cell.currency,
            "method": method,
            "draws": found.size,
            level_column(outcome, "mean"): float(known.mean()) if known.size else np.nan,
            **{
                level_column(outcome, float(level)): float(value)
                for level, value in zip(levels, quantiles, strict=True)
            },
            f"{outcome}_undefined": found.size - known.size,
            **({} if best is None else {f"{outcome}_share_best": float(best[number])}),
        }


def _values(path: Path, groups: Sequence[int], column: str) -> Any:
    return _read_groups(path, groups, [column]).column(0).to_numpy()


def _share_best(grid: Grid, files: Sequence[Path], outcome: str) -> Any:
    """Return in which share of the draws each method is best, ties shared."""
    if OUTCOMES[outcome].better == "neither":
        return None
    higher, methods = OUTCOMES[outcome].better == "higher", len(grid.methods)
    counts = np.zeros((methods, methods + 1), dtype=np.int64)
    for path in files:
        found = _values(path, range(methods), outcome_columns(grid)[outcome])
        best = best_rows(found.reshape(methods, -1), higher=higher)
        together = best.sum(axis=0)
        for number in range(1, methods + 1):
            counts[:, number] += (best & (together == number)).sum(axis=1)
    # Whole numbers are added up first, so that the shares do not depend on the chunks.
    return (counts[:, 1:] / np.arange(1, methods + 1)).sum(axis=1) / grid.draws
