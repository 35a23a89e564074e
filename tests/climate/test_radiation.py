from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import RangeError, ValidityWarning

AIR = ("21.5 degC", "12.3 degC")
ABOVE = st.floats(0.5, 45)
SHARE = st.floats(0, 1)


@given(ABOVE, SHARE, st.floats(1, 24))
@settings(max_examples=50)
def test_solar_from_sunshine_lies_between_dull_and_sunny_day(above, share, daylight):
    found = climate.solar_from_sunshine.floats(above, share * daylight, daylight)
    assert 0.25 * above <= found * (1 + 1e-12)
    assert found <= 0.75 * above * (1 + 1e-12)


def test_solar_from_sunshine_without_daylight_is_the_dull_share_of_nothing():
    found = climate.solar_from_sunshine("0 MJ/m^2/day", "0 hour", "0 hour")
    assert found.m_as("MJ/m^2/day") == 0


def test_solar_from_sunshine_few_minutes_over_daylight_passes_uncut():
    # Computed by hand: 0.25 + 0.5 x 10.2 / 10 = 0.76.
    found = climate.solar_from_sunshine("10 MJ/m^2/day", "10.2 hour", "10 hour")
    assert found.m_as("MJ/m^2/day") == pytest.approx(7.6)


def test_solar_from_sunshine_longer_than_daylight_raises():
    with pytest.raises(RangeError, match="sunshine = 12 hour: is longer than the daylight"):
        climate.solar_from_sunshine(
            "30 MJ/m^2/day", quantity([9.0, 12.0], "hour"), quantity(10, "hour")
        )


@given(ABOVE, st.floats(-10, 40), st.floats(0, 20))
@settings(max_examples=50)
def test_solar_from_temperature_range_grows_with_the_range(above, cold, width):
    found = climate.solar_from_temperature_range.floats(above, cold + width, cold)
    wider = climate.solar_from_temperature_range.floats(above, cold + width + 1, cold)
    assert 0 <= found < wider


def test_solar_from_temperature_range_more_than_clear_sky_warns_and_is_not_cut():
    with pytest.warns(ValidityWarning, match="clear sky"):
        found = climate.solar_from_temperature_range("40 MJ/m^2/day", "35 degC", "10 degC")
    assert found.m_as("MJ/m^2/day") == pytest.approx(0.16 * 5 * 40)


@pytest.mark.parametrize("function", ["solar_from_temperature_range", "hargreaves"])
def test_temperature_range_crossed_raises_and_gives_no_nan(function):
    given = {"extraterrestrial_radiation": "40 MJ/m^2/day", "maximum_temperature": "10 degC"}
    with pytest.raises(RangeError, match="minimum_temperature"):
        getattr(climate, function)(**given, minimum_temperature="11 degC")


@given(st.floats(5, 30), SHARE, st.floats(0, 2.3))
@settings(max_examples=50)
def test_net_longwave_radiation_moister_air_or_dimmer_sky_loses_less(clear, share, vapour):
    loss = climate.net_longwave_radiation.floats
    usual = loss(share * clear, clear, 21.5, 12.3, vapour)
    assert loss(clear, clear, 21.5, 12.3, vapour) >= usual
    bright = loss(clear, clear, 21.5, 12.3, vapour)
    assert loss(clear, clear, 21.5, 12.3, vapour + 0.1) < bright


def test_net_longwave_radiation_brighter_than_clear_counts_as_clear():
    loss = climate.net_longwave_radiation
    clear = loss("30 MJ/m^2/day", "30 MJ/m^2/day", *AIR, "1.4 kPa")
    assert loss("31 MJ/m^2/day", "30 MJ/m^2/day", *AIR, "1.4 kPa") == clear


def test_net_radiation_polar_night_raises():
    with pytest.raises(RangeError, match="without sun"):
        climate.net_radiation("0 MJ/m^2/day", "0 MJ/m^2/day", *AIR, "1.4 kPa")


@given(st.floats(1, 30), SHARE)
@settings(max_examples=50)
def test_net_radiation_balance_closes(solar, albedo):
    given = (solar, 31.0, 21.5, 12.3, 1.4)
    kept = climate.net_shortwave_radiation.floats(solar, albedo)
    lost = climate.net_longwave_radiation.floats(*given)
    assert climate.net_radiation.floats(*given, albedo) == pytest.approx(kept - lost)


def test_clear_sky_radiation_mean_power_same_as_daily_sum():
    power = climate.clear_sky_radiation(quantity(475.58, "W/m^2"), "100 m").m_as("MJ/m^2/day")
    energy = climate.clear_sky_radiation("41.0901 MJ/m^2/day", "100 m").m_as("MJ/m^2/day")
    assert np.isclose(power, energy, rtol=1e-5)
