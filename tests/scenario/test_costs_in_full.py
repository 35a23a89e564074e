"""Takings, labour, equipment and payback of a scenario, against what its leaves give by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, economics, quantity
from scenariokit.scenario import (
    COST_PARTS,
    compare,
    evaluate,
    outcome_values,
    scenario_for,
    with_values,
)
from scenariokit.scenario.build import labour_from

TASKS = ("filling", "planting", "tending", "lifting", "cleaning")


@pytest.fixture(scope="module")
def bag():
    """One method with round numbers in all that the checks by hand need."""
    changes = {
        "harvest.typical": "5 kg/m^2",
        "harvest.low": "4 kg/m^2",
        "harvest.high": "6 kg/m^2",
        "feed.ec": "1.5 dS/m",  # below the threshold of potato: nothing is lost by salt
        "method.plants_per_area": "16 plant/m^2",
        "crop.marketable_share": 0.9,
        "crop.loss_share": 0.1,
        "prices.produce_price": "8 money/kg",
        "prices.labour_price": "10 money/hour",
        "prices.interest_rate": 0.0,
        "prices.crops_per_year": "2 crop/year",
        **{f"method.labour.{task}": "0.01 hour/plant" for task in TASKS},
    }
    return with_values(scenario_for("medium_bag"), changes)


def without(scenario, **changes):
    """Return a scenario whose method lacks something."""
    return dataclasses.replace(scenario, method=dataclasses.replace(scenario.method, **changes))


def test_evaluate_takings_labour_and_return_worked_by_hand(bag):
    found = outcome_values(bag)
    # 5 x 0.9 x 0.9 = 4.05 kg sold at 8; 5 tasks x 0.01 h x 16 plants = 0.8 h at 10.
    assert found["takings_per_area"] == pytest.approx(32.4)
    assert found["labour_per_area"] == pytest.approx(0.8)
    assert found["labour_per_kilogram"] == pytest.approx(0.16)
    assert found["cost_per_area_labour"] == pytest.approx(8.0)
    cost = found["cost_per_area"]
    assert found["cost_per_usable_kilogram"] == pytest.approx(cost / 4.05)
    assert found["margin_per_area"] == pytest.approx(32.4 - cost)
    assert found["return_to_labour"] == pytest.approx((32.4 - cost + 8) / 0.8)


def test_evaluate_investment_and_payback_worked_from_the_price_list(bag):
    listed = catalog.price_list("tern_hollow")
    equipment = [one for one in bag.method.supplies if one.use == "equipment"]
    bought = sum(listed.unit_price(one.item) * one.quantity_per_area.m for one in equipment)
    found = outcome_values(bag)
    assert found["investment_per_area"] == pytest.approx(bought)
    # Without interest: bought / (2 crops x what is left of a crop before its share of equipment).
    kept = found["margin_per_area"] + found["cost_per_area_equipment"]
    assert found["payback"] == pytest.approx(bought / (2 * kept))
    dear = outcome_values(with_values(bag, {"prices.interest_rate": 0.1}))
    assert dear["payback"] == pytest.approx(
        -np.log(1 - bought * 0.1 / (2 * kept)) / np.log(1.1), rel=1e-9
    )


@pytest.mark.parametrize("method", ["medium_bag", "paper_wrap", "field_soil"])
def test_evaluate_parts_per_area_make_a_stack_of_the_same_sum(method):
    found = evaluate(scenario_for(method))
    stack = economics.cost_stack(**{part: found[f"cost_per_area_{part}"] for part in COST_PARTS})
    assert stack.total.m == pytest.approx(found["cost_per_area"].m)
    each = stack.parts_per_kilogram(found["yield_per_area"])
    for part in COST_PARTS:
        assert each[part].m == pytest.approx(found[f"cost_{part}"].m)


def test_evaluate_outcomes_are_those_of_the_functions_with_units(bag):
    found, crop, prices = evaluate(bag), bag.crop, bag.prices
    cost, harvest = found["cost_per_area"], found["yield_per_area"]
    shares = (crop.marketable_share, crop.loss_share)
    assert economics.margin(prices.produce_price, harvest, cost, *shares).m == pytest.approx(
        found["margin_per_area"].m
    )
    assert economics.cost_per_usable_kilogram(cost, harvest, *shares).m == pytest.approx(
        found["cost_per_usable_kilogram"].m
    )
    hours = found["labour_per_area"]
    assert economics.labour_per_kilogram(hours, harvest).m == pytest.approx(
        found["labour_per_kilogram"].m
    )
    earned = economics.return_to_labour(
        found["margin_per_area"], found["cost_per_area_labour"], hours
    )
    assert earned.m == pytest.approx(found["return_to_labour"].m)


def test_evaluate_without_yield_says_which_outcomes_there_are_not(bag):
    none = {f"harvest.{name}": "0 kg/m^2" for name in ("low", "typical", "high")}
    found = evaluate(with_values(bag, none))
    assert found["takings_per_area"].m == 0
    assert found["cost_per_area_labour"].m == pytest.approx(8)
    for name, words in [
        ("cost_per_usable_kilogram", "nothing can be used or sold"),
        ("labour_per_kilogram", "the yield is zero"),
        ("payback", "never repays the equipment"),
    ]:
        assert np.isnan(found[name].m)
        assert words in found.undefined[name]
    assert found["return_to_labour"].m < 0


def test_evaluate_harvest_that_cannot_be_used_has_a_cost_per_kilogram_all_the_same(bag):
    found = evaluate(with_values(bag, {"crop.marketable_share": 0.0}))
    assert "cost_per_usable_kilogram" in found.undefined
    assert "cost_per_kilogram" not in found.undefined


def test_evaluate_without_equipment_or_labour_says_so(bag):
    bare = without(
        bag, supplies=(), labour=labour_from(0.0, catalog.labour_shares()[catalog.ANY_METHOD])
    )
    found = evaluate(bare)
    assert found.undefined["payback"] == "no equipment is bought"
    assert found.undefined["return_to_labour"] == "no hour is worked"
    assert found["investment_per_area"].m == 0


def test_evaluate_arrays_mix_paid_back_and_never(bag):
    prices = np.array([0.0, 8.0, 12.0])
    several = with_values(bag, {"prices.produce_price": quantity(prices, "money/kg")})
    found = outcome_values(several)
    assert np.isnan(found["payback"]).tolist() == [True, False, False]
    assert found["payback"][1] > found["payback"][2] > 0
    for place, price in enumerate(prices):
        alone = outcome_values(
            with_values(bag, {"prices.produce_price": quantity(float(price), "money/kg")})
        )
        for name in ("takings_per_area", "return_to_labour", "payback"):
            each = np.broadcast_to(found[name], (3,))[place]
            assert each == pytest.approx(alone[name], nan_ok=True)
    assert "payback" in evaluate(several).undefined


@settings(max_examples=15, deadline=None)
@given(loss=st.floats(0, 0.95), task=st.sampled_from(TASKS), hours=st.floats(0, 0.2))
def test_evaluate_any_loss_and_any_task_move_what_they_should(bag, loss, task, hours):
    changes = {"crop.loss_share": loss, f"method.labour.{task}": quantity(hours, "hour/plant")}
    before, after = outcome_values(bag), outcome_values(with_values(bag, changes))
    assert after["takings_per_area"] == pytest.approx(36 * (1 - loss))  # 5 x 0.9 x 8
    assert after["labour_per_area"] - before["labour_per_area"] == pytest.approx(
        16 * (hours - 0.01), abs=1e-9
    )
    assert after["yield_per_area"] == before["yield_per_area"]
    earned = after["margin_per_area"] + after["cost_per_area_labour"]
    assert after["return_to_labour"] * after["labour_per_area"] == pytest.approx(earned, abs=1e-9)


def test_compare_frame_tells_the_parts_per_area_with_units(bag):
    frame = compare([bag]).frame("us")
    assert frame["cost_per_area_labour_money_per_ft2"][0] == pytest.approx(8 * 0.3048**2)
