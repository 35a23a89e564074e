"""A comparison as a workbook: real numbers, what they rest on, and the cautions."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from scenariokit.charts.frames import Showing
from scenariokit.language import date_text, mark, tr
from scenariokit.parameters import Outcome
from scenariokit.report.input_sources import is_invented, methods_text, shared_lines
from scenariokit.report.safe_text import LONGEST_CELL, begins_formula, one_line
from scenariokit.scenario import OUTCOMES, Comparison
from scenariokit.scenario.shown_labels import basis_text

INVENTED = mark(
    "Demo data is invented: invented yields, places and prices stand here until you load your own."
)
BETTER = {
    "higher": mark("higher is better"),
    "lower": mark("lower is better"),
    "neither": mark("neither is better in itself"),
}
SEVERITY = {"note": mark("note"), "care": mark("take care"), "danger": mark("danger")}
STATUSES = (
    ("invented", mark("made up for demonstration")),
    ("memory", mark("a value from memory, not looked up")),
    ("seen-2nd", mark("read in a second document that quotes the source")),
    ("seen", mark("read in the source itself")),
    ("computed", mark("worked out from other numbers")),
    ("trial", mark("weighed in plots of your own")),
    ("own", mark("from a file of your own")),
    ("set", mark("set by hand")),
    ("default", mark("the usual value")),
)
"""What each word for how far a source was followed means."""
WIDEST = 60
HEAD_FILL = "E6EFEC"
_FORBIDDEN_TITLE = re.compile(r"[\[\]:*?/\\']")


@dataclass(frozen=True)
class Sheet:
    """One sheet: heading, rows, and where the frozen part ends.

    Parameters
    ----------
    title : str
        On its tab.
    head : sequence of str
        Headings.
    rows : sequence of sequence
        Text, numbers or None for an empty cell.
    formats : sequence of str
        Number format of each row; of all rows, if there is one.
    frozen : str
        The first cell that scrolls.
    notes : sequence of str
        Lines below the rows.
    """

    title: str
    head: Sequence[str]
    rows: Sequence[Sequence[str | float | None]]
    formats: Sequence[str] = ("General",)
    frozen: str = "A2"
    notes: Sequence[str] = ()


def comparison_workbook(
    comparison: Comparison, showing: Showing, made_on: datetime.date | None = None
) -> bytes:
    """Return a comparison as an XLSX file: numbers, inputs, units and sources, cautions.

    Parameters
    ----------
    comparison : Comparison
        Of scenarios that are no ensembles.
    showing : Showing
        Units and currency of the reader.
    made_on : datetime.date, optional
        Date on the first sheet; today if left out.

    Returns
    -------
    bytes
        No cell holds a formula: text that a spreadsheet would take for one is
        marked as text.

    Raises
    ------
    InfeasibleError
        If an input is an ensemble.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    book.properties.creator = "scenariokit"
    book.properties.title = tr("Comparison of growing methods")
    date = made_on or datetime.date.today()
    for sheet in (
        numbers_sheet(comparison, showing, date),
        inputs_sheet(comparison, showing),
        sources_sheet(comparison, showing),
        cautions_sheet(comparison),
    ):
        _write(book.create_sheet(sheet_title(sheet.title)), sheet)
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


# -- the sheets --------------------------------------------------------------------------


def numbers_sheet(comparison: Comparison, showing: Showing, made_on: datetime.date) -> Sheet:
    """Return every outcome of every method as numbers."""
    labels = [tr(found.scenario.method.label) for found in comparison]
    rows: list[Sequence[str | float | None]] = [
        [tr(described.label), showing.unit(name), *(showing.number(one, name) for one in comparison)]
        for name, described in OUTCOMES.items()
    ]  # fmt: skip
    notes = [tr("Made on {date}.", date=date_text(made_on))]
    if is_invented(comparison):
        notes.append(tr(INVENTED))
    if showing.rate != 1.0:
        notes.append(
            tr(
                "Money: {rate:.6g} {shown} for one {listed} of the price lists.",
                rate=showing.rate, shown=showing.currency, listed=comparison.currency,
            )
        )  # fmt: skip
    return Sheet(
        tr("Numbers"), [tr("Outcome"), tr("Unit"), *labels], rows,
        formats=[number_format(described) for described in OUTCOMES.values()],
        frozen="C2", notes=notes,
    )  # fmt: skip


def inputs_sheet(comparison: Comparison, showing: Showing) -> Sheet:
    """Return every input with value, unit, source and status; what is alike stands once."""
    rows: list[Sequence[str | float | None]] = [
        [methods_text(names), line.label, line.value, line.unit, line.rest.source,
         tr(line.rest.status), line.path]
        for line, names in shared_lines(comparison, showing)
    ]  # fmt: skip
    head = [
        tr("Holds for"), tr("Input"), tr("Value"), tr("Unit"), tr("Source"), tr("Status"),
        tr("Name in a scenario file"),
    ]  # fmt: skip
    return Sheet(tr("Inputs"), head, rows, frozen="C2")


