"""Rows of the charts hold the comparison's numbers, and axes end at round ones."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.charts import axis_top, cost_rows, fate_rows, resource_rows, tradeoff_rows
from scenariokit.charts.frames import SHARES, Showing
from scenariokit.scenario import COST_PARTS, OUTCOMES, compare, scenario_for, with_values
from scenariokit.units import quantity

METRIC = Showing("metric", "EUR", 1.0)
US = Showing("us", "USD", 1.08)
NUMBERS = st.floats(1e-9, 1e9)


@pytest.fixture(scope="module")
def every_method():
    return compare(
        [scenario_for(key) for key, row in catalog.methods().items() if "potato" in row["yields"]]
    )


# -- ends of axes --------------------------------------------------------------------------


@settings(max_examples=200)
@given(st.lists(NUMBERS, min_size=1, max_size=8))
def test_axis_top_lies_above_every_value_but_not_far(values):
    top = axis_top(values)
    assert max(values) < top <= 1.5 * max(values)


@settings(max_examples=200)
@given(NUMBERS)
def test_axis_top_has_two_digits_at_most(value):
    digits = f"{axis_top([value]):e}".split("e")[0].rstrip("0").replace(".", "")
    assert len(digits) <= 2


@settings(max_examples=200)
@given(NUMBERS, NUMBERS)
def test_axis_top_never_falls_as_values_rise(one, other):
    low, high = sorted([one, other])
    assert axis_top([low]) <= axis_top([high])


@given(st.floats(0.1, 100))
def test_axis_top_moves_in_few_steps(value):
    """Along a tenfold range a slider makes the axis jump eleven times, not at every step."""
    tops = {axis_top([value * 10 ** (step / 400)]) for step in range(401)}
    assert len(tops) <= 12


@given(NUMBERS)
def test_axis_top_covers_itself_with_the_next_step(value):
    """A value at the end of one axis asks for the next larger axis, which is stable then."""
    top = axis_top([value])
    assert axis_top([top * 0.98]) == top
    assert axis_top([top]) > top


@pytest.mark.parametrize("values", [[], [0.0], [None], [None, 0.0]])
def test_axis_top_without_a_value_is_one(values):
    assert axis_top(values) == 1.0


def test_axis_top_leaves_gaps_out():
    assert axis_top([None, 3.0, None]) == axis_top([3.0])


# -- how a person reads numbers ------------------------------------------------------------


def test_showing_metric_gives_the_outcome_itself(every_method):
    for found in every_method:
        for name, described in OUTCOMES.items():
            number = METRIC.number(found, name)
            if number is None:
                assert math.isnan(found[name].magnitude)
            else:
                assert number == pytest.approx(found[name].m_as(described.unit or ""))


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("yield_per_area", 0.2048161436),  # lb/ft² in a kg/m²: 0.3048² / 0.45359237
        ("fullest_depth", 1 / 2.54),
        ("cost_per_kilogram", 0.45359237 * 1.08),  # a kilogram's price is that of 2.2 lb
        ("cost_per_area", 0.3048**2 * 1.08),
        ("season_water", 0.3048**2 / 3.785411784),  # US gallon: 231 in³
    ],
)
def test_showing_us_converts_units_and_money(every_method, name, factor):
    for found in every_method:
        if METRIC.number(found, name) is not None:
            assert US.number(found, name) == pytest.approx(METRIC.number(found, name) * factor)


def test_showing_title_names_unit_and_currency():
    assert METRIC.title("cost_per_kilogram").endswith("(EUR/kg)")
    assert US.title("cost_per_kilogram").endswith("(USD/lb)")
    assert METRIC.title("refills") == OUTCOMES["refills"].label


# -- rows ----------------------------------------------------------------------------------


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_tradeoff_rows_lie_within_their_range(every_method, showing):
    rows = tradeoff_rows(every_method, showing)
    assert [row["method"] for row in rows] == [one.scenario.method.id for one in every_method]
    for row in rows:
        assert row["yield_low"] <= row["yield"] <= row["yield_high"]
        assert row["cost_low"] <= row["cost"] <= row["cost_high"]


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_cost_rows_add_up_to_the_total_said_once(every_method, showing):
    rows = cost_rows(every_method, showing)
    for found in every_method:
        mine = [row for row in rows if row["method"] == found.scenario.method.id]
        totals = [row["total"] for row in mine if row["total"] is not None]
        assert [row["order"] for row in mine] == list(range(len(COST_PARTS)))
        assert totals == [pytest.approx(sum(row["value"] for row in mine))]
        assert totals == [showing.number(found, "cost_per_kilogram")]


def test_cost_rows_zero_yield_have_no_number():
    none = with_values(
        scenario_for("wedge_pots"),
        {f"harvest.{end}": quantity(0, "kg/m^2") for end in ("low", "typical", "high")},
    )
    rows = cost_rows(compare([none]), METRIC)
    assert {row["value"] for row in rows} == {None}
    assert tradeoff_rows(compare([none]), METRIC)[0]["cost"] is None


def test_resource_rows_say_none_where_there_is_no_value(every_method):
    rows = {row["method"]: row for row in resource_rows(every_method, METRIC, "autonomy")}
    assert rows["field_soil"]["value"] is None
    assert rows["field_soil"]["text"] == "none"
    assert float(rows["medium_bag"]["text"]) == pytest.approx(rows["medium_bag"]["value"], abs=0.05)


def test_fate_rows_share_is_carried_off_of_fed(every_method):
    rows = fate_rows(every_method, METRIC)
    assert len(rows) == len(SHARES) * len(every_method)
    for row in rows:
        if row["share"] is not None:
            assert row["share"] == pytest.approx(100 * row["removed"] / row["supplied"])
        else:
            assert row["supplied"] == 0
