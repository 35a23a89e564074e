"""Layouts drawn free, in blocks and in Latin squares."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, InfeasibleError
from scenariokit.trials.planning.designs import (
    block_layout,
    latin_square_layout,
    randomised_layout,
)
from scenariokit.trials.planning.tanks import equal_tanks

NAMES = ["bag", "pots", "wick", "tray", "paper"]


def chance_of_uniform(counts, kinds):
    from scipy import stats

    assert len(counts) == kinds
    return stats.chisquare(list(counts.values())).pvalue


def order(layout):
    return tuple(plot.treatment for plot in layout.plots)


def test_randomised_layout_every_arrangement_equally_often():
    counts = Counter(order(randomised_layout(NAMES[:3], 2, seed=seed)) for seed in range(10_000))
    assert chance_of_uniform(counts, 90) > 0.001  # 6! / (2! 2! 2!)


def test_block_layout_every_order_in_every_block_equally_often():
    layouts = [order(block_layout(NAMES[:3], 2, seed=seed)) for seed in range(10_000)]
    assert chance_of_uniform(Counter(layouts), 36) > 0.001
    for place in range(6):
        assert chance_of_uniform(Counter(one[place] for one in layouts), 3) > 0.001


def test_latin_square_layout_every_treatment_in_every_place_equally_often():
    layouts = [order(latin_square_layout(NAMES[:3], seed=seed)) for seed in range(10_000)]
    assert chance_of_uniform(Counter(layouts), 12) > 0.001


def test_block_layout_does_not_change_between_releases():
    """A printed field book must be printable again: this layout is kept for good."""
    layout = block_layout(["a", "b", "c"], 3, seed=0)
    assert "".join(order(layout)) == "cbaabccab"
    assert [plot.plot_id for plot in layout.plots] == [f"P{number}" for number in range(1, 10)]


@settings(max_examples=50, deadline=None)
@given(st.integers(2, 5), st.integers(1, 6), st.integers(0, 2**32))
def test_randomised_layout_every_treatment_as_often_as_asked(many, replicates, seed):
    layout = randomised_layout(NAMES[:many], replicates, seed=seed)
    assert Counter(order(layout)) == dict.fromkeys(NAMES[:many], replicates)
    assert len({plot.plot_id for plot in layout.plots}) == many * replicates
    assert layout == randomised_layout(NAMES[:many], replicates, seed=seed)


@settings(max_examples=50, deadline=None)
@given(st.integers(2, 5), st.integers(1, 6), st.integers(0, 2**32), st.integers(1, 7))
def test_block_layout_every_block_holds_each_treatment_once(many, blocks, seed, sections):
    tanks = equal_tanks(many * blocks, "2 m", "1 m", sections=sections)
    layout = block_layout(NAMES[:many], blocks, seed=seed, tanks=tanks)
    for block in range(1, blocks + 1):
        found = [plot.treatment for plot in layout.plots if plot.block == str(block)]
        assert sorted(found) == sorted(NAMES[:many])
    places = {(plot.tank, plot.section) for plot in layout.plots}
    assert len(places) == many * blocks
    # A seed decides the draw, tanks only the places.
    assert order(layout) == order(block_layout(NAMES[:many], blocks, seed=seed))


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 5), st.integers(1, 3), st.integers(0, 2**32))
def test_latin_square_layout_every_row_and_column_holds_each_once(size, squares, seed):
    layout = latin_square_layout(NAMES[:size], seed=seed, squares=squares)
    for line in ("row", "column"):
        by_line = Counter((getattr(plot, line), plot.treatment) for plot in layout.plots)
        assert set(by_line.values()) == {1}
        assert len(by_line) == squares * size * size
    assert {plot.block for plot in layout.plots} == (
        {""} if squares == 1 else {str(square + 1) for square in range(squares)}
    )


def test_block_layout_factorial_combines_every_treatment_with_every_variety():
    layout = block_layout(NAMES[:2], 4, seed=3, varieties=["early", "late", "red"])
    counts = Counter((plot.treatment, plot.variety) for plot in layout.plots)
    assert set(counts.values()) == {4}
    assert len(counts) == 6


def test_block_layout_varieties_of_one_method():
    layout = block_layout(["bag"], 3, seed=3, varieties=["early", "late"])
    assert {plot.treatment for plot in layout.plots} == {"bag"}
    assert len(layout.plots) == 6


def test_layout_replicates_are_counted_by_treatment_and_variety():
    layout = block_layout(NAMES[:3], 4, seed=9)
    replicates = layout.replicate_of()
    assert all(str(replicates[plot.plot_id]) == plot.block for plot in layout.plots)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: block_layout(["bag"], 3, seed=0), "nothing to compare"),
        (lambda: block_layout([], 3, seed=0), "1 or more"),
        (lambda: block_layout("bag", 3, seed=0), "not a list"),
        (lambda: block_layout(["bag", "bag"], 3, seed=0), "stands twice"),
        (lambda: block_layout(["bag", " "], 3, seed=0), "is not a name"),
        (lambda: block_layout(["bag", "a\tb"], 3, seed=0), "is not a name"),
        (lambda: block_layout(["bag", ["pots"]], 3, seed=0), "is not a name"),
        (lambda: block_layout(["bag", "pots"], 0, seed=0), "blocks = 0"),
        (lambda: block_layout(["bag", "pots"], 2.0, seed=0), "blocks = 2.0"),
        (lambda: block_layout(["bag", "pots"], 2, seed=-1), "seed"),
        (lambda: block_layout(["bag"], 2, seed=1, varieties=["a", "a"]), "varieties = a"),
        (lambda: randomised_layout(["bag", "pots"], True, seed=1), "replicates"),
        (lambda: latin_square_layout(["bag", "pots"], seed=1, squares=0), "squares"),
    ],
)
def test_layout_impossible_request_is_refused(call, words):
    with pytest.raises(ArgumentError) as caught:
        call()
    assert words in str(caught.value)


def test_layout_all_faults_at_once():
    with pytest.raises(ArgumentError) as caught:
        block_layout(["bag", "bag", ""], 0, seed=0, varieties=[" x"])
    assert len(caught.value.problems) == 4


def test_layout_that_does_not_fit_is_refused_with_numbers():
    tanks = equal_tanks(3, "2 m", "1 m", sections=4)
    with pytest.raises(InfeasibleError, match=r"18 plots do not fit; there are 3 tanks with 12"):
        block_layout(NAMES[:3], 6, seed=0, tanks=tanks)
    with pytest.raises(InfeasibleError, match="each of 4 groups of 3 plots"):
        block_layout(NAMES[:3], 4, seed=0, tanks=tanks)  # 12 sections, but no block in two tanks
    with pytest.raises(InfeasibleError, match=r"3 tanks with 3 sections$"):
        block_layout(NAMES[:4], 1, seed=0, tanks=equal_tanks(3, "1 m", "1 m"))
    with pytest.raises(InfeasibleError, match="do not fit"):
        randomised_layout(NAMES[:3], 5, seed=0, tanks=tanks)
