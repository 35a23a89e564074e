from __future__ import annotations

import csv
import dataclasses
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.nutrients.composition.fertilisers import (
    Fertiliser,
    fertiliser_from_formula,
    fertiliser_from_label,
    shelf,
)
from scenariokit.nutrients.concentrate.concentrates import most_concentrated, plan_stocks

PUBLISHED = Path(__file__).parents[2] / "published"


def rows(quantity_name):
    with (PUBLISHED / "stock_amounts.csv").open(newline="", encoding="utf-8") as file:
        return [row for row in csv.DictReader(file) if row["quantity"] == quantity_name]


def recipe(name="hoagland_1"):
    return {salt: quantity(rate, "g/L") for salt, rate in catalog.recipes()[name].salts.items()}


def held(plan):
    """Return grams of each fertiliser in a litre of ready solution, from the stocks."""
    total = {}
    for stock in plan.stocks:
        for name, strength in stock.grams_per_litre.items():
            total[name] = total.get(name, 0.0) + strength.m_as("g/L") / plan.dilution
    return total


@pytest.mark.parametrize(
    "row", rows("strength"), ids=lambda row: f"{row['dilution']}-{row['item']}"
)
def test_plan_stocks_hoagland_strength_worked_case(row):
    plan = plan_stocks(recipe(), dilution=float(row["dilution"]))
    found = held(plan)[row["item"]] * plan.dilution
    assert found == pytest.approx(float(row["value"]), abs=0.0051)


@pytest.mark.parametrize("row", rows("weighed for 10 L"), ids=lambda row: row["item"])
def test_plan_stocks_hoagland_weighing_worked_case(row):
    plan = plan_stocks(recipe())
    [found] = [stock.grams[row["item"]] for stock in plan.stocks if row["item"] in stock.grams]
    assert found.m_as("g") == pytest.approx(float(row["value"]), abs=0.051)


def test_plan_stocks_hoagland_two_stocks_placed_by_rule():
    plan = plan_stocks(recipe())
    first, second = plan.stocks
    assert (first.letter, first.name) == ("A", "calcium stock")
    assert set(first.grams) == {"calcium_nitrate", "iron_edta"}
    assert (second.letter, second.name) == ("B", "sulfate and phosphate stock")
    assert "boric_acid" in second.grams
    assert "potassium_nitrate" in second.grams
    assert plan.notes == ()
    assert plan.serves.m_as("L") == 1000
    assert plan.stock("B") is second
    assert "Never mix the stocks undiluted" in plan.cautions[0]


def test_plan_stocks_three_stocks_micronutrients_apart_chelate_with_calcium():
    plan = plan_stocks(recipe(), stocks=3)
    third = plan.stock("C")
    assert third.name == "micronutrient stock"
    assert set(third.grams) == {
        "boric_acid", "manganese_chloride", "zinc_sulfate", "copper_sulfate", "sodium_molybdate",
    }  # fmt: skip
    assert "iron_edta" in plan.stock("A").grams


def test_plan_stocks_unknown_letter_lists_letters():
    with pytest.raises(KeyError, match="A, B"):
        plan_stocks(recipe()).stock("C")


def test_plan_stocks_crowded_stock_gives_half_of_the_nitrate_to_a():
    # K 1.2 and SO4 0.4 mol/L at 200 times: potassium sulfate beyond 0.7 of saturation.
    plan = plan_stocks(recipe(), dilution=200)
    halves = [plan.stock(letter).grams_per_litre["potassium_nitrate"].m for letter in "AB"]
    assert halves == pytest.approx([50.551, 50.551])
    assert "Half of the potassium nitrate stands in A" in plan.notes[0]
    [near] = [row for row in plan.stock("B").checks if row.together]
    assert near.salt == "potassium_sulfate"
    assert near.ok is True
    assert 0.7 < near.held_share < 1
    assert near.strength.m == pytest.approx(near.held_share * near.limit.m)
    assert any("potassium sulfate to about" in note for note in plan.notes)


