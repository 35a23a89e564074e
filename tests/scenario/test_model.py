"""Parts of a scenario refuse what cannot be, and name it."""

from __future__ import annotations

import dataclasses

import pytest

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.scenario import leaves, scenario_for, value_at, with_values


@pytest.fixture(scope="module")
def pots():
    return scenario_for("wedge_pots")


def test_with_values_leaves_the_first_alone(pots):
    before = pots.method.medium.volume_per_plant
    more = with_values(pots, {"method.medium.volume_per_plant": "1.2 L", "tank.area": "9 ft^2"})
    assert pots.method.medium.volume_per_plant == before
    assert more.method.medium.volume_per_plant.m_as("L") == pytest.approx(1.2)
    assert more.tank.area.m_as("m^2") == pytest.approx(0.83612736)  # 9 x 0.3048²


@pytest.mark.parametrize(
    "path", ["method.colour", "nothing", "method.medium.mix.deep", "tank.depth"]
)
def test_with_values_unknown_path_names_it(pots, path):
    with pytest.raises(KeyError, match=path.rsplit(".", 1)[-1]):
        with_values(pots, {path: "1 cm"})


def test_with_values_part_that_is_absent_names_it():
    paper = scenario_for("paper_wrap")
    assert paper.method.medium is None
    with pytest.raises(KeyError, match="medium"):
        with_values(paper, {"method.medium.volume_per_plant": "1 L"})


def test_with_values_bare_number_is_refused(pots):
    with pytest.raises(
        UnitError, match=r"volume_per_plant = 1\.2: is a bare number; it needs a unit"
    ):
        with_values(pots, {"method.medium.volume_per_plant": 1.2})


def test_parts_report_all_bad_leaves_at_once(pots):
    with pytest.raises(ArgumentError) as caught:
        dataclasses.replace(pots.tank, area="-1 m^2", reserve_days="3 kg")
    assert {problem.field for problem in caught.value.problems} == {"area", "reserve_days"}
    assert "for example" in str(caught.value)


@pytest.mark.parametrize("value", ["-1 cm", "501 cm"])
def test_level_outside_range_names_the_range(pots, value):
    with pytest.raises(RangeError, match="0 to 500 cm"):
        with_values(pots, {"method.level.high": value})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"method.plants_per_area": "400 plant/m^2"}, "pots do not fit their footprint"),
        ({"method.medium.volume_per_plant": "60 L"}, "do not fit into a container"),
        ({"method.container.medium_height": "90 cm"}, "more than the container's height"),
        ({"method.level.high": "90 cm"}, "lies above the rim"),
        ({"method.level.low": "30 cm", "method.level.rim": "40 cm"}, "low lies above level high"),
    ],
)
def test_method_impossible_geometry_says_which(pots, changes, words):
    with pytest.raises(InfeasibleError, match=words) as caught:
        with_values(pots, changes)
    assert pots.method.label in str(caught.value)


def test_falling_level_that_would_rise_is_refused():
    one = scenario_for("suspended_pot")
    high = one.method.level.start + quantity(1, "cm")
    with pytest.raises(InfeasibleError, match="could not fall"):
        with_values(one, {"method.level.high": high})


def test_geometry_faults_come_together(pots):
    with pytest.raises(InfeasibleError, match=r"footprint.*; .*rim"):
        with_values(pots, {"method.plants_per_area": "400 plant/m^2", "method.level.high": "90 cm"})


def test_leaves_and_value_at_agree(pots):
    paths = {path: value for path, _, value in leaves(pots)}
    assert "method.medium.volume_per_plant" in paths
    for path, value in paths.items():
        assert value_at(pots, path) is value
    for _, described, value in leaves(pots):
        assert value.units == quantity(1, described.unit).units


def test_scenario_is_frozen(pots):
    with pytest.raises(dataclasses.FrozenInstanceError):
        pots.name = "other"


TANKS = ("medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray", "paper_wrap")


@pytest.mark.parametrize("method", TANKS)
def test_shipped_methods_hold_the_usual_depth_and_strength(method):
    """Held depth 2 to 5 cm, EC 1.5 to 2 dS/m: common practice, no published source."""
    one = scenario_for(method)
    assert 2 <= one.method.level.high.m_as("cm") <= 5
    assert 1.5 <= one.feed.ec.m_as("dS/m") <= 2
