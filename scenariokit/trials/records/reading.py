"""Plot records from a file: good rows kept, everything wrong told with its place."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scenariokit.catalog.cells import CellError, Decimal, convert, split_number
from scenariokit.catalog.fields import Field, Schema
from scenariokit.catalog.sources import Grid, Source, read_grid
from scenariokit.catalog.tables import read_table
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.records.checks import check_rows
from scenariokit.trials.records.merging import plots_of, reservoir_flags
from scenariokit.trials.records.schema import iso_date, reading_schema, record_schema
from scenariokit.trials.records.study import Study

Row = dict[str, Any]

_BARE = re.compile(r"[-+0-9.,eE\u2212\s]*")
_DATES = ("planting_date", "harvest_date")


@dataclass(frozen=True, eq=False)
class Records:
    """What was read from a file of plot records.

    Parameters
    ----------
    name : str
        The file's name.
    rows : tuple of dict
        The good rows: floats in the units of the plot record (m², kg, L), whole
        numbers, `datetime.date`, text; None or ``""`` for what is missing. A
        ``ttwp`` of None was not harvested, one of zero gave nothing.
    problems : tuple of Problem
        Of rows that were refused and columns that were not used.
    flags : tuple of Problem
        Of rows that were kept but want a second look.
    plots : PlotTable
        The good rows as experimental units, yields per tank area.
    study : Study or None
        The sheet of the study, if it was given.
    """

    name: str
    rows: tuple[Row, ...]
    problems: tuple[Problem, ...]
    flags: tuple[Problem, ...]
    plots: PlotTable
    study: Study | None = None


@dataclass(frozen=True)
class Cells:
    """A file of plot records as read, before any rule was tested.

    Parameters
    ----------
    name : str
        The file's name.
    rows : list of dict
        Rows of which every cell could be read, dates still as text.
    problems : list of Problem
        Cells and columns that could not be read.
    units : dict of str to tuple of str
        The units in which the numbers of each column stand, ``""`` for bare
        numbers in a column that needs one.
    heading_row : int
        The number of the row of headings.
    """

    name: str
    rows: list[Row]
    problems: list[Problem]
    units: dict[str, tuple[str, ...]]
    heading_row: int


def read_records(
    source: Source,
    *,
    name: str = "",
    decimal: Decimal = ".",
    units: Mapping[str, str] | None = None,
    study: Study | None = None,
) -> Records:
    r"""Read plot records from CSV or XLSX; keep the good rows and list the bad ones.

    Parameters
    ----------
    source : path, bytes or str
        The file or its content; `record_template` makes an empty one.
    name : str, optional
        The file's name, for messages.
    decimal : {'.', ','}, optional
        The decimal sign in the file; it is never guessed.
    units : mapping, optional
        Column to unit, such as ``{"ttwp": "lb"}``, for columns whose headings
        carry none. A unit in a heading or a cell wins.
    study : Study, optional
        The sheet of the study, to go with the records.

    Returns
    -------
    Records

    Raises
    ------
    RecordError
        If the file as a whole cannot be read: empty, too large, without a
        needed column, with a unit of the wrong dimension. All problems of the
        heading at once.

    Notes
    -----
    Refused: what is missing, out of range or no date; a plot that stands twice;
    parts of the harvest above its whole; a harvest before planting. Flagged
    only: plots on one reservoir, parts that do not add up, yields above those
    of record field plots (124 t/ha, Kunkel and Campbell 1987), two units in one
    column, a study that is not that of the sheet. Rules are tested on rows of
    which every cell can be read.

    Examples
    --------
    >>> from scenariokit.trials.records import read_records
    >>> heading = "study_id,plot_id,rep,treatment,genotype,planting_date,plot_area [m^2],ttwp [lb]"
    >>> rows = ["S,1,1,pots,early,2026-05-01,1,10", "S,2,1,bags,early,2026-05-01,1,-1"]
    >>> records = read_records("\n".join([heading, *rows]), name="trial.csv")
    >>> round(records.rows[0]["ttwp"], 4)
    4.5359
    >>> print(records.problems[0])
    trial.csv, row 3: ttwp = -0.453592 kg: is below the allowed range; allowed: 0 to 1e+06 kg
    """
    cells = read_cells(source, name=name, decimal=decimal, units=units)
    found = check_rows(cells.rows, [cells.name] * len(cells.rows))
    rows = tuple(finished(cells.rows[index]) for index in found.good)
    problems = [*cells.problems, *(problem for _, problem in found.problems)]
    flags = [
        *(problem for _, problem in found.flags),
        *_unit_flags(cells),
        *reservoir_flags(rows, cells.name),
        *_study_flags(rows, study, cells.name),
    ]
    return Records(
        cells.name, rows, tuple(_by_row(problems)), tuple(_by_row(flags)), plots_of(rows), study
    )


def read_cells(
    source: Source,
    *,
    name: str = "",
    decimal: Decimal = ".",
    units: Mapping[str, str] | None = None,
) -> Cells:
    """Return the rows of a file whose cells can be read, in the units of the plot record.

    Raises
    ------
    RecordError
        As `read_records`.
    """
    rules = reading_schema(units)
    grid = read_grid(source, name, rules.names)
    missing = _missing_columns(grid, rules)
    try:
        table = read_table(source, rules, name=grid.name, decimal=decimal)
    except RecordError as error:
        raise RecordError([*error.problems, *missing], grid.name) from None
    if missing:
        raise RecordError(missing, grid.name)
    columns = [record_schema().field(column) for column in units or {}]
    for row in table.rows:
        for field in columns:
            if row[field.name] is not None:
                row[field.name] = convert(
                    row[field.name], rules.field(field.name).unit, field.unit
                )  # fmt: skip
    used = _units_used(grid, rules, decimal)
    return Cells(grid.name, table.rows, table.problems, used, grid.rows[0][0])


def finished(row: Row) -> Row:
    """Return a row that passed the rules, with its dates and whole numbers as such."""
    done = {**row, **{column: iso_date(row[column]) for column in _DATES}}
    for field in record_schema().fields:
        if field.type == "integer" and row[field.name] is not None:
            done[field.name] = int(row[field.name])
    return done


def _heading(cell: Any) -> tuple[str, str]:
    """Return the name and the unit of a heading."""
    text = "" if cell is None else str(cell)
    name, _, unit = text.partition("[")
    return re.sub(r"\s+", "_", name.strip().casefold()), unit.rstrip().removesuffix("]").strip()


def _missing_columns(grid: Grid, rules: Schema) -> list[Problem]:
    """Return a problem for each needed column that the heading lacks."""
    number, heading = grid.rows[0]
    names = [_heading(cell)[0] for cell in heading]
    listed = ", ".join(name or "(blank)" for name in names)
    return [
        Problem(field.name, "", tr("the column is missing; columns found: {columns}", columns=listed),
                example=field.heading(), file=grid.name, row=number)
        for field in record_schema().fields
        if field.required and field.name not in names
    ]  # fmt: skip


def _units_used(grid: Grid, rules: Schema, decimal: Decimal) -> dict[str, tuple[str, ...]]:
    """Return the units in which the numbers of each column with a dimension stand."""
    used = {}
    for position, cell in enumerate(grid.rows[0][1]):
        name, unit = _heading(cell)
        if name not in rules.names or not record_schema().field(name).needs_unit:
            continue
        field = rules.field(name)
        base = unit or ("" if field.needs_unit else field.unit)
        cells = [cells[position] for _, cells in grid.rows[1:] if position < len(cells)]
        used[name] = tuple(dict.fromkeys(_unit(one, base, field, decimal) for one in cells))
    return {name: tuple(unit for unit in units if unit != "-") for name, units in used.items()}


def _unit(cell: Any, base: str, field: Field, decimal: Decimal) -> str:
    """Return the unit of a cell: its own or that of its column; a dash if it holds no number."""
    if cell is None or (isinstance(cell, str) and cell.strip() in record_schema().missing_values):
        return "-"
    if not isinstance(cell, str) or _BARE.fullmatch(cell):
        return base
    try:
        return split_number(cell, decimal)[1] or base
    except CellError:
        return "-"


def _unit_flags(cells: Cells) -> list[Problem]:
    return [
        Problem(column, ", ".join(units), tr("has numbers in more than one unit; each was converted"),
                tr("one unit in the heading"), file=cells.name)
        for column, units in cells.units.items()
        if len(units) > 1 and "" not in units
    ]  # fmt: skip


def _study_flags(rows: Sequence[Row], study: Study | None, file: str) -> list[Problem]:
    if study is None or not study.study_id:
        return []
    return [
        Problem("study_id", other, tr("is not the study of the sheet"), study.study_id, file=file)
        for other in dict.fromkeys(row["study_id"] for row in rows)
        if other != study.study_id
    ]


def _by_row(problems: Sequence[Problem]) -> list[Problem]:
    """Return problems in the order of rows; those of the whole file come first."""
    return sorted(problems, key=lambda problem: problem.row or 0)


def with_study(records: Records, study: Study) -> Records:
    """Return `records` with the sheet of their study.

    Parameters
    ----------
    records : Records
        What `read_records` gave.
    study : Study
        What `read_study` gave.
    """
    kept = [flag for flag in records.flags if flag.reason != "is not the study of the sheet"]
    flags = [*kept, *_study_flags(records.rows, study, records.name)]
    return replace(records, study=study, flags=tuple(_by_row(flags)))
