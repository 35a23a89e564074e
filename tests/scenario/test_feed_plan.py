"""From an aim, a shelf and a water to grams: counted by hand where that can be done."""

from __future__ import annotations

import dataclasses
import functools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, nutrients, quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.nutrients import NoRecipeError, SourceWater
from scenariokit.scenario import (
    ACID_PH,
    DEFAULT_SHELF,
    FeedPlan,
    FeedStore,
    acid_dose,
    feed_strength,
    load,
    plan_feed,
    save,
    scenario_for,
    shipped_store,
    with_feed,
)
from scenariokit.scenario.feed_plan import treated_content

STORE = shipped_store()
PRICES = scenario_for("medium_bag").prices.unit_prices
HARD = STORE.waters["hard_tap"]
WATERS = ("pure_water", "rain_water", "soft_tap", "hard_tap")
BRINGS = {"nitric_60": ("N", 14.007, 1), "phosphoric_85": ("P", 30.974, 1),
          "sulfuric_35": ("S", 32.06, 2)}  # fmt: skip
"""Element of each acid, its atomic mass, and hydrogen ions for each atom near pH 5.8."""


def solved(aim="potato_window", **more):
    return FeedPlan(aim, solved=True, **more)


@functools.cache
def planned(plan, ec=1.6):
    return plan_feed(plan, quantity(ec, "dS/m"), STORE, PRICES)


def ec_of(found):
    """EC [dS/m] of what was planned: rates and water put together anew, on ions."""
    rates = {key: quantity(rate, "g/L") for key, rate in found.rates.items()}
    water = {key: quantity(value, "mg/L") for key, value in found.water_content.items()}
    content = nutrients.content_of(rates, STORE.fertilisers, water)
    ions = nutrients.ions_from_content(content)
    return nutrients.electrical_conductivity(ions).m_as("dS/m")


def cost_of(found):
    return sum(PRICES[key] * rate for key, rate in found.rates.items())


def totals(found):
    """What a litre holds of each element aimed at, mg/L."""
    return {
        key: found.content.get(key, 0.0) + found.water_content.get(key, 0.0)
        for key in found.targets.bands
    }


# -- published -----------------------------------------------------------------------------


@pytest.mark.parametrize("aim", catalog.recipes())
def test_plan_feed_published_recipe_keeps_its_grams(aim):
    found = planned(FeedPlan(aim))
    assert found.rates == dict(catalog.recipes()[aim].salts)
    assert found.share == 1
    assert found.recipe is None
    assert found.label == catalog.recipes()[aim].label


def test_plan_feed_published_recipe_content_is_that_of_its_salts():
    """Worked by hand: 1.18073 g/L of calcium nitrate with 16.9717 % calcium."""
    found = planned(FeedPlan())
    assert found.content["Ca"] == pytest.approx(1180.73 * 0.169717, rel=1e-5)
    assert found.content["P"] == pytest.approx(30.974, rel=1e-4)


@pytest.mark.parametrize("change", [{"water": "hard_tap"}, {"shelf": ()}, {"cheapest": True}])
def test_plan_feed_published_recipe_does_not_move_its_grams(change):
    assert planned(FeedPlan(**change), 0.9).rates == planned(FeedPlan()).rates


def test_plan_feed_without_a_store_takes_the_catalogue():
    assert plan_feed(solved(), "1.6 dS/m").rates == planned(solved()).rates


# -- worked out ----------------------------------------------------------------------------


@pytest.mark.parametrize("ec", [1.2, 1.6, 2.4])
@pytest.mark.parametrize("water", WATERS)
@pytest.mark.parametrize("aim", ["potato_window", "steiner"])
def test_plan_feed_worked_out_has_the_ec_that_was_asked(aim, water, ec):
    assert ec_of(planned(solved(aim, water=water), ec)) == pytest.approx(ec, rel=1.01e-4)


