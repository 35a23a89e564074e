"""Spreads: what the ways of saying them come to, cut or whole, in any unit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.uncertainty import (
    fixed,
    from_interval,
    from_percentiles,
    lognormal,
    normal,
    pert,
    triangular,
    uniform,
)

THREE = ("2 kg/m^2", "5 kg/m^2", "11 kg/m^2")
ALPHA, BETA = 7 / 3, 11 / 3
MAKERS = {
    "uniform": (uniform("2 kg", "8 kg"), stats.uniform(2, 6)),
    "triangular": (triangular("2 kg", "5 kg", "11 kg"), stats.triang(1 / 3, 2, 9)),
    "triangular at an end": (triangular("2 kg", "2 kg", "11 kg"), stats.triang(0, 2, 9)),
    "triangular at the other": (triangular("2 kg", "11 kg", "11 kg"), stats.triang(1, 2, 9)),
    "pert": (pert("2 kg", "5 kg", "11 kg"), stats.beta(ALPHA, BETA, 2, 9)),
    "pert at an end": (pert("2 kg", "2 kg", "11 kg"), stats.beta(1, 5, 2, 9)),
    "normal": (normal("10 kg", "3 kg"), stats.norm(10, 3)),
    "lognormal": (
        lognormal("10 kg", "3 kg"),
        stats.lognorm(math.sqrt(math.log(1.09)), scale=10 / math.sqrt(1.09)),
    ),
    "student": (
        from_interval("5 kg", "4 kg", "6 kg", degrees=5),
        stats.t(5, 5, 1 / stats.t.ppf(0.975, 5)),
    ),
}
SHARES = np.array([1e-9, 1e-4, 0.05, 1 / 3, 0.5, 0.8, 0.95, 1 - 1e-6])
each_maker = pytest.mark.parametrize("name", MAKERS)


# -- worked values -------------------------------------------------------------------


def test_triangular_equals_case_worked_by_hand():
    # a 2, m 5, b 11: mean 18/3; variance (4 + 25 + 121 - 10 - 22 - 55)/18 = 63/18;
    # F(5) = 3²/(9 · 3); above it 11 - √(54 (1 - u)), at u = 1/2 11 - √27
    spread = triangular(*THREE)
    assert spread.mean.m == pytest.approx(6, abs=1e-12)
    assert spread.variance.m == pytest.approx(3.5, abs=1e-12)
    assert spread.share_below("5 kg/m^2") == pytest.approx(1 / 3, abs=1e-12)
    assert spread.quantile(0.5).m == pytest.approx(5.803848, abs=5e-7)


def test_pert_equals_case_worked_by_hand():
    # mean (2 + 20 + 11)/6; variance (5.5 - 2)(11 - 5.5)/7, not (11 - 2)²/36 = 2.25
    spread = pert(*THREE)
    assert spread.mean.m == pytest.approx(5.5, abs=1e-12)
    assert spread.variance.m == pytest.approx(2.75, abs=1e-12)


def test_lognormal_equals_case_worked_by_hand():
    # σ² = ln(1 + 0.3²), μ = ln 10 - σ²/2; exp(μ + z σ) with z = -1.644854, 0, 1.644854
    spread = lognormal("10 money", "3 money")
    assert spread.numbers == pytest.approx((2.2594962, 0.2935604), abs=5e-8)
    found = spread.quantile([0.05, 0.5, 0.95]).m
    assert found == pytest.approx([5.909921, 9.578263, 15.523579], abs=5e-6)


def test_from_percentiles_lognormal_equals_case_worked_by_hand():
    # 90 % from 4 to 16: geometric mean √64 = 8, geometric deviation 2^(1/1.644854)
    spread = from_percentiles("4 money", "16 money")
    assert spread.quantile(0.5).m == pytest.approx(8, abs=1e-12)
    assert math.exp(spread.numbers[1]) == pytest.approx(1.524099, abs=5e-7)


def test_from_percentiles_normal_has_its_ends_where_they_were_said():
    spread = from_percentiles("4 kg", "16 kg", 0.8, "normal")
    assert spread.mean.m == pytest.approx(10)
    assert spread.quantile([0.1, 0.9]).m == pytest.approx([4, 16])


def test_from_interval_widens_by_students_t():
    # t(0.975, 3) = 3.1824 (Student's table): scale 1/3.1824; variance scale² · 3/(3 - 2)
    spread = from_interval("5 kg/m^2", "4 kg/m^2", "6 kg/m^2", degrees=3)
    assert spread.numbers[1] == pytest.approx(1 / 3.1824, rel=2e-5)
    assert spread.variance.m == pytest.approx(3 / 3.1824**2, rel=5e-5)
    assert spread.quantile([0.025, 0.975]).m == pytest.approx([4, 6])


def test_from_interval_without_degrees_is_normal_and_takes_the_longer_side():
    spread = from_interval("2 kg", "0 kg", "5 kg")
    assert (spread.kind, spread.quantile(0.975).m) == ("normal", pytest.approx(5))


def test_student_of_few_degrees_has_no_mean_or_variance():
    one = from_interval("5 kg", "4 kg", "6 kg", degrees=1)
    two = from_interval("5 kg", "4 kg", "6 kg", degrees=2)
    assert math.isnan(one.mean.m)
    assert math.isnan(one.variance.m)
    assert (two.mean.m, two.variance.m) == (5, math.inf)


# -- against SciPy -------------------------------------------------------------------


@each_maker
def test_spread_agrees_with_scipy(name):
    spread, other = MAKERS[name]
    assert spread.quantile(SHARES).m == pytest.approx(other.ppf(SHARES), rel=1e-9)
    at = np.linspace(-1, 16, 23)
    assert spread.share_below(quantity(at, "kg")) == pytest.approx(other.cdf(at), abs=1e-12)
    assert spread.mean.m == pytest.approx(other.mean(), rel=1e-9)
    assert spread.variance.m == pytest.approx(other.var(), rel=1e-9)
    assert (spread.low.m, spread.high.m) == pytest.approx(other.support())


@each_maker
def test_spread_at_scores_agrees_with_its_quantiles(name):
    spread, other = MAKERS[name]
    scores = np.linspace(-6.2, 0, 1001)
    reach = spread.quantile(1 - 1e-6).m - spread.quantile(1e-6).m
    lower = other.ppf(stats.norm.cdf(scores))
    upper = other.isf(stats.norm.cdf(scores))
    assert spread.at_scores(scores) == pytest.approx(lower, rel=1e-8, abs=1e-10 * reach)
    assert spread.at_scores(-scores) == pytest.approx(upper, rel=1e-8, abs=1e-10 * reach)


@each_maker
@pytest.mark.parametrize("ends", [(0.2, 0.7), (0.0, 0.3), (0.9, 1.0), (1 - 1e-6, 1.0)])
def test_within_agrees_with_numerical_integration(name, ends):
    spread, other = MAKERS[name]
    low, high = (float(other.ppf(share)) for share in ends)
    cut = spread.within(low, high)
    share = ends[1] - ends[0]
    middle = cut.quantile([0.0, 0.25, 0.5, 1.0]).m
    expected = [low, other.ppf(ends[0] + share / 4), other.ppf(ends[0] + share / 2), high]
    assert middle == pytest.approx(expected, rel=1e-6)
    finite = middle[np.isfinite(middle)]
    shares = np.array([0, 0.25, 0.5, 1])[np.isfinite(middle)]
    assert cut.share_below(quantity(finite, "kg")) == pytest.approx(shares, abs=1e-6)
    if math.isfinite(low) and math.isfinite(high):
        x = low + (high - low) * (np.arange(20000) + 0.5) / 20000
        weights = other.pdf(x)
        mean = np.average(x, weights=weights)
        assert cut.mean.m == pytest.approx(mean, rel=1e-5)
        variance = np.average((x - mean) ** 2, weights=weights)
        assert cut.variance.m == pytest.approx(variance, rel=1e-4)


def test_within_half_normal_has_known_moments():
    # half a standard normal: mean √(2/π), variance 1 - 2/π
    half = normal(0, 1).within(0)
    assert half.mean.m == pytest.approx(math.sqrt(2 / math.pi), rel=1e-10)
    assert half.variance.m == pytest.approx(1 - 2 / math.pi, rel=1e-10)


def test_within_far_tail_keeps_its_digits():
    cut = normal(0, 1).within(9, 10)
    found = cut.at_scores(np.array([-8.0, -1.0, 0.0, 1.0, 8.0]))
    # P(Z > x) = (P(Z > 9) + P(Z > 10)) / 2 in the middle
    middle = stats.norm.isf((stats.norm.sf(9) + stats.norm.sf(10)) / 2)
    assert found[2] == pytest.approx(middle, rel=1e-12)
    assert np.all(np.diff(found) > 0)
    assert np.all((found >= 9) & (found <= 10))
    assert cut.mean.m == pytest.approx(stats.truncnorm(9, 10).mean(), rel=1e-9)
    assert cut.share_below(float(middle)) == pytest.approx(0.5)


def test_within_student_open_to_one_side():
    two = from_interval(5, 4, 6, degrees=2).within(0)
    assert two.variance.m == math.inf
    # E(X | X > 0) of t with two degrees, scale s, centre c:
    # c + s ∫ t f(t) dt / P from -c/s on, and ∫ t f(t) dt = 1/√(2 + a²) there
    scale = 1 / stats.t.ppf(0.975, 2)
    start = -5 / scale
    expected = 5 + scale / math.sqrt(2 + start**2) / stats.t.sf(start, 2)
    assert two.mean.m == pytest.approx(expected, rel=1e-7)
    one = from_interval(5, 4, 6, degrees=1)
    assert one.within(0).mean.m == math.inf
    assert one.within(None, 9).mean.m == -math.inf
    assert math.isfinite(one.within(0, 60).variance.m)


# -- cutting -------------------------------------------------------------------------


def test_within_leaves_a_spread_inside_alone():
    spread = pert(*THREE)
    assert spread.within("0 kg/m^2", "60 kg/m^2") is spread
    assert spread.within() is spread


def test_within_takes_quantities_of_any_unit():
    spread = normal("10 kg", "3 kg")
    assert spread.within("8000 g", "11 kg") == spread.within(8, 11)


def test_within_twice_is_within_both():
    spread = normal("10 kg", "3 kg")
    twice = spread.within("8 kg").within(None, "11 kg").within("2 kg", "15 kg")
    assert twice == spread.within("8 kg", "11 kg")
    assert (twice.low.m, twice.high.m) == (8, 11)


def test_within_does_not_pile_draws_up_at_the_ends():
    found = normal(0, 1).within(-0.5, 0.5).at_scores(np.linspace(-5, 5, 1001))
    assert np.all(np.diff(found) > 0)
    assert (found.min(), found.max()) == pytest.approx((-0.5, 0.5), abs=1e-6)


@pytest.mark.parametrize(
    "spread",
    [pert(1, 2, 3), uniform(1, 2), triangular(1, 1, 2), fixed(2), lognormal(1e-3, 1e-5)],
)
@pytest.mark.parametrize("ends", [(7, 9), (-9, -7)])
def test_within_nothing_left_raises(spread, ends):
    with pytest.raises(RangeError, match="wholly outside"):
        spread.within(*ends)


def test_within_end_of_another_dimension_raises():
    with pytest.raises(UnitError, match="another dimension than kg"):
        pert("1 kg", "2 kg", "3 kg").within("1 m")
    with pytest.raises(UnitError, match="bare number"):
        pert("1 kg", "2 kg", "3 kg").share_below(1)


@pytest.mark.parametrize("ends", [(2, 3), (1, 2), (2, 2)])
def test_within_keeps_a_fixed_number_at_its_end(ends):
    assert fixed(2).within(*ends) == fixed(2)


# -- fixed and degenerate ------------------------------------------------------------


@pytest.mark.parametrize(
    "spread",
    [
        fixed("3 kg"), uniform("3 kg", "3 kg"), pert("3 kg", "3 kg", "3 kg"),
        triangular("3 kg", "3 kg", "3 kg"), normal("3 kg", "0 kg"), lognormal("3 kg", "0 kg"),
        from_interval("3 kg", "3 kg", "3 kg"),
    ],
)  # fmt: skip
def test_spread_without_width_is_fixed(spread):
    assert spread.kind == "fixed"
    assert (spread.mean.m, spread.variance.m) == (3, 0)
    assert np.all(spread.at_scores(np.array([-3.0, 0.0, 3.0])) == 3)
    assert spread.quantile([0, 0.5, 1]).m == pytest.approx([3, 3, 3])
    assert spread.share_below("3 kg") == 1
    assert spread.share_below("2.9 kg") == 0


# -- units ---------------------------------------------------------------------------


def test_spread_reads_any_unit_of_the_dimension():
    mixed = pert("2 kg/m^2", "5000 g/m^2", quantity(11, "kg/m^2"))
    assert mixed.numbers == pytest.approx((2, 5, 11))
    assert mixed.unit == "kg/m^2"


@each_maker
def test_in_unit_moves_nothing(name):
    spread, _ = MAKERS[name]
    grams = spread.in_unit("g")
    assert grams.quantile(SHARES).m_as("kg") == pytest.approx(spread.quantile(SHARES).m)
    assert grams.mean.m == pytest.approx(1000 * spread.mean.m)
    assert grams.variance.m_as("kg^2") == pytest.approx(spread.variance.m)
    assert spread.in_unit("kg") is spread


def test_in_unit_keeps_a_cut():
    cut = normal("10 kg", "3 kg").within("0 kg", "12 kg").in_unit("g")
    assert (cut.low.m, cut.high.m) == pytest.approx((0, 12000))


def test_in_unit_spelt_otherwise_keeps_every_digit():
    spread = pert("0.1 kg/m^2", "0.3 kg/m^2", "0.7 kg/m^2")
    assert spread.in_unit("kg/m**2").numbers == spread.numbers


def test_quantile_of_percent_is_a_plain_share():
    assert pert("10 %", "20 %", "40 %").numbers == pytest.approx((0.1, 0.2, 0.4))


def test_quantile_scalar_and_array():
    spread = pert(*THREE)
    assert np.ndim(spread.quantile(0.5).m) == 0
    assert spread.quantile([[0.1, 0.5], [0.6, 0.9]]).m.shape == (2, 2)
    assert np.ndim(spread.share_below("5 kg/m^2")) == 0


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 10), st.floats(0, 10), st.floats(0, 10), st.floats(0.01, 50), st.floats(-6, 6))
def test_scaled_moves_draws_in_proportion(low, rise, fall, factor, score):
    assume(rise + fall > 1e-3)
    spread = pert(low, low + rise, low + rise + fall)
    once = spread.at_scores(np.array([score]))[0]
    scaled = spread.scaled(factor).at_scores(np.array([score]))[0]
    assert scaled == pytest.approx(once * factor, rel=1e-9, abs=1e-9 * factor)


def test_scaled_each_kind():
    scores = np.linspace(-3, 3, 7)
    for spread, _ in MAKERS.values():
        assert spread.scaled(3).at_scores(scores) == pytest.approx(3 * spread.at_scores(scores))
    assert fixed(2).scaled(0) == fixed(0)
    assert normal(2, 1).scaled(0) == fixed(0)
    assert normal(2, 1).within(0).scaled(2).low.m == 0


@pytest.mark.parametrize("factor", [-1.0, math.inf, math.nan])
def test_scaled_impossible_factor_raises(factor):
    with pytest.raises(RangeError, match="0 or more"):
        pert(1, 2, 3).scaled(factor)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.1, 10), st.floats(0, 1), st.floats(0.05, 0.95))
def test_pert_mean_and_variance_follow_the_equations(width, part, share):
    low, likely, high = 1.0, 1.0 + part * width, 1.0 + width
    spread = pert(low, likely, high)
    mean = (low + 4 * likely + high) / 6
    assert spread.mean.m == pytest.approx(mean)
    assert spread.variance.m == pytest.approx((mean - low) * (high - mean) / 7)
    assert low <= spread.quantile(share).m <= high
    assert spread.share_below(spread.quantile(share)) == pytest.approx(share, abs=1e-9)


# -- errors --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "fields"),
    [
        (lambda: pert(3, 2, 1), ["low"]),
        (lambda: pert(1, 5, 3), ["likely"]),
        (lambda: triangular(1, 0, 3), ["likely"]),
        (lambda: uniform(2, 1), ["low"]),
        (lambda: normal(1, -1), ["deviation"]),
        (lambda: lognormal(-1, -1), ["mean", "deviation"]),
        (lambda: lognormal(0, 1), ["mean"]),
        (lambda: from_percentiles(3, 3), ["low"]),
        (lambda: from_percentiles(-2, -3, 1.5), ["low", "level", "low"]),
        (lambda: from_percentiles(1, 2, 0.9, "square"), ["shape"]),
        (lambda: from_interval(9, 1, 2, 0.0, -1), ["level", "mean", "degrees"]),
        (lambda: from_interval(1, 0, 2, degrees=0), ["degrees"]),
        (lambda: normal(math.nan, math.inf), ["mean", "deviation"]),
        (lambda: uniform([1, 2], 3), ["low"]),
    ],
)
def test_spread_out_of_range_lists_every_bad_argument(make, fields):
    with pytest.raises(RangeError) as caught:
        make()
    assert [problem.field for problem in caught.value.problems] == fields


@pytest.mark.parametrize(
    ("make", "fields", "said"),
    [
        (lambda: pert("x", "5 kg", "3 m"), ["low", "high"], "does not begin with a number"),
        (lambda: pert(1, "5 kg", 3), ["likely"], "another dimension"),
        (lambda: pert("1,5 kg", "2 kg", "3 kg"), ["low"], "decimal comma"),
        (lambda: normal("20 degC", "2 degC"), ["unit"], "kelvin"),
        (lambda: fixed(None), ["value"], "missing"),
        (lambda: fixed("3 quirks"), ["value"], "quirks"),
        (lambda: uniform(True, 2), ["low"], "true or false"),
    ],
)
def test_spread_unreadable_lists_every_bad_argument(make, fields, said):
    with pytest.raises(UnitError, match=said) as caught:
        make()
    assert [problem.field for problem in caught.value.problems] == fields


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan, [0.5, 2]])
def test_quantile_impossible_share_raises(share):
    with pytest.raises(ArgumentError, match="no probability"):
        uniform(1, 2).quantile(share)


# -- words ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spread", "words"),
    [
        (fixed("3 money/kg"), "3 money/kg"),
        (uniform(1, 2), "anything from 1 to 2"),
        (pert(*THREE), "most likely 5, from 2 to 11 kg/m²"),
        (triangular(*THREE), "most likely 5, from 2 to 11 kg/m²"),
        (from_percentiles("4 kg", "16 kg"), "about 8, nine times in ten from 4 to 16 kg"),
        (normal("1 kg", "1 kg").within(0), "about 1.2, nine times in ten from 0.161 to 2.727 kg, "
         "never below 0 kg"),
        (uniform(0, 9).within(1, 2), "anything from 0 to 9, never below 1 nor above 2"),
    ],
)  # fmt: skip
def test_words(spread, words):
    assert spread.words() == words


def test_words_with_another_name_of_the_unit():
    assert pert("1 money", "2 money", "3 money").words("EUR") == "most likely 2, from 1 to 3 EUR"
