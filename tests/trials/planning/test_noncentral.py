"""The noncentral F by its series."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.trials.planning.noncentral import noncentral_beyond


def test_noncentral_beyond_without_shift_is_the_central_f():
    from scipy.special import fdtrc

    line = np.array([0.5, 3.0, 19.2])
    np.testing.assert_allclose(noncentral_beyond(line, 3, 8, 0.0), fdtrc(3, 8, line), rtol=1e-12)


def test_noncentral_beyond_few_degrees_and_large_shift_is_certain():
    # Here ready-made routines give NaN.
    assert noncentral_beyond(5.9874, 1, 6, 2500.0) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("shift", [0.5, 6.0, 40.0])
def test_noncentral_beyond_agrees_with_simulation(shift):
    rng = np.random.default_rng(0)
    above = rng.noncentral_f(3, 7, shift, size=200_000) > 5.0
    found = noncentral_beyond(5.0, 3, 7, shift)
    assert found == pytest.approx(above.mean(), abs=5 * np.sqrt(0.25 / 200_000))


@settings(max_examples=60, deadline=None)
@given(st.floats(0.1, 50), st.integers(1, 12), st.integers(2, 200), st.floats(0, 200))
def test_noncentral_beyond_is_a_chance_that_grows_with_the_shift(line, effect, error, shift):
    near, far = noncentral_beyond(line, effect, error, [shift, shift + 1])
    assert 0 <= near <= far + 1e-12
    assert far <= 1
