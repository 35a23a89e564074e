"""The results wall: the files of all rooms in one living picture, for a projector."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable
from datetime import datetime
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from scenariokit.catalog.sources import MAX_BYTES
from scenariokit.charts.results_wall import (
    wall_band,
    wall_chart,
    wall_methods,
    wall_rows,
    wall_table,
    wall_top,
)
from scenariokit.environment import WALL_VARIABLE
from scenariokit.errors import Problem, RecordError, ScenarioKitError
from scenariokit.language import mark, tr, use_language
from scenariokit.report.results_wall import counts_line, files_list, wall_rules, wall_sentences
from scenariokit.report.tables import spoken_list
from scenariokit.report.worksheet import Paper, worksheet
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.field_panel import FieldPanel, changed, choice_field
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver
from scenariokit.widgets.page_code import STATIC
from scenariokit.widgets.page_guide import PageGuide
from scenariokit.widgets.pulse import Pulse
from scenariokit.widgets.results_wall_state import WallFile, WallState
from scenariokit.widgets.worded import say_words
from scenariokit.widgets.wording import Wording, language_field, language_value

log = logging.getLogger(__name__)

HEADING = mark("Yield per tank area, room by room. Hollow: no interval, one plot proves little.")
PICKER = mark("Load files of rooms here (CSV, XLSX or saved boards)")
PICKER_HELP = mark("Plot records, harvest sheets, boards with weights of their own.")
SECONDS = 4.0
"""Between two looks into the folder."""


class ResultsWall:
    """The results wall in one place of a page.

    Parameters
    ----------
    folder : path, optional
        The folder that is watched; without one, only files loaded at the page count.
    seconds : float
        Time between two looks.

    Attributes
    ----------
    state : WallState
        Files and results.
    widget : ipywidgets.Widget
        What to display.

    Raises
    ------
    RecordError
        If there is no such folder.
    """

    def __init__(self, folder: str | Path | None = None, *, seconds: float = SECONDS) -> None:
        self.state = WallState(_folder(folder))
        self._drawn_for: tuple[Any, ...] = ()
        self._bad = False
        self.wording = Wording()
        self.counts, self.status = widgets.HTML(), widgets.HTML()
        self.says, self.files = widgets.HTML(), widgets.HTML()
        self.chart = self.wording.on(ChartView(picture_name="results_wall"), "heading", HEADING)
        values = {"system": "metric", "decimal": ".", "language": language_value()}
        self.settings = FieldPanel(prefix=f"sk-wall-{id(self):x}", values=values)
        self.wording.made(self.settings, "fields", _fields)
        self.settings.observe(self.guarded(self._on_setting), names="values")
        self.refresh_button = widgets.Button(layout={"width": "auto"})
        self.wording.on(self.refresh_button, "description", mark("Look now"))
        self.refresh_button.add_class("sk-button")
        self.refresh_button.on_click(self.guarded(lambda _button: self.look(force=True)))
        self.picker = FilePicker(accept=".csv,.xlsx,.json", max_bytes=MAX_BYTES, multiple=True)
        self.wording.on(self.picker, "label", PICKER)
        self.wording.on(self.picker, "help", PICKER_HELP)
        self.picker.on_files(self._load)
        self.pulse = Pulse(self.look, seconds=seconds)
        self.widget = self._layout()
        self.look(force=True)

    def _ipython_display_(self) -> None:
        """Show the wall where a notebook cell ends with it."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]

    def _layout(self) -> widgets.Widget:
        """Return all parts in their places."""
        style = "".join((STATIC / name).read_text("utf-8") for name in ("board.css", "wall.css"))
        head = self.wording.heading(mark("Results wall"), "h1")
        for part, name in ((self.counts, "sk-wall-counts"), (self.status, "sk-status"),
                           (self.says, "sk-wall-says"), (self.files, "sk-wall-files")):  # fmt: skip
            part.add_class(name)
        tools = _box(
            [
                self.wording.heading(mark("For the facilitator")), self.settings,
                self.refresh_button, self.picker, *self._savers(), self.files,
            ],
            "sk-wall-tools",
        )  # fmt: skip
        note = self.wording.made(widgets.HTML(), "value", _rules)
        parts = [
            PageGuide(), widgets.HTML(f"<style>{style}</style>"), head, self.counts, self.status,
            _box([self.chart], "sk-wall-chart"), note, self.says, tools, self.pulse,
        ]  # fmt: skip
        board = _box(parts, "sk-board")
        board.add_class("sk-wall")
        return board

    def _savers(self) -> list[widgets.Widget]:
        """Return a button for each file that can be had."""
        return [
            self.wording.on(FileSaver(filename=name, mime=mime, make=make), "label", label)
            for label, name, mime, make in (
                (mark("All plots on the wall (CSV)"), "wall_plots.csv", "text/csv", self._table),
                (mark("Worksheet to print, A4 (HTML)"), "worksheet_a4.html", "text/html",
                 partial(self._worksheet, "a4")),
                (mark("Worksheet to print, Letter (HTML)"), "worksheet_letter.html", "text/html",
                 partial(self._worksheet, "letter")),
            )
        ]  # fmt: skip

    def _table(self) -> str:
        return self.state.table()

    def _worksheet(self, paper: Paper) -> str:
        return worksheet(paper=paper, system=self.state.system)

    # -- changes ---------------------------------------------------------------------

    def look(self, *, force: bool = False) -> None:
        """Look into the folder, and show anew what changed.

        Parameters
        ----------
        force : bool
            Whether to show everything, changed or not.
        """
        try:
            news = self.state.look()
        except ScenarioKitError as error:
            self._bad = True
            self.say(escape(str(error)))
            return
        if self._bad:
            self._bad = False
            self.say("")
        if news or force:
            self.refresh()
        self._count()

    def _on_setting(self, change: dict[str, Any]) -> None:
        picked = changed(change["old"], change["new"])
        if not picked:
            return
        if "language" in picked:
            self.set_language(picked["language"])
        self.state.system = change["new"]["system"]
        self.state.decimal = change["new"]["decimal"]
        self.look(force=True)

    def set_language(self, code: str) -> None:
        """Say everything in another language; nothing else changes."""
        use_language(code)
        self.wording.say()
        say_words(self.widget)
        self._drawn_for = ()
        self.look(force=True)

    def _load(self, files: list[tuple[str, bytes]]) -> str:
        """Take files that were chosen at the page; say of each what became of it."""
        taken = self.state.add(files)
        self.look(force=True)
        bad = [one for one in taken if not one.rows]
        if bad:
            lines = [str(problem) for one in bad for problem in one.problems[:3]]
            raise RecordError([Problem("file", "", line) for line in lines])
        return tr("On the wall: {names}.", names=", ".join(one.name for one in taken))

    # -- showing ---------------------------------------------------------------------

    def refresh(self) -> None:
        """Show all rooms together, and what became of each file."""
        state, found, showing = self.state, self.state.found, self.state.showing
        labels = tuple(tr(one.method) for one in wall_methods(found))
        drawn_for = (labels, state.system, wall_band(found))
        if drawn_for != self._drawn_for:
            self.chart.show(wall_chart(labels, showing, wall_band(found)))
            self._drawn_for = drawn_for
        rooms, pooled, names = wall_rows(found, showing)
        self.chart.update(
            {"rooms": rooms, "pooled": pooled, "names": names},
            {"wall_top": wall_top(found, showing)},
            wall_table(found, showing),
        )
        self.chart.layout.display = None if found.plots else "none"
        self.says.value = spoken_list(wall_sentences(found, showing))
        listed = files_list(
            [(one.name, len(one.rows), one.rooms, (*one.problems, *one.flags))
             for one in state.files]
        )  # fmt: skip
        self.files.value = f"<h2>{escape(tr('Files'))}</h2>{listed}" if listed else ""

    def _count(self) -> None:
        state = self.state
        refused = sum(_refused(one) for one in state.files)
        line = counts_line(
            len(state.files), refused, len(state.found.rooms), f"{datetime.now():%H:%M:%S}"
        )
        self.counts.value = f"<p>{escape(line)}</p>"

    def say(self, text: str) -> None:
        """Show a message above the picture; an empty one clears it."""
        self.status.value = f'<div class="sk-bad" role="alert">{text}</div>' if text else ""

    def guarded(self, handler: Callable[[Any], None]) -> Callable[[Any], None]:
        """Return `handler` so that nothing it raises is lost: said on the page, traced in the log."""

        def guarded(change: Any) -> None:
            try:
                handler(change)
            except ScenarioKitError as error:
                self.say(escape(str(error)))
            except Exception:
                log.exception("the results wall could not carry out a change")
                self.say(
                    escape(
                        tr("Something went wrong inside scenariokit; the log holds the details.")
                    )
                )

        return guarded


