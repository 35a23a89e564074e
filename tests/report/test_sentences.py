"""What is said about a comparison is true of its numbers."""

from __future__ import annotations

import dataclasses
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.charts.frames import Showing
from scenariokit.report import sentences
from scenariokit.scenario import COST_PARTS, compare, part_label, scenario_for, with_values
from scenariokit.units import quantity

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
METHODS = ("medium_bag", "wedge_pots", "paper_wrap")


def with_yield(key, low, typical, high, **harvest):
    one = scenario_for(key)
    ends = {"low": low, "typical": typical, "high": high}
    one = with_values(one, {f"harvest.{end}": quantity(v, "kg/m^2") for end, v in ends.items()})
    return dataclasses.replace(one, harvest=dataclasses.replace(one.harvest, **harvest))


def said(scenarios, showing=METRIC):
    return sentences(compare(scenarios), showing)


def one_of(lines, start):
    (found,) = [line for line in lines if line.startswith(start)]
    return found


def cost(comparison, showing=METRIC):
    return {
        row.scenario.method.label: showing.number(row, "cost_per_kilogram") for row in comparison
    }


# -- cheapest ------------------------------------------------------------------------------


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
@settings(max_examples=20, deadline=None)
@given(typical=st.lists(st.floats(0.5, 12), min_size=3, max_size=3))
def test_sentences_cheapest_and_next_are_first_and_second(showing, typical):
    comparison = compare(
        [with_yield(key, y * 0.8, y, y * 1.2) for key, y in zip(METHODS, typical, strict=True)]
    )
    ranked = sorted(cost(comparison, showing).items(), key=lambda row: row[1])
    lines = sentences(comparison, showing)
    unit = f"{showing.currency}/{'lb' if showing.system == 'us' else 'kg'}"
    assert f"{ranked[0][0]}, {ranked[0][1]:.2f} {unit}" in one_of(lines, "Cheapest")
    second = one_of(lines, "Next")
    assert f"{ranked[1][0]}, {ranked[1][1]:.2f} {unit}" in second
    assert f"saves {100 * (1 - ranked[0][1] / ranked[1][1]):.0f} %" in second


def test_sentences_range_of_the_cheapest_is_its_cost_at_both_yields():
    comparison = compare([with_yield("wedge_pots", 4, 5, 8)])
    found = next(iter(comparison))
    area = found["cost_per_area"].m_as("money/m^2")
    assert f"({area / 8:.2f} to {area / 4:.2f} over the range" in one_of(
        sentences(comparison, METRIC), "Cheapest"
    )


def test_sentences_one_method_has_no_runner_up():
    lines = said([scenario_for("wedge_pots")])
    assert not [line for line in lines if line.startswith("Next")]
    assert one_of(lines, "Cheapest")


# -- overlap -------------------------------------------------------------------------------


def test_sentences_ranges_apart_are_told_apart():
    lines = said([with_yield("wedge_pots", 7.9, 8, 8.1), with_yield("paper_wrap", 0.49, 0.5, 0.51)])
    assert one_of(lines, "Next").endswith("overlaps with none of the others.")


@settings(max_examples=30, deadline=None)
@given(st.floats(1, 6), st.floats(1, 6), st.floats(1.01, 2), st.floats(1.01, 2))
def test_sentences_overlap_is_said_exactly_where_ranges_overlap(one, other, wide, wider):
    comparison = compare(
        [
            with_yield("wedge_pots", one / wide, one, one * wide),
            with_yield("perforated_tray", other / wider, other, other * wider),
        ]
    )
    first, second = (
        (
            METRIC.number(row, "cost_per_kilogram_low"),
            METRIC.number(row, "cost_per_kilogram_high"),
        )
        for row in comparison
    )
    overlap = first[0] <= second[1] and second[0] <= first[1]
    assert ("do not tell them apart" in one_of(sentences(comparison, METRIC), "Next")) == overlap


def test_sentences_overlap_names_only_those_that_overlap():
    lines = said(
        [
            with_yield("wedge_pots", 5, 6, 7),
            with_yield("perforated_tray", 4, 6, 9),
            with_yield("paper_wrap", 0.29, 0.3, 0.31),
        ]
    )
    tail = one_of(lines, "Next").split("overlaps with")[1]
    assert scenario_for("paper_wrap").method.label not in tail


def test_sentences_one_plot_has_no_range_to_tell_apart_by():
    one_plot = {"interval": False, "status": "trial", "basis": "1 plot weighed"}
    lines = said(
        [with_yield("wedge_pots", 9, 9, 9, **one_plot), with_yield("paper_wrap", 0.29, 0.3, 0.31)]
    )
    assert "rests on one plot: these numbers do not tell them apart" in one_of(lines, "Next")
    assert " to " not in one_of(lines, "Cheapest")
    assert scenario_for("wedge_pots").method.label in one_of(lines, "One plot each")


