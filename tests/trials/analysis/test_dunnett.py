"""Treatments against a control."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RangeError
from scenariokit.trials.analysis import (
    against_control,
    analyse,
    completely_randomised,
    randomised_blocks,
)
from scenariokit.trials.analysis.dunnett import _common_shares, _InsideAll
from scenariokit.trials.plots import PlotTable


def plain(quantity):
    return quantity.m_as("kg/m^2")


def strengths(found):
    return {
        pair.first: (plain(pair.difference) / plain(pair.standard_error), pair.p)
        for pair in found.pairs
    }


@pytest.mark.parametrize(
    ("trial_name", "control", "expected"),
    [
        ("scab", "O", {
            "F3": (-3.198, 0.020), "F12": (-4.112, 0.002), "S3": (-1.432, 0.585),
            "F6": (-1.736, 0.387), "S6": (-1.066, 0.826), "S12": (-2.041, 0.234),
        }),
        ("blood", "control", {"A": (0.857, 0.620), "B": (3.694, 0.006)}),
    ],
)  # fmt: skip
def test_against_control_gives_computed_values(analysed, trial_name, control, expected):
    """Computed by another package, whose chances are drawn."""
    found = against_control(
        analysed(trial_name), analysed(trial_name).design.treatments[0], control
    )
    for name, (t, p) in strengths(found).items():
        assert t == pytest.approx(expected[name][0], abs=6e-4)
        assert p == pytest.approx(expected[name][1], abs=2e-3)
    assert all(pair.second == control for pair in found.pairs)
    assert found.letters == {}


def test_against_control_equal_numbers_gives_tabled_point():
    """Dunnett 1955, two-sided 5 % point for 3 treatments and 16 degrees of freedom: 2.59
    (printed to two decimals; from memory)."""
    rng = np.random.default_rng(1)
    plots = PlotTable(rng.uniform(4, 6, 20), {"method": tuple("AAAAABBBBBCCCCCDDDDD")})
    found = against_control(analyse(plots, completely_randomised("method")), "method", "A")
    pair = found.pairs[0]
    assert plain(found.critical) / plain(pair.standard_error) == pytest.approx(2.59, abs=0.006)
    assert plain(pair.high - pair.difference) == pytest.approx(plain(found.critical))


def test_against_control_one_treatment_is_a_t_test(analysed):
    found = against_control(analysed("sleep"), "drug", "first")
    assert found.pairs[0].p == pytest.approx(0.002833, abs=1e-6)


def test_against_control_missing_plots_in_blocks_uses_drawn_numbers(trial):
    plots = trial("strawberry")
    yields = plots.yields.copy()
    yields[[1, 6, 12]] = np.nan
    found = analyse(PlotTable(yields, plots.factors), randomised_blocks("variety"))
    one = against_control(found, "variety", "R1", seed=0)
    two = against_control(found, "variety", "R1", seed=0)
    assert strengths(one) == strengths(two)
    assert one.critical is None
    full = against_control(analyse(plots, randomised_blocks("variety")), "variety", "R1")
    # Three plots of 32 change the critical multiple of the standard error by little.
    multiples = [
        plain(f.pairs[0].high - f.pairs[0].difference) / plain(f.pairs[0].standard_error)
        for f in (one, full)
    ]
    assert multiples[0] == pytest.approx(multiples[1], rel=0.03)


def test_against_control_drawn_and_summed_chances_agree():
    correlation = np.full((4, 4), 0.5) + 0.5 * np.eye(4)
    inside = _InsideAll(correlation, 12.0, 0)
    assert inside.shares == pytest.approx(np.full(4, np.sqrt(0.5)))
    for d in (0.5, 2.0, 3.5):
        assert inside._drawn(d) == pytest.approx(inside(d), abs=2e-4)


@pytest.mark.parametrize(
    "correlation",
    [
        [[1, -0.2], [-0.2, 1]],
        [[1, 0.9, 0.9], [0.9, 1, 0.1], [0.9, 0.1, 1]],
        [[1, 0.5, 0.5, 0.5], [0.5, 1, 0.5, 0.5], [0.5, 0.5, 1, 0.2], [0.5, 0.5, 0.2, 1]],
        [[1, 0.5, 0], [0.5, 1, 0], [0, 0, 1]],
    ],
)
def test_common_shares_none_where_the_control_is_not_all_they_share(correlation):
    assert _common_shares(np.array(correlation, dtype=float)) is None


def test_against_control_far_below_chance_still_finds_a_point():
    """One degree of freedom and much confidence: the point lies far out."""
    plots = PlotTable([4.0, 4.5, 6.0], {"method": tuple("AAB")})
    found = against_control(
        analyse(plots, completely_randomised("method")), "method", "A", confidence=0.99
    )
    pair = found.pairs[0]
    half = plain(pair.high - pair.difference) / plain(pair.standard_error)
    assert half == pytest.approx(63.657, abs=0.01)


def test_against_control_split_plot_uses_fewest_degrees(analysed):
    found = against_control(analysed("oats"), "variety:nitrogen", "Victory:0.0")
    assert len({pair.df for pair in found.pairs}) == 1
    assert 10 < found.pairs[0].df < 45


def test_against_control_unknown_control_raises(analysed):
    with pytest.raises(RangeError, match=r"control = nothing.*ctrl, trt1"):
        against_control(analysed("plants"), "group", "nothing")


@settings(max_examples=20, deadline=None)
@given(st.integers(2, 5), st.integers(1, 40), st.floats(0.5, 4))
def test_inside_all_is_between_bonferroni_and_a_single_t(count, df, d):
    from scipy.stats import t

    share = 0.5
    inside = _InsideAll(np.full((count, count), share) + (1 - share) * np.eye(count), float(df), 0)
    single = 1 - 2 * t.sf(d, df)
    assert 1 - count * (1 - single) - 1e-9 <= inside(d) <= single + 1e-9
