from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, yields
from scenariokit.errors import RangeError

PUBLISHED = Path(__file__).parent / "published"


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


SALINITY = rows("maas_hoffman.csv")
FIELDS = rows("field_yields.csv")


def factor(row):
    return yields.salinity_factor(
        quantity(float(row["ec"]), "dS/m"),
        quantity(float(row["threshold"]), "dS/m"),
        quantity(float(row["slope"]), "percent/(dS/m)"),
    ).m_as("percent")


def test_per_area_worked_case_kilogram_per_m2():
    assert yields.per_area("12 kg", "2.5 m^2").m_as("kg/m^2") == pytest.approx(4.8)


def test_per_area_grams_and_feet_same_result():
    # 1 lb/ft² = 4.8824276 kg/m², exact by the definitions of pound and foot.
    assert yields.per_area("16 oz", "1 ft^2").m_as("kg/m^2") == pytest.approx(4.8824276, rel=1e-7)


def test_per_plant_worked_case_gram_per_plant():
    assert yields.per_plant("12 kg", 40).m_as("g/plant") == pytest.approx(300)


def test_per_volume_worked_case_kilogram_per_litre():
    assert yields.per_volume("12 kg", "8 L").m_as("kg/L") == pytest.approx(1.5)


def test_per_volume_zero_volume_says_why():
    with pytest.raises(RangeError, match="no volume, no yield per volume"):
        yields.per_volume("12 kg", "0 L")


@given(
    mass=st.floats(0, 1e4),
    area=st.floats(0.01, 1e3),
    scale=st.floats(0.1, 10),
)
@settings(max_examples=50)
def test_per_area_mass_and_area_scaled_alike_unchanged(mass, area, scale):
    one = yields.per_area(quantity(mass, "kg"), quantity(area, "m^2"))
    other = yields.per_area(quantity(mass * scale, "kg"), quantity(area * scale, "m^2"))
    assert other.m_as("kg/m^2") == pytest.approx(one.m_as("kg/m^2"), rel=1e-9)


@pytest.mark.parametrize("row", FIELDS, ids=lambda row: row["place"])
def test_field_equivalent_reported_field_yield_matches(row):
    found = yields.field_equivalent(quantity(float(row["kilogram_per_m2"]), "kg/m^2"))
    half_step = 0.5 * 10 ** -int(row["printed_digits"]) * yields.HUNDREDWEIGHT_PER_ACRE
    printed = float(row["hundredweight_per_acre"])
    assert abs(found.hundredweight_per_acre.m_as("cwt/acre") - printed) <= half_step * 1.001


def test_field_equivalent_one_kilogram_exact_factors():
    # Exact: 4046.8564224 m² in the international acre, 45.359237 kg in 100 lb.
    found = yields.field_equivalent("1 kg/m^2")
    assert found.tonnes_per_hectare.m_as("metric_ton/hectare") == pytest.approx(10)
    assert found.hundredweight_per_acre.m_as("cwt/acre") == pytest.approx(89.217912, abs=5e-7)
    assert found.hundredweight_per_acre.m_as("kg/m^2") == pytest.approx(1, rel=1e-12)
    assert found.tonnes_per_hectare.m_as("kg/m^2") == pytest.approx(1, rel=1e-12)


def test_field_equivalent_quantity_converts_back_to_short_tons():
    # 1 short ton/acre = 2.2417023 t/ha and 1 cwt/acre = 0.1120851 t/ha, exact by definition.
    assert quantity("1 cwt/acre").m_as("t/ha") == pytest.approx(0.1120851, abs=5e-8)
    assert quantity("1 short_ton/acre").m_as("t/ha") == pytest.approx(2.2417023, abs=5e-8)
    assert quantity("1 long_ton/acre").m_as("t/ha") == pytest.approx(2.5107066, abs=5e-8)


