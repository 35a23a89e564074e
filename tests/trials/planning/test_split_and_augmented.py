"""Split plots, and new entries beside checks."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, InfeasibleError
from scenariokit.trials.planning.split_and_augmented import augmented_layout, split_plot_layout
from scenariokit.trials.planning.tanks import equal_tanks

METHODS, VARIETIES = ["bag", "pots", "wick"], ["early", "late"]


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 4), st.integers(0, 2**32), st.sampled_from(["treatment", "variety"]))
def test_split_plot_layout_whole_tanks_get_the_main_factor(blocks, seed, kind):
    tanks = equal_tanks(3 * blocks, "2 m", "1 m", sections=3)
    layout = split_plot_layout(METHODS, VARIETIES, blocks, seed=seed, main_is=kind, tanks=tanks)
    other = "variety" if kind == "treatment" else "treatment"
    by_tank = {}
    for plot in layout.plots:
        assert plot.main == plot.tank
        by_tank.setdefault(plot.tank, []).append(plot)
    assert len(by_tank) == 3 * blocks
    for plots in by_tank.values():
        assert len({getattr(plot, kind) for plot in plots}) == 1
        assert sorted(getattr(plot, other) for plot in plots) == VARIETIES
    for block in range(1, blocks + 1):
        mains = {getattr(plot, kind) for plot in layout.plots if plot.block == str(block)}
        assert mains == set(METHODS)


def test_split_plot_layout_both_draws_are_uniform():
    from scipy import stats

    first = Counter()
    for seed in range(3_000):
        layout = split_plot_layout(METHODS, VARIETIES, 1, seed=seed)
        first[tuple((plot.treatment, plot.variety) for plot in layout.plots)] += 1
    assert len(first) == 6 * 2**3
    assert stats.chisquare(list(first.values())).pvalue > 0.001


def test_split_plot_layout_places_number_on_through_the_block():
    layout = split_plot_layout(METHODS, VARIETIES, 2, seed=0)
    assert [plot.column for plot in layout.plots] == [1, 2, 3, 4, 5, 6] * 2
    assert [plot.row for plot in layout.plots] == [1] * 6 + [2] * 6


@pytest.mark.parametrize(("count", "sections"), [(5, 2), (6, 1)])
def test_split_plot_layout_too_few_tanks_or_sections_are_refused(count, sections):
    tanks = equal_tanks(count, "2 m", "1 m", sections=sections)
    with pytest.raises(InfeasibleError, match="6 whole plots need a tank each, with 2 sections"):
        split_plot_layout(METHODS, VARIETIES, 2, seed=0, tanks=tanks)


def test_split_plot_layout_all_faults_at_once():
    with pytest.raises(ArgumentError) as caught:
        split_plot_layout(["bag"], ["early", "early"], 0, seed=0, main_is="tank")
    assert [problem.field for problem in caught.value.problems] == [
        "main", "parts", "blocks", "main_is",
    ]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 25), st.integers(2, 6), st.integers(0, 2**32))
def test_augmented_layout_checks_in_every_block_and_entries_once(new, blocks, seed):
    entries = [f"new {number}" for number in range(new)]
    layout = augmented_layout(VARIETIES, entries, blocks, seed=seed, treatment="bag")
    counts = Counter(plot.variety for plot in layout.plots)
    assert all(counts[name] == 1 for name in entries)
    sizes = []
    for block in range(1, blocks + 1):
        names = [plot.variety for plot in layout.plots if plot.block == str(block)]
        assert set(VARIETIES) <= set(names)
        assert names.count("early") == names.count("late") == 1
        sizes.append(len(names))
    assert max(sizes) - min(sizes) <= 1
    assert {plot.treatment for plot in layout.plots} == {"bag"}


def test_augmented_layout_every_entry_in_every_block_equally_often():
    from scipy import stats

    counts = Counter()
    for seed in range(3_000):
        layout = augmented_layout(VARIETIES, ["n1", "n2", "n3", "n4"], 3, seed=seed)
        counts.update((plot.variety, plot.block) for plot in layout.plots if plot.variety == "n2")
    assert len(counts) == 3
    assert stats.chisquare(list(counts.values())).pvalue > 0.001


def test_augmented_layout_all_faults_at_once():
    with pytest.raises(ArgumentError) as caught:
        augmented_layout(["old", "older"], ["old"], 1, seed=0)
    assert len(caught.value.problems) == 2
    with pytest.raises(ArgumentError, match="entries"):
        augmented_layout(["old", "older"], [], 2, seed=0)
    with pytest.raises(ArgumentError, match="checks"):
        augmented_layout(["old"], ["new"], 2, seed=0)