@pytest.mark.parametrize("acid", [*BRINGS, "citric_50"])
@pytest.mark.parametrize("cheapest", [False, True])
def test_plan_feed_worked_out_with_acid_has_the_ec_that_was_asked(acid, cheapest):
    found = planned(solved(water="soft_tap", acid=acid, cheapest=cheapest))
    assert ec_of(found) == pytest.approx(1.6, rel=1.01e-4)


def test_plan_feed_potato_in_pure_water_is_hoagland_at_its_strength():
    """The aim is 7/12 of Hoagland's solution 1, whose four main salts are on the shelf."""
    found, hoagland = planned(solved()), planned(FeedPlan())
    strength = float(feed_strength(scenario_for("medium_bag").feed))
    assert found.share * 7 / 12 == pytest.approx(strength, rel=2e-3)
    for salt in ("calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate"):
        assert found.rates[salt] == pytest.approx(strength * hoagland.rates[salt], rel=2e-3)


def test_plan_feed_other_unit_same_grams():
    found = plan_feed(solved(), "1600 uS/cm", STORE)
    assert found.rates == pytest.approx(planned(solved()).rates, rel=1e-9)


def test_plan_feed_only_what_is_used_is_named():
    found = planned(solved())
    assert set(found.rates) == set(found.fertilisers) <= set(DEFAULT_SHELF)
    assert "potassium_sulfate" not in found.rates
    assert all(rate > 0 for rate in found.rates.values())


def test_plan_feed_content_is_that_of_its_fertilisers():
    found = planned(solved(water="soft_tap"))
    potassium = sum(
        1000 * rate * STORE.fertilisers[key].shares.get("K", 0.0)
        for key, rate in found.rates.items()
    )
    assert found.content["K"] == pytest.approx(potassium, rel=1e-12)


@settings(max_examples=12, deadline=None)
@given(ec=st.floats(1.0, 4.0), calcium=st.floats(0, 60))
def test_plan_feed_any_ec_and_calcium_of_the_water_is_reached(ec, calcium):
    chloride = calcium / 40.078 * 2 * 35.45
    water = SourceWater("own", "Own", {"Ca": calcium, "Cl": chloride})
    found = plan_feed(solved(water="own"), quantity(ec, "dS/m"), own_store(water))
    assert ec_of(found) == pytest.approx(ec, rel=1.01e-4)


# -- what the water brings -----------------------------------------------------------------


def own_store(water, targets=None):
    return FeedStore(STORE.fertilisers, {**STORE.waters, water.id: water}, targets or STORE.targets)


def test_plan_feed_calcium_of_the_water_is_taken_off_the_salt_by_hand():
    """Two salts, an element each: (target - 40 mg/L) / 272.625 mg in a gram of CaCl2.2H2O."""
    aim = nutrients.targets_from({"Ca": "100 mg/L", "K": "200 mg/L"}, id="two")
    water = SourceWater("own", "Own", {"Ca": 40.0, "Cl": 70.8})
    plan = FeedPlan("two", True, ("calcium_chloride", "potassium_chloride"), water="own")
    found = plan_feed(plan, "1.5 dS/m", own_store(water, {"two": aim}))
    by_hand = (100 * found.share - 40) / 272.625
    assert found.rates["calcium_chloride"] == pytest.approx(by_hand, rel=1e-5)
    assert found.rates["potassium_chloride"] == pytest.approx(200 * found.share / 524.467, rel=1e-5)
    assert ec_of(found) == pytest.approx(1.5, rel=1.01e-4)


def test_plan_feed_hard_water_needs_less_calcium_and_magnesium_salts():
    hard, pure = planned(solved(water="hard_tap")), planned(solved())
    held = totals(hard)
    for salt, element, percent in (("calcium_nitrate", "Ca", 16.9717),
                                   ("magnesium_sulfate", "Mg", 9.8614)):  # fmt: skip
        band = hard.targets.bands[element]
        low, high = (hard.share * end.m_as("mg/L") for end in (band.low, band.high))
        assert low <= held[element] <= high
        from_salts = 10 * percent * hard.rates[salt]
        assert held[element] == pytest.approx(HARD.content[element] + from_salts, rel=1e-5)
        assert hard.rates[salt] < pure.rates[salt]


