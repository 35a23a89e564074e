"""The trial desk's files: records in, templates, results and a report of problems out."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from scenariokit.catalog.fields import from_json
from scenariokit.catalog.tables import MAX_BYTES, write_csv
from scenariokit.errors import ScenarioKitError
from scenariokit.language import language_as, mark, tr
from scenariokit.report.trial_studies import studies_rows
from scenariokit.report.trial_tables import means_rows
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.trials.records import record_template, record_workbook, study_template
from scenariokit.widgets.field_panel import FieldPanel, decimal_field
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver
from scenariokit.widgets.trial_state import OWN, read_files
from scenariokit.widgets.wall_drop import Sending, WallDrop, sending_of_records

if TYPE_CHECKING:
    from scenariokit.widgets.trial_desk import TrialDesk

SHEETS = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class TrialFiles:
    """The controls that read and write files for one trial desk.

    Parameters
    ----------
    desk : TrialDesk
        Whose records the files are, and which says what became of them.

    Attributes
    ----------
    widgets : list of Widget
        The controls, in their order.
    """

    def __init__(self, desk: TrialDesk) -> None:
        self.desk = desk
        self.decimal = FieldPanel(
            prefix=f"sk-trial-decimal-{id(self):x}", values={"decimal": "."}
        )  # fmt: skip
        self.say()
        self.picker = FilePicker(accept=".csv,.xlsx", max_bytes=MAX_BYTES, multiple=True)
        desk.wording.on(self.picker, "label", mark("Load plot records (CSV or XLSX)"))
        desk.wording.on(
            self.picker,
            "help",
            mark("Choose several to pool them. A study's sheet ends in _study.csv."),
        )
        self.picker.on_files(self._load)
        self.wall = WallDrop(self._own_records, desk.wording)
        self.widgets: list[widgets.Widget] = [
            self.decimal, self.picker, *self._savers(), self.wall.widget
        ]  # fmt: skip

    def say(self) -> None:
        """Say the words of the decimal signs in the language now in use."""
        self.decimal.fields = [decimal_field()]

    def _savers(self) -> list[widgets.Widget]:
        """Return a button for each file that can be had."""
        return [
            self.desk.wording.on(
                FileSaver(filename=filename, mime=mime, make=make), "label", label
            )
            for label, filename, mime, make in (
                (mark("Download the means (CSV)"), "trial_means.csv", "text/csv", self.means),
                (mark("Report of problems to send back (CSV)"), "trial_problems.csv", "text/csv",
                 self.report),
                (mark("Plot record to fill in (CSV)"), "plot_record.csv", "text/csv", self._template),
                (mark("Plot record to fill in (XLSX)"), "plot_record.xlsx", SHEETS, self._workbook),
                (mark("Sheet of a study to fill in (CSV)"), "my_study.csv", "text/csv", study_template),
            )
        ]  # fmt: skip

    def means(self) -> str:
        """Return the means that are shown, as CSV.

        Raises
        ------
        ScenarioKitError
            If several studies have no means in common.
        """
        with language_as("en"):  # a file is read by programs, whatever the reader speaks
            return self._means()

    def _means(self) -> str:
        state = self.desk.state
        if isinstance(state.found, StudiesSummary):
            rows = studies_rows(state.found, state.showing)
            if not rows:
                raise ScenarioKitError(
                    tr(
                        "There are no means over all studies: {refusal}",
                        refusal=state.found.refusal,
                    )
                )
        else:
            rows = means_rows(state.found, state.showing)
        heads, *body = rows
        schema = from_json({"name": "means", "fields": [{"name": head} for head in heads]})
        return write_csv([dict(zip(heads, row, strict=True)) for row in body], schema)

    def report(self) -> str:
        """Return every problem and flag of the records in use, as CSV."""
        return self.desk.state.loaded.report()

    def _own_records(self) -> Sending:
        own = self.desk.state.own
        return sending_of_records(() if own is None else own.rows)

    def _template(self) -> str:
        return record_template(system=self.desk.state.choices.system)

    def _workbook(self) -> bytes:
        return record_workbook(system=self.desk.state.choices.system)

    def _load(self, files: list[tuple[str, bytes]]) -> str:
        """Use the records of these files; say on the page too what is wrong with them."""
        desk = self.desk
        try:
            loaded = read_files(files, self.decimal.values["decimal"])
            desk.state.take(loaded, OWN)
        except ScenarioKitError as error:
            desk.say(escape(str(error)).replace("\n", "<br>"))
            raise
        desk.rebuild()
        bad, flags = len(loaded.problems), len(loaded.flags)
        plots = {"records": tr(loaded.label), "plots": len(loaded.rows)}
        text = tr("{records}: {plots} plots taken over.", **plots)
        if bad or flags:
            text = tr(
                "{records}: {plots} plots taken over; {problems} problems and {flags} flags, listed "
                "at the end.", problems=bad, flags=flags, **plots,
            )  # fmt: skip
        desk.say(f"<p>{escape(text)}</p>", good=not bad)
        return text
