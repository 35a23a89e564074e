"""Sending a group's own records to the results wall, from its own page and by its own choice."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from scenariokit.catalog.sources import MAX_BYTES
from scenariokit.catalog.tables import write_csv
from scenariokit.environment import WALL_VARIABLE
from scenariokit.errors import Problem, RecordError, ScenarioKitError
from scenariokit.language import mark, tr, tr_n
from scenariokit.trials import MethodYield, harvest_schema, record_template
from scenariokit.trials.pooling.wall_folder import LONGEST_GROUP, group_name, write_sent
from scenariokit.widgets.field_panel import FieldPanel, text_field
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.page_code import STATIC
from scenariokit.widgets.results_wall_state import CROP, read_wall_file
from scenariokit.widgets.wording import Wording

log = logging.getLogger(__name__)

Row = Mapping[str, Any]

KEPT_BACK = ("note", "solution_note")
"""Columns that are never sent: people write names into them."""
CLOSED = mark(
    "This page cannot reach a wall. Download your file and hand it to the facilitator, who puts it "
    "into the folder of the wall."
)


@dataclass(frozen=True)
class Sending:
    """What would be sent.

    Parameters
    ----------
    plots : int
        Plots in it.
    table : callable
        From the name of the group to the table.
    """

    plots: int
    table: Callable[[str], str]


Source = Callable[[], Sending]
"""Gives what a page would send; raises a `ScenarioKitError` where there is nothing."""


def wall_folder() -> Path | None:
    """Return the folder of the wall that the facilitator opened; None without one."""
    given = os.environ.get(WALL_VARIABLE, "")
    path = Path(given).expanduser() if given else None
    return path if path is not None and path.is_dir() else None


def sending_of_records(rows: Sequence[Row]) -> Sending:
    """Return checked plot records as they would be sent: without notes.

    Raises
    ------
    RecordError
        If there is none.
    """
    if not rows:
        raise RecordError([_nothing()])
    if any(row["planting_date"] is None for row in rows):  # of a harvest sheet or a board
        return _weights([(row["treatment"], row["plot_area"], row["ttwp"]) for row in rows])
    kept = [{key: row[key] for key in row if key not in KEPT_BACK} for row in rows]
    studies = list(dict.fromkeys(row["study_id"] for row in kept))

    def table(group: str) -> str:
        named = {one: group if len(studies) == 1 else f"{group}: {one}" for one in studies}
        return record_template([{**row, "study_id": named[row["study_id"]]} for row in kept])

    return Sending(len(kept), table)


def sending_of_harvest(
    harvest: Mapping[tuple[str, str], MethodYield], methods: Mapping[str, Mapping[str, Any]]
) -> Sending:
    """Return the weights of a board as they would be sent: methods and yields alone.

    Parameters
    ----------
    harvest : mapping
        Yield by method and crop.
    methods : mapping
        The board's methods, for their labels.

    Raises
    ------
    RecordError
        If there is none.
    """
    weights = [
        (str(methods[method]["label"]), 1.0, value)
        for (method, crop), one in harvest.items()
        if crop == CROP
        for value in one.values
    ]
    if not weights:
        raise RecordError([_nothing()])
    return _weights(weights)


def _weights(weights: Sequence[tuple[str, float, float]]) -> Sending:
    """Return methods, areas and weights as a harvest sheet; its group is told by its name."""
    rows = [
        {"plot": str(number), "method": method, "crop": CROP, "tank_area": area,
         "harvest_mass": mass}
        for number, (method, area, mass) in enumerate(weights, 1)
    ]  # fmt: skip
    return Sending(len(rows), lambda _group: write_csv(rows, harvest_schema()))


def _nothing() -> Problem:
    reason = tr("there is nothing of your own to send yet; what the page began with is invented")
    return Problem("records", "", reason, tr("load your own records first"))


class WallDrop:
    """A button that sends a page's own records to the wall, with what it would send in words.

    Parameters
    ----------
    source : callable, optional
        Gives what is sent; a file that is chosen here, if left out.
    wording : Wording, optional
        Says the texts anew when the page's language changes.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    sent : Path or None
        The file that was sent last; sending again replaces it.
    """

    def __init__(self, source: Source | None = None, wording: Wording | None = None) -> None:
        self.sent: Path | None = None
        self._chosen: Sending | None = None
        self._source = source or self._from_file
        self.wording = wording or Wording()
        self.group = FieldPanel(prefix=f"sk-drop-{id(self):x}", values={"group": ""})
        self.wording.made(self.group, "fields", _group_fields)
        self.button = widgets.Button(layout={"width": "auto"})
        self.wording.on(self.button, "description", mark("Send our records to the wall"))
        self.button.add_class("sk-button")
        self.button.disabled = wall_folder() is None
        self.button.on_click(lambda _button: self.send())
        self.note = self.wording.made(
            widgets.HTML(), "value", lambda: f"<p>{escape(self._about())}</p>"
        )
        self.message = widgets.HTML()
        self.message.add_class("sk-status")
        self.widget = widgets.VBox(self._parts(own_file=source is None))

    def _ipython_display_(self) -> None:
        """Show the button where a notebook cell ends with it."""
        from IPython.display import display

        style = widgets.HTML(f"<style>{(STATIC / 'board.css').read_text('utf-8')}</style>")
        framed = widgets.VBox([style, self.widget])
        framed.add_class("sk-board")
        display(framed)  # type: ignore[no-untyped-call]

    def _parts(self, *, own_file: bool) -> list[widgets.Widget]:
        head = self.wording.heading(mark("Results wall"))
        if wall_folder() is None:
            return [head, self.note]
        picker = []
        if own_file:
            chosen = FilePicker(accept=".csv,.xlsx,.json", max_bytes=MAX_BYTES)
            self.wording.on(chosen, "label", mark("Our records (CSV, XLSX or a saved board)"))
            chosen.on_file(self._choose)
            picker.append(chosen)
        return [head, *picker, self.group, self.note, self.button, self.message]

    def _about(self) -> str:
        """Return in plain words what is sent, or why nothing can be."""
        if wall_folder() is None:
            return tr(CLOSED)
        return tr(
            "What is sent: what the record says of each plot (method, variety, dates, area, weights "
            "and the like), under the name of your group. Notes and file names stay here. Nothing "
            "is sent before you press the button; pressing it again replaces what you sent."
        )

    # -- what is sent ------------------------------------------------------------------

    def _choose(self, name: str, content: bytes) -> str:
        """Take a file that was chosen here, checked."""
        self._chosen = None
        found = read_wall_file(name, content)
        if not found.rows:
            raise RecordError(found.problems, name)
        self._chosen = sending_of_records(found.rows)
        taken = tr_n("{count} plot is ready", "{count} plots are ready", len(found.rows))
        if not found.problems:
            return tr("{taken} to be sent.", taken=taken)
        left = "; ".join(str(one) for one in found.problems[:3])
        return tr("{taken} to be sent. Not used: {problems}", taken=taken, problems=left)

    def _from_file(self) -> Sending:
        if self._chosen is None:
            raise RecordError([Problem("file", "", tr("none was chosen yet"))])
        return self._chosen

    def send(self) -> None:
        """Send, and say what became of it; nothing that goes wrong is lost."""
        try:
            text = self._sent_words()
        except ScenarioKitError as error:
            self._say(str(error), good=False)
        except Exception:  # the one guard around callbacks; the traceback goes to the log
            log.exception("sending to the wall")
            self._say(
                tr("Something went wrong inside scenariokit; the log holds the details."),
                good=False,
            )
        else:
            self._say(text, good=True)

    def _sent_words(self) -> str:
        folder = wall_folder()
        if folder is None:
            raise RecordError([Problem("wall", "", tr(CLOSED))])
        group = group_name(str(self.group.values.get("group") or ""))
        if not group:
            reason = tr("has no letter or digit in it")
            raise RecordError([Problem("group", "", reason, tr("a name for your group"))])
        sending = self._source()
        again = self.sent is not None
        self.sent = write_sent(folder, sending.table(group), group, replaces=self.sent)
        plots = tr_n("{count} plot", "{count} plots", sending.plots)
        if again:
            return tr("Sent again as {group}: {plots}. The earlier file is replaced.",
                      group=group, plots=plots)  # fmt: skip
        return tr("Sent as {group}: {plots}. It appears on the wall in a few seconds.",
                  group=group, plots=plots)  # fmt: skip

    def _say(self, text: str, *, good: bool) -> None:
        kind = "sk-good" if good else "sk-bad"
        shown = escape(text).replace("\n", "<br>")
        self.message.value = f'<div class="{kind}" role="alert">{shown}</div>'


def _group_fields() -> list[dict[str, Any]]:
    hint = tr("Shown on the wall, at most {count} letters. No personal names.", count=LONGEST_GROUP)
    return [text_field("group", tr("Name of our group"), help=hint)]


def open_drop() -> WallDrop:
    """Return a page part that sends a file to the wall; as the last line of a cell it is shown."""
    return WallDrop()
