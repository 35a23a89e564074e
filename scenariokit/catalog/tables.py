"""The one reader and writer of tables: those of people and those shipped here."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from scenariokit.catalog.cells import CellError, Decimal, convert, known_unit, read_cell
from scenariokit.catalog.fields import ANY_UNIT, Field, Schema, from_json, schema
from scenariokit.catalog.sources import MAX_BYTES, MAX_ROWS, Source, read_grid
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr

__all__ = [
    "MAX_BYTES",
    "MAX_ROWS",
    "Row",
    "Table",
    "read_table",
    "write_csv",
    "write_template",
]

Row: TypeAlias = dict[str, Any]
SchemaLike: TypeAlias = Schema | Mapping[str, Any] | str

_HEADING = re.compile(r"^([^\[\]]*?)\s*(?:\[([^\]]*)\])?$")
_RISKY = re.compile(r"^'*[=+\-@]")


@dataclass(frozen=True)
class Table:
    """The good rows of a file, and everything that is wrong with the others.

    Parameters
    ----------
    name : str
        The file's name.
    rows : list of dict
        One dict for each good row, with every column of the schema: floats in
        the column's unit, texts, and ``"_row"``, the row number that a
        spreadsheet shows (the heading is row 1).
    problems : list of Problem
        Rows that were not used and columns that are not known.
    columns : tuple of str
        The columns that the file has.
    """

    name: str
    rows: list[Row]
    problems: list[Problem]
    columns: tuple[str, ...]

    def require(self) -> Table:
        """Return the table if nothing is wrong with it.

        Raises
        ------
        RecordError
            With all problems.
        """
        if self.problems:
            raise RecordError(self.problems, self.name)
        return self


@dataclass(frozen=True)
class _Column:
    position: int
    field: Field
    unit: str


def as_schema(given: SchemaLike) -> Schema:
    """Return a schema from its JSON document, its name among the shipped ones, or itself."""
    if isinstance(given, str):
        return schema(given)
    return given if isinstance(given, Schema) else from_json(given)


def read_table(
    source: Source, schema: SchemaLike, *, name: str = "", decimal: Decimal = "."
) -> Table:
    r"""Read a CSV or XLSX file by its schema.

    Parameters
    ----------
    source : path, bytes or str
        A path, the bytes of a file, or the text of a table (a text without a
        line break is a path). CSV is split by comma, semicolon or tab.
    schema : Schema, mapping or str
        What the columns must hold; a name stands for a shipped schema.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign. It is declared, never guessed.

    Returns
    -------
    Table
        The good rows, and a list of what is wrong with the others.

    Raises
    ------
    RecordError
        If no row can be read: the file is missing, empty, too large or not a
        table; a required column is missing, a heading stands twice, or its
        unit is of the wrong dimension. All problems of the heading at once.

    Notes
    -----
    A heading may carry the unit of its numbers, ``mass [lb]``; a cell may carry
    its own, ``2 lb``, which wins. A bare number in a column with a dimension is
    an error. Cells that begin with ``=``, ``+`` or ``@`` are plain text.

    Examples
    --------
    >>> from scenariokit.catalog.tables import read_table
    >>> fields = [{"name": "mass", "type": "quantity", "unit": "kg"}]
    >>> table = read_table("mass [lb]\n10\n2 kg\n", {"fields": fields})
    >>> [round(row["mass"], 4) for row in table.rows]
    [4.5359, 2.0]
    """
    if decimal not in (".", ","):
        raise RecordError(
            [Problem("decimal", repr(decimal), tr("is no decimal sign"), "'.' or ','")]
        )
    rules = as_schema(schema)
    grid = read_grid(source, name, rules.names)
    (heading_row, heading), body = grid.rows[0], grid.rows[1:]
    columns, problems = _columns(heading, rules, grid.name, heading_row)
    if not body:
        raise RecordError([Problem("file", "", tr("has a heading but no rows"), file=grid.name)])
    rows: list[Row] = []
    seen: dict[tuple[Any, ...], int] = {}
    for number, cells in body:
        row, found = _read_row(cells, columns, len(heading), rules, decimal)
        found += _repeats(row, rules, number, seen) if not found else []
        problems += [_placed(problem, grid.name, number) for problem in found]
        if not found:
            rows.append({**row, "_row": number})
    return Table(grid.name, rows, problems, tuple(column.field.name for column in columns))


def _placed(problem: Problem, file: str, row: int) -> Problem:
    """Return `problem` with its place."""
    return Problem(
        problem.field, problem.value, problem.reason, problem.allowed, problem.example,
        file, row, problem.kind,
    )  # fmt: skip


def _columns(
    heading: Sequence[Any], rules: Schema, file: str, row: int
) -> tuple[list[_Column], list[Problem]]:
    """Return the known columns and a problem for each unknown one."""
    columns: list[_Column] = []
    fatal: list[Problem] = []
    unknown: list[Problem] = []
    names: list[str] = []
    spelled = {known.casefold(): known for known in rules.names}
    for position, cell in enumerate(heading):
        text = "" if cell is None else str(cell).strip()
        found = _HEADING.match(text)
        folded = re.sub(r"\s+", "_", found.group(1).casefold()) if found else text
        name = spelled.get(folded, folded)
        unit = (found.group(2) or "").strip() if found else ""
        names.append(name)
        if name and name in names[:-1]:
            fatal.append(
                Problem(name, "", tr("stands twice in the heading"), tr("each column once"))
            )
        elif name not in rules.names:
            unknown.append(_unknown(text, name, rules))
        else:
            field = rules.field(name)
            problem = _unit_problem(field, unit)
            fatal += [problem] if problem else []
            columns.append(_Column(position, field, unit))
    listed = ", ".join(name or "(blank)" for name in names)
    for field in rules.fields:
        if field.required and field.name not in names:
            reason = tr("the column is missing; columns found: {listed}", listed=listed)
            fatal.append(Problem(field.name, "", reason, example=field.heading()))
    if fatal:
        raise RecordError([_placed(problem, file, row) for problem in fatal + unknown], file)
    return columns, [_placed(problem, file, row) for problem in unknown]


def _unknown(text: str, name: str, rules: Schema) -> Problem:
    """Return the problem of a heading that no column has."""
    near = difflib.get_close_matches(name, rules.names, n=1)
    reason = tr("is not a known column and was not used")
    if near:
        reason = tr("is not a known column and was not used; did you mean {name}?", name=near[0])
    return Problem(text or tr("(blank heading)"), "", reason, ", ".join(rules.names))


def _unit_problem(field: Field, unit: str) -> Problem | None:
    """Return what is wrong with the unit of a heading, if anything."""
    if not unit:
        return None
    if field.type in ("string", "boolean"):
        return Problem(field.name, f"[{unit}]", tr("takes no unit"), field.name, kind="unit")
    try:
        if field.unit == ANY_UNIT:
            known_unit(unit)
        else:
            convert(0.0, unit, field.unit)
    except CellError as error:
        allowed = error.allowed or tr("{value} or one like it", value=field.unit or tr("no unit"))
        return Problem(field.name, f"[{unit}]", error.reason, allowed, field.heading(), kind="unit")
    return None


def _read_row(
    cells: Sequence[Any], columns: Sequence[_Column], width: int, rules: Schema, decimal: Decimal
) -> tuple[Row, list[Problem]]:
    """Return the values of one row and every problem in it."""
    row: Row = {field.name: "" if field.is_text else None for field in rules.fields}
    if len(cells) > width:
        reason = tr("the row has {count} cells, the heading {width}", count=len(cells), width=width)
        hint = tr("as many cells as headings; put a text with a separator in quotation marks")
        if decimal == ",":
            hint += "; with decimal commas separate by semicolon or tab"
        return row, [Problem("row", str(cells[width]), reason, hint)]
    problems = []
    for column in columns:
        raw = cells[column.position] if column.position < len(cells) else None
        try:
            row[column.field.name] = read_cell(
                raw, column.field, column.unit, decimal, rules.missing_values
            )
        except CellError as error:
            value = "" if raw is None else str(raw)
            problems.append(
                Problem(column.field.name, value, error.reason, error.allowed, error.example,
                        kind=error.kind)
            )  # fmt: skip
    return row, problems


def _repeats(
    row: Row, rules: Schema, number: int, seen: dict[tuple[Any, ...], int]
) -> list[Problem]:
    """Return a problem if the key of `row` has stood before."""
    if not rules.primary_key:
        return []
    key = tuple(row[name] for name in rules.primary_key)
    first = seen.setdefault(key, number)
    if first == number:
        return []
    value = ", ".join(str(part) for part in key)
    return [
        Problem(
            ", ".join(rules.primary_key),
            value,
            tr("repeats row {first}", first=first),
            tr("each key once"),
        )
    ]


def write_template(schema: SchemaLike, rows: Iterable[Row] = (), *, system: str = "metric") -> str:
    r"""Return a CSV text with headings and units, ready to be filled in.

    Parameters
    ----------
    schema : Schema, mapping or str
        The columns.
    rows : iterable of dict, optional
        Rows to begin with, values in the schema's units.
    system : {'metric', 'us'}, optional
        Which unit stands in the heading; the numbers are converted to it.

    Examples
    --------
    >>> from scenariokit.catalog.tables import write_template
    >>> fields = [{"name": "mass", "type": "quantity", "unit": "kg", "us_unit": "lb"}]
    >>> write_template({"fields": fields}, system="us")
    'mass [lb]\n'
    """
    rules = as_schema(schema)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([field.heading(system) for field in rules.fields])
    for row in rows:
        writer.writerow([_shown(row.get(field.name), field, system) for field in rules.fields])
    return out.getvalue()


def write_csv(rows: Iterable[Row], schema: SchemaLike, *, system: str = "metric") -> str:
    """Return `rows` as CSV text that a spreadsheet opens without working anything out.

    A text that begins with ``=``, ``+``, ``-`` or ``@`` gets an apostrophe in
    front, which `read_table` takes off again.
    """
    return write_template(schema, rows, system=system)


def _shown(value: Any, field: Field, system: str) -> str:
    """Return a cell that reads back to the same value."""
    if value is None:
        return ""
    if field.is_text or isinstance(value, str):
        text = str(value).strip()
        return f"'{text}" if _RISKY.match(text) else text
    if isinstance(value, bool):
        return "true" if value else "false"
    if field.unit == ANY_UNIT:
        return f"{value.m:.17g} {value.u:~}"
    number = float(value)
    if system == "us" and field.us_unit:
        number = convert(number, field.unit, field.us_unit)
    return repr(number).removesuffix(".0")
