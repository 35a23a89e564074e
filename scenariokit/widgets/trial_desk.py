"""The trial desk: records in, and what they show, what they do not, and what to do next."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from html import escape
from typing import Any

import ipywidgets as widgets

from scenariokit.charts.frames import axis_top
from scenariokit.charts.trial_studies import forest_chart, forest_ends, forest_rows
from scenariokit.charts.trials import (
    mean_rows,
    means_chart,
    means_top,
    residual_rows,
    residual_top,
    residuals_chart,
    score_line,
    scores_chart,
    yield_unit,
)
from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, number_text, tr, use_language
from scenariokit.report.tables import said_list
from scenariokit.report.trial_prior import tempered_sentences
from scenariokit.report.trial_studies import (
    file_findings,
    forest_rows_text,
    note_sentences,
    studies_sentences,
    studies_table,
)
from scenariokit.report.trial_tables import (
    analysis_table,
    means_rows,
    means_table,
    measures_table,
    pairs_table,
)
from scenariokit.report.trials import (
    against_sentences,
    check_sentences,
    reach_sentences,
    study_sentence,
    trial_sentences,
)
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.trials.records import Records
from scenariokit.trials.summary import TrialSummary
from scenariokit.widgets.board_charts import headed
from scenariokit.widgets.field_panel import (
    FieldPanel,
    changed,
)
from scenariokit.widgets.page_guide import PageGuide
from scenariokit.widgets.trial_fields import pictured, trial_fields, trial_values
from scenariokit.widgets.trial_files import TrialFiles
from scenariokit.widgets.trial_state import LoadedTrials, TrialState, method_names
from scenariokit.widgets.worded import say_words
from scenariokit.widgets.wording import Wording, page_head

log = logging.getLogger(__name__)

TITLE = mark("What does my trial show?")
LEAD = mark(
    "Load plot records: one row for each tank or section of a tank. The desk reads the "
    "design, gives means with honest intervals, says what is shown and what is not, and "
    "pools the trials of several clubs. It begins with an invented trial."
)
MOST_OPEN = 11
"""Rows, heading included, up to which a table of pairs begins open."""


class TrialDesk:
    """The trial desk in one place of a page.

    Parameters
    ----------
    records : Records, optional
        Where to begin; an invented trial if left out.

    Attributes
    ----------
    state : TrialState
        Records and choices; ``state.found`` is the summary shown.
    widget : ipywidgets.Widget
        What to display.
    """

    def __init__(self, records: Records | LoadedTrials | None = None) -> None:
        self.state = TrialState(records)
        self.quiet = False
        self.wording = Wording()
        self.toolbar = FieldPanel(prefix=f"sk-trial-{id(self):x}", page_of="sk-board")
        self.status = widgets.HTML()
        self.title = widgets.HTML()
        self.says = widgets.HTML()
        self.table = widgets.HTML()
        self.against = widgets.HTML()
        self.means = headed(self.wording, mark("Means, intervals and plots"))
        self.forest = headed(self.wording, mark("Study by study"))
        self.residuals = headed(self.wording, mark("Residuals against fitted yields"))
        self.scores = headed(self.wording, mark("Residuals against a normal curve"))
        self.checks = widgets.HTML()
        self.pairs = widgets.HTML()
        self.tempered = widgets.HTML()
        self.measures = widgets.HTML()
        self.analysis = widgets.HTML()
        self.next = widgets.HTML()
        self.findings = widgets.HTML()
        self.files = TrialFiles(self)
        self.toolbar.observe(self.guarded(self._on_toolbar), names="values")
        self.widget = self._layout()
        self.rebuild()

    def _ipython_display_(self) -> None:
        """Show the desk where a notebook cell ends with it."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]

    def _layout(self) -> widgets.Widget:
        """Return all parts in their places."""
        head = self.wording.made(widgets.HTML(), "value", lambda: page_head(TITLE, LEAD))
        self.wording.on(self.toolbar, "page_title", TITLE)
        heading = self.wording.heading(mark("Your records"))
        files = _box([heading, *self.files.widgets], "sk-files")
        results = _box(
            [
                self.status, self.title, self.says, _box([self.means, self.forest], "sk-charts"),
                self.table, self.against, self.pairs, self.tempered, self.measures, self.next,
                self.checks,
                _box([self.residuals, self.scores], "sk-charts"),
                self.analysis, self.findings,
            ],
            "sk-results",
        )  # fmt: skip
        self.status.add_class("sk-status")
        controls = _box([files], "sk-controls")
        main = _box([controls, results], "sk-main")
        return _box([PageGuide(), head, _box([self.toolbar], "sk-toolbar"), main], "sk-board")

    # -- controls --------------------------------------------------------------------

    def rebuild(self) -> None:
        """Make controls and charts anew, and show what was found."""
        before, self.quiet = self.quiet, True
        try:
            self.toolbar.fields = trial_fields(self.state)
            self.toolbar.values = trial_values(self.state)
            self.toolbar.errors = {}
        finally:
            self.quiet = before
        self.refresh()

    def _on_toolbar(self, change: dict[str, Any]) -> None:
        """Carry out what was picked; say under the control what cannot be."""
        picked = changed(change["old"], change["new"])
        if not picked:
            return
        try:
            if "language" in picked:
                self._speak(picked["language"])
            elif "source" in picked:
                self.state.pick_source(picked["source"])
            else:
                self.state.pick(**_as_choices(picked))
        except ScenarioKitError as error:
            self.rebuild()
            self.toolbar.errors = dict.fromkeys(picked, str(error))
            return
        self.say("")
        self.rebuild()

    def set_language(self, code: str) -> None:
        """Say everything in another language; nothing else changes.

        Raises
        ------
        LanguageError
            If there is no catalogue for it.
        """
        self._speak(code)
        self.say("")
        self.rebuild()

    def _speak(self, code: str) -> None:
        """Use a language, and say in it what is never made anew."""
        before = method_names()
        use_language(code)
        self.state.rename(before)
        self.wording.say()
        say_words(self.widget)
        self.files.say()

    # -- showing ---------------------------------------------------------------------

    def refresh(self) -> None:
        """Show what was found."""
        state, found = self.state, self.state.found
        self.title.value = f"<h2>{escape(tr(state.loaded.label))}</h2>"
        sheet = study_sentence(state.study)
        if sheet:
            self.title.value += f"<p>{escape(sheet)}</p>"
        if isinstance(found, StudiesSummary):
            self._show_studies(found)
        else:
            self._show_trial(found)
        notes = "".join(
            f"<li>{escape(line)}</li>" for line in note_sentences(found.notes, state.showing)
        )
        measures = measures_table(state.measures(), state.showing)
        self.measures.value = _folded(tr("Per ground, per plant, marketable"), measures)
        listed = f"<h3>{tr('Notes')}</h3><ul>{notes}</ul>" if notes else ""
        files = file_findings(state.loaded.problems, state.loaded.flags)
        self.findings.value = listed + (f"<h3>{tr('Rows to look at')}</h3>{files}" if files else "")

    def _show_trial(self, found: TrialSummary) -> None:
        """Show one trial."""
        showing = self.state.showing
        self.says.value = said_list(trial_sentences(found, showing))
        means, plots = mean_rows(found, showing)
        self.means.show(means_chart(found, showing))
        self.means.update(
            {"means": means, "plots": plots}, {"means_top": means_top(means)},
            means_rows(found, showing),
        )  # fmt: skip
        self.table.value = means_table(found, showing)
        self.against.value = _section(
            tr("Against the usual one"), against_sentences(found, showing)
        )
        self.pairs.value = _folded(tr("Every pair"), pairs_table(found, showing))
        told = tempered_sentences(self.state.tempered(), showing)
        self.tempered.value = _section(tr("With the other studies heard"), told)
        self.next.value = _section(tr("Next time"), reach_sentences(found, showing))
        table = analysis_table(found, showing)
        self.analysis.value = f"<h3>{tr('Analysis of variance')}</h3>{table}" if table else ""
        self.checks.value = _section(tr("Can the analysis be trusted?"), check_sentences(found))
        if found.analysis is not None and found.checks is not None:
            self._show_residuals(found)
        _show_only(self.means, True)
        _show_only(self.forest, False)
        self._show_looks(found.checks is not None)

    def _show_looks(self, shown: bool) -> None:
        # The box around them keeps its place whatever it is told.
        for part in (self.residuals, self.scores):
            _show_only(part, shown)

    def _show_residuals(self, found: TrialSummary) -> None:
        showing, unit = self.state.showing, yield_unit(self.state.showing)
        assert found.analysis is not None  # noqa: S101 - narrows the type
        assert found.checks is not None  # noqa: S101
        rows = residual_rows(found.analysis, found.checks, showing)
        table = [
            [tr("Plot"), tr("Fitted ({unit})", unit=unit), tr("Residual ({unit})", unit=unit), tr("Normal score")],
            *(
                [row["plot"], number_text(row["fitted"], ".3g"),
                 number_text(row["residual"], "+.2g"), number_text(row["score"], "+.2f")]
                for row in rows
            ),
        ]  # fmt: skip
        top = residual_top(rows)
        self.residuals.show(residuals_chart(showing))
        self.residuals.update(
            {"residuals": rows},
            {"residual_top": top, "fitted_top": axis_top(row["fitted"] for row in rows)},
            table,
        )
        self.scores.show(scores_chart(showing))
        self.scores.update(
            {"residuals": rows, "score_line": score_line(rows)}, {"residual_top": top}, table
        )

    def _show_studies(self, found: StudiesSummary) -> None:
        """Show several trials together."""
        showing, one = self.state.showing, pictured(self.state, found)
        self.says.value = said_list(studies_sentences(found, showing))
        rows = forest_rows(one, showing)
        self.forest.heading = tr("Study by study: {method}", method=one.method)
        self.forest.show(forest_chart(one, showing))
        low, high = forest_ends(one, rows) if rows else (0.5, 2.0)
        self.forest.update(
            {"forest": rows}, {"forest_low": low, "forest_high": high},
            forest_rows_text(one, showing),
        )  # fmt: skip
        self.table.value = studies_table(found, showing)
        for part in (
            self.against,
            self.pairs,
            self.tempered,
            self.next,
            self.checks,
            self.analysis,
        ):
            part.value = ""
        _show_only(self.means, False)
        _show_only(self.forest, True)
        self._show_looks(False)

    # -- guards ----------------------------------------------------------------------

    def say(self, text: str, *, good: bool = False) -> None:
        """Show a message where results stand; an empty one clears it."""
        kind = "sk-good" if good else "sk-bad"
        self.status.value = f'<div class="{kind}" role="alert">{text}</div>' if text else ""

    def guarded(self, handler: Callable[[Any], None]) -> Callable[[Any], None]:
        """Return `handler` so that nothing it raises is lost: said on the page, traced in the log."""

        def guarded(change: Any) -> None:
            if self.quiet:
                return
            try:
                handler(change)
            except ScenarioKitError as error:
                self.say(escape(str(error)))
            except Exception:
                log.exception("the trial desk could not carry out a change")
                self.say(tr("Something went wrong inside scenariokit; the log holds the details."))

        return guarded


