from __future__ import annotations

import csv
import pickle
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.nutrients.composition.fertilisers import (
    Fertiliser,
    content_of,
    fertiliser_from_label,
    shelf,
)
from scenariokit.nutrients.recipe.solve import NoRecipeError, solve
from scenariokit.nutrients.recipe.solve_task import Limits
from scenariokit.nutrients.recipe.targets import scaled, target_set, targets_from

PUBLISHED = Path(__file__).parents[2] / "published"
FOUR = ("calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate", "magnesium_sulfate")
FIVE = (*FOUR, "potassium_sulfate")
DOUBLE = ("calcium_nitrate_double_salt", *FIVE[1:])
TEN = (
    *FIVE, "calcium_nitrate_double_salt", "potassium_chloride", "magnesium_nitrate",
    "ammonium_nitrate", "monoammonium_phosphate",
)  # fmt: skip
TRACES = ("iron_edta", "boric_acid", "manganese_sulfate", "zinc_sulfate", "copper_sulfate",
          "sodium_molybdate")  # fmt: skip
HOAGLAND_1 = {"N": 210.105, "P": 30.974, "K": 234.588, "Ca": 200.390, "Mg": 48.610, "S": 64.120}
HOAGLAND_2 = {**HOAGLAND_1, "Ca": 160.312}
STEINER = {"N": 168.084, "P": 30.974, "K": 273.686, "Ca": 180.351, "Mg": 48.610, "S": 112.210}
LITTLE_NITROGEN = {"N": 100, "P": 31, "K": 235, "Ca": 200, "Mg": 48.6, "S": 64}
CASES = {
    "hoagland_1": (HOAGLAND_1, FOUR),
    "hoagland_1_rounded": ({"N": 210, "P": 31, "K": 235, "Ca": 200, "Mg": 48.6, "S": 64}, FOUR),
    "hoagland_2": (
        HOAGLAND_2,
        ("calcium_nitrate", "potassium_nitrate", "monoammonium_phosphate", "magnesium_sulfate"),
    ),
    "steiner": (STEINER, FIVE),
    "hoagland_1_double_salt": (HOAGLAND_1, DOUBLE),
    "steiner_double_salt": (STEINER, DOUBLE),
    "little_nitrogen": (LITTLE_NITROGEN, FIVE),
}
PRICES = {  # money/kg, invented for the test
    "calcium_nitrate": 1.6, "calcium_nitrate_double_salt": 0.9, "potassium_nitrate": 2.0,
    "monopotassium_phosphate": 3.2, "magnesium_sulfate": 0.8, "potassium_sulfate": 1.8,
    "ammonium_nitrate": 0.7, "monoammonium_phosphate": 1.6,
}  # fmt: skip
UNLIMITED = Limits(ammonium_share=None)


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def milligrams(plain):
    return {key: quantity(value, "mg/L") for key, value in plain.items()}


def grams(recipe):
    return {name: rate.m_as("g/L") for name, rate in recipe.rates.items()}


def content(recipe):
    return {key: value.m_as("mg/L") for key, value in recipe.content.items()}


def norm(recipe):
    return float(np.linalg.norm([value.m_as("") for value in recipe.deviation.values()]))


def reached_share(recipe):
    return content(recipe)["N_ammonium"] / content(recipe)["N"]


# -- closest ---------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
def test_solve_closest_matches_published_grams_and_content(case):
    targets, salts = CASES[case]
    recipe = solve(milligrams(targets), salts)
    assert recipe.how == "closest"
    assert recipe.cost is None
    assert recipe.unique
    assert recipe.free == ()
    known = {**grams(recipe), **content(recipe), "norm": norm(recipe)}
    found = [row for row in rows("recipe_solutions.csv") if row["case"] == case]
    assert found
    for row in found:
        # Beside half of the last printed digit: catalogue shares have four decimals of a percent.
        value = float(row["value"])
        tolerance = 0.5 * 10 ** -int(row["printed_digits"]) + 1e-5 * max(value, 1)
        assert abs(known[row["quantity"]] - value) <= tolerance, row


