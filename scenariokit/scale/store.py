"""Results of a grid in a folder of Parquet files, one a chunk, each written whole or not at all."""

from __future__ import annotations

import json
import os
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from scenariokit import __version__, catalog
from scenariokit.errors import InfeasibleError, ScenarioFileError
from scenariokit.scale.grid import Grid, load_grid, save_grid
from scenariokit.scale.work import Chunk, chunk_values, outcome_columns
from scenariokit.scenario import OUTCOMES

GRID_FILE = "grid.json"
ENDING = ".parquet"
DAMAGED = ".damaged"


def _parquet() -> Any:
    try:
        import pyarrow.parquet as parquet
    except ImportError as error:
        raise InfeasibleError(
            'large runs need pyarrow; install it with:  pip install "scenariokit[scale]"'
        ) from error
    return parquet


def open_folder(folder: str | Path, grid: Grid) -> Path:
    """Return the folder for the results of a grid, made if there is none.

    Raises
    ------
    InfeasibleError
        If it holds the results of another grid.
    ScenarioFileError
        If it cannot be made or written to, or its ``grid.json`` cannot be read.
    """
    place = Path(folder)
    stated = place / GRID_FILE
    try:
        place.mkdir(parents=True, exist_ok=True)
        if not stated.exists():
            _whole(stated, save_grid(grid).encode())
        text = stated.read_bytes()
    except OSError as error:
        raise ScenarioFileError(f"{folder}: {error.strerror or error}") from error
    there = load_grid(text, str(stated))
    if there.digest != grid.digest:
        raise InfeasibleError(
            f"{folder} holds the results of another grid (its {GRID_FILE} differs); "
            "take an empty folder"
        )
    return place


def grid_of(folder: str | Path) -> Grid:
    """Return the grid whose results a folder holds.

    Raises
    ------
    ScenarioFileError
        If there is none, or it cannot be read.
    """
    stated = Path(folder) / GRID_FILE
    try:
        return load_grid(stated.read_bytes(), str(stated))
    except OSError as error:
        raise ScenarioFileError(f"{stated}: {error.strerror or error}") from error


def _whole(path: Path, content: bytes) -> None:
    """Write a file under another name and give it its own once it is whole."""
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
    try:
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def table_of(grid: Grid, chunk: Chunk, values: Mapping[str, Any]) -> Any:
    """Return a chunk's outcomes as an Arrow table, one row a method and draw.

    Units stand in the column names and, as text, in the fields' metadata; the
    schema's metadata names grid, seed, chunk and version.
    """
    import pyarrow as pa

    count = len(grid.methods)
    cell, draws = chunk.cell, np.arange(chunk.start, chunk.stop)
    currency = catalog.price_list(cell.price_list).currency

    def word(values: list[str], indices: Any) -> Any:
        return pa.DictionaryArray.from_arrays(pa.array(indices, pa.int16()), pa.array(values))

    everywhere = np.zeros(count * chunk.rows, dtype=np.int16)
    columns = {
        "method": word(list(grid.methods), np.repeat(np.arange(count), chunk.rows)),
        "site": word([cell.site], everywhere),
        "planting_month": pa.array(np.full(count * chunk.rows, cell.planting_month, np.int8)),
        "price_list": word([cell.price_list], everywhere),
        "currency": word([currency], everywhere),
        "draw": pa.array(np.tile(draws, count)),
    }
    fields = [pa.field(name, array.type) for name, array in columns.items()]
    for name, column in outcome_columns(grid).items():
        columns[column] = pa.array(np.ascontiguousarray(values[name]).ravel())
        unit = {b"unit": OUTCOMES[name].unit.encode(), b"outcome": name.encode()}
        fields.append(pa.field(column, pa.float64(), metadata=unit))
    stamp = {
        b"scenariokit": json.dumps(_stamp(grid, chunk)).encode(),
        b"version": __version__.encode(),
    }
    return pa.Table.from_arrays(list(columns.values()), schema=pa.schema(fields, metadata=stamp))


def _stamp(grid: Grid, chunk: Chunk) -> dict[str, Any]:
    return {"grid": grid.digest, "seed": grid.seed, "cell": chunk.cell.number,
            "start": chunk.start, "stop": chunk.stop}  # fmt: skip


def make_part(grid: Grid, chunk: Chunk, folder: str | Path) -> str:
    """Work a chunk out and write it; return the name of its file.

    Raises
    ------
    ScenarioFileError
        If it cannot be written; nothing of it is left behind.
    """
    import pyarrow as pa

    table = table_of(grid, chunk, chunk_values(grid, chunk))
    sink = pa.BufferOutputStream()
    _parquet().write_table(table, sink, compression="zstd", compression_level=3,
                           use_dictionary=["method", "site", "price_list", "currency"])  # fmt: skip
    path = Path(folder) / f"{chunk.name}{ENDING}"
    try:
        _whole(path, sink.getvalue().to_pybytes())
    except OSError as error:
        raise ScenarioFileError(f"{path}: {error.strerror or error}") from error
    return path.name


def is_done(grid: Grid, chunk: Chunk, folder: Path) -> str:
    """Return ``"yes"`` if a chunk's file is there and whole, ``"no"`` if it is not there.

    A file that is damaged or of another run is put aside under another name;
    then the answer says so.
    """
    path = folder / f"{chunk.name}{ENDING}"
    if not path.exists():
        return "no"
    fault = _fault(grid, chunk, path)
    if not fault:
        return "yes"
    aside = path.with_name(path.name + DAMAGED)
    path.replace(aside)
    return f"{path.name}: {fault}; put aside as {aside.name} and made again"


def _fault(grid: Grid, chunk: Chunk, path: Path) -> str:
    """Return what is wrong with a file, or nothing."""
    import pyarrow as pa

    try:
        with _parquet().ParquetFile(path) as file:
            rows = file.metadata.num_rows
            stamp = json.loads((file.schema_arrow.metadata or {}).get(b"scenariokit", b"null"))
    except (pa.ArrowException, OSError, ValueError) as error:
        return f"cannot be read ({type(error).__name__})"
    if stamp != _stamp(grid, chunk):
        return "is of another run"
    wanted = chunk.rows * len(grid.methods)
    return "" if rows == wanted else f"has {rows} rows where {wanted} are due"
