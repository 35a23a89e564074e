from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import RangeError, UnitError, ValidityWarning
from scenariokit.nutrients.conductivity.meter import ec_at, ec_at_25

PUBLISHED = Path(__file__).parents[2] / "published"


def rows(name):
    return list(csv.DictReader((PUBLISHED / name).read_text(encoding="utf-8").splitlines()))


CONDUCTIVITY = rows("conductivity.csv")
READINGS = [row for row in CONDUCTIVITY if row["kind"] == "at_temperature"]
COEFFICIENTS = [row for row in CONDUCTIVITY if row["kind"] == "coefficient"]
STANDARDS = {
    (row["molality"], float(row["temperature"])): float(row["value"])
    for row in rows("potassium_chloride_standards.csv")
}
FULL = 2.1664


def degrees(row):
    return quantity(float(row["case"].split()[-2]), "degC")


@pytest.mark.parametrize("row", READINGS, ids=lambda row: row["case"])
def test_ec_at_25_reading_of_a_feed_within_published_tolerance(row):
    found = ec_at_25(quantity(float(row["value"]), "dS/m"), degrees(row))
    assert found.m_as("dS/m") == pytest.approx(FULL, rel=float(row["tolerance_percent"]) / 100)


@pytest.mark.parametrize("row", COEFFICIENTS, ids=lambda row: row["case"])
def test_ec_at_published_coefficients_usual_one_is_within_two_percent(row):
    exact = ec_at(quantity(FULL, "dS/m"), degrees(row), f"{row['value']} %")
    usual = ec_at_25(exact, degrees(row))
    assert usual.m_as("dS/m") == pytest.approx(FULL, rel=0.015)


@pytest.mark.parametrize(
    ("temperature", "coefficient"), [(15, 1.89), (20, 1.92), (30, 1.97), (35, 1.985)]
)
def test_ec_at_potassium_chloride_standard_own_coefficient(temperature, coefficient):
    # The coefficient is that of the printed table itself, rounded to 0.01 % and less.
    found = ec_at(
        quantity(STANDARDS["0.01", 25.0], "uS/cm"),
        quantity(temperature, "degC"),
        quantity(coefficient, "percent"),
    )
    assert found.m_as("uS/cm") == pytest.approx(STANDARDS["0.01", float(temperature)], rel=0.001)


def test_ec_at_reference_temperature_unchanged():
    assert ec_at("2 dS/m", "25 degC").m_as("dS/m") == 2
    assert ec_at_25("2 dS/m", "25 degC").m_as("dS/m") == 2


def test_ec_at_other_units_same_result():
    expected = ec_at("2 dS/m", "15 degC").m_as("dS/m")
    assert expected == pytest.approx(1.6)
    assert ec_at("2 mS/cm", "59 degF").m_as("dS/m") == pytest.approx(expected)
    assert ec_at("2000 uS/cm", "288.15 kelvin").m_as("dS/m") == pytest.approx(expected)


def test_ec_at_floats_take_the_usual_coefficient():
    assert ec_at.floats(2.0, 15.0) == pytest.approx(1.6)
    assert ec_at_25.floats(1.6, 15.0) == pytest.approx(2.0)


def test_ec_at_25_array_equals_scalars():
    temperatures = np.array([5.0, 20.0, 35.0])
    found = ec_at_25("1.5 dS/m", quantity(temperatures, "degC")).m_as("dS/m")
    for value, temperature in zip(found, temperatures, strict=True):
        assert value == ec_at_25("1.5 dS/m", quantity(temperature, "degC")).m_as("dS/m")


@pytest.mark.parametrize("function", [ec_at, ec_at_25])
@pytest.mark.parametrize("temperature", ["4 degC", "36 degC"])
def test_ec_at_outside_validity_warns(function, temperature):
    with pytest.warns(ValidityWarning, match="outside 5 to 35 °C"):
        function("2 dS/m", temperature)


@pytest.mark.parametrize("function", [ec_at, ec_at_25])
def test_ec_at_bad_arguments_all_reported(function):
    with pytest.raises(UnitError) as caught:
        function("2 mg/L", 20, "2 mm")
    assert {problem.field for problem in caught.value.problems} == {
        "ec",
        "temperature",
        "coefficient",
    }
    with pytest.raises(RangeError, match="temperature"):
        function("2 dS/m", "101 degC")
    with pytest.raises(RangeError, match="coefficient"):
        function("2 dS/m", "20 degC", "20 %")


@given(ec=st.floats(0, 10), temperature=st.floats(5, 35), coefficient=st.floats(0, 3))
@settings(max_examples=100, deadline=None)
def test_ec_at_and_back_is_the_same(ec, temperature, coefficient):
    there = ec_at.floats(ec, temperature, coefficient)
    assert ec_at_25.floats(there, temperature, coefficient) == pytest.approx(ec, rel=1e-12)