def test_plan_stocks_checks_limit_is_solubility_in_the_water_of_the_stock():
    # 50 g/L leaves 0.975 kg of water, which holds 214 g/kg of it at 10 degC.
    [check] = plan_stocks({"potassium_nitrate": "0.5 g/L"}).stocks[0].checks
    assert check.salt == "potassium_nitrate"
    assert check.strength.m_as("g/L") == pytest.approx(50)
    assert check.limit.m_as("g/L") == pytest.approx(214 * 0.975)
    assert check.held_share == pytest.approx(50 / (214 * 0.975))
    assert check.ok is True
    assert check.together is False


def test_plan_stocks_all_in_one_says_what_settles():
    message = (
        r"calcium and sulfate settle as gypsum; at most 34\.5 g/L of gypsum.*"
        r"The greatest dilution that works is 3"
    )
    with pytest.raises(InfeasibleError, match=message):
        plan_stocks(recipe(), stocks=1)


def test_plan_stocks_one_stock_serves_a_recipe_that_bears_it():
    [stock] = plan_stocks({"potassium_nitrate": "0.5 g/L"}, stocks=1).stocks
    assert (stock.letter, stock.name) == ("A", "stock of potassium nitrate")


def test_plan_stocks_weak_mixed_stock_is_named_so():
    plan = plan_stocks({"calcium_nitrate": "0.1 g/L", "magnesium_sulfate": "0.1 g/L"},
                       stocks=1, dilution=20)  # fmt: skip
    assert plan.stocks[0].name == "mixed stock A"


def test_plan_stocks_too_strong_names_salt_strength_limit_and_way_out():
    rates = {"potassium_sulfate": "1 g/L"}
    message = (
        r"Stock B: potassium sulfate at 90\.0 g/L would not stay dissolved: at 10 °C a litre holds "
        r"82\.0 g, of which the margin of 0\.7 allows 57\.4 g\. The greatest dilution that works "
        r"is 58, 1 part in 58"
    )
    with pytest.raises(InfeasibleError, match=message):
        plan_stocks(rates, dilution=90)
    assert most_concentrated(rates) == 58


def test_plan_stocks_common_ions_beyond_saturation_are_refused():
    with pytest.raises(InfeasibleError, match=r"drop potassium sulfate at 10 °C, at 1\.\d\d of"):
        plan_stocks(recipe("steiner"), dilution=200)


def test_plan_stocks_no_room_for_water_is_refused():
    with pytest.raises(InfeasibleError, match="no room for water"):
        plan_stocks({"calcium_nitrate": "20 g/L"}, dilution=110)


def test_plan_stocks_no_dilution_works_says_so():
    rates = {"calcium_nitrate": "50 g/L", "magnesium_sulfate": "50 g/L"}
    with pytest.raises(InfeasibleError, match="No dilution works"):
        plan_stocks(rates, stocks=1)
    with pytest.raises(InfeasibleError, match="most_concentrated: no dilution works: Stock A"):
        most_concentrated(rates, stocks=1)


def test_plan_stocks_fewer_parts_than_stocks_is_infeasible():
    with pytest.raises(InfeasibleError, match="stocks alone are more"):
        plan_stocks(recipe(), dilution=1.5)


def test_plan_stocks_colder_store_refuses_what_a_warm_one_holds():
    rates = {"potassium_nitrate": "1.5 g/L"}
    assert plan_stocks(rates, stocks=1, coldest="20 degC").stocks
    with pytest.raises(InfeasibleError, match="at 0 °C"):
        plan_stocks(rates, stocks=1, coldest="0 degC")


def test_plan_stocks_assigned_letter_is_kept():
    plan = plan_stocks(recipe(), assign={"potassium_nitrate": "A", "boric_acid": "A"})
    assert {"potassium_nitrate", "boric_acid"} <= set(plan.stock("A").grams)
    assert "potassium_nitrate" not in plan.stock("B").grams


def test_plan_stocks_assigned_calcium_with_sulfate_is_refused():
    with pytest.raises(InfeasibleError, match=r"Stock A: Calcium nitrate.*gypsum"):
        plan_stocks(recipe(), assign={"magnesium_sulfate": "A"})


