"""The field book on paper: fixed-width text with boxes to fill in."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.parameters import UnitSystem
from scenariokit.trials.planning.field_rows import BookDetails, Row, field_rows
from scenariokit.trials.planning.layout import Layout
from scenariokit.trials.records.schema import record_schema

PLANNED = ("plot_id", "block", "treatment", "genotype", "note")
"""Columns that are printed filled in."""

MEASURED = {"harvest_date": 10, "nph": 4, "ttwp": 7, "mtwp": 7, "tntp": 4}
"""Columns with a box, and how many characters go into it."""

_REMARK = 16
_DESIGNS = (
    mark("randomised"),
    mark("blocks"),
    mark("latin square"),
    mark("split plot"),
    mark("augmented"),
)
"""Designs of a layout as they are written on the sheet."""


def field_book_text(
    layout: Layout,
    details: BookDetails,
    *,
    rows_per_page: int = 30,
    system: UnitSystem = "metric",
) -> str:
    r"""Return the field book of a trial as text to print, with boxes to fill in by hand.

    Parameters
    ----------
    layout : Layout
        A layout drawn with tanks.
    details : BookDetails
        What stands in every row.
    rows_per_page : int
        Plots on a page, 1 or more.
    system : {'metric', 'us'}
        Units of the headings.

    Returns
    -------
    str
        Pages parted by form feeds, each with its headings. They are named as in
        the file, so that what was written can be typed in; the last page says
        what they mean.

    Raises
    ------
    ArgumentError
        If the layout has no tanks, a plot has no treatment or variety, or the
        number of rows cannot be.

    Notes
    -----
    For a font of fixed width.

    Examples
    --------
    >>> from scenariokit.trials.planning.designs import block_layout
    >>> from scenariokit.trials.planning.field_rows import BookDetails
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> tanks = equal_tanks(6, "120 cm", "60 cm")
    >>> layout = block_layout(["bag", "pots"], 3, seed=1, tanks=tanks)
    >>> text = field_book_text(layout, BookDetails("spring", "2026-05-01", variety="early"))
    >>> print("\n".join(line[:60].rstrip() for line in text.splitlines()[:4]))
    Study spring, planted 2026-05-01. Design: blocks, seed 1. Pa
    <BLANKLINE>
    plot_id  block  treatment  genotype  note     harvest_date
    P1       1      bag        early     tank T1  [__________]
    """
    if isinstance(rows_per_page, bool) or not isinstance(rows_per_page, int) or rows_per_page < 1:
        reason = tr("is not a number of rows")
        problem = Problem("rows_per_page", repr(rows_per_page), reason, "1, 2, 3 ...", "30")
        raise argument_error([problem], "field_book_text")
    rows = field_rows(layout, details)
    lines = _lines(rows, system)
    head, body = lines[0], lines[1:]
    pages = [body[i : i + rows_per_page] for i in range(0, len(body), rows_per_page)]
    title = tr(
        "Study {study_id}, planted {planting_date}. Design: {design}, seed {seed}.",
        study_id=details.study_id,
        planting_date=details.planting_date,
        design=tr(layout.design.replace("_", " ")),
        seed=layout.seed,
    )
    text = [
        "\n".join(
            [
                tr(
                    "{title} Page {number} of {pages}", title=title, number=number, pages=len(pages)
                ),
                "",
                head,
                *page,
                "",
            ]
        )
        for number, page in enumerate(pages, start=1)
    ]
    return "\f".join(text) + "\n".join(["", *_meanings(system), ""])


def _lines(rows: Sequence[Row], system: UnitSystem) -> list[str]:
    """Return the heading and a line for each plot, in columns of equal width."""
    schema = record_schema()
    columns = [[name, *(str(row[name]) for row in rows)] for name in PLANNED]
    columns += [
        [schema.field(name).heading(system), *(f"[{'_' * width}]" for _ in rows)]
        for name, width in MEASURED.items()
    ]
    columns.append(["note", *("_" * _REMARK for _ in rows)])
    wide = [[cell.ljust(max(map(len, column))) for cell in column] for column in columns]
    return ["  ".join(cells).rstrip() for cells in zip(*wide, strict=True)]


def _meanings(system: UnitSystem) -> list[str]:
    """Return what each box wants."""
    fields = [record_schema().field(name) for name in MEASURED]
    return [
        f"{field.heading(system)}: {tr(field.title)}. {tr(field.description)}" for field in fields
    ]
