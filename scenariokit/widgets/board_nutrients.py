"""The nutrient panel: recipe, stocks, EC, next week's correction, and what the season leaves."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from scenariokit import catalog, nutrients, units
from scenariokit.charts import axis_top, balance_chart, balance_rows, element_chart, element_rows
from scenariokit.charts.frames import Showing
from scenariokit.errors import ScenarioKitError
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.report import (
    balance_sentences,
    balance_table,
    dose_sentences,
    ec_gauge,
    mixing_sheet,
    recipe_sentences,
    recipe_table,
    stock_labels,
    strength_sentences,
    water_words,
)
from scenariokit.report.nutrients import litres
from scenariokit.report.tables import said_list
from scenariokit.scenario import (
    ElementSupply,
    FeedPlan,
    Mixing,
    acid_dose,
    correction_for,
    element_supply,
    evaluate,
    feed_season,
    fullest_volume,
    mixing_for,
    solution_check,
)
from scenariokit.scenario.shown_labels import feed_text
from scenariokit.widgets.board_charts import headed
from scenariokit.widgets.board_nutrient_tables import element_table, feed_balance_table
from scenariokit.widgets.field_panel import (
    FieldPanel,
    changed,
    choice_field,
    from_shown,
    many_field,
    range_field,
    to_shown,
)
from scenariokit.widgets.file_saver import FileSaver

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

PUBLISHED, WORKED_OUT = "published", "worked out"
ROOM_FIELDS = {"stock_volume": "solution_volume", "coldest": "water_temperature"}
CHECK_FIELDS = {"ec_now": "electrical_conductivity", "depth_now": "depth"}


class BoardNutrients:
    """The nutrient solution of all methods, in the tank of the method in focus.

    Parameters
    ----------
    board : Board
        Whose state it shows and changes.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.title = widgets.HTML()
        self.choices = FieldPanel(prefix="sk-feed")
        self.says = widgets.HTML()
        self.recipe = widgets.HTML()
        self.dose = widgets.HTML()
        self.elements = headed(board.wording, mark("Elements as made, against what is aimed at"))
        self.balance = headed(board.wording, mark("What the season leaves in the tank"))
        self.meter = FieldPanel(prefix="sk-meter")
        self._begun: dict[str, float] = {}
        self.advice = widgets.HTML()
        self.left = widgets.HTML()
        self.savers = [
            board.wording.on(
                FileSaver(filename=filename, mime="text/plain", make=make), "label", label
            )
            for filename, make, label in (
                ("mixing_sheet.txt", self.sheet, mark("Mixing sheet to print (text)")),
                ("stock_labels.txt", self.labels, mark("Labels for the stocks (text)")),
            )
        ]
        self.choices.observe(board.guarded(self._on_choice), names="values")
        self.meter.observe(board.guarded(lambda _change: self._advise()), names="values")
        charts = widgets.VBox([self.elements, self.balance])
        charts.add_class("sk-charts")
        helper = widgets.VBox(
            [
                board.wording.heading(mark("Next week: bring it back to its EC"), "h3"),
                self.meter,
                self.advice,
            ]
        )
        helper.add_class("sk-helper")
        self.widget = widgets.VBox(
            [self.title, self.choices, self.says, charts, self.recipe, self.dose, *self.savers,
             helper,
             board.wording.heading(mark("Through the season, by what the yield takes up"), "h3"),
             self.left]
        )  # fmt: skip
        self.widget.add_class("sk-nutrients")
        self.advice.add_class("sk-says")

    # -- what is picked --------------------------------------------------------------

    def _fields(self) -> list[dict[str, Any]]:
        """Return the controls of the recipe and of the mixing room."""
        state = self.board.state
        store, plan = state.feed.store, state.feed.plan
        recipes = [
            *((f"{PUBLISHED}:{key}", tr("{recipe}, as published", recipe=tr(row["label"])))
              for key, row in catalog.recipes().items()),
            *((f"{WORKED_OUT}:{key}", tr("{targets}, worked out from my shelf", targets=tr(one.label)))
              for key, one in store.targets.items()),
        ]  # fmt: skip
        acids = [
            ("", tr("none")),
            *((key, tr(row["label"])) for key, row in catalog.acids().items()),
        ]
        fields = [
            choice_field("recipe", tr("Recipe"), recipes,
                         help=tr("As published: the grams of the publication. Worked out: from what is on your shelf, "
"at your EC, what your water brings counted first.")),
            choice_field("water", tr("Source water"), [(k, tr(one.label)) for k, one in store.waters.items()],
                         help=tr("Invented waters, or your own analysis from a file.")),
            choice_field("acid", tr("Acid against its alkalinity"), acids,
                         help=tr("Strong acids are for trained adults only, never for a class.")),
            choice_field("stocks", tr("Stocks"), [("2", tr("two")), ("3", tr("three: micronutrients apart"))]),
            *(range_field(name, parameter(described), system=state.system, topic="", label=label)
              for (name, described), label in zip(
                  ROOM_FIELDS.items(),
                  (tr("Volume of each stock"), tr("Coldest night in the store")), strict=True)),
        ]  # fmt: skip
        if plan.solved:
            shelf = [(key, tr(one.label)) for key, one in store.fertilisers.items()]
            fields[1:1] = [
                choice_field("cheapest", tr("Look for"),
                             [("no", tr("the closest fit")), ("yes", tr("the cheapest within the bands"))]),
                many_field("shelf", tr("On my shelf"), shelf),
            ]  # fmt: skip
        return fields

    def _values(self) -> dict[str, Any]:
        state = self.board.state
        plan, room = state.feed.plan, state.feed.room
        shown = {
            name: to_shown(
                float(units.quantity(getattr(room, name), parameter(described).unit).m),
                parameter(described), state.system,
            )
            for name, described in ROOM_FIELDS.items()
        }  # fmt: skip
        return {
            "recipe": f"{WORKED_OUT if plan.solved else PUBLISHED}:{plan.aim}",
            "water": plan.water, "acid": plan.acid, "cheapest": "yes" if plan.cheapest else "no",
            "shelf": [key for key in state.feed.store.fertilisers if key in plan.shelf],
            "stocks": str(room.stocks), **shown,
        }  # fmt: skip

    def _on_choice(self, change: dict[str, Any]) -> None:
        """Carry out what was picked; say under the control what cannot be."""
        board, picked = self.board, changed(change["old"], change["new"])
        if not picked:
            return
        try:
            board.state.take_feed(self._picked(change["new"]))
        except ScenarioKitError as error:
            with board.quietly():
                self.rebuild_choices()
            self.choices.errors = dict.fromkeys(picked, str(error))
            return
        board.say("")
        if set(picked) <= {"stocks", *ROOM_FIELDS}:
            self.choices.errors = {}
            self.refresh()
        else:
            board.rebuild()

    def _picked(self, values: Mapping[str, Any]) -> Any:
        """Return the feed that the controls ask for."""
        state = self.board.state
        way, _, aim = values["recipe"].partition(":")
        shelf = tuple(values.get("shelf", state.feed.plan.shelf))
        plan = FeedPlan(
            aim=aim, solved=way == WORKED_OUT, shelf=shelf,
            cheapest=values.get("cheapest") == "yes", water=values["water"], acid=values["acid"],
        )  # fmt: skip
        room = replace(
            state.feed.room,
            stocks=int(values["stocks"]),
            **{
                name: from_shown(values[name], parameter(described), state.system).to(
                    units.unit_of(parameter(described).unit)
                )
                for name, described in ROOM_FIELDS.items()
            },
        )
        return replace(state.feed, plan=plan, room=room)

    # -- showing ---------------------------------------------------------------------

    def rebuild_choices(self) -> None:
        """Make the controls anew."""
        self.choices.fields = self._fields()
        self.choices.values = self._values()
        self.choices.errors = {}

    def rebuild(self) -> None:
        """Make controls and charts anew, for another method, recipe or unit system."""
        scenario, system = self.board.state.focused, self.board.state.system
        said = tr("Nutrient solution: {feed}", feed=escape(feed_text(scenario.feed.label)))
        self.title.value = f"<h2>{said}</h2>"
        self.rebuild_choices()
        tank = scenario.method.level.regime != "none"
        for part in self.widget.children[1:]:
            part.layout.display = None if tank else "none"
        self.says.layout.display = None
        if not tank:
            return
        self.elements.show(element_chart(self._supply()))
        self.balance.draw(balance_chart)
        level = scenario.method.level
        labels = {"ec_now": tr("EC on the meter today"), "depth_now": tr("Depth of water today")}
        self.meter.fields = [
            range_field(name, parameter(described), system=system, topic="", label=labels[name])
            for name, described in CHECK_FIELDS.items()
        ]
        usual = {"ec_now": scenario.feed.ec * 0.8, "depth_now": level.fullest}
        begun = {
            name: to_shown(float(usual[name].m), parameter(described), system)
            for name, described in CHECK_FIELDS.items()
        }
        self.meter.errors = {}
        if begun != self._begun:  # else what was read on the meter still holds
            self.meter.values = self._begun = begun

    def _supply(self) -> tuple[ElementSupply, ...]:
        state = self.board.state
        return element_supply(state.focused, state.planned.targets, state.planned.share)

    def refresh(self) -> None:
        """Compute and show the solution of the method in focus."""
        state = self.board.state
        scenario, showing = state.focused, state.showing
        if scenario.method.level.regime == "none":
            told = tr("This method is fed by its soil; no solution is made.")
            self.says.value = f"<p>{told}</p>"
            return
        supply, planned = self._supply(), state.planned
        labels = {key: tr(one.label) for key, one in state.feed.store.fertilisers.items()}
        check = solution_check(scenario)
        said = strength_sentences(scenario, check, planned, showing)
        said += recipe_sentences(planned.recipe, supply, labels)
        said += self._water_words()
        self.says.value = ec_gauge(scenario, check) + said_list(said)
        parts, bands = element_rows(supply)
        self.elements.update({"elements": parts, "bands": bands}, {}, element_table(supply))
        mixing = self._mixing()
        self.recipe.value = recipe_table(scenario, planned, mixing, showing)
        season = feed_season(scenario)
        rows = balance_rows(season)
        self.balance.update(
            {"balance": rows},
            {"balance_days": max(row["day"] for row in rows),
             "balance_top": axis_top(row["share"] for row in rows)},
            feed_balance_table(rows),
        )  # fmt: skip
        said = balance_sentences(season, evaluate(scenario), showing)
        self.left.value = said_list(said) + balance_table(season, showing)
        self._advise()

    def _water_words(self) -> list[str]:
        """Return what is to be said of the source water and its acid."""
        state = self.board.state
        planned, scenario = state.planned, state.focused
        dose = None
        if planned.plan.acid:
            dose = acid_dose(planned.water, planned.plan.acid, fullest_volume(scenario))
        window = nutrients.ph_window(scenario.crop.id)
        return water_words(planned.water, dose, window, state.showing)

    def _mixing(self) -> Mixing | None:
        """Return the stocks and their dose, saying where the number stands if none can be made."""
        state = self.board.state
        try:
            found = mixing_for(state.focused, state.feed.store.fertilisers, state.feed.room)
        except ScenarioKitError as error:
            self.dose.value = f"<div class='sk-caution sk-danger'>{escape(str(error))}</div>"
            return None
        cautions = "".join(
            f"<p class='sk-caution sk-care'>{escape(line)}</p>" for line in found.stocks.cautions
        )
        self.dose.value = said_list(dose_sentences(found, state.showing)) + cautions
        return found

    def _advise(self) -> None:
        """Show what brings the tank back to its EC."""
        state, values = self.board.state, self.meter.values
        given = {
            name: from_shown(values[name], parameter(described), state.system)
            for name, described in CHECK_FIELDS.items()
        }
        try:
            found = correction_for(
                state.focused, given["ec_now"], given["depth_now"], state.feed.room.stocks
            )
        except ScenarioKitError as error:
            self.advice.value = f"<p>{escape(str(error))}</p>"
            return
        cautions = "".join(
            f"<p class='sk-caution sk-care'>{escape(line)}</p>" for line in found.cautions
        )
        says = escape(_in_us_measures(found, state.showing))
        self.advice.value = f"<p data-spoken>{says}</p>{cautions}"

    # -- files -----------------------------------------------------------------------

    def sheet(self) -> str:
        """Return the mixing sheet of the method in focus.

        Raises
        ------
        InfeasibleError
            If no stocks can be made.
        """
        state = self.board.state
        mixing = mixing_for(state.focused, state.feed.store.fertilisers, state.feed.room)
        today = datetime.date.today()
        return mixing_sheet(state.focused, state.planned, mixing, state.showing, today)

    def labels(self) -> str:
        """Return the labels of the stocks; see `sheet` for the error."""
        state = self.board.state
        mixing = mixing_for(state.focused, state.feed.store.fertilisers, state.feed.room)
        return stock_labels(mixing, state.showing, datetime.date.today())


def _in_us_measures(found: nutrients.Correction, showing: Showing) -> str:
    """Return a correction in words, its amounts once more for a reader of US units."""
    amounts = (
        (found.drain, mark("{amount} to drain")),
        (found.each, mark("{amount} of each stock")),
        (found.water, mark("{amount} of water")),
    )
    said = ", ".join(
        tr(what, amount=litres(amount, showing)) for amount, what in amounts if amount.m > 0
    )
    if not said or showing.system != "us":
        return found.says
    return tr("{correction} That is {amounts}.", correction=found.says, amounts=said)