def test_plan_stocks_plain_iron_needs_the_third_stock():
    rates = {"iron_sulfate": "0.01 g/L", "monopotassium_phosphate": "0.136 g/L"}
    with pytest.raises(InfeasibleError, match="use a chelate or a third stock"):
        plan_stocks(rates)
    assert set(plan_stocks(rates, stocks=3).stock("C").grams) == {"iron_sulfate"}


def test_plan_stocks_acid_goes_into_no_stock_but_is_not_lost():
    acid = fertiliser_from_formula("HNO3", id="nitric_acid", label="Nitric acid")
    plan = plan_stocks(
        {"nitric_acid": "0.1 g/L", "potassium_nitrate": "0.5 g/L"}, shelf() | {"nitric_acid": acid}
    )
    assert list(plan.apart) == ["nitric_acid"]
    assert plan.apart["nitric_acid"].m_as("g/L") == 0.1
    assert all("nitric_acid" not in stock.grams for stock in plan.stocks)
    assert "acid into water" in plan.notes[-1]


def test_plan_stocks_unknown_solubility_is_noted_not_passed_over():
    label = fertiliser_from_label("12-12-12", id="bag", label="Own bag", stock="either")
    plan = plan_stocks({"bag": "1 g/L"}, {"bag": label})
    [check] = plan.stocks[0].checks
    assert (check.limit, check.held_share, check.ok) == (None, None, None)
    assert "solubility of own bag is not known here" in plan.notes[0]


def test_plan_stocks_zero_rate_is_left_out():
    plan = plan_stocks({"potassium_nitrate": "0.5 g/L", "potassium_sulfate": "0 g/L"})
    assert list(plan.rates) == ["potassium_nitrate"]


def test_plan_stocks_us_units_give_the_same_plan():
    us = plan_stocks({"potassium_nitrate": quantity(0.5, "g/L").to("oz/gal")},
                     volume=quantity(10, "L").to("gal"), coldest="50 degF")  # fmt: skip
    metric = plan_stocks({"potassium_nitrate": "0.5 g/L"})
    assert us.stock("B").grams["potassium_nitrate"].m_as("g") == pytest.approx(
        metric.stock("B").grams["potassium_nitrate"].m_as("g")
    )
    assert us.coldest.m_as("degC") == pytest.approx(10)


def test_plan_stocks_make_up_least_soluble_first_traces_last():
    order = plan_stocks(recipe()).stock("B").order
    assert order[0].startswith("1. Fill 6.67 L of warm water")
    assert "potassium nitrate" in order[1]
    assert "magnesium sulfate" in order[3]
    assert "molybdate" in order[-3]
    assert "10 L mark" in order[-2]
    assert "label: stock B" in order[-1]


def test_plan_stocks_content_of_stock_is_target_times_dilution():
    plan = plan_stocks(recipe(), stocks=3)
    found = sum(stock.content.get("K", quantity(0, "mg/L")).m_as("mg/L") for stock in plan.stocks)
    assert found / 100 == pytest.approx(234.59, abs=0.01)


def test_plan_stocks_every_bad_argument_in_one_message():
    with pytest.raises(ArgumentError) as caught:
        plan_stocks({"potash": "1 g/L", "potassium_nitrate": 1}, dilution=0, volume="0 L",
                    coldest="40 degC", margin=2)  # fmt: skip
    assert {problem.field for problem in caught.value.problems} == {
        "rates[potash]", "rates[potassium_nitrate]", "dilution", "volume", "coldest", "margin",
    }  # fmt: skip


@pytest.mark.parametrize("stocks", [0, 4, 2.5, True, "2", None])
def test_plan_stocks_number_of_stocks_checked(stocks):
    with pytest.raises(ArgumentError, match="1, 2 or 3"):
        plan_stocks(recipe(), stocks=stocks)


def test_plan_stocks_bad_assignment_raises_with_all_problems():
    acid = shelf() | {"acid": fertiliser_from_formula("HNO3", id="acid")}
    rates = {"potassium_nitrate": "0.5 g/L", "acid": "0.1 g/L"}
    with pytest.raises(ArgumentError) as caught:
        plan_stocks(rates, acid, assign={"borax": "A", "potassium_nitrate": "C", "acid": "A"})
    reasons = [problem.reason for problem in caught.value.problems]
    assert reasons == [
        "is not in the recipe", "is not a stock of this plan", "is an acid, which goes into no stock",
    ]  # fmt: skip
    with pytest.raises(ArgumentError, match="map fertilisers to letters"):
        plan_stocks(rates, acid, assign=["A"])


