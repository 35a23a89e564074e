from __future__ import annotations

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError, ValidityWarning
from scenariokit.nutrients.composition import species
from scenariokit.nutrients.composition.contents import CONTENT, IONS
from scenariokit.nutrients.composition.species import (
    SPECIES,
    content_from_ions,
    ions_from_content,
    ions_of_floats,
    milliequivalents,
    milligrams,
    milligrams_from_equivalents,
    millimoles,
)

PUBLISHED = Path(__file__).parents[2] / "published" / "equivalents.csv"
HOAGLAND = {
    "N": 210.105, "N_nitrate": 210.105, "P": 30.974, "K": 234.588, "Ca": 200.39, "Mg": 48.61,
    "S": 64.12,
}  # fmt: skip
CONVERSIONS = {
    millimoles: "1 mg/L", milligrams: "1 mmol/L", milliequivalents: "1 mg/L",
    milligrams_from_equivalents: "1 mmol/L",
}  # fmt: skip


def rows():
    with PUBLISHED.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def content(floats):
    return {key: quantity(value, "mg/L") for key, value in floats.items()}


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['conversion']}-{row['species']}")
def test_conversions_published_values(row):
    unit = "mg/L" if row["conversion"] in ("millimoles", "milliequivalents") else "mmol/L"
    convert = getattr(species, row["conversion"])
    found = convert(quantity(float(row["given"]), unit), row["species"])
    half = 0.5 * 10.0 ** -int(row["printed_digits"])
    assert found.m_as(row["unit"]) == pytest.approx(float(row["value"]), abs=half * 1.001)


@pytest.mark.parametrize("key", CONTENT)
def test_species_every_content_key_is_known(key):
    assert SPECIES[key].id == key
    assert SPECIES[key].molar_mass > 0


@pytest.mark.parametrize("ion", IONS)
def test_species_every_ion_has_a_charge(ion):
    assert SPECIES[ion].charge


def test_species_nitrogen_of_nitrate_weighs_less_than_nitrate():
    same = millimoles("14.007 mg/L", "N_nitrate").m_as("mmol/L")
    assert same == pytest.approx(millimoles("62.004 mg/L", "NO3").m_as("mmol/L"))
    assert same == pytest.approx(1)


@pytest.mark.parametrize("convert", CONVERSIONS)
def test_conversions_unit_of_input_does_not_matter(convert):
    one = CONVERSIONS[convert]
    other = {"1 mg/L": "1000 ug/L", "1 mmol/L": "0.001 mol/L"}[one]
    assert convert(one, "SO4").m == pytest.approx(convert(other, "SO4").m)


@pytest.mark.parametrize("convert", CONVERSIONS)
def test_conversions_array_is_its_scalars(convert):
    unit = CONVERSIONS[convert].split()[1]
    found = convert(quantity([0.0, 1.0, 2.5], unit), "Mg")
    alone = [convert(quantity(value, unit), "Mg").m for value in (0.0, 1.0, 2.5)]
    np.testing.assert_allclose(found.m, alone, rtol=1e-15)
    assert isinstance(convert(CONVERSIONS[convert], "Mg").m, float)


@pytest.mark.parametrize("convert", CONVERSIONS)
@pytest.mark.parametrize("name", ["P2O5", "no3", None, ""])
def test_conversions_unknown_species_raises(convert, name):
    with pytest.raises(ArgumentError, match="is not known; allowed: N, N_nitrate"):
        convert(CONVERSIONS[convert], name)


@pytest.mark.parametrize("convert", [milliequivalents, milligrams_from_equivalents])
@pytest.mark.parametrize("name", ["N", "N_urea", "Fe", "B", "Mo", "PO4"])
def test_equivalents_species_without_charge_raises_one_clear_error(convert, name):
    with pytest.raises(ArgumentError, match="no one charge") as caught:
        convert(CONVERSIONS[convert], name)
    (problem,) = caught.value.problems
    assert problem.value == name
    assert "N_nitrate" in problem.allowed


@pytest.mark.parametrize("convert", CONVERSIONS)
@pytest.mark.parametrize("value", ["1 kg", 1, "1", "5 dS/m"])
def test_conversions_wrong_unit_raises(convert, value):
    with pytest.raises(UnitError, match=r"concentration|amount"):
        convert(value, "K")


@pytest.mark.parametrize("convert", CONVERSIONS)
@pytest.mark.parametrize("number", [-1.0, float("nan"), float("inf")])
def test_conversions_outside_range_raises(convert, number):
    with pytest.raises(RangeError):
        convert(quantity(number, CONVERSIONS[convert].split()[1]), "K")


@given(number=st.floats(0, 1e4), name=st.sampled_from(sorted(SPECIES)))
@settings(max_examples=60)
def test_millimoles_and_back_is_the_same(number, name):
    given_ = quantity(number, "mg/L")
    back = milligrams(millimoles(given_, name), name).m_as("mg/L")
    assert back == pytest.approx(number, rel=1e-12, abs=1e-300)
    if SPECIES[name].charge is not None:
        charge = milliequivalents(given_, name)
        assert charge.m >= millimoles(given_, name).m
        back = milligrams_from_equivalents(charge, name).m_as("mg/L")
        assert back == pytest.approx(number, rel=1e-12, abs=1e-300)


