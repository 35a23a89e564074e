"""From a path, bytes or text to a grid of cells: CSV and XLSX, with honest limits."""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn, TypeAlias

from scenariokit.errors import Problem, RecordError
from scenariokit.language import mark, tr

MAX_BYTES = 5_000_000
"""Largest file that is read."""

MAX_ROWS = 20_000
MAX_COLUMNS = 200
MAX_UNPACKED_BYTES = 50_000_000
"""Largest size of an XLSX file once unpacked: a small archive can hold a huge one."""

Source: TypeAlias = str | Path | bytes | bytearray | memoryview
"""A path, the bytes of a file, or its text."""

_ZIP = b"PK\x03\x04"
_OLD_EXCEL = b"\xd0\xcf\x11\xe0"
_SAVE_AS = mark("save it as 'CSV UTF-8' or as XLSX and try again")
_BRACKETS = re.compile(r"\[[^\]]*\]")


@dataclass(frozen=True)
class Grid:
    """The filled rows of a sheet, each with the number a spreadsheet shows."""

    name: str
    rows: tuple[tuple[int, tuple[Any, ...]], ...]


def read_grid(source: Source, name: str = "", known: Collection[str] = ()) -> Grid:
    """Return the filled rows of a CSV or XLSX file.

    Parameters
    ----------
    source : path, bytes or str
        A text with a line break is the table itself; one without is a path.
    name : str
        The file's name for messages; that of the path if left out.
    known : collection of str
        Names of columns to expect: they decide between comma, semicolon and tab.

    Raises
    ------
    RecordError
        If the file is missing, too large, empty, or not readable as a table.
    """
    content, name = _content(source, name)
    if isinstance(content, bytes):
        if content.startswith(_ZIP):
            return _limited(name, _xlsx_rows(content, name))
        content = _decode(content, name)
    if "\x00" in content:
        _refuse(name, tr("holds binary data, not a table"), tr(_SAVE_AS))
    text = content.removeprefix("\ufeff")
    if not text.strip():
        _refuse(name, tr("is empty"), tr("a heading line and at least one row"))
    return _limited(name, _csv_rows(text, name, known))


def _refuse(name: str, reason: str, allowed: str = "", row: int | None = None) -> NoReturn:
    raise RecordError([Problem("file", "", reason, allowed, file=name, row=row)])


def _content(source: Source, name: str) -> tuple[str | bytes, str]:
    """Return the text or bytes of `source` and the name for messages."""
    if isinstance(source, bytes | bytearray | memoryview):
        content: str | bytes = bytes(source)
    elif isinstance(source, str) and (not source.strip() or re.search(r"[\r\n]", source)):
        content = source
    elif isinstance(source, str | Path):
        path = Path(source)
        name = name or path.name
        content = _read_path(path, name)
    else:
        _refuse(name or "table", tr("cannot be read from a {name}", name=type(source).__name__),
                tr("a path, bytes or text"))  # fmt: skip
    name = name or "table"
    size = len(content.encode("utf-8", "replace")) if isinstance(content, str) else len(content)
    _check_size(size, name)
    return content, name


def _check_size(size: int, name: str) -> None:
    if size > MAX_BYTES:
        _refuse(
            name,
            tr("has {size:.1f} MB", size=size / 1e6),
            tr("{max_bytes:g} MB or less", max_bytes=MAX_BYTES / 1e6),
        )


def _read_path(path: Path, name: str) -> bytes:
    """Return the bytes of a file, looking at its size first."""
    try:
        if not path.is_file():
            _refuse(name, tr("no such file"), tr("the path of a CSV or XLSX file"))
        _check_size(path.stat().st_size, name)
        return path.read_bytes()
    except OSError as error:
        raise RecordError(
            [
                Problem(
                    "file",
                    "",
                    tr("cannot be opened: {strerror}", strerror=error.strerror),
                    file=name,
                )
            ]
        ) from error


def _decode(content: bytes, name: str) -> str:
    """Return UTF-8 bytes as text; say what to do about anything else."""
    if content.startswith(_OLD_EXCEL):
        _refuse(
            name,
            tr("is an old Excel file (XLS)"),
            tr("CSV or XLSX; save it as 'CSV UTF-8' or as XLSX and try again"),
        )
    if content.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in content[:4096]:
        _refuse(name, tr("is UTF-16 or binary, not UTF-8 text"), tr(_SAVE_AS))
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        reason = tr(
            "is not UTF-8 text (byte {content:#04x}; perhaps Latin-1)", content=content[error.start]
        )
        problem = Problem("file", "", reason, tr(_SAVE_AS), file=name, row=row)
        raise RecordError([problem]) from error


