"""Swings of an outcome as one input alone moves, beside cases worked by hand."""

from __future__ import annotations

import importlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain
from scipy.special import ndtr, ndtri

from scenariokit.decide.swing import swing, swing_floats
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import scenario_for
from scenariokit.uncertainty import (
    Cause,
    Uncertain,
    Uncertainty,
    fixed,
    pert,
    uniform,
    usual_uncertainty,
)

COST = "cost_per_kilogram"
WAGE = Uncertain("prices.labour_price", uniform("2 money/hour", "6 money/hour"), label="Wage")
FACTOR = Uncertain("prices.medium_factor", uniform(0.5, 1.5), relative=True, label="Medium")


@pytest.fixture(scope="module")
def bag():
    """Cost of (2 f + 1 w) / 5 money/kg."""
    return plain("medium_bag", medium=0.1, litres=2.0, hours=0.1, harvest=5.0)


@pytest.fixture(scope="module")
def wedges():
    """Cost of 1.5 w / 4 money/kg."""
    return plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0)


def test_swing_of_one_method_by_hand(bag):
    found = swing([bag], Uncertainty((FACTOR, WAGE)), COST)
    # medians f 1 and w 4; 10 and 90 % quantiles 0.6 and 1.4, 2.4 and 5.6
    assert found.base.m_as("money/kg") == pytest.approx(1.2)
    wage, factor = found.rows  # the wider first
    assert (wage.label, factor.label) == ("Wage", "Medium")
    assert (wage.low.m, wage.high.m) == pytest.approx(((2 + 2.4) / 5, (2 + 5.6) / 5))
    assert (factor.low.m, factor.high.m) == pytest.approx(((1.2 + 4) / 5, (2.8 + 4) / 5))
    assert wage.width == pytest.approx(0.64)
    assert (wage.low_input.m, wage.middle_input.m, wage.high_input.m) == pytest.approx(
        (2.4, 4, 5.6)
    )
    assert wage.low_input.check("[currency]/[time]")
    assert found.methods == ("medium_bag",)
    assert "10%" in found.note
    assert "together" in found.note


def test_swing_of_a_difference_by_hand(bag, wedges):
    found = swing([bag, wedges], Uncertainty((FACTOR, WAGE)), COST)
    # (2 f + w) / 5 - 1.5 w / 4
    assert found.base.m == pytest.approx(1.2 - 1.5)
    rows = {row.label: row for row in found.rows}
    assert rows["Wage"].low.m == pytest.approx((2 + 2.4) / 5 - 0.375 * 2.4)
    assert rows["Wage"].high.m == pytest.approx((2 + 5.6) / 5 - 0.375 * 5.6)
    mirrored = swing([wedges, bag], Uncertainty((FACTOR, WAGE)), COST)
    assert mirrored.base.m == pytest.approx(-found.base.m)


def test_swing_relative_input_that_differs_has_no_common_value(bag, wedges):
    harvest = Uncertain("harvest.typical", uniform(0.8, 1.2), relative=True)
    both = swing([bag, wedges], Uncertainty((harvest,)), COST)
    assert both.rows[0].low_input is None
    assert both.rows[0].middle_input is None
    # quantiles 0.84 and 1.16 of 5 and of 4 kg/m²
    assert both.rows[0].low.m == pytest.approx(6 / 4.2 - 6 / 3.36)
    one = swing([bag], Uncertainty((harvest,)), COST)
    assert one.rows[0].high_input.m_as("kg/m^2") == pytest.approx(5.8)


def test_swing_base_is_at_medians_and_not_at_stated_values(bag):
    skew = Uncertain("prices.labour_price", pert("4 money/hour", "4 money/hour", "9 money/hour"))
    found = swing([bag], Uncertainty((skew,)), COST)
    median = float(skew.spread.quantile(0.5).m)
    assert median > 4.5
    assert found.base.m == pytest.approx((2 + median) / 5)


def test_swing_own_input_keeps_its_whole_spread_and_a_cause_moves_by_strength(bag):
    wage = Uncertain(WAGE.path, WAGE.spread, cause="market", strength=0.6, label="Wage")
    idle = Cause("season", "Season")
    told = Uncertainty((wage, FACTOR), (Cause("market", "Market"), idle))
    alone = swing([bag], told, COST)
    assert [row.label for row in alone.rows] == ["Wage", "Medium"]
    assert alone.rows[0].low.m == pytest.approx((2 + 2.4) / 5)
    found = swing([bag], told, COST, with_causes=True)
    rows = {row.label: row for row in found.rows}
    assert set(rows) == {"Wage", "Medium", "Market"}  # the season moves nothing here
    share = ndtr(0.6 * ndtri(0.1))
    assert rows["Market"].low.m == pytest.approx((2 + 2 + 4 * share) / 5)
    assert (rows["Market"].path, rows["Market"].low_input) == ("", None)


