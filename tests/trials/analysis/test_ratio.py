"""Ratio of two mean yields, with Fieller's interval."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import InfeasibleError, RangeError, UnitError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    ratio_in,
    ratio_of_estimates,
    ratio_of_means,
)
from scenariokit.trials.plots import PlotTable
from scenariokit.units import registry

Q = registry().Quantity


def yields(*values, unit="kg/m^2"):
    return Q(np.array(values, dtype=float), unit)


def with_moments(mean, sd, n):
    """Return n yields of exactly that mean and standard deviation."""
    shape = np.linspace(-1, 1, n)
    return yields(*(mean + sd * shape / shape.std(ddof=1)))


def test_ratio_of_means_worked_case():
    """Computed: 4.8 (s 0.6, n 5) over 3.2 (s 0.5, n 5); pooled variance 0.305, 8 df."""
    found = ratio_of_means(with_moments(4.8, 0.6, 5), with_moments(3.2, 0.5, 5))
    assert found.ratio == pytest.approx(1.5)
    assert (found.low, found.high) == pytest.approx((1.2193320, 1.8788092), abs=5e-8)
    assert found.g == pytest.approx(0.0316774, abs=5e-8)
    assert (found.df, found.bounded, found.confidence) == (8, True, 0.95)


def test_ratio_of_estimates_poor_second_mean_is_not_bounded():
    """Computed: 1.0 (variance 0.04) over 0.4 (variance 0.09), z 1.96: g 2.1609."""
    found = ratio_of_estimates("1 kg/m^2", "0.4 kg/m^2", "0.2 kg/m^2", "0.3 kg/m^2")
    assert found.g == pytest.approx(2.1609, abs=1e-4)
    assert (found.low, found.high, found.bounded) == (None, None, False)
    assert found.ratio == pytest.approx(2.5)


@settings(max_examples=100, deadline=None)
@given(
    st.floats(0.5, 9), st.floats(0.5, 9), st.floats(0.01, 2), st.floats(0.01, 2),
    st.integers(2, 40), st.floats(0.6, 0.99),
)  # fmt: skip
def test_ratio_of_estimates_ends_are_just_t_away(a, b, ea, eb, df, level):
    """At each end R: |a - R b| / sqrt(va + R² vb) = t."""
    means = [Q(value, "kg/m^2") for value in (a, b, ea, eb)]
    found = ratio_of_estimates(*means, df=df, confidence=level)
    t = stats.t.ppf((1 + level) / 2, df)
    assert found.bounded == (found.g < 1)
    assume(found.g < 0.95)
    for end in (found.low, found.high):
        away = abs(a - end * b) / np.sqrt(ea**2 + end**2 * eb**2)
        assert away == pytest.approx(t, rel=1e-8)
    assert found.low <= found.ratio <= found.high


def test_ratio_of_estimates_without_errors_is_a_point():
    found = ratio_of_estimates("3 kg/m^2", "2 kg/m^2", "0 kg/m^2", "0 kg/m^2")
    assert (found.low, found.high) == (1.5, 1.5)


def test_ratio_of_means_does_not_depend_on_unit():
    first, second = yields(5, 6, 7), yields(4, 4.5, 5)
    found = ratio_of_means(first.to("t/ha"), second.to("lb/ft^2"))
    assert found.high == pytest.approx(ratio_of_means(first, second).high)


def test_ratio_of_means_one_plot_of_one_method_is_enough():
    found = ratio_of_means("6 kg/m^2", yields(4, 4.1, 4.2))
    assert found.df == 2
    assert found.low < 6 / 4.1 < found.high


def test_ratio_of_means_own_errors_use_welch_degrees():
    first, second = yields(5, 6, 7), yields(4, 4.1, 4.2, 4.1)
    found = ratio_of_means(first, second, equal_variances=False)
    expected = stats.ttest_ind(first.m, second.m, equal_var=False).df
    assert found.df == pytest.approx(expected)


@pytest.mark.parametrize(
    ("first", "second", "options", "words"),
    [
        ((5,), (4,), {}, "1 and 1 plots"),
        ((5, 6), (4,), {"equal_variances": False}, "of both"),
        ((5, 5), (4, 4), {}, "do not differ at all"),
    ],
)
def test_ratio_of_means_nothing_to_judge_raises(first, second, options, words):
    with pytest.raises(InfeasibleError, match=words):
        ratio_of_means(yields(*first), yields(*second), **options)


def test_ratio_of_means_all_bad_arguments_are_named():
    with pytest.raises(RangeError) as caught:
        ratio_of_means(yields(5, float("nan")), yields(-4, 5), confidence=2)
    fields = [problem.field for problem in caught.value.problems]
    assert fields == ["first", "second", "confidence"]


def test_ratio_of_means_bare_numbers_raise():
    with pytest.raises(UnitError, match="bare number"):
        ratio_of_means([5.0, 6.0], [4.0, 5.0])


def test_ratio_of_means_zero_second_raises():
    with pytest.raises(RangeError, match="divided by"):
        ratio_of_means(yields(5, 6), yields(0, 0))


@pytest.mark.parametrize(("second", "df"), [("0 kg/m^2", 8), ("3 kg/m^2", 0)])
def test_ratio_of_estimates_impossible_raises(second, df):
    with pytest.raises(RangeError):
        ratio_of_estimates("3 kg/m^2", second, "0.1 kg/m^2", "0.1 kg/m^2", df=df)


def test_ratio_in_completely_randomised_equals_ratio_of_means(plots_of):
    plots = plots_of({"A": [4.1, 4.9, 5.3], "B": [6.0, 6.4, 6.8]})
    found = ratio_in(analyse(plots, completely_randomised("method")), "method", "B", "A")
    same = ratio_of_means(yields(6.0, 6.4, 6.8), yields(4.1, 4.9, 5.3))
    assert (found.low, found.high, found.df) == pytest.approx((same.low, same.high, same.df))


def test_ratio_in_confidence_agrees_with_the_test_of_the_difference(analysed):
    """A ratio of 1 lies outside the interval if, and only if, the means differ."""
    from scenariokit.trials.analysis import pairwise

    found = analysed("strawberry")
    for pair in pairwise(found, "variety", "lsd").pairs:
        ratio = ratio_in(found, "variety", pair.first, pair.second)
        assert ratio.bounded
        assert (ratio.low <= 1 <= ratio.high) != pair.differs


def test_ratio_in_split_plot_mixes_both_errors(analysed):
    found = ratio_in(analysed("oats"), "variety:nitrogen", "Marvellous:0.6", "Victory:0.0")
    assert 10 < found.df < 45
    assert found.low < found.ratio < found.high


def test_ratio_in_unknown_labels_are_all_named(analysed):
    with pytest.raises(RangeError) as caught:
        ratio_in(analysed("plants"), "group", "one", "two")
    assert [problem.field for problem in caught.value.problems] == ["first", "second"]


def test_ratio_in_mean_of_zero_raises():
    plots = PlotTable([0.0, 0.0, 5.0, 6.0], {"method": tuple("AABB")})
    with pytest.raises(InfeasibleError, match="mean of A is not above zero"):
        ratio_in(analyse(plots, completely_randomised("method")), "method", "B", "A")
