from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import RangeError, UnitError
from scenariokit.reservoir import FallingThenHeld, Flows, HandFilled, Tank


def cm(values):
    return quantity(np.array(values, dtype=float), "cm")


def test_air_zone_violations_raised_level_worked_case():
    # From day 1 on the level is 4 cm at most; with 3 days to settle, roots above 4 cm live in
    # air from day 4 on. 5 cm on day 6 is 1 cm over, 0.5 cm tolerated.
    rows = reservoir.air_zone_violations(cm([8, 4, 4, 4, 4, 4.4, 5, 3]), "3 day")
    assert [(row.day, row.depth.m_as("cm"), row.allowed.m_as("cm")) for row in rows] == [
        (6, 5, 4.5)
    ]


def test_air_zone_violations_rise_before_roots_settle_is_allowed():
    assert reservoir.air_zone_violations(cm([8, 4, 8, 4, 8]), "3 day") == []


def test_air_zone_violations_falling_then_held_season_has_none():
    season = reservoir.simulate(
        Tank("20 cm"), FallingThenHeld("15 cm", "5 cm"), Flows("4 mm/day", days=60)
    )
    assert reservoir.air_zone_violations(season.depth) == []


def test_air_zone_violations_hand_filled_season_is_found():
    season = reservoir.simulate(
        Tank("20 cm"), HandFilled("10 cm", every=20), Flows("4 mm/day", days=60)
    )
    rows = reservoir.air_zone_violations(season.depth)
    assert rows[0].day == 21


def test_drowned_air_zone_ensemble_one_member_raised():
    series = cm([[5, 5], [4, 4], [3, 3], [2, 2], [2, 4]])
    found = reservoir.drowned_air_zone(series, "1 day").m_as("cm")
    assert found[-1].tolist() == [0, 2]


@given(st.lists(st.floats(0, 5), min_size=2, max_size=40), st.integers(1, 10))
@settings(max_examples=50)
def test_drowned_air_zone_falling_level_never_drowns(steps, days):
    level = 300 - np.cumsum(steps)
    found = reservoir.drowned_air_zone(cm(level), quantity(days, "day"))
    assert np.all(found.m_as("cm") == 0)


@given(st.lists(st.floats(0, 50), min_size=3, max_size=40))
@settings(max_examples=50)
def test_drowned_air_zone_sooner_settled_never_less(levels):
    early, late = (
        reservoir.drowned_air_zone(cm(levels), quantity(days, "day")).m for days in (1, 4)
    )
    assert np.all(early >= late)


def test_air_zone_violations_bad_arguments_raise():
    with pytest.raises(RangeError, match="one series"):
        reservoir.air_zone_violations(cm([[1, 2], [3, 4]]))
    with pytest.raises(RangeError, match="settled"):
        reservoir.air_zone_violations(cm([1, 2]), quantity([1.0, 2.0], "day"))
    with pytest.raises(UnitError, match="depth"):
        reservoir.air_zone_violations([1, 2])