def test_solve_little_nitrogen_says_what_is_out_why_and_what_would_help():
    recipe = solve(milligrams(LITTLE_NITROGEN), FIVE)
    unmet = {one.element: one for one in recipe.unmet}
    assert set(unmet) == {"N", "K", "Ca", "Mg", "S"}
    calcium = unmet["Ca"]
    assert calcium.reason == "coupled"
    assert calcium.wanted.m_as("mg/L") == 200
    assert [end.m_as("mg/L") for end in calcium.band] == [190, 210]
    assert calcium.reached.m_as("mg/L") == pytest.approx(128.6, abs=0.05)
    assert calcium.short.m_as("mg/L") == pytest.approx(190 - 128.6, abs=0.05)
    assert unmet["N"].reason == "excess"
    assert unmet["N"].short.m_as("mg/L") == pytest.approx(105 - 125.5, abs=0.05)
    # Calcium and potassium without nitrate come as chlorides; no salt here brings magnesium
    # alone: its sulfate is on the shelf, and its nitrate brings nitrogen.
    assert recipe.helpful == {"K": ("potassium_chloride",), "Ca": ("calcium_chloride",), "Mg": ()}
    assert recipe.over == {
        "N": ("calcium_nitrate", "potassium_nitrate"),
        "S": ("magnesium_sulfate", "potassium_sulfate"),
    }


def test_solve_salt_named_as_helpful_brings_it_nearer():
    before = solve(milligrams(LITTLE_NITROGEN), FIVE)
    for salts in before.helpful.values():
        for salt in salts:
            assert norm(solve(milligrams(LITTLE_NITROGEN), (*FIVE, salt))) < norm(before)


def test_solve_nothing_on_the_shelf_for_it_is_missing_and_named():
    recipe = solve("hoagland_1", FOUR)
    unmet = {one.element: one for one in recipe.unmet}
    assert {one.reason for one in unmet.values()} == {"missing"}
    assert recipe.helpful["Fe"] == ("iron_sulfate", "iron_edta", "iron_dtpa")
    assert recipe.helpful["B"] == ("boric_acid", "borax")
    assert recipe.deviation["Fe"].m_as("percent") == pytest.approx(-100)


def test_solve_trace_salt_is_never_named_for_a_major_element():
    recipe = solve({"S": "64 mg/L", "K": "10 mg/L"}, ["potassium_chloride"])
    # Nor is ammonium sulfate, for there is no other nitrogen.
    assert recipe.helpful == {"S": ("potassium_sulfate", "magnesium_sulfate")}


def test_solve_trace_salt_without_a_target_for_its_trace_is_left_out():
    salts = ("copper_sulfate", "potassium_chloride")
    recipe = solve({"S": "60 mg/L", "K": "100 mg/L"}, salts)
    assert recipe.left_out == ("copper_sulfate",)
    assert grams(recipe)["copper_sulfate"] == 0
    assert {one.element: one.reason for one in recipe.unmet} == {"S": "missing"}
    held = solve({"S": "60 mg/L", "K": "100 mg/L", "Cu": (None, None, "0.05 mg/L")}, salts)
    assert held.left_out == ()
    assert content(held)["Cu"] == pytest.approx(0.05)


def test_solve_product_with_few_traces_is_used_without_a_target_for_them():
    bag = {"bag": Fertiliser("bag", "One bag", {"N": 0.15, "K": 0.2, "Cu": 0.001}, "either")}
    recipe = solve({"N": "150 mg/L"}, bag)
    assert recipe.left_out == ()
    assert grams(recipe) == pytest.approx({"bag": 1.0})


def test_solve_ten_salts_reach_hoagland_1_but_not_uniquely():
    recipe = solve(milligrams(HOAGLAND_1), TEN)
    assert content(recipe) == pytest.approx({**content(recipe), **HOAGLAND_1}, rel=1e-4)
    assert recipe.unmet == ()
    assert not recipe.unique
    assert {"potassium_chloride", "magnesium_nitrate", "magnesium_sulfate"} <= set(recipe.free)
    # The targets are rounded, so a trace of chloride closes the balance of charges.
    assert grams(recipe)["potassium_chloride"] < 1e-5


def test_solve_equal_mixes_takes_the_one_with_least_chloride_and_sodium():
    salts = ["potassium_chloride", "potassium_sulfate", "iron_edta", "iron_dtpa", "iron_sulfate"]
    recipe = solve({"K": "100 mg/L", "Fe": "2 mg/L"}, salts)
    assert not recipe.unique
    assert recipe.free == tuple(sorted(salts))
    # 100 mg of K is 222.8 mg of K2SO4, 2 mg of Fe is 9.96 mg of FeSO4.7H2O.
    assert grams(recipe) == pytest.approx(
        dict.fromkeys(salts, 0) | {"potassium_sulfate": 0.22284, "iron_sulfate": 0.009956}, abs=1e-5
    )