def test_plan_stocks_nothing_to_dissolve_raises():
    with pytest.raises(ArgumentError, match="nothing to dissolve"):
        plan_stocks({"potassium_nitrate": "0 g/L"})


def test_plan_stocks_bare_rate_array_and_zero_margin_raise():
    with pytest.raises(UnitError, match="potassium_nitrate"):
        plan_stocks({"potassium_nitrate": 0.5})
    with pytest.raises(RangeError, match="one number"):
        plan_stocks({"potassium_nitrate": quantity([0.5, 1.0], "g/L")})
    with pytest.raises(RangeError, match="margin"):
        plan_stocks(recipe(), margin=0)


def test_plan_stocks_plan_cannot_be_changed():
    plan = plan_stocks(recipe())
    with pytest.raises(dataclasses.FrozenInstanceError):
        plan.dilution = 1
    with pytest.raises(TypeError):
        plan.stocks[0].grams["x"] = 1


def test_most_concentrated_single_salt_worked_case():
    # F = m S / (r + m S v r) with S 214 g/kg, m 0.7, v 0.5 L/kg, r 1 g/L: 149.8 / 1.0749 = 139.4;
    # half of it goes into each of two stocks: 149.8 / 0.53745 = 278.7.
    assert most_concentrated({"potassium_nitrate": "1 g/L"}, stocks=1) == 139
    assert most_concentrated({"potassium_nitrate": "1 g/L"}) == 278


def test_most_concentrated_very_soluble_and_weak_reaches_the_greatest():
    assert most_concentrated({"calcium_nitrate": "0.001 g/L"}) == 10_000


@pytest.mark.parametrize("name", ["hoagland_1", "hoagland_2", "steiner"])
def test_most_concentrated_is_the_last_that_works(name):
    greatest = most_concentrated(recipe(name))
    assert plan_stocks(recipe(name), dilution=greatest)
    with pytest.raises(InfeasibleError, match=f"dilution that works is {greatest},"):
        plan_stocks(recipe(name), dilution=greatest + 1)


def test_most_concentrated_warmer_store_allows_more():
    found = [most_concentrated(recipe("steiner"), coldest=f"{t} degC") for t in (0, 10, 20)]
    assert found == sorted(found)
    assert found[0] < found[2]
    assert 100 < found[1] < 200


MACRO = ["calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate", "magnesium_sulfate",
         "potassium_sulfate", "ammonium_nitrate", "zinc_sulfate", "iron_dtpa"]  # fmt: skip


@given(
    rates=st.dictionaries(st.sampled_from(MACRO), st.floats(1e-6, 0.5), min_size=1),
    dilution=st.floats(3, 150),
    stocks=st.sampled_from([2, 3]),
    volume=st.floats(0.1, 1000),
)
@settings(max_examples=60, deadline=None)
def test_plan_stocks_mass_in_is_mass_in_stocks(rates, dilution, stocks, volume):
    try:
        plan = plan_stocks({name: quantity(rate, "g/L") for name, rate in rates.items()},
                           dilution=dilution, stocks=stocks,
                           volume=quantity(volume, "L"))  # fmt: skip
    except InfeasibleError:
        return
    assert held(plan) == pytest.approx(rates, rel=1e-12)
    weighed = sum(grams.m_as("g") for stock in plan.stocks for grams in stock.grams.values())
    assert weighed == pytest.approx(sum(rates.values()) * dilution * volume, rel=1e-12)
    assert all(check.ok for stock in plan.stocks for check in stock.checks)


def test_plan_stocks_own_fertiliser_of_either_kind_goes_to_b():
    own = Fertiliser("own", "Own", {"K": 0.38, "N_nitrate": 0.13}, "either", formula="KNO3")
    assert "own" in plan_stocks({"own": "0.5 g/L"}, {"own": own}).stock("B").grams
