"""Words of a choice: built from the numbers, never surer than they are."""

from __future__ import annotations

import dataclasses
import math

import pytest

from scenariokit import quantity
from scenariokit.charts.frames import Showing
from scenariokit.decide import (
    DriverShare,
    DriverValue,
    TrialValue,
    Turn,
    advise,
    break_even,
    usual_criteria,
    weigh,
)
from scenariokit.decide.partial_budgets import partial_budget_of
from scenariokit.economics import partial_budget
from scenariokit.glossary import parameter
from scenariokit.report.choice import (
    advice_sentences,
    basis_sentences,
    crossing_sentences,
    turn_sentences,
    weighing_sentences,
)
from scenariokit.report.choice_tables import assumption_table, budget_table, learning_sentences
from scenariokit.report.choice_words import in_hundred, said
from scenariokit.scenario import compare, scenario_for
from scenariokit.uncertainty import ensemble, usual_uncertainty

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 2.0)
IDS = ("medium_bag", "wedge_pots", "suspended_pot")
SCENARIOS = [scenario_for(one) for one in IDS]
LABELS = {one.method.id: one.method.label for one in SCENARIOS}
DRAWN = ensemble(SCENARIOS, usual_uncertainty(SCENARIOS), 512)
COMPARED = compare(SCENARIOS)


def advice(limits=None, **changes):
    return advise(DRAWN, tuple(COMPARED), limits, **changes)


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0, "none"), (1, "all"), (0.5, "50 of 100"), (0.996, "more than 99 of 100"),
        (0.004, "fewer than 1 of 100"), (0.01, "1 of 100"),
    ],
)  # fmt: skip
def test_in_hundred_never_claims_more_than_it_is(share, text):
    assert in_hundred(share) == text


@pytest.mark.parametrize(
    ("value", "showing", "text"),
    [
        ("1.5 money/m^2", METRIC, "1.50 EUR/m²"),
        ("-1.5 money/m^2", METRIC, "−1.50 EUR/m²"),
        ("10.7639104 money/m^2", US, "2.00 USD/ft²"),
        ("0.004 money/m^2", METRIC, "0.0040 EUR/m²"),
    ],
)
def test_said_is_in_the_readers_unit_and_currency(value, showing, text):
    assert said(quantity(value), "margin_per_area", showing) == text


def test_said_of_nothing_is_no_number():
    assert said(quantity(math.nan, "money/m^2"), "margin_per_area", METRIC) == "no value"


def test_advice_sentences_name_first_second_chance_and_price_of_not_knowing():
    found = advice()
    text = " ".join(advice_sentences(found, METRIC))
    first, second = (LABELS[key] for key in (found.chosen, found.runner_up))
    assert f"{first} comes first with" in text
    assert f"Next: {second}" in text
    assert f"the first is better in {in_hundred(found.beats)} draws" in text
    assert "512 draws" in text
    assert "the most that finding out could be worth" in text


def test_advice_sentences_close_call_is_called_open_and_clear_one_clear():
    assert "That is open" in " ".join(advice_sentences(advice(), METRIC))
    clear = advice({"most_medium": "20 L/m^2"})
    assert clear.grade == "clear"
    assert "That is clear" in " ".join(advice_sentences(clear, METRIC))


def test_advice_sentences_ruled_out_says_what_it_has_and_what_is_allowed():
    text = advice_sentences(advice({"most_medium": "20 L/m^2"}), METRIC)[0]
    assert text == (
        "Ruled out: Sub-irrigated medium bag: growing medium at most 20 L/m², and it has 43.2."
    )


def test_advice_sentences_nobody_left_says_so_and_recommends_none():
    lines = advice_sentences(advice({"least_yield": "20 kg/m^2"}), METRIC)
    assert lines[-1] == "No method is left: loosen a limit, or compare others."
    assert "comes first" not in " ".join(lines)


def test_advice_sentences_one_left_is_not_called_better():
    lines = advice_sentences(advice({"least_yield": "6 kg/m^2"}), METRIC)
    assert "It is the only one left, so nothing is said about which is better." in lines
    assert "is better in" not in " ".join(lines)


def turn(**changes):
    given = Turn("p", "Price of water", "money/m^3", 2.0, 3.0, "wedge_pots", "equal", 0.1)
    return dataclasses.replace(given, **changes)


