"""Results of a grid in a folder of Parquet files, one a chunk, each written whole or not at all."""

from __future__ import annotations

import dataclasses
import json
import os
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from scenariokit import __version__
from scenariokit.errors import InfeasibleError, ScenarioFileError
from scenariokit.language import tr
from scenariokit.scale.documents import RUN, Origin, load_document, origin, save_grid
from scenariokit.scale.grid import Grid
from scenariokit.scale.work import CHUNK, Chunk, chunk_values, outcome_columns
from scenariokit.scenario import OUTCOMES

GRID_FILE = "grid.json"
ENDING = ".parquet"
DAMAGED = ".damaged"
WRITING = ".writing"
_DAY = 86_400.0
_KEYS = ("method", "site", "price_list", "currency")


@dataclass(frozen=True)
class Stated:
    """What a folder of results says of itself.

    Parameters
    ----------
    grid : Grid
        Whose results.
    chunk : int
        Draws in one file at most.
    origin : Origin
        Which scenariokit they come from.
    """

    grid: Grid
    chunk: int
    origin: Origin


def parquet() -> Any:
    """Return the library that reads and writes Parquet.

    Raises
    ------
    InfeasibleError
        If it is not installed.
    """
    try:
        import pyarrow.parquet
    except ImportError as error:
        raise InfeasibleError(
            tr('large runs need pyarrow; install it with:  pip install "scenariokit[scale]"')
        ) from error
    return pyarrow.parquet


def open_folder(folder: str | Path, grid: Grid, chunk: int | None = None) -> Path:
    """Return the folder for the results of a grid, made if there is none.

    Parameters
    ----------
    folder : path
        Where.
    grid : Grid
        Whose results.
    chunk : int, optional
        Draws in one file at most; what the folder was begun with if left out.

    Raises
    ------
    InfeasibleError
        If it holds the results of another grid, of the same one cut otherwise,
        or of another scenariokit.
    ScenarioFileError
        If it cannot be made or written to, or its ``grid.json`` cannot be read.
    """
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
        if not (place / GRID_FILE).exists():
            run = {"chunk": CHUNK if chunk is None else chunk, **dataclasses.asdict(origin())}
            _first(place / GRID_FILE, save_grid(grid, **{RUN: run}).encode())
        _remove_leftovers(place)
    except OSError as error:
        raise ScenarioFileError(f"{folder}: {error.strerror or error}") from error
    stated = stated_in(place)
    if stated.grid.digest != grid.digest:
        unlike = [
            one.name
            for one in dataclasses.fields(Grid)
            if getattr(stated.grid, one.name) != getattr(grid, one.name)
        ]
        raise InfeasibleError(
            tr(
                "{folder} holds the results of another grid, of other {fields}; take an empty folder",
                folder=folder,
                fields=", ".join(unlike),
            )
        )
    if stated.origin != origin():
        raise InfeasibleError(
            tr(
                "{folder} was begun by {earlier} and this is {now}: their numbers may differ; "
                "take an empty folder",
                folder=folder,
                earlier=stated.origin,
                now=origin(),
            )
        )
    if chunk not in (None, stated.chunk):
        raise InfeasibleError(
            tr(
                "{folder} was begun with {chunk} draws in a chunk, not {asked}; leave the size of "
                "chunks out, or take an empty folder",
                folder=folder,
                chunk=stated.chunk,
                asked=chunk,
            )
        )
    return place


def stated_in(folder: str | Path) -> Stated:
    """Return what a folder of results says of itself.

    Raises
    ------
    ScenarioFileError
        If it holds none, or what it says cannot be read.
    """
    path = Path(folder) / GRID_FILE
    try:
        text = path.read_bytes()
    except OSError as error:
        raise ScenarioFileError(f"{path}: {error.strerror or error}") from error
    grid, run = load_document(text, str(path))
    chunk = run.get("chunk") if isinstance(run, dict) else None
    if not isinstance(chunk, int) or chunk < 1:
        raise ScenarioFileError(
            tr('{path}: does not say in "run" how it was cut into chunks', path=path)
        )
    return Stated(grid, chunk, Origin(str(run.get("version")), str(run.get("catalogue"))))


# -- whole files ---------------------------------------------------------------------


def _whole(path: Path, content: Any) -> None:
    """Write a file under another name and give it its own once it is whole."""
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex}{WRITING}")
    try:
        _written(part, content)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _first(path: Path, content: bytes) -> None:
    """Write a file whole, unless another run has written it meanwhile: the first one stands."""
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex}{WRITING}")
    try:
        _written(part, content)
        try:
            os.link(part, path)
        except FileExistsError:
            pass
        except OSError:  # a file system that has no second names for a file
            part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _written(path: Path, content: Any) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _remove_leftovers(place: Path) -> None:
    """Remove what runs that were killed had begun to write, unless one may still be at it."""
    for path in place.glob(f".*{WRITING}"):
        try:
            if time.time() - path.stat().st_mtime > _DAY:
                path.unlink()
        except FileNotFoundError:  # finished, or removed by another run
            continue


