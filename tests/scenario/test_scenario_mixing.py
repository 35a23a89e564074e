"""From a feed to stocks, tank and correction: nothing is lost on the way, all by hand."""

from __future__ import annotations

import dataclasses
import functools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import nutrients, quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.scenario import (
    ElementSupply,
    FeedPlan,
    MixingRoom,
    correction_for,
    element_supply,
    feed_strength,
    fullest_volume,
    mixing_for,
    plan_feed,
    scenario_for,
    shipped_store,
    solution_check,
    water_ec,
    with_feed,
    with_values,
)
from scenariokit.scenario.mixing import SLACK, TOLERANCE
from scenariokit.scenario.strength import solution_content

STORE = shipped_store()
PRICES = scenario_for("medium_bag").prices.unit_prices
PLANS = {
    "published": FeedPlan(),
    "published, hard water": FeedPlan("steiner", water="hard_tap"),
    "worked out": FeedPlan("potato_window", True),
    "worked out, acid": FeedPlan("potato_window", True, water="hard_tap", acid="nitric_60"),
    "cheapest": FeedPlan("hoagland_1", True, cheapest=True, water="soft_tap"),
}
any_plan = pytest.mark.parametrize("name", PLANS)


@functools.cache
def planned(name, ec=1.6):
    return plan_feed(PLANS[name], quantity(ec, "dS/m"), STORE, PRICES)


def fed(name="published", ec=1.6, method="medium_bag", **leaves):
    """A scenario fed by a plan; `leaves` by path, two underscores for each dot."""
    values = {path.replace("__", "."): value for path, value in leaves.items()}
    one = with_values(scenario_for(method), {"feed.ec": quantity(ec, "dS/m"), **values})
    return with_feed(one, planned(name, ec))


def mixed(one, **room):
    return mixing_for(one, STORE.fertilisers, MixingRoom(**room))


def litres(value):
    return float(value.m_as("L"))


def weighed(mixing):
    """Milligrams of each element weighed in for all stocks together."""
    found = {}
    for stock in mixing.stocks.stocks:
        for key, grams in stock.grams.items():
            for element, share in STORE.fertilisers[key].shares.items():
                mass = 1000 * float(grams.m_as("g")) * share
                found[element] = found.get(element, 0.0) + mass
    return found


# -- nothing is lost -----------------------------------------------------------------------


@pytest.mark.parametrize("stocks", [2, 3])
@any_plan
def test_mixing_for_mass_weighed_is_in_the_stocks(name, stocks):
    mixing = mixed(fed(name), stocks=stocks, stock_volume="7 L")
    for element, mass in weighed(mixing).items():
        held = sum(
            float(stock.content[element].m_as("mg/L"))
            for stock in mixing.stocks.stocks
            if element in stock.content
        )
        assert 7 * held == pytest.approx(mass, rel=1e-12), element


@pytest.mark.parametrize("stocks", [2, 3])
@any_plan
def test_mixing_for_mass_dosed_is_in_the_tank(name, stocks):
    one = fed(name)
    mixing = mixed(one, stocks=stocks)
    dosed, volume = litres(mixing.dose.each), litres(mixing.tank_volume)
    for element, mass in weighed(mixing).items():
        from_stocks = mass * dosed / litres(mixing.stocks.volume)
        in_tank = float(mixing.dose.content[element].m_as("mg/L")) * volume
        wanted = one.feed.content[element] * float(feed_strength(one.feed)) * volume
        assert in_tank == pytest.approx(from_stocks, rel=1e-12), element
        assert in_tank == pytest.approx(wanted, rel=1e-12), element


@any_plan
def test_mixing_for_tank_and_water_together_have_the_ec_asked_for(name):
    one = fed(name)
    mixing = mixed(one)
    water = {key: quantity(value, "mg/L") for key, value in one.feed.water_content.items()}
    held = dict(mixing.dose.content)
    for key, value in water.items():
        held[key] = held.get(key, quantity(0.0, "mg/L")) + value
    ec = nutrients.electrical_conductivity(nutrients.ions_from_content(held))
    assert ec.m_as("dS/m") == pytest.approx(1.6, rel=1e-7)


