"""Numbers of scenarios moved through a range, and where they fit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain

from scenariokit import quantity
from scenariokit.decide.over_range import (
    candidate_paths,
    ends_of,
    has,
    label_of,
    moved,
    outcome_named,
    outcome_over,
    parameter_at,
    path_column,
    reach,
    refuse_draws,
    shown_number,
    sign_of,
    stated,
    unit_suffix,
    why_undefined,
)
from scenariokit.errors import InfeasibleError, RangeError, UnitError
from scenariokit.glossary import parameter
from scenariokit.scenario import outcome_values, scenario_for, water_ec, with_draws, with_values


@pytest.fixture(scope="module")
def bag():
    return plain("medium_bag", medium=0.1)


def test_parameter_at_any_scenario_that_has_it(bag):
    paper = scenario_for("paper_wrap")
    path = "method.medium.volume_per_plant"
    assert not has(paper, path)
    assert has(bag, path)
    assert parameter_at([paper, bag], path).name == "volume_per_plant"
    assert stated(bag, path) == 2.0


def test_parameter_at_unknown_path_names_like_ones(bag):
    with pytest.raises(RangeError, match=r"is no number.*prices\.labour_price"):
        parameter_at([bag], "prices.labor_price")


def test_parameter_at_part_that_no_method_has_says_so():
    with pytest.raises(RangeError, match="a number that at least one has"):
        parameter_at([scenario_for("paper_wrap")], "method.medium.mixing_loss")


def test_parameter_at_months_is_refused(bag):
    with pytest.raises(RangeError, match="holds several values"):
        parameter_at([bag], "site.rain")


@pytest.mark.parametrize("path", ["", "method", "method.labour.total", "prices.unit_prices", "x.y"])
def test_has_no_number_at_other_things(bag, path):
    assert not has(bag, path)


def test_refuse_draws_names_the_arrays(bag):
    refuse_draws([bag])
    drawn = with_draws(bag, {"prices.labour_price": np.array([3.0, 4.0])})
    with pytest.raises(RangeError, match=r"prices\.labour_price = 2 values"):
        refuse_draws([bag, drawn])


def test_outcome_named_unknown_is_refused():
    assert outcome_named("cost_per_kilogram").better == "lower"
    with pytest.raises(RangeError, match="is no outcome"):
        outcome_named("profit")


def test_sign_of_turns_lower_is_better():
    assert (sign_of("cost_per_kilogram"), sign_of("margin_per_area")) == (-1.0, 1.0)
    assert sign_of("fullest_depth") == 1.0  # neither side is better


def test_label_of_tells_alike_parameters_apart():
    assert label_of("method.level.high", parameter("depth")) == "Depth of water (high)"
    assert label_of("crop.days_mid", parameter("duration")) == "Days (days mid)"
    assert label_of("tank.area", parameter("tank_area")) == "Tank area"


def test_candidate_paths_leave_out_months_and_ends_of_the_yield(bag):
    found = candidate_paths(bag)
    assert "harvest.typical" in found
    assert not {"harvest.low", "harvest.high", "site.rain"} & set(found)
    assert all(np.ndim(stated(bag, path)) == 0 for path in found)


def test_ends_of_slider_widened_by_what_stands():
    price = parameter("produce_price")
    assert ends_of(price, None, None) == price.slider[:2]
    assert ends_of(price, None, None, [price.slider[1] + 5]) == (0, price.slider[1] + 5)
    assert ends_of(price, "1 money/kg", None, [0.2]) == (1, price.slider[1])


def test_ends_of_units_are_read():
    low, high = ends_of(parameter("depth"), "1 inch", quantity(0.1, "m"))
    assert (low, high) == pytest.approx((2.54, 10.0))


def test_ends_of_all_bad_ends_in_one_message():
    with pytest.raises(UnitError, match="2 problems") as error:
        ends_of(parameter("depth"), "1 kg", 5)
    assert [one.field for one in error.value.problems] == ["low", "high"]


@pytest.mark.parametrize(
    ("low", "high", "reason"),
    [
        ("5 cm", "2 cm", "low below high"),
        ("-1 cm", "2 cm", "below the allowed range"),
        (quantity([1.0, 2.0], "cm"), "3 cm", "holds several values"),
        ("1 cm", quantity(float("nan"), "cm"), "NaN"),
    ],
)
def test_ends_of_impossible_range_is_refused(low, high, reason):
    with pytest.raises(RangeError, match=reason):
        ends_of(parameter("depth"), low, high)


def test_moved_yield_carries_its_range(bag):
    made = moved(bag, {"harvest.typical": 10.0})
    assert made.harvest.low.m == pytest.approx(8.0)  # 4 / 5 of the usual yield, as before
    assert made.harvest.high.m == pytest.approx(12.0)
    nothing = moved(plain(harvest=0.0), {"harvest.typical": 2.0})
    assert (nothing.harvest.low.m, nothing.harvest.high.m) == (2.0, 2.0)


def test_moved_misfit_is_refused(bag):
    with pytest.raises(InfeasibleError, match="do not fit their footprint"):
        moved(bag, {"method.plants_per_area": 60.0})


def test_outcome_over_agrees_with_scenarios_one_by_one(bag):
    litres = np.array([0.5, 1.0, 4.0])
    found = outcome_over(bag, {"method.medium.volume_per_plant": litres}, "cost_per_kilogram")
    # 0.1 money/L x V L x 10 plants / 5 kg
    assert found.tolist() == pytest.approx([0.1, 0.2, 0.8])


def test_outcome_over_path_that_it_lacks_stays(bag):
    paper = scenario_for("paper_wrap")
    found = outcome_over(paper, {"method.medium.mixing_loss": np.array([0.1, 0.2])}, "refills")
    assert found.tolist() == [outcome_values(paper, ["refills"])["refills"]] * 2


def test_outcome_over_where_nothing_fits_is_undefined(bag):
    # a pot of 15 cm by 15 cm: more than 1 / 0.0225 = 44.4 on a square metre do not fit
    plants = np.array([40.0, 44.0, 45.0, 50.0, 20.0])
    found = outcome_over(bag, {"method.plants_per_area": plants}, "labour_per_area")
    assert np.isnan(found).tolist() == [False, False, True, True, False]
    nowhere = outcome_over(bag, {"method.plants_per_area": plants[2:4]}, "labour_per_area")
    assert np.isnan(nowhere).all()


def test_reach_pots_on_a_square_metre(bag):
    found = reach([bag], "method.plants_per_area", 4.0, 60.0)
    assert (found.low, found.high) == pytest.approx((4.0, 1 / 0.0225), rel=1e-8)
    assert found.below == ""
    assert "footprint" in found.above


def test_reach_is_that_of_all_scenarios(bag):
    small = with_values(bag, {"method.container.length": "10 cm"})
    both = reach([small, bag], "method.plants_per_area", 4.0, 80.0)
    assert both == reach([bag, small], "method.plants_per_area", 4.0, 80.0)
    assert both.high == pytest.approx(1 / 0.0225, rel=1e-8)


@pytest.mark.parametrize(("low", "high"), [(50.0, 60.0), (44.0, 60.0), (20.0, 30.0)])
def test_reach_of_a_range_beside_what_stands(bag, low, high):
    found = reach([bag], "method.plants_per_area", low, high)
    assert (found.low < found.high) == (low < 44.4)
    assert bool(found.above) == (high > 44.4)


def test_reach_low_water_is_bounded_below(bag):
    # the valve cannot hold less than the least depth at which the wick still reaches water
    found = reach([bag], "method.level.high", 0.0, 12.0)
    assert found.low == pytest.approx(stated(bag, "method.level.low"), abs=1e-8)
    assert "level low lies above level high" in found.below
    under = reach([bag], "method.level.high", 0.0, 1.0)
    assert under.low > under.high


def test_reach_ec_begins_at_the_source_water(bag):
    found = reach([bag], "feed.ec", 0.0, 30.0)
    assert found.low == pytest.approx(float(water_ec(bag.feed).m), abs=1e-6)
    assert "above what the model of EC covers" in found.above
    free = reach([scenario_for("field_soil")], "feed.ec", 0.0, 30.0)
    assert (free.low, free.high) == (0.0, 30.0)


def test_why_undefined_says_why(bag):
    assert why_undefined(bag, {"harvest.typical": 5.0}, "cost_per_kilogram") == ""
    reason = why_undefined(bag, {"harvest.typical": 0.0}, "cost_per_kilogram")
    assert reason == "the yield is zero, so there is no cost per kilogram"
    assert "footprint" in why_undefined(bag, {"method.plants_per_area": 60.0}, "cost_per_kilogram")


def test_columns_carry_units():
    assert path_column("site.climate_factor", parameter("climate_factor"), "us") == (
        "site_climate_factor"
    )
    assert unit_suffix("percent/(dS/m)") == "_percent_per_dS_per_m"
    price = parameter("produce_price")
    assert shown_number(quantity("2 money/kg"), price, "metric", 1.5) == 3.0
    assert shown_number(quantity("2 cm"), parameter("depth"), "metric", 1.5) == 2.0


@given(
    path=st.sampled_from(
        ["method.plants_per_area", "method.level.high", "method.container.height", "feed.ec"]
    ),
    share=st.floats(0, 1),
)
@settings(max_examples=40, deadline=None)
def test_reach_values_within_it_fit_and_beyond_do_not(path, share):
    one = plain("medium_bag")
    described = parameter_at([one], path)
    low, high = ends_of(described, None, None)
    found = reach([one], path, low, high)
    within = found.low + share * (found.high - found.low)
    assert why_undefined(one, {path: within}, "season_water") == ""
    if found.above:
        beyond = found.high + (share + 1e-6) * (high - found.high)
        assert np.isnan(outcome_over(one, {path: np.array([beyond])}, "fertiliser_mass")).all()
