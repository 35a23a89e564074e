from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import RangeError

WARM = st.floats(0, 45)
WIDTH = st.floats(0, 20)
SHARE = st.floats(0.05, 1)
WIND = st.floats(0, 10)
NET = st.floats(0, 20)
ELEVATION = st.floats(0, 4000)
evapotranspiration = climate.penman_monteith.floats


def moisture(warm, width, share):
    return share * climate.mean_saturation_vapour_pressure.floats(warm, warm - width)


@given(WARM, WIDTH, SHARE, WIND, NET, ELEVATION)
@settings(max_examples=50)
def test_penman_monteith_sane_weather_is_not_negative(warm, width, share, wind, net, elevation):
    found = evapotranspiration(
        warm, warm - width, moisture(warm, width, share), wind, net, elevation
    )
    assert 0 <= found < 30


@given(WARM, WIDTH, st.floats(0.05, 0.8), st.floats(0.5, 10), NET, ELEVATION)
@settings(max_examples=50)
def test_penman_monteith_drier_air_or_more_radiation_takes_more(
    warm, width, share, wind, net, elevation
):
    moist, dry = moisture(warm, width, share + 0.1), moisture(warm, width, share)
    usual = evapotranspiration(warm, warm - width, moist, wind, net, elevation)
    assert evapotranspiration(warm, warm - width, dry, wind, net, elevation) > usual
    assert evapotranspiration(warm, warm - width, moist, wind, net + 1, elevation) > usual


@given(WARM, WIDTH, st.floats(0.05, 0.5), st.floats(0, 5))
@settings(max_examples=50)
def test_penman_monteith_more_wind_takes_more_where_radiation_is_small(warm, width, share, wind):
    # Wind only adds where the drying power of the air exceeds what radiation alone gives.
    given = (warm, warm - width, moisture(warm, width, share))
    assert evapotranspiration(*given, wind + 1, 0.0, 100) > evapotranspiration(
        *given, wind, 0.0, 100
    )


def test_penman_monteith_calm_saturated_air_is_radiation_alone():
    # Computed by hand: 0.408 slope / (slope + gamma) Rn with slope 0.14474, gamma 0.06737 kPa/K.
    slope = climate.vapour_pressure_slope.floats(20.0)
    gamma = climate.psychrometric_constant.floats(101.3)
    saturated = climate.saturation_vapour_pressure.floats(20.0)
    found = evapotranspiration(20.0, 20.0, saturated, 0.0, 10.0, 0.0)
    assert found == pytest.approx(4.08 * slope / (slope + gamma))
    assert found == pytest.approx(2.784, abs=5e-4)


def test_penman_monteith_dew_is_given_below_zero():
    found = climate.penman_monteith("2 degC", "1 degC", "0.67 kPa", "1 m/s", "-2 MJ/m^2/day", "0 m")
    assert found.m_as("mm/day") < 0


def test_penman_monteith_more_vapour_than_air_can_hold_raises():
    with pytest.raises(RangeError, match=r"vapour_pressure = 2\.5 kPa"):
        climate.penman_monteith(
            "21.5 degC", "12.3 degC", "2.5 kPa", "2 m/s", "13 MJ/m^2/day", "0 m"
        )


def test_penman_monteith_us_units_same_result():
    metric = climate.penman_monteith(
        "21.5 degC", "12.3 degC", "1.409 kPa", "2.078 m/s", "13.28 MJ/m^2/day", "100 m"
    )
    other = climate.penman_monteith(
        "70.7 degF", "54.14 degF", quantity(14.09, "hPa"), quantity(2.078 / 0.44704, "mph"),
        quantity(13.28 / 0.0864, "W/m^2"), quantity(100 / 0.3048, "ft"),
    )  # fmt: skip
    assert other.m_as("mm/day") == pytest.approx(metric.m_as("mm/day"))


@given(st.floats(-17, 45), WIDTH, st.floats(0, 45))
@settings(max_examples=50)
def test_hargreaves_above_its_zero_is_not_negative_and_scales(cold, width, above):
    found = climate.hargreaves.floats(cold + width, cold, above)
    assert found >= 0
    assert climate.hargreaves.floats(cold + width, cold, 2 * above) == pytest.approx(2 * found)


@given(WIND, st.floats(2.1, 50))
@settings(max_examples=50)
def test_wind_at_two_metres_from_above_is_slower_and_proportional(wind, height):
    found = climate.wind_at_two_metres.floats(wind, height)
    assert found <= wind
    assert climate.wind_at_two_metres.floats(2 * wind, height) == pytest.approx(2 * found)


def test_wind_at_two_metres_at_two_metres_is_the_same():
    assert climate.wind_at_two_metres("3 m/s", "2 m").m_as("m/s") == pytest.approx(3, rel=1e-3)


@given(st.floats(-20, 40), st.floats(-20, 40))
@settings(max_examples=50)
def test_soil_heat_flux_there_and_back_closes(one, other):
    there = climate.soil_heat_flux.floats(one, other)
    assert there == -climate.soil_heat_flux.floats(other, one)
    assert climate.soil_heat_flux.floats(one, other, 2) == pytest.approx(there / 2)