@settings(max_examples=25, deadline=None)
@given(
    ec=st.floats(0.3, 4), dilution=st.floats(10, 200), volume=st.floats(0.5, 60),
    stocks=st.sampled_from([2, 3]),
)  # fmt: skip
def test_mixing_for_any_strength_and_dilution_serves_what_it_says(ec, dilution, volume, stocks):
    one = with_values(
        scenario_for("medium_bag"),
        {"feed.ec": quantity(ec, "dS/m"), "feed.dilution": dilution},
    )
    mixing = mixed(one, stocks=stocks, stock_volume=quantity(volume, "L"))
    each, tank = litres(mixing.dose.each), litres(mixing.tank_volume)
    number = len(mixing.stocks.stocks)
    assert number * each + litres(mixing.dose.water) == pytest.approx(tank, rel=1e-12)
    # A tank of what is served would empty the stocks.
    assert each * litres(mixing.served) / tank == pytest.approx(volume, rel=1e-9)
    assert litres(mixing.served) == pytest.approx(volume * dilution / mixing.strength, rel=1e-12)


# -- amounts by hand -----------------------------------------------------------------------


def test_mixing_for_stock_worked_by_hand():
    """1.18073 g/L of calcium nitrate, a hundredfold, in 10 L: 1180.73 g."""
    mixing = mixed(fed())
    grams = mixing.stocks.stock("A").grams["calcium_nitrate"]
    assert grams.m_as("g") == pytest.approx(1180.73, rel=1e-12)
    assert mixing.stocks.dilution == 100


def test_mixing_for_dose_worked_by_hand():
    """102.4 L at 0.7156 of full strength, 1 in 100: 0.7328 L of each, 100.93 L of water."""
    mixing = mixed(fed())
    assert mixing.strength == pytest.approx(0.7156, abs=5e-5)
    assert litres(mixing.tank_volume) == pytest.approx(102.4)
    assert litres(mixing.dose.each) == pytest.approx(0.7328, abs=5e-5)
    assert litres(mixing.dose.water) == pytest.approx(102.4 - 2 * 0.7328, abs=1e-4)
    assert litres(mixing.served) == pytest.approx(1000 / 0.7156, rel=1e-4)


def test_mixing_for_other_units_same_stocks():
    one = fed()
    metric = mixed(one, stock_volume="10 L", coldest="10 degC")
    us = mixed(one, stock_volume="2.641720524 gal", coldest="50 degF")
    assert us.served.m_as("L") == pytest.approx(metric.served.m_as("L"), rel=1e-9)
    for stock, other in zip(metric.stocks.stocks, us.stocks.stocks, strict=True):
        for key, grams in stock.grams.items():
            assert other.grams[key].m_as("g") == pytest.approx(grams.m_as("g"), rel=1e-9)


def test_mixing_for_three_stocks_sets_micronutrients_apart():
    mixing = mixed(fed(), stocks=3)
    assert [stock.letter for stock in mixing.stocks.stocks] == ["A", "B", "C"]
    micro = mixing.stocks.stock("C")
    assert set(micro.grams) == {
        "boric_acid", "manganese_chloride", "zinc_sulfate", "copper_sulfate", "sodium_molybdate",
    }  # fmt: skip
    assert litres(mixing.dose.each) == litres(mixed(fed()).dose.each)
    assert mixing.dose.water < mixed(fed()).dose.water


def test_mixing_for_usual_room_is_two_stocks_of_ten_litres_kept_at_ten_degrees():
    plan = mixing_for(fed(), STORE.fertilisers).stocks
    assert len(plan.stocks) == 2
    assert plan.volume == quantity(10, "L")
    assert plan.coldest == quantity(10, "degC")


def test_mixing_for_stocks_do_not_change_with_the_ec():
    one, other = mixed(fed(ec=1.6)), mixed(fed(ec=1.2))
    assert other.stocks == one.stocks
    assert other.dose.each < one.dose.each


def test_mixing_for_other_dilution_makes_other_stocks():
    one, other = mixed(fed()), mixed(fed(feed__dilution=50))
    for key, grams in one.stocks.stock("B").grams.items():
        assert other.stocks.stock("B").grams[key].m_as("g") == pytest.approx(grams.m_as("g") / 2)
    assert litres(other.dose.each) == pytest.approx(2 * litres(one.dose.each))


@pytest.mark.parametrize(
    ("method", "depth"),
    [("medium_bag", "high"), ("suspended_pot", "start"), ("paper_wrap", "high")],
)
def test_fullest_volume_is_area_by_depth_less_what_stands_in_it(method, depth):
    one = scenario_for(method)
    level = one.method.level
    free = 1 - level.displaced_fraction.m_as("")
    by_hand = one.tank.area.m_as("m^2") * 10 * getattr(level, depth).m_as("cm") * free
    assert litres(fullest_volume(one)) == pytest.approx(by_hand, rel=1e-12)


