from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError, RangeError, UnitError
from scenariokit.reservoir import SteadyWater

PUBLISHED = Path(__file__).parents[1] / "published"
USE = st.floats(0.5, 12)
STRENGTH = st.floats(10, 400)


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def mg(value):
    return quantity(value, "mg/L")


def mm(value):
    return quantity(value, "mm/day")


def of_row(row, days=None):
    """Return the closed form that a published row is about."""
    water = SteadyWater(
        "100 L/m^2", "5 mm/day", mm(float(row["evaporation"])), mm(float(row["discharge"]))
    )
    time = quantity(float(row["days"]) if days is None else days, "day")
    start = mg(150.0)
    if row["case"] == "held":
        return reservoir.concentration_held(water, start, start, mg(120.0), time)
    if row["case"] == "falling":
        return reservoir.concentration_falling(water, start, mg(120.0), time)
    factor = float(row["factor"])
    if row["case"] == "held_proportional":
        return reservoir.concentration_held_proportional(water, start, start, factor, time)
    return reservoir.concentration_falling_proportional(water, start, factor, time)


@pytest.mark.parametrize("row", rows("concentration_drift.csv"), ids=lambda row: row["value"])
def test_concentration_hand_worked_cases_match(row):
    half = 0.5 * 10 ** -int(row["printed_digits"]) + 1e-9
    assert abs(of_row(row).m_as("mg/L") - float(row["value"])) <= half


@pytest.mark.parametrize("row", rows("concentration_drift.csv"), ids=lambda row: row["value"])
def test_concentration_array_of_days_begins_at_start_and_ends_at_value(row):
    found = of_row(row, np.array([0.0, float(row["days"])]))
    np.testing.assert_allclose(found.m_as("mg/L"), [150, float(row["value"])], rtol=1e-8)


@pytest.mark.parametrize("row", rows("concentration_drift.csv"), ids=lambda row: row["value"])
def test_concentration_scalar_gives_plain_float(row):
    assert type(of_row(row).magnitude) is float


@given(volume=st.floats(20, 500), use=USE, inflow=STRENGTH, time=st.floats(1, 20))
@settings(max_examples=50)
def test_concentration_held_twice_the_volume_half_the_drift(volume, use, inflow, time):
    drift = [
        reservoir.concentration_held(
            SteadyWater(quantity(volume * n, "L/m^2"), mm(use)),
            mg(500.0), mg(inflow + 100), mg(100.0), quantity(time, "day"),
        ).m_as("mg/L") - 500
        for n in (1, 2)
    ]  # fmt: skip
    assert drift[0] == pytest.approx(2 * drift[1], rel=1e-9)


@given(use=USE, lost=st.floats(0, 3), run_off=st.floats(1e-7, 1e-3))
@settings(max_examples=50)
def test_concentration_held_little_discharge_tends_to_none(use, lost, run_off):
    found = [
        reservoir.concentration_held(
            SteadyWater("100 L/m^2", mm(use), mm(lost), mm(d)),
            mg(150.0), mg(150.0), mg(120.0), "30 day",
        ).m_as("mg/L")
        for d in (0.0, run_off)
    ]  # fmt: skip
    assert found[1] == pytest.approx(found[0], rel=run_off + 1e-9)


@given(use=USE, lost=st.floats(0, 3), uptake=STRENGTH)
@settings(max_examples=50)
def test_concentration_held_refill_that_holds_leaves_it_as_it_is(use, lost, uptake):
    inflow = reservoir.top_up_to_hold(mg(uptake), mm(use), mm(lost))
    water = SteadyWater("80 L/m^2", mm(use), mm(lost))
    found = reservoir.concentration_held(water, mg(77.0), inflow, mg(uptake), "90 day")
    assert found.m_as("mg/L") == pytest.approx(77, rel=1e-9)


@given(use=USE, lost=st.floats(0, 3), uptake=st.floats(10, 140), share=st.floats(0.05, 0.9))
@settings(max_examples=50)
def test_concentration_falling_any_tank_keeps_what_is_not_taken_up(use, lost, uptake, share):
    time = 100 * share / (use + lost)
    water = SteadyWater("100 L/m^2", mm(use), mm(lost))
    found = reservoir.concentration_falling(water, mg(150.0), mg(uptake), quantity(time, "day"))
    left = 100 - (use + lost) * time
    assert found.m_as("mg/L") * left == pytest.approx(15000 - uptake * use * time, rel=1e-9)


def test_concentration_falling_only_discharge_stays():
    water = SteadyWater("100 L/m^2", "0 mm/day", discharge="4 mm/day")
    found = reservoir.concentration_falling(water, mg(150.0), mg(100.0), "10 day")
    assert found.m_as("mg/L") == pytest.approx(150)


def test_concentration_falling_discharge_solves_the_balance():
    # Euler steps of 1e-4 day, independent of the closed form: V' = -7.5, M' = -600 - 2 C.
    volume, mass, step = 100.0, 15000.0, 1e-4
    for _ in range(100_000):
        mass -= (5 * 120 + 2 * mass / volume) * step
        volume -= 7.5 * step
    water = SteadyWater("100 L/m^2", "5 mm/day", "0.5 mm/day", "2 mm/day")
    found = reservoir.concentration_falling(water, mg(150.0), mg(120.0), "10 day")
    assert found.m_as("mg/L") == pytest.approx(mass / volume, rel=1e-4)


@pytest.mark.parametrize(
    "call",
    [
        lambda water, time: reservoir.concentration_falling(water, mg(150.0), mg(120.0), time),
        lambda water, time: reservoir.concentration_falling_proportional(
            water, mg(150.0), 0.8, time
        ),
    ],
)
def test_concentration_falling_dry_tank_says_when(call):
    with pytest.raises(InfeasibleError, match="dry after 20 days"):
        call(SteadyWater("100 L/m^2", "5 mm/day"), "21 day")


def test_concentration_held_more_taken_than_there_is_raises():
    water = SteadyWater("100 L/m^2", "5 mm/day")
    with pytest.raises(InfeasibleError, match="taken up more"):
        reservoir.concentration_held(water, mg(10.0), mg(10.0), mg(120.0), "60 day")


def test_steady_water_faults_are_all_named():
    with pytest.raises(RangeError, match="needs water") as caught:
        SteadyWater("0 L/m^2", "-1 mm/day")
    assert [problem.field for problem in caught.value.problems] == ["volume", "transpiration"]
    with pytest.raises(UnitError, match="transpiration"):
        SteadyWater("10 L/m^2", 5)


def test_concentration_held_bad_argument_is_named():
    with pytest.raises(UnitError, match="uptake"):
        reservoir.concentration_held(
            SteadyWater("100 L/m^2", "5 mm/day"), mg(1.0), mg(1.0), 120, "1 day"
        )
