"""The choice view: limits, picks and weights at the level of traits, and the closer look."""

from __future__ import annotations

import itertools
import re
import time

import numpy as np
import pytest

from scenariokit.decide import LIMITS, usual_criteria
from scenariokit.scenario import OUTCOMES
from scenariokit.uncertainty import Stopped
from scenariokit.widgets import board_closer, open_board
from scenariokit.widgets.board import Board
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.chart_view import parameter_names, source_names
from scenariokit.widgets.choice_state import ChoiceState


@pytest.fixture
def board():
    return open_board(view="choice")


def words(part):
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", part.value))


def move(panel, **values):
    """Move controls, as the page does it: the whole mapping is sent anew."""
    panel.values = {**panel.values, **values}


def charts(choice):
    return [choice.front, choice.best, choice.wins, choice.swing, choice.crossing, choice.map]


def test_choice_opens_with_a_recommendation_and_what_it_rests_on(board):
    said = words(board.choice.says)
    assert "comes first" in said
    assert "Next: " in said
    assert "All yields are invented examples" in said
    assert "0.6 to 1.5 times what is stated; common practice" in words(board.choice.assumed)
    assert board.status.value == ""


@pytest.mark.parametrize("system", ["metric", "us"])
def test_choice_charts_get_what_they_name(board, system):
    move(board.toolbar, system=system)
    for view in charts(board.choice):
        named = {name for name in source_names(view.spec) if not name.startswith("data-")}
        assert set(view.datasets) == named, view.heading
        assert set(view.signals) <= set(parameter_names(view.spec)), view.heading
        assert view.table_columns
        assert view.table_rows
    sizes = [len(rows) for view in charts(board.choice) for rows in view.datasets.values()]
    assert max(sizes) < 5000


def test_choice_shares_are_those_of_the_advice_and_add_to_a_hundred(board):
    choice = board.choice
    rows = choice.best.datasets["best"]
    assert sum(row["value"] for row in rows) == pytest.approx(100)
    assert [row["method"] for row in rows] == board.state.chosen
    for row in rows:
        assert row["value"] == pytest.approx(100 * choice.advice.standing(row["method"]).best)
    assert sum(row["value"] for row in choice.wins.datasets["wins"]) == pytest.approx(100)


def test_choice_limit_sets_a_method_aside_and_lets_it_back(board):
    choice = board.choice
    move(choice.limits, ticked=["most_medium"])
    assert "most_medium" in [field["key"] for field in choice.limits.fields]
    assert choice.limits.values["most_medium"] == LIMITS["most_medium"].parameter.default
    assert "Ruled out: Sub-irrigated medium bag" in words(choice.says)
    assert choice.advice.standing("medium_bag").breaches
    texts = {row["method"]: row["text"] for row in choice.best.datasets["best"]}
    assert texts["medium_bag"] == "ruled out"
    move(choice.limits, most_medium=60.0)
    assert "Ruled out" not in words(choice.says)
    move(choice.limits, most_medium=0.0)
    assert "No method is left" not in words(choice.says)  # paper needs no medium
    assert choice.advice.chosen == "paper_wrap"
    move(choice.limits, ticked=[])
    assert "Ruled out" not in words(choice.says)


def test_choice_limits_that_nobody_keeps_leave_no_method(board):
    move(board.choice.limits, ticked=["most_medium", "least_yield"])
    move(board.choice.limits, most_medium=0.0, least_yield=9.0)
    assert "No method is left: loosen a limit" in words(board.choice.says)
    assert board.choice.advice.chosen == ""
    board.choice.closer.look(wait=True)
    assert "What would change" in words(board.choice.closer.result)


def test_choice_limit_in_us_units_and_another_currency_is_the_same_limit(board):
    choice = board.choice
    move(choice.limits, ticked=["most_medium", "most_investment"])
    move(board.toolbar, system="us")
    move(board.toolbar, currency="USD")
    rate = board.state.showing.rate
    assert rate != 1
    assert choice.limits.values["most_investment"] == pytest.approx(200 * rate)
    assert choice.state.limits["most_medium"] == LIMITS["most_medium"].parameter.default
    move(choice.limits, most_investment=100 * rate)
    assert choice.state.limits["most_investment"] == pytest.approx(100)


def test_choice_limit_below_zero_is_refused_beside_it(board):
    choice = board.choice
    move(choice.limits, ticked=["most_medium"])
    before = choice.state.limits
    move(choice.limits, most_medium=-3.0)
    assert "allowed: 0 to" in choice.limits.errors["most_medium"]
    assert choice.state.limits == before
    move(choice.limits, most_medium=3.0)
    assert choice.limits.errors == {}


