"""Tanks and their sections."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError
from scenariokit.trials.planning.tanks import Tank, distinct_tanks, equal_tanks


def test_tank_area_and_sections():
    tank = Tank("T1", "240 cm", "0.6 m", sections=4)
    assert tank.area.m_as("m^2") == pytest.approx(1.44)
    assert tank.section_area.m_as("m^2") == pytest.approx(0.36)


def test_tank_sides_may_be_in_any_unit():
    metric, us = Tank("T1", "304.8 cm", "60.96 cm"), Tank("T1", "10 ft", "24 inch")
    assert us.area.m_as("m^2") == pytest.approx(metric.area.m_as("m^2"))


@given(st.floats(2, 1e4), st.floats(2, 1e4), st.integers(1, 30))
def test_tank_sections_add_up_to_the_tank(length, width, sections):
    tank = Tank("T", quantity(length, "cm"), quantity(width, "cm"), sections)
    assert (tank.section_area * sections).m_as("m^2") == pytest.approx(tank.area.m_as("m^2"))


def test_tank_reservoirs():
    assert Tank("T1", "2 m", "1 m", 2).reservoir_of(2) == "T1"
    assert Tank("T1", "2 m", "1 m", 2, reservoir="barrel").reservoir_of(2) == "barrel"
    assert Tank("T1", "2 m", "1 m", 2, watertight=True).reservoir_of(2) == "T1 section 2"
    assert Tank("T1", "2 m", "1 m", watertight=True).reservoir_of(1) == "T1"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("T1", "2", "1 m"), "length"),
        (("T1", "2 m", "1 kg"), "width"),
        (("T1", "2 m", "1 mm"), "width"),
        (("", "2 m", "1 m"), "id"),
        ((" T1", "2 m", "1 m"), "id"),
        ((7, "2 m", "1 m"), "id"),
        (("T1", "2 m", "1 m", 0), "sections"),
        (("T1", "2 m", "1 m", 1.5), "sections"),
        (("T1", "2 m", "1 m", True), "sections"),
        (("T1", "2 m", "1 m", 1, "two\nlines"), "reservoir"),
    ],
)
def test_tank_impossible_one_is_refused(arguments, words):
    with pytest.raises(ArgumentError, match=words):
        Tank(*arguments)


def test_tank_all_faults_at_once():
    with pytest.raises(ArgumentError) as caught:
        Tank("", "2 m", "1 m", 0)
    assert len(caught.value.problems) == 2
    with pytest.raises(ArgumentError) as caught:
        Tank("T", "2", "1 kg")
    assert len(caught.value.problems) == 2


def test_equal_tanks_are_numbered_so_that_they_sort():
    names = [tank.id for tank in equal_tanks(12, "1 m", "1 m", sections=3, prefix="B")]
    assert names == sorted(names)
    assert (names[0], names[-1]) == ("B01", "B12")


@pytest.mark.parametrize("count", [0, -1, 2.0, True])
def test_equal_tanks_no_number_is_refused(count):
    with pytest.raises(ArgumentError, match="count"):
        equal_tanks(count, "1 m", "1 m")


def test_distinct_tanks_two_of_one_name_are_refused():
    tanks = equal_tanks(2, "1 m", "1 m")
    assert distinct_tanks(iter(tanks)) == tanks
    with pytest.raises(ArgumentError, match="tanks = T2: names two tanks"):
        distinct_tanks([*tanks, tanks[1]])