def test_plan_feed_hard_water_says_what_it_misses():
    found = planned(solved(water="hard_tap")).recipe
    unmet = {one.element: one.reason for one in found.unmet}
    assert unmet == {"N": "coupled", "Cu": "water"}


def test_plan_feed_water_content_is_that_of_the_water():
    assert planned(solved(water="hard_tap")).water_content == dict(HARD.content)
    assert planned(FeedPlan()).water_content.get("Ca", 0.0) == 0


# -- acid ----------------------------------------------------------------------------------


@pytest.mark.parametrize("acid", BRINGS)
def test_treated_content_acid_puts_its_element_where_bicarbonate_was(acid):
    element, mass, protons = BRINGS[acid]
    found, before = treated_content(HARD, acid), HARD.content
    taken = (before["HCO3"] - found["HCO3"]) / 61.016
    brought = (found[element] - before.get(element, 0.0)) / mass
    # At pH 5.8 carbonic acid is 78 % of what was bicarbonate: pK 6.35, from memory.
    assert taken == pytest.approx(0.7801 * before["HCO3"] / 61.016, rel=2e-3)
    assert brought == pytest.approx(taken / protons, rel=1e-3)
    others = set(before) - {element, "HCO3", "N_nitrate"}
    assert {key: found[key] for key in others} == {key: before[key] for key in others}


def test_treated_content_nitric_acid_counts_as_nitrate_and_in_the_total():
    found, before = treated_content(HARD, "nitric_60"), HARD.content
    assert found["N"] - before["N"] == pytest.approx(found["N_nitrate"] - before["N_nitrate"])
    assert found["N"] > before["N"] + 50


def test_treated_content_gentle_acid_brings_no_nutrient():
    found, before = treated_content(HARD, "citric_50"), HARD.content
    assert found["HCO3"] < 0.3 * before["HCO3"]
    assert {**found, "HCO3": 0} == {**before, "HCO3": 0}


def test_treated_content_without_acid_is_the_water():
    assert treated_content(HARD) == dict(HARD.content)


@pytest.mark.parametrize("acid", BRINGS)
def test_plan_feed_acid_is_counted_in_the_recipe(acid):
    element, *_ = BRINGS[acid]
    plain, found = planned(solved(water="hard_tap")), planned(solved(water="hard_tap", acid=acid))
    assert found.water_content == treated_content(HARD, acid)
    assert found.content[element] / found.share < plain.content[element] / plain.share
    assert found.water_content["HCO3"] < plain.water_content["HCO3"]


def test_plan_feed_nitric_acid_fills_the_nitrogen_that_hard_water_leaves_out():
    short = {one.element for one in planned(solved(water="hard_tap")).recipe.unmet}
    mended = {
        one.element for one in planned(solved(water="hard_tap", acid="nitric_60")).recipe.unmet
    }
    assert short - mended == {"N"}


def test_acid_dose_volume_worked_by_hand():
    """290 mg/L of HCO3 are 4.753 meq/L; 78 % of it for 100 L, at 13.02 eq/L of nitric acid."""
    dose = acid_dose(HARD, "nitric_60", "100 L")
    assert dose.volume.m_as("mL") == pytest.approx(0.7801 * 4.753 * 100 / 13.02, rel=3e-3)
    assert dose.cautions
    assert ACID_PH == 5.8


def test_acid_dose_two_volumes_are_in_proportion():
    one, three = (acid_dose(HARD, "nitric_60", volume) for volume in ("50 L", "150 L"))
    assert three.volume.m_as("mL") == pytest.approx(3 * one.volume.m_as("mL"), rel=1e-12)


