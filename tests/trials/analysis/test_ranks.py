"""Tests by ranks against a published output and another package."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.analysis import friedman, kruskal_wallis
from scenariokit.trials.plots import PlotTable

NAN = float("nan")


def test_kruskal_wallis_conover_corn_gives_published_output(trial):
    """Conover 1980, corn; H, chance, mean ranks and letters seen in a published output."""
    found = kruskal_wallis(trial("corn"), "method")
    assert found.statistic == pytest.approx(25.62884, abs=5e-6)
    assert found.p == pytest.approx(1.140573e-5, abs=5e-12)
    assert found.ranks == pytest.approx(
        {"m1": 21.83333, "m2": 15.3, "m3": 29.57143, "m4": 4.8125}, abs=5e-6
    )
    assert found.letters == {"m3": "a", "m1": "b", "m2": "c", "m4": "d"}
    assert found.df == 3
    assert found.notes == ()


def test_kruskal_wallis_sweetpotato_gives_computed_value(trial):
    found = kruskal_wallis(trial("sweetpotato"), "virus")
    assert found.statistic == pytest.approx(8.692308, abs=5e-7)
    assert found.p == pytest.approx(0.033674, abs=5e-7)
    assert "fewer than five plots" in found.notes[0]


@pytest.mark.parametrize(
    ("name", "factor", "h", "p"),
    [("scab", "treatment", 15.69857, 0.015467), ("plants", "group", 7.988229, 0.018424)],
)
def test_kruskal_wallis_more_trials_give_computed_values(trial, name, factor, h, p):
    found = kruskal_wallis(trial(name), factor)
    assert found.statistic == pytest.approx(h, abs=5e-6)
    assert found.p == pytest.approx(p, abs=5e-7)


@pytest.mark.parametrize(
    ("groups", "h", "p"),
    [
        ({"a": [1, 3, 5, 7, 9], "b": [2, 4, 6, 8, 10]}, 0.272727, 0.601508),
        ({"a": [1, 1, 1], "b": [2, 2, 2], "c": [2, 2]}, 7.0, 0.030197),
    ],
)
def test_kruskal_wallis_small_cases(plots_of, groups, h, p):
    found = kruskal_wallis(plots_of(groups), "method")
    assert (found.statistic, found.p) == pytest.approx((h, p), abs=5e-7)


def test_kruskal_wallis_groups_apart_without_error_differ_surely(plots_of):
    found = kruskal_wallis(plots_of({"a": [1, 1, 1], "b": [2, 2, 2], "c": [2, 2]}), "method")
    assert [pair.p for pair in found.pairs] == [0, 0, 1]
    assert found.letters == {"b": "a", "c": "a", "a": "b"}


def test_kruskal_wallis_adjustment_makes_chances_larger(trial):
    ways = [
        kruskal_wallis(trial("corn"), "method", adjustment=way)
        for way in ("none", "holm", "bonferroni")
    ]
    none, holm, bonferroni = ([pair.p for pair in found.pairs] for found in ways)
    assert all(a <= b <= c for a, b, c in zip(none, holm, bonferroni, strict=True))
    assert bonferroni[0] == pytest.approx(min(6 * none[0], 1))


def test_kruskal_wallis_missing_plots_are_told(plots_of):
    found = kruskal_wallis(plots_of({"a": [1, 2, NAN], "b": [3, 4, 5]}), "method")
    assert "1 of 6 plots" in found.notes[0]
    assert found.statistic == pytest.approx(stats.kruskal([1, 2], [3, 4, 5]).statistic)


@pytest.mark.parametrize(
    ("groups", "words"),
    [({"a": [1], "b": [2]}, "has one plot"), ({"a": [1, 1], "b": [1]}, "alike")],
)
def test_kruskal_wallis_nothing_to_judge_raises(plots_of, groups, words):
    with pytest.raises(InfeasibleError, match=words):
        kruskal_wallis(plots_of(groups), "method")


def test_rank_tests_bad_options_are_all_named(plots_of):
    with pytest.raises(RangeError) as caught:
        friedman(plots_of({"a": [1, 2]}), "method", adjustment="half")
    assert [problem.field for problem in caught.value.problems] == ["block", "adjustment", "method"]


def test_friedman_conover_grass_gives_published_output(trial):
    """Conover 1980, grasses; chi-squared and chance seen in a published output."""
    found = friedman(trial("grass"), "grass", block="owner")
    assert found.statistic == pytest.approx(8.097345, abs=5e-7)
    assert found.p == pytest.approx(0.04404214, abs=5e-9)
    assert found.ranks == {"t1": 38, "t2": 23.5, "t3": 24.5, "t4": 34}
    assert found.letters == {"t1": "a", "t4": "ab", "t3": "b", "t2": "b"}


def test_friedman_leaves_out_broken_blocks_and_says_so(trial):
    plots = trial("grass")
    yields = plots.yields.copy()
    yields[5] = NAN
    found = friedman(PlotTable(yields, plots.factors), "grass", block="owner")
    keep = np.array([owner != "2" for owner in plots.column("owner")])
    same = friedman(plots.where(keep), "grass", block="owner")
    assert found.statistic == pytest.approx(same.statistic)
    assert found.notes == ("Blocks with a plot not harvested are left out: 2.",)


def test_friedman_treatment_twice_in_a_block_raises():
    factors = {"method": tuple("ABAAB"), "block": tuple("11122")}
    with pytest.raises(InfeasibleError, match="block 1 has method A in more than one plot"):
        friedman(PlotTable([1, 2, 3, 4, 5], factors), "method")


def test_friedman_too_few_whole_blocks_raises():
    factors = {"method": tuple("ABAB"), "block": tuple("1122")}
    with pytest.raises(InfeasibleError, match="1 blocks have every method"):
        friedman(PlotTable([1, 2, 3, NAN], factors), "method")


def test_friedman_blocks_all_alike_raises():
    factors = {"method": tuple("ABAB"), "block": tuple("1122")}
    with pytest.raises(InfeasibleError, match="alike"):
        friedman(PlotTable([1, 1, 2, 2], factors), "method")


def test_friedman_same_order_in_each_block_differs_surely():
    factors = {"method": tuple("ABCABC"), "block": tuple("111222")}
    found = friedman(PlotTable([1, 2, 3, 2, 3, 4], factors), "method")
    assert [pair.p for pair in found.pairs] == [0, 0, 0]


@settings(max_examples=50, deadline=None)
@given(st.integers(3, 5), st.integers(2, 6), st.integers(0, 10**6))
def test_friedman_equals_independent_package(treatments, blocks, seed):
    values = np.random.default_rng(seed).integers(1, 6, (blocks, treatments)).astype(float)
    assume(np.ptp(values, axis=1).any())
    index = np.indices(values.shape).reshape(2, -1)
    factors = {"block": tuple(map(str, index[0])), "method": tuple(map(str, index[1]))}
    found = friedman(PlotTable(values.ravel(), factors), "method")
    expected = stats.friedmanchisquare(*values.T)
    assert found.statistic == pytest.approx(expected.statistic, abs=1e-9)
    assert found.p == pytest.approx(expected.pvalue, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.integers(1, 20), min_size=6, max_size=12), st.floats(0.1, 5))
def test_kruskal_wallis_equals_independent_package_and_knows_ranks_only(values, power):
    levels = tuple("ABC"[i % 3] for i in range(len(values)))
    assume(len(set(values)) > 1)
    yields = np.array(values, dtype=float)
    found = kruskal_wallis(PlotTable(yields, {"method": levels}), "method")
    groups = [yields[np.array(levels) == name] for name in "ABC"]
    assert found.statistic == pytest.approx(stats.kruskal(*groups).statistic, abs=1e-9)
    bent = kruskal_wallis(PlotTable(yields**power, {"method": levels}), "method")
    assert bent.statistic == pytest.approx(found.statistic, abs=1e-9)
