"""The map to scale."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError
from scenariokit.trials.planning.designs import block_layout, latin_square_layout, randomised_layout
from scenariokit.trials.planning.plot_map import plot_map
from scenariokit.trials.planning.tanks import Tank, equal_tanks


def surface(found, kind):
    return sum(area.width * area.height for area in found.areas if area.kind == kind)


def hidden(one, other):
    """Whether two rectangles lie over each other."""
    return (
        min(one.x + one.width, other.x + other.width) - max(one.x, other.x) > 1e-6
        and min(one.y + one.height, other.y + other.height) - max(one.y, other.y) > 1e-6
    )


def test_plot_map_hand_worked():
    """Three tanks of 240 x 60 cm, one under the other, with ways of 50 cm all around."""
    tanks = equal_tanks(3, "240 cm", "60 cm", sections=2)
    layout = block_layout(["bag", "pots"], 3, seed=1, tanks=tanks)
    found = plot_map(layout, walkway="50 cm")
    assert (found.width, found.height) == (340, 380)
    assert found.ground.m_as("m^2") == pytest.approx(12.92)
    second = [area for area in found.areas if area.tank == "T2"]
    assert [(area.kind, area.x, area.y, area.width, area.height) for area in second] == [
        ("tank", 50, 160, 240, 60),
        ("plot", 50, 160, 120, 60),
        ("plot", 170, 160, 120, 60),
    ]
    plot = layout.plots[2]
    assert (second[1].label, second[1].treatment, second[1].block) == ("P3", plot.treatment, "2")


def test_plot_map_any_unit_gives_the_same_map():
    tanks = equal_tanks(4, "2.4 m", "0.6 m")
    layout = randomised_layout(["bag", "pots"], 2, seed=1, tanks=tanks)
    assert plot_map(layout, walkway="0.6 m") == plot_map(layout)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 12), st.integers(1, 5), st.floats(0, 200), st.integers(1, 6))
def test_plot_map_equal_tanks_and_ways_tile_the_ground(count, sections, way, beside):
    tanks = equal_tanks(count, "200 cm", "80 cm", sections=sections)
    layout = randomised_layout(["bag", "pots"], 1, seed=0, tanks=tanks)
    found = plot_map(layout, walkway=quantity(way, "cm"), tanks_per_row=beside)
    full = count % beside == 0
    ground = found.width * found.height
    if full or way > 0:
        assert surface(found, "tank") + surface(found, "walkway") == pytest.approx(ground)
    assert surface(found, "plot") + surface(found, "empty") == pytest.approx(count * 16_000)
    drawn = [area for area in found.areas if area.kind in ("tank", "walkway")]
    assert not any(hidden(a, b) for i, a in enumerate(drawn) for b in drawn[:i])


def test_plot_map_latin_square_is_drawn_as_a_square():
    layout = latin_square_layout(list("ABCD"), seed=2, tanks=equal_tanks(16, "1 m", "1 m"))
    found = plot_map(layout, walkway="0 cm")
    assert (found.width, found.height) == (400, 400)
    assert {area.kind for area in found.areas} == {"tank", "plot"}
    at = {(area.x, area.y): area.label for area in found.areas if area.kind == "plot"}
    for plot in layout.plots:
        assert at[(plot.column - 1) * 100, (plot.row - 1) * 100] == plot.plot_id


def test_plot_map_unused_tank_stands_beside_the_one_before():
    tanks = equal_tanks(5, "1 m", "1 m", sections=2)
    layout = block_layout(["a", "b", "c"], 2, seed=0, tanks=tanks)
    found = plot_map(layout)
    tops = Counter(area.y for area in found.areas if area.kind == "tank")
    assert tops == {60: 2, 220: 3}
    assert sum(area.kind == "empty" for area in found.areas) == 4


def test_plot_map_blocks_that_share_a_tank_stand_in_about_a_square():
    tanks = equal_tanks(4, "1 m", "1 m", sections=4)
    layout = block_layout(["a", "b"], 6, seed=0, tanks=tanks)
    found = plot_map(layout)
    assert Counter(area.y for area in found.areas if area.kind == "tank") == {60: 2, 220: 2}


def test_plot_map_tanks_of_other_sizes_keep_their_way():
    tanks = [Tank("long", "300 cm", "50 cm"), Tank("wide", "100 cm", "120 cm")]
    layout = randomised_layout(["a", "b"], 1, seed=0, tanks=tanks)
    found = plot_map(layout, walkway="60 cm", tanks_per_row=2)
    assert (found.width, found.height) == (580, 240)
    drawn = [area for area in found.areas if area.kind in ("tank", "walkway")]
    assert not any(hidden(a, b) for i, a in enumerate(drawn) for b in drawn[:i])


def test_plot_map_all_faults_at_once():
    layout = randomised_layout(["a", "b"], 1, seed=0)
    with pytest.raises(ArgumentError) as caught:
        plot_map(layout, tanks_per_row=0)
    assert len(caught.value.problems) == 2


def test_plot_map_walkway_without_unit_is_refused():
    layout = randomised_layout(["a", "b"], 1, seed=0, tanks=equal_tanks(2, "1 m", "1 m"))
    with pytest.raises(ArgumentError, match="walkway"):
        plot_map(layout, walkway=60)