def test_solve_salts_that_swap_ions_mole_for_mole_are_not_unique():
    # KNO3 and MgSO4 against half of Mg(NO3)2 and half of K2SO4; shares are rounded.
    salts = ("potassium_nitrate", "magnesium_sulfate", "magnesium_nitrate", "potassium_sulfate")
    recipe = solve({"N": "70 mg/L", "K": "200 mg/L", "Mg": "50 mg/L", "S": "60 mg/L"}, salts)
    assert recipe.free == tuple(sorted(salts))


def test_solve_unused_salt_that_would_spoil_leaves_the_answer_unique():
    recipe = solve({"Ca": "100 mg/L", "N": "20 mg/L"}, ["calcium_chloride", "calcium_nitrate",
                                                       "ammonium_nitrate"],
                   limits=Limits(ammonium_share=0))  # fmt: skip
    assert recipe.unique
    assert grams(recipe)["ammonium_nitrate"] == 0


def test_solve_known_grams_are_found_again_traces_as_exactly_as_majors():
    salts = (*FIVE, *TRACES)
    known = dict(zip(salts, (1.1, 0.4, 0.14, 0.5, 0.1, 0.02, 0.003, 0.002, 2e-4, 8e-5, 3e-5),
                     strict=True))  # fmt: skip
    made = content_of.floats(known, shelf(salts))
    aims = {key: value for key, value in made.items() if value > 0 and key not in ("Na", "Cl")}
    recipe = solve(milligrams(aims), salts)
    assert grams(recipe) == pytest.approx(known, rel=1e-9)
    assert recipe.unique
    prices = dict.fromkeys(salts, 1.0)
    cheapest = solve(milligrams(aims), salts, tolerance=1e-9, prices=prices)
    assert grams(cheapest) == pytest.approx(known, rel=1e-6)


def test_solve_content_is_what_the_rates_and_the_water_bring():
    water = {"Ca": "40 mg/L", "N_nitrate": "5 mg/L", "HCO3": "120 mg/L"}
    recipe = solve("steiner", (*FIVE, *TRACES), water)
    direct = content_of(recipe.rates, shelf((*FIVE, *TRACES)), water)
    assert content(recipe) == pytest.approx({key: one.m_as("mg/L") for key, one in direct.items()})
    assert {key: one.m_as("mg/L") for key, one in recipe.from_water.items()} == {
        "N": 5, "Ca": 40, "N_nitrate": 5, "HCO3": 120,
    }  # fmt: skip
    assert recipe.targets == target_set("steiner")


def test_solve_water_counts_first():
    # 40 of 200 mg/L Ca come from the water: 160.39 / 169.717 g/L of calcium nitrate at most.
    dry, wet = (solve({"Ca": "200.39 mg/L"}, ["calcium_nitrate"], water)
                for water in (None, {"Ca": "40 mg/L"}))  # fmt: skip
    assert grams(dry)["calcium_nitrate"] == pytest.approx(200.39 / 169.717)
    assert grams(wet)["calcium_nitrate"] == pytest.approx(160.39 / 169.717)


def test_solve_water_object_is_read_by_its_concentrations():
    class Water:
        concentrations = milligrams({"Ca": 40})

    one = solve({"Ca": "200 mg/L"}, ["calcium_nitrate"], Water())
    two = solve({"Ca": "200 mg/L"}, ["calcium_nitrate"], Water.concentrations)
    assert grams(one) == grams(two)


def test_solve_water_above_the_band_is_unmet_for_the_water():
    recipe = solve({"Ca": "100 mg/L", "K": "50 mg/L"}, ["calcium_chloride", "potassium_chloride"],
                   {"Ca": "150 mg/L"})  # fmt: skip
    assert [(one.element, one.reason) for one in recipe.unmet] == [("Ca", "water")]
    assert recipe.over == {"Ca": ("water",)}
    assert grams(recipe)["calcium_chloride"] == 0
    assert recipe.unmet[0].short.m_as("mg/L") == pytest.approx(105 - 150)


def test_solve_used_leaves_out_zeros():
    recipe = solve(milligrams(HOAGLAND_1), TEN)
    assert set(recipe.used) == {name for name, rate in grams(recipe).items() if rate}
    assert 0 < len(recipe.used) < len(TEN)


def test_solve_mapping_of_fertilisers_and_unknown_nitrogen_form():
    label = fertiliser_from_label("15.5-0-0", id="bag", calcium="19 %", stated_as="element")
    recipe = solve({"N": "155 mg/L"}, {"bag": label}, limits=Limits(ammonium_share=0))
    assert grams(recipe) == pytest.approx({"bag": 1.0})


