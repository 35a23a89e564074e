"""Elements through a season: balances, seasons worked by hand, what holds a tank steady."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steady import USE, free_water, steady

from scenariokit import quantity
from scenariokit.errors import InfeasibleError
from scenariokit.nutrients.balance.leftover import CAUTION
from scenariokit.scenario import evaluate, scenario_for, tank_season, with_values
from scenariokit.scenario.feeding import feed_season
from scenariokit.scenario.holding import holding_strength
from scenariokit.scenario.strength import feed_strength, solution_content

ELEMENTS = ("N", "P", "K", "Ca", "Mg", "S")
MASSES = ("first_filling", "topped_up", "taken_up", "washed_out", "left")
POTATO = (
    "medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray", "paper_wrap",
    "suspended_pot",
)  # fmt: skip
WATER = {
    "N": 5.0, "N_nitrate": 5.0, "Ca": 60.0, "Mg": 8.0, "S": 20.0, "Na": 30.0, "Cl": 40.0,
    "HCO3": 170.0,
}  # fmt: skip
"""A hard water; invented."""


def scenario_of(method, site="tern_hollow"):
    return scenario_for(method, "potato" if method in POTATO else "lettuce", site)


def with_water(scenario, water=WATER):
    return dataclasses.replace(
        scenario, feed=dataclasses.replace(scenario.feed, water="hard", water_content=dict(water))
    )


def nitrate_part(scenario):
    """Return the share of nitrogen that is nitrate; a chelate brings the rest."""
    return scenario.feed.content["N_nitrate"] / scenario.feed.content["N"]


def grams(one, name):
    return getattr(one, name).m_as("g/m^2")


# -- balances ------------------------------------------------------------------------------


@pytest.mark.parametrize("site", ["tern_hollow", "dunmarrow"])
@pytest.mark.parametrize("method", [*POTATO, "deep_litre"])
def test_feed_season_every_element_closes(method, site):
    found = feed_season(scenario_of(method, site))
    assert list(found.elements) == list(ELEMENTS)
    assert max(found.closure().values()) < 1e-9
    assert max(found.season.totals.closure().values()) < 1e-9
    for one in found.elements.values():
        first, topped, taken, over, left = (grams(one, name) for name in MASSES)
        assert first + topped == pytest.approx(taken + over + left, rel=1e-9)
        parts = grams(one, "in_produce") + grams(one, "in_leaves_and_roots")
        assert parts == pytest.approx(taken, rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(
    method=st.sampled_from(POTATO),
    factor=st.floats(0.3, 2.5),
    share=st.floats(0, 1),
    strength=st.floats(0, 1.5),
    ec=st.floats(0.3, 3),
    harvest=st.floats(0.2, 20),
)
def test_feed_season_closes_and_is_never_negative_for_any_sliders(
    method, factor, share, strength, ec, harvest
):
    values = {
        "site.climate_factor": factor, "site.rain_share": share, "feed.ec": quantity(ec, "dS/m"),
        "feed.top_up_strength": strength, "harvest.typical": quantity(harvest, "kg/m^2"),
    }  # fmt: skip
    found = feed_season(with_values(scenario_of(method), values))
    assert max(found.closure().values()) < 1e-9
    for one in found.elements.values():
        assert min(grams(one, name) for name in MASSES) >= -1e-12
        assert grams(one, "taken_up") <= grams(one, "wanted") * (1 + 1e-9)


@pytest.mark.parametrize("strength", [0.5, 1.0])
@pytest.mark.parametrize("water", [{}, WATER])
def test_feed_season_gives_what_evaluate_counts_as_fed(strength, water):
    values = {
        "site.rain_share": 0, "feed.top_up_strength": strength, "harvest.typical": "2 kg/m^2",
    }  # fmt: skip
    one = with_values(with_water(scenario_of("medium_bag"), water), values)
    found, outcomes = feed_season(one), evaluate(one)
    for short in "npk":
        given_ = found.elements[short.upper()]
        fed = grams(given_, "first_filling") + grams(given_, "topped_up")
        assert fed == pytest.approx(outcomes[f"{short}_supplied"].m_as("g/m^2"), rel=1e-9)
        produce = outcomes[f"{short}_removed"].m_as("g/m^2")
        assert grams(given_, "in_produce") == pytest.approx(produce, rel=1e-9)


def test_feed_season_water_is_that_of_the_tank_season():
    one = scenario_of("medium_bag")
    fed, salted = feed_season(one).season, tank_season(one).season
    np.testing.assert_array_equal(fed.volume.magnitude, salted.volume.magnitude)
    np.testing.assert_array_equal(feed_season(one).day.m_as("day"), np.arange(131))


# -- by hand -------------------------------------------------------------------------------


def test_feed_season_constant_level_is_a_straight_line_worked_by_hand():
    """No rain, no open water: each day Cin - Cu times 5 L/m² is added to the free water."""
    one = steady(days=40, harvest__typical="3 kg/m^2", feed__ec="1 dS/m")
    found = feed_season(one)
    factor = evaluate(one)["salinity_factor"].m_as("")
    free, strength = free_water(one), feed_strength(one.feed)
    for name in ELEMENTS:
        inflow = one.feed.content[name] * strength
        uptake = 1000 * one.crop.uptake[name] * 3 * factor / (USE * 40)
        by_hand = inflow + (inflow - uptake) * USE * np.arange(41) / free
        by_hand = by_hand[: int(np.argmax(by_hand < 0)) or None]
        concentration = found.elements[name].concentration.m_as("mg/L")
        np.testing.assert_allclose(concentration[: len(by_hand)], by_hand, rtol=1e-9)
        assert found.elements[name].wanted.m_as("g/m^2") == pytest.approx(uptake * USE * 40 / 1000)


def test_feed_season_by_the_kilogram_and_by_the_litre():
    one = steady(days=40, harvest__typical="3 kg/m^2", feed__ec="1 dS/m")
    found = feed_season(one).elements["Ca"]
    given_ = grams(found, "first_filling") + grams(found, "topped_up")
    assert found.given_per_kilogram.m_as("g/kg") == pytest.approx(given_ / 3)
    litres = found.taken_up_per_litre.m_as("mg/L")
    assert litres == pytest.approx(1000 * one.crop.uptake["Ca"] * 3 / (USE * 40))
    assert found.supply_ratio.m_as("") == pytest.approx(given_ / (one.crop.uptake["Ca"] * 3))


def test_feed_season_falling_tank_runs_out_on_the_day_worked_by_hand():
    """Filled once: what is in it ÷ what is taken up each day."""
    one = steady("deep_litre", "lettuce", days=20, feed__ec="0.6 dS/m",
                 harvest__typical="12 kg/m^2")  # fmt: skip
    found = feed_season(one)
    first = {
        name: grams(here, "first_filling") / (grams(here, "wanted") / 20)
        for name, here in found.elements.items()
    }
    short = {name: days for name, days in first.items() if days < 20}
    assert found.runs_out
    assert short
    for name, here in found.elements.items():
        expected = int(short[name]) + 1 if name in short else None
        assert here.runs_out_on == expected
        assert (here.supply_ratio.m_as("") < 1) == (name in short)
    assert found.first_short == min(short, key=short.get)


def test_feed_season_what_lacks_is_shared_by_produce_and_leaves():
    one = steady("deep_litre", "lettuce", days=20, feed__ec="0.6 dS/m",
                 harvest__typical="12 kg/m^2")  # fmt: skip
    found = feed_season(one).elements["N"]
    assert grams(found, "taken_up") == pytest.approx(grams(found, "first_filling"))
    assert grams(found, "left") == pytest.approx(0, abs=1e-9)
    share = grams(found, "in_produce") / grams(found, "taken_up")
    assert share == pytest.approx(one.crop.removal["N"] / one.crop.uptake["N"])


def test_feed_season_potassium_of_half_strength_hoagland_is_scarcest_for_potato():
    """Tubers hold as much K as 40.9 L of half-strength solution for each kilogram, N 30.5 L."""
    found = feed_season(steady(feed__ec="1.14 dS/m"))
    assert found.first_short == "K"
    ratios = {name: one.supply_ratio.m_as("") for name, one in found.elements.items()}
    assert min(ratios, key=ratios.get) == "K"


def test_feed_season_rain_over_the_rim_takes_solution_along():
    rain = np.full(12, 600.0)
    one = steady(days=60, site__rain=quantity(rain, "mm"), site__rain_share=1.0)
    found = feed_season(one)
    assert all(grams(here, "washed_out") > 0 for here in found.elements.values())
    assert max(found.closure().values()) < 1e-9


def test_feed_season_without_a_yield_wants_nothing():
    found = feed_season(steady(days=40, harvest__typical="0 kg/m^2"))
    assert found.first_short is None
    assert not found.runs_out
    for one in found.elements.values():
        assert grams(one, "taken_up") == 0
        assert np.isinf(one.supply_ratio.m)
        assert np.isnan(one.given_per_kilogram.m)


# -- what is left --------------------------------------------------------------------------


def test_feed_season_leftover_is_the_solution_at_harvest():
    one = steady(days=40, tank__area="4 m^2", feed__ec="1 dS/m", harvest__typical="1 kg/m^2")
    found = feed_season(one)
    assert found.leftover_volume.m_as("L/m^2") == pytest.approx(free_water(one))
    assert found.litres_left.m_as("L") == pytest.approx(4 * free_water(one))
    left = grams(found.elements["N"], "left") * nitrate_part(one)
    assert found.nitrate.nitrogen.m_as("g/m^2") == pytest.approx(left)
    assert found.nitrate.nitrate.m_as("g/m^2") == pytest.approx(left * 4.42664, rel=1e-5)
    assert found.nitrate.soil_area.m_as("") == pytest.approx(left / 15)
    last = found.elements["N"].concentration[-1].m_as("mg/L") * nitrate_part(one)
    assert found.nitrate.dilution.m_as("") == pytest.approx(last / 11.295, rel=1e-3)
    assert found.nitrate.caution == CAUTION


def test_feed_season_leftover_nitrate_leaves_out_ammonium():
    one = steady(days=40)
    half = {**one.feed.content, "N_nitrate": 75.0, "N_ammonium": 25.0, "N": 100.0}
    mixed = dataclasses.replace(one, feed=dataclasses.replace(one.feed, content=half))
    found = feed_season(mixed)
    left = grams(found.elements["N"], "left")
    assert found.nitrate.nitrogen.m_as("g/m^2") == pytest.approx(0.75 * left)


def test_feed_season_tank_dry_at_harvest_keeps_its_salts():
    one = with_values(steady("deep_litre", "lettuce", days=60), {"feed.ec": "1.6 dS/m"})
    found = feed_season(one)
    assert found.leftover_volume.m_as("L/m^2") == pytest.approx(0, abs=1e-6)
    assert found.nitrate.nitrogen.m_as("g/m^2") > 0
    assert np.isnan(found.nitrate.dilution.m)
    assert np.isnan(found.ec.m[-1])


# -- EC ------------------------------------------------------------------------------------


@pytest.mark.parametrize("water", [{}, WATER])
@pytest.mark.parametrize("ec", [1.0, 1.6])
def test_feed_season_ec_begins_at_that_of_the_feed(water, ec):
    one = with_water(steady(feed__ec=quantity(ec, "dS/m")), water)
    found = feed_season(one)
    assert found.ec[0].m_as("dS/m") == pytest.approx(ec, rel=1e-6)
    assert found.alkalinity[0].m_as("mmol/L") == pytest.approx(0, abs=1e-12)


def test_feed_season_ec_without_uptake_or_loss_keeps_or_doubles():
    """A tank filled once whose water only evaporates: twice as strong at half the volume."""
    one = steady("deep_litre", "lettuce", days=20, harvest__typical="0 kg/m^2")
    found = feed_season(one)
    volume, nitrogen = found.season.volume, found.elements["N"].concentration
    product = (volume * nitrogen).m_as("mg/m^2")
    np.testing.assert_allclose(product, product[0], rtol=1e-12)
    np.testing.assert_allclose(found.alkalinity.m_as("mmol/L"), 0, atol=1e-9)
    ec = found.ec.m_as("dS/m")
    assert np.all(np.diff(ec[np.isfinite(ec)]) > 0)


def test_feed_season_ec_is_of_one_kind_with_its_parts():
    """A stronger top-up never leaves a weaker solution."""
    weak = feed_season(steady(feed__ec="0.8 dS/m", feed__top_up_strength=0.4))
    strong = feed_season(steady(feed__ec="0.8 dS/m", feed__top_up_strength=0.6))
    low, high = weak.ec.m_as("dS/m"), strong.ec.m_as("dS/m")
    both = np.isfinite(low) & np.isfinite(high)
    assert both[:20].all()
    assert np.all(low[both] <= high[both] + 1e-12)


def test_feed_season_alkalinity_is_anions_less_cations_taken_up():
    """Worked by hand from what was taken up: N as nitrate, P once, S twice charged."""
    one = steady(days=40, harvest__typical="3 kg/m^2", feed__ec="1 dS/m")
    found = feed_season(one)
    masses = {"N": 14.007, "P": 30.974, "K": 39.098, "Ca": 40.078, "Mg": 24.305, "S": 32.06}
    charges = {"N": 1, "P": 1, "K": -1, "Ca": -2, "Mg": -2, "S": 2}
    taken = sum(
        charges[name] * 1000 * grams(found.elements[name], "taken_up") / masses[name]
        * (nitrate_part(one) if name == "N" else 1.0)
        for name in ELEMENTS
    )  # fmt: skip
    expected = taken / free_water(one)
    assert found.alkalinity[-1].m_as("mmol/L") == pytest.approx(expected, rel=1e-9)


def test_feed_season_ec_too_strong_for_the_model_is_left_open():
    one = steady("deep_litre", "lettuce", days=36, harvest__typical="0.1 kg/m^2")
    found = feed_season(one)
    ec, volume = found.ec.m_as("dS/m"), found.season.volume.m_as("L/m^2")
    assert np.isfinite(ec[0])
    assert np.isnan(ec[(volume < 10) & (volume > 1e-6)]).all()


def test_feed_season_others_stay_and_grow_stronger():
    """Sodium by hand: every litre topped up leaves its sodium."""
    one = with_water(steady(days=40))
    found = feed_season(one)
    sodium = solution_content(one.feed)["Na"]
    by_hand = sodium * (1 + USE * np.arange(41) / free_water(one))
    np.testing.assert_allclose(found.others["Na"].m_as("mg/L"), by_hand, rtol=1e-9)
    assert set(found.others) == {"Na", "Cl", "HCO3"}


def test_feed_season_pure_water_brings_no_bicarbonate():
    assert "HCO3" not in feed_season(steady(days=20)).others


# -- what cannot be ------------------------------------------------------------------------


@pytest.mark.parametrize("function", [feed_season, holding_strength])
def test_feed_season_without_a_tank_says_so(function):
    with pytest.raises(InfeasibleError, match=r"Field soil .* has no tank"):
        function(scenario_for("field_soil"))


def test_feed_season_unknown_uptake_names_the_elements():
    one = steady()
    crop = dataclasses.replace(one.crop, uptake={"N": 4.6, "K": 7.2})
    with pytest.raises(InfeasibleError, match="what it takes up of P, Ca, Mg, S is not known"):
        feed_season(dataclasses.replace(one, crop=crop))


def test_feed_season_crop_that_transpires_nothing_says_so():
    values = {f"crop.kc_{stage}": 0.0 for stage in ("initial", "mid", "end")}
    with pytest.raises(InfeasibleError, match="transpires nothing"):
        feed_season(with_values(steady(), values))


def test_feed_season_crop_taking_up_less_than_its_produce_holds_is_refused():
    crop = steady().crop
    with pytest.raises(ValueError, match=r"uptake.K = 1 g/kg: is less than the produce holds"):
        dataclasses.replace(crop, uptake={**crop.uptake, "K": 1.0})


def test_feed_season_element_of_which_none_is_taken_up_stays():
    one = steady(days=20)
    crop = dataclasses.replace(
        one.crop, uptake={**one.crop.uptake, "S": 0.0}, removal={**one.crop.removal, "S": 0.0}
    )
    found = feed_season(dataclasses.replace(one, crop=crop)).elements["S"]
    assert grams(found, "taken_up") == 0
    assert grams(found, "left") == pytest.approx(
        grams(found, "first_filling") + grams(found, "topped_up")
    )


# -- ensembles -----------------------------------------------------------------------------

ENSEMBLE = {
    "site.climate_factor": np.array([0.7, 1.0, 1.8]),
    "harvest.typical": quantity(np.array([1.0, 5.0, 30.0]), "kg/m^2"),
    "method.level.displaced_fraction": np.array([0.1, 0.2, 0.3]),
    "site.rain_share": np.array([0.0, 0.5, 1.0]),
    "feed.ec": quantity(np.array([0.8, 1.2, 2.0]), "dS/m"),
    "feed.top_up_strength": np.array([0.2, 0.6, 1.0]),
}
SCALARS = (*MASSES, "wanted", "short_from", "supply_ratio", "given_per_kilogram",
           "taken_up_per_litre", "in_produce", "in_leaves_and_roots")  # fmt: skip


def assert_member(together, alone, index):
    for name, many in together.elements.items():
        few = alone.elements[name]
        for part in SCALARS:
            column = np.broadcast_to(getattr(many, part).magnitude, (3,))[index]
            assert column == pytest.approx(getattr(few, part).magnitude, rel=1e-12), (name, part)
        series = many.concentration.magnitude
        column = series if series.ndim == 1 else series[:, index]
        one = few.concentration.magnitude
        np.testing.assert_allclose(column[: len(one)], one, rtol=1e-12)
    for many, few in ((together.ec, alone.ec), (together.alkalinity, alone.alkalinity)):
        column = many.magnitude if many.magnitude.ndim == 1 else many.magnitude[:, index]
        # Python adds floats with a correction from 3.12 on, arrays never: zero is only nearly zero.
        np.testing.assert_allclose(
            column[: len(few.magnitude)], few.magnitude, rtol=1e-9, atol=1e-12
        )


@pytest.mark.parametrize("method", ["medium_bag", "suspended_pot", "paper_wrap"])
def test_feed_season_ensemble_is_its_members(method):
    one = scenario_of(method)
    together = feed_season(with_values(one, ENSEMBLE))
    for index in range(3):
        member = {path: values[index] for path, values in ENSEMBLE.items()}
        assert_member(together, feed_season(with_values(one, member)), index)


@pytest.mark.parametrize("path", ENSEMBLE)
def test_feed_season_any_single_leaf_may_be_an_array(path):
    one = scenario_of("medium_bag")
    together = feed_season(with_values(one, {path: ENSEMBLE[path]}))
    for index in range(3):
        alone = feed_season(with_values(one, {path: ENSEMBLE[path][index]}))
        assert_member(together, alone, index)


def test_feed_season_ensemble_runs_out_on_the_earliest_day():
    values = {"harvest.typical": quantity(np.array([3.0, 30.0, 40.0]), "kg/m^2")}
    found = feed_season(with_values(steady(feed__ec="0.6 dS/m"), values))
    assert found.elements["K"].runs_out_on == np.min(found.elements["K"].short_from.m_as("day"))
    assert found.runs_out
    assert found.first_short == "K"


def test_feed_season_is_a_record_that_cannot_be_changed():
    found = feed_season(steady(days=20))
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.ec = None


# -- holding_strength ----------------------------------------------------------------------


@pytest.mark.parametrize("water", [{}, WATER])
@pytest.mark.parametrize("method", ["medium_bag", "paper_wrap", "suspended_pot"])
def test_holding_strength_of_an_element_leaves_it_as_it_began(method, water):
    one = with_values(with_water(scenario_of(method), water), {"site.rain_share": 0})
    held = holding_strength(one).elements
    checked = 0
    for name in ELEMENTS:
        strength = float(held[name].m_as(""))
        if not 0 <= strength <= 5:
            continue
        found = feed_season(with_values(one, {"feed.top_up_strength": strength}))
        concentration = found.elements[name].concentration.m_as("mg/L")
        assert concentration[-1] == pytest.approx(concentration[0], rel=1e-9)
        checked += 1
    assert checked >= 3


def test_holding_strength_worked_by_hand():
    """Constant level, no rain, no open water: uptake concentration ÷ concentration filled in."""
    one = steady(days=40, harvest__typical="3 kg/m^2", feed__ec="1 dS/m")
    held = holding_strength(one)
    strength = feed_strength(one.feed)
    for name in ELEMENTS:
        uptake = 1000 * one.crop.uptake[name] * 3 / (USE * 40)
        by_hand = uptake / (one.feed.content[name] * strength)
        assert held.elements[name].m_as("") == pytest.approx(by_hand, rel=1e-9)


def test_holding_strength_open_water_asks_for_a_weaker_top_up():
    """E / (E + Ev): by hand 5 / 5.525 for a tenth of open water."""
    closed = holding_strength(steady(days=40))
    open_ = holding_strength(steady(days=40, method__level__open_fraction=0.1))
    ratio = open_.total.m_as("") / closed.total.m_as("")
    assert ratio == pytest.approx(5 / 5.525, rel=1e-9)


def test_holding_strength_total_holds_the_charges_together():
    one = steady(days=8, method__level__open_fraction=0.1, harvest__typical="0.6 kg/m^2")
    strength = float(holding_strength(one).total.m_as(""))
    found = feed_season(with_values(one, {"feed.top_up_strength": strength}))
    per_gram = {"N": 1 / 14.007, "P": 1 / 30.974, "K": 1 / 39.098, "Ca": 2 / 40.078,
                "Mg": 2 / 24.305, "S": 2 / 32.06}  # fmt: skip
    total = sum(
        per_gram[name] * here.concentration.m_as("mg/L") for name, here in found.elements.items()
    )
    assert not found.runs_out
    assert total[-1] == pytest.approx(total[0], rel=1e-9)
    ec = found.ec.m_as("dS/m")
    assert ec[-1] == pytest.approx(ec[0], rel=0.1)
    steeper = feed_season(with_values(one, {"feed.top_up_strength": strength + 0.5}))
    assert abs(ec[-1] - ec[0]) < abs(steeper.ec[-1].m_as("dS/m") - ec[0])


def test_holding_strength_total_lies_between_those_of_the_elements():
    found = holding_strength(scenario_of("medium_bag"))
    each = [value.m_as("") for value in found.elements.values()]
    assert min(each) < found.total.m_as("") < max(each)


def test_holding_strength_element_that_the_recipe_lacks_has_none():
    one = steady(days=40)
    content = {name: value for name, value in one.feed.content.items() if name != "Mg"}
    bare = dataclasses.replace(one, feed=dataclasses.replace(one.feed, content=content))
    found = holding_strength(bare)
    assert np.isnan(found.elements["Mg"].m)
    assert np.isfinite(found.total.m)


def test_holding_strength_ensemble_is_its_members():
    one = scenario_of("medium_bag")
    together = holding_strength(with_values(one, ENSEMBLE))
    for index in range(3):
        member = {path: values[index] for path, values in ENSEMBLE.items()}
        alone = holding_strength(with_values(one, member))
        assert together.total.m_as("")[index] == pytest.approx(alone.total.m_as(""), rel=1e-12)
        for name in ELEMENTS:
            both = together.elements[name].m_as("")[index], alone.elements[name].m_as("")
            assert both[0] == pytest.approx(both[1], rel=1e-12)


def test_holding_strength_tank_that_is_never_topped_up_says_so():
    with pytest.raises(InfeasibleError, match="is not topped up"):
        holding_strength(scenario_of("deep_litre"))
