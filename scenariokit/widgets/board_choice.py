"""The choice view: what must hold, what the numbers recommend, what drives it, where it turns."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from scenariokit import units
from scenariokit.charts.choice import (
    crossing_chart,
    front_chart,
    share_chart,
    swing_chart,
    winner_map_chart,
)
from scenariokit.charts.choice_rows import (
    best_rows,
    crossing_rows,
    front_rows,
    parameter_title,
    swing_rows,
    weighing_rows,
    winner_rows,
)
from scenariokit.decide import LIMITS, Advice
from scenariokit.decide.over_range import parameter_at
from scenariokit.language import mark, number_text, tr
from scenariokit.parameters import Parameter
from scenariokit.report.choice import (
    advice_sentences,
    basis_sentences,
    crossing_sentences,
    weighing_sentences,
)
from scenariokit.report.choice_tables import assumption_table
from scenariokit.report.tables import said_list
from scenariokit.scenario import OUTCOMES, Comparison, value_at
from scenariokit.uncertainty import Ensemble
from scenariokit.widgets.board_charts import headed
from scenariokit.widgets.board_closer import BoardCloserLook
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.choice_fields import limit_fields, pick_fields, weight_fields
from scenariokit.widgets.choice_state import ChoiceState, limit_values
from scenariokit.widgets.field_panel import (
    FieldPanel,
    changed,
    from_shown,
    to_shown,
)

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

MOST_SWINGS = 8
"""Inputs drawn in the swing chart; the table has all."""


class BoardChoice:
    """The view in which a method is chosen.

    Parameters
    ----------
    board : Board
        Whose methods are compared.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.state = board.choice_state
        self.limits = FieldPanel(prefix="sk-limits")
        self.picks = FieldPanel(prefix="sk-picks")
        self.weights = FieldPanel(prefix="sk-weights")
        self.says, self.assumed = widgets.HTML(), widgets.HTML()
        self.met, self.weighed = widgets.HTML(), widgets.HTML()
        self.front = headed(board.wording, mark("What each method is like"))
        self.best = headed(board.wording, mark("How often each is the best"))
        self.swing = headed(board.wording, mark("What moves the difference"))
        self.crossing = headed(board.wording, mark("Where two methods meet"))
        self.map = headed(board.wording, mark("Which is best where"))
        self.wins = headed(board.wording, mark("Who wins for how many weightings"))
        self.front.add_class("sk-wide")
        self.closer = BoardCloserLook(board, self.state)
        self.advice: Advice | None = None
        for view in self._marking():
            view.selection_field = "method"
            view.observe(board.guarded(self._clicked), names="selected")
        for panel, handler in (
            (self.limits, self._on_limits), (self.picks, self._on_picks),
            (self.weights, self._on_weights),
        ):  # fmt: skip
            panel.observe(board.guarded(handler), names="values")
        self.widget = self._layout()

    def _marking(self) -> list[ChartView]:
        return [self.front, self.best, self.wins]

    def _layout(self) -> widgets.Widget:
        def charts(*views: ChartView) -> widgets.Widget:
            box = widgets.VBox(list(views))
            box.add_class("sk-charts")
            return box

        heading = self.board.wording.heading
        made = widgets.VBox(
            [
                heading(mark("What must hold")), self.limits,
                heading(mark("What the numbers recommend")), self.says,
                charts(self.front, self.best, self.wins),
                heading(mark("How much each thing counts"), "h3"), self.weights, self.weighed,
                heading(mark("What it hangs on")), self.picks, self.met,
                charts(self.swing, self.crossing, self.map), self.assumed, self.closer.widget,
            ]
        )  # fmt: skip
        made.add_class("sk-choice")
        return made

    # -- controls --------------------------------------------------------------------

    def rebuild(self) -> None:
        """Make controls and charts anew, for other methods or other units."""
        self.state.keep()
        self._fill_limits()
        self._fill_picks()
        self._fill_weights()
        self._draw()
        self.closer.clear()

    def _fill_limits(self) -> None:
        state = self.state
        self.limits.fields = limit_fields(state)
        self.limits.errors = {}
        self.limits.values = {
            "ticked": list(state.limits),
            "lacking": list(state.lacking),
            **{name: self._limit_shown(name) for name in state.limits},
        }

    def _limit_shown(self, name: str) -> float:
        showing, described = self.board.state.showing, LIMITS[name].parameter
        rate = showing.rate if "money" in described.unit else 1.0
        return to_shown(self.state.limits[name], described, showing.system) * rate

    def _fill_picks(self) -> None:
        self.picks.fields = pick_fields(self.state)
        self.picks.errors = {}
        self.picks.values = self._picked()

    def _picked(self) -> dict[str, Any]:
        state = self.state
        return {
            "objective": state.objective, "leaning": state.leaning, "x": state.front[0], "y": state.front[1],
            "rival": state.rival, "turning": state.turning,
            "map_x": state.mapped[0], "map_y": state.mapped[1],
        }  # fmt: skip

    def _fill_weights(self) -> None:
        self.weights.fields = []
        self.weights.fields = weight_fields(self.state)
        self.weights.errors = {}
        self.weights.values = dict(self.state.weights)

    # -- changes ---------------------------------------------------------------------

    def _clicked(self, change: dict[str, Any]) -> None:
        picked = [one for one in change["new"] if one not in change["old"]]
        for view in self._marking():
            view.selected = list(change["new"])
        if picked:
            self.board.open_method(picked[-1])

    def _on_limits(self, change: dict[str, Any]) -> None:
        values, state = change["new"], self.state
        system, rate = self.board.state.system, self.board.state.showing.rate
        moved = changed(change["old"], values)
        if "ticked" in moved:
            state.limits = limit_values(state, list(values["ticked"]))
            with self.board.quietly():
                self._fill_limits()
            self.refresh()
            return
        if "lacking" in moved:
            state.lacking = tuple(moved.pop("lacking"))
        for name, value in moved.items():
            described = LIMITS[name].parameter
            shown = float(value) / (rate if "money" in described.unit else 1.0)
            number = float(from_shown(shown, described, system).m_as(units.unit_of(described.unit)))
            if not 0 <= number <= (described.maximum or number):
                self.limits.errors = {
                    **self.limits.errors,
                    name: tr("allowed: {allowed}", allowed=described.allowed),
                }
                return
            state.limits = {**state.limits, name: number}
        self.limits.errors = {}
        self.refresh()

    def _on_picks(self, change: dict[str, Any]) -> None:
        values, state = change["new"], self.state
        moved = changed(change["old"], values)
        if values["map_x"] == values["map_y"]:
            self.picks.errors = dict.fromkeys(moved, tr("Pick two different ones for the map."))
            return
        self.picks.errors = {}
        state.objective, state.rival, state.turning = (
            values["objective"], values["rival"], values["turning"],
        )  # fmt: skip
        state.leaning = values["leaning"]
        state.front, state.mapped = (values["x"], values["y"]), (values["map_x"], values["map_y"])
        self._draw()
        self.refresh()

    def _on_weights(self, change: dict[str, Any]) -> None:
        moved = changed(change["old"], change["new"])
        wanted = {**self.state.weights, **{name: float(value) for name, value in moved.items()}}
        if min(wanted.values()) < 0 or max(wanted.values()) > 10 or sum(wanted.values()) == 0:
            self.weights.errors = dict.fromkeys(
                moved, tr("From 0 to 10, and at least one above 0.")
            )
            return
        self.weights.errors = {}
        self.state.weights = wanted
        self._weigh(self.board.state.compute())

    # -- pictures and words ----------------------------------------------------------

    def _draw(self) -> None:
        """Make the charts anew, for other methods, units or axes."""
        state, board = self.state, self.board.state
        methods, showing = board.chosen_labels(), board.showing
        self.front.draw(front_chart, methods, showing, *state.front)
        title = tr("Best in so many of 100 draws (%)")
        told = tr(
            "In how many draws each method is the best by {objective}.",
            objective=_objective(state).lower(),
        )
        self.best.draw(share_chart, methods, "best", title, told)
        title = tr("Wins for so many of 100 weightings (%)")
        told = tr("For how many of all weightings each method has the highest worth.")
        self.wins.draw(share_chart, methods, "wins", title, told)
        described = [self._described(path) for path in state.mapped]
        titles = [parameter_title(one, showing) for one in described]
        self.map.draw(winner_map_chart, methods, titles[0], titles[1])
        known = [key for key, _ in methods]
        for view in self._marking():
            view.selected = [key for key in view.selected if key in known]
        self._pair: tuple[str, ...] = ()

    def _described(self, path: str) -> Parameter:
        return parameter_at(self.state.scenarios, path)

    def refresh(self) -> None:
        """Draw, advise, and show it."""
        state, showing = self.state, self.board.state.showing
        comparison = self.board.state.compute()
        found = state.draw()
        advice = self.advice = state.advise(found, comparison)
        lines = advice_sentences(advice, showing) + basis_sentences(comparison, found)
        self.says.value = said_list(lines)
        self.assumed.value = assumption_table(found.uncertainty)
        rows, ends = front_rows(advice, found, showing, *state.front)
        self.front.update({"front": rows}, ends, _front_table(rows, showing, state.front))
        shares = best_rows(advice)
        self.best.update({"best": shares}, {}, _share_table(shares, tr("Best in")))
        self._weigh(comparison)
        self._what_it_hangs_on(advice, found)
        self.closer.clear()

    def _weigh(self, comparison: Comparison) -> None:
        ids, found = self.state.weigh(comparison)
        methods = self.board.state.chosen_labels()
        kept = [row for row in methods if row[0] in ids]
        rows = [] if found is None else weighing_rows(found, kept)
        rows += [
            {"method": key, "label": label, "value": 0.0, "text": tr("no value")}
            for key, label in methods
            if key not in ids
        ]
        self.wins.update({"wins": rows}, {}, _share_table(rows, tr("Wins for")))
        lines = [tr("No method has a value in all of these, so nothing is weighed.")]
        if found is not None:
            lines = weighing_sentences(found, [label for _, label in kept])
        self.weighed.value = said_list(lines)

    def _what_it_hangs_on(self, advice: Advice, found: Ensemble) -> None:
        """Show swing, crossing and map of the method in focus beside another."""
        state, board = self.state, self.board.state
        labels = dict(board.chosen_labels())
        other = state.beside(advice)
        pair = (board.focus, other)
        self._swing(pair, labels, found)
        self.crossing.layout.display = None if other else "none"
        self.map.layout.display = None if other else "none"
        if not other:
            self.met.value = said_list([tr("Choose a second method to see where the two meet.")])
            return
        self._cross(pair, labels)
        self._map(labels)

    def _swing(self, pair: tuple[str, str], labels: dict[str, str], found: Ensemble) -> None:
        state, showing = self.state, self.board.state.showing
        result = state.swing(pair[1], found.uncertainty)
        drawn = min(len(result.rows), MOST_SWINGS)
        named = _objective(state)
        if self._pair != pair:
            unit = showing.unit(state.objective)
            self.swing.draw(swing_chart, f"{named} ({unit})" if unit else named, drawn)
            self.crossing.draw(
                crossing_chart,
                parameter_title(self._described(state.turning), showing),
                showing.title(state.objective),
                [labels[key] for key in pair if key],
            )
            self._pair = pair
        self.swing.heading = tr("What moves it: {method}", method=labels[pair[0]])
        if pair[1]:
            self.swing.heading = tr(
                "What moves the difference: {method} less {other}",
                method=labels[pair[0]], other=labels[pair[1]],
            )  # fmt: skip
        described = {row.path: self._described(row.path) for row in result.rows}
        rows, ends = swing_rows(result, described, showing)
        table = [
            [tr("Input"), tr("Which end"), tr("Its value"), showing.title(state.objective)]
        ] + [[row["input"], row["end"], row["text"], _text(row["value"])] for row in rows]
        self.swing.update({"swing": rows[: 2 * drawn]}, ends, table)

    def _cross(self, pair: tuple[str, str], labels: dict[str, str]) -> None:
        state, showing = self.state, self.board.state.showing
        described = self._described(state.turning)
        found = state.crossing(pair[1])
        today = float(value_at(self.board.state.focused, state.turning).magnitude)
        sources, ends = crossing_rows(found, described, today, labels, showing)
        title = [parameter_title(described, showing), *(labels[key] for key in pair)]
        half = len(sources["crossing"]) // 2
        lines = [
            [_text(one["x"]), _text(one["y"]), _text(other["y"])]
            for one, other in zip(sources["crossing"][:half:8], sources["crossing"][half::8],
                                  strict=True)
        ]  # fmt: skip
        self.crossing.update(sources, ends, [title, *lines])
        self.met.value = said_list(crossing_sentences(found, described, labels, showing))

    def _map(self, labels: dict[str, str]) -> None:
        state, showing = self.state, self.board.state.showing
        one, other = (self._described(path) for path in state.mapped)
        x, y = (float(value_at(self.board.state.focused, path).magnitude) for path in state.mapped)
        sources, ends = winner_rows(
            state.map(), state.objective, (one, other), (x, y), labels, showing
        )
        counts = dict.fromkeys(labels.values(), 0)
        for row in sources["winners"]:
            counts[row["label"]] += 1
        total = max(len(sources["winners"]), 1)
        table = [[tr("Method"), tr("Best in so much of the map (%)")]] + [
            [label, f"{100 * count / total:.0f}"] for label, count in counts.items()
        ]
        self.map.update(sources, ends, table)


def _objective(state: ChoiceState) -> str:
    return tr(OUTCOMES[state.objective].label)


def _text(value: float | None) -> str:
    return "–" if value is None else number_text(value, ".3g").replace("-", "−")


def _span(row: dict[str, Any], axis: str) -> str:
    low, high = (_text(row[f"{axis}_{end}"]) for end in ("low", "high"))
    return tr("{low} to {high}", low=low, high=high)


def _front_table(
    rows: list[dict[str, Any]], showing: Any, axes: tuple[str, str]
) -> list[list[str]]:
    heads = [escape(showing.title(name)) for name in axes]
    span = tr("90 % of draws")
    return [[tr("Method"), heads[0], span, heads[1], span, tr("Beside the others")]] + [
        [
            row["label"], _text(row["x"]), _span(row, "x"),
            _text(row["y"]), _span(row, "y"), row["place"],
        ]
        for row in rows
    ]  # fmt: skip


def _share_table(rows: list[dict[str, Any]], what: str) -> list[list[str]]:
    return [[tr("Method"), what], *([row["label"], row["text"]] for row in rows)]