def test_solve_units_of_targets_do_not_matter():
    one = solve({"Ca": "0.2 g/L"}, ["calcium_nitrate"])
    two = solve({"Ca": quantity(200, "mg/L")}, ["calcium_nitrate"])
    assert grams(one) == pytest.approx(grams(two))


def test_solve_shelf_without_anything_aimed_at_gives_nothing():
    recipe = solve({"Mg": "50 mg/L"}, ["potassium_chloride", "boric_acid"])
    assert grams(recipe) == {"potassium_chloride": 0, "boric_acid": 0}
    assert [(one.element, one.reason) for one in recipe.unmet] == [("Mg", "missing")]
    assert recipe.helpful == {"Mg": ("magnesium_sulfate", "magnesium_nitrate")}
    assert recipe.unique


# -- limits ----------------------------------------------------------------------------------

AMMONIUM_SHELF = ("monoammonium_phosphate", "ammonium_nitrate", "calcium_nitrate_double_salt",
                  "potassium_sulfate", "magnesium_sulfate")  # fmt: skip


@pytest.mark.parametrize(("share", "wanted"), [("15 %", 0.15), (0.1, 0.1)])
def test_solve_ammonium_share_is_kept_exactly(share, wanted):
    free = solve(milligrams(HOAGLAND_1), AMMONIUM_SHELF, limits=UNLIMITED)
    held = solve(milligrams(HOAGLAND_1), AMMONIUM_SHELF, limits=Limits(ammonium_share=share))
    assert reached_share(free) > 0.15
    assert reached_share(held) == pytest.approx(wanted, rel=1e-9)
    assert norm(held) > norm(free)
    assert "N_ammonium" not in {one.element for one in held.unmet}


@pytest.mark.parametrize("share", ["5 %", 0])
def test_solve_ammonium_share_below_that_of_every_salt_brings_no_nitrogen(share):
    # The double salt has least: 1.2962 of 15.5544 percent, a share of 8.3 %.
    held = solve(milligrams(HOAGLAND_1), AMMONIUM_SHELF, limits=Limits(ammonium_share=share))
    assert content(held)["N"] == 0
    assert {one.element: one.reason for one in held.unmet}["N"] == "coupled"
    assert "calcium_nitrate" in held.helpful["N"]
    assert "ammonium_sulfate" not in held.helpful["N"]


def test_solve_ammonium_is_limited_to_fifteen_percent_by_default():
    recipe = solve(milligrams(HOAGLAND_1), AMMONIUM_SHELF)
    assert reached_share(recipe) == pytest.approx(0.15, rel=1e-9)


def test_solve_ceilings_for_sodium_and_chloride_are_kept():
    salts = ("potassium_chloride", "iron_edta")
    targets = {"K": "200 mg/L", "Fe": "5 mg/L"}
    recipe = solve(targets, salts, {"Cl": "10 mg/L"},
                   limits=Limits(sodium="1 mg/L", chloride="60 mg/L"))  # fmt: skip
    # 50 mg/L of Cl in 475.533 mg/g, 1 mg/L of Na in 54.596 mg/g.
    assert grams(recipe) == pytest.approx(
        {"potassium_chloride": 50 / 475.533, "iron_edta": 1 / 54.596}, rel=1e-9
    )
    assert {one.element: one.reason for one in recipe.unmet} == {"K": "coupled", "Fe": "coupled"}
    assert "potassium_chloride" not in recipe.helpful["K"]
    assert "iron_dtpa" not in recipe.helpful["Fe"]
    assert "iron_sulfate" in recipe.helpful["Fe"]


def test_solve_target_of_zero_is_a_ceiling():
    salts = ("potassium_chloride", "potassium_nitrate")
    none = solve({"K": "100 mg/L", "Cl": "0 mg/L"}, salts)
    assert grams(none)["potassium_chloride"] == 0
    some = solve({"K": "100 mg/L", "Cl": (None, None, "10 mg/L"), "N": "20 mg/L"}, salts)
    assert content(some)["Cl"] == pytest.approx(10)
    assert "Cl" not in some.deviation


def test_solve_ceiling_that_only_a_trace_salt_strains_is_kept_exactly():
    # 0.3 mg/L of Cl in 358.265 mg/g of manganese chloride; all of the other salt gives way.
    salts = ("potassium_chloride", "manganese_chloride")
    recipe = solve({"K": "100 mg/L", "Mn": "0.5 mg/L"}, salts, limits=Limits(chloride="0.3 mg/L"))
    assert grams(recipe)["potassium_chloride"] == 0
    assert grams(recipe)["manganese_chloride"] == pytest.approx(0.3 / 358.265, rel=1e-9)