# -- what cannot be ------------------------------------------------------------------------


def test_mixing_for_stocks_too_concentrated_say_what_would_settle_and_what_works():
    with pytest.raises(InfeasibleError, match="would drop potassium sulfate") as caught:
        mixed(fed(feed__dilution=400))
    assert "The greatest dilution that works is 240, 1 part in 240 in all" in str(caught.value)
    assert mixed(fed(feed__dilution=240)).stocks.dilution == 240
    with pytest.raises(InfeasibleError, match="240"):
        mixed(fed(feed__dilution=241))


def test_mixing_for_salt_that_would_not_dissolve_is_named_with_its_limit():
    with pytest.raises(
        InfeasibleError,
        match=r"potassium nitrate at 505.5 g/L would not stay dissolved: at 10 °C a litre holds",
    ):
        mixed(fed(feed__dilution=2000))


def test_mixing_for_colder_store_bears_less():
    cold, warm = (
        nutrients.most_concentrated(
            {key: quantity(rate, "g/L") for key, rate in fed().feed.salts.items()}, coldest=coldest
        )
        for coldest in ("2 degC", "20 degC")
    )
    assert cold < 240 < warm
    with pytest.raises(InfeasibleError, match="at 2 °C"):
        mixed(fed(feed__dilution=240), coldest="2 degC")


def test_mixing_for_stocks_alone_more_than_the_solution_says_so():
    with pytest.raises(InfeasibleError, match="the 3 stocks alone are more than the solution"):
        mixed(fed(feed__dilution=2), stocks=3)


def test_mixing_for_strength_that_the_stocks_cannot_give_says_so():
    with pytest.raises(InfeasibleError, match="the 2 stocks alone are more than the solution"):
        mixed(fed(feed__dilution=2, ec=4.0))


@pytest.mark.parametrize(
    ("room", "error", "words"),
    [
        ({"stocks": 4}, ArgumentError, "stocks = 4: is not a number of stocks; allowed: 1, 2 or 3"),
        ({"coldest": "30 degC"}, RangeError, "coldest = '30 degC': is above"),
        ({"stock_volume": "0 L"}, RangeError, "volume = '0 L'"),
        ({"stock_volume": "-1 L"}, RangeError, "volume = '-1 L': is below"),
    ],
)
def test_mixing_for_room_that_cannot_be_is_refused(room, error, words):
    with pytest.raises(error, match=words):
        mixed(fed(), **room)


@pytest.mark.parametrize(
    "call",
    [mixed, fullest_volume, lambda one: correction_for(one, "1 dS/m", "5 cm")],
    ids=["mixing_for", "fullest_volume", "correction_for"],
)
def test_method_without_a_tank_says_so(call):
    with pytest.raises(InfeasibleError, match=r"Field soil .* has no tank to fill"):
        call(scenario_for("field_soil"))


def test_mixing_for_ec_of_the_water_alone_has_nothing_to_mix():
    one = fed("published, hard water")
    bare = with_values(one, {"feed.ec": water_ec(one.feed)})
    with pytest.raises(InfeasibleError, match="that of the water alone: nothing is to be mixed"):
        mixed(bare)


def test_mixing_for_no_ec_in_pure_water_has_nothing_to_mix():
    with pytest.raises(InfeasibleError, match="nothing is to be mixed"):
        mixed(with_values(fed(), {"feed.ec": "0 dS/m"}))


def test_mixing_for_ec_below_the_water_says_so():
    one = with_values(fed("published, hard water"), {"feed.ec": "0.4 dS/m"})
    with pytest.raises(InfeasibleError, match=r"0.4 dS/m is below that of the water itself"):
        mixed(one)


def test_mixing_for_fertiliser_that_is_not_there_is_named():
    short = {key: one for key, one in STORE.fertilisers.items() if key != "iron_edta"}
    with pytest.raises(InfeasibleError, match="unknown fertiliser 'iron_edta'; known: ammonium"):
        mixing_for(fed(), short)


# -- checks of the solution ----------------------------------------------------------------


def test_solution_check_rule_of_thumb_worked_by_hand():
    """Hoagland's solution 1 has 20 meq/L of cations, and a little sodium with its iron."""
    one = fed()
    full = with_values(one, {"feed.ec": quantity(2.17885625, "dS/m")})
    found = solution_check(full)
    assert found.strength == pytest.approx(1, rel=1e-6)
    assert found.balance.cations.m_as("mmol/L") == pytest.approx(20.05, abs=0.01)
    assert found.rule.rule.m_as("dS/m") == pytest.approx(2.005, abs=0.001)
    assert found.rule.error.m_as("") == pytest.approx(2.005 / 2.17886 - 1, abs=5e-4)


