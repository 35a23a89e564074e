from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, RecordError, UnitError
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.unreplicated import (
    CAUTION,
    USUAL_VARIATION,
    credible_difference,
    unreplicated_differences,
)


def test_credible_difference_equals_worked_case():
    # 1.959964 × √2 × 0.12 × 4.5 / √2 = 1.0584 with two plots; × √2 with one
    two = credible_difference("4.5 kg/m^2", 0.12, 2)
    assert two.m_as("kg/m^2") == pytest.approx(1.959964 * 0.12 * 4.5, rel=1e-6)
    one = credible_difference("4.5 kg/m^2", 0.12)
    assert one.m_as("kg/m^2") == pytest.approx(two.m_as("kg/m^2") * math.sqrt(2))


def test_credible_difference_does_not_depend_on_the_unit():
    metric = credible_difference("4.8824276 kg/m^2", "12 %", 1, "95 %")
    customary = credible_difference("1 lb/ft^2", 0.12)
    assert customary.m_as("kg/m^2") == pytest.approx(metric.m_as("kg/m^2"), rel=1e-7)


def test_credible_difference_takes_arrays():
    found = credible_difference(quantity(np.array([4.0, 5.0]), "kg/m^2"), np.array([0.05, 0.12]))
    assert found.m_as("kg/m^2") == pytest.approx(
        [credible_difference(f"{y} kg/m^2", cv).m_as("kg/m^2") for y, cv in ((4, 0.05), (5, 0.12))]
    )


@given(st.floats(0.1, 50), st.floats(0.01, 1), st.integers(1, 100))
def test_credible_difference_falls_with_the_root_of_the_plots(mean, cv, plots):
    one = credible_difference.floats(mean, cv)
    many = credible_difference.floats(mean, cv, plots)
    assert many == pytest.approx(one / math.sqrt(plots))
    assert many <= credible_difference.floats(mean, cv, plots, 0.99)


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ((4.5, 0.12), UnitError, "mean"),
        (("4.5 kg/m^2", 0), RangeError, "cv"),
        (("4.5 kg/m^2", 12), RangeError, "cv"),
        (("4.5 kg/m^2", 0.12, 0), RangeError, "plots"),
        (("4.5 kg/m^2", 0.12, 1, 1), RangeError, "confidence"),
    ],
)
def test_credible_difference_bad_argument_is_refused(arguments, error, message):
    with pytest.raises(error, match=message):
        credible_difference(*arguments)


def test_usual_variation_gives_three_values_beside_the_observed_one():
    plots = PlotTable([5.2, 4.1, 4.0], {"method": ("bag", "tray", "None")})
    found = unreplicated_differences(plots)
    assert [(row.first, row.second) for row in found] == [
        ("bag", "tray"), ("bag", "None"), ("tray", "None"),
    ]  # fmt: skip
    one = found[0]
    assert one.observed.m_as("kg/m^2") == pytest.approx(1.1)
    assert tuple(row.cv for row in one.credible) == USUAL_VARIATION
    for row in one.credible:
        limit = credible_difference("4.65 kg/m^2", row.cv).m_as("kg/m^2")
        assert row.difference.m_as("kg/m^2") == pytest.approx(limit)
    assert [row.passed for row in one.credible] == [True, False, False]


def test_unreplicated_differences_never_speak_of_significance():
    plots = PlotTable([9.0, 1.0], {"method": ("bag", "tray")})
    one = unreplicated_differences(plots)[0]
    fields = {field.name for field in dataclasses.fields(one)}
    assert fields.isdisjoint({"p", "p_value", "significant", "t", "f"})
    assert one.words.startswith("One plot proves little.")
    assert "significan" not in one.words
    assert CAUTION.startswith("One plot proves little")


def test_unreplicated_differences_words_hold_the_numbers():
    one = unreplicated_differences(PlotTable([4.1, 5.2], {"method": ("tray", "bag")}))[0]
    assert "tray gave 1.10 kg/m² less than bag" in one.words
    assert "0.64 (variation 5 %), 1.55 (variation 12 %), 4.51 (variation 35 %)" in one.words
    assert "in 95 of 100" in one.words


def test_unreplicated_differences_unequal_plots_use_both_counts():
    plots = PlotTable([5.0, 5.4, 4.1], {"method": ("bag", "bag", "tray")})
    one = unreplicated_differences(plots, variation=["10 %"])[0]
    assert one.plots == (2, 1)
    # mean of the two methods 4.65, z 1.959964, √(1/2 + 1)
    assert one.credible[0].difference.m_as("kg/m^2") == pytest.approx(
        1.959964 * 0.1 * 4.65 * math.sqrt(1.5), rel=1e-6
    )
    assert one.words.startswith("One plot proves little.")


def test_unreplicated_differences_repeated_treatments_are_sent_to_their_own_plots():
    plots = PlotTable([5.0, 5.4, 4.1, 4.3], {"method": ("bag", "bag", "tray", "tray")})
    words = unreplicated_differences(plots)[0].words
    assert words.startswith("Both treatments were repeated: their own plots say more")


def test_unreplicated_differences_variation_is_sorted_and_unharvested_plots_left_out():
    plots = PlotTable(
        [5.0, 4.0, float("nan")], {"variety": ("x", "y", "z"), "study": ("1", "1", "2")}
    )
    (one,) = unreplicated_differences(plots, "variety", variation=(0.3, 0.1))
    assert [row.cv for row in one.credible] == [0.1, 0.3]


@pytest.mark.parametrize(
    ("plots", "options", "error", "message"),
    [
        (("A", "B"), {"variation": ()}, ArgumentError, "variation: is empty"),
        (("A", "B"), {"variation": (0.1, 5)}, RangeError, r"variation\[1\]"),
        (("A", "B"), {"confidence": 0.1}, RangeError, "confidence"),
        (("A", "B"), {"treatment": "dose"}, RecordError, "dose"),
        (("A", "A"), {}, InfeasibleError, "fewer than two levels of method"),
    ],
)
def test_unreplicated_differences_wrong_choice_is_refused(plots, options, error, message):
    with pytest.raises(error, match=message):
        unreplicated_differences(PlotTable([4.0, 5.0], {"method": plots}), **options)


def test_unreplicated_differences_several_studies_are_refused():
    plots = PlotTable([4.0, 5.0], {"method": ("A", "B"), "study": ("1", "2")})
    with pytest.raises(InfeasibleError, match="several studies"):
        unreplicated_differences(plots)