def test_solve_ceiling_of_zero_bars_even_a_trace_salt():
    salts = ("ammonium_heptamolybdate", "ammonium_sulfate", "potassium_nitrate")
    recipe = solve({"K": "100 mg/L", "S": "20 mg/L", "Mo": "0.01 mg/L"}, salts,
                   limits=Limits(ammonium_share=0))  # fmt: skip
    assert grams(recipe)["ammonium_heptamolybdate"] == 0
    assert content(recipe)["N_ammonium"] == 0
    assert recipe.helpful["Mo"] == ("sodium_molybdate",)


def test_solve_ceiling_nothing_on_the_shelf_touches_bars_helpful_salts():
    targets = {"K": "100 mg/L", "Ca": "100 mg/L", "N": "30 mg/L"}
    free = solve(targets, ["potassium_nitrate"])
    held = solve({**targets, "Cl": "0 mg/L"}, ["potassium_nitrate"])
    assert "calcium_chloride" in free.helpful["Ca"]
    assert "calcium_chloride" not in held.helpful["Ca"]


@pytest.mark.parametrize("cheapest", [False, True])
def test_solve_water_that_breaks_limits_still_gets_its_traces(cheapest):
    water = milligrams({"Na": 60, "Ca": 60, "S": 90})
    salts = ("calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate",
             "magnesium_nitrate", "potassium_sulfate", *TRACES)  # fmt: skip
    recipe = solve("potato_window", salts, water, limits=Limits(sodium="50 mg/L"),
                   prices=dict.fromkeys(salts, 2) if cheapest else None)  # fmt: skip
    unmet = {one.element: one.reason for one in recipe.unmet}
    assert unmet == {"Na": "water", "S": "water"}
    assert recipe.over["Na"] == ("water", "iron_edta")
    assert recipe.over["S"][0] == "water"
    assert grams(recipe)["potassium_sulfate"] == 0


def test_solve_water_with_too_much_ammonium_adds_none_and_no_nitrate_to_dilute_it():
    recipe = solve(milligrams(HOAGLAND_1), (*FOUR, "ammonium_sulfate"), {"N_ammonium": "80 mg/L"})
    assert grams(recipe)["ammonium_sulfate"] == 0
    assert content(recipe)["N_ammonium"] == 80
    assert content(recipe)["N"] < HOAGLAND_1["N"] + 80
    unmet = {one.element: one for one in recipe.unmet}
    assert unmet["N_ammonium"].reason == "water"
    # The ceiling there is a share of the nitrogen that was reached.
    assert unmet["N_ammonium"].wanted.m_as("mg/L") == pytest.approx(0.15 * content(recipe)["N"])


def test_solve_water_with_some_ammonium_is_balanced_by_nitrate():
    recipe = solve(milligrams(HOAGLAND_1), (*FOUR, "ammonium_nitrate"), {"N_ammonium": "20 mg/L"})
    assert reached_share(recipe) <= 0.15 * (1 + 1e-9)
    assert "N_ammonium" not in {one.element for one in recipe.unmet}


def test_solve_water_ammonium_that_no_salt_balances_is_reported():
    recipe = solve({"N": "100 mg/L", "K": "100 mg/L"}, ["potassium_sulfate", "ammonium_sulfate"],
                   {"N_ammonium": "10 mg/L"})  # fmt: skip
    assert grams(recipe)["ammonium_sulfate"] == 0
    assert {one.element: one.reason for one in recipe.unmet} == {
        "N": "coupled", "N_ammonium": "water",
    }  # fmt: skip


# -- cheapest --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "row", rows("recipe_costs.csv"), ids=lambda row: f"{row['case']}-{row['tolerance']}"
)
def test_solve_cheapest_matches_published_cost(row):
    if row["case"] == "hoagland_1_four_salts":
        targets, salts = HOAGLAND_1, FOUR
    elif row["case"] == "hoagland_1":
        targets, salts = HOAGLAND_1, tuple(PRICES)
    else:
        targets, salts = STEINER, tuple(name for name in PRICES if name != "ammonium_nitrate")
    # Shares of the catalogue are rounded, so that an exact recipe needs a hair of tolerance.
    tolerance = max(float(row["tolerance"]), 1e-5)
    recipe = solve(milligrams(targets), salts, prices=PRICES, tolerance=tolerance, limits=UNLIMITED)
    assert recipe.how == "cheapest"
    assert recipe.unmet == ()
    assert recipe.unique
    assert recipe.cost.m_as("money/m^3") == pytest.approx(
        float(row["value"]), abs=0.5 * 10 ** -int(row["printed_digits"]) + 5e-5
    )
    total = sum(PRICES[name] * rate for name, rate in grams(recipe).items())
    assert recipe.cost.m_as("money/m^3") == pytest.approx(total)
    for value in recipe.deviation.values():
        assert abs(value.m_as("")) <= tolerance + 1e-6


