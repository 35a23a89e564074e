"""The comparison board: state, controls, charts and words joined."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape
from typing import Any

import ipywidgets as widgets

from scenariokit import catalog
from scenariokit.errors import ScenarioKitError
from scenariokit.glossary import parameter
from scenariokit.report import (
    comparison_table,
    method_sheet,
    sentences,
)
from scenariokit.scenario import evaluate, value_at
from scenariokit.widgets.board_charts import BoardCharts
from scenariokit.widgets.board_choice import BoardChoice
from scenariokit.widgets.board_files import BoardFiles
from scenariokit.widgets.board_nutrients import BoardNutrients
from scenariokit.widgets.board_paths import COMMON_PATHS, paths_of
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.board_views import BoardViews, View
from scenariokit.widgets.board_water import BoardWater
from scenariokit.widgets.field_panel import (
    STATIC,
    FieldPanel,
    attempts,
    changed,
    choice_field,
    from_shown,
    many_field,
    number_field,
    range_field,
    to_shown,
)

log = logging.getLogger(__name__)

TITLE = "Which growing method, at your prices?"
LEAD = (
    "Compare ways to grow without a pump: what a square metre of tank yields, what a kilogram "
    "costs, and what water and nutrients it takes. All numbers begin as invented examples; move "
    "the sliders, or load your own prices and harvest weights."
)
CURRENCIES = sorted({code for pair in catalog.exchange_rates() for code in pair})
_LEVEL_LABELS = {
    "method.level.high": "Held or refill depth",
    "method.level.start": "Depth at the start",
    "method.level.low": "Lowest depth that still feeds the roots",
    "harvest.typical": "Usual yield",
}


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
        self.toolbar = FieldPanel(prefix="sk-tool")
        self.common = FieldPanel(prefix="sk-common")
        self.method = FieldPanel(prefix="sk-method")
        self.status = widgets.HTML()
        self.says = widgets.HTML()
        self.table = widgets.HTML()
        self.sheet = widgets.HTML()
        self.method_title = widgets.HTML()
        self.charts = BoardCharts(self.guarded(self.open_method))
        self.files = BoardFiles(self)
        self.water = BoardWater(self)
        self.nutrients = BoardNutrients(self)
        self.choice = BoardChoice(self)
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
        style = (STATIC / "board.css").read_text("utf-8")
        head = widgets.HTML(f"<style>{style}</style><h1>{TITLE}</h1><p class='sk-lead'>{LEAD}</p>")
        toolbar = _box([self.toolbar], "sk-toolbar")
        controls = _box(
            [
                widgets.HTML("<h2>For all methods</h2>"), self.common,
                self.method_title, self.method,
                _box([widgets.HTML("<h2>Your files</h2>"), *self.files.widgets], "sk-files"),
            ],
            "sk-controls",
        )  # fmt: skip
        results = _box([self.status, self.views.bar, self.views.widget], "sk-results")
        self.status.add_class("sk-status")
        self.says.add_class("sk-says")
        return _box([head, toolbar, _box([controls, results], "sk-main")], "sk-board")

    def _views(self) -> tuple[View, ...]:
        """Return what can be looked at, each with what makes and what fills it."""
        # The moisture profile stands beside the cross-section: one slider moves both.
        charts = list(self.charts.widgets)
        charts.insert(charts.index(self.charts.section) + 1, self.water.profile)
        methods = (
            self.says, _box(charts, "sk-charts"),
            widgets.HTML("<h2>The numbers</h2>"), self.table,
            widgets.HTML("<h2>One method in full, with its cautions</h2>"), self.sheet,
        )  # fmt: skip
        return (
            View("methods", "Methods side by side", methods,
                 self._rebuild_methods, self._refresh_methods),
            View("choice", "Which to choose", (self.choice.widget,),
                 self.choice.rebuild, self.choice.refresh),
            View("water", "Water through the season", (self.water.widget,),
                 self._rebuild_water, self._refresh_water),
            View("feed", "Nutrient solution", (self.nutrients.widget,),
                 self.nutrients.rebuild, self.nutrients.refresh),
        )  # fmt: skip

    # -- fields ----------------------------------------------------------------------

    def rebuild(self) -> None:
        """Make all controls and charts anew, after something else than a value changed."""
        state = self.state
        with self.quietly():
            self.toolbar.fields = self._toolbar_fields()
            self.toolbar.values = self._toolbar_values()
            self.toolbar.errors = {}
            self._fill(self.common, list(COMMON_PATHS), state.focused)
            self._fill(self.method, paths_of(state.focused), state.focused)
            label = escape(state.focused.method.label)
            self.method_title.value = f"<h2>Only for: {label}</h2>"
        self.views.all_changed()
        self.show_view()

    def show_view(self) -> None:
        """Make the open view as far as it is out of date, and fill it."""
        with self.quietly():
            self.views.rebuild()
        self.refresh()

    def _rebuild_methods(self) -> None:
        self.charts.rebuild(self.state.chosen_labels(), self.state.showing)
        self.water.rebuild_profile()

    def _toolbar_fields(self) -> list[dict[str, Any]]:
        state = self.state
        crops = [(key, catalog.crops()[key]["label"]) for key in state.crops()]
        lists = [(key, one.label) for key, one in catalog.price_lists().items()]
        if state.own_prices is not None:
            lists.append(("own", f"{state.own_prices.label} (yours)"))
        shown = sorted({*CURRENCIES, state.prices.currency, state.currency})
        fields = [
            many_field("chosen", "Methods to compare", state.available(),
                       help="Two to eight are easy to read. A method that you add in a file appears here."),
            choice_field("focus", "Method to adjust", state.chosen_labels(),
                         help="A click on a method in a chart opens it too, and marks it in all charts."),
            choice_field("crop", "Crop", crops),
            choice_field("site", "Place", [(k, r["label"]) for k, r in catalog.sites().items()],
                         help="Invented places with twelve months of weather."),
            choice_field("price_list", "Price list", lists, help="Invented lists, or your own file."),
            choice_field("system", "Units", [("metric", "metric"), ("us", "US customary")]),
            choice_field("currency", "Money shown in", [(code, code) for code in shown]),
        ]  # fmt: skip
        if state.currency != state.prices.currency:
            label = f"{state.currency} for one {state.prices.currency}"
            fields.append(
                number_field(
                    "rate", label, "", help="Your own exchange rate; the first one is invented."
                )
            )
        return fields

    def _toolbar_values(self) -> dict[str, Any]:
        state = self.state
        return {
            "chosen": list(state.chosen), "focus": state.focus, "crop": state.crop,
            "site": state.site, "system": state.system, "currency": state.currency,
            "price_list": "own" if state.own_prices is not None else state.price_list,
            "rate": state.rate,
        }  # fmt: skip

    def _fill(self, panel: FieldPanel, paths: list[tuple[str, str, str]], scenario: Any) -> None:
        """Give a panel the fields and values of these paths."""
        state = self.state
        currency = state.prices.currency
        panel.fields = [
            range_field(path, parameter(name), system=state.system, currency=currency, topic=topic,
                        label=_LEVEL_LABELS.get(path, ""))
            for path, name, topic in paths
        ]  # fmt: skip
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
        self.water.rebuild_profile()
        self.water.rebuild()

    def _refresh_water(self) -> None:
        self.charts.draw_section(evaluate(self.state.focused), self.state.showing)
        self.water.refresh_profile()
        self.water.refresh()

    def _refresh_methods(self) -> None:
        """Compare the methods: sentences, charts, table and the method in focus in full."""
        state = self.state
        comparison = state.compute()
        showing = state.showing
        self.charts.update(comparison, showing, state.focus)
        words = "".join(f"<li>{escape(line)}</li>" for line in sentences(comparison, showing))
        self.says.value = f'<div role="status" aria-live="polite"><ul>{words}</ul></div>'
        self.table.value = comparison_table(comparison, showing)
        focused = next(one for one in comparison if one.scenario.method.id == state.focus)
        self.sheet.value = method_sheet(focused, showing)
        self.water.refresh_profile()

    def _on_toolbar(self, change: dict[str, Any]) -> None:
        """Carry out what was picked."""
        state, picked = self.state, changed(change["old"], change["new"])
        actions: dict[str, Callable[[Any], None]] = {
            "chosen": state.choose,
            "crop": state.pick_crop,
            "site": state.pick_site,
            "price_list": self._pick_prices,
            "focus": lambda value: setattr(state, "focus", value),
            "system": lambda value: setattr(state, "system", value),
            "currency": self._pick_currency,
            "rate": lambda value: state.show_currency(state.currency, float(value)),
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
            self.toolbar.errors = {"rate": "No rate is shipped for this pair: state your own here."}

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
                refused = str(error)
                continue
            panel.errors = {key: text for key, text in panel.errors.items() if key not in attempt}
            self.refresh()
            return
        panel.errors = {**panel.errors, **dict.fromkeys(moved, refused)}

    def open_method(self, method: str) -> None:
        """Open the method that was clicked in a chart."""
        if method in self.state.chosen and method != self.state.focus:
            self.state.focus = method
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
                self.say("Something went wrong inside scenariokit; the log holds the details.")

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
