"""The board's files: what a person loads, saves and downloads."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from scenariokit import catalog
from scenariokit.catalog.tables import MAX_BYTES
from scenariokit.climate import weather_template
from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, month_name, tr, tr_n
from scenariokit.report import problems_list
from scenariokit.trials import MethodYield, harvest_template, record_template
from scenariokit.widgets.board_exports import BoardExports
from scenariokit.widgets.board_feed import FERTILISERS, TARGETS, WATER
from scenariokit.widgets.field_panel import FieldPanel, decimal_field
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver
from scenariokit.widgets.wall_drop import WallDrop, sending_of_harvest

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
        self.decimal = FieldPanel(prefix="sk-decimal", values={"decimal": "."})
        self.exports = BoardExports(board)
        self.say()
        self.wall = WallDrop(
            lambda: sending_of_harvest(self.state.own_harvest, self.state.methods), board.wording
        )
        self.widgets = [
            self.decimal, *self._pickers(), *self._savers(), *self.exports.widgets,
            self.wall.widget, self._reset_button(),
        ]  # fmt: skip

    def say(self) -> None:
        """Say the words of pickers in the language now in use."""
        self.decimal.fields = [decimal_field()]
        self.exports.say()

    def _pickers(self) -> list[widgets.Widget]:
        """Return a control for each kind of file that can be loaded."""
        made = []
        for label, handler, accept in (
            (mark("Load my prices (CSV or XLSX)"), self._load_prices, TABLES),
            (mark("Load my harvest weights (CSV or XLSX)"), self._load_harvest, TABLES),
            (mark("Load my trial records (CSV or XLSX)"), self._load_trial, TABLES),
            (mark("Load my own weather (CSV or XLSX)"), self._load_weather, TABLES),
            (mark("Load my own growing media (CSV or XLSX)"), self._load_media, TABLES),
            (mark("Load my own methods (CSV or XLSX)"), self._load_methods, TABLES),
            (mark("Load my water analysis (CSV or XLSX)"), self._feed_loader(WATER), TABLES),
            (mark("Load my fertilisers (CSV or XLSX)"), self._feed_loader(FERTILISERS), TABLES),
            (mark("Load my nutrient targets (CSV or XLSX)"), self._feed_loader(TARGETS), TABLES),
            (mark("Open a saved board (JSON)"), self._load_board, ".json"),
        ):
            picker = FilePicker(accept=accept, max_bytes=MAX_BYTES)
            self.board.wording.on(picker, "label", label)
            picker.on_file(self._guarded(handler))
            made.append(picker)
        return made

    def _savers(self) -> list[widgets.Widget]:
        """Return a button for each kind of file that can be had."""
        return [
            self._labelled(FileSaver(filename=filename, mime=mime, make=make), label)
            for label, filename, mime, make in (
                (
                    mark("Save this board"),
                    "board.json",
                    "application/json",
                    self.board.page.document,
                ),
                (mark("Price list to fill in (CSV)"), "my_prices.csv", "text/csv", self._prices),
                (
                    mark("Harvest sheet to fill in (CSV)"),
                    "my_harvest.csv",
                    "text/csv",
                    harvest_template,
                ),
                (
                    mark("Trial record sheet to fill in (CSV)"),
                    "my_trial.csv",
                    "text/csv",
                    record_template,
                ),
                (
                    mark("Weather sheet to fill in (CSV)"),
                    "my_weather.csv",
                    "text/csv",
                    weather_template,
                ),
                (mark("Growing media sheet to fill in (CSV)"), "my_media.csv", "text/csv", _media),
                (mark("Methods sheet to fill in (CSV)"), "my_methods.csv", "text/csv", _methods),
                (
                    mark("Water analysis sheet to fill in (CSV)"),
                    "my_water.csv",
                    "text/csv",
                    partial(catalog.write_template, WATER),
                ),
                (
                    mark("Fertiliser sheet to fill in (CSV)"),
                    "my_fertilisers.csv",
                    "text/csv",
                    partial(catalog.write_template, FERTILISERS),
                ),
                (
                    mark("Target sheet to fill in (CSV)"),
                    "my_targets.csv",
                    "text/csv",
                    partial(catalog.write_template, TARGETS),
                ),
            )
        ]

    def _labelled(self, saver: FileSaver, label: str) -> FileSaver:
        return self.board.wording.on(saver, "label", label)

    def _reset_button(self) -> widgets.Widget:
        button = widgets.Button()
        self.board.wording.on(button, "description", mark("Back to the catalogue's values"))
        button.layout.width = "auto"
        button.on_click(self.board.guarded(lambda _button: self._reset()))
        return button

    def _prices(self) -> str:
        return catalog.template(self.state.prices)

    def _reset(self) -> None:
        self.state.reset()
        self.board.rebuild()
        self.board.say(tr("All sliders are back at the catalogue's values."), good=True)

    def _load_prices(self, name: str, content: bytes) -> None:
        problems, missing = self.state.load_prices(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        used = len(self.state.prices.prices) - len(missing)
        lines = [
            tr_n("{name}: {count} price taken over.", "{name}: {count} prices taken over.",
                 used, name=escape(name))
        ]  # fmt: skip
        if missing:
            names = _names(missing)
            lines.append(tr("Not in your file, so still the old price: {names}.", names=names))
        self.board.say(_said(lines) + _listed(problems), good=not problems)

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
            more = _said([tr("Not known here, so left aside: {names}.", names=_names(unknown))])
        self._tell_yields(name, found, problems, more)

    def _tell_yields(self, name: str, found: Any, problems: Any, more: str = "") -> None:
        """Say which yields now stand for the invented ones."""
        lines = []
        for (method, crop), one in found.items():
            lines.append(f"<li>{escape(self._yield_words(method, crop, one))}</li>")
        text = tr("{name}: these yields now stand for the invented ones.", name=escape(name))
        listed = f"<p>{text}</p><ul>{''.join(lines)}</ul>{more}{_listed(problems)}"
        self.board.say(listed, good=not problems)

    def _yield_words(self, method: str, crop: str, one: MethodYield) -> str:
        known = {
            "method": tr(self.state.methods[method]["label"]), "crop": crop,
            "mean": float(one.mean.magnitude),
        }  # fmt: skip
        if one.low is None or one.high is None:
            return tr(
                "{method}, {crop}: {mean:.2f} kg/m² (one plot, so no interval exists)", **known
            )
        return tr(
            "{method}, {crop}: {mean:.2f} kg/m² ({plots} plots, 95 % interval {low:.2f} to "
            "{high:.2f})",
            plots=one.plots, low=float(one.low.magnitude), high=float(one.high.magnitude), **known,
        )  # fmt: skip

    def _load_weather(self, name: str, content: bytes) -> None:
        own = self.state.load_weather(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        months = ", ".join(month_name(month) for month in own.months)
        methods = ", ".join(method.replace("_", "-") for method in own.methods)
        lines = [
            tr("{name}: own weather for {months}; demand by {methods}. The other months are those "
               "of the place.", name=escape(name), months=months, methods=methods)
        ]  # fmt: skip
        if own.few:
            few = ", ".join(month_name(month) for month in own.few)
            lines.append(tr("Fewer than ten days in {months}: their means say little.", months=few))
        if own.gaps:
            gaps = [
                tr("{column} {first} to {last}", column=gap.column, first=gap.first, last=gap.last)
                for gap in own.gaps
            ]
            lines.append(tr("Nothing is known of: {gaps}.", gaps=_names(gaps)))
        self.board.say(_said(lines) + _listed(own.problems), good=not own.problems)

    def _load_media(self, name: str, content: bytes) -> None:
        problems, added = self.state.load_media(content, name, self.decimal.values["decimal"])
        text = tr(
            "{name}: added {names}. Price them in your price list, then name them in a method of "
            "your own.", name=escape(name), names=_names(added),
        )  # fmt: skip
        self.board.say(_said([text]) + _listed(problems), good=not problems)

    def _load_methods(self, name: str, content: bytes) -> None:
        problems, added = self.state.load_methods(content, name, self.decimal.values["decimal"])
        self.board.rebuild()
        text = tr("{name}: added {names}.", name=escape(name), names=_names(added))
        self.board.say(_said([text]) + _listed(problems), good=not problems)

    def _feed_loader(self, table: str) -> Callable[[str, bytes], None]:
        """Return what takes over a person's own fertilisers, water or targets."""

        def load(name: str, content: bytes) -> None:
            sign = self.decimal.values["decimal"]
            problems, added = self.state.load_feed_table(table, content, name, sign)
            self.board.rebuild()
            lines = [
                tr("{name}: added {names}. Pick it under Nutrient solution.", name=escape(name),
                   names=_names(added))
            ]  # fmt: skip
            bare = [key for key in self.state.feed.unpriced if key in added]
            if bare:
                lines.append(
                    tr("Not on your shelf, because no price is given: {names}.", names=_names(bare))
                )
            self.board.say(_said(lines) + _listed(problems), good=not problems)

        return load

    def _load_board(self, name: str, content: bytes) -> None:
        self.board.page.open_document(content, name)
        self.board.rebuild()
        self.board.say(_said([tr("{name} is open.", name=escape(name))]), good=True)

    def _guarded(self, handler: Callable[[str, bytes], None]) -> Callable[[str, bytes], str]:
        """Return a file handler that also says on the page what is wrong with the file."""

        def guarded(name: str, content: bytes) -> str:
            try:
                handler(name, content)
                self.board.page.touched()
            except ScenarioKitError as error:
                self.board.say(escape(str(error)).replace("\n", "<br>"))
                raise
            return tr(
                "{name}: done; the message above the charts says what was taken over.", name=name
            )

        return guarded


def _media() -> str:
    return catalog.write_template("own_media")


def _methods() -> str:
    return catalog.write_template("own_methods")


def _listed(problems: Any) -> str:
    """Return the bad rows of a file as HTML, with a heading."""
    if not problems:
        return ""
    return _said([tr("These rows were left out:")]) + problems_list(problems)


def _said(lines: Sequence[str]) -> str:
    """Return sentences, already safe for a page, as paragraphs."""
    return "".join(f"<p>{line}</p>" for line in lines)


def _names(names: Iterable[str]) -> str:
    return escape(", ".join(names))