def test_solve_cheapest_ammonium_limit_costs_more():
    costs = []
    for share in (None, "15 %", "10 %", "5 %"):
        recipe = solve(milligrams(HOAGLAND_1), tuple(PRICES), prices=PRICES, tolerance="10 %",
                       limits=Limits(ammonium_share=share))  # fmt: skip
        costs.append(recipe.cost.m_as("money/m^3"))
        assert reached_share(recipe) <= quantity(share or 1).m_as("") * (1 + 1e-6)
    assert costs == sorted(costs)
    assert costs[0] < costs[2] < costs[3]


def test_solve_cheapest_keeps_to_the_bands_of_the_set():
    salts = (*FIVE, *TRACES)
    recipe = solve("potato_window", salts, prices=dict.fromkeys(salts, 1.0))
    for element, band in target_set("potato_window").bands.items():
        value = content(recipe)[element]
        assert band.low.m_as("mg/L") * (1 - 1e-6) <= value <= band.high.m_as("mg/L") * (1 + 1e-6)


def test_solve_cheapest_one_sided_band_takes_the_other_side_from_the_tolerance():
    recipe = solve({"K": ("50 mg/L", "100 mg/L", None)}, ["potassium_chloride"],
                   prices={"potassium_chloride": 1})  # fmt: skip
    assert content(recipe)["K"] == pytest.approx(50)


def test_solve_cheapest_two_products_at_one_price_are_not_unique():
    salt = shelf(["potassium_nitrate"])["potassium_nitrate"]
    twins = {"one": salt, "two": salt}
    recipe = solve({"K": "100 mg/L"}, twins, prices={"one": 2, "two": 2})
    assert not recipe.unique
    assert recipe.free == ("one", "two")
    dearer = solve({"K": "100 mg/L"}, twins, prices={"one": 2, "two": 2.1})
    assert dearer.unique
    assert grams(dearer)["two"] == 0


def test_solve_cheapest_prices_as_quantities_or_numbers_agree():
    plain = solve({"K": "100 mg/L"}, ["potassium_nitrate"], prices={"potassium_nitrate": 2})
    money = solve({"K": "100 mg/L"}, ["potassium_nitrate"],
                  prices={"potassium_nitrate": "0.002 money/g", "other": "x"})  # fmt: skip
    assert plain.cost.m_as("money/L") == pytest.approx(money.cost.m_as("money/L"))
    # 95 mg/L of K in 386.718 mg/g at 2 money/kg.
    assert plain.cost.m_as("money/m^3") == pytest.approx(2 * 95 / 386.718)


def test_solve_cheapest_free_of_charge_costs_nothing():
    recipe = solve(milligrams(HOAGLAND_1), FOUR, prices=dict.fromkeys(FOUR, 0), tolerance="5 %")
    assert recipe.cost.m == 0
    assert not recipe.unique


def test_solve_cheapest_infeasible_says_what_by_how_much_and_what_helps():
    with pytest.raises(NoRecipeError, match="no mix of these fertilisers") as caught:
        solve(milligrams(LITTLE_NITROGEN), FIVE, prices=PRICES)
    error = caught.value
    assert isinstance(error, InfeasibleError)
    assert [one.element for one in error.unmet] == ["Ca"]
    assert error.helpful == {"Ca": ("calcium_chloride",)}
    assert "Ca comes to 64.73 mg/L" in str(error)
    assert "calcium_chloride would help" in str(error)
    assert str(pickle.loads(pickle.dumps(error))) == str(error)  # noqa: S301
    solve(milligrams(LITTLE_NITROGEN), (*FIVE, "calcium_chloride"),
          prices=PRICES | {"calcium_chloride": 1})  # fmt: skip


def test_solve_cheapest_infeasible_too_much_names_its_causes():
    with pytest.raises(NoRecipeError) as caught:
        solve({"K": "100 mg/L", "Cl": "100 mg/L"}, ["potassium_chloride"], {"Cl": "30 mg/L"},
              prices={"potassium_chloride": 1})  # fmt: skip
    error = caught.value
    assert error.over == {"Cl": ("potassium_chloride", "water")}
    assert "Cl comes to" in str(error)
    assert "above its band up to 105 (from potassium_chloride, water)" in str(error)


