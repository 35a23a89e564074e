from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.nutrients.composition.fertilisers import content_of, fertiliser_from_formula, shelf
from scenariokit.nutrients.concentrate.concentrates import plan_stocks
from scenariokit.nutrients.concentrate.stock_dosing import (
    dilution_from_ratio,
    tank_dose,
    weighing_notes,
)


def recipe(name="hoagland_1"):
    return {salt: quantity(rate, "g/L") for salt, rate in catalog.recipes()[name].salts.items()}


@pytest.mark.parametrize(("counted", "expected"), [("in all", 100), ("added", 101)])
def test_dilution_from_ratio_both_ways_of_counting(counted, expected):
    assert dilution_from_ratio(100, counted).m_as("") == expected


def test_dilution_from_ratio_array_and_errors():
    np.testing.assert_allclose(dilution_from_ratio([64, 128], "added").m_as(""), [65, 129])
    with pytest.raises(ArgumentError, match="in all"):
        dilution_from_ratio(100, "extra")
    with pytest.raises(RangeError, match="parts"):
        dilution_from_ratio(0.5)
    with pytest.raises(UnitError, match="parts"):
        dilution_from_ratio("100 L")


def test_tank_dose_full_strength_worked_case():
    # 200 L at 1:100 of two stocks: 2 L of each, 196 L of water.
    dose = tank_dose(plan_stocks(recipe()), "200 L")
    assert dose.each.m_as("L") == pytest.approx(2)
    assert dose.water.m_as("L") == pytest.approx(196)
    assert dose.content["N"].m_as("mg/L") == pytest.approx(210.10, abs=0.01)
    assert dose.content["Ca"].m_as("mg/L") == pytest.approx(200.39, abs=0.01)
    assert dose.apart == {}


def test_tank_dose_half_strength_worked_case():
    dose = tank_dose(plan_stocks(recipe()), "200 L", strength=0.5)
    assert dose.each.m_as("L") == pytest.approx(1)
    assert dose.water.m_as("L") == pytest.approx(198)
    assert dose.content["K"].m_as("mg/L") == pytest.approx(234.59 / 2, abs=0.01)


def test_tank_dose_third_stock_takes_its_own_part():
    dose = tank_dose(plan_stocks(recipe(), stocks=3), "100 L")
    assert dose.water.m_as("L") == pytest.approx(97)


def test_tank_dose_volume_unit_and_array():
    plan = plan_stocks(recipe())
    one = tank_dose(plan, quantity(200, "L").to("gal")).each.m_as("L")
    many = tank_dose(plan, quantity([100.0, 200.0], "L")).each.m_as("L")
    assert one == pytest.approx(2)
    np.testing.assert_allclose(many, [1, 2])


def test_tank_dose_acid_is_listed_apart_and_counted():
    acids = shelf() | {"nitric_acid": fertiliser_from_formula("HNO3", id="nitric_acid")}
    plan = plan_stocks({"nitric_acid": "0.1 g/L", "potassium_nitrate": "0.5 g/L"}, acids)
    dose = tank_dose(plan, "100 L", strength=0.5)
    assert dose.apart["nitric_acid"].m_as("g") == pytest.approx(5)
    # (0.1 x 22.229 % + 0.5 x 13.854 %) x 1000 / 2
    assert dose.content["N"].m_as("mg/L") == pytest.approx(45.75, abs=0.01)


def test_tank_dose_bad_values_raise():
    plan = plan_stocks(recipe())
    with pytest.raises(UnitError, match="volume"):
        tank_dose(plan, 200)
    with pytest.raises(RangeError, match="plain water"):
        tank_dose(plan, "200 L", strength=0)
    with pytest.raises(InfeasibleError, match="stocks"):
        tank_dose(plan_stocks(recipe(), dilution=3), "10 L", strength=2)


@given(
    name=st.sampled_from(["hoagland_1", "hoagland_2", "steiner"]),
    dilution=st.floats(5, 120), stocks=st.sampled_from([2, 3]), strength=st.floats(0.05, 1.5),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_tank_dose_elements_are_the_target(name, dilution, stocks, strength):
    plan = plan_stocks(recipe(name), dilution=dilution, stocks=stocks)
    dose = tank_dose(plan, "100 L", strength=strength)
    target = content_of(recipe(name), shelf())
    for key, value in target.items():
        assert dose.content[key].m == pytest.approx(value.m * strength, rel=1e-12)
    parts = dose.each.m_as("L") * len(plan.stocks) + dose.water.m_as("L")
    assert parts == pytest.approx(100, rel=1e-12)


def test_weighing_notes_worked_case():
    # 8 mg: times 100 is 0.8 g, five times 0.1 g or more; 1000 / 100 = 10 mL.
    plan = plan_stocks(recipe(), volume="1 L")
    notes = weighing_notes(plan)
    assert len(notes) == 3
    assert (
        "B: 8 mg of copper sulfate pentahydrate: make 0.8 g up to 1 L with water, label it, "
        "take 10 mL"
    ) in notes


def test_weighing_notes_exact_power_takes_no_step_too_many():
    # 50 mg times 10 is just 0.5 g.
    plan = plan_stocks({"boric_acid": "0.0005 g/L"}, volume="1 L")
    assert "make 0.5 g up to 1 L with water, label it, take 100 mL" in weighing_notes(plan)[0]


def test_weighing_notes_finer_scales_or_more_stock_need_fewer():
    small = plan_stocks(recipe(), volume="1 L")
    assert weighing_notes(small, smallest="0.001 g") == []
    assert weighing_notes(plan_stocks(recipe(), volume="100 L")) == []


def test_weighing_notes_hopelessly_little_asks_for_more_stock():
    plan = plan_stocks({"sodium_molybdate": "0.000001 g/L"}, volume="1 L")
    assert "make more of this stock" in weighing_notes(plan)[0]


def test_weighing_notes_bad_values_raise():
    plan = plan_stocks(recipe())
    with pytest.raises(RangeError, match="no scales"):
        weighing_notes(plan, smallest="0 g")
    with pytest.raises(RangeError, match="one number"):
        weighing_notes(plan, smallest=quantity([0.1, 1.0], "g"))
    with pytest.raises(UnitError, match="smallest"):
        weighing_notes(plan, smallest="0.1 L")


@given(rate=st.floats(1e-5, 5e-3), smallest=st.floats(0.001, 1))
@settings(max_examples=60)
def test_weighing_notes_pre_stock_holds_the_amount_wanted(rate, smallest):
    plan = plan_stocks({"boric_acid": quantity(rate, "g/L")}, volume="1 L")
    grams = rate * 100
    notes = weighing_notes(plan, smallest=quantity(smallest, "g"))
    assert len(notes) == (grams < smallest)
    if notes and "take" in notes[0]:
        words = notes[0].split()
        place = words.index("make")
        scale = {"mg": 1e-3, "g": 1.0}[words[place + 2]]
        dissolved, taken = float(words[place + 1]) * scale, float(words[-2])
        assert dissolved * taken / 1000 == pytest.approx(grams, rel=1e-3)
        assert dissolved >= 5 * smallest * 0.999
