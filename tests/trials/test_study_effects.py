from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, RecordError
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.study_effects import study_effects


def one_study(values, methods, **factors):
    given_ = {"method": tuple(methods), "study": ("1",) * len(values)}
    return PlotTable(values, {**given_, **{key: tuple(value) for key, value in factors.items()}})


def test_study_effects_ratio_equals_delta_method_by_hand():
    # pooled variance (0.08 + 0.5)/2 = 0.29 of 2 degrees; √(0.145/4.2² + 0.145/5.5²)
    plots = one_study([4.0, 4.4, 5.0, 6.0], "AABB")
    (row,) = study_effects(plots, "A")
    assert row.method == "B"
    assert row.effect == pytest.approx(np.log(5.5 / 4.2))
    assert row.standard_error == pytest.approx(np.sqrt(0.145 / 4.2**2 + 0.145 / 5.5**2))
    assert (row.degrees, row.plots, row.reason) == (2, 2, "")


def test_study_effects_difference_equals_two_sample_standard_error():
    plots = one_study([4.0, 4.4, 5.0, 6.0], "AABB")
    (row,) = study_effects(plots, "A", scale="difference")
    assert row.effect == pytest.approx(1.3)
    assert row.standard_error == pytest.approx(np.sqrt(0.29))


def test_study_effects_mean_has_each_method():
    plots = one_study([4.0, 4.4, 5.0, 6.0], "AABB")
    a, b = study_effects(plots, scale="mean")
    assert (a.effect, b.effect) == pytest.approx((4.2, 5.5))
    assert a.standard_error == b.standard_error == pytest.approx(np.sqrt(0.145))


def test_study_effects_blocks_are_taken_out():
    # two methods in three blocks: the paired t test
    plots = one_study([4, 5, 6, 7.2, 9, 9.7], "ABABAB", block="112233")
    (row,) = study_effects(plots, "A", scale="difference")
    gaps = np.array([1, 1.2, 0.7])
    assert row.effect == pytest.approx(gaps.mean())
    assert row.standard_error == pytest.approx(gaps.std(ddof=1) / np.sqrt(3))
    assert row.degrees == 2


def test_study_effects_ratio_in_blocks_uses_the_covariance_of_means():
    # the common block effects cancel in the ratio only in part: R near 1 gives the paired error
    plots = one_study([4, 4.1, 6, 5.9, 9, 9.0], "ABABAB", block="112233")
    (row,) = study_effects(plots, "A")
    gaps = np.array([0.1, -0.1, 0])
    paired = gaps.std(ddof=1) / np.sqrt(3) / (19 / 3)
    assert row.standard_error == pytest.approx(paired, rel=1e-6)


def test_study_effects_other_treatment_is_taken_out():
    plots = one_study([4, 5, 7, 8.2], "AABB", variety="xyxy")
    (row,) = study_effects(plots, "x", scale="difference", treatment="variety")
    assert row.effect == pytest.approx(1.1)
    assert row.standard_error == pytest.approx(0.1)
    assert row.degrees == 1


def test_study_effects_one_plot_each_has_no_standard_error_and_says_so():
    plots = one_study([4.0, 5.0, 6.0], "ABC")
    rows = study_effects(plots, "A")
    assert [row.standard_error for row in rows] == [None, None]
    assert all("no plot was repeated" in row.reason for row in rows)
    assert rows[0].effect == pytest.approx(np.log(5 / 4))
    assert rows[0].degrees == 0


def test_study_effects_single_plot_beside_repeated_ones_has_the_common_error():
    plots = one_study([4.0, 4.4, 5.0], "AAB")
    (row,) = study_effects(plots, "A", scale="difference")
    assert row.standard_error == pytest.approx(np.sqrt(0.08 * 1.5))
    assert row.degrees == 1


def test_study_effects_method_that_is_a_block_is_not_pooled():
    plots = one_study([4.0, 4.4, 5.0, 6.0], "AABB", block="1122")
    (row,) = study_effects(plots, "A")
    assert row.standard_error is None
    assert "method and block cannot be told apart" in row.reason
    assert row.effect == pytest.approx(np.log(5.5 / 4.2))


def test_study_effects_copied_weights_are_not_pooled():
    (row,) = study_effects(one_study([4.0, 4.0, 5.0, 5.0], "AABB"), "A")
    assert row.standard_error is None
    assert "exactly the same" in row.reason


def test_study_effects_mean_of_zero_has_no_ratio_but_a_difference():
    plots = one_study([0.0, 0.0, 5.0, 5.5], "AABB")
    (row,) = study_effects(plots, "A")
    assert (row.effect, row.standard_error) == (None, None)
    assert "a mean of zero" in row.reason
    (row,) = study_effects(plots, "A", scale="difference")
    assert row.effect == pytest.approx(5.25)
    assert row.standard_error is not None


def test_study_effects_study_without_the_common_method_says_so():
    plots = PlotTable(
        [4.0, 4.4, 5.0, 6.0, 5.0, 5.5, 7.0, 7.1],
        {"method": tuple("AABBBBCC"), "study": tuple("11112222")},
    )
    rows = study_effects(plots, "A")
    assert [(row.study, row.method) for row in rows] == [("1", "B"), ("2", "B"), ("2", "C")]
    assert [row.reason for row in rows[1:]] == ["A was not grown in this study"] * 2
    assert rows[1].effect is None


def test_study_effects_unharvested_plots_are_left_out():
    plots = one_study([4.0, 4.4, float("nan"), 5.0, 6.0], "AAABB")
    (row,) = study_effects(plots, "A")
    assert row.degrees == 2


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(1, 9), min_size=6, max_size=6, unique=True), st.floats(0.05, 20))
def test_study_effects_ratio_does_not_depend_on_the_unit(values, factor):
    plain = study_effects(one_study(values, "AAABBB"), "A")[0]
    scaled = study_effects(one_study(np.array(values) * min(factor, 6), "AAABBB"), "A")[0]
    assert scaled.effect == pytest.approx(plain.effect, abs=1e-9)
    assert scaled.standard_error == pytest.approx(plain.standard_error, rel=1e-6)


def test_study_effects_unknown_choices_are_refused_together():
    plots = one_study([4.0, 4.4, 5.0, 6.0], "AABB")
    with pytest.raises(ArgumentError) as caught:
        study_effects(plots, "Z", scale="odds")
    assert len(caught.value.problems) == 2
    assert "allowed: A, B" in str(caught.value)


def test_study_effects_missing_factors_are_refused_together():
    with pytest.raises(RecordError) as caught:
        study_effects(PlotTable([1.0], {"block": ("1",)}), "A")
    assert [problem.value for problem in caught.value.problems] == ["method", "study"]