def test_solve_cheapest_infeasible_without_help_says_so():
    with pytest.raises(NoRecipeError, match="no salt of the catalogue would help"):
        solve({"N_urea": "50 mg/L"}, ["potassium_nitrate"], prices={"potassium_nitrate": 1})


def test_solve_cheapest_shelf_without_anything_aimed_at():
    with pytest.raises(NoRecipeError, match="magnesium_sulfate or magnesium_nitrate would help"):
        solve({"Mg": "50 mg/L"}, ["potassium_chloride"], prices={"potassium_chloride": 1})
    recipe = solve({"Mg": "50 mg/L"}, ["potassium_chloride"], {"Mg": "50 mg/L"},
                   prices={"potassium_chloride": 1})  # fmt: skip
    assert recipe.cost.m == 0
    assert recipe.unique


def test_solve_cheapest_parted_from_its_bands_by_rounding_only_is_found():
    # K and Cl of KCl in fixed proportion, asked for 5e-7 apart with no tolerance.
    recipe = solve({"K": "52.4467 mg/L", "Cl": f"{47.5533 * (1 + 5e-7)!r} mg/L"},
                   ["potassium_chloride"], tolerance=0, prices={"potassium_chloride": 1})  # fmt: skip
    assert grams(recipe)["potassium_chloride"] == pytest.approx(0.1)


def test_solve_cheapest_water_above_a_band_adds_none_of_it():
    salts = ("calcium_nitrate", "potassium_nitrate")
    recipe = solve({"Ca": "50 mg/L", "K": "100 mg/L"}, salts, {"Ca": "80 mg/L"},
                   prices=dict.fromkeys(salts, 1))  # fmt: skip
    assert grams(recipe)["calcium_nitrate"] == 0
    assert [(one.element, one.reason) for one in recipe.unmet] == [("Ca", "water")]
    with pytest.raises(NoRecipeError):
        solve({"Ca": "50 mg/L", "N": "100 mg/L"}, ["calcium_nitrate"], {"Ca": "80 mg/L"},
              prices={"calcium_nitrate": 1})  # fmt: skip


# -- what a person may get wrong -------------------------------------------------------------


def test_solve_reports_everything_at_once():
    with pytest.raises(ArgumentError) as caught:
        solve({"N": 1, "Zz": "1 mg/L"}, ["salt", "potassium_nitrate"], {"Ca": "-1 mg/L"},
              tolerance=5, prices={"potassium_nitrate": "2 kg"})  # fmt: skip
    text = str(caught.value)
    for words in ("targets[N]", "targets[Zz]", "salt", "water[Ca]", "tolerance"):
        assert words in text


@pytest.mark.parametrize("tolerance", [5, "-1 %", "150 %"])
def test_solve_tolerance_outside_its_range_raises(tolerance):
    with pytest.raises(RangeError, match="tolerance"):
        solve("hoagland_1", FOUR, tolerance=tolerance)


@pytest.mark.parametrize(
    ("fertilisers", "words"),
    [
        ([], "is empty"),
        ({}, "is empty"),
        ("potassium_nitrate", "list of ids"),
        (3, "list of ids"),
        (["potassium_nitrate", "saltpetre"], "saltpetre"),
        ({"own": "potassium_nitrate"}, "is no Fertiliser"),
    ],
)
def test_solve_unusable_shelf_raises(fertilisers, words):
    with pytest.raises(ArgumentError, match=words):
        solve("hoagland_1", fertilisers)


def test_solve_price_missing_names_the_salt():
    with pytest.raises(ArgumentError, match=r"prices\[magnesium_sulfate\]: is missing"):
        solve("hoagland_1", FOUR, prices=dict.fromkeys(FOUR[:3], 1))


@pytest.mark.parametrize(
    ("price", "error"),
    [
        (-1, RangeError),
        ("2 kg", UnitError),
        (True, UnitError),
        (quantity([1, 2], "money/kg"), ArgumentError),
    ],
)
def test_solve_unusable_price_raises(price, error):
    with pytest.raises(error, match=r"prices\[potassium_nitrate\]"):
        solve({"K": "1 mg/L"}, ["potassium_nitrate"], prices={"potassium_nitrate": price})


