"""The worked examples of FAO Irrigation and Drainage Paper 56, from their inputs to their ends."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from scenariokit import climate, quantity

PUBLISHED = Path(__file__).parents[1] / "published"


def table(name):
    with (PUBLISHED / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def matches(found, row):
    slack = 1e-9 * max(1.0, abs(float(row["value"])))
    return abs(found - float(row["value"])) <= 0.5 * 10 ** -int(row["printed_digits"]) + slack


def short_examples():
    air = ("25 degC", "18 degC")
    above = "25.1 MJ/m^2/day"
    return {
        ("2", "pressure"): climate.atmospheric_pressure("1800 m"),
        ("2", "psychrometric_constant"): climate.psychrometric_constant("81.8 kPa"),
        ("3", "saturation_mean"): climate.mean_saturation_vapour_pressure("24.5 degC", "15 degC"),
        ("5", "vapour_pressure"): climate.vapour_pressure_from_humidity(*air, "82 %", "54 %"),
        ("5", "vapour_pressure_from_mean"): climate.vapour_pressure_from_mean_humidity(
            *air, "68 %"
        ),
        ("8", "relative_distance"): climate.inverse_relative_distance(246),
        ("8", "declination"): climate.solar_declination(246),
        ("8", "sunset_angle"): climate.sunset_hour_angle("-20 deg", 246),
        ("8", "above_air"): climate.extraterrestrial_radiation("-20 deg", 246),
        ("9", "daylight"): climate.daylight_hours("-20 deg", 246),
        ("10", "solar"): climate.solar_from_sunshine(above, "7.1 hour", "10.9 hour"),
        ("11", "longwave"): climate.net_longwave_radiation(
            "14.5 MJ/m^2/day", "18.8 MJ/m^2/day", "25.1 degC", "19.1 degC", "2.1 kPa"
        ),
        ("13", "soil_heat"): climate.soil_heat_flux("18.8 degC", "14.1 degC", 2),
        ("14", "wind"): climate.wind_at_two_metres("3.2 m/s", "10 m"),
        ("15", "solar"): climate.solar_from_temperature_range(
            "40.6 MJ/m^2/day", "26.6 degC", "14.8 degC"
        ),
    }


def chain(air, latitude, day, elevation, vapour, wind, sunshine=None, soil=None):
    """Return every step from weather to reference evapotranspiration."""
    above = climate.extraterrestrial_radiation(latitude, day)
    daylight = climate.daylight_hours(latitude, day)
    if sunshine is None:
        solar = climate.solar_from_temperature_range(above, *air)
    else:
        solar = climate.solar_from_sunshine(above, sunshine, daylight)
    clear = climate.clear_sky_radiation(above, elevation)
    net = climate.net_radiation(solar, clear, *air, vapour)
    pressure = climate.atmospheric_pressure(elevation)
    mean = quantity(sum(quantity(part).m_as("degC") for part in air) / 2, "degC")
    return {
        "above_air": above,
        "daylight": daylight,
        "solar": solar,
        "clear_sky": clear,
        "shortwave": climate.net_shortwave_radiation(solar),
        "longwave": climate.net_longwave_radiation(solar, clear, *air, vapour),
        "net": net,
        "pressure": pressure,
        "psychrometric_constant": climate.psychrometric_constant(pressure),
        "slope": climate.vapour_pressure_slope(mean),
        "saturation_mean": climate.mean_saturation_vapour_pressure(*air),
        "saturation_warm": climate.saturation_vapour_pressure(air[0]),
        "saturation_cold": climate.saturation_vapour_pressure(air[1]),
        "vapour_pressure": vapour,
        "soil_heat": soil,
        "reference": climate.penman_monteith(*air, vapour, wind, net, elevation, soil),
        "hargreaves": climate.hargreaves(*air, above),
    }


def example_17():
    soil = climate.soil_heat_flux("30.2 degC", "29.2 degC")
    north = quantity(13 + 44 / 60, "deg")
    steps = chain(
        ("34.8 degC", "25.6 degC"), north, 105, "2 m", "2.85 kPa", "2 m/s", "8.5 hour", soil
    )
    # The number printed follows from the pressure rounded to 101.3; from 101.276 it is 0.06735.
    return {**steps, "psychrometric_constant": climate.psychrometric_constant("101.3 kPa")}


def example_18():
    air = ("21.5 degC", "12.3 degC")
    wind = climate.wind_at_two_metres("10 km/h", "10 m")
    site = (air, quantity(50.8, "deg"), 187, "100 m")
    pair = climate.vapour_pressure_from_humidity(*air, "84 %", "63 %")
    mean = climate.vapour_pressure_from_mean_humidity(*air, "73.5 %")
    other = chain(*site, mean, wind, "9.25 hour")["reference"]
    return {**chain(*site, pair, wind, "9.25 hour"), "reference_mean_humidity": other}


def example_20():
    air = ("26.6 degC", "14.8 degC")
    vapour = climate.vapour_pressure_from_minimum_temperature(air[1])
    site = (air, quantity(45 + 43 / 60, "deg"), 196, "200 m", vapour)
    return {
        **chain(*site, "2 m/s"),
        "reference_little_wind": chain(*site, "1 m/s")["reference"],
        "reference_much_wind": chain(*site, "3 m/s")["reference"],
    }


@pytest.fixture(scope="module")
def found():
    long = {"17": example_17(), "18": example_18(), "20": example_20()}
    return short_examples() | {
        (example, name): value for example, steps in long.items() for name, value in steps.items()
    }


@pytest.mark.parametrize(
    "row",
    table("evapotranspiration_examples"),
    ids=lambda row: f"{row['example']}-{row['quantity']}-{row['printed_digits']}",
)
def test_worked_example_every_printed_number_matches(found, row):
    unit = "" if row["unit"] == "1" else row["unit"]
    value = found[row["example"], row["quantity"]].m_as(unit)
    assert matches(value, row)


def test_worked_example_monthly_without_soil_heat_gives_more():
    # Computed by hand: 0.408 x 0.2458 x 0.14 over the denominator of example 17 is 0.039 mm/day.
    air = ("34.8 degC", "25.6 degC")
    north = quantity(13 + 44 / 60, "deg")
    dry = chain(air, north, 105, "2 m", "2.85 kPa", "2 m/s", "8.5 hour")["reference"]
    assert dry.m_as("mm/day") == pytest.approx(5.7552, abs=5e-5)


@pytest.mark.parametrize("latitude", ["20", "40", "50", "-35"])
def test_extraterrestrial_radiation_middle_of_each_month_matches(latitude):
    rows = [row for row in table("extraterrestrial_radiation") if row["latitude"] == latitude]
    days = [float(row["day_of_year"]) for row in rows]
    values = climate.extraterrestrial_radiation(quantity(float(latitude), "deg"), days)
    assert len(rows) == 12
    assert all(map(matches, values.m_as("MJ/m^2/day"), rows))


@pytest.mark.parametrize(
    "row",
    table("coefficient_adjustments"),
    ids=lambda row: f"{row['place']}-{row['printed_digits']}",
)
def test_climate_adjusted_coefficient_published_places_match(row):
    value = climate.climate_adjusted_coefficient(
        float(row["coefficient"]),
        quantity(float(row["wind_speed"]), "m/s"),
        quantity(float(row["minimum_humidity"]), "%"),
        quantity(float(row["canopy_height"]), "m"),
    )
    assert matches(value.m_as(""), row)


def test_worked_example_arrays_of_days_and_members_equal_scalars():
    warm = quantity([[21.5, 26.6], [30.0, 18.0]], "degC")
    cold = quantity([[12.3], [10.0]], "degC")
    together = climate.hargreaves(warm, cold, quantity([41.09, 40.55], "MJ/m^2/day"))
    assert together.shape == (2, 2)
    alone = climate.hargreaves("30 degC", "10 degC", "41.09 MJ/m^2/day")
    np.testing.assert_allclose(together.m_as("mm/day")[1, 0], alone.m_as("mm/day"))