def test_solution_check_cold_meter_worked_by_hand():
    """2 % for each of ten degrees: 1.6 x 0.8 = 1.28 dS/m at 15 °C."""
    found = solution_check(fed())
    assert found.cold == quantity(15.0, "degC")
    assert found.cold_ec.m_as("dS/m") == pytest.approx(1.28)
    assert found.ec.m_as("dS/m") == 1.6


@any_plan
def test_solution_check_charges_balance(name):
    """Salts and the shipped waters are neutral, but for chelates and borax, which do not count."""
    assert abs(solution_check(fed(name)).balance.share.m_as("")) < 0.02


def test_solution_check_knows_the_water():
    found = solution_check(fed("published, hard water"))
    assert found.water_ec.m_as("dS/m") == pytest.approx(0.734, abs=0.001)
    assert solution_check(fed()).water_ec.m_as("dS/m") == pytest.approx(0, abs=1e-12)
    assert found.strength < solution_check(fed()).strength


# -- elements against the aim --------------------------------------------------------------


def supply_of(name, ec=1.6):
    found = planned(name, ec)
    return {one.element: one for one in element_supply(fed(name, ec), found.targets, found.share)}


@any_plan
def test_element_supply_is_what_a_litre_holds(name):
    content = solution_content(fed(name).feed)
    for element, one in supply_of(name).items():
        together = one.from_water + one.from_salts
        assert together == pytest.approx(content.get(element, 0.0), rel=1e-12)
        assert one.from_water == fed(name).feed.water_content.get(element, 0.0)


def test_element_supply_aims_at_the_strength_that_is_made():
    """Nitrogen by hand: 210.105 mg/L at 0.7156 of full strength, 10 % to either side."""
    one = supply_of("published")["N"]
    assert one.target == pytest.approx(210.105 * 0.7156, rel=1e-4)
    assert (one.low, one.high) == pytest.approx((0.9 * one.target, 1.1 * one.target), rel=1e-4)
    assert one.from_water == 0
    assert one.inside


@pytest.mark.parametrize("name", ["worked out", "worked out, acid", "cheapest"])
@pytest.mark.parametrize("ec", [0.9, 1.2, 1.6, 2.0, 2.4])
def test_element_supply_is_outside_just_where_the_recipe_says_so(name, ec):
    """A recipe has its EC only nearly, and so its strength; that must not cry wolf."""
    unmet = {one.element for one in planned(name, ec).recipe.unmet}
    assert {key for key, one in supply_of(name, ec).items() if not one.inside} == unmet


def test_element_supply_hard_water_in_a_published_recipe_is_too_much():
    found = supply_of("published, hard water")
    assert {key for key, one in found.items() if not one.inside} >= {"Ca", "Mg"}
    assert found["Ca"].from_water + found["Ca"].from_salts > found["Ca"].high


def test_element_supply_open_ends_are_the_usual_tolerance():
    aim = nutrients.targets_from({"K": "200 mg/L", "Ca": ("90 mg/L", "100 mg/L", None)})
    potassium, calcium = element_supply(fed(), aim, 0.5)
    scale = 0.5 * float(feed_strength(fed().feed))
    assert TOLERANCE == 0.05
    by_hand = (190 * scale, 200 * scale, 210 * scale)
    assert (potassium.low, potassium.target, potassium.high) == pytest.approx(by_hand)
    assert (calcium.low, calcium.high) == pytest.approx((90 * scale, 105 * scale))


@pytest.mark.parametrize(
    ("total", "inside"),
    [(90 * (1 - 2 * SLACK), False), (90 * (1 - SLACK / 2), True), (100, True),
     (110 * (1 + SLACK / 2), True), (110 * (1 + 2 * SLACK), False)],
)  # fmt: skip
def test_element_supply_inside_lets_rounding_pass(total, inside):
    assert ElementSupply("K", 40.0, total - 40.0, 90.0, 100.0, 110.0).inside is inside


# -- next week -----------------------------------------------------------------------------


def strength_at(one, ec):
    feed = dataclasses.replace(one.feed, ec=quantity(ec, "dS/m"))
    return float(feed_strength(feed))


