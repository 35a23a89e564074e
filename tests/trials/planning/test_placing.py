"""Plots on their places, and what is said about shared water."""

from __future__ import annotations

import pytest

from scenariokit.errors import ArgumentError
from scenariokit.trials.planning.designs import block_layout, randomised_layout
from scenariokit.trials.planning.tanks import Tank, equal_tanks


def places(layout):
    return [f"{plot.tank}/{plot.section}" for plot in layout.plots]


def test_placed_layout_without_tanks_gives_each_plot_its_own():
    layout = block_layout(["bag", "pots"], 3, seed=0)
    assert places(layout) == [f"T{number}/1" for number in range(1, 7)]
    assert layout.notes == ()


def test_placed_layout_blocks_stay_in_a_tank_and_empty_sections_are_said():
    layout = block_layout(
        ["a", "b", "c"], 2, seed=0, tanks=equal_tanks(2, "2 m", "1 m", sections=4)
    )
    assert places(layout) == ["T1/1", "T1/2", "T1/3", "T2/1", "T2/2", "T2/3"]
    assert "Empty: T1 section 4, T2 section 4." in layout.notes


def test_placed_layout_small_blocks_share_a_tank():
    layout = block_layout(["a", "b"], 3, seed=0, tanks=equal_tanks(2, "2 m", "1 m", sections=4))
    assert places(layout) == ["T1/1", "T1/2", "T1/3", "T1/4", "T2/1", "T2/2"]


def test_placed_layout_large_block_takes_several_tanks_from_a_fresh_one():
    tanks = equal_tanks(4, "2 m", "1 m", sections=2)
    layout = block_layout(["a", "b", "c"], 2, seed=0, tanks=tanks)
    assert places(layout) == ["T1/1", "T1/2", "T2/1", "T3/1", "T3/2", "T4/1"]


def test_layout_notes_plots_alike_in_one_water_are_no_replicates():
    tanks = equal_tanks(1, "4 m", "1 m", sections=4)
    layout = randomised_layout(["bag", "pots"], 2, seed=0, tanks=tanks)
    assert sum("count as one plot, not as replicates" in note for note in layout.notes) == 2
    assert any("stand in one water" in note for note in layout.notes)


def test_layout_notes_a_reservoir_may_feed_several_tanks():
    tanks = [Tank(f"T{number}", "1 m", "1 m", reservoir="barrel") for number in range(4)]
    layout = randomised_layout(["bag", "pots"], 2, seed=0, tanks=tanks)
    assert sum("(barrel)" in note for note in layout.notes) == 2


def test_layout_notes_watertight_sections_are_plots_of_their_own():
    tanks = [Tank("T1", "4 m", "1 m", sections=6, watertight=True)]
    layout = randomised_layout(["bag", "pots"], 3, seed=0, tanks=tanks)
    assert layout.notes == ()


@pytest.mark.parametrize(("replicates", "expected"), [(1, "0 degrees"), (2, "")])
def test_layout_notes_trial_that_can_tell_nothing_says_so(replicates, expected):
    notes = randomised_layout(["bag", "pots"], replicates, seed=0).notes
    assert bool(notes) == bool(expected)
    assert expected in "".join(notes)


def test_placed_layout_two_tanks_of_one_name_are_refused():
    tanks = equal_tanks(2, "2 m", "1 m")
    with pytest.raises(ArgumentError, match="names two tanks"):
        block_layout(["a", "b"], 2, seed=0, tanks=[*tanks, *tanks])


def test_layout_tank_of_without_tanks_is_refused():
    layout = block_layout(["a", "b"], 2, seed=0)
    with pytest.raises(ArgumentError, match="without tanks"):
        layout.tank_of(layout.plots[0])
