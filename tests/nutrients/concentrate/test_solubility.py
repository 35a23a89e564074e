from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
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
from scenariokit.nutrients.concentrate.solubility import (
    FORMED,
    common_ion_shares,
    hydrate_solubility,
    known_solubility,
    solubility,
    stock_water,
)

PUBLISHED = Path(__file__).parents[2] / "published"
TABLE = catalog.load("solubility")


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    "row",
    rows("solubility.csv"),
    ids=lambda row: f"{row['salt']}-{row['temperature']}-{row['status']}",
)
def test_solubility_table_published_value_matches(row):
    found = TABLE[row["salt"]][f"at_{row['temperature']}"]
    value = float(row["value"])
    tolerance = 0.5 * 10 ** -int(row["printed_digits"]) + value * float(row["relative_tolerance"])
    assert abs(found - value) <= tolerance * 1.001


def test_solubility_table_names_shipped_salts_that_are_hydrates_of_its_formula():
    for name, row in TABLE.items():
        assert name in catalog.salts()
        one = hydrate_solubility("1 g/kg", row.anhydrous, catalog.salts()[name].formula)
        assert one.m_as("g/kg") >= 1


def test_solubility_table_never_falls_with_temperature():
    for row in TABLE.values():
        values = [row.at_0, row.at_10, row.at_20, row.at_25]
        assert values == sorted(values)


@pytest.mark.parametrize(
    "row",
    [row for row in rows("stock_amounts.csv") if row["quantity"].startswith("hydrate")],
    ids=lambda row: row["item"],
)
def test_hydrate_solubility_worked_case(row):
    # h = a Mh / Ma; 100 h / (100 - (h - a)) in 100 g of added water.
    given_share = f"{row['quantity'].split()[-1]} %"
    found = hydrate_solubility(given_share, row["item"].split(".")[0], row["item"])
    assert found.m_as("percent") == pytest.approx(float(row["value"]), abs=0.06)


def test_hydrate_solubility_unit_does_not_matter_and_array_keeps_shape():
    one = hydrate_solubility("1270 g/kg", "Ca(NO3)2", "Ca(NO3)2.4H2O")
    two = hydrate_solubility(quantity([127.0, 100.0], "percent"), "Ca(NO3)2", "Ca(NO3)2.4H2O")
    assert two.m_as("g/kg").shape == (2,)
    assert two.m_as("g/kg")[0] == pytest.approx(one.m_as("g/kg"))


def test_hydrate_solubility_no_water_of_crystallisation_is_the_same():
    assert hydrate_solubility("214 g/kg", "KNO3", "KNO3").m_as("g/kg") == pytest.approx(214)


def test_hydrate_solubility_crystals_with_all_the_water_are_infeasible():
    # a (Mh / Ma - 1) = 1000 g/kg at a = 2277 g/kg of calcium nitrate.
    assert hydrate_solubility("2270 g/kg", "Ca(NO3)2", "Ca(NO3)2.4H2O").m > 0
    with pytest.raises(InfeasibleError, match="no water need be added"):
        hydrate_solubility("2280 g/kg", "Ca(NO3)2", "Ca(NO3)2.4H2O")


@pytest.mark.parametrize(
    "pair",
    [("KNO3", "KH2PO4"), ("MgSO4.7H2O", "MgSO4"), ("KNO3", "KNO3.H2"), ("KNO3", "NaNO3.H2O")],
)
def test_hydrate_solubility_another_salt_raises(pair):
    with pytest.raises(ArgumentError, match="with water"):
        hydrate_solubility("10 g/kg", *pair)


def test_hydrate_solubility_bare_and_negative_raise():
    with pytest.raises(UnitError, match="solubility"):
        hydrate_solubility("1.27", "KNO3", "KNO3")
    with pytest.raises(RangeError, match="solubility"):
        hydrate_solubility("-1 g/kg", "KNO3", "KNO3")


@given(st.floats(1, 2000))
@settings(max_examples=50)
def test_hydrate_solubility_gives_back_the_anhydrous_ratio(anhydrous):
    hydrate = hydrate_solubility.floats(anhydrous, "Ca(NO3)2", "Ca(NO3)2.4H2O")
    dry = hydrate * 164.086 / 236.146
    assert dry / (1000 + hydrate - dry) * 1000 == pytest.approx(anhydrous, rel=1e-5)


