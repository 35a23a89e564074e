"""Tubes and wicks, against computed tables, two readings of a rope and properties."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import lambertw

from scenariokit import quantity, substrate
from scenariokit.errors import InfeasibleError, RangeError

with (Path(__file__).parents[1] / "published" / "wicks.csv").open(
    newline="", encoding="utf-8"
) as file:
    ROWS = list(csv.DictReader(file))
ROPE_READINGS = ("100 minute", "10 inch", "20 hour", "22 inch")
WARM = {"surface_tension": "0.07199 N/m", "density": "997.047 kg/m^3"}


def half_digit(row):
    return 0.51 * 10 ** -int(row["printed_digits"])


def rows(kind):
    return [pytest.param(row, id=row["value"]) for row in ROWS if row["kind"] == kind]


@pytest.mark.parametrize("row", rows("jurin"))
def test_jurin_height_known_value_matches(row):
    angle = quantity(float(row["third"]), "deg")
    water = WARM if row["second"] == "25" else {}
    found = substrate.jurin_height(quantity(float(row["first"]), "mm"), angle, **water)
    assert found.m_as("cm") == pytest.approx(float(row["value"]), abs=half_digit(row))


def test_jurin_height_case_at_30_degrees_matches():
    # Printed case solution, read: 0.0712 N/m, 995.7 kg/m³, radius 1 mm -> 14.6 mm.
    found = substrate.jurin_height(
        "1 mm", surface_tension="0.0712 N/m", density="995.7 kg/m^3"
    ).m_as("mm")
    assert found == pytest.approx(14.6, abs=0.05)


@pytest.mark.parametrize("row", rows("horizontal"))
def test_washburn_horizontal_known_value_matches(row):
    found = substrate.washburn_horizontal(quantity(float(row["first"]), "s"), "10 um")
    assert found.m_as("cm") == pytest.approx(float(row["value"]), abs=half_digit(row))


@pytest.mark.parametrize("row", rows("vertical"))
def test_washburn_vertical_known_value_matches(row):
    found = substrate.washburn_vertical(quantity(float(row["first"]), "s"), "10 um")
    assert found.m_as("cm") == pytest.approx(float(row["value"]), abs=half_digit(row))


@pytest.mark.parametrize("seconds", [1.0, 10.0, 600.0, 1e4, 1e6])
def test_washburn_vertical_equals_lambert_form(seconds):
    # L = H {1 + W0[-exp(-1 - tau)]}, tau = rho g r² t / (8 mu H)
    highest = substrate.jurin_height("10 um").m_as("m")
    tau = 998.207 * 9.80665 * 1e-10 * seconds / (8 * 1.0016e-3 * highest)
    form = highest * (1 + lambertw(-np.exp(-1 - tau)).real)
    found = substrate.washburn_vertical(quantity(seconds, "s"), "10 um").m_as("m")
    assert found == pytest.approx(form, rel=1e-6)


def test_washburn_vertical_at_start_nothing_and_late_jurin():
    assert substrate.washburn_vertical("0 s", "10 um").m == 0
    late = substrate.washburn_vertical("100000 hour", "10 um")
    assert late.m == pytest.approx(substrate.jurin_height("10 um").m)


@given(radius=st.floats(1e-4, 0.1), seconds=st.floats(0.1, 1e5))
@settings(max_examples=50)
def test_washburn_vertical_below_horizontal_and_jurin(radius, seconds):
    r, t = quantity(radius, "mm"), quantity(seconds, "s")
    up = substrate.washburn_vertical(t, r).m
    assert up <= substrate.washburn_horizontal(t, r).m * (1 + 1e-12)
    assert up <= substrate.jurin_height(r).m


@pytest.mark.parametrize("row", rows("delivery"))
def test_strip_delivery_known_value_matches(row):
    speed = substrate.conductivity_from_permeability(quantity(float(row["first"]), "m^2"))
    height = quantity(float(row["second"]), "cm")
    found = substrate.strip_delivery(speed, "1 cm^2", "30 cm", height, height)
    assert found.m_as("mL/hour") == pytest.approx(float(row["value"]), abs=half_digit(row))


def test_conductivity_from_permeability_computed_pair():
    # Computed: 1e-12 m² is 35.18 mm/h or 84.44 cm/day in water at 20 °C.
    found = substrate.conductivity_from_permeability("1e-12 m^2")
    assert found.m_as("mm/hour") == pytest.approx(35.18, abs=0.005)
    assert found.m_as("cm/day") == pytest.approx(84.44, abs=0.005)


@given(k=st.floats(1e-14, 1e-9))
@settings(max_examples=50)
def test_permeability_from_conductivity_back_again(k):
    speed = substrate.conductivity_from_permeability(quantity(k, "m^2"))
    assert substrate.permeability_from_conductivity(speed).m == pytest.approx(k, rel=1e-12)


def test_fit_strip_rope_computed_values():
    # Readings: 7/16 inch nylon rope, copied magazine article; the fit computed.
    rope = substrate.fit_strip(*ROPE_READINGS)
    assert rope.maximum_rise.m_as("cm") == pytest.approx(62.07, abs=0.005)
    assert rope.conductivity_per_porosity.m_as("cm/day") == pytest.approx(104.65, abs=0.006)


@pytest.mark.parametrize("row", rows("rope"))
def test_strip_delivery_fitted_rope_matches(row):
    rope = substrate.fit_strip(*ROPE_READINGS)
    height = quantity(float(row["first"]), "cm")
    section = quantity(np.pi / 4 * (7 / 16) ** 2, "inch^2")
    found = substrate.strip_delivery(
        0.6 * rope.conductivity_per_porosity, section, rope.maximum_rise, height, height
    )
    # The table's conductivity was rounded to 62.8 cm/day.
    assert found.m_as("mL/hour") == pytest.approx(float(row["value"]), abs=2 * half_digit(row))


@given(highest=st.floats(5, 100), speed=st.floats(1, 5000), share=st.floats(0.05, 0.7))
@settings(max_examples=50)
def test_fit_strip_readings_of_a_known_strip_give_it_back(highest, speed, share):
    strip = (quantity(speed, "cm/day"), 1.0, quantity(highest, "cm"))
    low, high = quantity(share * highest, "cm"), quantity(0.95 * highest, "cm")
    first, second = (substrate.strip_rise_time(rise, *strip) for rise in (low, high))
    found = substrate.fit_strip(first, low, second, high)
    assert found.maximum_rise.m == pytest.approx(highest, rel=1e-8)
    assert found.conductivity_per_porosity.m == pytest.approx(speed, rel=1e-7)


@given(
    highest=st.floats(5, 100), speed=st.floats(1, 5000), phi=st.floats(0.1, 1),
    share=st.floats(1e-5, 0.99),
)  # fmt: skip
@settings(max_examples=50)
def test_strip_rise_undoes_strip_rise_time(highest, speed, phi, share):
    strip = (quantity(speed, "cm/day"), phi, quantity(highest, "cm"))
    rise = quantity(share * highest, "cm")
    back = substrate.strip_rise(substrate.strip_rise_time(rise, *strip), *strip)
    assert back.m == pytest.approx(rise.m, rel=1e-9)


@given(hours=st.floats(0, 1000), more=st.floats(0.001, 100))
@settings(max_examples=50)
def test_strip_rise_grows_and_stays_below_highest(hours, more):
    strip = (60.0, 0.6, 30.0)
    early = substrate.strip_rise.floats(hours, *strip)
    late = substrate.strip_rise.floats(hours + more, *strip)
    assert early <= late <= 30


def test_strip_rise_at_start_is_nothing():
    assert substrate.strip_rise("0 hour", "60 cm/day", 0.6, "30 cm").m == 0


def test_strip_rise_time_above_highest_raises():
    with pytest.raises(InfeasibleError, match="never gets there"):
        substrate.strip_rise_time("30 cm", "60 cm/day", 0.6, "30 cm")


def test_fit_strip_square_root_of_time_asks_to_wait():
    with pytest.raises(InfeasibleError, match="take the second reading later"):
        substrate.fit_strip("1 hour", "5 cm", "4 hour", "10 cm")


@pytest.mark.parametrize(("time", "rise"), [("0.5 hour", "10 cm"), ("4 hour", "5 cm")])
def test_fit_strip_readings_out_of_order_raise(time, rise):
    with pytest.raises(InfeasibleError, match="later and higher"):
        substrate.fit_strip("1 hour", "5 cm", time, rise)


def test_fit_strip_standing_front_is_the_highest_rise():
    found = substrate.fit_strip("1 hour", "10 cm", "1000 hour", "10.1 cm")
    assert found.maximum_rise.m == pytest.approx(10.1, rel=1e-6)


def test_fit_strip_no_time_says_why():
    with pytest.raises(RangeError, match="nothing has risen yet"):
        substrate.fit_strip("0 hour", "1 cm", "1 hour", "2 cm")


def test_strip_delivery_wet_medium_drains_back():
    found = substrate.strip_delivery("60 cm/day", "1 cm^2", "30 cm", "10 cm", "12 cm", "4 cm")
    # By hand: 2.5 cm/h x 1 cm² x (4 - 10) / 12
    assert found.m_as("mL/hour") == pytest.approx(-1.25)


def test_strip_delivery_above_reach_is_nothing():
    heights = quantity([10.0, 29.0, 30.0, 35.0], "cm")
    found = substrate.strip_delivery("60 cm/day", "1 cm^2", "30 cm", heights, "40 cm").m
    assert (found[:2] > 0).all()
    assert found[2:].tolist() == [0, 0]


def test_strip_delivery_path_shorter_than_height_raises():
    with pytest.raises(InfeasibleError, match="shorter than the height"):
        substrate.strip_delivery("60 cm/day", "1 cm^2", "30 cm", "10 cm", "9 cm")


def test_wick_evaporation_two_sided_strip_takes_most_of_a_slow_wick():
    # Computed: 10 by 10 cm with both faces bare at 5 mm/day lose 100 of 169 mL/day.
    lost = substrate.wick_evaporation("200 cm^2", "5 mm/day").m_as("mL/day")
    carried = substrate.strip_delivery("84.44 cm/day", "1 cm^2", "30 cm", "10 cm", "10 cm")
    assert lost == pytest.approx(100)
    assert lost / carried.m_as("mL/day") == pytest.approx(0.6, abs=0.01)
