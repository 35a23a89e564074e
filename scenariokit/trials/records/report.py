"""Files to hand out and to send back: empty records, and what is wrong with filled ones."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

from scenariokit.catalog.fields import from_json
from scenariokit.catalog.tables import write_csv
from scenariokit.errors import Problem
from scenariokit.language import tr
from scenariokit.trials.records.reading import Records
from scenariokit.trials.records.schema import record_schema

REPORT = from_json(
    {
        "name": "report",
        "fields": [
            {"name": name}
            for name in ("file", "row", "column", "value", "rule", "allowed", "example", "outcome")
        ],
    }
)

_WIDTH = 14


def report_rows(problems: Iterable[Problem], outcome: str) -> list[dict[str, str]]:
    """Return a row of a report for each problem.

    Parameters
    ----------
    problems : iterable of Problem
        What is wrong.
    outcome : str
        What became of the row, such as ``"not used"``.
    """
    return [
        {
            "file": problem.file,
            "row": "" if problem.row is None else str(problem.row),
            "column": problem.field,
            "value": problem.value,
            "rule": problem.reason,
            "allowed": problem.allowed,
            "example": problem.example,
            "outcome": outcome,
        }
        for problem in problems
    ]


def report_csv(records: Records) -> str:
    """Return a CSV text to send back to whoever filled in the records.

    Parameters
    ----------
    records : Records
        What `read_records` gave.

    Returns
    -------
    str
        One row for each problem: file, row, column, value, rule, what is
        allowed, an example, and whether the row was used. A heading only, if
        nothing is wrong.

    Notes
    -----
    A text that a spreadsheet could take for a formula has an apostrophe before it.

    Examples
    --------
    >>> from scenariokit.trials.records import read_records, record_template, report_csv
    >>> row = "S,1,1,,,,,pots,early,1 May,,1" + "," * 12
    >>> records = read_records(record_template() + row, name="trial.csv")
    >>> report_csv(records).splitlines()[1].split(",")[:5]
    ['trial.csv', '2', 'planting_date', '1 May', 'is not a date of the form year-month-day']
    """
    rows = report_rows(records.problems, tr("not used"))
    rows += report_rows(records.flags, tr("used, but look again"))
    return write_csv(rows, REPORT)


def record_template(rows: Iterable[Mapping[str, Any]] = (), *, system: str = "metric") -> str:
    """Return plot records as CSV text with headings and units, empty or begun.

    Parameters
    ----------
    rows : iterable of mapping, optional
        Rows to begin with, values in the units of the plot record; columns may
        be left out.
    system : {'metric', 'us'}, optional
        Which units stand in the headings; numbers are converted to them.

    Returns
    -------
    str
        Reads back through `read_records`; numbers exactly, where the units are
        metric.

    Examples
    --------
    >>> from scenariokit.trials.records import record_template
    >>> record_template().split(",")[11]
    'plot_area [m^2]'
    """
    return write_csv([dict(row) for row in rows], record_schema(), system=system)


def record_workbook(rows: Iterable[Mapping[str, Any]] = (), *, system: str = "metric") -> bytes:
    """Return plot records as an XLSX file, with a second sheet on what the columns mean.

    Parameters
    ----------
    rows, system
        As in `record_template`.

    Returns
    -------
    bytes
        The first sheet reads back through `read_records`, numbers to 16 digits.
    """
    import openpyxl
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    fields = record_schema().fields
    heading, *body = csv.reader(io.StringIO(record_template(rows, system=system)))
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "plots"
    sheet.append(heading)
    for line in body:
        sheet.append(
            [
                None if not text else text if field.is_text else float(text)
                for text, field in zip(line, fields, strict=True)
            ]
        )
    sheet.freeze_panes = "C2"
    meaning = book.create_sheet("columns")
    meaning.append([tr("column"), tr("title"), tr("meaning"), tr("allowed"), tr("needed")])
    for name, field in zip(heading, fields, strict=True):
        needed = tr("yes") if field.required else ""
        meaning.append([name, tr(field.title), tr(field.description), tr(field.allowed), needed])
    for page in (sheet, meaning):
        for number, cell in enumerate(page[1], start=1):
            cell.font = Font(bold=True)
            width = max(_WIDTH, len(str(cell.value)) + 2)
            page.column_dimensions[get_column_letter(number)].width = width
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
