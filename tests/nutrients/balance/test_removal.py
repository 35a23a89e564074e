from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import nutrients, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError

TUBERS = {"N": "3.2 g/kg", "P": "0.5 g/kg", "K": "4.8 g/kg"}
"""Potato: food tables, offtake tables and tuber analyses, as a working set."""


def test_removed_ten_kilograms_of_tubers_worked_case():
    # Computed by hand: 32 g N, 5 g P, 48 g K in 10 kg.
    found = nutrients.removed(TUBERS, "10 kg/m^2")
    assert [found[name].m_as("g/m^2") for name in "NPK"] == pytest.approx([32, 5, 48])


def test_removed_from_offtake_per_tonne_as_oxides():
    # Potash advisory offtake (read): 1.0 kg P2O5, 5.8 K2O, 0.3 MgO per tonne; elements computed.
    expected = {
        "P": ("P2O5", "1.0 kg/t", 0.436),
        "K": ("K2O", "5.8 kg/t", 4.815),
        "Mg": ("MgO", "0.3 kg/t", 0.181),
    }
    for element, (oxide, value, grams) in expected.items():
        content = nutrients.element_from_oxide(value, oxide)
        found = nutrients.removed({element: content}, "1 kg/m^2")[element]
        assert found.m_as("g/m^2") == pytest.approx(grams, abs=5.1e-4)


@pytest.mark.parametrize("content", [3.2, "3.2 g/kg", quantity(0.32, "percent")])
def test_removed_object_with_removal_accepts_plain_grams(content):
    crop = SimpleNamespace(removal={"N": content})
    assert nutrients.removed(crop, "5 kg/m^2")["N"].m_as("g/m^2") == pytest.approx(16)


def test_removed_bare_number_in_mapping_is_refused():
    with pytest.raises(UnitError, match=r"crop\[N\]"):
        nutrients.removed({"N": 3.2}, "5 kg/m^2")


@pytest.mark.parametrize("crop", [{}, "potato", 5, SimpleNamespace(removal={})])
def test_removed_no_contents_raises(crop):
    with pytest.raises(ArgumentError, match="map elements to contents"):
        nutrients.removed(crop, "5 kg/m^2")


def test_removed_bad_yield_and_content_both_named():
    with pytest.raises(ArgumentError) as caught:
        nutrients.removed({"N": "3 g"}, 5)
    assert [p.field for p in caught.value.problems] == ["crop[N]", "yield_per_area"]


def test_removed_array_of_yields_gives_arrays():
    found = nutrients.removed(TUBERS, quantity([0.0, 1.0], "kg/m^2"))
    np.testing.assert_allclose(found["N"].m_as("g/m^2"), [0, 3.2])


def test_removed_pounds_per_square_foot_same_result():
    pounds = nutrients.removed(TUBERS, quantity(5, "kg/m^2").to("lb/ft^2"))
    assert pounds["N"].m_as("g/m^2") == pytest.approx(16)


@given(st.floats(0, 20), st.floats(0, 20))
@settings(max_examples=50)
def test_removed_two_harvests_add(first, second):
    parts = sum(nutrients.removed(TUBERS, quantity(y, "kg/m^2"))["N"].m for y in (first, second))
    both = nutrients.removed(TUBERS, quantity(first + second, "kg/m^2"))["N"].m
    assert both == pytest.approx(parts)


@pytest.mark.parametrize(
    ("element", "concentration", "content", "litres"),
    [("N", 105.0, 3.2, 30.5), ("K", 117.3, 4.8, 40.9)],
)
def test_use_per_yield_tuber_content_needs_known_litres(element, concentration, content, litres):
    # Computed by hand: litres of half-strength Hoagland 1 that hold what a kilogram of tubers does.
    found = nutrients.use_per_yield(
        quantity(concentration, "mg/L"), quantity(litres, "L/m^2"), "1 kg/m^2"
    )
    assert found.m_as("g/kg") == pytest.approx(content, abs=0.006), element


def test_use_per_yield_no_harvest_says_why():
    with pytest.raises(RangeError, match="without a harvest"):
        nutrients.use_per_yield("105 mg/L", "400 L/m^2", "0 kg/m^2")


@given(c=st.floats(0, 1e3), w=st.floats(0, 1e3), y=st.floats(0.1, 20))
@settings(max_examples=50)
def test_use_per_yield_times_yield_is_what_was_given(c, w, y):
    found = nutrients.use_per_yield(
        quantity(c, "mg/L"), quantity(w, "L/m^2"), quantity(y, "kg/m^2")
    )
    given_ = quantity(c, "mg/L") * quantity(w, "L/m^2")
    assert (found * quantity(y, "kg/m^2")).m_as("g/m^2") == pytest.approx(given_.m_as("g/m^2"))


def test_nitrogen_from_nitrate_drinking_water_guideline():
    # 50 mg/L as NO3: WHO guideline, seen in secondary pages; 11.30 mg/L as N computed.
    found = nutrients.nitrogen_from_nitrate("50 mg/L").m_as("mg/L")
    assert found == pytest.approx(11.30, abs=0.005)


def test_nitrate_from_nitrogen_drinking_water_limit():
    # 10 mg/L as N: US EPA maximum contaminant level (read); 44.27 mg/L as NO3 computed.
    found = nutrients.nitrate_from_nitrogen("10 mg/L").m_as("mg/L")
    assert found == pytest.approx(44.27, abs=0.005)


def test_nitrate_from_nitrogen_hoagland_is_930():
    # 15 mmol/L of nitrate is 210.1 mg/L as N and 930 mg/L as NO3, 18.6 times 50; computed.
    found = nutrients.nitrate_from_nitrogen("210.1 mg/L").m_as("mg/L")
    assert found == pytest.approx(930, abs=0.5)
    assert nutrients.dilution_to_limit("930 mg/L", "50 mg/L").m_as("") == pytest.approx(18.6)


@given(st.floats(0, 1e4))
@settings(max_examples=50)
def test_nitrate_from_nitrogen_there_and_back_is_the_same(value):
    there = nutrients.nitrate_from_nitrogen(quantity(value, "mg/L"))
    assert nutrients.nitrogen_from_nitrate(there).m_as("mg/L") == pytest.approx(value)


def test_dilution_to_limit_spent_solution_needs_21_fold():
    found = nutrients.dilution_to_limit("210.1 mg/L", "10 mg/L").m_as("")
    assert found == pytest.approx(21.01)


def test_dilution_to_limit_within_limit_is_one():
    assert nutrients.dilution_to_limit("5 mg/L", "10 mg/L").m_as("") == 1


def test_dilution_to_limit_zero_limit_says_why():
    with pytest.raises(RangeError, match="no dilution reaches zero"):
        nutrients.dilution_to_limit("5 mg/L", "0 mg/L")


def test_dilution_to_limit_caution_stands_with_the_number():
    assert "never to a drain" in nutrients.dilution_to_limit.__doc__


@given(c=st.floats(0, 1e4), limit=st.floats(0.1, 1e3))
@settings(max_examples=50)
def test_dilution_to_limit_diluted_solution_meets_it(c, limit):
    fold = nutrients.dilution_to_limit(quantity(c, "mg/L"), quantity(limit, "mg/L")).m
    assert fold >= 1
    assert c / fold <= limit * (1 + 1e-12)
