"""Nitrate left in the tank: masses, guidelines, soil that can use it."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.balance import leftover
from scenariokit.nutrients.balance.leftover import (
    DRINKING_WATER,
    dilution_to_drinking_water,
    nitrate_left,
    soil_area_for,
)

with (Path(__file__).parents[2] / "published" / "crop_uptake.csv").open(encoding="utf-8") as file:
    PUBLISHED = list(csv.DictReader(file))
FULL = "210.1 mg/L"
"""Nitrate of Hoagland's solution 1 at full strength, as N."""


def rows(name):
    return [row for row in PUBLISHED if row["quantity"] == name]


# -- drinking water -------------------------------------------------------------------------


def test_drinking_water_guidelines_as_nitrogen():
    # 50 mg/L as NO3 is 11.30 mg/L as N, computed.
    assert DRINKING_WATER["WHO"] == pytest.approx(11.30, abs=0.005)
    assert DRINKING_WATER["US EPA"] == 10


@pytest.mark.parametrize("row", rows("dilution"), ids=lambda row: row["crop"])
def test_dilution_to_drinking_water_spent_solution(row):
    found = dilution_to_drinking_water(quantity(float(row["high"]), "mg/L"), row["crop"])
    assert found.m_as("") == pytest.approx(float(row["value"]), abs=0.05)


def test_dilution_to_drinking_water_pure_water_needs_none():
    assert dilution_to_drinking_water("0 mg/L").m == 1


def test_dilution_to_drinking_water_array_is_its_members():
    strengths = np.array([5.0, 100.0, 210.1])
    found = dilution_to_drinking_water(quantity(strengths, "mg/L"), "US EPA").m_as("")
    np.testing.assert_allclose(found, [1, 10, 21.01])


def test_dilution_to_drinking_water_unknown_guideline_lists_those_there_are():
    with pytest.raises(ArgumentError, match=r"guideline = XYZ.*WHO, US EPA"):
        dilution_to_drinking_water(FULL, "XYZ")


@pytest.mark.parametrize(("value", "kind"), [(210.1, UnitError), ("-1 mg/L", RangeError)])
def test_dilution_to_drinking_water_bad_value_raises(value, kind):
    with pytest.raises(kind):
        dilution_to_drinking_water(value)


# -- soil -----------------------------------------------------------------------------------


def test_soil_area_for_worked_case():
    # By hand: 150 kg/ha is 15 g/m², so 21 g serve 1.4 m².
    assert soil_area_for("21 g").m_as("m^2") == pytest.approx(1.4)
    assert soil_area_for("21 g", "150 kg/ha").m_as("m^2") == pytest.approx(1.4)


def test_soil_area_for_other_units_same_result():
    assert soil_area_for("0.021 kg", "15 g/m^2").m_as("m^2") == pytest.approx(1.4)


def test_soil_area_for_zero_rate_says_why():
    with pytest.raises(RangeError, match="no area takes up nitrogen"):
        soil_area_for("21 g", "0 kg/ha")


@pytest.mark.parametrize(("mass", "rate"), [(21, "150 kg/ha"), ("21 g", 150), ("21 g", "150 kg")])
def test_soil_area_for_bad_unit_raises(mass, rate):
    with pytest.raises(UnitError):
        soil_area_for(mass, rate)


@given(grams=st.floats(0, 1e5), rate=st.floats(1, 500))
@settings(max_examples=50)
def test_soil_area_for_that_area_at_that_rate_takes_the_nitrogen(grams, rate):
    area = soil_area_for(quantity(grams, "g"), quantity(rate, "kg/ha"))
    assert (area * quantity(rate, "kg/ha")).m_as("g") == pytest.approx(grams)


# -- nitrate_left ---------------------------------------------------------------------------


def test_nitrate_left_hundred_litres_of_full_solution():
    (row,) = rows("nitrogen_left")
    strength, litres = quantity(float(row["low"]), "mg/L"), quantity(float(row["high"]), "L")
    found = nitrate_left(strength, litres)
    assert found.nitrogen.m_as("g") == pytest.approx(float(row["value"]), abs=0.05)
    assert found.nitrate.m_as("g") == pytest.approx(93.0, abs=0.05)  # 930 mg/L as NO3, computed
    assert found.dilution.m_as("") == pytest.approx(18.6, abs=0.05)
    assert found.soil_area.m_as("m^2") == pytest.approx(1.40, abs=0.005)


@pytest.mark.parametrize("function", [nitrate_left, dilution_to_drinking_water, soil_area_for])
def test_nitrate_left_caution_stands_with_the_number(function):
    text = " ".join(function.__doc__.split())
    assert "Warnings" in text
    assert "to a drain, ditch or well" in text
    assert "Local rules apply" in text


def test_nitrate_left_result_carries_the_caution():
    found = nitrate_left(FULL, "100 L")
    assert found.caution == leftover.CAUTION
    assert "never to a drain, ditch or well" in found.caution
    assert "Local rules" in found.caution


def test_nitrate_left_nothing_left_is_zero():
    found = nitrate_left(FULL, "0 L")
    assert (found.nitrogen.m, found.nitrate.m, found.soil_area.m) == (0, 0, 0)
    assert found.dilution.m > 1


def test_nitrate_left_array_is_its_members():
    found = nitrate_left(FULL, quantity([0.0, 50.0, 100.0], "L"))
    np.testing.assert_allclose(found.nitrogen.m_as("g"), [0, 10.505, 21.01])


def test_nitrate_left_bad_arguments_are_all_named():
    with pytest.raises(UnitError) as caught:
        nitrate_left(210.1, "100 kg")
    assert [problem.field for problem in caught.value.problems] == ["concentration", "volume"]


@given(strength=st.floats(0, 2000), litres=st.floats(0, 1e5), fold=st.floats(1, 50))
@settings(max_examples=50)
def test_nitrate_left_diluting_changes_no_mass(strength, litres, fold):
    strong = nitrate_left(quantity(strength, "mg/L"), quantity(litres, "L"))
    thin = nitrate_left(quantity(strength / fold, "mg/L"), quantity(litres * fold, "L"))
    assert thin.nitrogen.m == pytest.approx(strong.nitrogen.m)
    assert thin.soil_area.m == pytest.approx(strong.soil_area.m)
    assert thin.dilution.m <= strong.dilution.m
