"""Residuals and the tests on them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import RangeError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    normal_scores,
    randomised_blocks,
    residual_checks,
)
from scenariokit.trials.plots import PlotTable


def test_residual_checks_sweetpotato_gives_computed_values(analysed):
    found = residual_checks(analysed("sweetpotato"))
    assert (found.levene.statistic, found.levene.p) == pytest.approx((0.400438, 0.756615), abs=5e-7)
    assert (found.bartlett.statistic, found.bartlett.p) == pytest.approx(
        (2.388649, 0.495751), abs=5e-7
    )


def test_residual_checks_plant_growth_gives_documented_bartlett(analysed):
    found = residual_checks(analysed("plants"))
    assert (found.bartlett.statistic, found.bartlett.p) == pytest.approx(
        (2.878574, 0.237097), abs=5e-7
    )
    expected = stats.shapiro(analysed("plants").residuals)
    assert (found.shapiro.statistic, found.shapiro.p) == pytest.approx(tuple(expected))


def test_residual_checks_silicon_gives_certified_spread(analysed):
    """NIST certified residual standard deviation 0.104076068334656."""
    found = residual_checks(analysed("silicon"))
    assert np.sqrt((found.residuals**2).sum() / 20) == pytest.approx(0.104076068334656, rel=1e-11)


def test_residual_checks_caution_names_the_trial(analysed):
    caution = residual_checks(analysed("sweetpotato")).caution
    assert "12 plots and 8 degrees of freedom" in caution
    assert "no proof" in caution


def test_residual_checks_factorial_compares_combinations(analysed):
    found = residual_checks(analysed("warp"))
    plots = analysed("warp").model.plots
    cells = list(zip(plots.column("wool"), plots.column("tension"), strict=True))
    groups = [plots.yields[[cell == name for cell in cells]] for name in dict.fromkeys(cells)]
    assert found.levene.statistic == pytest.approx(stats.levene(*groups).statistic)
    one = residual_checks(analysed("warp"), "tension")
    assert one.levene.statistic != pytest.approx(found.levene.statistic)


def test_residual_checks_combinations_with_one_plot_fall_back_to_the_first(grid):
    plots = grid({"method": 3, "variety": 4})
    found = analyse(plots, completely_randomised("method", "variety", interactions=1))
    groups = [found.residuals[plots.codes("method") == code] for code in range(3)]
    assert residual_checks(found).levene.statistic == pytest.approx(stats.levene(*groups).statistic)


def test_residual_checks_single_plots_are_told(plots_of):
    plots = plots_of({"A": [1, 2, 3.5], "B": [4, 5, 7], "C": [6]})
    found = residual_checks(analyse(plots, completely_randomised("method")))
    assert found.notes == ("Fewer than two plots, not compared in spread: C.",)


def test_residual_checks_plots_alike_have_no_bartlett(plots_of):
    plots = plots_of({"A": [1, 2, 3.5], "B": [4, 4, 4]})
    found = residual_checks(analyse(plots, completely_randomised("method")))
    assert found.bartlett is None
    assert found.levene is not None
    assert "Bartlett" in found.notes[0]


def test_residual_checks_two_plots_each_have_no_levene(plots_of):
    plots = plots_of({"A": [1, 2], "B": [4, 5.5]})
    found = residual_checks(analyse(plots, completely_randomised("method")))
    assert found.levene is None
    assert found.bartlett is not None


def test_residual_checks_without_error_tests_nothing(plots_of):
    plots = plots_of({"A": [1, 1], "B": [4, 4]})
    found = residual_checks(analyse(plots, completely_randomised("method")))
    assert (found.levene, found.bartlett, found.shapiro) == (None, None, None)


def test_residual_checks_one_group_with_plots_enough_tests_no_spread(plots_of):
    plots = plots_of({"A": [1, 2.5], "B": [4]})
    found = residual_checks(analyse(plots, completely_randomised("method")))
    assert (found.levene, found.bartlett) == (None, None)
    assert found.shapiro is not None


def test_residual_checks_thousands_of_plots_have_no_shapiro(plots_of):
    rng = np.random.default_rng(0)
    plots = plots_of({"A": rng.uniform(1, 2, 2600), "B": rng.uniform(1, 2, 2600)})
    assert residual_checks(analyse(plots, completely_randomised("method"))).shapiro is None


def test_residual_checks_unknown_term_raises(analysed):
    with pytest.raises(RangeError, match="variety"):
        residual_checks(analysed("plants"), "variety")


def test_normal_scores_blom_for_five():
    """Blom's scores of 5: ±1.1798, ±0.4972, 0 (computed from the formula)."""
    found = normal_scores(np.array([3.0, 9.0, 1.0, 5.0, 7.0]))
    assert found == pytest.approx([-0.4972, 1.1798, -1.1798, 0, 0.4972], abs=5e-5)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.01, 100))
def test_residual_checks_fit_and_residual_add_to_yield_in_any_unit(seed, factor):
    rng = np.random.default_rng(seed)
    factors = {"method": tuple("AAABBBCCC"), "block": ("1", "2", "3") * 3}
    yields = rng.uniform(1, 9, 9)
    found = residual_checks(analyse(PlotTable(yields, factors), randomised_blocks("method")))
    np.testing.assert_allclose(found.fitted + found.residuals, yields)
    scaled = analyse(PlotTable(yields * factor, factors), randomised_blocks("method"))
    large = residual_checks(scaled)
    np.testing.assert_allclose(large.residuals, found.residuals * factor, atol=1e-9 * factor)
    assert large.levene.statistic == pytest.approx(found.levene.statistic)
    assert large.bartlett.statistic == pytest.approx(found.bartlett.statistic)