@pytest.mark.parametrize(
    ("salt", "expected"),
    [("potassium_nitrate", 214), ("monopotassium_phosphate", 175), ("potassium_sulfate", 85.9)],
)
def test_solubility_ten_degrees_value_of_table(salt, expected):
    assert solubility(salt, "10 degC").m_as("g/L") == pytest.approx(expected)


def test_solubility_hydrate_as_sold_is_more_than_anhydrous():
    assert solubility("magnesium_sulfate", "10 degC").m_as("g/L") > 700
    assert solubility("calcium_nitrate", "10 degC").m_as("g/L") > 2000


def test_solubility_straight_line_between_columns():
    # Between 21.4 at 10 and 31.9 g/100 g at 20 degC.
    found = solubility("potassium_nitrate", quantity([10.0, 15.0, 20.0], "degC"))
    np.testing.assert_allclose(found.m_as("g/L"), [214, 266.5, 319])


def test_solubility_temperature_unit_does_not_matter():
    one = solubility("potassium_nitrate", "59 degF").m_as("g/L")
    assert one == pytest.approx(solubility("potassium_nitrate", "15 degC").m_as("g/L"))


@pytest.mark.parametrize("temperature", ["-0.1 degC", "25.1 degC"])
def test_solubility_outside_the_table_raises(temperature):
    with pytest.raises(RangeError, match="0 to 25 degC"):
        solubility("potassium_nitrate", temperature)


@pytest.mark.parametrize("salt", ["ammonium_heptamolybdate", "potash", None, 3])
def test_solubility_salt_without_row_says_not_known(salt):
    with pytest.raises(ArgumentError, match="not known here"):
        solubility(salt, "10 degC")


def test_solubility_fertiliser_found_by_id_or_formula():
    by_id = solubility(shelf()["potassium_nitrate"], "10 degC")
    own = fertiliser_from_formula("KNO3", id="saltpetre")
    assert solubility(own, "10 degC").m == by_id.m
    named = Fertiliser("potassium_nitrate", "Bag", {"K": 0.38, "N_nitrate": 0.13}, "either")
    assert known_solubility(named, 10.0) == by_id.m


def test_solubility_fertiliser_of_another_formula_is_not_taken_for_its_id():
    other = fertiliser_from_formula("NaNO3", id="potassium_nitrate", stock="either")
    assert known_solubility(other, 10.0) is None
    label = fertiliser_from_label("12-12-12", id="own", stock="either")
    with pytest.raises(ArgumentError, match="own"):
        solubility(label, "10 degC")


@given(st.sampled_from(sorted(TABLE)), st.floats(0, 25), st.floats(0, 25))
@settings(max_examples=60)
def test_solubility_warmer_never_dissolves_less(salt, one, two):
    low, high = sorted((one, two))
    assert known_solubility(salt, low) <= known_solubility(salt, high) * (1 + 1e-12)


def test_stock_water_half_a_litre_a_kilogram():
    assert stock_water("0 g/L").m_as("kg/L") == 1
    found = stock_water(quantity([100.0, 1000.0], "g/L")).m_as("kg/L")
    np.testing.assert_allclose(found, [0.95, 0.5])
    assert stock_water("1 kg/L").m_as("kg/L") == pytest.approx(0.5)


def test_stock_water_no_room_is_infeasible():
    with pytest.raises(InfeasibleError, match="no room for water"):
        stock_water("2000 g/L")


def test_common_ion_shares_salt_alone_is_strength_over_solubility():
    # 85.9 g of K2SO4 in a kilogram of water is saturated at 10 degC.
    grams = 85.9 / 2
    content = {"K": quantity(448.752 * grams, "mg/L"), "S": quantity(183.986 * grams, "mg/L")}
    found = common_ion_shares(content, "10 degC")
    assert found["potassium_sulfate"].m_as("") == pytest.approx(0.5, rel=1e-4)


