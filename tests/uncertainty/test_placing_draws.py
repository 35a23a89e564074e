"""Draws put into scenarios: units, ranges, what is shared, what is refused."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, InfeasibleError
from scenariokit.scenario import scenario_for, with_values
from scenariokit.uncertainty import (
    Uncertain,
    Uncertainty,
    draw_scores,
    drawn_scenario,
    fixed,
    normal,
    pert,
    placed,
    uniform,
)
from scenariokit.uncertainty.placing import one_crop_and_currency

BAG, POTS = scenario_for("medium_bag"), scenario_for("wedge_pots")
SCORES = np.array([[-1.0, 0.0, 1.0]])
FACTOR = pert(0.8, 1, 1.3)


def one(path, spread=FACTOR, **more):
    return Uncertainty((Uncertain(path, spread, **more),))


def values(uncertainty, scenario=BAG, scores=SCORES):
    return placed([scenario], uncertainty)[0].values(scores)


def problems_of(uncertainty, scenarios=(BAG, POTS)):
    with pytest.raises(ArgumentError) as caught:
        placed(scenarios, uncertainty)
    return [str(problem) for problem in caught.value.problems]


def test_placed_converts_to_the_leafs_unit():
    spread = uniform("1000 money/kg", "3000 money/kg")
    kilograms = values(one("prices.produce_price", spread))["prices.produce_price"]
    tonnes = uniform("1e6 money/metric_ton", "3e6 money/metric_ton")
    other = values(one("prices.produce_price", tonnes))["prices.produce_price"]
    assert other == pytest.approx(kilograms)


def test_placed_relative_is_a_factor_on_each_scenarios_own_value():
    for scenario in (BAG, POTS):
        own = scenario.method.plants_per_area.magnitude
        found = values(one("method.plants_per_area", relative=True), scenario)
        assert found["method.plants_per_area"] == pytest.approx(own * FACTOR.at_scores(SCORES[0]))


def test_placed_relative_of_zero_stays_zero():
    none = with_values(BAG, {"prices.water_price": "0 money/m^3"})
    assert np.all(values(one("prices.water_price", relative=True), none)["prices.water_price"] == 0)


def test_placed_relative_of_a_negative_number_raises():
    below = with_values(BAG, {"site.latitude": "-30 deg"})
    assert "factor cannot" in problems_of(one("site.latitude", relative=True), [below])[0]


def test_placed_spread_beyond_the_range_is_cut_by_probability_and_said():
    wide = one("crop.marketable_share", normal(0.9, 0.2))
    (place,) = placed([BAG], wide)
    assert place.notes == ("Share that can be used or sold: draws outside 0 to 1 are left out",)
    scores = np.linspace(-6, 6, 2001)[np.newaxis]
    found = place.values(scores)["crop.marketable_share"]
    assert np.all((found >= 0) & (found <= 1))
    assert np.all(np.diff(found) > 0)  # nothing piles up at an end


def test_placed_inside_the_range_says_nothing():
    assert placed([BAG], one("crop.marketable_share", uniform(0.8, 0.9)))[0].notes == ()


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.5, 1.5), st.floats(0.1, 1), st.lists(st.floats(-6, 6), min_size=1, max_size=9))
def test_placed_draws_never_leave_the_leafs_range(mean, deviation, scores):
    found = values(one("crop.marketable_share", normal(mean, deviation)), BAG, np.array([scores]))
    assert np.all((found["crop.marketable_share"] >= 0) & (found["crop.marketable_share"] <= 1))


@pytest.mark.parametrize(
    ("uncertainty", "said"),
    [
        (one("crop.marketable_share", uniform(2, 3)), "0 to 1"),
        (one("prices.interest_rate", fixed(-0.1)), "0 to 1"),
        (one("prices.produce_price", uniform("1 kg", "2 kg")), "a unit like money/kg"),
        (one("prices.produce_price", uniform(1, 2)), "is in no unit"),
        (one("prices.produce_price", uniform("1 m", "2 m"), relative=True), "is a factor"),
        (one("prices.produce_prize"), "prices.produce_price"),
        (one("site.rain", relative=True), "site.rain_share"),
        (one("method.sheet.area_per_area"), "no scenario has this number"),
        (one("method.sheet.area_per_area", method="wedge_pots"), "of the method wedge_pots"),
    ],
)
def test_placed_what_does_not_fit_raises_and_names_it(uncertainty, said):
    (problem,) = problems_of(uncertainty)
    assert said in problem
    assert uncertainty.inputs[0].path in problem


def test_placed_lists_everything_wrong_once():
    both = Uncertainty(
        (
            Uncertain("prices.produce_prize", FACTOR),
            Uncertain("crop.marketable_share", uniform(2, 3)),
        )
    )
    assert len(problems_of(both)) == 2


def test_placed_scenario_that_is_an_ensemble_already_raises():
    many = with_values(BAG, {"prices.water_price": [f"{price} money/m^3" for price in (1, 2, 3)]})
    (problem,) = problems_of(one("prices.labour_price", relative=True), [many])
    assert "prices.water_price" in problem
    assert "several values" in problem


def test_placed_number_that_only_some_methods_have_is_drawn_for_these():
    sheet = scenario_for("sheet_wick_tray")
    found = placed([BAG, sheet], one("method.sheet.area_per_area", relative=True))
    assert [len(place.spreads) for place in found] == [0, 1]


def test_placed_number_of_one_method_leaves_others_alone():
    only = one("prices.labour_price", relative=True, method="wedge_pots")
    assert [len(place.spreads) for place in placed([BAG, POTS], only)] == [0, 1]
    assert placed([BAG], only)[0].spreads == ()  # its method is not compared


def test_values_share_the_costly_part_between_scenarios():
    seen = {}
    first, second = placed([BAG, POTS], one("prices.labour_price", relative=True))
    before = first.values(SCORES, seen)
    assert len(seen) == 1
    after = second.values(SCORES, seen)
    assert len(seen) == 1
    assert np.array_equal(before["prices.labour_price"], after["prices.labour_price"])


# -- drawn scenarios -----------------------------------------------------------------


def test_drawn_moves_the_range_of_the_yield_with_it():
    (place,) = placed([BAG], one("harvest.typical", relative=True))
    drawn, harvest = place.drawn(SCORES).harvest, BAG.harvest
    ratio = drawn.typical.magnitude / harvest.typical.magnitude
    assert drawn.low.magnitude == pytest.approx(ratio * harvest.low.magnitude)
    assert drawn.high.magnitude == pytest.approx(ratio * harvest.high.magnitude)


def test_drawn_without_a_usual_yield_has_no_range_about_a_drawn_one():
    names = ("low", "typical", "high")
    none = with_values(BAG, {f"harvest.{name}": "0 kg/m^2" for name in names})
    (place,) = placed([none], one("harvest.typical", uniform("1 kg/m^2", "2 kg/m^2")))
    drawn = place.drawn(SCORES).harvest
    assert np.array_equal(drawn.low.magnitude, drawn.typical.magnitude)


def test_drawn_end_of_the_yields_range_stays_as_drawn():
    both = Uncertainty(
        (
            Uncertain("harvest.typical", FACTOR, relative=True),
            Uncertain("harvest.low", uniform("1 kg/m^2", "2 kg/m^2")),
        )
    )
    drawn = placed([BAG], both)[0].drawn(np.zeros((2, 1))).harvest
    assert drawn.low.magnitude == pytest.approx(1.5)


def test_drawn_geometry_that_does_not_fit_raises_and_says_what_to_do():
    wide = one("method.medium.volume_per_plant", uniform("1 L/plant", "40 L/plant"))
    (place,) = placed([BAG], wide)
    with pytest.raises(InfeasibleError, match=r"Narrow the spread of method\.medium\.volume"):
        place.drawn(np.array([[-2.0, 2.0]]))
    assert place.drawn(np.array([[-9.0]])).method.medium.volume_per_plant.magnitude < 1.001


def test_drawn_scenario_takes_scores_of_the_drivers():
    both = Uncertainty(
        (
            Uncertain("prices.labour_price", FACTOR, relative=True),
            Uncertain("method.sheet.area_per_area", FACTOR, relative=True),
        )
    )
    drawn = drawn_scenario(BAG, both, draw_scores(both, 0, 16))
    assert drawn.prices.labour_price.magnitude.shape == (16,)
    assert np.ndim(BAG.prices.labour_price.magnitude) == 0  # the scenario itself stays


def test_one_crop_and_currency_refuses_what_cannot_stand_side_by_side():
    lettuce = scenario_for("deep_litre", "lettuce")
    dollars = scenario_for("wedge_pots", prices="dunmarrow")
    for scenarios, said in (
        ([], "no scenario"),
        ([BAG, BAG], "stands twice"),
        ([BAG, lettuce], "crops"),
        ([BAG, dollars], "currencies"),
    ):
        with pytest.raises(InfeasibleError, match=said):
            one_crop_and_currency(scenarios)
    one_crop_and_currency([BAG, dataclasses.replace(POTS)])