# -- one chunk -----------------------------------------------------------------------


def table_of(grid: Grid, chunk: Chunk, values: Mapping[str, Any]) -> Any:
    """Return a chunk's outcomes as an Arrow table, one row a method and draw.

    Units stand in the column names and, as text, in the fields' metadata; the
    schema's metadata names grid, seed, chunk and version.
    """
    import pyarrow as pa

    count, cell = len(grid.methods), chunk.cell

    def word(values: list[str], indices: Any) -> Any:
        return pa.DictionaryArray.from_arrays(pa.array(indices, pa.int16()), pa.array(values))

    everywhere = np.zeros(count * chunk.rows, dtype=np.int16)
    columns = {
        "method": word(list(grid.methods), np.repeat(np.arange(count), chunk.rows)),
        "site": word([cell.site], everywhere),
        "planting_month": pa.array(np.full(count * chunk.rows, cell.planting_month, np.int8)),
        "price_list": word([cell.price_list], everywhere),
        "currency": word([cell.currency], everywhere),
        "draw": pa.array(np.tile(np.arange(chunk.start, chunk.stop), count)),
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

    Notes
    -----
    Each method is a row group, so that one method's column is read alone. The
    bytes of floats are written apart, first all first bytes and so on, which
    makes the file smaller and its compression cheap: drawn numbers have little
    that a slower one could find.
    """
    files = parquet()
    import pyarrow as pa

    table = table_of(grid, chunk, chunk_values(grid, chunk))
    apart = dict.fromkeys(outcome_columns(grid).values(), "BYTE_STREAM_SPLIT")
    sink = pa.BufferOutputStream()
    files.write_table(
        table, sink, row_group_size=chunk.rows, compression="snappy",
        use_dictionary=[*_KEYS, "planting_month"], write_page_checksum=True,
        write_statistics=[*_KEYS, "planting_month", "draw"],
        column_encoding={**apart, "draw": "DELTA_BINARY_PACKED"},
    )  # fmt: skip
    path = part_path(folder, chunk)
    try:
        _whole(path, sink.getvalue())
    except OSError as error:
        raise ScenarioFileError(f"{path}: {error.strerror or error}") from error
    return path.name


def part_path(folder: str | Path, chunk: Chunk) -> Path:
    """Return where a chunk's results stand."""
    return Path(folder) / f"{chunk.name}{ENDING}"


def is_done(grid: Grid, chunk: Chunk, folder: Path) -> str:
    """Return ``"yes"`` if a chunk's file is there and whole, ``"no"`` if it is not there.

    A file that is damaged or of another run is put aside under another name;
    then the answer says so.

    Raises
    ------
    ScenarioFileError
        If it cannot be put aside.
    """
    path = part_path(folder, chunk)
    if not path.exists():
        return "no"
    fault = fault_of(grid, chunk, path)
    if not fault:
        return "yes"
    aside = path.with_name(path.name + DAMAGED)
    try:
        path.replace(aside)
    except FileNotFoundError:  # another run into the folder was faster
        return "no"
    except OSError as error:
        raise ScenarioFileError(
            tr(
                "{path}: {fault}, and {trouble}",
                path=path,
                fault=fault,
                trouble=error.strerror or error,
            )
        ) from error
    return tr(
        "{name}: {fault}; put aside as {aside} and made again",
        name=path.name,
        fault=fault,
        aside=aside.name,
    )


def fault_of(grid: Grid, chunk: Chunk, path: Path) -> str:
    """Return what is wrong with a chunk's file, or nothing.

    Its end is looked at, which a file that was cut short lacks, and not its
    numbers: they carry checksums, which whoever reads them compares.
    """
    files = parquet()
    import pyarrow as pa

    try:
        with files.ParquetFile(path) as file:
            rows = file.metadata.num_rows
            stamp = json.loads((file.schema_arrow.metadata or {}).get(b"scenariokit", b"null"))
    except (pa.ArrowException, OSError, ValueError) as error:
        return tr("cannot be read ({error})", error=type(error).__name__)
    if stamp != _stamp(grid, chunk):
        return tr("is of another run")
    wanted = chunk.rows * len(grid.methods)
    return (
        ""
        if rows == wanted
        else tr("has {rows} rows where {wanted} are due", rows=rows, wanted=wanted)
    )