@pytest.mark.parametrize("objective", ["return_to_labour", "yield_per_area"])
def test_choice_another_objective_orders_by_it(board, objective):
    move(board.choice.picks, objective=objective)
    assert OUTCOMES[objective].label.lower() in words(board.choice.says)
    found = board.choice.state.draw()
    means = found.floats(objective).mean(axis=1)
    assert board.choice.advice.chosen == found.methods[int(np.argmax(means))]


@pytest.mark.parametrize("objective", ["cost_per_usable_kilogram", "water_per_yield"])
def test_choice_less_is_better_where_it_is(board, objective):
    move(board.choice.picks, objective=objective)
    found = board.choice.state.draw()
    means = found.floats(objective).mean(axis=1)
    assert board.choice.advice.chosen == found.methods[int(np.argmin(means))]
    assert "(least is best)" in words(board.choice.says)


def test_choice_rival_is_who_was_picked_and_else_the_best_other(board):
    choice = board.choice
    assert "Suspended pot" in choice.swing.heading
    move(choice.picks, rival="paper_wrap")
    assert choice.swing.heading.endswith("Paper-wrapped seed piece on a tray")
    series = {row["series"] for row in choice.crossing.datasets["crossing"]}
    assert series == {"Sub-irrigated medium bag", "Paper-wrapped seed piece on a tray"}
    move(board.toolbar, chosen=["medium_bag", "wedge_pots"])
    assert choice.state.rival == ""
    assert choice.swing.heading.endswith("Nested pots with wedge pockets")


def test_choice_one_method_alone_has_nothing_to_meet(board):
    move(board.toolbar, chosen=["medium_bag"])
    said = words(board.choice.says)
    assert "It is the only one left" in said
    assert board.choice.crossing.layout.display == "none"
    assert "Choose a second method" in words(board.choice.met)
    board.choice.closer.look(wait=True)
    assert "Something went wrong" not in words(board.choice.closer.result)


def test_choice_crossing_follows_the_parameter_that_is_picked(board):
    choice = board.choice
    for key, _label in next(
        field["options"] for field in choice.picks.fields if field["key"] == "turning"
    ):
        move(choice.picks, turning=key)
        assert choice.picks.errors == {}, key
        assert board.status.value == "", key
        assert words(choice.met).strip(), key
        (now,) = choice.crossing.datasets["crossing_today"]
        assert now["text"].startswith("now ")


def test_choice_map_needs_two_different_parameters(board):
    choice = board.choice
    before = choice.map.datasets
    move(choice.picks, map_x="prices.labour_price")
    assert "two different" in choice.picks.errors["map_x"]
    assert choice.map.datasets == before
    move(choice.picks, map_x="prices.produce_price")
    assert choice.picks.errors == {}
    assert choice.map.datasets != before


def test_choice_weights_change_who_comes_first_and_not_the_shares(board):
    choice = board.choice
    shares = choice.wins.datasets["wins"]
    first = words(choice.weighed)
    names = [one.name for one in usual_criteria()]
    move(choice.weights, **dict.fromkeys(names, 0.0) | {"yield_per_area": 10.0})
    assert "Sub-irrigated medium bag comes first" in words(choice.weighed)
    assert words(choice.weighed) != first
    assert choice.wins.datasets["wins"] == shares


def test_choice_weights_all_zero_are_refused(board):
    names = [one.name for one in usual_criteria()]
    for name in names[:-1]:
        move(board.choice.weights, **{name: 0.0})
    before = words(board.choice.weighed)
    move(board.choice.weights, **{names[-1]: 0.0})
    assert "at least one above 0" in board.choice.weights.errors[names[-1]]
    assert words(board.choice.weighed) == before


def test_choice_price_slider_moves_the_advice_and_forgets_the_closer_look(board):
    choice = board.choice
    choice.closer.look(wait=True)
    assert "What would change the choice of" in choice.closer.result.value
    before = words(choice.says)
    move(board.common, **{"prices.medium_factor": 2.0})
    assert words(choice.says) != before
    assert choice.advice.chosen == "suspended_pot"
    assert choice.closer.result.value == ""


def test_choice_same_seed_gives_the_same_sentences(board):
    before = words(board.choice.says)
    move(board.common, **{"prices.labour_price": 9.0})
    move(board.common, **{"prices.labour_price": 4.0})
    assert words(board.choice.says) == before
    assert words(Board_choice().says) == before


def Board_choice():
    return open_board(view="choice").choice


def test_choice_click_on_a_method_opens_it_and_marks_it_everywhere(board):
    choice = board.choice
    choice.best.selected = ["paper_wrap"]
    assert board.state.focus == "paper_wrap"
    assert choice.front.selected == choice.wins.selected == ["paper_wrap"]
    assert "Paper-wrapped" in choice.swing.heading