@pytest.mark.parametrize("stocks", [1, 2, 3])
@pytest.mark.parametrize("name", ["published", "published, hard water", "worked out, acid"])
def test_correction_for_weak_tank_brings_it_to_its_ec(name, stocks):
    """Salt before and added, in strengths of a litre, makes the strength that is wanted."""
    one = fed(name)
    found = correction_for(one, "1.2 dS/m", "3 cm", stocks)
    assert found.action == "raise"
    before = 30 * one.tank.area.m_as("m^2") * (1 - one.method.level.displaced_fraction.m_as(""))
    each, after = litres(found.each), litres(found.volume_after)
    assert after == pytest.approx(before + stocks * each, rel=1e-12)
    salt = before * strength_at(one, 1.2) + 100 * each
    assert salt / after == pytest.approx(float(feed_strength(one.feed)), rel=1e-9)
    assert found.cautions


def test_correction_for_strong_tank_takes_water_of_the_same_source():
    one = fed("published, hard water")
    found = correction_for(one, "1.8 dS/m", "3 cm")
    assert found.action == "lower"
    before = litres(found.volume_after - found.water)
    ratio = strength_at(one, 1.8) / float(feed_strength(one.feed))
    assert litres(found.volume_after) == pytest.approx(before * ratio, rel=1e-9)
    assert "of water" in found.says


def test_correction_for_strong_full_tank_is_drained_first():
    one = fed()
    found = correction_for(one, "2.4 dS/m", one.method.level.fullest)
    assert found.action == "drain and refill"
    kept = 1 - float(feed_strength(one.feed)) / strength_at(one, 2.4)
    assert litres(found.drain) == pytest.approx(kept * litres(fullest_volume(one)), rel=1e-9)
    assert found.drain == found.water
    assert any("never to a drain, ditch" in line for line in found.cautions)


def test_correction_for_level_above_the_fullest_has_no_room_left():
    one = fed()
    found = correction_for(one, "1.2 dS/m", "6 cm")
    assert litres(found.volume_after) == pytest.approx(60 * 4 * 0.64)
    assert found.drain.m > 0


def test_correction_for_near_enough_is_left_alone():
    found = correction_for(fed(), "1.65 dS/m", "3 cm")
    assert found.action == "none"
    assert found.says == "EC 1.65 dS/m is near enough to 1.60: leave it."


def test_correction_for_empty_tank_has_nothing_to_correct():
    assert correction_for(fed(), "1 dS/m", "0 cm").says == "The tank is empty: nothing to correct."


def test_correction_for_other_units_same_dose():
    metric = correction_for(fed(), "1.2 dS/m", "3 cm")
    us = correction_for(fed(), "1200 uS/cm", f"{3 / 2.54} inch")
    assert us.each.m_as("mL") == pytest.approx(metric.each.m_as("mL"), rel=1e-9)


@pytest.mark.parametrize(
    ("ec", "depth", "error", "words"),
    [
        ("1 dS/m", "13 cm", InfeasibleError, "13 cm of water is above the rim of the tank, 12 cm"),
        ("0.5 dS/m", "3 cm", InfeasibleError, "0.5 dS/m is below that of the water"),
        ("1 dS/m", "-1 cm", RangeError, "depth = '-1 cm': is below"),
        ("-1 dS/m", "3 cm", RangeError, "ec_now = '-1 dS/m': is below"),
        ("9 dS/m", "3 cm", InfeasibleError, "above what the model of EC covers"),
    ],
)
def test_correction_for_reading_that_cannot_be_is_refused(ec, depth, error, words):
    with pytest.raises(error, match=words):
        correction_for(fed("published, hard water"), ec, depth)


@settings(max_examples=40, deadline=None)
@given(now=st.floats(0.8, 3.5), depth=st.floats(0.5, 12), wanted=st.floats(0.9, 3))
def test_correction_for_any_reading_keeps_the_books(now, depth, wanted):
    one = with_values(fed("published, hard water"), {"feed.ec": quantity(wanted, "dS/m")})
    found = correction_for(one, quantity(now, "dS/m"), quantity(depth, "cm"))
    before = depth * 10 * 4 * 0.64
    parts = -litres(found.drain) + litres(found.water) + 2 * litres(found.each)
    assert litres(found.volume_after) == pytest.approx(before + parts, rel=1e-9)
    assert litres(found.volume_after) <= max(before, litres(fullest_volume(one))) * (1 + 1e-9)
    if found.action != "none":
        salt = (before - litres(found.drain)) * strength_at(one, now) + 100 * litres(found.each)
        target = float(feed_strength(one.feed))
        assert salt / litres(found.volume_after) == pytest.approx(target, rel=1e-6, abs=1e-9)
