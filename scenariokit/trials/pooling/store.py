"""The pool on disk: a table of plots, a table of problems, and a journal of what is done."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import IO, Any

from scenariokit.catalog.cells import read_cell
from scenariokit.catalog.fields import Field, Schema, from_json
from scenariokit.catalog.tables import write_csv
from scenariokit.errors import Problem, RecordError, shorten
from scenariokit.language import mark, tr
from scenariokit.trials.pooling.reading import FileRead, Options
from scenariokit.trials.records.reading import finished
from scenariokit.trials.records.report import REPORT, report_rows
from scenariokit.trials.records.schema import record_document, record_schema

PLOTS, PROBLEMS, JOURNAL = "plots.csv", "problems.csv", "journal.jsonl"

NOT_USED, FLAGGED = mark("not used"), mark("used, but look again")

_LONGEST = 1000
"""Characters of a text in the table of problems."""


@dataclass(frozen=True)
class PooledFile:
    """What became of one file of a pool.

    Parameters
    ----------
    name, hash : str
        The file, and the start of the SHA-256 hash of its content; empty if it
        could not be read.
    rows, refused : int
        Plots taken, and rows refused.
    problems : int
        Everything that was wrong with it, flags left aside.
    """

    name: str
    hash: str
    rows: int
    refused: int
    problems: int


def pool_schema() -> Schema:
    """Return the columns of the pooled table: those of a plot record, and where it stood."""
    plain = record_schema()
    places = (Field("file"), Field("file_row", type="integer"), Field("file_hash"))
    return replace(plain, name="pool", fields=(*plain.fields, *places))


_PROBLEMS = from_json({"name": "problems", "fields": [{"name": one} for one in REPORT.names]})


class Store:
    """The three files of a pool, written chunk by chunk.

    Parameters
    ----------
    folder : Path
        Where they are; made if it does not exist.
    options : Options
        How files are read; a pool is not gone on with under other options.

    Raises
    ------
    RecordError
        If the folder holds something else, or a pool of other options.

    Notes
    -----
    A line is added to the journal after the rows of its files are written, with
    the lengths of both tables; what stands beyond them, after a run that was
    broken off, is cut off and done again.
    """

    def __init__(self, folder: Path, options: Options) -> None:
        self.folder = folder
        self.files: dict[str, PooledFile] = {}
        self.keys: dict[bytes, tuple[str, int]] = {}
        self._taken: dict[str, str] = {}
        self._head = {"journal": 1, **asdict(options), "schema": _fingerprint()}
        self._open: dict[str, IO[bytes]] = {}
        folder.mkdir(parents=True, exist_ok=True)
        self._resume()

    def __enter__(self) -> Store:
        """Open the files to write to them."""
        for name in (PLOTS, PROBLEMS, JOURNAL):
            self._open[name] = (self.folder / name).open("ab")
        if not self._open[JOURNAL].tell():
            self.clear()
        return self

    def __exit__(self, *_: object) -> None:
        """Close the files."""
        for handle in self._open.values():
            handle.close()

    def clear(self) -> None:
        """Begin anew."""
        self.files, self.keys, self._taken = {}, {}, {}
        for handle in self._open.values():
            handle.seek(0)
            handle.truncate()
        # The journal comes first: a table without one belongs to somebody else.
        self._journal(self._head)
        self._write(PLOTS, write_csv([], pool_schema()))
        self._write(PROBLEMS, write_csv([], _PROBLEMS))
        self._journal({"files": [], **self._lengths()})

    def add(self, results: list[FileRead]) -> None:
        """Write what some files gave, and note them as done."""
        done = []
        for result in results:
            self._refuse_repeats(result)
            file = PooledFile(
                result.name, result.hash, len(result.rows), result.refused, len(result.problems)
            )
            self.files[file.name] = file
            done.append(asdict(file))
        self._write(PLOTS, _body([row for one in results for row in _placed(one)], pool_schema()))
        lines = [
            {name: shorten(text, _LONGEST) for name, text in line.items()}
            for one in results
            for line in (*report_rows(one.problems, NOT_USED), *report_rows(one.flags, FLAGGED))
        ]
        self._write(PROBLEMS, _body(lines, _PROBLEMS))
        self._journal({"files": done, **self._lengths()})

    def _refuse_repeats(self, result: FileRead) -> None:
        """Take out the plots that another file has given."""
        if result.rows and result.hash in self._taken:
            same = self._taken[result.hash]
            reason = tr("has the same content as {same} and was not used", same=same)
            result.problems = [Problem("file", "", reason, tr("each file once"), file=result.name)]
            result.rows, result.flags = [], []
            return
        if result.rows:
            self._taken[result.hash] = result.name
        kept = []
        for row in result.rows:
            file, number = self.keys.setdefault(_key(row), (result.name, row["_row"]))
            if (file, number) == (result.name, row["_row"]):
                kept.append(row)
                continue
            value = f"{row['study_id']}, {row['plot_id']}"
            reason = tr(
                "stands in {file}, row {number} too; that one was kept", file=file, number=number
            )
            result.problems.append(
                Problem("study_id, plot_id", value, reason, tr("each plot in one file"),
                        file=result.name, row=row["_row"])
            )  # fmt: skip
        result.rows = kept

    def _write(self, name: str, text: str) -> None:
        self._open[name].write(text.encode("utf-8"))
        self._open[name].flush()

    def _journal(self, line: Mapping[str, Any]) -> None:
        self._write(JOURNAL, json.dumps(line, ensure_ascii=False) + "\n")

    def _lengths(self) -> dict[str, int]:
        return {name: self._open[name].tell() for name in (PLOTS, PROBLEMS)}

    def _resume(self) -> None:
        """Read the journal, and cut off what it does not vouch for."""
        path = self.folder / JOURNAL
        if not path.exists():
            self._refuse_strangers()
            return
        lines, length = _whole_lines(path)
        if not lines or "journal" not in lines[0]:
            reason = tr("is not the journal of a pool")
            raise RecordError(
                [Problem(JOURNAL, "", reason, tr("another folder"))], str(self.folder)
            )
        if lines[0] != self._head:
            reason = tr("was pooled with another decimal sign, other units or another plot record")
            problem = Problem("resume", str(self.folder), reason, tr("the same, or another folder"))
            raise RecordError([problem], "pool")
        if not self._is_whole(lines):
            path.unlink()
            return
        _cut(path, length)
        for name in (PLOTS, PROBLEMS):
            _cut(self.folder / name, lines[-1][name])
        for line in lines[1:]:
            self.files |= {one["name"]: PooledFile(**one) for one in line["files"]}
        self._taken = {file.hash: file.name for file in self.files.values() if file.rows}
        for row in read_rows(self.folder / PLOTS):
            self.keys[_key(row)] = (row["_file"], row["_row"])

    def _is_whole(self, lines: list[dict[str, Any]]) -> bool:
        """Return whether both tables are as long as the journal says."""
        return len(lines) > 1 and all(
            (self.folder / name).exists() and (self.folder / name).stat().st_size >= lines[-1][name]
            for name in (PLOTS, PROBLEMS)
        )

    def _refuse_strangers(self) -> None:
        """Refuse to write over a table that no pool made."""
        problems = [
            Problem("resume", name, tr("is there already, without the journal of a pool"),
                    tr("another folder"), file=str(self.folder))
            for name in (PLOTS, PROBLEMS)
            if (self.folder / name).exists()
        ]  # fmt: skip
        if problems:
            raise RecordError(problems, "pool")


def read_rows(path: Path) -> Iterator[dict[str, Any]]:
    """Yield the plots of a pooled table, one by one.

    Parameters
    ----------
    path : Path
        The table that a pool wrote.

    Yields
    ------
    dict
        A row as `read_records` gives it, with ``"_file"``, ``"_row"`` and
        ``"_hash"``.
    """
    fields = pool_schema().fields
    with path.open(encoding="utf-8", newline="") as handle:
        reader = csv.reader(handle)
        next(reader)
        for cells in reader:
            row = {
                field.name: read_cell(cell, field, field.unit, ".", ("",))
                for field, cell in zip(fields, cells, strict=True)
            }
            places = {"_file": "file", "_row": "file_row", "_hash": "file_hash"}
            yield finished(row) | {key: row[name] for key, name in places.items()}


def read_problems(path: Path, outcome: str) -> Iterator[Problem]:
    """Yield the problems of a pool that have one outcome, one by one."""
    text = Field("text")
    with path.open(encoding="utf-8", newline="") as handle:
        for cells in csv.DictReader(handle):
            line = {name: read_cell(cell, text, "", ".", ("",)) for name, cell in cells.items()}
            if line["outcome"] == outcome:
                number = int(line["row"]) if line["row"] else None
                yield Problem(
                    line["column"], line["value"], line["rule"], line["allowed"], line["example"],
                    line["file"], number,
                )  # fmt: skip


def _placed(result: FileRead) -> Iterator[dict[str, Any]]:
    """Yield the rows of a file with where they stood."""
    for row in result.rows:
        yield {**row, "file": result.name, "file_row": row["_row"], "file_hash": result.hash}


def _body(rows: list[dict[str, Any]], rules: Schema) -> str:
    """Return rows as CSV without a heading."""
    return write_csv(rows, rules).partition("\n")[2]


def _key(row: Mapping[str, Any]) -> bytes:
    """Return a short stand-in for the key of a plot, so that many fit into memory."""
    key = json.dumps([row["study_id"], row["plot_id"]])
    return hashlib.blake2b(key.encode("utf-8"), digest_size=12).digest()


def _fingerprint() -> str:
    """Return a hash of the plot record's description."""
    return hashlib.sha256(json.dumps(record_document()).encode("utf-8")).hexdigest()[:16]


def _whole_lines(path: Path) -> tuple[list[dict[str, Any]], int]:
    """Return the lines of a journal up to the first broken one, and their length in bytes."""
    lines: list[dict[str, Any]] = []
    length = 0
    for text in path.read_bytes().splitlines(keepends=True):
        try:
            line = json.loads(text)
        except ValueError:
            break
        if not text.endswith(b"\n") or not isinstance(line, dict):
            break
        lines.append(line)
        length += len(text)
    return lines, length


def _cut(path: Path, length: int) -> None:
    with path.open("r+b") as handle:
        handle.truncate(length)
