"""What plots that were not harvested would have given."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    missing_yields,
    randomised_blocks,
    split_plot,
)
from scenariokit.trials.plots import PlotTable

NAN = float("nan")


def plain(found):
    return {name: None if value is None else value.m_as("kg/m^2") for name, value in found.items()}


def test_missing_yields_none_missing_is_empty(trial):
    plots = trial("strawberry")
    assert missing_yields(plots, analyse(plots, randomised_blocks("variety"))) == {}


def test_missing_yields_one_plot_equals_yates_formula(trial):
    """Yates 1933: (r B + t T - G) / ((r - 1) (t - 1)), from memory; r blocks, t treatments."""
    plots = trial("strawberry")
    yields = plots.yields.copy()
    yields[6] = NAN
    holed = PlotTable(yields, plots.factors)
    grid = yields.reshape(8, 4)
    block, treatment, total = np.nansum(grid[:, 2]), np.nansum(grid[1]), np.nansum(grid)
    expected = (4 * block + 8 * treatment - total) / (3 * 7)
    analysis = analyse(holed, randomised_blocks("variety"))
    assert plain(missing_yields(holed, analysis)) == {"7": pytest.approx(expected)}
    # Filled in, the plot leaves the residual sum of squares as it was.
    yields[6] = expected
    filled = analyse(PlotTable(yields, plots.factors), randomised_blocks("variety"))
    row = analysis.row("residual")
    assert filled.row("residual").sum_of_squares == pytest.approx(row.sum_of_squares)
    assert filled.row("residual").df == row.df + 1


def test_missing_yields_of_a_lost_treatment_or_block_are_unknown():
    plots = PlotTable(
        [4.0, 5.0, 6.0, 6.5, NAN, NAN, NAN, NAN],
        {"method": tuple("AABBCCAB"), "block": ("1", "2", "1", "2", "1", "2", "3", "3")},
    )
    analysis = analyse(plots, randomised_blocks("method"))
    assert plain(missing_yields(plots, analysis)) == dict.fromkeys("5678")
    assert any("method C was harvested in no plot" in note for note in analysis.notes)
    assert any("block 3 was harvested in no plot" in note for note in analysis.notes)


def test_missing_yields_of_an_empty_combination_is_unknown():
    plots = PlotTable(
        [4.0, 4.2, 6.0, 6.1, 8.0, 8.3, NAN],
        {"method": tuple("AAAABBB"), "variety": tuple("xxyyxxy")},
    )
    analysis = analyse(plots, completely_randomised("method", "variety"))
    assert plain(missing_yields(plots, analysis)) == {"7": None}


def test_missing_yields_split_plot_follows_its_whole_plot(trial):
    plots = trial("oats")
    yields = plots.yields.copy()
    yields[0] = NAN
    holed = PlotTable(yields, plots.factors)
    found = plain(missing_yields(holed, analyse(holed, split_plot("variety", "nitrogen"))))
    # Victory in block I lies far above its mean over blocks (97.6); so must the missing part.
    expected = (6 * np.nansum(yields[:4]) + 4 * np.nansum(yields[::12]) - victory(yields)) / (5 * 3)
    assert found == {"1": pytest.approx(expected)}
    assert found["1"] > 100


def victory(yields):
    """Sum over Victory, whose whole plots are the first four of each block of twelve."""
    return np.nansum(yields.reshape(6, 12)[:, :4])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.sets(st.integers(0, 19), min_size=1, max_size=5))
def test_missing_yields_without_error_are_given_back(seed, holes):
    rng = np.random.default_rng(seed)
    block, method = np.indices((4, 5)).reshape(2, -1)
    true = 4 + rng.uniform(0, 2, 4)[block] + rng.uniform(0, 2, 5)[method]
    yields = true + rng.normal(0, 1e-9, 20)
    yields[list(holes)] = NAN
    factors = {"block": tuple(map(str, block)), "method": tuple(map(str, method))}
    plots = PlotTable(yields, factors)
    found = plain(missing_yields(plots, analyse(plots, randomised_blocks("method"))))
    assert set(found) == {str(hole + 1) for hole in holes}
    for name, value in found.items():
        if value is not None:
            assert value == pytest.approx(true[int(name) - 1], abs=1e-6)
