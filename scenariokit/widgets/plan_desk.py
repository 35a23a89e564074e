"""The planner of trials: what to compare, how sure to be, which tanks; a map and a field book."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as widgets

from scenariokit import catalog, units
from scenariokit.charts.plan_curve import (
    Sought,
    curve_points,
    curve_rows,
    curve_signals,
    curve_table,
    plan_curve_chart,
)
from scenariokit.charts.plot_map import (
    MOST_HEIGHT,
    map_chart,
    map_rows,
    map_signals,
    map_table,
    map_width,
    plot_groups,
)
from scenariokit.errors import InfeasibleError, ProblemsError, ScenarioKitError
from scenariokit.language import mark, tr, use_language
from scenariokit.report.planning import plan_limits, plan_sentences
from scenariokit.report.planning_budget import budget_sentences, budget_table
from scenariokit.report.tables import spoken_list
from scenariokit.trials.planning.needs import PlotNeeds
from scenariokit.trials.planning.proposal import TrialPlan
from scenariokit.widgets.board_charts import headed
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.field_panel import FieldPanel, attempts, changed
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver
from scenariokit.widgets.page_guide import PageGuide
from scenariokit.widgets.plan_fields import (
    control_fields,
    control_values,
    pick_fields,
    pick_values,
    taken_over,
)
from scenariokit.widgets.plan_state import PlanFiles, PlanState, opened_plan, today
from scenariokit.widgets.worded import say_words
from scenariokit.widgets.wording import Wording, page_head

log = logging.getLogger(__name__)

TITLE = mark("What should the next trial look like?")
LEAD = mark(
    "Say what you want to compare and how small a difference still matters. You get the "
    "number of plots, a map drawn by lot, what it takes, what it cannot show, and the "
    "field book to fill in at harvest. Prices and varieties begin as invented examples."
)
CAPTION = mark(
    "Seen from above as you stand before the first row, which is at the top. Tanks lie "
    "with their length from left to right, in the order in which you number them. Mark "
    "on your print where north and the door are."
)
FAULT = mark("Something went wrong inside scenariokit; the log holds the details.")
SOUGHT: tuple[Sought, Sought] = ("power", "smallest")
NO_PLAN = mark("There is no plan to save: the message above the map says what would fit.")


class PlanDesk:
    """The planner of trials in one place of a page.

    Parameters
    ----------
    state : PlanState, optional
        Where to begin; four methods in single tanks if left out.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    plan : TrialPlan or None
        The plan shown; None if nothing fits.
    """

    def __init__(self, state: PlanState | None = None) -> None:
        self.state = state or PlanState(planting_date=today())
        self.plan: TrialPlan | None = None
        self.quiet = False
        self._known: dict[tuple[str, str], PlotNeeds] = {}
        self._drawn_for: tuple[Any, ...] = ()
        prefix = f"sk-plan-{id(self):x}"
        self.wording = Wording()
        self.picks = FieldPanel(prefix=f"{prefix}-pick", page_of="sk-board")
        self.controls = FieldPanel(prefix=f"{prefix}-set")
        self.status, self.says, self.limits = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.budget = widgets.HTML()
        self.map = ChartView(picture_name="trial_map", max_height=MOST_HEIGHT)
        self.curves = {
            "power": headed(self.wording, mark("How likely the wanted difference is found")),
            "smallest": headed(self.wording, mark("How small a difference is found")),
        }
        self._draw_curves()
        self.draw = widgets.Button(layout={"width": "auto"})
        self.wording.on(self.draw, "description", mark("Draw again"))
        self.savers, self.picker = self._savers(), self._picker()
        self.rebuild()
        self.picks.observe(self.guarded(self._moved(self.picks)), names="values")
        self.controls.observe(self.guarded(self._moved(self.controls)), names="values")
        self.draw.on_click(self.guarded(lambda _button: self._draw_again()))
        self.widget = self._layout()

    def _ipython_display_(self) -> None:
        """Show the planner where a notebook cell ends with it."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]

    # -- parts ------------------------------------------------------------------------

    def _layout(self) -> widgets.Widget:
        """Return all parts in their places."""
        wording = self.wording
        head = wording.made(widgets.HTML(), "value", lambda: page_head(TITLE, LEAD))
        wording.on(self.picks, "page_title", TITLE)
        heading = wording.heading(mark("Your files"))
        files = _box([heading, *self.savers, self.picker], "sk-files")
        controls = _box([self.controls, self.draw, files], "sk-controls")
        curves = _box([self.curves[sought] for sought in SOUGHT], "sk-curves")
        caption = wording.on(widgets.HTML(), "value", CAPTION, "<p><small>{}</small></p>")
        charts = _box([_box([self.map, caption], "sk-map"), curves], "sk-charts")
        results = _box(
            [
                self.status, self.says, charts,
                wording.heading(mark("What this plan cannot show")), self.limits,
                wording.heading(mark("What it takes")), self.budget,
            ],
            "sk-results",
        )  # fmt: skip
        self.status.add_class("sk-status")
        self.says.add_class("sk-says")
        main = _box([controls, results], "sk-main")
        return _box([PageGuide(), head, _box([self.picks], "sk-toolbar"), main], "sk-board")

    def _savers(self) -> list[widgets.Widget]:
        """Return a button for each file that the plan can be had as."""
        sheet = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
        return [
            self.wording.on(
                FileSaver(filename=filename, mime=mime, make=self._making(make)), "label", label
            )
            for label, filename, mime, make in (
                (mark("Field book (XLSX)"), "field_book.xlsx", sheet, PlanFiles.workbook),
                (mark("Field book (CSV)"), "field_book.csv", "text/csv", PlanFiles.book),
                (mark("Sheet to print (text)"), "field_sheet.txt", "text/plain", PlanFiles.sheet),
                (mark("Save this plan (JSON)"), "trial_plan.json", "application/json",
                 PlanFiles.document),
            )
        ]  # fmt: skip

    def _making(self, make: Callable[[PlanFiles], str | bytes]) -> Callable[[], str | bytes]:
        """Return what makes a file of the plan shown, or refuses where there is none."""

        def made() -> str | bytes:
            if self.plan is None:
                raise InfeasibleError(tr(NO_PLAN))
            return make(PlanFiles(self.state, self.plan, self.state.needs(self._known)))

        return made

    def _picker(self) -> FilePicker:
        picker = FilePicker(accept=".json", max_bytes=1_000_000)
        self.wording.on(picker, "label", mark("Open a saved plan (JSON)"))
        picker.on_file(self._open)
        return picker

    # -- changes ----------------------------------------------------------------------

    def rebuild(self) -> None:
        """Make the controls anew, after something else than a value changed."""
        self.quiet = True
        try:
            for panel, fields, values in (
                (self.picks, pick_fields(self.state), pick_values(self.state)),
                (self.controls, control_fields(self.state), control_values(self.state)),
            ):
                panel.fields, panel.errors, panel.values = fields, {}, values
        finally:
            self.quiet = False
        self.refresh()

    def _moved(self, panel: FieldPanel) -> Callable[[Mapping[str, Any]], None]:
        """Return what takes over moved controls, or says beside them why they cannot be."""

        def moved(change: Mapping[str, Any]) -> None:
            values = changed(change["old"], change["new"])
            if "language" in values:
                self.set_language(values.pop("language"))
            refused = ""
            for attempt in attempts(values, panel.errors, change["new"]):
                try:
                    state = self.state.changed(**taken_over(attempt, self.state))
                except ScenarioKitError as error:
                    refused = _told(error)
                    continue
                self._take(state, panel, attempt)
                return
            panel.errors = {**panel.errors, **dict.fromkeys(values, refused)}

        return moved

    def set_language(self, code: str) -> None:
        """Say everything in another language; nothing else changes.

        Raises
        ------
        LanguageError
            If there is no catalogue for it.
        """
        use_language(code)
        self.quiet = True
        try:
            self.wording.say()
            say_words(self.widget)
            self._draw_curves()
        finally:
            self.quiet = False
        self._drawn_for = ()
        self.rebuild()

    def _draw_curves(self) -> None:
        for sought in SOUGHT:
            self.curves[sought].show(plan_curve_chart(sought))

    def _take(self, state: PlanState, panel: FieldPanel, values: Mapping[str, Any]) -> None:
        """Show another state; controls are made anew only if other ones are needed."""
        self.state = state
        if any(
            one.fields != fields
            for one, fields in (
                (self.picks, pick_fields(state)), (self.controls, control_fields(state)),
            )
        ):  # fmt: skip
            waiting = {key: text for key, text in panel.errors.items() if key not in values}
            shown = {key: panel.values[key] for key in waiting}
            self.rebuild()
            self._wait(panel, waiting, shown)
            return
        panel.errors = {key: text for key, text in panel.errors.items() if key not in values}
        self.refresh()

    def _wait(self, panel: FieldPanel, errors: Mapping[str, str], shown: Mapping[str, Any]) -> None:
        """Keep what was refused in its control, to be tried again."""
        keys = {one["key"] for one in panel.fields}
        self.quiet = True
        try:
            kept = {key: value for key, value in shown.items() if key in keys}
            panel.values = {**panel.values, **kept}
            panel.errors = {key: text for key, text in errors.items() if key in keys}
        finally:
            self.quiet = False

    def _draw_again(self) -> None:
        """Draw by lot anew, from the next seed."""
        self.state = self.state.changed(seed=self.state.seed + 1)
        self.quiet = True
        try:
            self.controls.values = {**self.controls.values, "seed": self.state.seed}
        finally:
            self.quiet = False
        self.refresh()

    def _open(self, name: str, content: bytes) -> str:
        """Open a saved plan."""
        self.state = opened_plan(content, name, self.state)
        self.rebuild()
        return tr("{name} is open, with the map that its seed draws.", name=name)

    # -- results ------------------------------------------------------------------------

    def refresh(self) -> None:
        """Plan anew and show everything; say in words if nothing fits."""
        state = self.state
        try:
            self.plan = state.request().plan(state.needs(self._known))
        except ScenarioKitError as error:
            self.plan = None
            self._show_nothing(_told(error))
            return
        self.say("")
        self._show_charts(self.plan)
        self.says.value = _listed(plan_sentences(self.plan), live=True)
        self.limits.value = _listed(plan_limits(self.plan))
        words = "".join(
            f"<p>{escape(line)}</p>" for line in budget_sentences(self.plan, state.showing)
        )
        self.budget.value = budget_table(self.plan, state.names, state.showing) + words

    def _show_nothing(self, reason: str) -> None:
        """Say why there is no plan, and leave nothing of the last one on the page."""
        self.say(f"<p>{tr('This trial cannot be planned so.')}</p><p>{_lines(reason)}</p>")
        for part in (self.says, self.limits, self.budget):
            part.value = ""
        self._show(charts=False)

    def _show(self, *, charts: bool) -> None:
        for view in (self.map, *self.curves.values()):
            view.layout.display = None if charts else "none"

    def _show_charts(self, plan: TrialPlan) -> None:
        """Draw the map and both curves."""
        state, names = self.state, self.state.names
        groups = plot_groups(plan.aim, names)
        if (groups, state.system) != self._drawn_for:
            self.map.show(map_chart(groups, state.showing))
            self._drawn_for = (groups, state.system)
        self.map.aspect = plan.map.height / map_width(plan)
        self.map.heading = tr(
            "Map of the trial, to scale: {plots} plots, drawn from seed {seed}",
            plots=len(plan.layout.plots), seed=state.seed,
        )  # fmt: skip
        walkway = float(units.quantity(state.walkway).m_as("cm"))
        self.map.update(map_rows(plan, names), map_signals(plan, walkway), map_table(plan, names))
        points = curve_points(plan)
        for sought in SOUGHT:
            self.curves[sought].update(
                curve_rows(plan, points, sought), curve_signals(plan, sought), curve_table(points)
            )
        self._show(charts=True)

    # -- guards ---------------------------------------------------------------------------

    def say(self, text: str) -> None:
        """Show a message where results stand; an empty one clears it."""
        self.status.value = f'<div class="sk-bad" role="alert">{text}</div>' if text else ""

    def guarded(self, handler: Callable[[Any], None]) -> Callable[[Any], None]:
        """Return `handler` so that nothing it raises is lost: said on the page, traced in the log."""

        def guarded(change: Any) -> None:
            if self.quiet:
                return
            try:
                handler(change)
            except ScenarioKitError as error:
                self.say(_lines(_told(error)))
            except Exception:
                log.exception("the planner could not carry out a change")
                self.say(tr(FAULT))

        return guarded


def _box(children: list[widgets.Widget], name: str) -> widgets.Box:
    """Return a plain box that our style sheet lays out."""
    box = widgets.VBox(children)
    box.add_class(name)
    return box


def _told(error: ScenarioKitError) -> str:
    """Return what is wrong without the name of the function that found it."""
    if isinstance(error, ProblemsError):
        return "\n".join(str(problem) for problem in error.problems)
    return str(error)


def _lines(text: str) -> str:
    return escape(text).replace("\n", "<br>")


def _listed(lines: list[str], *, live: bool = False) -> str:
    """Return sentences as an HTML list, of which the first is read out when it changes if it is live."""
    if live:
        return f"<div>{spoken_list(lines)}</div>"
    return f"<div><ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul></div>"


def open_planner(state: PlanState | None = None, *, methods: Any = None) -> PlanDesk:
    """Return a planner of trials; as the last line of a cell it is shown.

    Parameters
    ----------
    state : PlanState, optional
        Where to begin.
    methods : mapping, optional
        The methods to choose from, rows as in the catalogue, such as a person's
        own; the catalogue's if left out.
    """
    rows = catalog.methods() if methods is None else methods
    return PlanDesk(state or PlanState(planting_date=today(), methods=rows))
