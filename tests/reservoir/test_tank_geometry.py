from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError, RangeError, UnitError
from scenariokit.reservoir import Tank

POTS = Tank("20 cm", quantity([0, 2, 10], "cm"), [0.0, 0.5, 0.1])


def test_water_at_three_layers_worked_case():
    # Computed by hand: 2 cm free 20 L, 8 cm half free 40 L, 4 cm at 0.9 free 36 L.
    assert POTS.water_at("14 cm").m_as("L/m^2") == pytest.approx(96)


def test_water_at_no_breakpoints_is_ten_litres_per_cm():
    assert Tank("20 cm").water_at("7 cm").m_as("L/m^2") == pytest.approx(70)


def test_water_at_one_fraction_equals_volume():
    tank = Tank("20 cm", solid_fraction=0.25)
    expected = reservoir.volume("1 m^2", "10 cm", 0.25).m_as("L")
    assert tank.water_at("10 cm").m_as("L/m^2") == pytest.approx(expected)


@given(st.floats(0, 20))
@settings(max_examples=50)
def test_level_of_any_level_comes_back(depth):
    water = POTS.water_at(quantity(depth, "cm"))
    assert POTS.level_of(water).m_as("cm") == pytest.approx(depth, abs=1e-9)


def test_level_of_ensemble_of_fractions():
    tank = Tank("20 cm", quantity([0, 5], "cm"), np.array([[0.0, 0.5], [0.2, 0.2]]))
    assert tank.shape == (2,)
    assert tank.level_of("50 L/m^2").m_as("cm").tolist() == pytest.approx([5, 8.125])
    many = tank.level_of(quantity(np.array([[50.0], [25.0]]), "L/m^2"))
    assert many.m_as("cm")[1].tolist() == pytest.approx([2.5, 5])


@pytest.mark.parametrize("call", [lambda: POTS.water_at("21 cm"), lambda: POTS.level_of("2 m")])
def test_tank_level_above_rim_raises(call):
    with pytest.raises(InfeasibleError, match="above the rim"):
        call()


@pytest.mark.parametrize(
    ("heights", "solid", "words"),
    [
        ([1, 2], [0, 0], "rise from 0"),
        ([0, 5, 4], [0, 0, 0], "rise"),
        ([0, 5], [0], "one is needed"),
    ],
)
def test_tank_bad_breakpoints_raise(heights, solid, words):
    with pytest.raises(RangeError, match=words):
        Tank("20 cm", quantity(heights, "cm"), solid)


def test_tank_shapes_that_do_not_fit_raise():
    with pytest.raises(RangeError, match="broadcast"):
        Tank(quantity([20.0, 21.0], "cm"), area=quantity([1.0, 2.0, 3.0], "m^2"))


def test_tank_several_faults_all_named():
    with pytest.raises(RangeError) as caught:
        Tank("0 cm", solid_fraction=1.0)
    assert [problem.field for problem in caught.value.problems] == ["rim", "solid_fraction"]
    with pytest.raises(UnitError, match="rim"):
        Tank(20)
