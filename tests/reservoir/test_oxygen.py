from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError, ValidityWarning

PUBLISHED = Path(__file__).parents[1] / "published"


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def degrees(value):
    return quantity(float(value), "degC")


@pytest.mark.parametrize(
    "row",
    rows("oxygen_saturation.csv"),
    ids=lambda row: f"{row['temperature']}-{row['elevation']}-{row['printed_digits']}",
)
def test_oxygen_saturation_tables_match(row):
    height = quantity(float(row["elevation"]), "m") if row["elevation"] else None
    found = reservoir.oxygen_saturation(degrees(row["temperature"]), height).m_as("mg/L")
    # Agreed to 0.01 where a table prints two decimals: one printed value is off by 0.006.
    half = 0.5 * 10 ** -int(row["printed_digits"])
    allowed = max(half, 0.01) if row["printed_digits"] == "2" else half
    assert abs(found - float(row["value"])) <= allowed + 1e-6


def test_oxygen_saturation_pressure_of_the_place_equals_its_elevation():
    # FAO-56 example 2: 81.8 kPa at 1800 m.
    by_height = reservoir.oxygen_saturation(degrees(20), "1800 m").m_as("mg/L")
    by_pressure = reservoir.oxygen_saturation(degrees(20), pressure="81.8 kPa").m_as("mg/L")
    assert by_height == pytest.approx(by_pressure, rel=1e-3)


def test_oxygen_saturation_one_atmosphere_is_the_default():
    given_ = reservoir.oxygen_saturation(degrees(12), pressure="101.325 kPa")
    assert given_.m_as("mg/L") == pytest.approx(
        reservoir.oxygen_saturation(degrees(12)).m_as("mg/L"), rel=1e-12
    )


def test_oxygen_saturation_both_elevation_and_pressure_raises():
    with pytest.raises(InfeasibleError, match="not both"):
        reservoir.oxygen_saturation(degrees(20), "100 m", "100 kPa")


def test_oxygen_saturation_above_forty_degrees_warns():
    with pytest.warns(ValidityWarning, match="45 degC"):
        reservoir.oxygen_saturation(degrees(45))


def test_oxygen_saturation_boiling_water_holds_none():
    with pytest.warns(ValidityWarning):
        found = reservoir.oxygen_saturation(degrees(100), "3000 m")
    assert found.m_as("mg/L") == 0


@given(st.floats(0, 38), st.floats(-400, 4000))
@settings(max_examples=50)
def test_oxygen_saturation_warmer_or_higher_holds_less(temperature, height):
    first = reservoir.oxygen_saturation(degrees(temperature), quantity(height, "m")).m
    assert reservoir.oxygen_saturation(degrees(temperature + 1), quantity(height, "m")).m < first
    assert reservoir.oxygen_saturation(degrees(temperature), quantity(height + 50, "m")).m < first


def test_oxygen_in_water_and_in_air_gap_worked_cases():
    # Computed by hand: 9.092 mg/L x 100 L/m²; 0.2095 x 101325 x 31.998 / (8.3145 x 293.15) x 0.05.
    assert reservoir.oxygen_in_water("10 cm", degrees(20)).m_as("g/m^2") == pytest.approx(
        0.909, abs=5e-4
    )
    assert reservoir.oxygen_in_air_gap("5 cm", degrees(20)).m_as("g/m^2") == pytest.approx(
        13.93, abs=5e-3
    )


@given(st.floats(0.1, 100), st.floats(0, 40), st.floats(0, 4000))
@settings(max_examples=50)
def test_oxygen_in_air_gap_always_more_than_in_as_much_water(depth, temperature, height):
    arguments = quantity(depth, "cm"), degrees(temperature), quantity(height, "m")
    assert reservoir.oxygen_in_air_gap(*arguments).m > 10 * reservoir.oxygen_in_water(*arguments).m
