from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.composition.contents import IONS
from scenariokit.nutrients.composition.species import SPECIES
from scenariokit.nutrients.conductivity.charge import CHARGES, charge_balance, ionic_strength

PUBLISHED = Path(__file__).parents[2] / "published" / "conductivity.csv"
BALANCES = [
    row
    for row in csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines())
    if row["kind"] == "balance"
]


def ions_of(text):
    return {
        ion: quantity(float(amount), "mmol/L")
        for ion, amount in (part.split(":") for part in text.split())
    }


def test_charges_same_as_the_species():
    assert set(CHARGES) == set(IONS)
    assert all(SPECIES[ion].charge == charge for ion, charge in CHARGES.items())


@pytest.mark.parametrize("row", BALANCES, ids=lambda row: row["case"])
def test_charge_balance_published_feeds_balance(row):
    found = charge_balance(ions_of(row["ions"]))
    assert found.cations.m_as("mmol/L") == pytest.approx(float(row["value"]), abs=1e-9)
    assert found.difference.m_as("mmol/L") == pytest.approx(0, abs=1e-9)
    assert found.share.m_as("") == pytest.approx(0, abs=1e-9)


def test_charge_balance_out_of_balance_worked_case():
    # Cations 7 + 2 x 4 = 15, anions 14; difference 1 over a mean of 14.5.
    found = charge_balance({"K": "7 mmol/L", "Ca": "4 mmol/L", "NO3": "14 mmol/L"})
    assert found.cations.m_as("mmol/L") == pytest.approx(15)
    assert found.anions.m_as("mmol/L") == pytest.approx(14)
    assert found.difference.m_as("mmol/L") == pytest.approx(1)
    assert found.share.m_as("") == pytest.approx(1 / 14.5)


def test_charge_balance_no_ions_share_is_zero():
    for ions in ({}, {"K": "0 mmol/L"}):
        assert charge_balance(ions).share.m_as("") == 0


def test_charge_balance_array_equals_scalars():
    potassium = [0.0, 3.0, 7.0]
    found = charge_balance({"K": quantity(potassium, "mmol/L"), "SO4": "2 mmol/L"})
    for n, amount in enumerate(potassium):
        one = charge_balance({"K": quantity(amount, "mmol/L"), "SO4": "2 mmol/L"})
        for name in found._fields:
            array, scalar = getattr(found, name), getattr(one, name)
            expected = array.m[n] if np.ndim(array.m) else array.m
            assert expected == pytest.approx(scalar.m)


def test_charge_balance_other_unit_same_result():
    one, other = charge_balance({"K": "2 mmol/L"}), charge_balance({"K": "2 mol/m^3"})
    assert one.cations.m_as("mmol/L") == pytest.approx(other.cations.m_as("mmol/L"))


@pytest.mark.parametrize("function", [charge_balance, ionic_strength])
def test_charge_mass_instead_of_amount_is_a_unit_error(function):
    with pytest.raises(UnitError, match=r"ions\[K\].*mmol/L"):
        function({"K": "200 mg/L"})


@pytest.mark.parametrize("function", [charge_balance, ionic_strength])
def test_charge_negative_is_a_range_error(function):
    with pytest.raises(RangeError, match=r"ions\[Ca\]"):
        function({"Ca": "-1 mmol/L"})


@pytest.mark.parametrize("function", [charge_balance, ionic_strength])
def test_charge_unknown_ion_and_bad_unit_both_reported(function):
    with pytest.raises(ArgumentError) as caught:
        function({"Sr": "1 mmol/L", "K": "1 mg/L"})
    assert {problem.field for problem in caught.value.problems} == {"ions[Sr]", "ions[K]"}


def test_ionic_strength_worked_case():
    # 1/2 (6 x 1 + 5 x 4 + 2 x 4 + 15 x 1 + 1 x 1 + 2 x 4) = 29.
    ions = {"K": 6, "Ca": 5, "Mg": 2, "NO3": 15, "H2PO4": 1, "SO4": 2}
    found = ionic_strength({ion: quantity(amount, "mmol/L") for ion, amount in ions.items()})
    assert found.m_as("mmol/L") == pytest.approx(29)


def test_ionic_strength_no_ions_zero():
    assert ionic_strength({}).m_as("mmol/L") == 0


@given(
    amounts=st.dictionaries(st.sampled_from(IONS), st.floats(0, 50), min_size=1),
    factor=st.floats(0.1, 10),
)
@settings(max_examples=50, deadline=None)
def test_ionic_strength_scales_with_the_ions(amounts, factor):
    scaled = {ion: factor * amount for ion, amount in amounts.items()}
    expected = factor * 0.5 * sum(CHARGES[ion] ** 2 * amount for ion, amount in amounts.items())
    assert ionic_strength.floats(scaled) == pytest.approx(expected)