# -- cheapest ------------------------------------------------------------------------------


@pytest.mark.parametrize("ec", [1.2, 2.0])
@pytest.mark.parametrize(
    ("aim", "water"),
    # Not Hoagland's solution 2 in soft tap water: no mix of this shelf has nitrogen enough.
    [(aim, water) for aim in catalog.targets() for water in WATERS[:3]
     if (aim, water) != ("hoagland_2", "soft_tap")],
)  # fmt: skip
def test_plan_feed_cheapest_is_never_dearer_than_a_closest_within_its_bands(aim, water, ec):
    closest = planned(solved(aim, water=water), ec)
    cheapest = planned(solved(aim, water=water, cheapest=True), ec)
    assert closest.recipe.unmet == ()
    assert cheapest.recipe.how == "cheapest"
    # Each has its EC to a ten-thousandth only, and so its cost.
    assert cost_of(cheapest) <= cost_of(closest) * (1 + 3e-4)


def test_plan_feed_cheapest_takes_the_cheaper_of_two_salts():
    shelf = (*DEFAULT_SHELF, "magnesium_nitrate")
    for dear, cheap in (("magnesium_sulfate", "magnesium_nitrate"),
                        ("magnesium_nitrate", "magnesium_sulfate")):  # fmt: skip
        prices = {**PRICES, dear: 50.0, cheap: 0.1}
        found = plan_feed(solved(shelf=shelf, cheapest=True), "1.6 dS/m", STORE, prices)
        assert found.rates.get(cheap, 0.0) > found.rates.get(dear, 0.0)


def test_plan_feed_cheapest_cost_is_the_sum_of_its_prices():
    found = planned(solved(cheapest=True))
    assert found.recipe.cost.m_as("money/m^3") == pytest.approx(cost_of(found), rel=1e-9)


def test_plan_feed_cheapest_keeps_its_bands():
    found = planned(solved(water="soft_tap", cheapest=True))
    assert found.recipe.unmet == ()
    held = totals(found)
    for element, band in found.targets.bands.items():
        low, high = (found.share * end.m_as("mg/L") for end in (band.low, band.high))
        assert low * (1 - 1e-4) - 1e-9 <= held[element] <= high * (1 + 1e-4), element


# -- what cannot be ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        (FeedPlan("nectar"), "unknown target set 'nectar'; known: hoagland_1"),
        (FeedPlan("potato_window"), "unknown published recipe 'potato_window'; known"),
        (FeedPlan(water="puddle"), "unknown source water 'puddle'; known: brackish_well"),
        (FeedPlan(water="hard_tap", acid="vinegar"), "unknown acid 'vinegar'; known: citric_50"),
        (solved(shelf=("salt",)), "unknown fertiliser 'salt'; known: ammonium"),
        (solved(shelf=()), "nothing is on the shelf; tick the fertilisers that you have"),
        (solved(shelf=("boric_acid",)), "nothing on the shelf raises the EC towards this aim"),
        (solved(water="brackish_well"), "1.6 dS/m is below that of the water itself, 3.0"),
    ],
)
def test_plan_feed_that_cannot_be_is_refused_in_words(plan, words):
    with pytest.raises(InfeasibleError, match=words):
        planned(plan)


def test_plan_feed_ec_below_the_water_says_so():
    with pytest.raises(InfeasibleError, match=r"EC of 0.5 dS/m is below that of the water itself"):
        planned(solved(water="hard_tap"), 0.5)


def test_plan_feed_ec_above_the_model_says_so():
    with pytest.raises(InfeasibleError, match="above what the model of EC covers"):
        planned(solved(), 9.0)


def test_plan_feed_no_ec_at_all_says_what_was_tried():
    with pytest.raises(
        InfeasibleError, match=r"no recipe from this shelf and water has an EC of 0"
    ):
        planned(solved(), 0.0)