def test_sentences_others_of_one_plot_are_not_said_to_have_a_range():
    one_plot = {"interval": False, "status": "trial", "basis": "1 plot weighed"}
    lines = said(
        [
            with_yield("wedge_pots", 8.9, 9, 9.1),
            with_yield("paper_wrap", 0.3, 0.3, 0.3, **one_plot),
        ]
    )
    assert one_of(lines, "Next").endswith("some have no range.")


# -- zero yield ----------------------------------------------------------------------------


def test_sentences_zero_yield_has_no_cost_and_is_never_cheapest():
    lines = said([with_yield("wedge_pots", 0, 0, 0), with_yield("paper_wrap", 2, 3, 4)])
    label = scenario_for("wedge_pots").method.label
    assert f"{label}: the yield is zero, so there is no cost per kilogram." in lines
    assert label not in one_of(lines, "Cheapest")
    assert "nan" not in " ".join(lines).lower()


def test_sentences_all_yields_zero_say_no_cheapest():
    lines = said([with_yield("wedge_pots", 0, 0, 0), with_yield("paper_wrap", 0, 0, 0)])
    assert not [line for line in lines if line.startswith(("Cheapest", "Next", "Largest"))]


def test_sentences_low_yield_zero_leaves_the_range_open():
    lines = said([with_yield("wedge_pots", 0, 5, 6), with_yield("paper_wrap", 0.29, 0.3, 0.31)])
    assert "inf" not in " ".join(lines)
    assert "over the range" not in one_of(lines, "Cheapest")
    assert "do not tell them apart" in one_of(lines, "Next")


# -- yield, parts, nutrients, basis --------------------------------------------------------


@pytest.mark.parametrize(("showing", "field"), [(METRIC, "t/ha"), (US, "cwt/acre")])
def test_sentences_highest_yield_is_the_highest(showing, field):
    comparison = compare([with_yield("wedge_pots", 2, 3, 4), with_yield("paper_wrap", 6, 7, 8)])
    best = list(comparison)[1]
    line = one_of(sentences(comparison, showing), "Highest yield")
    assert best.scenario.method.label in line
    assert f"{showing.number(best, 'yield_per_area'):.2f}" in line
    assert f"{showing.number(best, 'field_equivalent'):.0f} {field}" in line


def test_sentences_largest_part_is_the_largest_of_each_method():
    comparison = compare([scenario_for(key) for key in METHODS])
    lines = sentences(comparison, METRIC)
    for row in comparison:
        largest = max(COST_PARTS, key=lambda part: METRIC.number(row, f"cost_{part}"))
        about = [line for line in lines if line.startswith("Largest cost")]
        (mine,) = [line for line in about if row.scenario.method.label in line or "every" in line]
        assert mine.endswith(f": {part_label(largest).lower()}.")


def test_sentences_nutrient_shortage_is_said_with_its_share():
    thin = with_values(with_yield("wedge_pots", 9, 10, 11), {"feed.ec": "0.3 dS/m"})
    comparison = compare([thin, scenario_for("paper_wrap")])
    line = one_of(sentences(comparison, METRIC), "The produce carries off more")
    found = next(iter(comparison))
    for key, word in (("n", "nitrogen"), ("p", "phosphorus"), ("k", "potassium")):
        share = found[f"{key}_share"].m_as("percent")
        assert (f"{word} under {thin.method.label} ({share:.0f} %)" in line) == (share > 100)
    assert "potassium under" in line
    assert scenario_for("paper_wrap").method.label not in line


def test_sentences_enough_nutrients_are_not_mentioned():
    rich = with_values(with_yield("wedge_pots", 0.9, 1, 1.1), {"feed.ec": "2 dS/m"})
    assert not [line for line in said([rich]) if "carries off" in line]


def test_sentences_invented_yields_are_said_to_be():
    assert "All yields are invented examples: load your own harvest weights." in said(
        [scenario_for(key) for key in METHODS]
    )


def test_sentences_yields_still_invented_are_named():
    weighed = with_yield("wedge_pots", 3, 4, 5, status="trial", basis="3 plots weighed")
    lines = said([weighed, scenario_for("paper_wrap")])
    line = one_of(lines, "Still with an invented yield")
    assert scenario_for("paper_wrap").method.label in line
    assert weighed.method.label not in line
    assert not [line for line in said([weighed]) if "invented" in line]


def test_sentences_money_is_at_the_rate_shown():
    for line in said([scenario_for(key) for key in METHODS], Showing("metric", "USD", 2.0)):
        assert "EUR" not in line
    double, single = (
        float(re.search(r", ([\d.]+) EUR/kg", said([scenario_for("wedge_pots")], shown)[0])[1])
        for shown in (Showing("metric", "EUR", 2.0), METRIC)
    )
    assert double == pytest.approx(2 * single, abs=0.015)
