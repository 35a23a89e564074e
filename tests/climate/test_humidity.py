from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import RangeError

WARM = st.floats(-20, 50)
WIDTH = st.floats(0, 25)
SHARE = st.floats(0, 1)


@given(WARM, WIDTH)
@settings(max_examples=50)
def test_mean_saturation_vapour_pressure_is_never_below_that_of_the_mean(warm, width):
    both = climate.mean_saturation_vapour_pressure.floats(warm, warm - width)
    assert both >= climate.saturation_vapour_pressure.floats(warm - width / 2) * (1 - 1e-12)


@given(WARM)
@settings(max_examples=50)
def test_vapour_pressure_slope_equals_difference_of_the_curve(temperature):
    step = 1e-4
    curve = climate.saturation_vapour_pressure.floats
    slope = (curve(temperature + step) - curve(temperature - step)) / (2 * step)
    # FAO-56 rounds 17.27 x 237.3 = 4098.17 to 4098.
    assert climate.vapour_pressure_slope.floats(temperature) == pytest.approx(slope, rel=1e-4)


@given(WARM, WIDTH, SHARE, SHARE)
@settings(max_examples=50)
def test_vapour_pressure_from_humidity_never_exceeds_saturation(warm, width, one, other):
    dry, moist = sorted((one, other))
    found = climate.vapour_pressure_from_humidity.floats(warm, warm - width, moist, dry)
    saturated = climate.mean_saturation_vapour_pressure.floats(warm, warm - width)
    assert 0 <= found <= saturated * (1 + 1e-12)


@given(st.floats(-450, 8000), st.floats(1, 1000))
@settings(max_examples=50)
def test_atmospheric_pressure_higher_place_has_less(elevation, rise):
    low, high = map(climate.atmospheric_pressure.floats, (elevation, elevation + rise))
    assert high < low


@given(WARM)
@settings(max_examples=50)
def test_vapour_pressure_guesses_same_temperature_agree(temperature):
    dew = climate.vapour_pressure_from_dew_point(quantity(temperature, "degC"))
    lowest = climate.vapour_pressure_from_minimum_temperature(quantity(temperature, "degC"))
    full = climate.vapour_pressure_from_mean_humidity.floats(temperature, temperature, 1.0)
    assert dew == lowest
    assert full == pytest.approx(dew.m_as("kPa"))


def test_vapour_pressure_from_humidity_crossed_temperatures_raises():
    with pytest.raises(RangeError, match="minimum_temperature = 22 degC: lies above"):
        climate.vapour_pressure_from_humidity("21 degC", "22 degC", 0.8, 0.4)


def test_vapour_pressure_from_humidity_crossed_humidity_raises():
    with pytest.raises(RangeError, match=r"minimum_humidity = 0\.9"):
        climate.vapour_pressure_from_humidity("21 degC", "12 degC", 0.8, 0.9)


def test_vapour_pressure_from_humidity_percent_without_sign_raises_with_hint():
    with pytest.raises(RangeError, match=r"84 %"):
        climate.vapour_pressure_from_humidity("21 degC", "12 degC", 84, 0.5)


def test_mean_saturation_vapour_pressure_array_shows_first_crossed_value():
    with pytest.raises(RangeError, match="= 25 degC"):
        climate.mean_saturation_vapour_pressure(
            quantity([20.0, 20.0, 20.0], "degC"), quantity([10.0, 25.0, 30.0], "degC")
        )