def _limited(name: str, rows: Iterator[tuple[Any, ...]]) -> Grid:
    """Return the filled rows, refusing sheets of unreasonable size."""
    kept = []
    for number, cells in enumerate(rows, start=1):
        if number > MAX_ROWS + 1:
            _refuse(
                name, tr("has too many rows"), tr("{max_rows} rows or fewer", max_rows=MAX_ROWS)
            )
        trimmed = _trim(cells)
        if len(trimmed) > MAX_COLUMNS:
            _refuse(
                name,
                tr("has too many columns"),
                tr("{max_columns} columns or fewer", max_columns=MAX_COLUMNS),
                number,
            )
        if trimmed:
            kept.append((number, trimmed))
    if not kept:
        _refuse(name, tr("is empty"), tr("a heading line and at least one row"))
    return Grid(name, tuple(kept))


def _trim(cells: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return `cells` without blank ones at the end."""
    end = len(cells)
    while end and (cells[end - 1] is None or not str(cells[end - 1]).strip()):
        end -= 1
    return cells[:end]


def _delimiter(heading: str, known: Collection[str]) -> str:
    """Return the sign that splits `heading` into most known names, then most cells."""
    folded = {name.casefold() for name in known}

    def score(sign: str) -> tuple[int, int]:
        cells = next(csv.reader([heading], delimiter=sign), [])
        names = {_BRACKETS.sub("", cell).strip().casefold() for cell in cells}
        return len(names & folded), len(cells)

    return max((",", ";", "\t"), key=score)


def _csv_rows(text: str, name: str, known: Collection[str]) -> Iterator[tuple[Any, ...]]:
    heading = next(line for line in text.splitlines() if line.strip())
    reader: Any = None
    try:
        reader = csv.reader(
            io.StringIO(text, newline=""), delimiter=_delimiter(heading, known), strict=True
        )
        for cells in reader:
            yield tuple(cells)
    except csv.Error as error:
        line = reader.line_num if reader is not None else 1
        reason = tr("cannot be split into cells near line {line}: {error}", line=line, error=error)
        hint = tr("a quotation mark that opens a cell must close it")
        raise RecordError([Problem("file", "", reason, hint, file=name)]) from error


class StaleFormula:
    """A cell whose formula has no stored result."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __str__(self) -> str:
        return self.text


def _xlsx_rows(content: bytes, name: str) -> Iterator[tuple[Any, ...]]:
    """Yield the rows of the first sheet: stored values, never formulas worked out."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            unpacked = sum(item.file_size for item in archive.infolist())
            is_workbook = "xl/workbook.xml" in archive.namelist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise RecordError(
            [Problem("file", "", tr("is a damaged XLSX file"), tr(_SAVE_AS), file=name)]
        ) from error
    if unpacked > MAX_UNPACKED_BYTES:
        _refuse(name, tr("would unpack to {unpacked:.0f} MB", unpacked=unpacked / 1e6),
                tr("{max_unpacked_bytes:g} MB or less", max_unpacked_bytes=MAX_UNPACKED_BYTES / 1e6))  # fmt: skip
    if not is_workbook:
        _refuse(name, tr("is an archive but not an XLSX workbook"), tr(_SAVE_AS))
    try:
        yield from _sheet_rows(content)
    except Exception as error:
        # openpyxl raises a dozen unrelated classes on a damaged workbook.
        reason = tr("cannot be read as XLSX: {error}", error=error)
        raise RecordError([Problem("file", "", reason, tr(_SAVE_AS), file=name)]) from error


def _sheet_rows(content: bytes) -> Iterator[tuple[Any, ...]]:
    import openpyxl

    with warnings.catch_warnings():
        # Styles and drop-down lists that openpyxl does not know do not touch the values.
        warnings.simplefilter("ignore", UserWarning)
        books = [
            openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=stored)
            for stored in (True, False)
        ]
        pairs = [book.worksheets[0] for book in books]
        for sheet in pairs:
            # The declared size of a sheet is often wrong.
            sheet.reset_dimensions()
        rows = (
            sheet.iter_rows(max_col=MAX_COLUMNS + 1, max_row=MAX_ROWS + 2, values_only=True)
            for sheet in pairs
        )
        for values, formulas in zip(*rows, strict=True):
            yield tuple(map(_stored, values, formulas))


def _stored(value: Any, formula: Any) -> Any:
    """Return the stored value of a cell, or say that its formula has none."""
    if value is None and formula is not None:
        return StaleFormula(str(formula))
    return value