@pytest.mark.parametrize(
    ("radiation", "caught", "efficiency", "index", "dry", "expected"),
    [  # computed by hand from the equation
        (900, 0.70, 2.5, 0.80, 0.20, 6.30),
        (1000, 0.70, 2.5, 0.75, 0.20, 6.5625),
        (1000, 0.90, 3.0, 0.85, 0.20, 11.475),
    ],
)
def test_light_limited_worked_cases_match(radiation, caught, efficiency, index, dry, expected):
    found = yields.light_limited(
        quantity(radiation, "MJ/m^2"), caught, quantity(efficiency, "g/MJ"), index, dry
    )
    assert found.m_as("kg/m^2") == pytest.approx(expected, abs=1e-9)


def test_light_limited_bright_field_agrees_with_record_plot():
    # Kunkel and Campbell 1987 (abstract): the best plots gave 124 t/ha = 12.4 kg/m².
    found = yields.light_limited("1000 MJ/m^2", 0.9, "3 g/MJ", 0.85, 0.2)
    assert found.m_as("kg/m^2") == pytest.approx(12.4, rel=0.1)


@given(caught=st.floats(0, 1), index=st.floats(0, 1), dry=st.floats(0.05, 1))
@settings(max_examples=50)
def test_light_limited_any_input_dry_mass_is_conserved(caught, index, dry):
    found = yields.light_limited("900 MJ/m^2", caught, "2.5 g/MJ", index, dry)
    dry_produce = found.m_as("g/m^2") * dry
    assert dry_produce == pytest.approx(900 * 2.5 * caught * index, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    "row",
    [row for row in SALINITY if row["printed"] == "yield"],
    ids=lambda row: f"{row['crop']}-{row['ec']}",
)
def test_salinity_factor_published_table_matches(row):
    tolerance = 0.5 * 10 ** -int(row["printed_digits"]) + 1e-9
    assert abs(factor(row) - float(row["yield_percent"])) <= tolerance


@pytest.mark.parametrize(
    "row",
    [row for row in SALINITY if row["printed"] == "ec"],
    ids=lambda row: f"{row['crop']}-{row['yield_percent']}",
)
def test_salinity_factor_published_ec_of_a_loss_matches(row):
    # The EC is printed to so many digits; half a step of it moves the yield by slope x that.
    tolerance = 0.5 * 10 ** -int(row["printed_digits"]) * float(row["slope"]) + 1e-9
    assert abs(factor(row) - float(row["yield_percent"])) <= tolerance


def test_salinity_factor_docstring_warns_of_soil_scale():
    assert "ECe" in yields.salinity_factor.__doc__
    assert "Warnings" in yields.salinity_factor.__doc__


@given(
    low=st.floats(0, 30),
    high=st.floats(0, 30),
    threshold=st.floats(0, 10),
    slope=st.floats(0, 100),
)
@settings(max_examples=50)
def test_salinity_factor_more_salt_never_more_yield(low, high, threshold, slope):
    low, high = sorted((low, high))
    found = yields.salinity_factor(
        quantity([low, high], "dS/m"),
        quantity(threshold, "dS/m"),
        quantity(slope, "percent/(dS/m)"),
    ).m_as("")
    assert 0 <= found[1] <= found[0] <= 1


@pytest.mark.parametrize(
    ("value", "band"),
    [(0, "usual"), (8, "usual"), (8.01, "high"), (12.4, "high"), (12.41, "record"),
     (19.7, "record"), (20, "record"), (20.01, "beyond")],
)  # fmt: skip
def test_plausibility_limits_belong_to_lower_band(value, band):
    # 19.7 kg/m²: Wheeler 2006 (abstract); 12.4: Kunkel and Campbell 1987 (abstract).
    assert yields.plausibility(quantity(value, "kg/m^2")) == band


def test_plausibility_array_gives_array_of_bands():
    found = yields.plausibility(quantity([4.0, 25.0], "kg/m^2"))
    assert found.tolist() == ["usual", "beyond"]


def test_plausibility_scalar_is_plain_text():
    assert type(yields.plausibility("4 kg/m^2")) is str


@given(st.lists(st.floats(0, 60), min_size=2, max_size=8))
@settings(max_examples=50)
def test_plausibility_sorted_yields_sorted_bands(values):
    bands = yields.plausibility(quantity(np.sort(values), "kg/m^2"))
    order = [yields.BANDS.index(band) for band in bands]
    assert order == sorted(order)
