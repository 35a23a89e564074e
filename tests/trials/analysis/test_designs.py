"""Designs: what is refused, and why."""

from __future__ import annotations

import pytest

from scenariokit.errors import RangeError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    latin_square,
    randomised_blocks,
    split_plot,
)
from scenariokit.trials.plots import PlotTable


def square(treatments="ABBA", rows="1122", columns="1212"):
    factors = {"treatment": tuple(treatments), "row": tuple(rows), "column": tuple(columns)}
    return PlotTable([4.0 + i for i in range(len(treatments))], factors)


def test_treatment_terms_follow_interactions():
    design = completely_randomised("a", "b", "c", interactions=2)
    assert design.treatment_terms == (("a",), ("b",), ("c",), ("a", "b"), ("a", "c"), ("b", "c"))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (completely_randomised, "no factor is named"),
        (lambda: completely_randomised("a", "a"), "named twice"),
        (lambda: randomised_blocks("block"), "named twice"),
        (lambda: latin_square("a", row="r", column="r"), "named twice"),
        (lambda: completely_randomised("a", interactions=-1), "negative"),
        (lambda: split_plot("a", ()), "needs a factor of whole plots"),
        (lambda: split_plot("a", "b", block=None), "without blocks nothing tells"),
        (lambda: split_plot("a", "a"), "named twice"),
    ],
)
def test_design_impossible_raises(make, words):
    with pytest.raises(RangeError, match=words):
        make()


def test_analyse_factors_not_recorded_are_all_named():
    plots = PlotTable([1.0, 2.0], {"method": ("A", "B")})
    with pytest.raises(RangeError) as caught:
        analyse(plots, randomised_blocks("method", "variety"))
    assert [problem.field for problem in caught.value.problems] == ["block", "variety"]


def test_analyse_one_level_harvested_raises():
    plots = PlotTable([1.0, 2.0, float("nan")], {"method": ("A", "A", "B")})
    with pytest.raises(RangeError, match=r"method = A: has one level only"):
        analyse(plots, completely_randomised("method"))


def test_analyse_nothing_harvested_raises():
    plots = PlotTable([float("nan")] * 2, {"method": ("A", "B")})
    with pytest.raises(RangeError, match="no plot was harvested"):
        analyse(plots, completely_randomised("method"))


def test_latin_square_of_unequal_sides_raises():
    with pytest.raises(RangeError, match="2 rows and 2 columns for 3 treatments"):
        analyse(square("ABCA"), latin_square("treatment"))


def test_latin_square_with_treatment_twice_in_a_row_raises():
    with pytest.raises(RangeError) as caught:
        analyse(square("AABB"), latin_square("treatment"))
    assert "row = 1: has treatment A 2 times" in str(caught.value)


def test_whole_plot_in_two_blocks_raises():
    plots = PlotTable(
        [4.0, 5.0, 6.0, 7.0],
        {
            "block": ("1", "1", "2", "2"),
            "method": tuple("ABAB"),
            "variety": tuple("xyyx"),
            "tank": ("t1", "t2", "t1", "t3"),
        },
    )
    with pytest.raises(RangeError, match=r"tank = t1: lies in more than one block"):
        analyse(plots, split_plot("method", "variety", whole_plot="tank"))