def sources_sheet(comparison: Comparison, showing: Showing) -> Sheet:
    """Return how each outcome is found, which direction is better, and what it rests on."""
    rests = _yields_rest_on(comparison)
    rows = [
        [tr(described.label), showing.unit(name), tr(described.formula), tr(BETTER[described.better]),
         rests]
        for name, described in OUTCOMES.items()
    ]  # fmt: skip
    head = [tr("Outcome"), tr("Unit"), tr("How it is found"), tr("Which way"), tr("Rests on")]
    notes = [tr("Words for the status of a source:")]
    notes += [f"{tr(word)}: {tr(meaning)}" for word, meaning in STATUSES]
    if is_invented(comparison):
        notes.append(tr(INVENTED))
    return Sheet(tr("Units and sources"), head, rows, notes=notes)


def _yields_rest_on(comparison: Comparison) -> str:
    """Return what yields and prices rest on, in one line."""
    bases: dict[str, list[str]] = {}
    for found in comparison:
        bases.setdefault(found.scenario.harvest.basis, []).append(tr(found.scenario.method.label))
    if len(bases) == 1:
        said = [tr("all yields: {basis}", basis=basis_text(next(iter(bases))))]
    else:
        said = [
            tr("yield of {methods}: {basis}", methods=", ".join(names), basis=basis_text(basis))
            for basis, names in bases.items()
        ]
    prices = comparison.evaluations[0].scenario.prices
    return "; ".join([*said, tr("prices: {list}", list=tr(prices.label))])


def cautions_sheet(comparison: Comparison) -> Sheet:
    """Return every caution and every reason for a missing number, with the methods they hold for."""
    holders: dict[tuple[str, str, str, str], list[str]] = {}
    for found in comparison:
        label = tr(found.scenario.method.label)
        for one in found.cautions:
            key = (
                tr(SEVERITY[one.severity]),
                tr(OUTCOMES[one.outcome].label),
                one.text,
                one.source,
            )
            holders.setdefault(key, []).append(label)
        for name, reason in found.undefined.items():
            key = (tr("no value"), tr(OUTCOMES[name].label), reason, "")
            holders.setdefault(key, []).append(label)
    rows = [
        [kind, outcome, text, source, ", ".join(names)]
        for (kind, outcome, text, source), names in holders.items()
    ]
    head = [tr("Kind"), tr("Beside"), tr("What to know"), tr("Source"), tr("Holds for")]
    return Sheet(tr("Cautions"), head, rows)


# -- cells -------------------------------------------------------------------------------


def number_format(described: Outcome) -> str:
    """Return the number format of an outcome: its digits, thousands apart."""
    return f"#,##0.{'0' * described.digits}" if described.digits else "#,##0"


def sheet_title(text: str) -> str:
    """Return a title that every spreadsheet takes: at most 31 signs, some of them not."""
    return _FORBIDDEN_TITLE.sub(" ", one_line(text))[:31].strip()


def _write(page: Any, sheet: Sheet) -> None:
    """Write one sheet."""
    from openpyxl.styles import Alignment, Font, PatternFill

    for column, text in enumerate(sheet.head, start=1):
        cell = _put(page, 1, column, text)
        cell.font, cell.fill = Font(bold=True), PatternFill("solid", fgColor=HEAD_FILL)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    for row, values in enumerate(sheet.rows, start=2):
        shape = sheet.formats[row - 2] if len(sheet.formats) > 1 else sheet.formats[0]
        for column, value in enumerate(values, start=1):
            cell = _put(page, row, column, value)
            if isinstance(value, str):
                cell.alignment = Alignment(wrap_text=True, vertical="top")
            else:
                cell.number_format = shape
                cell.alignment = Alignment(vertical="top")
    for extra, note in enumerate(sheet.notes, start=len(sheet.rows) + 3):
        _put(page, extra, 1, note)
    page.freeze_panes = sheet.frozen
    _set_widths(page, sheet)
    page.page_setup.orientation, page.page_setup.fitToWidth = "landscape", 1
    page.page_setup.fitToHeight, page.sheet_properties.pageSetUpPr.fitToPage = 0, True
    page.print_title_rows = "1:1"


def _put(page: Any, row: int, column: int, value: str | float | None) -> Any:
    """Write one cell; text is text, whatever it begins with."""
    cell = page.cell(row=row, column=column)
    if isinstance(value, str):
        text = one_line(value)[:LONGEST_CELL]
        cell.value = text or None
        if text:
            cell.data_type = "s"
        cell.quotePrefix = begins_formula(value)
    else:
        cell.value = value
    return cell


def _set_widths(page: Any, sheet: Sheet) -> None:
    """Make each column as wide as its longest text, up to a limit beyond which text wraps."""
    from openpyxl.utils import get_column_letter

    for column, head in enumerate(sheet.head):
        texts = [row[column] for row in sheet.rows if isinstance(row[column], str)]
        widest = max((len(str(text)) for text in texts), default=8)
        needed = max(widest + 2, min(len(head) + 2, 20), 12)
        page.column_dimensions[get_column_letter(column + 1)].width = min(needed, WIDEST)
