"""The tank through a season: balances, seasons worked by hand, mishaps, ensembles."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steady import USE, free_water, steady

from scenariokit import quantity
from scenariokit.errors import InfeasibleError
from scenariokit.scenario import (
    evaluate,
    feed_strength,
    scenario_for,
    tank_season,
    with_values,
)

HELD = ("medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray")
POTATO = (*HELD, "paper_wrap", "suspended_pot")
SITES = ("tern_hollow", "dunmarrow")


def depths(found):
    return found.season.depth.m_as("cm")


def strengths(found):
    return found.ec.m_as("dS/m")


def scenario_of(method, site="tern_hollow"):
    return scenario_for(method, "potato" if method in POTATO else "lettuce", site)


# -- balances ------------------------------------------------------------------------------


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("method", [*POTATO, "deep_litre"])
def test_tank_season_water_and_salt_close(method, site):
    closure = tank_season(scenario_of(method, site)).season.totals.closure()
    assert set(closure) == {"water", "salt"}
    assert max(closure.values()) < 1e-9


@settings(max_examples=25, deadline=None)
@given(
    method=st.sampled_from(POTATO),
    factor=st.floats(0.3, 2.5),
    share=st.floats(0, 1),
    uptake=st.floats(0, 2),
    strength=st.floats(0, 1.5),
)
def test_tank_season_closes_for_any_sliders(method, factor, share, uptake, strength):
    values = {
        "site.climate_factor": factor, "site.rain_share": share,
        "feed.uptake_factor": uptake, "feed.top_up_strength": strength,
    }  # fmt: skip
    found = tank_season(with_values(scenario_of(method), values))
    assert max(found.season.totals.closure().values()) < 1e-9


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("method", POTATO)
def test_tank_season_that_is_never_dry_uses_what_evaluate_says(method, site):
    one = scenario_of(method, site)
    found = tank_season(one)
    assert found.first_dry is None
    water = found.season.totals.water
    used = (water.transpiration + water.evaporation).m_as("L/m^2")
    assert used == pytest.approx(evaluate(one)["season_water"].m_as("L/m^2"), rel=1e-9)
    assert water.deficit.m == 0


@pytest.mark.parametrize("strength", [0.0, 0.5, 1.0, 1.4])
@pytest.mark.parametrize("method", [*HELD, "suspended_pot"])
def test_tank_season_takes_the_salt_that_evaluate_pays_for(method, strength):
    values = {"site.rain_share": 0, "feed.top_up_strength": strength}
    one = with_values(scenario_of(method), values)
    found, outcomes = tank_season(one).season.totals, evaluate(one)
    given_water = found.volume_at_planting + found.water.top_up
    assert given_water.m_as("L/m^2") == pytest.approx(
        outcomes["solution_made"].m_as("L/m^2"), rel=1e-9
    )
    salt = found.at_planting["salt"] + found.solutes["salt"].supplied
    strong = feed_strength(one.feed) / one.feed.ec.m_as("dS/m")
    grams = sum(one.feed.salts.values()) * strong
    wanted = outcomes["fertiliser_mass"].m_as("g/m^2") / grams
    assert salt.m_as("mg/m^2") / 1000 == pytest.approx(wanted, rel=1e-9)


# -- levels --------------------------------------------------------------------------------


@pytest.mark.parametrize("method", HELD)
def test_tank_season_constant_level_stays_where_the_valve_holds_it(method):
    one = with_values(scenario_of(method), {"site.rain_share": 0})
    np.testing.assert_allclose(depths(tank_season(one)), one.method.level.high.m_as("cm"))
    assert tank_season(one).calendar == ()


def test_tank_season_falling_then_held_begins_at_the_start_and_ends_held():
    one = with_values(scenario_of("suspended_pot"), {"site.rain_share": 0})
    level, depth = one.method.level, depths(tank_season(one))
    assert depth[0] == level.start.m_as("cm") == 14
    assert depth[-1] == pytest.approx(level.high.m_as("cm"), abs=1e-9)
    assert np.all(np.diff(depth) <= 1e-12)
    assert depth.min() == pytest.approx(level.high.m_as("cm"), abs=1e-9)


def test_tank_season_falling_level_falls_as_worked_by_hand():
    """5 L/m² a day from 18 cm, of which 1 % is displaced: 5 / 9.9 cm a day."""
    found = tank_season(steady("deep_litre", "lettuce", days=20))
    np.testing.assert_allclose(depths(found), 18 - np.arange(21) * 5 / 9.9, rtol=1e-12)


def test_tank_season_hand_filled_calendar_is_the_one_worked_by_hand():
    """5 L/m² a day on 4 m², every third day: fills of 60 L on days 4, 7, 10, ..."""
    one = steady("paper_wrap", days=40, method__level__fill_interval="3 day",
                 tank__area="4 m^2")  # fmt: skip
    found = tank_season(one)
    assert [fill.day for fill in found.calendar] == list(range(4, 41, 3))
    for fill in found.calendar:
        assert fill.litres.m_as("L") == pytest.approx(3 * USE * 4)
        assert fill.depth_after.m_as("cm") == pytest.approx(one.method.level.high.m_as("cm"))
    assert len(found.calendar) == evaluate(one)["refills"].magnitude


@pytest.mark.parametrize("interval", [1, 2, 2.6, 7])
def test_tank_season_fills_as_often_as_evaluate_says(interval):
    values = {"method.level.fill_interval": quantity(interval, "day"), "site.rain_share": 0}
    one = with_values(scenario_of("paper_wrap"), values)
    assert len(tank_season(one).calendar) == evaluate(one)["refills"].magnitude


def test_tank_season_members_filled_on_different_days_are_refused():
    one = steady("paper_wrap", method__level__fill_interval=quantity([2.0, 5.0], "day"))
    with pytest.raises(InfeasibleError, match=r"one interval .* at a time; given: 2, 5"):
        tank_season(one)


# -- mishaps -------------------------------------------------------------------------------


@pytest.mark.parametrize("method", HELD)
def test_tank_season_failed_valve_runs_dry_when_usable_water_is_used(method):
    """Closed form: water between the containers divided by 5 L/m² a day."""
    one, fails = steady(method), 30
    dry = tank_season(one, valve_fails_on=fails).first_dry
    assert dry is not None
    assert dry - (fails - 1) == pytest.approx(free_water(one) / USE, abs=1)


@settings(max_examples=25, deadline=None)
@given(factor=st.floats(0.2, 2.0), more=st.floats(1.0, 2.5), fails=st.integers(2, 60))
def test_tank_season_thirstier_weather_is_never_dry_later(factor, more, fails):
    one = steady()
    mild = tank_season(with_values(one, {"site.climate_factor": factor}), valve_fails_on=fails)
    hot = tank_season(
        with_values(one, {"site.climate_factor": factor * more}), valve_fails_on=fails
    )
    assert mild.first_dry is None or hot.first_dry is not None
    assert hot.first_dry is None or mild.first_dry is None or hot.first_dry <= mild.first_dry


def test_tank_season_thirstier_weather_is_dry_earlier():
    days = [
        tank_season(steady(site__climate_factor=factor), valve_fails_on=20).first_dry
        for factor in (0.5, 1.0, 2.0)
    ]
    assert days[0] > days[1] > days[2] > 20


def test_tank_season_valve_that_fails_after_the_season_changes_nothing():
    one = scenario_of("medium_bag")
    planned, late = tank_season(one), tank_season(one, valve_fails_on=500)
    np.testing.assert_array_equal(depths(planned), depths(late))


def test_tank_season_failed_valve_of_a_falling_level_spares_the_fall():
    """While the level falls by itself no valve is needed."""
    one = steady("suspended_pot", days=40)
    planned, broken = tank_season(one), tank_season(one, valve_fails_on=2)
    fallen = int((free_water(one, "start") - free_water(one)) / USE)
    np.testing.assert_allclose(depths(planned)[: fallen + 1], depths(broken)[: fallen + 1])
    assert broken.first_dry == pytest.approx(free_water(one, "start") / USE, abs=1)


@pytest.mark.parametrize(("missed", "forgotten"), [(20, 21), (21, 21), (0, 3), (1, 3)])
def test_tank_season_missed_fill_lowers_the_level_until_the_next(missed, forgotten):
    one = steady("paper_wrap", days=60)  # filled every second day: 3, 5, 7, ...
    planned, found = tank_season(one), tank_season(one, missed_fill=missed)
    days = {fill.day for fill in planned.calendar}
    assert {fill.day for fill in found.calendar} == days - {forgotten}
    lower = np.flatnonzero(depths(found) < depths(planned) - 1e-9)
    assert lower.tolist() == [forgotten, forgotten + 1]  # filled again in the next morning
    fall = (depths(planned) - depths(found))[forgotten]
    assert fall == pytest.approx(2 * USE / (10 * (1 - 0.12)))


def test_tank_season_missed_fill_when_none_is_due_any_more_changes_nothing():
    one = steady("paper_wrap", days=60)
    found = tank_season(one, missed_fill=60)
    np.testing.assert_array_equal(depths(found), depths(tank_season(one)))


@pytest.mark.parametrize(
    ("method", "mishap", "words"),
    [
        ("field_soil", {}, "Field soil .* has no tank"),
        ("paper_wrap", {"valve_fails_on": 3}, "no float valve that could fail"),
        ("deep_litre", {"valve_fails_on": 3}, "no float valve that could fail"),
        ("medium_bag", {"missed_fill": 3}, "is not filled by hand"),
        ("suspended_pot", {"missed_fill": 3}, "is not filled by hand"),
    ],
)
def test_tank_season_that_cannot_be_says_why(method, mishap, words):
    crop = "lettuce" if method == "deep_litre" else "potato"
    with pytest.raises(InfeasibleError, match=words):
        tank_season(scenario_for(method, crop), **mishap)


# -- EC ------------------------------------------------------------------------------------


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("method", [*POTATO, "deep_litre"])
def test_tank_season_plants_that_take_all_in_equal_measure_keep_the_ec(method, site):
    values = {
        "feed.uptake_factor": 1, "feed.top_up_strength": 1, "site.rain_share": 0,
        "method.level.open_fraction": 0,
    }  # fmt: skip
    one = with_values(scenario_of(method, site), values)
    ec = strengths(tank_season(one))
    wet = np.isfinite(ec)
    assert wet[: len(ec) // 2].all()
    np.testing.assert_allclose(ec[wet], one.feed.ec.m_as("dS/m"), rtol=1e-9)


def salty(**more):
    """One m² of water use 5 + 0.525 L a day; roots take in 0.8 of the strength around them."""
    given = {"method__level__open_fraction": 0.1, "feed__uptake_factor": 0.8, **more}
    return steady(days=400, feed__ec="1.6 dS/m", **given)


@pytest.mark.parametrize("strength", [0.5, 1.0])
def test_tank_season_ec_nears_the_level_at_which_salt_in_is_salt_out(strength):
    """Derived: at rest Cin (E + Ev) = p E C*, so C* = Cin (E + Ev) / (p E).

    By hand for full strength: 1.6 x 5.525 / (0.8 x 5) = 2.21 dS/m. The balance
    of salts in a closed loop is that of Carmassi et al. 2003, Acta
    Horticulturae 614:20.
    """
    ec = strengths(tank_season(salty(feed__top_up_strength=strength)))
    assert ec[-1] == pytest.approx(strength * 2.21, rel=1e-9)
    assert np.all(np.diff(ec) >= -1e-12) or np.all(np.diff(ec) <= 1e-12)


def test_tank_season_ec_nears_its_end_as_worked_by_hand():
    """In steps of a day: C - C* shrinks by 1 - p E / V each day."""
    one = salty()
    shrink = 1 - 0.8 * USE / free_water(one)
    days = np.arange(401)
    by_hand = 2.21 + (1.6 - 2.21) * shrink**days
    np.testing.assert_allclose(strengths(tank_season(one)), by_hand, rtol=1e-9)


def test_tank_season_ec_without_uptake_rises_in_a_straight_line():
    """Nothing leaves: after n days the salt of n (E + Ev) litres has been added."""
    one = salty(feed__uptake_factor=0.0)
    days = np.arange(401)
    by_hand = 1.6 * (1 + days * 5.525 / free_water(one))
    np.testing.assert_allclose(strengths(tank_season(one)), by_hand, rtol=1e-9)


@settings(max_examples=25, deadline=None)
@given(low=st.floats(0.1, 1.4), more=st.floats(0.05, 0.5))
def test_tank_season_weaker_uptake_never_leaves_a_weaker_solution(low, more):
    weak = strengths(tank_season(salty(feed__uptake_factor=low)))
    strong = strengths(tank_season(salty(feed__uptake_factor=low + more)))
    assert np.all(weak >= strong - 1e-12)


def test_tank_season_dry_tank_has_no_ec():
    found = tank_season(steady(), valve_fails_on=2)
    ec = strengths(found)
    assert np.isnan(ec[found.first_dry :]).all()
    assert np.isfinite(ec[: found.first_dry]).all()


# -- air roots -----------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["suspended_pot", "medium_bag"])
def test_tank_season_rain_over_a_fallen_level_drowns_only_hanging_roots(method):
    """Dry until the level has long fallen, then 600 mm in a month."""
    rain = np.zeros(12)
    rain[6] = 600.0
    one = steady(method, site__rain=quantity(rain, "mm"), site__rain_share=1.0)
    found = tank_season(one)
    assert depths(found).max() > one.method.level.high.m_as("cm") + 2
    assert bool(found.drowned) == (method == "suspended_pot")
    assert tank_season(steady(method)).drowned == []


# -- ensembles -----------------------------------------------------------------------------

ENSEMBLE = {
    "site.climate_factor": np.array([0.7, 1.0, 1.8]),
    "feed.uptake_factor": np.array([0.6, 0.85, 1.1]),
    "method.level.displaced_fraction": np.array([0.1, 0.2, 0.3]),
    "method.level.open_fraction": np.array([0.0, 0.1, 0.4]),
    "site.rain_share": np.array([0.0, 0.5, 1.0]),
    "feed.ec": quantity(np.array([1.2, 1.6, 2.0]), "dS/m"),
}


@pytest.mark.parametrize(
    ("method", "mishap"),
    [
        ("medium_bag", {}),
        ("medium_bag", {"valve_fails_on": 40}),
        ("suspended_pot", {}),
        ("paper_wrap", {"missed_fill": 30}),
        ("deep_litre", {}),
    ],
)
def test_tank_season_ensemble_equals_one_by_one(method, mishap):
    one = scenario_of(method)
    together = tank_season(with_values(one, ENSEMBLE), **mishap)
    assert depths(together).shape == strengths(together).shape
    assert depths(together).shape[1:] == (3,)
    assert together.calendar == ()
    for index in range(3):
        single = {path: values[index] for path, values in ENSEMBLE.items()}
        alone = tank_season(with_values(one, single), **mishap)
        np.testing.assert_allclose(depths(together)[:, index], depths(alone), rtol=1e-12)
        np.testing.assert_allclose(strengths(together)[:, index], strengths(alone), rtol=1e-12)
        assert together.season.totals.first_dry[index] == alone.season.totals.first_dry


@pytest.mark.parametrize("path", [*ENSEMBLE, "method.level.high", "crop.days_late"])
def test_tank_season_any_single_leaf_may_be_an_array(path):
    one = scenario_of("medium_bag")
    values = {
        "method.level.high": quantity(np.array([3.0, 4.0, 5.0]), "cm"),
        "crop.days_late": quantity(np.array([10.0, 20.0, 30.0]), "day"),
        **ENSEMBLE,
    }[path]
    together = tank_season(with_values(one, {path: values}))
    for index in range(3):
        alone = tank_season(with_values(one, {path: values[index]}))
        for many, few in (
            (depths(together), depths(alone)),
            (strengths(together), strengths(alone)),
        ):
            column = many if many.ndim == 1 else many[:, index]
            np.testing.assert_allclose(column[: len(few)], few, rtol=1e-12)


def test_tank_season_ensemble_first_dry_is_the_earliest():
    both = steady(site__climate_factor=np.array([0.5, 2.0]))
    days = [
        tank_season(steady(site__climate_factor=f), valve_fails_on=9).first_dry for f in (0.5, 2.0)
    ]
    assert tank_season(both, valve_fails_on=9).first_dry == min(days)


def test_tank_season_is_a_record_that_cannot_be_changed():
    found = tank_season(scenario_of("medium_bag"))
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.ec = None
