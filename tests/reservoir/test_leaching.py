from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError
from scenariokit.reservoir import SteadyWater

PUBLISHED = Path(__file__).parents[1] / "published"


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    "row", rows("rain_dilution.csv"), ids=lambda row: f"{row['depth_mm']}-{row['kept']}"
)
def test_rain_dilution_hand_worked_cases_match(row):
    volume, rain = quantity(float(row["depth_mm"]), "mm"), quantity(float(row["rain_mm"]), "mm")
    room = rain if row["kept"] == "1" else None
    found = reservoir.rain_dilution("150 mg/L", volume, rain, room).m_as("mg/L")
    assert abs(found - float(row["value"])) <= 0.5 * 10 ** -int(row["printed_digits"]) + 1e-9


@given(room=st.floats(0, 100), rain=st.floats(0, 300))
@settings(max_examples=50)
def test_rain_dilution_more_freeboard_never_loses_salt(room, rain):
    volumes = []
    for freeboard in (room, room + 10):
        found = reservoir.rain_dilution(
            "150 mg/L", "100 L/m^2", quantity(rain, "mm"), quantity(freeboard, "L/m^2")
        )
        volumes.append(found.m_as("mg/L") * (100 + min(rain, freeboard)))
    assert volumes[0] <= volumes[1] * (1 + 1e-12)


def test_leaching_fraction_limit_of_300_worked_case():
    # Computed by hand: (150 - 120) / (300 - 120) = 0.16667; D/E = 30 / 150 = 0.2.
    share = reservoir.leaching_fraction("150 mg/L", "120 mg/L", "300 mg/L").m_as("")
    run_off = reservoir.discharge_to_hold("150 mg/L", "120 mg/L", "300 mg/L", "5 mm/day")
    assert share == pytest.approx(0.16667, abs=5e-6)
    assert run_off.m_as("mm/day") / 5 == pytest.approx(0.2)


@given(
    uptake=st.floats(10, 200),
    excess=st.floats(1, 100),
    above=st.floats(1, 300),
    use=st.floats(0.5, 12),
    lost=st.floats(0, 2),
)
@settings(max_examples=50)
def test_discharge_to_hold_any_limit_is_held_for_ever(uptake, excess, above, use, lost):
    inflow, limit = (quantity(uptake + n, "mg/L") for n in (excess, excess + above))
    taken, flown = quantity(use, "mm/day"), quantity(lost, "mm/day")
    found = reservoir.discharge_to_hold(inflow, quantity(uptake, "mg/L"), limit, taken, flown)
    if found.m_as("mm/day") > 100:
        return
    water = SteadyWater("100 L/m^2", taken, flown, found)
    later = reservoir.concentration_held(water, limit, inflow, quantity(uptake, "mg/L"), "500 day")
    assert later.m_as("mg/L") == pytest.approx(limit.m_as("mg/L"), rel=1e-6)


def test_leaching_fraction_weak_refill_needs_none():
    assert reservoir.leaching_fraction("100 mg/L", "120 mg/L", "90 mg/L").m_as("") == 0


@pytest.mark.parametrize("limit", ["150 mg/L", "140 mg/L"])
def test_leaching_fraction_limit_not_above_refill_raises(limit):
    with pytest.raises(InfeasibleError, match="above the refill"):
        reservoir.leaching_fraction("150 mg/L", "120 mg/L", limit)
    with pytest.raises(InfeasibleError, match="above the refill"):
        reservoir.discharge_to_hold("150 mg/L", "120 mg/L", limit, "5 mm/day")


def test_top_up_to_hold_tenth_evaporates_worked_case():
    # Computed by hand: 120 x 5 / 5.5.
    found = reservoir.top_up_to_hold("120 mg/L", "5 mm/day", "0.5 mm/day")
    assert found.m_as("mg/L") == pytest.approx(109.0909, abs=5e-5)