def test_choice_method_of_no_yield_is_set_aside_in_words():
    board = Board(BoardState(chosen=["medium_bag", "wedge_pots"], focus="medium_bag"))
    board.views.open_view("choice")
    move(board.method, **{"harvest.typical": 0.0})
    move(board.choice.picks, objective="cost_per_usable_kilogram")
    assert "Sub-irrigated medium bag: no value in all draws" in words(board.choice.says)
    assert board.choice.advice.chosen == "wedge_pots"
    texts = {row["method"]: row["text"] for row in board.choice.wins.datasets["wins"]}
    assert texts == {"wedge_pots": "100 %", "medium_bag": "no value"}
    assert board.status.value == ""
    move(board.toolbar, chosen=["medium_bag"])
    assert "nothing is weighed" in words(board.choice.weighed)


@pytest.mark.parametrize("crop", ["lettuce", "tomato"])
def test_choice_other_crops_are_advised_on(crop):
    board = open_board(view="choice")
    move(board.toolbar, crop=crop)
    assert "comes first" in words(board.choice.says)
    assert board.status.value == ""


def test_closer_look_finds_turns_worth_and_a_budget(board):
    closer = board.choice.closer
    closer.look(wait=True)
    said = words(closer.result)
    for part in ("What would change the choice of", "equal", "Worth the most to find out",
                 "One more trial", "Partial budget", "Each step up must bring 100 %"):  # fmt: skip
        assert part in said, part
    assert not closer.running
    assert not closer.start.disabled
    assert closer.stop.disabled
    assert closer.progress.layout.display == "none"


def test_closer_look_stopped_keeps_nothing(board, monkeypatch):
    closer = board.choice.closer
    seen = []

    def slow(_state, _scenarios, _comparison, told):
        for step in itertools.count():
            seen.append(step)
            time.sleep(0.005)
            told(step / 1e6)

    monkeypatch.setattr(board_closer, "look_closer", slow)
    monkeypatch.setattr(board_closer, "SHOWN_AFTER", 0.02)
    closer.look()
    assert closer.running
    assert closer.start.disabled
    closer.look()  # a second press while one is under way does nothing
    time.sleep(0.2)
    assert closer.progress.layout.display is None
    closer.stop.click()
    closer._worker.join(5)
    assert not closer.running
    assert "Stopped; nothing was kept" in closer.result.value
    assert len(seen) > 2


def test_closer_look_told_stop_raises_in_the_work():
    state = ChoiceState(BoardState())

    def told(_share):
        raise Stopped("stopped")

    with pytest.raises(Stopped):
        board_closer.look_closer(state, state.scenarios, state.board.compute(), told)


def test_closer_look_unexpected_fault_is_said_plainly_and_logged(board, monkeypatch, caplog):
    def broken(*_):
        raise RuntimeError("no such thing")

    monkeypatch.setattr(board_closer, "look_closer", broken)
    board.choice.closer.look(wait=True)
    assert "Something went wrong inside scenariokit" in board.choice.closer.result.value
    assert "no such thing" in caplog.text


def test_two_boards_choices_do_not_touch(board):
    other = open_board(view="choice")
    before = words(other.choice.says)
    move(board.choice.limits, ticked=["most_medium"])
    move(board.choice.weights, yield_per_area=10.0)
    assert words(other.choice.says) == before
    assert other.choice.state.limits == {}
    assert other.choice.state.weights["yield_per_area"] == 5


def test_choice_what_cannot_be_had_rules_methods_out(board):
    choice = board.choice
    offered = dict(next(f["options"] for f in choice.limits.fields if f["key"] == "lacking"))
    assert "medium:white_peat" in offered
    move(choice.limits, lacking=["no_medium"])
    assert choice.advice.chosen == "paper_wrap"
    assert "Without what must hold, Sub-irrigated medium bag would come first" in words(choice.says)
    move(choice.limits, lacking=["medium:white_peat"])
    said = words(choice.says)
    assert "Ruled out: Sub-irrigated medium bag: it needs" in said
    assert not choice.advice.standing("wedge_pots").lacks
    move(choice.limits, lacking=[])
    assert "Ruled out" not in words(choice.says)


def test_choice_a_cautious_leaning_is_said_and_goes_by_the_worst_draws(board):
    choice = board.choice
    move(choice.picks, leaning="cautious")
    assert "The order goes by the best mean over the worst tenth" in words(choice.says)
    left = [one for one in choice.advice.standings if one.left]
    best = max(left, key=lambda one: one.worst.magnitude)
    assert choice.advice.chosen == best.method