def test_swing_method_that_is_not_there_and_paths_it_lacks_are_left_out(bag):
    paper = scenario_for("paper_wrap")
    told = Uncertainty(
        (
            WAGE,
            Uncertain("method.medium.mixing_loss", uniform(0.0, 0.2)),
            Uncertain("harvest.typical", uniform("1 kg/m^2", "2 kg/m^2"), method="wedge_pots"),
        )
    )
    assert [row.path for row in swing([paper], told, COST).rows] == [WAGE.path]
    both = swing([paper, bag], told, COST)
    assert {row.path for row in both.rows} == {WAGE.path, "method.medium.mixing_loss"}


def test_swing_end_without_value_stands_last(bag):
    told = Uncertainty(
        (
            Uncertain("harvest.typical", uniform("0 kg/m^2", "9 kg/m^2"), method="medium_bag"),
            WAGE,
            Uncertain("method.labour.filling", fixed("0 hour/plant")),
        )
    )
    found = swing([bag], told, "return_to_labour")  # no hour is worked, so nothing is earned in one
    assert all(row.undefined for row in found.rows)
    assert [row.width for row in found.rows] == [0, 0, 0]
    cost = swing([bag], Uncertainty((WAGE, _mostly_nothing())), COST)
    assert [row.undefined for row in cost.rows] == [False, True]
    assert np.isnan(cost.frame()[f"low_{COST}_money_per_kg"].iloc[1])


def _mostly_nothing():
    spread = uniform("0 kg/m^2", "9 kg/m^2").within("0 kg/m^2", "9 kg/m^2")
    return Uncertain("harvest.typical", _Floor(spread.kind, spread.numbers, spread.unit))


class _Floor(type(uniform(0, 1))):
    """A spread of which the lower part is exactly nothing."""

    def standard_at(self, scores):
        return np.maximum(super().standard_at(scores) - 0.2, 0.0)


def test_swing_misfit_at_an_end_is_refused(bag):
    plants = Uncertain("method.plants_per_area", uniform("20 plant/m^2", "80 plant/m^2"))
    with pytest.raises(InfeasibleError, match="do not fit their footprint"):
        swing([bag], Uncertainty((plants,)), COST)


def test_swing_frame_carries_units(bag):
    found = swing([bag], Uncertainty((FACTOR, WAGE), ()), COST, with_causes=True)
    table = found.frame("us", rate=2.0)
    column = f"{COST}_money_per_lb"
    assert {f"low_{column}", f"base_{column}", f"high_{column}"} < set(table)
    assert table[f"base_{column}"].tolist() == pytest.approx([2 * 1.2 * 0.45359237] * 2)
    assert table["input_unit"].tolist() == ["money/h", ""]
    assert table["input_low"].tolist() == pytest.approx([2.4, 0.6])


def test_swing_frame_of_a_cause_has_no_input(bag):
    wage = Uncertain(WAGE.path, WAGE.spread, cause="market", strength=0.6)
    told = Uncertainty((wage,), (Cause("market", "Market"),))
    table = swing([bag], told, COST, with_causes=True).frame().set_index("label")
    assert np.isnan(table.loc["Market", "input_low"])
    assert table.loc["Market", "input_unit"] == ""


def test_swing_bad_arguments_in_one_message(bag, wedges):
    third = plain("sheet_wick_tray")
    with pytest.raises(RangeError, match="3 problems"):
        swing([bag, wedges, third], Uncertainty((WAGE,)), "profit", 0.9, 0.1)
    with pytest.raises(RangeError, match="is no number of a scenario"):
        swing([bag], Uncertainty((Uncertain("prices.labor", uniform(0, 1)),)), COST)
    with pytest.raises(InfeasibleError, match="stands twice"):
        swing([bag, bag], Uncertainty((WAGE,)), COST)


def test_swing_floats_product():
    base, low, high = swing_floats(lambda x: x.prod(axis=0), [1, 1], [2, 3], [4, 5])
    assert (base, low.tolist(), high.tolist()) == (6, [3, 2], [12, 10])


def test_swing_floats_lengths_must_agree():
    with pytest.raises(RangeError, match="do not hold one value an input"):
        swing_floats(np.sum, [1.0, 2.0], [1.0], [2.0])


def test_swing_works_each_method_out_once(bag, monkeypatch):
    module = importlib.import_module("scenariokit.decide.swing")
    widths, plainly = [], module.outcome_values

    def counted(scenario, wanted):
        widths.append(np.size(scenario.prices.labour_price.m))
        return plainly(scenario, wanted)

    monkeypatch.setattr(module, "outcome_values", counted)
    swing([bag], Uncertainty((FACTOR, WAGE)), COST)
    assert widths == [5]  # the base and two ends of two inputs


@given(low=st.floats(0.01, 0.45), high=st.floats(0.55, 0.99))
@settings(max_examples=15, deadline=None)
def test_swing_widens_with_its_quantiles_and_is_sorted(low, high):
    one = scenario_for("medium_bag")
    told = usual_uncertainty([one])
    found = swing([one], told, "margin_per_area", low, high)
    wider = {
        row.path: row.width
        for row in swing([one], told, "margin_per_area", low / 2, 0.5 + high / 2).rows
    }
    widths = [row.width for row in found.rows]
    assert widths == sorted(widths, reverse=True)
    assert all(row.width <= wider[row.path] + 1e-12 for row in found.rows)
