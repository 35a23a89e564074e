from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.trials import heterogeneity as het

STUDIES = st.integers(2, 12).flatmap(
    lambda k: st.tuples(
        st.lists(st.floats(-3, 3), min_size=k, max_size=k),
        st.lists(st.floats(0.01, 2), min_size=k, max_size=k),
    )
)


def deviance(effects, variances, tau2):
    # −2 times the restricted log likelihood, written out from the multivariate normal density
    v = np.diag(variances + tau2)
    inverse = np.linalg.inv(v)
    one = np.ones((effects.size, 1))
    information = one.T @ inverse @ one
    p = inverse - inverse @ one @ one.T @ inverse / information
    return np.linalg.slogdet(v)[1] + np.log(information[0, 0]) + effects @ p @ effects


def test_equal_variances_give_the_analysis_of_variance_estimate():
    # worked by hand: s² of 1, 3, 5, 9 is 11.6667, less the variance 0.5 within
    effects, variances = np.array([1.0, 3, 5, 9]), np.full(4, 0.5)
    for estimate in het.ESTIMATORS.values():
        assert estimate(effects, variances) == pytest.approx(35 / 3 - 0.5, rel=1e-9)
    assert het.typical_variance(variances) == pytest.approx(0.5)
    assert het.q_statistic(effects, variances) == pytest.approx(35 / 0.5)


def test_studies_that_agree_give_zero():
    effects, variances = np.array([1.0, 1.1, 0.9]), np.full(3, 0.5)
    for estimate in het.ESTIMATORS.values():
        assert estimate(effects, variances) == 0
    low, high = het.tau2_interval(effects, variances, 0.95)
    assert low == 0
    assert high >= 0


@settings(max_examples=60, deadline=None)
@given(STUDIES)
def test_reml_no_other_value_is_more_likely(studies):
    effects, variances = np.array(studies[0]), np.array(studies[1])
    best = het.reml(effects, variances)
    assert best >= 0
    least = deviance(effects, variances, best)
    for other in (0.0, best * 0.9, best * 1.1 + 1e-4, 0.1, 1.0, 10.0):
        assert deviance(effects, variances, other) >= least - 1e-9


@settings(max_examples=60, deadline=None)
@given(STUDIES)
def test_paule_mandel_brings_q_to_its_expectation(studies):
    effects, variances = np.array(studies[0]), np.array(studies[1])
    tau2 = het.paule_mandel(effects, variances)
    q = het.q_statistic(effects, variances, tau2)
    if tau2 > 0:
        assert q == pytest.approx(effects.size - 1, rel=1e-6)
    else:
        assert q <= effects.size - 1 + 1e-9


@settings(max_examples=60, deadline=None)
@given(STUDIES, st.floats(0.5, 0.99))
def test_tau2_interval_holds_paule_mandel_and_grows_with_confidence(studies, confidence):
    # Paule and Mandel's value sits where Q equals its mean, which lies within the χ² limits
    effects, variances = np.array(studies[0]), np.array(studies[1])
    low, high = het.tau2_interval(effects, variances, confidence)
    wide = het.tau2_interval(effects, variances, 0.995)
    assert wide[0] <= low + 1e-9
    assert high <= wide[1] + 1e-9
    if effects.size > 2:
        assert low - 1e-9 <= het.paule_mandel(effects, variances) <= high + 1e-9


@settings(max_examples=40, deadline=None)
@given(STUDIES, st.floats(0.01, 100))
def test_estimators_follow_the_square_of_the_scale(studies, factor):
    effects, variances = np.array(studies[0]), np.array(studies[1])
    for estimate in het.ESTIMATORS.values():
        plain = estimate(effects, variances)
        scaled = estimate(effects * factor, variances * factor**2)
        assert scaled == pytest.approx(plain * factor**2, rel=1e-5, abs=1e-7 * factor**2)
