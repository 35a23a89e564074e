from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError
from scenariokit.reservoir import FallingLevel, Flows, HandFilled, Tank, simulate

POTS = Tank("20 cm", quantity([0, 4], "cm"), [0.5, 0.0], area="2 m^2")


def test_refill_calendar_two_weeks_worked_case():
    # 5 mm a day for 7 days is 35 L/m² and 70 L on 2 m²; 10 cm hold 80 L/m², 45 L/m² stand at 6.5 cm.
    season = simulate(POTS, HandFilled("10 cm", every=7), Flows("5 mm/day", days=15))
    rows = reservoir.refill_calendar(season)
    assert [row.day for row in rows] == [8, 15]
    for row in rows:
        assert row.litres.m_as("L") == pytest.approx(70)
        assert row.depth_before.m_as("cm") == pytest.approx(6.5)
        assert row.depth_after.m_as("cm") == pytest.approx(10)
    assert season.totals.fills == 2


def test_refill_calendar_drained_before_filling_is_below():
    flows = Flows("5 mm/day", drained="20 L/m^2", drained_on=[8], days=10)
    season = simulate(POTS, HandFilled("10 cm", every=7), flows)
    (row,) = reservoir.refill_calendar(season)
    assert row.depth_before.m_as("cm") == pytest.approx(4.5)
    assert row.litres.m_as("L") == pytest.approx(110)


def test_refill_calendar_member_of_an_ensemble():
    tank = Tank("20 cm", area=quantity([1.0, 3.0], "m^2"))
    flows = Flows("5 mm/day", days=9, demand_factor=np.array([1.0, 2.0]))
    season = simulate(tank, HandFilled("10 cm", every=7), flows)
    (row,) = reservoir.refill_calendar(season, 1)
    assert row.litres.m_as("L") == pytest.approx(210)
    assert row.depth_before.m_as("cm") == pytest.approx(3)
    with pytest.raises(InfeasibleError, match="name one member"):
        reservoir.refill_calendar(season)


def test_refill_calendar_falling_tank_is_empty():
    season = simulate(POTS, FallingLevel("10 cm"), Flows("1 mm/day", days=9))
    assert reservoir.refill_calendar(season) == []
    assert reservoir.refill_lines([])[-1] == "0 fillings, 0.0 L in all"


def test_refill_lines_have_a_heading_rows_and_sum():
    season = simulate(POTS, HandFilled("10 cm", days=[8]), Flows("5 mm/day", days=15))
    lines = reservoir.refill_lines(reservoir.refill_calendar(season))
    assert len(lines) == 3
    assert len(lines[0]) == len(lines[1])
    assert lines[1].split() == ["8", "70.0", "6.5", "10.0"]
    assert lines[2] == "1 filling, 70.0 L in all"


@given(
    use=st.lists(st.floats(0, 9), min_size=5, max_size=60),
    low=st.floats(0, 5),
    band=st.floats(2.5, 10),
)
@settings(max_examples=50)
def test_plan_fills_any_season_stays_above_the_low_level(use, low, band):
    flows = Flows(quantity(np.array(use), "mm/day"))
    tank, high = Tank("20 cm", quantity([0, 4], "cm"), [0.5, 0.0]), quantity(low + band, "cm")
    days = reservoir.plan_fills(tank, flows, high, quantity(low, "cm"))
    regime = HandFilled(high, days=days)
    season = simulate(tank, regime, flows, band=(quantity(low, "cm"), "20 cm"))
    assert season.totals.days_below.m_as("day") == 0
    assert season.totals.water.deficit.m_as("L/m^2") == 0
    for day in days:
        fewer = simulate(tank, HandFilled(high, days=days, missed=[day]), flows)
        left = tank.water_at(quantity(low, "cm")).m_as("L/m^2")
        assert fewer.volume.m.min() < left or fewer.totals.water.deficit.m > 0


def test_plan_fills_evaporation_leak_and_drained_count():
    flows = Flows(
        "4 mm/day", "1 mm/day", "9 mm/day", "1 mm/day", "2 mm/day", "8 L/m^2", [3],
        demand_factor=2.0, days=6,
    )  # fmt: skip
    # 13 L/m² a day, 21 on day 3; 50 L/m² between the levels: 13, 26, 47, then 60 is too much.
    assert reservoir.plan_fills(Tank("20 cm"), flows, "10 cm", "5 cm") == (4,)


def test_plan_fills_thirst_beyond_the_band_raises():
    with pytest.raises(InfeasibleError, match="used on one day"):
        reservoir.plan_fills(Tank("20 cm"), Flows("30 mm/day", days=3), "4 cm", "2 cm")
    flows = Flows("3 mm/day", days=3, demand_factor=[1.0, 2.0])
    with pytest.raises(InfeasibleError, match="one tank"):
        reservoir.plan_fills(Tank("20 cm"), flows, "4 cm", "2 cm")


def test_falling_sizing_no_rain_equals_starting_depth():
    tank = Tank("60 cm", solid_fraction=0.2)
    found = reservoir.falling_sizing(tank, Flows("4 mm/day", days=50), "5 cm")
    expected = reservoir.starting_depth("200 L/m^2", "5 cm", displaced=0.2)
    assert found.m_as("cm") == pytest.approx(expected.m_as("cm"))


@given(
    use=st.lists(st.floats(0, 9), min_size=5, max_size=40),
    rain=st.floats(0, 3),
    low=st.floats(0.5, 5),
)
@settings(max_examples=50)
def test_falling_sizing_any_season_lowest_level_is_the_one_named(use, rain, low):
    flows = Flows(quantity(np.array(use), "mm/day"), rain=quantity(rain, "mm/day"))
    tank = Tank("90 cm", quantity([0, 4], "cm"), [0.5, 0.0])
    start = reservoir.falling_sizing(tank, flows, quantity(low, "cm"))
    season = simulate(tank, FallingLevel(start), flows)
    assert season.totals.lowest_depth.m_as("cm") == pytest.approx(low, abs=1e-6)


def test_falling_sizing_ensemble_and_rim():
    flows = Flows(
        quantity(np.full((10, 2), 4.0), "mm/day"), rain="1 mm/day",
        demand_factor=np.array([1.0, 2.0]),
    )  # fmt: skip
    found = reservoir.falling_sizing(Tank("20 cm"), flows, "5 cm")
    assert found.m_as("cm").tolist() == pytest.approx([8, 12])
    with pytest.raises(InfeasibleError, match="rim"):
        reservoir.falling_sizing(Tank("10 cm"), flows, "5 cm")
