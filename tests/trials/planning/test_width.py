"""Width of intervals, against values from Student's table."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.planning.width import replicates_for_width, width_of_interval

PUBLISHED = Path(__file__).parents[2] / "published" / "trial_sizes.csv"


def published():
    with PUBLISHED.open(newline="", encoding="utf-8") as file:
        return [row for row in csv.DictReader(file) if row["quantity"] == "width"]


def test_width_of_interval_is_the_tabled_least_significant_difference():
    rows = published()
    assert len(rows) == 4
    found = width_of_interval(0.15, [int(row["replicates"]) for row in rows], 4)
    np.testing.assert_allclose(100 * found, [float(row["value"]) for row in rows], atol=0.005)


def test_width_of_interval_hand_worked():
    """T(0.975, 8) = 2.3060 as printed; 5 plots of 3 treatments in blocks leave 8."""
    found = width_of_interval("10 %", 5, 3)
    assert found == pytest.approx(2.3060 * 0.1 * np.sqrt(2 / 5), rel=2e-5)
    assert isinstance(found, float)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.03, 0.6), st.floats(0.02, 0.5), st.integers(2, 8), st.floats(0.6, 0.99))
def test_replicates_for_width_is_the_smallest_that_suffices(width, cv, many, confidence):
    found = replicates_for_width(width, cv, many, confidence=confidence)
    assert width_of_interval(cv, found, many, confidence=confidence) <= width
    if (many - 1) * (found - 2) >= 2:
        assert width_of_interval(cv, found - 1, many, confidence=confidence) > width


def test_replicates_for_width_arrays():
    found = replicates_for_width([0.3, 0.24, 0.2], 0.15, 4)
    assert found.tolist() == [3, 4, 6]


def test_replicates_for_width_latin_squares_are_whole():
    assert replicates_for_width(0.05, 0.1, 6, design="latin_square") % 6 == 0


def test_replicates_for_width_hopeless_one_is_refused():
    with pytest.raises(InfeasibleError, match="10000"):
        replicates_for_width(0.001, 1, 3)


def test_width_of_interval_impossible_argument_is_refused():
    with pytest.raises(RangeError, match="confidence"):
        width_of_interval(0.1, 4, 4, confidence=1)
    with pytest.raises(RangeError, match="whole"):
        width_of_interval(0.1, 4.2, 4)
    with pytest.raises(InfeasibleError, match="degrees"):
        width_of_interval(0.1, [5, 2], 2)
