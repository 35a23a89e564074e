"""Outcomes of whole scenarios, against cases worked by hand and limits that must hold."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, nutrients, quantity
from scenariokit.errors import InfeasibleError
from scenariokit.scenario import (
    COST_PARTS,
    OUTCOMES,
    compare,
    daily_water_use,
    evaluate,
    outcome_values,
    scenario_for,
    with_draws,
    with_values,
)
from scenariokit.scenario.build import labour_from

TANK_METHODS = (
    "medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray", "paper_wrap",
    "suspended_pot",
)  # fmt: skip


@pytest.fixture(scope="module")
def bag():
    return scenario_for("medium_bag")


def bare(scenario, **harvest):
    """Return a scenario in which nothing but the growing medium costs anything."""
    method = dataclasses.replace(
        scenario.method,
        supplies=(),
        sheet=None,
        labour=labour_from(0.0, catalog.labour_shares()["any"]),
    )
    prices = dataclasses.replace(
        scenario.prices, water_price="0 money/m^3",
        unit_prices={**scenario.prices.unit_prices, **dict.fromkeys(scenario.feed.salts, 0.0)},
    )  # fmt: skip
    crop = dataclasses.replace(scenario.crop, planting_per_plant=0)
    return dataclasses.replace(scenario, method=method, prices=prices, crop=crop)


@pytest.mark.parametrize(
    ("litres", "plants", "harvest", "cost"),
    [(0.25, 31, 3.4, 0.25), (0.5, 31, 5.0, 0.34), (2.5, 18.6, 6.9, 0.74)],
)
def test_evaluate_medium_alone_gives_cost_of_the_trade(litres, plants, harvest, cost):
    # common practice, no published source: one price of 0.11 per litre explains small trials
    one = bare(scenario_for("medium_bag"))
    medium = dataclasses.replace(
        one.method.medium, components=(("white_peat", 1.0),), mixing_loss=0.0,
        volume_per_plant=f"{litres} L/plant", crops_per_filling=1, top_up_fraction=0,
    )  # fmt: skip
    box = dataclasses.replace(one.method.container, length="15 cm", width="15 cm", plants=1)
    method = dataclasses.replace(
        one.method, medium=medium, container=box, plants_per_area=f"{plants} plant/m^2"
    )
    prices = dataclasses.replace(
        one.prices, unit_prices={**one.prices.unit_prices, "white_peat": 0.11}
    )
    one = dataclasses.replace(one, method=method, prices=prices)
    one = with_values(
        one, {f"harvest.{end}": f"{harvest} kg/m^2" for end in ("low", "typical", "high")}
    )
    found = evaluate(one)
    assert found["cost_per_kilogram"].m_as("money/kg") == pytest.approx(cost, abs=0.01)
    assert found["cost_medium"].m_as("money/kg") == pytest.approx(cost, abs=0.01)


@pytest.mark.parametrize("method", [*TANK_METHODS, "field_soil"])
def test_evaluate_every_outcome_is_described_and_costs_add_up(method):
    found = evaluate(scenario_for(method))
    assert set(found.outcomes) == set(OUTCOMES)
    for name, described in OUTCOMES.items():
        assert found[name].check(quantity(1, described.unit).dimensionality), name
    parts = sum(found[f"cost_{part}"].m_as("money/kg") for part in COST_PARTS)
    assert parts == pytest.approx(found["cost_per_kilogram"].m_as("money/kg"), rel=1e-12)
    area = found["cost_per_area"].m_as("money/m^2")
    harvest = found["yield_per_area"].m_as("kg/m^2")
    assert area / harvest == pytest.approx(found["cost_per_kilogram"].m_as("money/kg"), rel=1e-12)
    for name in OUTCOMES:
        missing = bool(np.isnan(found[name].magnitude))
        assert missing == (name in found.undefined), name


def test_evaluate_nutrients_balance_to_rounding(bag):
    found = evaluate(bag)
    for short in ("n", "p", "k"):
        supplied, removed, left = (
            found[f"{short}_{what}"].m_as("g/m^2") for what in ("supplied", "removed", "left")
        )
        assert supplied == pytest.approx(removed + left, rel=1e-12)
        assert found[f"{short}_share"].m_as("percent") == pytest.approx(100 * removed / supplied)


def test_evaluate_constant_weather_gives_hand_worked_season(bag):
    """Kc sum of potato 25/30/45/30 days at 0.5/1.15/0.75 is 117.625 (computed by hand)."""
    crop = dataclasses.replace(
        bag.crop, days_initial="25 day", days_development="30 day", days_mid="45 day",
        days_late="30 day", kc_initial=0.5, kc_mid=1.15, kc_end=0.75,
    )  # fmt: skip
    site = dataclasses.replace(
        bag.site, reference_evapotranspiration=quantity(np.full(12, 5.0), "mm/day"),
        rain=quantity(np.zeros(12), "mm"), climate_factor=1.0,
    )  # fmt: skip
    level = dataclasses.replace(bag.method.level, open_fraction=0.0)
    method = dataclasses.replace(bag.method, level=level)
    found = evaluate(dataclasses.replace(bag, crop=crop, site=site, method=method))
    assert found["season_water"].m_as("L/m^2") == pytest.approx(5 * 117.625, abs=1e-6)
    assert found["peak_water_use"].m_as("mm/day") == pytest.approx(5.75, abs=1e-9)
    # one square metre, 7 days: reserve = 5.75 x area x days
    area, days = bag.tank.area.m_as("m^2"), bag.tank.reserve_days.m_as("day")
    assert found["reserve_volume"].m_as("L") == pytest.approx(5.75 * area * days)


def test_daily_water_use_sums_to_the_season(bag):
    use, rain = daily_water_use(bag)
    total = sum(
        getattr(bag.crop, f"days_{stage}").m_as("day")
        for stage in ("initial", "development", "mid", "late")
    )
    assert use.shape == rain.shape == (total,)
    assert np.all(use >= 0)
    assert np.all(rain >= 0)
    assert use.sum() == pytest.approx(evaluate(bag)["season_water"].m_as("L/m^2"))


def test_evaluate_zero_yield_says_why_and_is_never_infinite(bag):
    nothing = with_values(bag, {f"harvest.{end}": "0 kg/m^2" for end in ("low", "typical", "high")})
    found = evaluate(nothing)
    assert np.isnan(found["cost_per_kilogram"].magnitude)
    assert "no cost per kilogram" in found.undefined["cost_per_kilogram"]
    assert all(not np.isinf(value.magnitude) for value in found.outcomes.values())
    assert found["cost_per_area"].magnitude > 0


def test_evaluate_arrays_equal_one_by_one(bag):
    factors = np.array([0.6, 1.0, 1.4])
    volumes = quantity(np.array([0.5, 1.0, 2.0]), "L/plant")
    together = evaluate(
        with_values(
            bag, {"site.climate_factor": factors, "method.medium.volume_per_plant": volumes}
        )
    )
    for index in range(3):
        alone = evaluate(
            with_values(
                bag,
                {
                    "site.climate_factor": float(factors[index]),
                    "method.medium.volume_per_plant": volumes[index],
                },
            )
        )
        for name in OUTCOMES:
            both = np.broadcast_to(together[name].magnitude, (3,))[index]
            np.testing.assert_allclose(both, alone[name].magnitude, rtol=1e-12, err_msg=name)


def test_evaluate_array_of_season_lengths_stops_each_season_on_its_day(bag):
    days = quantity(np.array([20.0, 40.0]), "day")
    together = evaluate(with_values(bag, {"crop.days_late": days}))
    for index, late in enumerate(("20 day", "40 day")):
        alone = evaluate(with_values(bag, {"crop.days_late": late}))
        assert together["season_water"][index].m_as("L/m^2") == pytest.approx(
            alone["season_water"].m_as("L/m^2")
        )


@settings(max_examples=40, deadline=None)
@given(factor=st.floats(0.3, 2.4), more=st.floats(1.05, 2.0))
def test_evaluate_thirstier_season_never_costs_less(factor, more):
    bag = scenario_for("medium_bag")
    mild = evaluate(with_values(bag, {"site.climate_factor": factor}))
    hot = evaluate(with_values(bag, {"site.climate_factor": factor * more}))
    assert hot["season_water"] > mild["season_water"]
    assert hot["autonomy"] < mild["autonomy"]
    assert hot["cost_water"] >= mild["cost_water"]


@settings(max_examples=40, deadline=None)
@given(price=st.floats(0.1, 10))
def test_evaluate_money_scales_with_all_prices(price):
    """Ten times every price is ten times every cost, and nothing else changes."""
    bag = scenario_for("wedge_pots")
    prices = dataclasses.replace(
        bag.prices,
        unit_prices={item: value * price for item, value in bag.prices.unit_prices.items()},
        labour_price=bag.prices.labour_price * price,
        water_price=bag.prices.water_price * price,
        produce_price=bag.prices.produce_price * price,
    )
    scaled, plain = evaluate(dataclasses.replace(bag, prices=prices)), evaluate(bag)
    for name, described in OUTCOMES.items():
        factor = price if "money" in described.unit else 1.0
        np.testing.assert_allclose(
            scaled[name].magnitude, plain[name].magnitude * factor, rtol=1e-9, err_msg=name
        )


def test_evaluate_ec_above_threshold_lowers_yield_by_the_published_slope(bag):
    """Potato at EC 3 dS/m: 84.4 % (FAO Irrigation and Drainage Paper 61, annex 1: 1.7 and 12)."""
    found = evaluate(with_values(bag, {"feed.ec": "3 dS/m"}))
    assert found["salinity_factor"].m_as("") == pytest.approx(0.844, abs=5e-4)
    assert any(caution.id == "strength" for caution in found.cautions)


def test_evaluate_field_has_no_tank_and_says_so():
    found = evaluate(scenario_for("field_soil"))
    assert found.undefined["autonomy"] == "this method has no tank"
    assert found["water_load"].magnitude == 0
    assert {caution.id for caution in found.cautions}.isdisjoint(
        {"load", "open_water", "discharge"}
    )


@pytest.mark.parametrize("method", ["medium_bag", "suspended_pot"])
def test_evaluate_level_that_a_valve_holds_needs_no_fills_by_hand(method):
    one = scenario_for(method)
    assert one.method.level.held
    assert evaluate(one)["refills"].magnitude == 0


@pytest.mark.parametrize(("interval", "fills"), [(1, 129), (2, 64), (7, 18), (129, 1), (130, 0)])
def test_evaluate_hand_filled_tank_is_filled_every_few_days(interval, fills):
    """130 days, filled in the morning of day 1 + interval, 1 + 2 interval, ...: floor(129 / it)."""
    one = scenario_for("paper_wrap")
    days = sum(
        getattr(one.crop, f"days_{stage}").m_as("day")
        for stage in ("initial", "development", "mid", "late")
    )
    assert days == 130
    found = evaluate(with_values(one, {"method.level.fill_interval": quantity(interval, "day")}))
    assert found["refills"].magnitude == fills


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0, 3.0])
def test_evaluate_falling_level_is_filled_as_often_as_its_water_is_used_up(factor):
    one = with_values(scenario_for("deep_litre", "lettuce"), {"site.climate_factor": factor})
    found, level = evaluate(one), one.method.level
    free = 10 * (1 - level.displaced_fraction.m_as(""))
    fill = (level.start - level.low).m_as("cm") * free
    _, rain = daily_water_use(one)
    need = found["season_water"].m_as("L/m^2") - rain.sum()
    assert found["refills"].magnitude == np.ceil(need / fill)


def test_evaluate_level_that_cannot_fall_has_no_number_of_refills():
    one = scenario_for("deep_litre", "lettuce")
    low = one.method.level.low
    flat = with_values(one, {"method.level.high": low, "method.level.start": low})
    found = evaluate(flat)
    assert "nothing between" in found.undefined["refills"]
    assert np.isnan(found["refills"].magnitude)


@pytest.mark.parametrize(
    ("method", "crop", "kept"),
    [
        ("medium_bag", "potato", "high"),
        ("paper_wrap", "potato", "high"),
        ("suspended_pot", "potato", "high"),
        ("deep_litre", "lettuce", "start"),
    ],
)
def test_evaluate_autonomy_counts_the_water_that_is_there_when_a_valve_fails(method, crop, kept):
    """A level that fell to where it is held has no more above its lowest than that."""
    one = scenario_for(method, crop)
    level, found = one.method.level, evaluate(one)
    spare = (getattr(level, kept) - level.low).m_as("cm") * 10
    spare *= 1 - level.displaced_fraction.m_as("")
    peak = found["peak_water_use"].m_as("mm/day")
    assert found["autonomy"].m_as("day") == pytest.approx(spare / peak, rel=1e-12)


def test_evaluate_deepest_water_is_the_start_of_a_falling_level():
    for method, crop, deepest in (
        ("medium_bag", "potato", 4), ("suspended_pot", "potato", 14), ("deep_litre", "lettuce", 18),
    ):  # fmt: skip
        found = evaluate(scenario_for(method, crop))
        assert found["fullest_depth"].m_as("cm") == deepest
        assert found["water_load"].m_as("kg/m^2") == pytest.approx(10 * deepest, rel=0.01)


@pytest.mark.parametrize("method", ["medium_bag", "suspended_pot", "paper_wrap"])
def test_evaluate_weaker_top_up_needs_less_salt_and_the_same_water(method):
    """Full litres = first filling + strength x what is added after it."""
    one = scenario_for(method)
    level = one.method.level
    first = level.fullest.m_as("cm") * 10 * (1 - level.displaced_fraction.m_as(""))
    usual = evaluate(one)
    made = usual["solution_made"].m_as("L/m^2")
    for strength in (0.0, 0.4, 1.0):
        found = evaluate(with_values(one, {"feed.top_up_strength": strength}))
        share = (first + strength * (made - first)) / made
        for name in ("fertiliser_mass", "stock_volume", "n_supplied", "cost_nutrients"):
            np.testing.assert_allclose(
                found[name].magnitude, share * usual[name].magnitude, rtol=1e-12, err_msg=name
            )
        for name in ("solution_made", "season_water", "cost_water", "n_removed", "yield_per_area"):
            assert found[name] == usual[name], name


def test_evaluate_stock_is_that_of_the_strength_that_is_mixed():
    """By hand: at half of full strength, diluted 1:100, a litre takes 5 mL of each stock."""
    one = scenario_for("medium_bag")
    content = {name: quantity(value / 2, "mg/L") for name, value in one.feed.content.items()}
    half = nutrients.electrical_conductivity(nutrients.ions_from_content(content))
    values = {"feed.ec": half, "feed.dilution": 100}
    found = evaluate(with_values(one, values))
    litres = found["solution_made"].m_as("L/m^2")
    assert found["stock_volume"].m_as("mL/m^2") == pytest.approx(5 * litres)


def test_evaluate_rain_for_all_still_needs_the_first_filling():
    one = scenario_for("suspended_pot")
    soaked = with_values(
        one, {"site.rain": quantity(np.full(12, 900.0), "mm"), "site.rain_share": 1}
    )
    level = one.method.level
    first = level.start.m_as("cm") * 10 * (1 - level.displaced_fraction.m_as(""))
    assert evaluate(soaked)["solution_made"].m_as("L/m^2") == pytest.approx(first)


def test_evaluate_uptake_factor_moves_no_outcome(bag):
    usual, other = evaluate(bag), evaluate(with_values(bag, {"feed.uptake_factor": 0.2}))
    for name in OUTCOMES:
        np.testing.assert_array_equal(usual[name].magnitude, other[name].magnitude, err_msg=name)


def test_compare_keeps_order_and_gives_plain_values(bag):
    both = compare([bag, scenario_for("paper_wrap")])
    assert [found.scenario.method.id for found in both] == ["medium_bag", "paper_wrap"]
    assert len(both) == 2
    assert both.currency == "EUR"
    metric, us = both.values("yield_per_area"), both.values("yield_per_area", "lb/ft^2")
    np.testing.assert_allclose(
        metric / us, 4.8824276, rtol=1e-7
    )  # definition of the pound and foot


def test_compare_frame_has_a_unit_in_every_column_and_converts_money(bag):
    frame = compare([bag]).frame("us", rate=2.0)
    assert frame.loc[0, "method"] == "medium_bag"
    per_pound = evaluate(bag)["cost_per_kilogram"].m_as("money/lb")
    assert frame.loc[0, "cost_per_kilogram_money_per_lb"] == pytest.approx(2 * per_pound)
    assert all(column.isascii() and not set(column) & set(".[]:^*()") for column in frame.columns)


def test_compare_nothing_raises():
    with pytest.raises(InfeasibleError, match="at least one method"):
        compare([])


def test_compare_two_currencies_raises(bag):
    other = scenario_for("medium_bag", prices="dunmarrow")
    with pytest.raises(InfeasibleError, match="EUR and USD"):
        compare([bag, other])


def test_compare_two_crops_raises(bag):
    with pytest.raises(InfeasibleError, match="one crop at a time"):
        compare([bag, scenario_for("deep_litre", crop="lettuce")])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"method": "no_such"}, "unknown method 'no_such'; known: .*medium_bag"),
        ({"method": "medium_bag", "crop": "pineapple"}, "unknown crop"),
        ({"method": "medium_bag", "site": "moon"}, "unknown site"),
        ({"method": "deep_litre", "crop": "potato"}, "no yield of 'potato'"),
    ],
)
def test_scenario_for_unknown_name_lists_those_there_are(arguments, words):
    with pytest.raises(InfeasibleError, match=words):
        scenario_for(**arguments)


def test_outcome_values_are_those_of_evaluate_and_only_the_wanted():
    scenario = scenario_for("medium_bag")
    found, plain = evaluate(scenario), outcome_values(scenario)
    assert set(plain) == set(OUTCOMES)
    for name, value in plain.items():
        np.testing.assert_array_equal(value, found[name].magnitude)
    few = outcome_values(scenario, ["k_share", "cost_labour"])
    assert few == {name: plain[name] for name in ("k_share", "cost_labour")}


def test_outcome_values_refuse_a_name_that_is_no_outcome():
    with pytest.raises(InfeasibleError, match="no outcome is called joy, luck"):
        outcome_values(scenario_for("medium_bag"), ["luck", "yield_low", "joy"])


def test_with_draws_gives_what_with_values_gives():
    scenario = scenario_for("medium_bag")
    factor = np.array([0.8, 1.0, 1.3])
    drawn = with_draws(scenario, {"site.climate_factor": factor, "tank.area": 3.0})
    checked = with_values(scenario, {"site.climate_factor": factor, "tank.area": "3 m^2"})
    assert outcome_values(drawn).keys() == outcome_values(checked).keys()
    for name, value in outcome_values(drawn).items():
        np.testing.assert_array_equal(value, outcome_values(checked)[name])
    assert np.ndim(scenario.site.climate_factor.magnitude) == 0


@pytest.mark.parametrize("path", ["site.label", "site.luck", "method.sheet.area_per_area"])
def test_with_draws_refuses_a_path_that_is_no_quantity(path):
    with pytest.raises(KeyError):
        with_draws(scenario_for("medium_bag"), {path: 1.0})


def test_season_water_of_drawn_seasons_is_that_of_each_season_followed_by_itself():
    scenario = scenario_for("suspended_pot")
    factors, shares = np.array([0.7, 1.0, 1.4]), np.array([0.0, 0.3, 1.0])
    drawn = outcome_values(
        with_draws(scenario, {"site.climate_factor": factors, "site.rain_share": shares})
    )
    for number, (factor, share) in enumerate(zip(factors, shares, strict=True)):
        one = with_values(scenario, {"site.climate_factor": factor, "site.rain_share": share})
        use, _ = daily_water_use(one)
        assert drawn["season_water"][number] == pytest.approx(use.sum(), rel=1e-12)
        assert drawn["peak_water_use"][number] == pytest.approx(use.max(), rel=1e-12)
