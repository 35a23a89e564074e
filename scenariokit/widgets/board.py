"""The comparison board: state, controls, charts and words joined."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from html import escape
from typing import Any

import ipywidgets as widgets

from scenariokit import catalog
from scenariokit.errors import ScenarioKitError
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr, use_language
from scenariokit.report import (
    comparison_table,
    method_sheet,
    sentences,
)
from scenariokit.report.tables import spoken_list
from scenariokit.scenario import evaluate, value_at
from scenariokit.widgets.board_charts import BoardCharts
from scenariokit.widgets.board_choice import BoardChoice
from scenariokit.widgets.board_fields import path_fields, toolbar_fields, toolbar_values
from scenariokit.widgets.board_files import BoardFiles
from scenariokit.widgets.board_nutrients import BoardNutrients
from scenariokit.widgets.board_page import BoardPage
from scenariokit.widgets.board_paths import COMMON_PATHS, paths_of
from scenariokit.widgets.board_profile import BoardProfile
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.board_views import BoardViews, View
from scenariokit.widgets.board_water import BoardWater
from scenariokit.widgets.choice_state import ChoiceState
from scenariokit.widgets.field_panel import (
    FieldPanel,
    attempts,
    changed,
    from_shown,
    refusal_text,
    to_shown,
)
from scenariokit.widgets.page_guide import PageGuide
from scenariokit.widgets.worded import say_words
from scenariokit.widgets.wording import Wording, page_head

log = logging.getLogger(__name__)

TITLE = mark("Which growing method, at your prices?")
LEAD = mark(
    "Compare ways to grow without a pump: what a square metre of tank yields, what a "
    "kilogram costs, and what water and nutrients it takes. All numbers begin as "
    "invented examples; move the sliders, or load your own prices and harvest weights."
)


class Board:
    """The comparison board in one place of a page.

    Parameters
    ----------
    state : BoardState, optional
        Where to begin; the invented growers' club if left out.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    """

    def __init__(self, state: BoardState | None = None) -> None:
        self.state = state or BoardState()
        self.choice_state = ChoiceState(self.state)
        self.wording = Wording()
        self.toolbar = FieldPanel(prefix="sk-tool", page_of="sk-board")
        self.common = FieldPanel(prefix="sk-common")
        self.method = FieldPanel(prefix="sk-method")
        self.status = widgets.HTML()
        self.says = widgets.HTML()
        self.table = widgets.HTML()
        self.sheet = widgets.HTML()
        self.method_title = widgets.HTML()
        self.charts = BoardCharts(self.guarded(self.open_method), self.wording)
        self.profile = BoardProfile(self)
        self.page = BoardPage(self)
        self.files = BoardFiles(self)
        self.views = BoardViews(self._views(), lambda _name: self.show_view())
        self.quiet = False
        self.rebuild()
        for panel, handler in (
            (self.views.bar, self.views.opened),
            (self.toolbar, self._on_toolbar),
            (self.common, self._on_common),
            (self.method, self._on_method),
        ):
            panel.observe(self.guarded(handler), names="values")
        self.widget = self._layout()

    def _ipython_display_(self) -> None:
        """Show the board where a notebook cell ends with it."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]

    # -- parts -----------------------------------------------------------------------

    def _layout(self) -> widgets.Widget:
        """Return all parts in their places."""
        head = self.wording.made(widgets.HTML(), "value", lambda: page_head(TITLE, LEAD))
        self.wording.on(self.toolbar, "page_title", TITLE)
        toolbar = _box([self.toolbar], "sk-toolbar")
        controls = _box(
            [
                self.wording.heading(mark("For all methods")), self.common,
                self.method_title, self.method,
                _box([self.wording.heading(mark("Link and storage")), *self.page.widgets], "sk-files"),
                _box([self.wording.heading(mark("Your files")), *self.files.widgets], "sk-files"),
            ],
            "sk-controls",
        )  # fmt: skip
        results = _box([self.status, self.views.bar, self.views.widget], "sk-results")
        self.status.add_class("sk-status")
        self.says.add_class("sk-says")
        main = _box([controls, results], "sk-main")
        return _box([PageGuide(), head, toolbar, main], "sk-board")

    @cached_property
    def water(self) -> BoardWater:
        """The water view, made when it is first wanted."""
        return BoardWater(self)

    @cached_property
    def nutrients(self) -> BoardNutrients:
        """The view of the nutrient solution, made when it is first wanted."""
        return BoardNutrients(self)

    @cached_property
    def choice(self) -> BoardChoice:
        """The view in which a method is chosen, made when it is first wanted."""
        return BoardChoice(self)

    def _views(self) -> tuple[View, ...]:
        """Return what can be looked at, each with what makes and what fills it."""
        return (
            View("methods", mark("Methods side by side"), self._method_parts,
                 self._rebuild_methods, self._refresh_methods),
            View("choice", mark("Which to choose"), lambda: (self.choice.widget,),
                 lambda: self.choice.rebuild(), lambda: self.choice.refresh()),
            View("water", mark("Water through the season"), lambda: (self.water.widget,),
                 self._rebuild_water, self._refresh_water),
            View("feed", mark("Nutrient solution"), lambda: (self.nutrients.widget,),
                 lambda: self.nutrients.rebuild(), lambda: self.nutrients.refresh()),
        )  # fmt: skip

    def _method_parts(self) -> tuple[widgets.Widget, ...]:
        """Return what stands in the view of all methods."""
        # The moisture profile stands beside the cross-section: one slider moves both.
        charts = list(self.charts.widgets)
        charts.insert(charts.index(self.charts.section) + 1, self.profile.chart)
        return (
            self.says, _box(charts, "sk-charts"),
            self.wording.heading(mark("The numbers")), self.table,
            self.wording.heading(mark("One method in full, with its cautions")),
            self.sheet,
        )  # fmt: skip

    # -- fields ----------------------------------------------------------------------

    def rebuild(self) -> None:
        """Make all controls and charts anew, after something else than a value changed."""
        state = self.state
        with self.quietly():
            self.toolbar.fields = toolbar_fields(state)
            self.toolbar.values = toolbar_values(state)
            self.toolbar.errors = {}
            self._fill(self.common, list(COMMON_PATHS), state.focused)
            self._fill(self.method, paths_of(state.focused), state.focused)
            said = tr("Only for: {method}", method=escape(tr(state.focused.method.label)))
            self.method_title.value = f"<h2>{said}</h2>"
        self.views.all_changed()
        self.show_view()

    def show_view(self) -> None:
        """Make the open view as far as it is out of date, and fill it."""
        with self.quietly():
            self.views.rebuild()
        self.refresh()

    def fill_view(self, name: str) -> None:
        """Bring the charts of a view up to date, if it is not the open one, which always is."""
        if self.views.open == name:
            return
        view = self.views.views[name]
        with self.quietly():
            view.rebuild()
        view.refresh()

    def _rebuild_methods(self) -> None:
        self.charts.rebuild(self.state.chosen_labels(), self.state.showing)
        self.profile.rebuild()

    def _fill(self, panel: FieldPanel, paths: list[tuple[str, str, str]], scenario: Any) -> None:
        """Give a panel the fields and values of these paths."""
        state = self.state
        panel.fields = path_fields(paths, state)
        panel.errors = {}
        panel.values = {
            path: to_shown(value_at(scenario, path).magnitude, parameter(name), state.system)
            for path, name, _ in paths
        }

    # -- changes ---------------------------------------------------------------------

    def refresh(self) -> None:
        """Compute and show what depends on values, as far as it is looked at."""
        self.views.refresh()

    def _rebuild_water(self) -> None:
        self.charts.rebuild_section(self.state.showing)
        self.profile.rebuild()
        self.water.rebuild()

    def _refresh_water(self) -> None:
        self.charts.draw_section(evaluate(self.state.focused), self.state.showing)
        self.profile.refresh()
        self.water.refresh()

    def _refresh_methods(self) -> None:
        """Compare the methods: sentences, charts, table and the method in focus in full."""
        state = self.state
        comparison = state.compute()
        showing = state.showing
        self.charts.update(comparison, showing, state.focus)
        self.says.value = spoken_list(sentences(comparison, showing))
        self.table.value = comparison_table(comparison, showing)
        focused = next(one for one in comparison if one.scenario.method.id == state.focus)
        self.sheet.value = method_sheet(focused, showing)
        self.profile.refresh()

    def _on_toolbar(self, change: dict[str, Any]) -> None:
        """Carry out what was picked."""
        state, picked = self.state, changed(change["old"], change["new"])
        actions: dict[str, Callable[[Any], None]] = {
            "chosen": state.choose,
            "crop": state.pick_crop,
            "site": state.pick_site,
            "price_list": self._pick_prices,
            "focus": state.adjust,
            "system": lambda value: setattr(state, "system", value),
            "currency": self._pick_currency,
            "rate": lambda value: state.show_currency(state.currency, float(value)),
            "language": self._speak,
        }
        try:
            for key, value in picked.items():
                actions[key](value)
        except ScenarioKitError as error:
            self.rebuild()
            self.toolbar.errors = dict.fromkeys(picked, str(error))
            return
        self.say("")
        self.rebuild()
        if "currency" in picked and not self._rate_known():
            self.toolbar.errors = {
                "rate": tr("No rate is shipped for this pair: state your own here.")
            }

    def set_language(self, code: str) -> None:
        """Say everything in another language; nothing else changes.

        Parameters
        ----------
        code : str
            As `scenariokit.language.use_language` takes it.

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
        use_language(code)
        with self.quietly():
            self.wording.say()
            say_words(self.widget)
            self.files.say()
            self.views.say()

    def _pick_prices(self, name: str) -> None:
        if name != "own":
            self.state.pick_prices(name)

    def _pick_currency(self, currency: str) -> None:
        known = catalog.exchange_rates().get((self.state.prices.currency, currency))
        self.state.show_currency(currency, known.rate if known else 1.0)

    def _rate_known(self) -> bool:
        own, shown = self.state.prices.currency, self.state.currency
        return own == shown or (own, shown) in catalog.exchange_rates()

    def _on_common(self, change: dict[str, Any]) -> None:
        self._set(self.common, change, None)

    def _on_method(self, change: dict[str, Any]) -> None:
        self._set(self.method, change, self.state.focus)

    def _set(self, panel: FieldPanel, change: dict[str, Any], method: str | None) -> None:
        """Take over moved sliders; say beside the slider what cannot be."""
        names = {path: name for path, name, _ in (*COMMON_PATHS, *paths_of(self.state.focused))}
        moved = changed(change["old"], change["new"])
        refused = ""
        for attempt in attempts(moved, panel.errors, change["new"]):
            wanted = {
                path: from_shown(value, parameter(names[path]), self.state.system)
                for path, value in attempt.items()
            }
            try:
                self.state.set_values(wanted, method=method)
            except ScenarioKitError as error:
                refused = refusal_text(error)
                continue
            panel.errors = {key: text for key, text in panel.errors.items() if key not in attempt}
            self.refresh()
            return
        panel.errors = {**panel.errors, **dict.fromkeys(moved, refused)}

    def open_method(self, method: str) -> None:
        """Open the method that was clicked in a chart."""
        if method in self.state.chosen and method != self.state.focus:
            self.state.adjust(method)
            self.rebuild()

    # -- guards ----------------------------------------------------------------------

    def say(self, text: str, *, good: bool = False) -> None:
        """Show a message where results stand; an empty one clears it."""
        kind = "sk-good" if good else "sk-bad"
        self.status.value = f'<div class="{kind}" role="alert">{text}</div>' if text else ""

    @contextmanager
    def quietly(self) -> Iterator[None]:
        """Let controls be changed inside without anything answering it."""
        before, self.quiet = self.quiet, True
        try:
            yield
        finally:
            self.quiet = before

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
                log.exception("the board could not carry out a change")
                self.say(tr("Something went wrong inside scenariokit; the log holds the details."))
            self.page.touched()

        return guarded


def _box(children: list[widgets.Widget], name: str) -> widgets.Box:
    """Return a plain box that our style sheet lays out."""
    box = widgets.VBox(children)
    box.add_class(name)
    return box


def open_board(state: BoardState | None = None, view: str = "methods") -> Board:
    """Return a comparison board; as the last line of a cell it is shown.

    Parameters
    ----------
    state : BoardState, optional
        Where to begin.
    view : {'methods', 'choice', 'water', 'feed'}
        Which view is open at the start.

    Raises
    ------
    InfeasibleError
        If there is no such view.
    """
    board = Board(state)
    board.views.open_view(view)
    return board
