"""The board's downloads: numbers, charts, sheets to print, and a page that needs no kernel."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.report import comparison_csv
from scenariokit.report.chart_files import MIME, FilledChart, can_draw, chart_file
from scenariokit.report.input_sources import is_invented
from scenariokit.report.print_feed import FeedSetup
from scenariokit.report.print_sheet import print_sheets
from scenariokit.report.safe_text import file_stem
from scenariokit.report.standalone import Drawing, standalone_page
from scenariokit.report.tank_picture import tank_pictures
from scenariokit.report.workbook import comparison_workbook
from scenariokit.scenario import Comparison, compare
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.engine import library_licences, library_sources
from scenariokit.widgets.field_panel import FieldPanel, choice_field
from scenariokit.widgets.file_saver import FileSaver

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
KINDS = (
    ("png", mark("PNG, for documents")),
    ("svg", mark("SVG, to draw on")),
    ("pdf", mark("PDF, for printing")),
)


@dataclass(frozen=True)
class ChartPick:
    """A chart of the board that can be saved.

    Parameters
    ----------
    label : str
        What a person reads.
    view : str
        The view that fills it.
    of : callable
        Returns it from a board.
    """

    label: str
    view: str
    of: Callable[[Any], ChartView]


CHARTS: dict[str, ChartPick] = {
    "yield_cost": ChartPick(
        mark("Yield against cost"), "methods", lambda board: board.charts.tradeoff
    ),
    "costs": ChartPick(mark("What the produce costs"), "methods", lambda board: board.charts.costs),
    "nutrients": ChartPick(
        mark("Where the nutrients go"), "methods", lambda board: board.charts.fate
    ),
    "water": ChartPick(
        mark("Water for the produce"), "methods", lambda board: board.charts.resources["water"]
    ),
    "days_until_dry": ChartPick(
        mark("Days until dry if nobody comes"),
        "methods",
        lambda board: board.charts.resources["days"],
    ),
    "section": ChartPick(
        mark("Cross-section, to scale"), "methods", lambda board: board.charts.section
    ),
    "depth": ChartPick(mark("Depth through the season"), "water", lambda board: board.water.depth),
    "ec": ChartPick(mark("EC through the season"), "water", lambda board: board.water.ec),
    "medium": ChartPick(
        mark("Water and air in the growing medium"), "water", lambda board: board.profile.chart
    ),
    "elements": ChartPick(
        mark("Elements as made, against what is aimed at"),
        "feed",
        lambda board: board.nutrients.elements,
    ),
    "left": ChartPick(
        mark("What the season leaves in the tank"), "feed", lambda board: board.nutrients.balance
    ),
    "front": ChartPick(
        mark("What each method is like"), "choice", lambda board: board.choice.front
    ),
    "swing": ChartPick(
        mark("What moves the difference"), "choice", lambda board: board.choice.swing
    ),
    "crossing": ChartPick(
        mark("Where two methods meet"), "choice", lambda board: board.choice.crossing
    ),
    "map": ChartPick(mark("Which is best where"), "choice", lambda board: board.choice.map),
}
"""The charts that can be saved, by the name of their file."""


class BoardExports:
    """The downloads of one board.

    Parameters
    ----------
    board : Board
        Whose numbers and charts are written.

    Attributes
    ----------
    widgets : list of Widget
        The controls, in their order.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.picks = FieldPanel(prefix="sk-export", values={"chart": "yield_cost", "kind": "png"})
        self.chart_saver = self._saver(
            mark("Save this chart"), "yield_cost.png", MIME["png"], self.chart
        )
        self.picks.observe(board.guarded(lambda _change: self._named()), names="values")
        self.widgets: list[widgets.Widget] = [
            board.wording.heading(mark("Downloads"), "h3"),
            self._saver(mark("Download the numbers (CSV)"), "comparison.csv", "text/csv", self.csv),
            self._saver(
                mark("Workbook with numbers, inputs and sources (XLSX)"),
                "comparison.xlsx", XLSX, self.workbook,
            ),
            self.picks, self.chart_saver,
            self._saver(
                mark("Printable sheet of this method (HTML)"),
                "method_sheet.html", "text/html", self.sheet,
            ),
            self._saver(
                mark("Printable sheets of all chosen methods (HTML)"),
                "method_sheets.html", "text/html", self.sheets,
            ),
            self._saver(
                mark("Interactive page that needs no network (HTML)"),
                "comparison.html", "text/html", self.page,
            ),
        ]  # fmt: skip

    def say(self) -> None:
        """Say the words of the pickers in the language now in use."""
        self.picks.fields = [
            choice_field(
                "chart", tr("Chart to save"), [(key, tr(one.label)) for key, one in CHARTS.items()]
            ),
            choice_field("kind", tr("Kind of file"), [(kind, tr(label)) for kind, label in KINDS]),
        ]

    def _saver(
        self, label: str, filename: str, mime: str, make: Callable[[], str | bytes]
    ) -> FileSaver:
        saver = FileSaver(filename=filename, mime=mime, make=make)
        return self.board.wording.on(saver, "label", label)

    def _named(self) -> None:
        """Give the file of the chart the name of what is picked."""
        name, kind = self._picked()
        self.chart_saver.filename, self.chart_saver.mime = f"{name}.{kind}", MIME[kind]

    def _picked(self) -> tuple[str, Any]:
        values = self.picks.values
        return file_stem(str(values["chart"])), values["kind"]

    # -- what is written -------------------------------------------------------------

    def csv(self) -> str:
        """Return every outcome of every method shown, as CSV."""
        state = self.board.state
        return comparison_csv(state.compute(), state.showing)

    def workbook(self) -> bytes:
        """Return numbers, inputs, sources and cautions as an XLSX file."""
        state = self.board.state
        return comparison_workbook(state.compute(), state.showing)

    def chart(self) -> bytes:
        """Return the picked chart as it stands, in the kind picked.

        Raises
        ------
        InfeasibleError
            If the method in focus has no such chart.
        ExportError
            If vl-convert-python is not installed.
        """
        name, kind = self._picked()
        if name not in CHARTS:
            raise InfeasibleError(
                tr("no chart is called {name}; there are {known}",
                   name=repr(name), known=", ".join(CHARTS))
            )  # fmt: skip
        pick = CHARTS[name]
        self.board.fill_view(pick.view)
        filled = filled_chart(name, pick.of(self.board))
        if not filled.spec or not any(filled.datasets.values()):
            raise InfeasibleError(
                tr("{chart}: nothing is drawn for this method.", chart=tr(pick.label))
            )
        invented = is_invented(self.board.state.compute())
        return chart_file(filled, kind, datetime.date.today(), invented=invented)

    def sheet(self) -> str:
        """Return a sheet to print of the method in focus."""
        return self._printed(compare([self.board.state.focused]))

    def sheets(self) -> str:
        """Return a sheet to print of every method shown."""
        return self._printed(self.board.state.compute())

    def _printed(self, comparison: Comparison) -> str:
        state, today = self.board.state, datetime.date.today()
        setup = FeedSetup(state.planned, state.feed.store.fertilisers, state.feed.room)
        pictures = tank_pictures(comparison, state.showing, today) if can_draw() else {}
        return print_sheets(comparison, state.showing, setup, today, pictures)

    def page(self) -> str:
        """Return an interactive page of the comparison that needs neither kernel nor network."""
        state = self.board.state
        self.board.fill_view("methods")
        charts = [filled_chart(str(place), view)
                  for place, view in enumerate(self.board.charts.widgets)]  # fmt: skip
        drawing = Drawing(library_sources(), library_licences())
        return standalone_page(state.compute(), state.showing, charts, drawing)


def filled_chart(name: str, view: ChartView) -> FilledChart:
    """Return what a chart on the page shows, to be written into a file."""
    table = [list(view.table_columns), *view.table_rows] if view.table_columns else []
    return FilledChart(
        name=name, heading=view.heading, spec=view.spec, datasets=view.datasets,
        signals=view.signals, selected=tuple(view.selected), aspect=view.aspect, table=table,
    )  # fmt: skip
