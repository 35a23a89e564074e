"""Replicates, power and detectable difference, against published and exact values."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError, UnitError
from scenariokit.trials.planning.degrees import degrees
from scenariokit.trials.planning.power import (
    detectable_difference,
    pair_power,
    power_of_difference,
    replicates_for_difference,
)

PUBLISHED = Path(__file__).parents[2] / "published" / "trial_sizes.csv"


def published(quantity):
    with PUBLISHED.open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["quantity"] == quantity]
    assert rows
    return rows


@pytest.mark.parametrize("row", published("replicates_pair"), ids=lambda row: row["value"])
def test_replicates_for_difference_tabled_sizes(row):
    found = replicates_for_difference(
        float(row["difference"]), float(row["cv"]), int(row["treatments"]), design=row["design"]
    )
    # Cohen prints the nearest whole number, a planner needs the one above.
    slack = 1 if row["source"].startswith("Cohen") else 0
    assert int(row["value"]) <= found <= int(row["value"]) + slack


@pytest.mark.parametrize("row", published("continuous_pair"), ids=lambda row: row["difference"])
def test_pair_power_at_published_fraction_of_a_plot_is_four_fifths(row):
    plots = float(row["value"])
    found = pair_power(float(row["difference"]), plots, 2 * (plots - 1), 0.05)
    assert found == pytest.approx(0.8, abs=3e-5)


def test_power_of_difference_equals_the_noncentral_t():
    """Two-sided power by the noncentral t of another library."""
    from scipy import stats

    nct, t = stats.nct, stats.t
    for ratio, plots, many in ((1.0, 4, 3), (1.6667, 7, 4), (0.5, 12, 2), (3.0, 3, 5)):
        error = degrees(many, plots, "blocks")
        line, shift = t.ppf(0.975, error), ratio * np.sqrt(plots / 2)
        expected = nct.sf(line, error, shift) + nct.cdf(-line, error, shift)
        found = power_of_difference(ratio * 0.1, 0.1, plots, many)
        assert found == pytest.approx(expected, rel=1e-9)


def test_power_of_difference_equals_oracle():
    power = pytest.importorskip("statsmodels.stats.power")
    expected = power.TTestIndPower().power(1.2, nobs1=9, ratio=1, alpha=0.1)
    found = power_of_difference(0.18, 0.15, 9, 2, alpha=0.1, design="randomised")
    assert found == pytest.approx(expected, rel=1e-7)


def test_power_of_difference_no_difference_comes_near_alpha():
    assert power_of_difference(0.001, 1, 5, 4) == pytest.approx(0.05, abs=1e-6)


def test_power_of_difference_takes_ratios_in_percent_and_arrays():
    plain = power_of_difference([0.1, 0.2], 0.12, 7, 4)
    assert isinstance(plain, np.ndarray)
    np.testing.assert_allclose(power_of_difference(["10 %", "20 %"], "12 %", 7, 4), plain)
    assert isinstance(power_of_difference(0.2, 0.12, 7, 4), float)


def test_replicates_for_difference_arrays_broadcast():
    found = replicates_for_difference([[0.1], [0.2]], [0.05, 0.1], 4)
    assert found.tolist() == [[5, 17], [3, 5]]
    assert isinstance(replicates_for_difference(0.2, 0.1, 4), int)


def test_replicates_for_difference_latin_squares_grow_by_whole_squares():
    one = replicates_for_difference(0.3, 0.1, 5, design="latin_square")
    more = replicates_for_difference(0.1, 0.1, 5, design="latin_square")
    assert (one, more % 5) == (5, 0)
    assert more > 5
    power = power_of_difference(0.1, 0.1, [more - 5, more], 5, design="latin_square")
    assert power[0] < 0.8 <= power[1]


def test_replicates_for_difference_easy_one_keeps_two_degrees_for_error():
    assert replicates_for_difference(1, 0.01, 2) == 3  # two blocks of two leave one
    assert replicates_for_difference(1, 0.01, 2, design="randomised") == 2


def test_replicates_for_difference_hopeless_one_is_refused():
    with pytest.raises(InfeasibleError, match="more than 10000 replicates"):
        replicates_for_difference(0.001, 1, 4)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0.05, 0.8),
    st.floats(0.03, 0.4),
    st.integers(2, 8),
    st.sampled_from([0.6, 0.8, 0.95]),
    st.sampled_from(["blocks", "randomised"]),
)
def test_replicates_for_difference_is_the_smallest_that_suffices(d, cv, many, power, design):
    found = replicates_for_difference(d, cv, many, power=power, design=design)
    assert power_of_difference(d, cv, found, many, design=design) >= power
    if degrees(many, found - 1, design) >= 2:
        assert power_of_difference(d, cv, found - 1, many, design=design) < power


@settings(max_examples=40, deadline=None)
@given(st.floats(0.02, 0.4), st.integers(3, 30), st.integers(2, 8), st.floats(0.3, 0.99))
def test_detectable_difference_is_found_with_the_wanted_power(cv, plots, many, power):
    found = detectable_difference(cv, plots, many, power=power)
    if 0.001 <= found <= 2:
        assert power_of_difference(found, cv, plots, many) == pytest.approx(power, abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.05, 0.5), st.floats(0.05, 0.5), st.integers(2, 6))
def test_replicates_for_difference_depends_on_the_ratio_alone(d, cv, many):
    assert replicates_for_difference(d, cv, many) == replicates_for_difference(d / 2, cv / 2, many)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 0.9), st.integers(3, 40))
def test_replicates_for_difference_is_not_below_the_normal_formula(d, percent):
    """r >= 2 (z(0.975) + z(0.8))² (CV / d)², the large-sample formula of textbooks."""
    cv = percent / 100
    least = 2 * (1.959964 + 0.841621) ** 2 * (cv / d) ** 2
    assert replicates_for_difference(d, cv, 4) >= least - 1e-6


def test_detectable_difference_one_more_block_finds_less():
    found = detectable_difference(0.12, [3, 4, 6, 12], 4)
    assert np.all(np.diff(found) < 0)
    assert found[1] == pytest.approx(0.2672553, abs=1e-6)  # computed with the noncentral t


def test_power_of_difference_two_by_two_blocks_is_refused_with_what_would_do():
    with pytest.raises(InfeasibleError, match=r"1 degrees .* possible: 3 replicates"):
        power_of_difference(0.2, 0.1, 2, 2)
    with pytest.raises(InfeasibleError, match="possible: 6 replicates"):
        detectable_difference(0.1, 2, 2, design="latin_square")  # three squares of two


def test_power_of_difference_latin_square_of_other_size_is_refused():
    with pytest.raises(InfeasibleError, match="multiple"):
        power_of_difference(0.2, 0.1, 4, 5, design="latin_square")


@pytest.mark.parametrize(
    ("arguments", "options", "words"),
    [
        ((0.2, 0.1, 2.5, 4), {}, "replicates = 2.5: is not a whole number"),
        ((0.2, 0.1, 3, 4.5), {}, "treatments = 4.5: is not a whole number"),
        ((0.2, 0.1, 3, 4), {"design": "rows"}, "design = 'rows'"),
        ((0.2, 12, 3, 4), {}, "0.12 or '12 %'"),
        ((0, 0.1, 3, 4), {}, "difference"),
        ((0.2, 0.1, 1, 4), {}, "replicates"),
        ((0.2, 0.1, 3, 4), {"alpha": 0}, "alpha"),
    ],
)
def test_power_of_difference_impossible_argument_is_refused(arguments, options, words):
    with pytest.raises(RangeError) as caught:
        power_of_difference(*arguments, **options)
    assert words in str(caught.value)


def test_power_of_difference_all_faults_at_once():
    with pytest.raises(RangeError) as caught:
        power_of_difference(0.2, 0.1, 2.5, 4.5, design="rows")
    assert len(caught.value.problems) == 3


def test_replicates_for_difference_power_below_alpha_is_refused():
    with pytest.raises(RangeError, match="must be above alpha"):
        replicates_for_difference(0.2, 0.1, 4, alpha=0.3, power=0.2)
    with pytest.raises(RangeError, match="must be above alpha"):
        detectable_difference(0.1, 4, 4, alpha=[0.05, 0.3], power=0.2)


def test_power_of_difference_text_without_unit_of_a_ratio_is_read_and_length_refused():
    assert power_of_difference("0.2", 0.12, 7, 4) == power_of_difference(0.2, 0.12, 7, 4)
    with pytest.raises(UnitError):
        power_of_difference("2 cm", 0.12, 7, 4)
