"""Degrees of freedom for error."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.planning.degrees import error_degrees


@pytest.mark.parametrize(
    ("treatments", "replicates", "design", "expected"),
    [
        # Degrees of freedom of analyses printed for these trials: sweet potato viruses (8),
        # strawberries in blocks (21), a fungicide Latin square (12), an 8 x 8 square (42).
        (4, 3, "randomised", 8),
        (8, 4, "blocks", 21),
        (5, 5, "latin_square", 12),
        (8, 8, "latin_square", 42),
    ],
)
def test_error_degrees_published_trials(treatments, replicates, design, expected):
    assert error_degrees(treatments, replicates, design=design) == expected


@given(st.integers(2, 9), st.integers(1, 4))
def test_error_degrees_several_squares_is_all_less_what_is_fitted(size, squares):
    if size * squares >= 2:
        fitted = 1 + (squares - 1) + 2 * squares * (size - 1) + (size - 1)
        found = error_degrees(size, size * squares, design="latin_square")
        assert found == pytest.approx(squares * size**2 - fitted)


def test_error_degrees_arrays():
    assert error_degrees([3, 4], 4).tolist() == [6, 9]


def test_error_degrees_impossible_argument_is_refused():
    with pytest.raises(RangeError, match="whole"):
        error_degrees(3, 2.5)
    with pytest.raises(RangeError, match="design"):
        error_degrees(3, 3, design="circle")
    with pytest.raises(InfeasibleError, match="Latin"):
        error_degrees(3, 4, design="latin_square")
