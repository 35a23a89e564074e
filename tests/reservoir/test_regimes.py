from __future__ import annotations

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.errors import RangeError, UnitError
from scenariokit.reservoir import ConstantLevel, FallingThenHeld, Flows, HandFilled, Solute


def test_hand_filled_every_week_fills_on_days_8_15_22():
    assert HandFilled("8 cm", every=7).fills(28) == (8, 15, 22)


def test_hand_filled_missed_day_is_left_out():
    assert HandFilled("8 cm", every=7, missed=[15]).fills(28) == (8, 22)
    assert HandFilled("8 cm", days=[3, 4, 9], missed=(4,)).fills(8) == (3,)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "one of the two"), ({"every": 3, "days": [3]}, "one of the two"),
        ({"every": 0}, "whole number"), ({"every": 2.5}, "whole number"),
        ({"every": True}, "whole number"), ({"days": [0]}, "whole number"),
        ({"every": 7, "missed": [9]}, "no filling day"),
        ({"days": [3, 5], "missed": [1.5]}, "whole number"),
    ],
)  # fmt: skip
def test_hand_filled_bad_days_raise(given, words):
    with pytest.raises(RangeError, match=words):
        HandFilled("8 cm", **given)


def test_constant_level_at_the_floor_says_why():
    with pytest.raises(RangeError, match="empty tank"):
        ConstantLevel("0 cm")


def test_falling_then_held_start_below_raises():
    with pytest.raises(RangeError, match="below the level held"):
        FallingThenHeld("4 cm", "5 cm")


def test_flows_length_comes_from_any_array():
    assert Flows("4 mm/day", rain=quantity(np.zeros(9), "mm/day")).days == 9
    assert Flows(quantity(np.ones((1, 5)), "mm/day"), days=30).days == 30
    assert Flows(quantity(np.ones((1, 5)), "mm/day")).days == 1


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "no array tells it"), ({"days": 0}, "whole number"),
        ({"days": 5, "rain": quantity(np.zeros(9), "mm/day")}, "differ"),
        ({"days": 5, "drained": "3 L/m^2", "drained_on": [0]}, "whole number"),
    ],
)  # fmt: skip
def test_flows_bad_days_raise(given, words):
    with pytest.raises(RangeError, match=words):
        Flows("4 mm/day", **given)


def test_flows_faults_are_all_named():
    with pytest.raises(UnitError) as caught:
        Flows(4, rain="3 kg", days=3)
    assert [problem.field for problem in caught.value.problems] == ["transpiration", "rain"]


def test_solute_two_uptakes_raise():
    with pytest.raises(RangeError, match="one of the two"):
        Solute("150 mg/L", uptake="120 mg/L", factor=0.8)


def test_solute_is_brought_to_its_unit():
    assert f"{Solute('0.15 g/L').inflow:.0f~P}" == "150 mg/l"