def test_common_ion_shares_hoagland_hundredfold_worked_case():
    # K 0.6, SO4 0.2 mol/L, saturated 85.9 / 174.252 = 0.49296 mol/kg:
    # (0.6^2 x 0.2 / (4 x 0.49296^3))^(1/3) = 0.5316.
    content = {"K": quantity(600 * 39.098, "mg/L"), "S": quantity(200 * 32.06, "mg/L")}
    found = common_ion_shares(content, "10 degC")["potassium_sulfate"].m_as("")
    assert found == pytest.approx(0.5316, abs=1e-4)
    crowded = common_ion_shares(content, "10 degC", salts="200 g/L")["potassium_sulfate"].m_as("")
    assert crowded == pytest.approx(found / 0.9)


def test_common_ion_shares_arrays_and_only_salts_that_can_form():
    content = {"K": quantity([1.0, 2.0], "g/L"), "N_nitrate": "1 g/L", "P": "0 g/L", "Ca": "9 g/L"}
    found = common_ion_shares(content, "5 degC")
    assert list(found) == ["potassium_nitrate"]
    assert found["potassium_nitrate"].m_as("").shape == (2,)


def test_common_ion_shares_every_formed_salt_is_in_the_table_with_its_ions():
    for name, ions in FORMED.items():
        shares = shelf([name])[name].shares
        assert set(ions) <= set(shares)
        content = {key: quantity(1000 * share, "mg/L") for key, share in shares.items()}
        assert name in common_ion_shares(content, "20 degC")


def test_common_ion_shares_bad_values_raise():
    with pytest.raises(ArgumentError, match="Kalium"):
        common_ion_shares({"Kalium": "1 g/L"}, "10 degC")
    with pytest.raises(RangeError, match="temperature"):
        common_ion_shares({"K": "1 g/L", "S": "1 g/L"}, "30 degC")
    with pytest.raises(RangeError, match="broadcast"):
        common_ion_shares({"K": quantity([1.0, 2.0], "g/L")}, quantity([1.0, 2.0, 3.0], "degC"))
    with pytest.raises(InfeasibleError, match="no room"):
        common_ion_shares({"K": "1 g/L"}, "10 degC", salts="2500 g/L")


@given(strength=st.floats(0.1, 300), factor=st.floats(1, 3))
@settings(max_examples=50)
def test_common_ion_shares_scale_with_strength(strength, factor):
    shares = shelf(["potassium_sulfate"])["potassium_sulfate"].shares
    one = {key: 1000 * share * strength for key, share in shares.items()}
    two = {key: value * factor for key, value in one.items()}
    first = common_ion_shares.floats(one, 10.0, 1.0)["potassium_sulfate"]
    second = common_ion_shares.floats(two, 10.0, 1.0)["potassium_sulfate"]
    assert second == pytest.approx(first * factor, rel=1e-9)
    assert first == pytest.approx(strength / 85.9, rel=1e-4)


ARCANITE = """SOLUTION 1
 units mol/L
 temp {t}
 density 1.0 calculate
 K {k}
 Mg {mg}
 Cl {cl} charge
 S(6) {s}
SELECTED_OUTPUT
 -reset false
 -si Arcanite
END
"""


@pytest.mark.parametrize("temperature", [10, 25])
@pytest.mark.parametrize("ions", [(7.0, 3.5, 2.0), (6.0, 2.0, 2.0), (7.0, 3.5, 0.0)])
def test_common_ion_shares_never_calls_safe_what_iphreeqc_calls_saturated(ions, temperature):
    phreeqc = pytest.importorskip("phreeqc")
    # Chloride stands for nitrate and phosphate, which the Pitzer database lacks.
    engine = phreeqc.Phreeqc()
    engine.LoadBuiltInDatabase("pitzer.dat")
    saturated = 0
    for factor in (50, 100, 150, 200, 250, 300):
        k, s, mg = (value * factor / 1000 for value in ions)
        text = ARCANITE.format(t=temperature, k=k, s=s, mg=mg, cl=max(k + 2 * mg - 2 * s, 0))
        assert engine.RunString(text) == 0
        index = engine.GetSelectedOutput()["si_Arcanite"][-1]
        content = {"K": k * 39098.0, "S": s * 32060.0}
        share = common_ion_shares.floats(content, float(temperature), 1.0)["potassium_sulfate"]
        assert share >= 1 or index < 0
        saturated += index >= 0
    assert saturated > 0