def _refused(one: WallFile) -> bool:
    return not one.rows


def _rules() -> str:
    lines = "".join(f"<li>{escape(line)}</li>" for line in wall_rules())
    return f"<ul class='sk-wall-rules'>{lines}</ul>"


def _fields() -> list[dict[str, Any]]:
    return [
        choice_field("system", tr("Units"), [("metric", tr("metric")), ("us", tr("US customary"))]),
        choice_field("decimal", tr("Decimal sign in files made by hand"),
                     [(".", tr("point: 1.5")), (",", tr("comma: 1,5"))]),
        language_field(),
    ]  # fmt: skip


def _folder(folder: str | Path | None) -> Path | None:
    """Return the folder to watch: the one given, or that of the server; refuse one that is none."""
    given = folder if folder is not None else os.environ.get(WALL_VARIABLE, "")
    if not str(given):
        return None
    path = Path(given).expanduser()
    if not path.is_dir():
        reason = tr("is no folder")
        raise RecordError([Problem("folder", str(given), reason, tr("a folder that exists"))])
    return path


def _box(children: list[widgets.Widget], name: str) -> widgets.Box:
    """Return a plain box that our style sheet lays out."""
    box = widgets.VBox(children)
    box.add_class(name)
    return box


def open_wall(folder: str | Path | None = None, *, seconds: float = SECONDS) -> ResultsWall:
    """Return a results wall; as the last line of a cell it is shown.

    Parameters
    ----------
    folder : path, optional
        The folder to watch. If left out, the folder that the environment variable
        ``SCENARIOKIT_WALL`` names; without either, only files loaded at the page count.
    seconds : float
        Time between two looks.

    Raises
    ------
    RecordError
        If there is no such folder.
    """
    return ResultsWall(folder, seconds=seconds)