def test_solve_prices_that_are_no_mapping_raise():
    with pytest.raises(ArgumentError, match="must map ids to prices"):
        solve("hoagland_1", FOUR, prices=[1, 2, 3, 4])


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ("15 %", "is no Limits"),
        (Limits(ammonium_share=15), r"limits\.ammonium_share"),
        (Limits(sodium=50), r"limits\.sodium"),
        (Limits(chloride="-1 mg/L"), r"limits\.chloride"),
        (Limits(chloride=quantity([1, 2], "mg/L")), "not an array"),
    ],
)
def test_solve_unusable_limits_raise(limits, words):
    with pytest.raises(ArgumentError, match=words):
        solve("hoagland_1", FOUR, limits=limits)


def test_solve_tolerance_must_be_given():
    with pytest.raises(ArgumentError, match="tolerance"):
        solve("hoagland_1", FOUR, tolerance=None)


@pytest.mark.parametrize(
    ("water", "words"),
    [
        ({"Xx": "1 mg/L"}, "not a known key"),
        ({"Ca": 40}, "bare number"),
        ({"Ca": quantity([1.0, 2.0], "mg/L")}, "not an array"),
        ("tap", "must map"),
    ],
)
def test_solve_unusable_water_raises(water, words):
    with pytest.raises(ArgumentError, match=words):
        solve("hoagland_1", FOUR, water)


def test_solve_only_ceilings_raises():
    with pytest.raises(ArgumentError, match="no target above zero"):
        solve({"Cl": (None, None, "10 mg/L")}, FOUR)


def test_solve_unknown_set_raises():
    with pytest.raises(ArgumentError, match="potato_window"):
        solve("hoagland", FOUR)


# -- properties ------------------------------------------------------------------------------

AIMS = st.fixed_dictionaries(
    {key: st.floats(5, 300) for key in ("N", "P", "K", "Ca", "Mg", "S")},
)


@given(AIMS, st.permutations(TEN), st.sampled_from([None, 0.15, 0.05]))
@settings(max_examples=30, deadline=None)
def test_solve_order_of_salts_does_not_matter(aims, order, share):
    limits = Limits(ammonium_share=share)
    one, two = (solve(milligrams(aims), salts, limits=limits) for salts in (TEN, order))
    assert grams(one) == grams(two)
    assert one.free == two.free


@given(AIMS, st.floats(0.01, 5))
@settings(max_examples=30, deadline=None)
def test_solve_scaling_the_targets_scales_the_rates(aims, factor):
    own = targets_from(milligrams(aims))
    one, two = solve(own, FIVE), solve(scaled(own, factor), FIVE)
    for name, rate in grams(one).items():
        assert grams(two)[name] == pytest.approx(factor * rate, rel=1e-6, abs=1e-8)


@given(AIMS, st.sampled_from([None, 0.15, 0.02]))
@settings(max_examples=30, deadline=None)
def test_solve_rates_are_never_negative_and_limits_hold(aims, share):
    recipe = solve(milligrams(aims), TEN, limits=Limits(ammonium_share=share))
    assert all(rate >= 0 for rate in grams(recipe).values())
    if share is not None and content(recipe)["N"] > 0:
        assert reached_share(recipe) <= share * (1 + 1e-6)  # what old least squares leave


@given(AIMS, st.sampled_from(DOUBLE), st.floats(-0.2, 0.2))
@settings(max_examples=60, deadline=None)
def test_solve_closest_is_no_worse_than_with_one_rate_changed(aims, salt, change):
    recipe = solve(milligrams(aims), DOUBLE, limits=UNLIMITED)
    rates = grams(recipe)
    rates[salt] = max(rates[salt] + change, 0.0)
    other = content_of.floats(rates, shelf(DOUBLE))
    misfit = np.linalg.norm([other[key] / value - 1 for key, value in aims.items()])
    assert norm(recipe) <= misfit + 1e-12


@given(AIMS, st.floats(0.01, 0.3), st.floats(0.01, 0.3))
@settings(max_examples=30, deadline=None)
def test_solve_cheapest_never_rises_with_the_tolerance(aims, one, two):
    costs = []
    for tolerance in sorted((one, two)):
        try:
            recipe = solve(milligrams(aims), TEN, tolerance=tolerance, prices=dict.fromkeys(TEN, 1))
        except NoRecipeError:
            costs.append(np.inf)
        else:
            assert recipe.unmet == ()
            costs.append(recipe.cost.m)
    assert costs[1] <= costs[0] * (1 + 1e-6)


def test_solve_fertiliser_of_ones_own_is_used():
    own = Fertiliser("ash", "Wood ash leach", {"K": 0.3}, "either")
    recipe = solve({"K": "30 mg/L"}, {"ash": own})
    assert grams(recipe) == pytest.approx({"ash": 0.1})
