"""Rooms side by side, and their mean where enough of them repeated their plots."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.trials.demo import demo_files
from scenariokit.trials.harvest import mean_interval
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling import pool
from scenariokit.trials.room_results import FEWEST_ROOMS, FEWEST_TO_EXPECT, room_results


def table(*rooms):
    """Return plots: each room a mapping of method to its yields."""
    rows = [
        (value, method, str(number), block)
        for number, room in enumerate(rooms, 1)
        for method, values in room.items()
        for block, value in enumerate(values, 1)
    ]
    yields, methods, studies, blocks = zip(*rows, strict=True)
    return PlotTable(
        np.array(yields, dtype=float),
        {
            "method": methods,
            "variety": ("early",) * len(rows),
            "study": studies,
            "block": tuple(f"{s}/{b}" for s, b in zip(studies, blocks, strict=True)),
        },
    )


def method(found, name):
    return next(one for one in found.methods if one.method == name)


def test_room_results_one_method_repeated_has_students_interval():
    (one,) = room_results(table({"bag": [4.1, 4.9, 5.3]})).methods
    low, high = mean_interval([4.1, 4.9, 5.3])
    (room,) = one.rooms
    assert room.mean.m_as("kg/m^2") == pytest.approx(4.766667)
    assert (room.low.m, room.high.m) == pytest.approx((low, high))
    assert one.pooled is None


def test_room_results_single_plots_have_no_interval():
    found = room_results(table({"bag": [5.0], "pots": [4.0]}, {"bag": [6.0], "pots": [4.5]}))
    assert all(room.low is None for one in found.methods for room in one.rooms)
    assert [one.replicated for one in found.methods] == [0, 0]
    assert (found.plots, found.rooms) == (4, ("1", "2"))


def test_room_results_equal_plots_do_not_claim_an_exact_interval():
    (one,) = room_results(table({"bag": [5.0, 5.0, 5.0]})).methods
    assert one.rooms[0].low is None


def test_room_results_pools_from_three_repeated_rooms_on():
    rooms = [{"bag": [5.0 + n, 5.4 + n, 4.9 + n]} for n in range(FEWEST_ROOMS)]
    for count in (FEWEST_ROOMS - 1, FEWEST_ROOMS):
        (one,) = room_results(table(*rooms[:count])).methods
        assert (one.pooled is None) == (count < FEWEST_ROOMS)
        assert one.replicated == count
    assert one.pooled.low.m < 6.1 < one.pooled.high.m
    assert one.pool.studies == FEWEST_ROOMS


def test_room_results_expects_another_room_only_from_five_on():
    rooms = [{"bag": [5.0 + 0.2 * n, 5.5, 4.9]} for n in range(FEWEST_TO_EXPECT)]
    four, five = (room_results(table(*rooms[:n])).methods[0] for n in (4, 5))
    assert four.another is None
    assert five.another.low.m < five.pooled.low.m


def test_room_results_single_rooms_do_not_move_the_pooled_mean():
    rooms = [{"bag": [5.0 + n, 5.4 + n]} for n in range(3)]
    alone = room_results(table(*rooms)).methods[0]
    beside = room_results(table(*rooms, {"bag": [19.0]})).methods[0]
    assert beside.pooled.estimate.m == pytest.approx(alone.pooled.estimate.m)
    assert len(beside.rooms) == 4


def test_room_results_beyond_every_record_is_shown_and_not_pooled():
    rooms = [{"bag": [5.0 + n, 5.4 + n]} for n in range(3)]
    absurd = {"bag": [5000.0, 5100.0]}
    found = room_results(table(*rooms, absurd)).methods[0]
    assert found.rooms[0].beyond
    assert found.replicated == 3
    assert found.pooled.high.m < 20
    only = room_results(table(absurd))
    assert only.methods[0].pooled is None
    assert only.methods[0].rooms[0].beyond


def test_room_results_shipped_rooms_leave_moss_end_without_interval():
    found = room_results(pool(demo_files()).plots())
    bag = method(found, "medium_bag")
    assert {room.room for room in bag.rooms if room.low is None} == {"moss-end-1"}
    assert bag.replicated == 3


def test_room_results_without_a_harvest_is_empty():
    plots = PlotTable(
        np.array([np.nan]), {"method": ("bag",), "study": ("1",), "variety": ("early",)}
    )
    assert room_results(plots).methods == ()


def test_room_results_blocks_that_hide_the_methods_give_plain_means_and_a_note():
    """Each method in a block of its own: neither can be told from the other."""
    plots = PlotTable(
        np.array([5.0, 5.2, 4.0, 4.2]),
        {"method": ("bag", "bag", "pots", "pots"), "variety": ("e",) * 4, "study": ("1",) * 4,
         "block": ("1/a", "1/a", "1/b", "1/b"), "main": ("r1", "r1", "r2", "r2")},
    )  # fmt: skip
    found = room_results(plots)
    means = {one.method: one.rooms[0].mean.m for one in found.methods}
    assert means == pytest.approx({"bag": 5.1, "pots": 4.1})
