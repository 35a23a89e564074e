from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, RangeError
from scenariokit.trials.effect_pool import Pooling, pool_effects

PUBLISHED = Path(__file__).parents[1] / "published"


def rows(name):
    with (PUBLISHED / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def log_ratios(example, scale):
    """Return logarithms of the ratio of two risks or of two odds, with standard errors."""
    effects, errors = [], []
    for row in rows("pooled_counts"):
        if row["example"] != example:
            continue
        a, n, c, m = (float(row[key]) for key in ("events1", "n1", "events2", "n2"))
        if scale == "risk":
            effects.append(math.log(a / n / (c / m)))
            errors.append(math.sqrt(1 / a - 1 / n + 1 / c - 1 / m))
        else:
            effects.append(math.log(a * (m - c) / (c * (n - a))))
            errors.append(math.sqrt(1 / a + 1 / (n - a) + 1 / c + 1 / (m - c)))
    return effects, errors


def mean_differences():
    """Return differences of two means, with one pooled standard deviation in each study."""
    effects, errors = [], []
    for row in rows("pooled_means"):
        n, m, s, k, o, t = (float(row[key]) for key in ("n1", "mean1", "sd1", "n2", "mean2", "sd2"))
        variance = ((n - 1) * s**2 + (k - 1) * t**2) / (n + k - 2)
        effects.append(m - o)
        errors.append(math.sqrt(variance * (1 / n + 1 / k)))
    return effects, errors


def studies_of(example, scale):
    if scale == "difference":
        return mean_differences()
    if scale == "effect":
        chosen = [row for row in rows("pooled_effects") if row["example"] == example]
        return [[float(row["effect"]) for row in chosen],
                [math.sqrt(float(row["variance"])) for row in chosen]]  # fmt: skip
    return log_ratios(example, scale)


def quantity(pool, between, name):
    mean = pool.fixed if between == "fixed" else pool.random
    found = {
        "tau": math.sqrt(pool.tau2), "tau2": pool.tau2, "tau2_low": pool.tau2_low,
        "tau2_high": pool.tau2_high, "i_squared": 100 * pool.i_squared, "q": pool.q,
        **mean._asdict(),
    }  # fmt: skip
    return found[name]


@pytest.mark.parametrize(
    "row",
    rows("pooling_results"),
    ids=lambda row: "-".join(row[key] for key in ("example", "scale", "between", "quantity")),
)
def test_pool_effects_equals_published_value(row):
    between = "reml" if row["between"] == "fixed" else row["between"]
    effects, errors = studies_of(row["example"], row["scale"])
    pool = pool_effects(effects, errors, pooling=Pooling(between, "normal"))
    tolerance = 0.51 * 10.0 ** -int(row["printed_digits"])
    found = quantity(pool, row["between"], row["quantity"])
    assert found == pytest.approx(float(row["value"]), abs=tolerance)


def test_pool_effects_two_studies_worked_by_hand():
    # y 0 and 2, v 1 and 1: Q = 2, τ² = s² − v = 2 − 1 = 1, μ = 1, se = √((1+1)/2) = 1
    pool = pool_effects([0, 2], [1, 1], pooling=Pooling("dersimonian_laird", "normal"))
    assert pool.q == pytest.approx(2)
    assert pool.tau2 == pytest.approx(1)
    assert pool.i_squared == pytest.approx(0.5)
    assert pool.random.estimate == pytest.approx(1)
    assert pool.random.standard_error == pytest.approx(1)
    assert pool.fixed.standard_error == pytest.approx(math.sqrt(0.5))
    assert pool.random.high == pytest.approx(1 + 1.959964, abs=1e-6)
    assert pool.random.p == pytest.approx(0.317311, abs=1e-6)  # two-sided normal beyond 1
    assert pool.weights == pytest.approx((0.5, 0.5))
    assert pool.prediction is None
    assert "2 studies say little" in pool.notes[0]


def test_pool_effects_knapp_hartung_with_equal_variances_is_student():
    # equal variances: the interval is that of Student for the effects themselves
    effects = [4.1, 4.9, 5.3]
    pool = pool_effects(effects, [0.1] * 3)
    # Student's interval of these three numbers, t(0.975, 2) = 4.3027
    assert pool.random.low == pytest.approx(3.248833, abs=1e-5)
    assert pool.random.high == pytest.approx(6.284500, abs=1e-5)
    # prediction: t(0.975, 1) = 12.7062, √(τ² + se²) = √(s² − 0.01 + s²/3), s² = 0.373333
    half = 12.7062 * math.sqrt(0.373333 - 0.01 + 0.373333 / 3)
    assert pool.prediction == pytest.approx((14.3 / 3 - half, 14.3 / 3 + half), abs=1e-3)


def test_pool_effects_agreeing_studies_are_noted():
    pool = pool_effects([1.0, 1.01, 0.99, 1.0, 1.0], [0.2] * 5)
    assert pool.tau2 == 0
    assert any("narrower than the normal one" in note for note in pool.notes)
    assert pool.random.high < pool.fixed.high
    normal = pool_effects([1.0, 1.01, 0.99, 1.0, 1.0], [0.2] * 5, pooling=Pooling("reml", "normal"))
    assert normal.notes == ()
    assert normal.random == pytest.approx(normal.fixed)


@pytest.mark.parametrize(("effect", "p"), [(1.0, 0.0), (0.0, 1.0)])
def test_pool_effects_identical_studies_have_no_spread(effect, p):
    pool = pool_effects([effect, effect], [0.2, 0.2])
    assert pool.random.low == pool.random.high == effect
    assert pool.random.p == p


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-3, 3), st.floats(0.05, 2)), min_size=3, max_size=9),
    st.sampled_from(["reml", "dersimonian_laird", "paule_mandel"]),
    st.floats(-5, 5),
)
def test_pool_effects_shift_moves_only_the_means(studies, between, shift):
    effects, errors = map(np.array, zip(*studies, strict=True))
    plain = pool_effects(effects, errors, pooling=Pooling(between))
    moved = pool_effects(effects + shift, errors, pooling=Pooling(between))
    assert moved.random.estimate == pytest.approx(plain.random.estimate + shift, abs=1e-5)
    assert moved.tau2 == pytest.approx(plain.tau2, rel=1e-5, abs=1e-6)
    assert sum(moved.weights) == pytest.approx(1)
    assert sum(moved.fixed_weights) == pytest.approx(1)
    assert 0 <= moved.i_squared < 1
    assert effects.min() - 1e-9 <= plain.random.estimate <= effects.max() + 1e-9


