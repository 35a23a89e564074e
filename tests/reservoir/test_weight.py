from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir

PUBLISHED = Path(__file__).parents[1] / "published"


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def half_step(row):
    return 0.5 * 10 ** -int(row["printed_digits"]) + 1e-9


@pytest.mark.parametrize("row", rows("water_density.csv"), ids=lambda row: row["temperature"])
def test_water_density_kell_matches(row):
    # Computed with Kell 1975, independently of this code; agreed to 0.01 kg/m³.
    found = reservoir.water_density(quantity(float(row["temperature"]), "degC"))
    assert found.m_as("kg/m^3") == pytest.approx(float(row["value"]), abs=0.01)


def test_water_density_fahrenheit_same_density():
    one = reservoir.water_density(quantity(68.0, "degF")).m_as("kg/m^3")
    assert one == pytest.approx(998.204, abs=0.001)


@given(st.floats(4, 99))
@settings(max_examples=50)
def test_water_density_above_four_degrees_falls_with_warmth(temperature):
    cool, warm = (
        reservoir.water_density(quantity(temperature + step, "degC")).m for step in (0, 1)
    )
    assert warm < cool


@pytest.mark.parametrize(
    "row", rows("tank_loads.csv"), ids=lambda row: f"{row['depth_mm']}-{row['unit']}"
)
def test_load_table_matches(row):
    found = reservoir.load(quantity(float(row["depth_mm"]), "mm"))
    value = found.pressure if row["unit"] == "kPa" else found.mass_per_area
    assert abs(value.m_as(row["unit"]) - float(row["value"])) <= half_step(row)


def test_load_temperature_left_out_is_20_degrees():
    given_ = reservoir.load("10 cm", quantity(20, "degC"))
    assert reservoir.load("10 cm") == given_


def test_load_dry_tank_weighs_nothing():
    assert reservoir.load("0 cm").mass_per_area.m == 0


def test_load_caution_stands_with_the_number():
    assert "competent person" in reservoir.load.__doc__


@given(st.floats(0.1, 500), st.floats(0, 100))
@settings(max_examples=50)
def test_load_any_depth_pressure_is_mass_times_gravity(depth, temperature):
    found = reservoir.load(quantity(depth, "cm"), quantity(temperature, "degC"))
    expected = found.mass_per_area * quantity(9.80665, "m/s^2")
    assert found.pressure.m_as("Pa") == pytest.approx(expected.m_as("Pa"), rel=1e-12)
