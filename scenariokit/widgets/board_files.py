"""The board's files: what a person loads, saves and downloads."""

from __future__ import annotations

import calendar
from collections.abc import Callable
from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from scenariokit import catalog
from scenariokit.catalog.tables import MAX_BYTES
from scenariokit.climate import weather_template
from scenariokit.errors import ScenarioKitError
from scenariokit.report import comparison_csv, problems_list
from scenariokit.trials import harvest_template, record_template
from scenariokit.widgets.board_feed import FERTILISERS, TARGETS, WATER
from scenariokit.widgets.field_panel import FieldPanel, choice_field
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

TABLES = ".csv,.xlsx"


class BoardFiles:
    """The controls that read and write files for one board.

    Parameters
    ----------
    board : Board
        Whose state the files change, and which says what became of them.

    Attributes
    ----------
    widgets : list of Widget
        The controls, in their order.
    """

    def __init__(self, board: Board) -> None:
        self.board, self.state = board, board.state
        self.decimal = FieldPanel(
            prefix="sk-decimal",
            fields=[
                choice_field(
                    "decimal",
                    "Decimal sign in my files",
                    [(".", "point: 1.5"), (",", "comma: 1,5")],
                )
            ],
            values={"decimal": "."},
        )
        self.widgets = [self.decimal, *self._pickers(), *self._savers(), self._reset_button()]

    def _pickers(self) -> list[widgets.Widget]:
        """Return a control for each kind of file that can be loaded."""
        made = []
        for label, handler, accept in (
            ("Load my prices (CSV or XLSX)", self._load_prices, TABLES),
            ("Load my harvest weights (CSV or XLSX)", self._load_harvest, TABLES),
            ("Load my trial records (CSV or XLSX)", self._load_trial, TABLES),
            ("Load my own weather (CSV or XLSX)", self._load_weather, TABLES),
            ("Load my own growing media (CSV or XLSX)", self._load_media, TABLES),
            ("Load my own methods (CSV or XLSX)", self._load_methods, TABLES),
            ("Load my water analysis (CSV or XLSX)", self._feed_loader(WATER), TABLES),
            ("Load my fertilisers (CSV or XLSX)", self._feed_loader(FERTILISERS), TABLES),
            ("Load my nutrient targets (CSV or XLSX)", self._feed_loader(TARGETS), TABLES),
            ("Open a saved board (JSON)", self._load_board, ".json"),
        ):
            picker = FilePicker(label=label, accept=accept, max_bytes=MAX_BYTES)
            picker.on_file(self._guarded(handler))
            made.append(picker)
        return made

    def _savers(self) -> list[widgets.Widget]:
        """Return a button for each kind of file that can be had."""
        return [
            FileSaver(label=label, filename=filename, mime=mime, make=make)
            for label, filename, mime, make in (
                ("Save this board", "board.json", "application/json", self.state.save),
                ("Download the numbers (CSV)", "comparison.csv", "text/csv", self.csv),
                ("Price list to fill in (CSV)", "my_prices.csv", "text/csv", self._prices),
                ("Harvest sheet to fill in (CSV)", "my_harvest.csv", "text/csv", harvest_template),
                (
                    "Trial record sheet to fill in (CSV)",
                    "my_trial.csv",
                    "text/csv",
                    record_template,
                ),
                ("Weather sheet to fill in (CSV)", "my_weather.csv", "text/csv", weather_template),
                ("Growing media sheet to fill in (CSV)", "my_media.csv", "text/csv", _media),
                ("Methods sheet to fill in (CSV)", "my_methods.csv", "text/csv", _methods),
                (
                    "Water analysis sheet to fill in (CSV)",
                    "my_water.csv",
                    "text/csv",
                    partial(catalog.write_template, WATER),
                ),
                (
                    "Fertiliser sheet to fill in (CSV)",
                    "my_fertilisers.csv",
                    "text/csv",
                    partial(catalog.write_template, FERTILISERS),
                ),
                (
                    "Target sheet to fill in (CSV)",
                    "my_targets.csv",
                    "text/csv",
                    partial(catalog.write_template, TARGETS),
                ),
            )
        ]

    def _reset_button(self) -> widgets.Widget:
        button = widgets.Button(description="Back to the catalogue's values")
        button.layout.width = "auto"
        button.on_click(self.board.guarded(lambda _button: self._reset()))
        return button

    def csv(self) -> str:
        """Return every outcome of every method shown, as CSV."""
        return comparison_csv(self.state.compute(), self.state.showing)

    def _prices(self) -> str:
        return catalog.template(self.state.prices)

    def _reset(self) -> None:
        self.state.reset()
        self.board.rebuild()
        self.board.say("All sliders are back at the catalogue's values.", good=True)

    def _load_prices(self, name: str, content: bytes) -> None:
        problems, missing = self.state.load_prices(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        used = len(self.state.prices.prices) - len(missing)
        text = f"<p>{escape(name)}: {used} prices taken over.</p>"
        if missing:
            text += (
                f"<p>Not in your file, so still the old price: {escape(', '.join(missing))}.</p>"
            )
        self.board.say(text + _listed(problems), good=not problems)

    def _load_harvest(self, name: str, content: bytes) -> None:
        problems, found = self.state.load_harvest(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        self._tell_yields(name, found, problems)

    def _load_trial(self, name: str, content: bytes) -> None:
        sign = self.decimal.values["decimal"]
        problems, found, unknown = self.state.load_trial(content, name, sign)
        self.board.rebuild()
        more = ""
        if unknown:
            more = f"<p>Not known here, so left aside: {escape(', '.join(unknown))}.</p>"
        self._tell_yields(name, found, problems, more)

    def _tell_yields(self, name: str, found: Any, problems: Any, more: str = "") -> None:
        """Say which yields now stand for the invented ones."""
        lines = []
        for (method, crop), one in found.items():
            label = escape(self.state.methods[method]["label"])
            span = "one plot, so no interval exists"
            if one.low is not None and one.high is not None:
                span = (
                    f"{one.plots} plots, 95 % interval {one.low.magnitude:.2f} to "
                    f"{one.high.magnitude:.2f}"
                )
            lines.append(
                f"<li>{label}, {escape(crop)}: {one.mean.magnitude:.2f} kg/m² ({span})</li>"
            )
        text = f"<p>{escape(name)}: these yields now stand for the invented ones.</p>"
        listed = f"{text}<ul>{''.join(lines)}</ul>{more}{_listed(problems)}"
        self.board.say(listed, good=not problems)

    def _load_weather(self, name: str, content: bytes) -> None:
        own = self.state.load_weather(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        months = ", ".join(calendar.month_name[month] for month in own.months)
        words = ", ".join(method.replace("_", "-") for method in own.methods)
        text = (
            f"<p>{escape(name)}: own weather for {months}; demand by {words}. The other months "
            "are those of the place.</p>"
        )
        if own.few:
            few = ", ".join(calendar.month_name[month] for month in own.few)
            text += f"<p>Fewer than ten days in {few}: their means say little.</p>"
        if own.gaps:
            gaps = ", ".join(f"{gap.column} {gap.first} to {gap.last}" for gap in own.gaps)
            text += f"<p>Nothing is known of: {escape(gaps)}.</p>"
        self.board.say(text + _listed(own.problems), good=not own.problems)

    def _load_media(self, name: str, content: bytes) -> None:
        problems, added = self.state.load_media(content, name, self.decimal.values["decimal"])
        text = (
            f"<p>{escape(name)}: added {escape(', '.join(added))}. Price them in your price list, "
            "then name them in a method of your own.</p>"
        )
        self.board.say(text + _listed(problems), good=not problems)

    def _load_methods(self, name: str, content: bytes) -> None:
        problems, added = self.state.load_methods(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        text = f"<p>{escape(name)}: added {escape(', '.join(added))}.</p>"
        self.board.say(text + _listed(problems), good=not problems)

    def _feed_loader(self, table: str) -> Callable[[str, bytes], None]:
        """Return what takes over a person's own fertilisers, water or targets."""

        def load(name: str, content: bytes) -> None:
            sign = self.decimal.values["decimal"]
            problems, added = self.state.load_feed_table(table, content, name, sign)
            self.board.rebuild()
            text = (
                f"<p>{escape(name)}: added {escape(', '.join(added))}. Pick it under Nutrient "
                "solution.</p>"
            )
            bare = [key for key in self.state.feed.unpriced if key in added]
            if bare:
                text += (
                    f"<p>Not on your shelf, because no price is given: {escape(', '.join(bare))}."
                    "</p>"
                )
            self.board.say(text + _listed(problems), good=not problems)

        return load

    def _load_board(self, name: str, content: bytes) -> None:
        self.state.load(content, name)
        self.board.rebuild()
        self.board.say(f"<p>{escape(name)} is open.</p>", good=True)

    def _guarded(self, handler: Callable[[str, bytes], None]) -> Callable[[str, bytes], str]:
        """Return a file handler that also says on the page what is wrong with the file."""

        def guarded(name: str, content: bytes) -> str:
            try:
                handler(name, content)
            except ScenarioKitError as error:
                self.board.say(escape(str(error)).replace("\n", "<br>"))
                raise
            return f"{name}: done; the message above the charts says what was taken over."

        return guarded


def _media() -> str:
    return catalog.write_template("own_media")


def _methods() -> str:
    return catalog.write_template("own_methods")


def _listed(problems: Any) -> str:
    """Return the bad rows of a file as HTML, with a heading."""
    if not problems:
        return ""
    return f"<p>These rows were left out:</p>{problems_list(problems)}"