def test_plan_feed_water_too_rich_in_one_element_for_the_bands_names_it():
    plan = solved("hoagland_1", water="hard_tap", cheapest=True)
    with pytest.raises(NoRecipeError, match=r"N comes to .* mg/L, .* below its band") as caught:
        planned(plan)
    assert "N" in {one.element for one in caught.value.unmet}


def test_plan_feed_shelf_that_cannot_meet_the_bands_says_what_would_help():
    plan = solved(shelf=("calcium_nitrate", "potassium_nitrate"), cheapest=True)
    with pytest.raises(InfeasibleError, match=r"Mg comes to 0 .*magnesium_sulfate.* would help"):
        planned(plan)


@pytest.mark.parametrize(
    ("prices", "words"),
    [
        (None, r"without a price of calcium_nitrate, potassium_nitrate, "),
        (
            {key: price for key, price in PRICES.items() if key != "boric_acid"},
            "price of boric_acid$",
        ),
    ],
)
def test_plan_feed_cheapest_without_a_price_names_the_salt(prices, words):
    with pytest.raises(InfeasibleError, match=words):
        plan_feed(solved(cheapest=True), "1.6 dS/m", STORE, prices)


@pytest.mark.parametrize(
    ("ec", "error", "words"),
    [
        (1.6, UnitError, "bare number"),
        ("5 ampere", UnitError, "another dimension"),
        ("-1 dS/m", RangeError, "below"),
        (quantity([1.0, 2.0], "dS/m"), ArgumentError, "ec = .*must be one EC"),
    ],
)
def test_plan_feed_ec_that_is_none_is_refused(ec, error, words):
    with pytest.raises(error, match=words):
        plan_feed(solved(), ec, STORE)


# -- into a scenario -----------------------------------------------------------------------


def test_with_feed_keeps_ec_dilution_and_top_up():
    one = scenario_for("medium_bag")
    found = with_feed(one, planned(solved(water="hard_tap", acid="nitric_60")))
    for leaf in ("ec", "dilution", "top_up_strength", "uptake_factor"):
        assert getattr(found.feed, leaf) == getattr(one.feed, leaf)
    assert found.feed.recipe == "potato_window"
    assert found.feed.label == "Potato in solution culture, worked out"
    assert found.feed.water == "Hard tap water"
    assert found.feed.water_content["HCO3"] < HARD.content["HCO3"]
    assert dataclasses.replace(found, feed=one.feed) == one


@pytest.mark.parametrize("cheapest", [False, True])
def test_with_feed_worked_out_is_used_at_full_strength(cheapest):
    found = with_feed(scenario_for("medium_bag"), planned(solved(cheapest=cheapest)))
    assert float(feed_strength(found.feed)) == pytest.approx(1, rel=3e-4)


def test_with_feed_does_not_share_its_numbers_with_the_plan():
    plan = plan_feed(FeedPlan(water="hard_tap"), "1.6 dS/m", STORE)
    found = with_feed(scenario_for("medium_bag"), plan)
    found.feed.salts["potassium_nitrate"] = 9.0
    found.feed.water_content["Ca"] = 9.0
    assert plan.rates["potassium_nitrate"] < 1
    assert plan.water_content["Ca"] == 105


def test_with_feed_survives_a_file():
    """What the water and its acid bring is kept, to the last digit."""
    one = with_feed(scenario_for("paper_wrap"), planned(solved(water="hard_tap", acid="nitric_60")))
    back = load(save(one))
    assert back.feed == one.feed
    assert float(feed_strength(back.feed)) == float(feed_strength(one.feed))


def test_shipped_store_holds_the_catalogue_and_pure_water():
    assert set(STORE.fertilisers) == set(catalog.salts())
    assert set(STORE.waters) == {"pure_water", *catalog.waters()}
    assert set(STORE.targets) == set(catalog.targets())
    assert not any(STORE.waters["pure_water"].content.values())
    assert set(DEFAULT_SHELF) <= set(STORE.fertilisers)
