"""Welch's test."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.analysis import welch
from scenariokit.trials.plots import PlotTable

NAN = float("nan")


@pytest.mark.parametrize(
    ("name", "factor", "f", "p"),
    [
        ("sweetpotato", "virus", 24.809735, 0.004220),
        ("plants", "group", 5.180972, 0.017393),
        # Student's sleep: Welch t -1.860813, 17.776474 degrees of freedom.
        ("sleep", "drug", 1.860813**2, 0.079394),
    ],
)
def test_welch_gives_computed_values(trial, name, factor, f, p):
    found = welch(trial(name), factor)
    assert found.f == pytest.approx(f, rel=1e-6)
    assert found.p == pytest.approx(p, abs=5e-7)
    assert found.df == len(trial(name).levels(factor)) - 1


def test_welch_sleep_gives_degrees_of_freedom(trial):
    assert welch(trial("sleep"), "drug").error_df == pytest.approx(17.776474, abs=5e-7)


@pytest.mark.parametrize("groups", [{"A": [1, 2], "B": [3]}, {"A": [1, 2], "B": [3, 3, NAN]}])
def test_welch_group_without_its_own_error_raises(plots_of, groups):
    with pytest.raises(InfeasibleError, match="B: one plot"):
        welch(plots_of(groups), "method")


@pytest.mark.parametrize("factor", ["variety", "method"])
def test_welch_unknown_or_single_level_raises(plots_of, factor):
    with pytest.raises(RangeError, match=factor):
        welch(plots_of({"A": [1, 2], "B": [NAN]}), factor)


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 8), st.integers(2, 8), st.floats(0.01, 100))
def test_welch_of_two_equals_independent_package_in_any_unit(seed, first, second, factor):
    rng = np.random.default_rng(seed)
    groups = rng.uniform(1, 9, first), rng.uniform(2, 6, second)
    plots = PlotTable(np.hstack(groups) * factor, {"method": ("A",) * first + ("B",) * second})
    found = welch(plots, "method")
    expected = stats.ttest_ind(*groups, equal_var=False)
    assert found.f == pytest.approx(expected.statistic**2)
    assert (found.p, found.error_df) == pytest.approx((expected.pvalue, expected.df))
