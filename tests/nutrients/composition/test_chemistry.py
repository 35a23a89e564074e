from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import nutrients, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.composition.chemistry import ATOMIC_MASSES, OXIDES, atoms

PUBLISHED = Path(__file__).parents[2] / "published"


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


FACTORS, SALTS = rows("conversion_factors.csv"), rows("salts.csv")
PLAIN_ELEMENTS = [row for row in SALTS if row["element"] and "_" not in row["element"]]


def half_step(row):
    return 0.5 * 10 ** -int(row["printed_digits"]) * 1.001


@pytest.mark.parametrize(
    "row", [row for row in SALTS if not row["element"]], ids=lambda row: row["formula"]
)
def test_molar_mass_salt_table_matches(row):
    found = nutrients.molar_mass(row["formula"]).m_as("g/mol")
    assert abs(found - float(row["value"])) <= half_step(row)


@pytest.mark.parametrize(
    "row", PLAIN_ELEMENTS, ids=lambda row: f"{row['formula']}-{row['element']}"
)
def test_mass_fraction_salt_table_matches(row):
    found = nutrients.mass_fraction(row["formula"], row["element"]).m_as("percent")
    assert abs(found - float(row["value"])) <= half_step(row)


@pytest.mark.parametrize("dot", [".", "·", "*", " . "])
def test_molar_mass_hydrate_dot_any_sign_same_mass(dot):
    found = nutrients.molar_mass(f"MgSO4{dot}7H2O").m_as("g/mol")
    assert found == pytest.approx(246.466, abs=5e-4)


def test_molar_mass_nested_brackets_multiply():
    # Computed by hand: Ca, 2 x (N + 2 x (O + H)).
    expected = 40.078 + 2 * (14.007 + 2 * (15.999 + 1.008))
    assert nutrients.molar_mass("Ca[N(OH)2]2").m_as("g/mol") == pytest.approx(expected)


def test_molar_mass_in_kilogram_per_mole_converts():
    assert nutrients.molar_mass("KNO3").m_as("kg/mol") == pytest.approx(0.101102, abs=5e-7)


def test_atoms_changed_copy_does_not_spoil_the_next():
    atoms("KCl")["K"] = 99
    assert atoms("KCl")["K"] == 1


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        ("", "empty part"), ("KNO3.", "empty part"), ("kno3", "not part of a formula"),
        ("K NO3", "not part of a formula"), ("XyO3", "'Xy'"), ("Ca(NO3", "not closed"),
        ("CaNO3)2", "not open"), ("2", "number 2 after nothing"), ("K(2)", "after nothing"),
        ("KNO3-", "not part"), ("()", "no atom"), ("K0", "not part"), (None, "no text"),
    ],
)  # fmt: skip
def test_molar_mass_unreadable_formula_says_why(formula, words):
    with pytest.raises(ArgumentError, match=words):
        nutrients.molar_mass(formula)


def test_mass_fraction_element_not_in_salt_is_zero():
    assert nutrients.mass_fraction("KNO3", "P").m_as("") == 0


@pytest.mark.parametrize("element", ["Xy", "n", None, ["N"]])
def test_mass_fraction_unknown_element_lists_known(element):
    with pytest.raises(ArgumentError, match="Mo"):
        nutrients.mass_fraction("KNO3", element)


@given(st.sampled_from([row["formula"] for row in SALTS if not row["element"]]))
@settings(max_examples=50)
def test_mass_fraction_all_elements_add_to_one(formula):
    total = sum(nutrients.mass_fraction(formula, element).m for element in ATOMIC_MASSES)
    assert total == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("row", FACTORS, ids=lambda row: row["species"])
def test_element_from_oxide_factor_table_matches(row):
    found = nutrients.element_from_oxide("1 mg/L", row["species"]).m_as("mg/L")
    assert abs(found - float(row["factor"])) <= half_step(row)
    assert OXIDES[row["species"]] == row["element"]


@pytest.mark.parametrize(
    "row", [row for row in FACTORS if row["inverse"]], ids=lambda row: row["species"]
)
def test_oxide_from_element_inverse_table_matches(row):
    found = nutrients.oxide_from_element("1 mg/L", row["species"]).m_as("mg/L")
    assert abs(found - float(row["inverse"])) <= half_step(row)


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        ("100 kg", "kilogram"), ("4 oz", "ounce"), ("30 mg/L", "milligram / liter"),
        ("50 kg/hectare", "kilogram / hectare"), ("46 %", "percent"), ("3 g/kg", "gram / kilogram"),
        (0.46, "dimensionless"),
    ],
)  # fmt: skip
def test_element_from_oxide_any_mass_keeps_its_unit(value, unit):
    found = nutrients.element_from_oxide(value, "K2O")
    assert str(found.units) == unit
    whole = quantity(value)
    assert (found / whole).m_as("") == pytest.approx(0.83015, abs=5e-6)


def test_element_from_oxide_other_registry_accepted():
    import pint

    other = pint.UnitRegistry().Quantity(np.array([100.0, 200.0]), "mg/L")
    found = nutrients.element_from_oxide(other, "P2O5")
    np.testing.assert_allclose(found.m_as("mg/L"), [43.643, 87.286], atol=1e-3)


@pytest.mark.parametrize("function", [nutrients.element_from_oxide, nutrients.oxide_from_element])
@pytest.mark.parametrize(
    ("value", "error", "words"),
    [
        ("5 mmol/L", UnitError, "another dimension"), ("5 m", UnitError, "another dimension"),
        ("mg/L", UnitError, "does not begin"), ("5 gram_of_P", UnitError, "not defined"),
        ("5 mg/", UnitError, "cannot be read"), ("-5 g", RangeError, "below zero"),
        (float("nan"), RangeError, "NaN"), (15, RangeError, "above 1"),
        (None, UnitError, "value"), ("abc", UnitError, "does not begin"),
    ],
)  # fmt: skip
def test_element_from_oxide_bad_value_says_why(function, value, error, words):
    with pytest.raises(error, match=words):
        function(value, "P2O5")


@pytest.mark.parametrize("function", [nutrients.element_from_oxide, nutrients.oxide_from_element])
@pytest.mark.parametrize("oxide", ["P2O3", "p2o5", "P", None, ["P2O5"]])
def test_element_from_oxide_unknown_species_lists_known(function, oxide):
    with pytest.raises(ArgumentError, match="P2O5, K2O"):
        function("5 g", oxide)


def test_oxide_from_element_share_that_comes_above_one_raises():
    with pytest.raises(RangeError, match="above 1"):
        nutrients.oxide_from_element("60 %", "P2O5")


@given(st.floats(0, 1e6), st.sampled_from(sorted(OXIDES)))
@settings(max_examples=50)
def test_oxide_from_element_there_and_back_is_the_same(value, oxide):
    there = nutrients.oxide_from_element(quantity(value, "g"), oxide)
    assert nutrients.element_from_oxide(there, oxide).m_as("g") == pytest.approx(value)
    assert there.m_as("g") >= value
