"""Limits and lacks: what rules a method out, by how much, and in how many draws."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.decide import LACKS, LIMITS, beside_limits, breaches, lacks
from scenariokit.decide.lacks import read_lacks
from scenariokit.decide.limits import read_limits
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.scenario import OUTCOMES, evaluate, scenario_for, with_values

BAG, PAPER, SOIL, POT = (
    evaluate(scenario_for(name))
    for name in ("medium_bag", "paper_wrap", "field_soil", "suspended_pot")
)
LITRE = evaluate(scenario_for("deep_litre", "lettuce"))


def only(evaluation, name, allowed, **more):
    """Return the one limit called `name` beside what a method has."""
    (found,) = beside_limits(evaluation, {name: allowed}, **more)
    return found


# -- what a limit bounds -------------------------------------------------------------------------


def test_limits_are_described_once():
    for name, kind in LIMITS.items():
        assert kind.id == name
        assert kind.outcome in OUTCOMES
        assert kind.question.endswith("?")
        low, high, step = kind.parameter.slider
        assert low <= kind.parameter.default <= high
        assert step > 0
        assert "engineer" in LIMITS["most_load"].parameter.help


def test_limit_on_a_square_metre_by_hand():
    """A bag of 2.4 L for each of 18 plants on a square metre: 43.2 L."""
    found = only(BAG, "most_medium", "40 L/m^2")
    assert found.value.to("L/m^2").m == pytest.approx(43.2)
    assert found.broken
    assert found.excess.to("L/m^2").m == pytest.approx(3.2)
    assert not only(BAG, "most_medium", "43.2 L/m^2").broken


def test_limit_on_the_whole_tank_by_hand():
    """18 plants of 0.04 hours on 4 m²: 2.88 hours; over 130 days 0.155 hours a week."""
    assert only(BAG, "most_labour", "2 hour").value.to("hour").m == pytest.approx(2.88)
    week = only(BAG, "most_labour_per_week", "10 minute")
    assert week.value.to("hour").m == pytest.approx(2.88 / (130 / 7))
    assert not week.broken
    assert only(BAG, "most_labour_per_week", "9 minute").broken


def test_limit_for_each_square_metre_and_for_the_tank_agree():
    each = only(BAG, "most_investment_per_area", "1 money/m^2").value.m
    whole = only(BAG, "most_investment", "1 money").value.m
    assert whole == pytest.approx(4 * each)


def test_limit_on_load_may_be_a_pressure():
    """2 kPa is the weight of 2000 / 9.80665 = 203.94 kg/m²."""
    assert read_limits({"most_load": "2 kPa"})["most_load"] == pytest.approx(203.943, abs=1e-3)
    assert read_limits({"most_load": "10 lb/ft^2"})["most_load"] == pytest.approx(48.824, abs=1e-3)
    found = only(POT, "most_load", "1 kPa")
    assert found.broken  # 14 cm of water
    assert found.value.m == pytest.approx(140, rel=0.01)


def test_limit_on_days_unattended_is_the_least():
    found = only(BAG, "least_days", "5 day")
    assert found.broken
    assert found.excess.m == pytest.approx(5 - BAG["autonomy"].m)
    assert not only(BAG, "least_days", "1 day").broken


def test_limit_on_a_number_that_a_method_does_not_have_is_left_out():
    assert beside_limits(SOIL, {"least_days": "5 day"}) == ()
    assert breaches(SOIL, {"least_days": "5 day", "least_fill_days": "9 day"}) == ()


def test_limit_on_days_between_fills_by_hand():
    """Paper is filled every 2 days; a held level never; a falling one a few times in a season."""
    assert only(PAPER, "least_fill_days", "3 day").value.m == 2
    assert only(PAPER, "least_fill_days", "3 day").broken
    assert beside_limits(BAG, {"least_fill_days": "3 day"}) == ()
    days = sum(getattr(LITRE.scenario.crop, f"days_{part}").m
               for part in ("initial", "development", "mid", "late"))  # fmt: skip
    expected = days / (LITRE["refills"].m + 1)
    assert only(LITRE, "least_fill_days", "3 day").value.m == pytest.approx(expected)


def test_limit_takes_other_units():
    metric, us = only(POT, "deepest_water", "10 cm"), only(POT, "deepest_water", "3.937008 inch")
    assert metric.excess.m == pytest.approx(us.excess.m, abs=1e-6)


def test_limit_of_several_values_is_judged_by_the_worst():
    several = evaluate(
        with_values(BAG.scenario, {"site.climate_factor": [0.8, 1.0, 1.4],
                                   "tank.area": quantity([1, 2, 3], "m^2")})
    )  # fmt: skip
    assert only(several, "least_days", "0 day").value.m == several["autonomy"].m.min()
    water = only(several, "most_water", "1 L")
    assert water.value.m == pytest.approx((several["season_water"].m * [1, 2, 3]).max())
    assert water.share == 1
    # Draws of another number than the values that stand: the largest tank counts.
    drawn = only(several, "most_water", "1 L", draws={"season_water": np.full(7, 100.0)},
                 tolerated=0.0)  # fmt: skip
    assert drawn.needed.m == pytest.approx(300)


def test_breaches_are_the_broken_ones():
    given = {"most_medium": "10 L/m^2", "deepest_water": "10 cm", "least_yield": "9 kg/m^2"}
    assert [one.limit.id for one in breaches(BAG, given)] == ["most_medium", "least_yield"]
    assert breaches(PAPER, {"most_medium": "0 L/m^2"}) == ()


@pytest.mark.parametrize(
    ("given", "error"),
    [
        ({"no_such": "1 cm"}, InfeasibleError),
        ({"deepest_water": 5}, UnitError),
        ({"deepest_water": "5 kg"}, UnitError),
        ({"deepest_water": "-1 cm"}, RangeError),
        ({"deepest_water": ["1 cm", "2 cm"]}, RangeError),
        ({"most_load": "heavy"}, UnitError),
        ({"most_load": "3 blob"}, UnitError),
        ({"most_load": None}, UnitError),
        ({"least_days": "1 cm", "most_medium": "-1 L/m^2"}, ArgumentError),
    ],
)
def test_breaches_refuse(given, error):
    with pytest.raises(error):
        breaches(BAG, given)


def test_breaches_say_all_bad_limits_at_once():
    with pytest.raises(ArgumentError) as caught:
        breaches(BAG, {"least_days": "1 cm", "most_medium": "-1 L/m^2"})
    assert len(caught.value.problems) == 2


# -- draws ---------------------------------------------------------------------------------------

DAYS = {"autonomy": np.array([1.0, 2.0, 3.0, 4.0])}
"""By hand: 3 days are broken by two of four draws, 2.5 days too, 2 days by one."""


def test_limit_in_draws_counts_its_share_and_is_judged_at_the_stated_value():
    found = only(BAG, "least_days", "2.5 day", draws=DAYS)
    assert (found.share, found.drawn) == (0.5, True)
    assert not found.broken  # the stated value is 2.9 days
    assert found.needed == found.value


@pytest.mark.parametrize(("tolerated", "broken", "needed"), [(0, True, 1), (0.25, True, 2),
                                                             (0.49, True, 2), (0.5, False, 3)])  # fmt: skip
def test_limit_in_draws_with_a_tolerated_share(tolerated, broken, needed):
    found = only(BAG, "least_days", "2.5 day", draws=DAYS, tolerated=tolerated)
    assert (found.broken, found.needed.m) == (broken, needed)
    assert found.excess.m == pytest.approx(2.5 - needed)


def test_limit_in_draws_on_the_most():
    draws = {"season_water": np.array([100.0, 200.0, 300.0, 400.0])}
    found = only(BAG, "most_water", "1000 L", draws=draws, tolerated=0.25)
    assert (found.share, found.broken) == (0.5, True)
    assert found.needed.to("L").m == pytest.approx(4 * 300)


def test_limit_in_draws_that_lack_the_number_breaks_nothing_there():
    draws = {"autonomy": np.array([np.nan, np.nan, 1.0, 9.0])}
    found = only(BAG, "least_days", "2 day", draws=draws, tolerated=0.0)
    assert (found.share, found.needed.m, found.broken) == (0.25, 1, True)


def test_limit_on_what_was_not_drawn_stands_at_the_stated_value():
    found = only(POT, "deepest_water", "10 cm", draws=DAYS, tolerated=0.05)
    assert (found.drawn, found.share, found.broken) == (False, 1, True)
    assert found.needed.m == pytest.approx(14)


@pytest.mark.parametrize("tolerated", [-0.1, 1, np.nan])
def test_limits_refuse_what_is_no_tolerated_share(tolerated):
    with pytest.raises(RangeError, match="tolerated"):
        breaches(BAG, {}, tolerated=tolerated)


@given(
    st.lists(st.integers(0, 9), min_size=1, max_size=12),
    st.integers(0, 9),
    st.floats(0, 0.999),
    st.sampled_from(["least_days", "most_water"]),
)
@settings(max_examples=100, deadline=None)
def test_limit_is_broken_just_where_more_is_needed_than_allowed(rows, allowed, tolerated, name):
    kind = LIMITS[name]
    draws = {kind.outcome: np.array(rows, dtype=float)}
    unit = kind.parameter.unit
    found = only(BAG, name, quantity(float(allowed), unit), draws=draws, tolerated=tolerated)
    assert found.broken == (found.excess.m > 1e-9)
    assert found.broken == (found.share > tolerated)
    kept = only(BAG, name, found.needed, draws=draws, tolerated=tolerated)
    assert not kept.broken


# -- lacks ---------------------------------------------------------------------------------------


def needs(evaluation, **given):
    return [(one.kind.id, one.needs) for one in lacks(evaluation.scenario, given)]


def test_lacks_are_described_once():
    assert all(kind.id == name and kind.question.endswith("?") for name, kind in LACKS.items())


def test_lacks_no_medium_leaves_methods_without_any():
    assert needs(PAPER, no_medium=True) == needs(SOIL, no_medium=True) == []
    assert needs(BAG, no_medium=True) == [("no_medium", (BAG.scenario.method.medium.label,))]
    assert needs(BAG, no_medium=False) == []


def test_lacks_components_of_a_mix():
    assert needs(BAG, missing_components=["coir_pith"]) == []
    both = needs(BAG, missing_components=["white_peat", "coarse_perlite"])
    assert both == [("missing_components", ("White peat", "Coarse perlite"))]
    assert needs(BAG, missing_components="white_peat")[0][1] == ("White peat",)
    assert needs(PAPER, missing_components=["white_peat"]) == []
    assert needs(BAG, missing_components=[]) == []


def test_lacks_a_medium_of_ones_own_is_known_by_the_method_that_holds_it():
    medium = dataclasses.replace(BAG.scenario.method.medium, components=(("my_bark", 1.0),))
    method = dataclasses.replace(BAG.scenario.method, medium=medium)
    mine = dataclasses.replace(BAG.scenario, method=method)
    (found,) = lacks(mine, {"missing_components": ["my_bark"]})
    assert found.needs == ("my_bark",)


def test_lacks_valves_hands_and_electricity():
    every = {"no_held_level": True, "no_filling_by_hand": True, "no_electricity": True}
    assert [name for name, _ in needs(BAG, **every)] == ["no_held_level"]
    assert [name for name, _ in needs(POT, **every)] == ["no_held_level"]
    assert [name for name, _ in needs(PAPER, **every)] == ["no_filling_by_hand"]
    assert needs(LITRE, **every) == needs(SOIL, **every) == []


@pytest.mark.parametrize(
    "given", [{"no_such": True}, {"no_medium": "yes"}, {"missing_components": ["peet"]},
              {"missing_components": [3]}]
)  # fmt: skip
def test_lacks_refuse(given):
    with pytest.raises(RangeError):
        lacks(BAG.scenario, given)
    with pytest.raises(RangeError):
        read_lacks(given)


def test_lacks_say_all_that_is_wrong_at_once():
    with pytest.raises(RangeError) as caught:
        read_lacks({"no_such": True, "no_medium": 1, "missing_components": ["peet"]})
    assert len(caught.value.problems) == 3


def test_read_lacks_keeps_what_is_lacking():
    given = {"no_medium": True, "no_electricity": False, "missing_components": ["sand"]}
    assert read_lacks(given) == {"no_medium": (), "missing_components": ("sand",)}