def _as_choices(picked: dict[str, Any]) -> dict[str, Any]:
    """Return what was picked as `TrialChoices` takes it."""
    made = dict(picked)
    if "varieties" in made:
        made["varieties"] = tuple(made["varieties"])
    if "temper" in made:
        made["temper"] = made["temper"] == "yes"
    return made


def _section(title: str, lines: Sequence[str]) -> str:
    """Return sentences under a heading, or nothing without any."""
    listed = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<h3>{escape(title)}</h3><ul>{listed}</ul>" if lines else ""


def _folded(title: str, table: str) -> str:
    """Return a table under a line that opens it: open at once if it is short."""
    if not table:
        return ""
    shown = " open" if table.count("<tr>") <= MOST_OPEN else ""
    return f"<details class='sk-fold'{shown}><summary>{escape(title)}</summary>{table}</details>"


def _show_only(part: widgets.Widget, shown: bool) -> None:
    part.layout.display = None if shown else "none"


def _box(children: list[widgets.Widget], name: str) -> widgets.Box:
    """Return a plain box that our style sheet lays out."""
    box = widgets.VBox(children)
    box.add_class(name)
    return box


def open_trial(records: Records | LoadedTrials | None = None) -> TrialDesk:
    """Return a trial desk; as the last line of a cell it is shown.

    Parameters
    ----------
    records : Records, optional
        Where to begin: what `read_records` gave. An invented trial if left out.
    """
    return TrialDesk(records)
