from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import ArgumentError, RangeError, ValidityWarning

POTATO = ["25 day", "30 day", "45 day", "30 day"]


def test_basal_crop_coefficient_same_curve_as_single():
    days = quantity([1.0, 25, 40, 55, 100, 115, 130], "day")
    basal = climate.basal_crop_coefficient(days, POTATO, [0.15, 1.10, 0.65])
    # Computed by hand: half way up the rise 0.625, half way down the fall 0.875.
    assert basal.m_as("") == pytest.approx([0.15, 0.15, 0.625, 1.10, 1.10, 0.875, 0.65])


def test_basal_crop_coefficient_errors_bear_its_name():
    with pytest.raises(RangeError, match="basal_crop_coefficient: day = 131 day"):
        climate.basal_crop_coefficient("131 day", POTATO, [0.15, 1.10, 0.65])
    with pytest.raises(ArgumentError, match=r"basal_crop_coefficient: coefficients"):
        climate.basal_crop_coefficient("1 day", POTATO, [0.15])


@given(st.floats(0.45, 1.3), st.floats(0.1, 10))
@settings(max_examples=50)
def test_climate_adjusted_coefficient_usual_climate_changes_nothing(coefficient, height):
    found = climate.climate_adjusted_coefficient.floats(coefficient, 2.0, 0.45, 100 * height)
    assert found == pytest.approx(coefficient)


@given(st.floats(0.45, 1.3), st.floats(1, 5), st.floats(0.2, 0.7), st.floats(10, 300))
@settings(max_examples=50)
def test_climate_adjusted_coefficient_windier_or_drier_is_more(coefficient, wind, share, height):
    adjusted = climate.climate_adjusted_coefficient.floats
    usual = adjusted(coefficient, wind, share + 0.1, height)
    assert adjusted(coefficient, wind + 1, share + 0.1, height) > usual
    assert adjusted(coefficient, wind, share, height) > usual


def test_climate_adjusted_coefficient_small_one_comes_back_as_it_is():
    found = climate.climate_adjusted_coefficient([0.44, 0.45], "5 m/s", "30 %", "60 cm").m_as("")
    assert found[0] == 0.44
    # Computed by hand: (0.12 + 0.06) x 0.2^0.3 = 0.1111.
    assert found[1] == pytest.approx(0.45 + 0.1111, abs=5e-5)


@pytest.mark.parametrize(
    ("wind", "share", "height", "words"),
    [
        ("0.5 m/s", 0.5, "60 cm", "wind speed"),
        ("7 m/s", 0.5, "60 cm", "wind speed"),
        ("2 m/s", 0.1, "60 cm", "minimum humidity"),
        ("2 m/s", 0.9, "60 cm", "minimum humidity"),
        ("2 m/s", 0.5, "5 cm", "canopy height"),
    ],
)
def test_climate_adjusted_coefficient_outside_its_range_warns(wind, share, height, words):
    with pytest.warns(ValidityWarning, match=words):
        climate.climate_adjusted_coefficient(1.15, wind, share, height)


def test_climate_package_old_names_are_all_there():
    assert climate.crop_coefficient.floats(40.0, 25, 30, 45, 30, 0.5, 1.15, 0.75) == 0.825
    assert climate.month_of_day(32, 4) == 5
    assert climate.MONTH_LENGTHS.sum() == climate.DAYS_PER_YEAR
    assert all(hasattr(climate, name) for name in climate.__all__)
