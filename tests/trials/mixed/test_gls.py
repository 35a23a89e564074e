"""The small cross-products give what plain matrices of the size of the plots give."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mixed_cases import dense, dense_deviance, several_studies

from scenariokit.trials.mixed.gls import estimates, products, solve
from scenariokit.trials.mixed.matrices import fixed_part, group_codes

TERMS = (("study",), ("study", "method"))
POSITIVE = st.floats(0.05, 8)


def set_up(plots):
    part = fixed_part(plots, ("method",), interaction=True)
    groups = [group_codes(plots, term)[0] for term in TERMS]
    return part.columns, products(plots.yields, part.columns, groups)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 50), POSITIVE, st.one_of(st.just(0.0), POSITIVE), POSITIVE)
def test_solve_equals_dense_matrices(seed, first, second, residual):
    plots = several_studies(seed)
    columns, given_ = set_up(plots)
    components = np.array([first, second, residual])
    v, covariance, b, p = dense(plots, columns, TERMS, components)
    solved = solve(given_, components[:-1] / residual)
    found = estimates(given_, solved, components, np.eye(3 if second > 0 else 2))
    assert found.coefficients == pytest.approx(b, rel=1e-9)
    assert found.covariance == pytest.approx(covariance, rel=1e-8, abs=1e-12)
    assert solved.ypy / residual == pytest.approx(plots.yields @ p @ plots.yields, rel=1e-8)
    codes, groups = group_codes(plots, TERMS[0])
    z = np.eye(len(groups))[codes]
    assert solved.zpy[given_.terms[0]] / residual == pytest.approx(
        z.T @ p @ plots.yields, rel=1e-7, abs=1e-9
    )
    zpz = solved.zpz[given_.terms[0], given_.terms[0]]
    assert zpz / residual == pytest.approx(z.T @ p @ z, rel=1e-7, abs=1e-9)
    assert np.linalg.slogdet(v)[0] == 1


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 50), POSITIVE, POSITIVE)
def test_solve_deviance_differs_from_dense_by_a_constant(seed, first, second):
    plots = several_studies(seed)
    columns, given_ = set_up(plots)
    degrees = len(plots) - columns.shape[1]
    gaps = []
    for ratios in (np.array([first, second]), np.array([0.3, 0.0])):
        solved = solve(given_, ratios)
        residual = solved.ypy / degrees
        full = dense_deviance(plots, columns, TERMS, np.append(ratios * residual, residual))
        gaps.append(full - solved.deviance)
    assert gaps[0] == pytest.approx(gaps[1], abs=1e-8)


def test_estimates_slopes_equal_numerical_derivatives():
    plots = several_studies(3)
    columns, given_ = set_up(plots)
    components = np.array([0.7, 0.2, 0.4])
    found = estimates(given_, solve(given_, components[:-1] / 0.4), components, np.eye(3))
    for i, slope in enumerate(found.slopes):
        step = np.zeros(3)
        step[i] = 1e-5
        high, low = (dense(plots, columns, TERMS, components + sign * step)[1] for sign in (1, -1))
        assert slope == pytest.approx((high - low) / 2e-5, rel=1e-5, abs=1e-8)


def test_estimates_degrees_are_error_degrees_without_random_terms():
    # one variance: A = 2 σ⁴ / (n − p), so ν = n − p whatever the contrast
    plots = several_studies(1)
    part = fixed_part(plots, ("method",), interaction=True)
    given_ = products(plots.yields, part.columns, ())
    solved = solve(given_, np.empty(0))
    free = len(plots) - 3
    residual = solved.ypy / free
    found = estimates(given_, solved, np.array([residual]), np.array([[2 * residual**2 / free]]))
    assert found.degrees(np.array([[1, -1, 0], [1, 0, 0]])) == pytest.approx([free, free])


def test_products_keep_digits_of_a_small_variation_on_a_large_mean():
    plots = several_studies(5)
    columns, plain = set_up(plots)
    groups = [group_codes(plots, term)[0] for term in TERMS]
    shifted = products(plots.yields + 1e6, columns, groups)
    assert shifted.rr == pytest.approx(plain.rr, rel=1e-8)