def test_ions_from_content_hoagland_1_charges_balance():
    # Hoagland and Arnon 1950, solution 1; computed: K 6 + Ca 10 + Mg 4 = NO3 15 + H2PO4 1 + SO4 4.
    ions = ions_from_content(content(HOAGLAND))
    found = {ion: amount.m_as("mmol/L") for ion, amount in ions.items()}
    expected = {"NO3": 15, "H2PO4": 1, "SO4": 2, "K": 6, "Ca": 5, "Mg": 2}
    assert found == pytest.approx(expected, abs=1e-4)
    charge = sum(SPECIES[ion].charge * amount for ion, amount in found.items())
    assert charge == pytest.approx(0, abs=1e-3)


def test_ions_from_content_passes_over_urea_and_micronutrients():
    ions = ions_from_content(
        content({"N_urea": 20, "N": 20, "Fe": 3, "B": 0.5, "Mo": 0.05, "K": 39.098})
    )
    assert {ion: amount.m for ion, amount in ions.items()} == pytest.approx({"K": 1})


def test_ions_from_content_carries_chloride_sodium_and_bicarbonate():
    ions = ions_from_content(
        content({"Cl": 35.45, "Na": 22.99, "HCO3": 61.017, "N_ammonium": 14.007})
    )
    assert {ion: amount.m for ion, amount in ions.items()} == pytest.approx(
        {"Cl": 1, "Na": 1, "HCO3": 1, "NH4": 1}, rel=1e-4
    )


def test_ions_from_content_nitrogen_of_unknown_form_warns_with_amount():
    with pytest.warns(ValidityWarning, match=r"40 mg/L of nitrogen is of unknown form"):
        ions = ions_from_content(content({"N": 150, "N_nitrate": 110}))
    assert list(ions) == ["NO3"]


def test_ions_from_content_traces_of_chelate_nitrogen_do_not_warn():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        ions_from_content(content({"N": 211.3, "N_nitrate": 210.1}))


def test_ions_from_content_forms_above_total_raises():
    with pytest.raises(RangeError, match=r"content\[N\] = 100.*less than its forms together, 150"):
        ions_from_content(content({"N": 100, "N_nitrate": 150}))


def test_ions_from_content_rounded_total_is_let_pass():
    assert ions_from_content(content({"N": 15.5, "N_nitrate": 15.55}))["NO3"].m > 1


def test_ions_from_content_arrays_are_kept():
    found = ions_from_content({"K": quantity([39.098, 78.196], "mg/L"), "Ca": "40.078 mg/L"})
    np.testing.assert_allclose(found["K"].m_as("mmol/L"), [1, 2])
    assert found["Ca"].m == pytest.approx(1)


def test_ions_from_content_every_problem_at_once():
    with pytest.raises(ArgumentError) as caught:
        ions_from_content({"K2O": "1 mg/L", "Ca": "5 dS/m", "K": "-1 mg/L"})
    fields = {problem.field for problem in caught.value.problems}
    assert fields == {"content[K2O]", "content[Ca]", "content[K]"}


def test_ions_from_content_no_mapping_raises():
    with pytest.raises(ArgumentError, match="must map keys"):
        ions_from_content("210 mg/L")


def test_ions_from_content_shapes_that_do_not_fit_raise():
    with pytest.raises(RangeError, match="broadcast"):
        ions_from_content({"K": quantity([1, 2], "mg/L"), "Ca": quantity([1, 2, 3], "mg/L")})


def test_ions_of_floats_is_the_body_of_the_public_function():
    assert ions_from_content.floats is ions_of_floats
    assert ions_of_floats({"K": 39.098, "Fe": 1.0}) == pytest.approx({"K": 1})


def test_content_from_ions_fills_total_nitrogen():
    found = content_from_ions({"NO3": "12 mmol/L", "NH4": "1 mmol/L", "SO4": "3.5 mmol/L"})
    assert found["N"].m_as("mg/L") == pytest.approx(13 * 14.007)
    assert found["N_ammonium"].m_as("mg/L") == pytest.approx(14.007)
    assert found["S"].m_as("mg/L") == pytest.approx(112.21, abs=5e-3)


def test_content_from_ions_hydrogen_has_no_key():
    assert content_from_ions({"H": "1 mmol/L", "K": "0 mmol/L"})["K"].m == 0
    assert content_from_ions.floats({"H": 1.0}) == {}


def test_content_from_ions_milligrams_are_refused():
    with pytest.raises(UnitError, match=r"ions\[K\].*mmol/L"):
        content_from_ions({"K": "39 mg/L"})


def test_content_from_ions_unknown_ion_raises():
    with pytest.raises(ArgumentError, match=r"ions\[PO4\].*allowed: K, Na, NH4"):
        content_from_ions({"PO4": "1 mmol/L"})


@given(
    amounts=st.dictionaries(
        st.sampled_from([ion for ion in IONS if ion != "H"]), st.floats(0, 100), min_size=1
    )
)
@settings(max_examples=50)
def test_content_from_ions_and_back_is_the_same(amounts):
    there = content_from_ions({ion: quantity(amount, "mmol/L") for ion, amount in amounts.items()})
    back = {ion: amount.m_as("mmol/L") for ion, amount in ions_from_content(there).items()}
    assert back == pytest.approx(amounts, rel=1e-12, abs=1e-300)
