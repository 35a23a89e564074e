from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import RangeError, UnitError, ValidityWarning

LIVED_IN = st.floats(-66, 66)
DAYS = st.floats(1, 366)


@given(LIVED_IN, DAYS)
@settings(max_examples=50)
def test_daylight_hours_two_hemispheres_add_to_a_day(latitude, day):
    north = climate.daylight_hours(quantity(latitude, "deg"), day).m_as("hour")
    south = climate.daylight_hours(quantity(-latitude, "deg"), day).m_as("hour")
    assert north + south == pytest.approx(24)


@given(LIVED_IN, DAYS)
@settings(max_examples=50)
def test_extraterrestrial_radiation_lived_in_latitude_is_within_glossary(latitude, day):
    found = climate.extraterrestrial_radiation(quantity(latitude, "deg"), day)
    assert 0 < found.m_as("MJ/m^2/day") < 46


def test_extraterrestrial_radiation_south_has_its_summer_in_january():
    south = climate.extraterrestrial_radiation("-35 deg", [15, 196]).m_as("MJ/m^2/day")
    assert south[0] > 2 * south[1]


def test_daylight_hours_equator_is_twelve_all_year():
    found = climate.daylight_hours("0 deg", np.arange(1, 366)).m_as("hour")
    np.testing.assert_allclose(found, 12)


@pytest.mark.parametrize(("day", "hours"), [(355, 0.0), (172, 24.0)])
def test_daylight_hours_polar_day_and_night_warn(day, hours):
    with pytest.warns(ValidityWarning, match="polar circles"):
        found = climate.daylight_hours("75 deg", day)
    assert found.m_as("hour") == pytest.approx(hours)


def test_extraterrestrial_radiation_polar_night_is_zero():
    with pytest.warns(ValidityWarning):
        found = climate.extraterrestrial_radiation("75 deg", 355)
    assert found.m_as("MJ/m^2/day") == 0


def test_daylight_hours_high_latitude_at_equinox_does_not_warn():
    assert climate.daylight_hours("75 deg", 80).m_as("hour") == pytest.approx(12, abs=1)


@pytest.mark.parametrize("latitude", ["90 deg", "-90 deg"])
def test_extraterrestrial_radiation_poles_are_finite(latitude):
    with pytest.warns(ValidityWarning):
        found = climate.extraterrestrial_radiation(latitude, np.arange(1, 366))
    assert np.all(found.m_as("MJ/m^2/day") >= 0)
    assert np.max(found.m_as("MJ/m^2/day")) < 60


@pytest.mark.parametrize("latitude", ["90.01 deg", "-91 deg", "2 radian"])
def test_daylight_hours_beyond_a_pole_raises(latitude):
    with pytest.raises(RangeError, match="latitude"):
        climate.daylight_hours(latitude, 100)


def test_daylight_hours_bare_latitude_raises_and_says_why():
    with pytest.raises(UnitError, match="bare number"):
        climate.daylight_hours(45, 100)


def test_daylight_hours_ensemble_broadcasts_over_places_and_days():
    found = climate.daylight_hours(quantity([[0.0], [45.0]], "deg"), [80, 172, 355])
    assert found.shape == (2, 3)