def test_turn_sentences_say_how_near_and_what_changes_nothing():
    lines = turn_sentences(
        [turn(far=0.01), turn(kind="jump"), turn(at=None, label="Interest per year")],
        LABELS,
        METRIC,
    )
    assert lines[0].startswith("Close by: Price of water: it stands at 2 EUR/m³; at 3 EUR/m³")
    assert "are equal" in lines[0]
    assert "leap past each other" in lines[1]
    assert lines[2].endswith("change nothing: interest per year.")


def test_crossing_sentences_say_where_or_never():
    factor = parameter("price_factor")
    met = break_even(SCENARIOS[0], SCENARIOS[2], "prices.medium_factor", "margin_per_area")
    (line,) = crossing_sentences(met, factor, LABELS, METRIC)
    assert "are equal in left over per area" in line
    assert f"below it {LABELS['medium_bag']} is better" in line
    same = break_even(SCENARIOS[0], SCENARIOS[1], "prices.water_price", "margin_per_area")
    lines = crossing_sentences(same, parameter("water_price"), LABELS, METRIC)
    assert "never equal" in lines[0]
    assert f"{LABELS['medium_bag']} is better throughout" in lines[0]


def test_weighing_sentences_name_who_wins_for_no_weighting():
    criteria = usual_criteria()[:2]
    found = weigh([[3.0, 8.0], [2.0, 5.0], [1.0, 1.0]], criteria, [1, 3])
    lines = weighing_sentences(found, ["one", "two", "three"])
    assert "one comes first" in lines[0]
    assert "then two" in lines[0]
    assert lines[1] == "Of all possible weightings, one wins for all."
    assert lines[2] == "For no weighting at all: two and three."


def test_basis_sentences_say_what_is_invented_and_what_one_plot_leaves_open():
    lines = " ".join(basis_sentences(COMPARED, DRAWN))
    assert "All yields are invented examples" in lines
    single = dataclasses.replace(
        SCENARIOS[0],
        harvest=dataclasses.replace(SCENARIOS[0].harvest, interval=False, status="trial"),
    )
    mixed = compare([single, *SCENARIOS[1:]])
    lines = " ".join(basis_sentences(mixed, DRAWN))
    assert "2 of the yields are invented" in lines
    assert "One plot each, so how sure the yield is had to be assumed: Sub-irrigated" in lines


def test_assumption_table_holds_every_input_with_its_ground():
    table = assumption_table(DRAWN.uncertainty)
    for one in DRAWN.uncertainty.inputs:
        assert one.note in table
    assert "How good the season is (correlation 0.6)" in table
    assert "(correlation −0.5)" in table


def test_budget_table_marks_the_recommended_and_says_who_is_beaten():
    table = budget_table(partial_budget_of(COMPARED), LABELS, METRIC)
    assert table.count("←") == 1
    assert "beaten by" in table
    own = partial_budget(
        ["medium_bag", "wedge_pots"], ["5 kg/m^2", "6.2 kg/m^2"],
        ["3 money/m^2", "3.6 money/m^2"], "1.2 money/kg",
    )  # fmt: skip
    assert "116 % over Sub-irrigated medium bag" in budget_table(own, LABELS, METRIC)


def told_value(driver, value, low, error):
    """Return what a driver is worth, with what the draws leave open."""
    money = [quantity(number, "money/m^2") for number in (value, low, value, error)]
    return DriverValue(driver, money[0], money[1], money[2], money[3])


def trial(replicates, worth, cost):
    return TrialValue(replicates, 2 * replicates, quantity(1.0, "money/m^2"),
                      quantity(worth, "money"), quantity(cost, "money"))  # fmt: skip


def test_learning_sentences_say_whether_a_trial_pays():
    shares = [DriverShare("Season", 0.5, 0.6), DriverShare("Market", 0.1, 0.2)]
    values = [told_value("Season", 0.5, 0.4, 0.1), told_value("Market", 0.1, 0.05, 0.1)]
    lines = learning_sentences(
        shares, values, [trial(1, 50.0, 20.0), trial(2, 60.0, 40.0)], "margin_per_area", US
    )
    assert "season (60 %) and market (20 %)" in lines[0]
    assert "season (0.093 USD/ft²)" in lines[1]
    assert "market" not in lines[1]
    assert (
        lines[2]
        == "One more trial pays: with one plot of each method it is worth 100 USD and costs 40 USD."
    )
    (line,) = learning_sentences([], [], [trial(2, 10.0, 40.0)], "margin_per_area", METRIC)
    assert line.startswith("One more trial does not pay: even 2 plots of each method")
    assert learning_sentences([], [], [], "margin_per_area", METRIC) == []
