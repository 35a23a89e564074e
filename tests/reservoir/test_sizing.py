from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError, RangeError

USE = st.floats(0.1, 30)
DEPTH = st.floats(0.1, 100)
DISPLACED = st.floats(0, 0.99)


def test_volume_ten_cm_on_two_m2_worked_case():
    assert reservoir.volume("2 m^2", "10 cm", 0.25).m_as("L") == pytest.approx(150)


def test_volume_feet_and_inches_in_gallons():
    # Exact: 1 ft² x 12 inch = 1 ft³ = 7.480519 US gal.
    assert reservoir.volume("1 ft^2", "12 inch").m_as("gal") == pytest.approx(7.480519, abs=5e-7)


@given(DEPTH, DISPLACED)
@settings(max_examples=50)
def test_volume_any_tank_free_and_displaced_fill_it(depth, displaced):
    free = reservoir.volume("1 m^2", quantity(depth, "cm"), displaced).m_as("L")
    assert free + displaced * depth * 10 == pytest.approx(depth * 10)


def test_autonomy_eight_cm_worked_case():
    # Computed by hand: 80 mm / 5.75 mm a day.
    assert reservoir.autonomy("80 mm", "5.75 mm/day").m_as("day") == pytest.approx(13.913, abs=5e-4)


def test_autonomy_nothing_used_says_why():
    with pytest.raises(RangeError, match="never runs dry"):
        reservoir.autonomy("8 cm", "0 mm/day")


@given(DEPTH, USE, DISPLACED)
@settings(max_examples=50)
def test_autonomy_any_tank_level_falls_by_depth_in_that_time(depth, use, displaced):
    time = reservoir.autonomy(quantity(depth, "cm"), quantity(use, "mm/day"), displaced)
    fall = reservoir.drop_per_day(quantity(use, "mm/day"), displaced) * time
    assert fall.m_as("cm") == pytest.approx(depth, rel=1e-9)


def test_drop_per_day_half_displaced_falls_twice_as_fast():
    found = reservoir.drop_per_day("6 mm/day", 0.5)
    assert found.m_as("cm/day") == pytest.approx(1.2)


def test_starting_depth_200_litres_above_five_cm():
    assert reservoir.starting_depth("200 L/m^2", "5 cm").m_as("cm") == pytest.approx(25)


def test_starting_depth_rain_lowers_and_displacement_raises():
    found = reservoir.starting_depth("200 L/m^2", "5 cm", "40 L/m^2", 0.2)
    # Computed by hand: 5 + (200 - 40) / 10 / 0.8.
    assert found.m_as("cm") == pytest.approx(25)


def test_starting_depth_rain_equal_to_use_level_stays():
    found = reservoir.starting_depth("40 L/m^2", "5 cm", "40 L/m^2")
    assert found.m_as("cm") == pytest.approx(5)


def test_starting_depth_more_rain_than_use_is_infeasible():
    with pytest.raises(InfeasibleError, match="level rises"):
        reservoir.starting_depth("40 L/m^2", "5 cm", quantity([10, 41], "L/m^2"))


def test_starting_depth_floats_more_rain_lies_below_minimum():
    assert reservoir.starting_depth.floats(40, 5, 50, 0.0) == pytest.approx(4)


@given(use=st.floats(0, 1000), minimum=st.floats(0, 50), share=st.floats(0, 1), q=DISPLACED)
@settings(max_examples=50)
def test_starting_depth_any_season_ends_at_minimum(use, minimum, share, q):
    rain = quantity(use * share, "L/m^2")
    start = reservoir.starting_depth(quantity(use, "L/m^2"), quantity(minimum, "cm"), rain, q)
    left = start.m_as("cm") * 10 * (1 - q) - use + use * share
    assert left == pytest.approx(minimum * 10 * (1 - q), abs=1e-6)


def test_reserve_volume_week_at_peak_worked_case():
    found = reservoir.reserve_volume("10 m^2", "6 mm/day", "7 day")
    assert found.m_as("L") == pytest.approx(420)


def test_reserve_volume_no_days_is_zero():
    assert reservoir.reserve_volume("10 m^2", "6 mm/day", "0 day").m_as("L") == 0


@given(area=st.floats(0.1, 100), use=USE, days=st.floats(0, 100))
@settings(max_examples=50)
def test_reserve_volume_any_tank_is_linear_in_area(area, use, days):
    one, two = (
        reservoir.reserve_volume(
            quantity(area * n, "m^2"), quantity(use, "mm/day"), quantity(days, "day")
        ).m_as("L")
        for n in (1, 2)
    )
    assert two == pytest.approx(2 * one)


def test_hand_fill_interval_five_cm_worked_case():
    found = reservoir.hand_fill_interval("8 cm", "3 cm", "5 mm/day")
    assert found.m_as("day") == pytest.approx(10)


@pytest.mark.parametrize("low", ["8 cm", "9 cm"])
def test_hand_fill_interval_low_not_below_high_is_infeasible(low):
    with pytest.raises(InfeasibleError, match="must be below level_high"):
        reservoir.hand_fill_interval("8 cm", low, "5 mm/day")


def test_hand_fill_interval_nothing_used_says_why():
    with pytest.raises(RangeError, match="never runs dry"):
        reservoir.hand_fill_interval("8 cm", "3 cm", "0 mm/day")


@given(low=st.floats(0, 50), band=st.floats(0.1, 50), use=USE, q=DISPLACED)
@settings(max_examples=50)
def test_hand_fill_interval_any_band_equals_autonomy_of_it(low, band, use, q):
    high = low + band
    interval = reservoir.hand_fill_interval(
        quantity(high, "cm"), quantity(low, "cm"), quantity(use, "mm/day"), q
    )
    alone = reservoir.autonomy(quantity(high - low, "cm"), quantity(use, "mm/day"), q)
    assert interval.m_as("day") == pytest.approx(alone.m_as("day"), rel=1e-9)


def test_check_level_below_rim_gives_freeboard():
    assert reservoir.check_level("12 cm", "0.15 m").m_as("cm") == pytest.approx(3)


def test_check_level_at_rim_is_allowed():
    assert reservoir.check_level("15 cm", "15 cm").m_as("cm") == 0


def test_check_level_above_rim_names_worst():
    with pytest.raises(InfeasibleError, match=r"level \(18 cm\) lies 3 cm above the rim \(15 cm\)"):
        reservoir.check_level(quantity([16.0, 18.0, 2.0], "cm"), "15 cm")


@given(level=DEPTH, room=st.floats(0, 50))
@settings(max_examples=50)
def test_check_level_any_level_below_rim_adds_up(level, room):
    rim = quantity(level + room, "cm")
    free = reservoir.check_level(quantity(level, "cm"), rim)
    assert (free + quantity(level, "cm")).m_as("cm") == pytest.approx(rim.m)


def test_rooms_names_in_all_exist():
    assert all(hasattr(reservoir, name) for name in reservoir.__all__)
    assert np.size(reservoir.__all__) == len(set(reservoir.__all__))
