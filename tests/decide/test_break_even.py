"""Break-evens of two methods and against a target, beside algebra worked by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plain_methods import plain

from scenariokit import quantity
from scenariokit.decide.break_even import TARGET, break_even, break_even_to
from scenariokit.errors import InfeasibleError, RangeError, UnitError
from scenariokit.scenario import outcome_values, scenario_for, with_draws, with_values

COST = "cost_per_kilogram"
# medium_bag: 0.1 money/L x 2 L x 10 = 2 money/m² of medium, 0.1 h x 10 x 4 = 4 of labour, 5 kg/m²
BAG = {"medium": 0.1, "litres": 2.0, "hours": 0.1, "harvest": 5.0}
# wedge_pots: no money for medium, 0.15 h x 10 x 4 = 6 of labour, 4 kg/m²
WEDGES = {"litres": 1.0, "hours": 0.15, "harvest": 4.0}


@pytest.fixture(scope="module")
def bag():
    return plain("medium_bag", **BAG)


@pytest.fixture(scope="module")
def wedges():
    return plain("wedge_pots", **WEDGES)


def cost(scenario, path, value):
    return outcome_values(with_draws(scenario, {path: value}), [COST])[COST]


def test_break_even_medium_price_by_hand(bag, wedges):
    # (2 f + 4) / 5 = 6 / 4  ->  f = (1.5 x 5 - 4) / 2 = 1.75
    found = break_even(bag, wedges, "prices.medium_factor", COST)
    (crossing,) = found.crossings
    assert crossing.at.m == pytest.approx(1.75, abs=1e-12)
    assert (crossing.kind, crossing.below, crossing.above) == ("equal", "medium_bag", "wedge_pots")
    assert crossing.outcome.m_as("money/kg") == pytest.approx(1.5, abs=1e-12)
    assert found.always == ""
    assert not found.equal
    assert not found.undefined
    assert [(one.better, one.kind) for one in found.stretches] == [
        ("medium_bag", "better"), ("wedge_pots", "better"),
    ]  # fmt: skip
    assert [float(one.m) for one in found.stated] == [1.0, 1.0]
    assert found.label("wedge_pots") == wedges.method.label


def test_break_even_wage_by_hand(bag, wedges):
    # (2 + 1 w) / 5 = 1.5 w / 4  ->  w = 0.4 / (0.375 - 0.2) = 16 / 7
    found = break_even(bag, wedges, "prices.labour_price", COST)
    (crossing,) = found.crossings
    assert crossing.at.m_as("money/hour") == pytest.approx(16 / 7, abs=1e-12)
    assert (crossing.below, crossing.above) == ("wedge_pots", "medium_bag")


def test_break_even_yield_of_one_method_by_hand(bag, wedges):
    # 6 / Y = 6 / 4  ->  Y = 4, where the other stays at 6 money/m² and 4 kg/m²
    found = break_even(bag, wedges, "harvest.typical", COST, only="medium_bag")
    (crossing,) = found.crossings
    assert crossing.at.m_as("kg/m^2") == pytest.approx(4.0, abs=1e-12)
    both = break_even(bag, wedges, "harvest.typical", "cost_per_area")
    assert both.equal  # 6 money/m² of both, whatever the yield
    assert both.crossings == ()
    assert both.always == ""


@pytest.mark.parametrize("price", [0.05, 0.1, 0.2])
def test_break_even_price_of_medium_per_litre_by_hand(price, wedges):
    # c V p f / Y + h n w / Y with V 3 L, n 8, Y 6, h 0.05, w 4: (24 p f + 1.6) / 6 = 1.5
    bag = plain("medium_bag", medium=price, litres=3.0, plants=8.0, hours=0.05, harvest=6.0)
    found = break_even(bag, wedges, "prices.medium_factor", COST, "0", "10")
    assert found.crossings[0].at.m == pytest.approx((9 - 1.6) / (24 * price), abs=1e-9)


def test_break_even_us_units_give_the_same_place(bag, wedges):
    metric = break_even(bag, wedges, "harvest.typical", COST, "1 kg/m^2", "9 kg/m^2", "medium_bag")
    us = break_even(
        bag, wedges, "harvest.typical", COST, quantity("1 kg/m^2").to("lb/ft^2"),
        quantity("9 kg/m^2").to("lb/ft^2"), "medium_bag",
    )  # fmt: skip
    assert us.crossings[0].at.m == pytest.approx(metric.crossings[0].at.m, rel=1e-12)
    in_us = us.crossings[0].at.m_as("lb/ft^2")
    assert in_us == pytest.approx(4 / 4.8824276, rel=1e-7)  # 1 lb/ft² is 4.8824276 kg/m²


def test_break_even_never_in_range_names_the_better_and_the_nearest(bag, wedges):
    found = break_even(bag, wedges, "prices.medium_factor", COST, "0", "1.5")
    assert found.crossings == ()
    assert found.always == "medium_bag"
    assert found.nearest.at.m == pytest.approx(1.5)
    # (2 x 1.5 + 4) / 5 - 1.5 = -0.1
    assert found.nearest.gap.m_as("money/kg") == pytest.approx(-0.1)


def test_break_even_path_of_neither_is_refused(bag):
    paper = scenario_for("paper_wrap")
    with pytest.raises(RangeError, match="is no number of these scenarios"):
        break_even(bag, paper, "method.medium.mixing_loss", only="paper_wrap")
    found = break_even(bag, paper, "method.medium.mixing_loss", COST)
    assert found.stated[1] is None
    assert np.ptp(found.second.m) == 0


def test_break_even_outside_what_fits_says_why(bag, wedges):
    found = break_even(bag, wedges, "method.plants_per_area", COST, "5 plant/m^2", "60 plant/m^2")
    last = found.stretches[-1]
    assert found.undefined
    assert (last.kind, last.better) == ("undefined", "")
    assert last.low.m == pytest.approx(1 / 0.0225, rel=1e-8)  # pots of 15 cm by 15 cm
    assert last.high.m == 60
    assert "do not fit their footprint" in last.reason
    assert np.isnan(found.first.m[-1])
    assert not np.isnan(found.first.m[0])


def test_break_even_nothing_in_range_fits(bag, wedges):
    found = break_even(bag, wedges, "method.plants_per_area", COST, "50 plant/m^2", "60 plant/m^2")
    assert [one.kind for one in found.stretches] == ["undefined"]
    assert found.nearest is None
    assert (found.always, found.crossings, found.equal) == ("", (), False)
    assert np.isnan(found.first.m).all()


def test_break_even_low_end_that_does_not_fit_is_the_first_stretch(bag, wedges):
    found = break_even(bag, wedges, "method.level.high", "fullest_depth", "0 cm", "10 cm")
    assert found.stretches[0].kind == "undefined"
    assert "level low lies above level high" in found.stretches[0].reason
    assert [one.kind for one in found.stretches[1:]] == ["equal"]
    assert found.equal
    assert found.undefined


def test_break_even_zero_yield_is_a_place_without_value(bag, wedges):
    found = break_even(bag, wedges, "harvest.typical", COST, "0 kg/m^2", "9 kg/m^2", "medium_bag")
    first = found.stretches[0]
    assert (first.kind, first.low.m, first.high.m) == ("undefined", 0, 0)
    assert first.reason == "the yield is zero, so there is no cost per kilogram"
    assert len(found.crossings) == 1


def test_break_even_touch_changes_nothing(wedges):
    # equal where there is no wage at all, at the end of the range
    one, other = plain("medium_bag", hours=0.1), plain("wedge_pots", hours=0.2)
    found = break_even(one, other, "prices.labour_price", COST, "0 money/hour", "9 money/hour")
    assert found.crossings == ()
    assert found.always == "medium_bag"
    (touch,) = found.touches
    assert (touch.kind, touch.at.m, touch.below, touch.above) == ("touch", 0, "", "medium_bag")


def test_break_even_refills_jump_and_are_no_equality():
    # 130 days: floor(129 / d) fills, d the nearest whole number of days: 64 fills up to 2.5
    # days (2.5 is rounded to 2), 43 above; 50 fills are leapt over
    one = scenario_for("paper_wrap")
    assert outcome_values(one, ["refills"])["refills"] == 64
    found = break_even_to(one, "method.level.fill_interval", "refills", 50, "1 day", "7 day")
    (jump,) = found.crossings
    assert (jump.kind, jump.below, jump.above) == ("jump", TARGET, "paper_wrap")
    assert jump.at.m_as("day") == pytest.approx(2.5, abs=1e-12)
    assert jump.outcome.m == 64


def test_break_even_equal_stretch_between_two_methods():
    # fills of 43 on both sides of 43: equal from 2.5 to 3.5 days
    one = scenario_for("paper_wrap")
    found = break_even_to(one, "method.level.fill_interval", "refills", 43, "1 day", "7 day")
    assert [one.kind for one in found.stretches] == ["better", "equal", "better"]
    equal = found.stretches[1]
    assert (equal.low.m, equal.high.m) == pytest.approx((2.5, 3.5), abs=1e-12)
    assert [(one.below, one.above) for one in found.crossings] == [(TARGET, "paper_wrap")]


def test_break_even_to_price_that_pays_the_cost(bag):
    # Y s (1 - l) P = 6 with s 0.9 and l 0.05 -> P = 6 / (5 x 0.9 x 0.95)
    usable = 5 * float(bag.crop.marketable_share.m) * (1 - float(bag.crop.loss_share.m))
    found = break_even_to(bag, "prices.produce_price", "margin_per_area", "0 money/m^2")
    (crossing,) = found.crossings
    assert crossing.at.m_as("money/kg") == pytest.approx(6 / usable, abs=1e-12)
    assert (crossing.below, crossing.above) == (TARGET, "medium_bag")
    assert found.other == TARGET


def test_break_even_to_cost_in_us_units(bag):
    # 6 / Y = 1.5 money/kg = 1.5 x 0.45359237 money/lb
    target = f"{1.5 * 0.45359237!r} money/lb"
    found = break_even_to(bag, "harvest.typical", COST, target)
    assert found.crossings[0].at.m == pytest.approx(4.0, abs=1e-9)
    assert found.labels[1].startswith("1.5 ")


def test_break_even_to_outcome_without_better_side_names_the_higher(bag):
    found = break_even_to(bag, "method.level.high", "fullest_depth", "5 cm")
    (crossing,) = found.crossings
    assert crossing.at.m_as("cm") == pytest.approx(5.0, abs=1e-12)
    assert (crossing.below, crossing.above) == (TARGET, "medium_bag")


@pytest.mark.parametrize(
    ("target", "error", "reason"),
    [
        ("5 kg", UnitError, "is no cost of the produce"),
        ("cheap", UnitError, "is no cost of the produce"),
        (quantity(float("nan"), "money/kg"), RangeError, "no single finite number"),
        (quantity([1.0, 2.0], "money/kg"), RangeError, "no single finite number"),
    ],
)
def test_break_even_to_bad_target_is_refused(bag, target, error, reason):
    with pytest.raises(error, match=reason):
        break_even_to(bag, "prices.labour_price", COST, target)


def test_break_even_bad_arguments_are_refused(bag, wedges):
    with pytest.raises(RangeError, match="is no outcome"):
        break_even(bag, wedges, "prices.labour_price", "profit")
    with pytest.raises(InfeasibleError, match="neither of the two methods"):
        break_even(bag, wedges, "prices.labour_price", COST, only="paper_wrap")
    with pytest.raises(InfeasibleError, match="stands twice"):
        break_even(bag, bag, "prices.labour_price", COST)
    with pytest.raises(UnitError):
        break_even(bag, wedges, "prices.labour_price", COST, low="1 kg")
    drawn = with_draws(wedges, {"prices.water_price": np.array([1.0, 2.0])})
    with pytest.raises(RangeError, match="several values already"):
        break_even(bag, drawn, "prices.labour_price", COST)
    with pytest.raises(RangeError, match="several values already"):
        break_even_to(drawn, "prices.labour_price", COST, "1 money/kg")
    other = dataclasses.replace(wedges, prices=dataclasses.replace(wedges.prices, currency="XXX"))
    with pytest.raises(InfeasibleError, match="several currencies"):
        break_even(bag, other, "prices.labour_price", COST)


def test_break_even_range_takes_in_what_stands(bag, wedges):
    dear = with_values(bag, {"prices.labour_price": "90 money/hour"})
    found = break_even(dear, wedges, "prices.labour_price", COST)
    assert found.values.m[-1] == 90
    assert [one.m for one in found.stated] == [90, 4]


def test_break_even_frame_carries_units(bag, wedges):
    found = break_even(bag, wedges, "prices.labour_price", COST)
    table = found.frame("us", rate=2.0)
    assert list(table) == ["method", "prices_labour_price_money_per_hour", f"{COST}_money_per_lb"]
    assert len(table) == 2 * len(found.values)
    assert set(table["method"]) == {"medium_bag", "wedge_pots"}
    row = table[table["method"] == "wedge_pots"].iloc[-1]
    wage = found.values.m[-1]
    assert row.iloc[1] == pytest.approx(2 * wage)
    assert row.iloc[2] == pytest.approx(2 * 1.5 * wage / 4 * 0.45359237)


@given(
    medium=st.floats(0.02, 0.4),
    hours=st.floats(0.01, 0.2),
    harvest=st.floats(2, 9),
    path=st.sampled_from(["prices.medium_factor", "prices.labour_price", "harvest.typical"]),
)
@settings(max_examples=25, deadline=None)
def test_break_even_crossing_equalises_and_the_pair_mirrors(medium, hours, harvest, path):
    one = plain("medium_bag", medium=medium, hours=hours, harvest=harvest)
    other = plain("wedge_pots", **WEDGES)
    only = "medium_bag" if path.startswith("harvest") else ""
    found = break_even(one, other, path, COST, only=only)
    mirrored = break_even(other, one, path, COST, only=only)
    assert len(found.crossings) == len(mirrored.crossings)
    assert found.always == mirrored.always
    for crossing, back in zip(found.crossings, mirrored.crossings, strict=True):
        at = float(crossing.at.m)
        first = cost(one, path, at)
        second = outcome_values(other, [COST])[COST] if only else cost(other, path, at)
        assert first == pytest.approx(second, rel=1e-10)
        assert back.at.m == pytest.approx(at, rel=1e-12)
        assert (back.below, back.above) == (crossing.below, crossing.above)


@given(value=st.floats(0.2, 2.8), medium=st.floats(0.02, 0.4))
@settings(max_examples=20, deadline=None)
def test_break_even_stretch_names_the_better_of_the_pair(value, medium):
    one, other = plain("medium_bag", **{**BAG, "medium": medium}), plain("wedge_pots", **WEDGES)
    path = "prices.medium_factor"
    found = break_even(one, other, path, COST)
    gap = cost(one, path, value) - cost(other, path, value)
    assume(abs(gap) > 1e-9)
    (here,) = (part for part in found.stretches if part.low.m < value < part.high.m)
    assert here.better == ("medium_bag" if gap < 0 else "wedge_pots")
