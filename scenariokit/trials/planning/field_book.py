"""The field book as a file: CSV, and a workbook with lists to choose from."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from typing import Any, Literal

from scenariokit.catalog.cells import convert
from scenariokit.catalog.fields import Field
from scenariokit.language import tr
from scenariokit.trials.planning.field_rows import BookDetails, field_rows
from scenariokit.trials.planning.layout import Layout
from scenariokit.trials.records.report import record_template
from scenariokit.trials.records.schema import record_schema

UnitSystem = Literal["metric", "us"]

_CHOICES = ("treatment", "genotype")
_DATES = ("planting_date", "harvest_date")
_WIDTH = 14


def field_book_csv(layout: Layout, details: BookDetails, *, system: UnitSystem = "metric") -> str:
    """Return the field book of a trial as CSV text, to be filled in at harvest.

    Parameters
    ----------
    layout : Layout
        A layout drawn with tanks.
    details : BookDetails
        What stands in every row.
    system : {'metric', 'us'}
        Units of the headings.

    Returns
    -------
    str
        The columns of the plot record with their units, a row for each plot;
        weights, counts and the date of harvest are blank.

    Raises
    ------
    ArgumentError
        If the layout has no tanks, or a plot has no treatment or variety.

    Notes
    -----
    Reads back with `read_records` as it is: blank weights are plots not
    harvested. The heading must stay as it is.

    Examples
    --------
    >>> from scenariokit.trials.planning.designs import block_layout
    >>> from scenariokit.trials.planning.field_rows import BookDetails
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> tanks = equal_tanks(6, "120 cm", "60 cm")
    >>> layout = block_layout(["bag", "pots"], 3, seed=1, tanks=tanks)
    >>> book = field_book_csv(layout, BookDetails("spring", "2026-05-01", variety="early"))
    >>> book.splitlines()[1][:30]
    'spring,P1,1,1,1,1,T1,bag,early'
    """
    return record_template(field_rows(layout, details), system=system)


def field_book_xlsx(
    layout: Layout, details: BookDetails, *, system: UnitSystem = "metric"
) -> bytes:
    """Return the field book of a trial as a workbook, to be filled in at harvest.

    Parameters
    ----------
    layout : Layout
        A layout drawn with tanks.
    details : BookDetails
        What stands in every row.
    system : {'metric', 'us'}
        Units of the headings.

    Returns
    -------
    bytes
        An XLSX file. First sheet: the columns of the plot record, headings
        locked (without a password) and always in view, treatment and variety to
        be chosen from lists, weights and dates checked on entry. Second sheet:
        the lists. Third: what each column means.

    Raises
    ------
    ArgumentError
        If the layout has no tanks, or a plot has no treatment or variety.

    Notes
    -----
    Reads back with `read_records` as it is.

    Examples
    --------
    >>> from scenariokit.trials.planning.designs import block_layout
    >>> from scenariokit.trials.planning.field_rows import BookDetails
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> from scenariokit.trials.records import read_records
    >>> tanks = equal_tanks(6, "120 cm", "60 cm")
    >>> layout = block_layout(["bag", "pots"], 3, seed=1, tanks=tanks)
    >>> book = field_book_xlsx(layout, BookDetails("spring", "2026-05-01", variety="early"))
    >>> len(read_records(book, name="spring.xlsx").rows)
    6
    """
    import openpyxl

    rows = list(csv.reader(io.StringIO(field_book_csv(layout, details, system=system))))
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "plots"
    _fill(sheet, rows)
    _lock(sheet)
    lists = book.create_sheet("lists")
    last = len(rows)
    for position, name in enumerate(record_schema().names, start=1):
        column = [row[position - 1] for row in rows[1:]]
        _add_rule(sheet, lists, name, position, last, column, system)
    _explain(book.create_sheet("columns"), system)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _fill(sheet: Any, rows: Sequence[Sequence[str]]) -> None:
    """Write headings and rows; text stays text, also where it looks like a formula."""
    fields = record_schema().fields
    for number, row in enumerate(rows, start=1):
        for position, (text, field) in enumerate(zip(row, fields, strict=True), start=1):
            cell = sheet.cell(number, position)
            if number > 1 and field.name in _DATES:
                cell.number_format = "yyyy-mm-dd"
                cell.value = datetime.date.fromisoformat(text) if text else None
            elif text and number > 1 and not field.is_text:
                cell.value = float(text)
            elif text:
                cell.value = text
                cell.data_type = "s"


def _lock(sheet: Any) -> None:
    """Lock the headings and keep them in view; leave every other cell open."""
    from openpyxl.styles import Font, Protection
    from openpyxl.utils import get_column_letter

    for position, cell in enumerate(sheet[1], start=1):
        cell.font = Font(bold=True)
        wide = max(_WIDTH, len(str(cell.value)) + 2)
        sheet.column_dimensions[get_column_letter(position)].width = wide
    for row in sheet.iter_rows(min_row=2):
        for cell in row:
            cell.protection = Protection(locked=False)
    sheet.freeze_panes = "C2"
    sheet.protection.sheet = True
    # In this file format False lets a person do it.
    sheet.protection.formatColumns = False
    sheet.protection.formatCells = False


def _add_rule(
    sheet: Any, lists: Any, name: str, position: int, last: int, column: Sequence[str], system: str
) -> None:
    """Add what may be entered in a column: a list, a date, a number."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    field = record_schema().field(name)
    if name in _CHOICES:
        rule = _choice(lists, name, column)
    elif name in _DATES:
        rule = DataValidation(type="date", operator="greaterThan", formula1="1")
        rule.error = tr("{title}: a date", title=tr(field.title))
    elif not field.is_text:
        least = _least(field, system)
        kind = "whole" if field.type == "integer" else "decimal"
        rule = DataValidation(type=kind, operator="greaterThanOrEqual", formula1=f"{least!r}")
        rule.error = tr(
            "{title}: a number of {least:g} or more", title=tr(field.title), least=least
        )
    else:
        return
    rule.allow_blank, rule.showErrorMessage, rule.errorTitle = True, True, name
    letter = get_column_letter(position)
    rule.add(f"{letter}2:{letter}{last}")
    sheet.add_data_validation(rule)


def _choice(lists: Any, name: str, column: Sequence[str]) -> Any:
    """Write the names of a column on the sheet of lists and return the rule that offers them."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    names = list(dict.fromkeys(column))
    position = _CHOICES.index(name) + 1
    for number, text in enumerate([name, *names], start=1):
        cell = lists.cell(number, position, text)
        cell.data_type = "s"
    letter = get_column_letter(position)
    rule = DataValidation(type="list", formula1=f"lists!${letter}$2:${letter}${len(names) + 1}")
    rule.error = tr(
        "Choose a {title} from the list", title=tr(record_schema().field(name).title).lower()
    )
    return rule


def _least(field: Field, system: str) -> float:
    """Return the smallest number that a column allows, in the unit of its heading."""
    least = float(field.minimum or 0)
    if system == "us" and field.us_unit:
        return convert(least, field.unit, field.us_unit)
    return least


def _explain(sheet: Any, system: str) -> None:
    """Write what each column means."""
    sheet.append([tr("column"), tr("title"), tr("meaning")])
    for field in record_schema().fields:
        sheet.append([field.heading(system), tr(field.title), tr(field.description)])
    for letter, width in (("A", 24), ("B", 24), ("C", 90)):
        sheet.column_dimensions[letter].width = width