@pytest.mark.parametrize("example", [("vaccine", "risk"), ("aspirin", "odds")])
@pytest.mark.parametrize(
    ("ours", "theirs"), [("dersimonian_laird", "chi2"), ("paule_mandel", "iterated")]
)
def test_pool_effects_equals_another_implementation(example, ours, theirs):
    meta = pytest.importorskip("statsmodels.stats.meta_analysis")
    effects, errors = map(np.array, studies_of(*example))
    other = meta.combine_effects(effects, errors**2, method_re=theirs, use_t=True)
    pool = pool_effects(effects, errors, pooling=Pooling(ours))
    assert pool.tau2 == pytest.approx(other.tau2, rel=1e-4)
    assert pool.random.estimate == pytest.approx(other.mean_effect_re, rel=1e-5)
    assert pool.random.standard_error == pytest.approx(other.sd_eff_w_re_hksj, rel=1e-5)
    assert pool.fixed.estimate == pytest.approx(other.mean_effect_fe)
    assert pool.fixed.standard_error == pytest.approx(other.sd_eff_w_fe)
    assert pool.q == pytest.approx(other.q)


@pytest.mark.parametrize(
    ("effects", "errors", "message"),
    [
        ([1.0], [0.1], "is one study or none; allowed: two or more"),
        ([1.0, 2], [0.1], "are not two equal rows"),
        ([[1.0, 2]], [[0.1, 0.2]], "are not two equal rows"),
        ([1.0, math.nan], [0.1, 0.2], r"effects\[1\] = nan: is not a number"),
        ([1.0, None], [0.1, 0.2], r"effects\[1\]"),
        ([1.0, 2], [0.1, 0], r"standard_errors\[1\] = 0.0: is not above zero"),
        ([1.0, 2], [math.inf, 1], r"standard_errors\[0\]"),
    ],
)
def test_pool_effects_bad_numbers_are_refused(effects, errors, message):
    with pytest.raises(ArgumentError, match=message):
        pool_effects(effects, errors)


def test_pool_effects_all_problems_are_reported_at_once():
    with pytest.raises(ArgumentError) as caught:
        pool_effects([math.nan, 1], [1, -1], pooling=Pooling("guess", "wide"))
    assert len(caught.value.problems) == 4
    assert "reml, dersimonian_laird, paule_mandel" in str(caught.value)


def test_pool_effects_confidence_out_of_range_is_refused():
    with pytest.raises(RangeError, match="confidence"):
        pool_effects([1, 2], [1, 1], pooling=Pooling(confidence=1.0))
