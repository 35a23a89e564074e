from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import nutrients, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError

PUBLISHED = Path(__file__).parents[2] / "published"


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


CALCIUM_NITRATE, EPSOM = "Ca(NO3)2.4H2O", "MgSO4.7H2O"
RECIPES = {  # g/L
    "hoagland_1": {
        "KH2PO4": 0.13608, "KNO3": 0.50551, CALCIUM_NITRATE: 1.18073, EPSOM: 0.49293,
    },
    "hoagland_micronutrients": {  # stock, 1 mL/L
        "H3BO3": 0.00286, "MnCl2.4H2O": 0.00181, "ZnSO4.7H2O": 0.00022, "CuSO4.5H2O": 0.00008,
    },
    "hoagland_2": {
        "NH4H2PO4": 0.11503, "KNO3": 0.60661, CALCIUM_NITRATE: 0.94458, EPSOM: 0.49293,
    },
    "steiner": {
        "KH2PO4": 0.13608, "KNO3": 0.30331, "K2SO4": 0.26138, CALCIUM_NITRATE: 1.06266,
        EPSOM: 0.49293,
    },
}  # fmt: skip


def solution(name):
    recipe = {salt: quantity(rate, "g/L") for salt, rate in RECIPES[name].items()}
    return nutrients.concentrations(recipe)


@pytest.mark.parametrize(
    "row",
    rows("solutions.csv"),
    ids=lambda row: f"{row['solution']}-{row['element']}-{row['status']}",
)
def test_concentrations_published_solution_matches(row):
    found = solution(row["solution"])[row["element"]].m_as("mg/L")
    # Salts are rounded to 0.01 mg/L: allow that beside half of the last printed digit.
    tolerance = 0.5 * 10 ** -int(row["printed_digits"]) + 0.01 * 0.4
    assert abs(found - float(row["value"])) <= tolerance


@pytest.mark.parametrize(
    "row",
    [row for row in rows("salts.csv") if row["element"]],
    ids=lambda row: f"{row['formula']}-{row['element']}",
)
def test_concentrations_single_salt_share_matches_table(row):
    found = nutrients.concentrations({row["formula"]: "1 g/L"})[row["element"]].m_as("g/L") * 100
    assert abs(found - float(row["value"])) <= 0.5 * 10 ** -int(row["printed_digits"]) * 1.001


@pytest.mark.parametrize(
    "target",
    ["K 261.57", "Ca 184.76", "Mg 49.10"],
)
def test_concentrations_steiner_within_five_percent_of_print(target):
    # De Rijck and Schrevens 1998, table quoted in a copy, column 9.
    element, value = target.split()
    assert solution("steiner")[element].m_as("mg/L") == pytest.approx(float(value), rel=0.05)


def test_concentrations_hoagland_1_charges_balance():
    # From IUPAC masses: cations K 6, Ca 10, Mg 4; anions NO3 15, H2PO4 1, SO4 4 mmol of charge.
    found = {name: value.m_as("mg/L") for name, value in solution("hoagland_1").items()}
    cations = found["K"] / 39.098 + 2 * found["Ca"] / 40.078 + 2 * found["Mg"] / 24.305
    anions = found["N_nitrate"] / 14.007 + found["P"] / 30.974
    sulfate = 2 * 0.49293 / 246.466 * 1000
    assert cations == pytest.approx(20, abs=0.001)
    assert anions + sulfate == pytest.approx(20, abs=0.001)


def test_concentrations_urea_nitrogen_is_neither_form():
    found = nutrients.concentrations({"CO(NH2)2": "1 g/L"})
    assert found["N"].m_as("mg/L") == pytest.approx(466.46, abs=0.01)
    assert found["N_nitrate"].m == found["N_ammonium"].m == 0


def test_concentrations_ammonium_nitrate_halves():
    found = nutrients.concentrations({"NH4NO3": "1 g/L"})
    assert found["N_nitrate"].m_as("mg/L") == pytest.approx(found["N"].m_as("mg/L") / 2)
    assert found["N_ammonium"].m_as("mg/L") == pytest.approx(found["N"].m_as("mg/L") / 2)


def test_concentrations_main_elements_always_there_others_if_present():
    found = nutrients.concentrations({"KCl": "1 g/L"})
    assert list(found)[:8] == ["N", "N_nitrate", "N_ammonium", "P", "K", "Ca", "Mg", "S"]
    assert "Cl" in found
    assert "H" not in nutrients.concentrations({"H3BO3": "1 g/L"})


def test_concentrations_object_with_formula_accepted():
    @dataclass(frozen=True)
    class Salt:
        formula: str

    found = nutrients.concentrations({Salt("KNO3"): "1 g/L"})
    assert found["K"].m_as("mg/L") == pytest.approx(386.72, abs=0.01)


def test_concentrations_two_products_of_one_formula_add():
    @dataclass(frozen=True)
    class Salt:
        name: str
        formula: str = "KNO3"

    found = nutrients.concentrations({Salt("fine"): "1 g/L", Salt("coarse"): "2 g/L"})
    assert found["K"].m_as("mg/L") == pytest.approx(3 * 386.72, abs=0.01)


def test_concentrations_ounces_per_gallon_same_result():
    one = nutrients.concentrations({"KNO3": quantity(1, "oz/gal")})["K"].m_as("mg/L")
    two = nutrients.concentrations({"KNO3": quantity(1, "oz/gal").to("g/L")})["K"].m_as("mg/L")
    assert one == pytest.approx(two)


def test_concentrations_arrays_broadcast_in_every_element():
    found = nutrients.concentrations({"KNO3": quantity([1.0, 2.0], "g/L"), "KCl": "0 g/L"})
    np.testing.assert_allclose(found["K"].m_as("mg/L"), [386.72, 773.44], atol=0.01)
    assert found["P"].m_as("mg/L").tolist() == [0, 0]


@pytest.mark.parametrize("recipe", [{}, "KNO3", [("KNO3", "1 g/L")], None])
def test_concentrations_no_mapping_raises(recipe):
    with pytest.raises(ArgumentError, match="map salts to rates"):
        nutrients.concentrations(recipe)


def test_concentrations_unreadable_formula_raises():
    with pytest.raises(ArgumentError, match="formula"):
        nutrients.concentrations({"potash": "1 g/L"})


def test_concentrations_bare_rate_names_salt():
    with pytest.raises(UnitError, match=r"recipe\[KNO3\]"):
        nutrients.concentrations({"KNO3": 1})


def test_concentrations_negative_rate_raises():
    with pytest.raises(RangeError, match=r"recipe\[KNO3\]"):
        nutrients.concentrations({"KNO3": "-1 g/L"})


@given(
    st.dictionaries(
        st.sampled_from(["KNO3", "NH4NO3", CALCIUM_NITRATE, "KH2PO4", EPSOM, "CO(NH2)2"]),
        st.floats(0, 10),
        min_size=1,
    )
)
@settings(max_examples=50)
def test_concentrations_any_recipe_holds_no_more_than_its_salts(rates):
    found = nutrients.concentrations({salt: quantity(r, "g/L") for salt, r in rates.items()})
    plain = {name: value.m_as("g/L") for name, value in found.items()}
    forms = plain.pop("N_nitrate") + plain.pop("N_ammonium")
    assert forms <= plain["N"] * (1 + 1e-12) + 1e-15
    assert sum(plain.values()) <= sum(rates.values()) * (1 + 1e-12)
