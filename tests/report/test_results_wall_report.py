"""What the wall says."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem
from scenariokit.report.results_wall import counts_line, files_list, wall_rules, wall_sentences
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.room_results import RoomResults, room_results

METRIC = Showing()


def rooms(*groups):
    rows = [(value, str(n)) for n, values in enumerate(groups, 1) for value in values]
    return room_results(
        PlotTable(
            np.array([value for value, _ in rows]),
            {"method": ("bag",) * len(rows), "variety": ("e",) * len(rows),
             "study": tuple(room for _, room in rows)},
        )
    )  # fmt: skip


def said(*groups, showing=METRIC):
    return " ".join(wall_sentences(rooms(*groups), showing))


def test_wall_sentences_empty_wall_waits():
    assert wall_sentences(RoomResults((), 0, ()), METRIC) == [
        "No plot has been handed in yet. The wall looks again every few seconds."
    ]


def test_wall_sentences_single_plot_proves_little_and_has_no_mean():
    text = said([5.0], [6.0])
    assert "One plot proves little: 2 hollow marks rest on a single plot each" in text
    assert "no mean over rooms, because that takes 3 rooms that repeated their plots; there are 0" in text  # fmt: skip
    assert "as the mean of" not in text


def test_wall_sentences_rooms_that_agree_prove_little():
    text = said([5.0, 5.4], [5.1, 5.6], [4.9, 5.5])
    assert "5.25 kg/m² as the mean of 3 rooms" in text
    assert "Rooms differ by no more than their plots explain" in text
    assert "with 3 rooms that proves little" in text
    assert "Another such room" not in text


def test_wall_sentences_rooms_that_differ_say_so():
    text = said([5.0, 5.1], [7.0, 7.1], [9.0, 9.1])
    assert "Rooms differ by more than their plots explain (p < 0.001; 100 % of" in text


def test_wall_sentences_five_rooms_say_what_another_may_find():
    groups = [[5.0 + 0.3 * n, 5.5 + 0.2 * n] for n in range(5)]
    assert "Another such room may find" in said(*groups)
    assert "lb/ft²" in said(*groups, showing=Showing("us"))


def test_wall_sentences_beyond_every_record_is_told():
    text = said([5.0, 5.4], [5000.0, 5400.0])
    assert "1 mark at the edge lies beyond every record" in text


def test_files_list_puts_what_needs_mending_first_and_escapes():
    hostile = "<img src=x onerror=alert(1)>.csv"
    problem = Problem("ttwp", "=cmd", "is not a number", file=hostile)
    text = files_list([("a.csv", 3, ("Herons",), ()), (hostile, 0, (), [problem] * 5)])
    assert text.index("&lt;img") < text.index("a.csv")
    assert "<img" not in text
    assert "and 2 more of this file" in text
    assert "3 plots taken (Herons)" in text


@pytest.mark.parametrize(("refused", "told"), [(0, False), (2, True)])
def test_counts_line_tells_files_that_could_not_be_used(refused, told):
    line = counts_line(5, refused, 3, "10:00:00")
    assert ("could not be used" in line) == told
    assert "5 files handed in · 3 rooms on the wall" in line


def test_wall_rules_say_that_overlap_proves_nothing():
    assert any("overlap do not prove" in line for line in wall_rules())
