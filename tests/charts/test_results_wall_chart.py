"""The picture of the wall: rows, axis, letters, table."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.charts.frames import Showing
from scenariokit.charts.results_wall import (
    BAND,
    MOST_BAND,
    MOST_METHODS,
    wall_band,
    wall_chart,
    wall_methods,
    wall_rows,
    wall_table,
    wall_top,
)
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.room_results import room_results
from scenariokit.widgets.chart_view import parameter_names, source_names

METRIC = Showing()


def rooms(*groups, method="bag"):
    rows = [(value, f"room {n}") for n, values in enumerate(groups, 1) for value in values]
    return room_results(
        PlotTable(
            np.array([value for value, _ in rows]),
            {"method": (method,) * len(rows), "variety": ("e",) * len(rows),
             "study": tuple(room for _, room in rows)},
        )
    )  # fmt: skip


THREE = ([5.0, 5.4], [5.1, 5.9], [4.2, 4.9])


def test_wall_rows_one_mark_for_each_room_and_interval_where_it_exists():
    marks, pooled, names = wall_rows(rooms(*THREE, [6.0]), METRIC)
    assert len(marks) == 4
    assert [one["single"] for one in marks].count(True) == 1
    (single,) = (one for one in marks if one["single"])
    assert (single["low"], single["high"], single["mean"]) == (None, None, 6.0)
    assert single["text"] == "room 4 (one plot)"
    assert len(pooled) == 1
    assert pooled[0]["text"].startswith("Mean of rooms: ")
    assert names[0]["text"] == "bag: 4 rooms"


def test_wall_rows_two_repeated_rooms_have_no_mean():
    assert wall_rows(rooms(*THREE[:2]), METRIC)[1] == []


def test_wall_rows_absurd_mark_stands_at_the_edge_and_squeezes_nobody():
    found = rooms(*THREE, [5000.0, 5200.0])
    top = wall_top(found, METRIC)
    assert top < 12
    marks = wall_rows(found, METRIC)[0]
    (absurd,) = (one for one in marks if one["room"] == "room 4")
    assert absurd["mean"] == absurd["left"] == absurd["right"] == top
    assert absurd["text"] == "room 4: 5,100, beyond every record"
    assert all(one["right"] <= top for one in marks)


def test_wall_rows_many_rooms_bear_no_names():
    marks = wall_rows(rooms(*([5.0, 5.1 + n / 10] for n in range(12))), METRIC)[0]
    assert {one["text"] for one in marks} == {""}
    heights = [one["y"] for one in marks]
    assert len(set(heights)) == 12
    assert 0 < min(heights) < max(heights) < 1


@pytest.mark.parametrize(("count", "band"), [(1, BAND), (40, MOST_BAND)])
def test_wall_band_grows_with_the_rooms_up_to_a_limit(count, band):
    assert wall_band(rooms(*([5.0, 5.1] for _ in range(count)))) == band


def test_wall_methods_are_at_most_eight():
    plots = PlotTable(
        np.arange(1.0, 13.0),
        {"method": tuple(f"m{n:02d}" for n in range(12)), "variety": ("e",) * 12,
         "study": ("s",) * 12},
    )  # fmt: skip
    found = room_results(plots)
    assert len(wall_methods(found)) == MOST_METHODS
    assert len(wall_table(found, METRIC)) == 13


def test_wall_table_says_where_no_interval_exists():
    rows = wall_table(rooms(*THREE, [6.0]), METRIC)
    assert ["bag", "room 4", "1", "6.00", "none exists"] in rows
    assert rows[-1][1] == "mean of rooms"


def test_wall_table_in_us_units():
    heads, first, *_ = wall_table(rooms([5.0]), Showing("us"))
    assert "lb/ft²" in heads[3]
    assert first[3] == "1.02"


def test_wall_chart_reads_its_sources_and_has_large_letters():
    spec = wall_chart(["bag", "pots"], METRIC).to_dict()
    assert set(source_names(spec)) == {"rooms", "pooled", "names"}
    assert set(parameter_names(spec)) == {"wall_top"}
    assert spec["height"] == 2 * BAND
    assert "one mark for each room" in spec["description"]
    assert "kg/m²" in str(spec)
    assert "width < 700 ? 13 : 24" in str(spec)
