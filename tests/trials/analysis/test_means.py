"""Adjusted means, their errors and their intervals."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.errors import RangeError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    randomised_blocks,
    split_plot,
    treatment_means,
)
from scenariokit.trials.plots import PlotTable


def plain(quantity):
    return quantity.m_as("kg/m^2")


def test_treatment_means_published_values(analysed):
    found = {mean.label: mean for mean in treatment_means(analysed("scab"), "treatment")}
    expected = {
        "O": 22.625, "F3": 9.5, "S3": 16.75, "F6": 15.5, "S6": 18.25, "F12": 5.75, "S12": 14.25,
    }  # fmt: skip
    assert {label: plain(mean.mean) for label, mean in found.items()} == pytest.approx(expected)
    assert found["O"].plots == 8
    assert plain(found["O"].standard_error) == pytest.approx(np.sqrt(44.915 / 8))


def test_treatment_means_published_half_interval(analysed):
    """Sweet potato: half of the 95 % interval of a mean is 6.313732."""
    for mean in treatment_means(analysed("sweetpotato"), "virus"):
        assert plain(mean.high - mean.mean) == pytest.approx(6.313732, abs=5e-7)
        assert plain(mean.mean - mean.low) == pytest.approx(6.313732, abs=5e-7)
        assert mean.df == 8


def test_treatment_means_narrower_with_less_confidence(analysed):
    wide = treatment_means(analysed("sweetpotato"), "virus")[0]
    narrow = treatment_means(analysed("sweetpotato"), "virus", confidence=0.8)[0]
    assert plain(narrow.high) < plain(wide.high)


def test_treatment_means_split_plot_errors_equal_textbook_formulas(analysed):
    """sqrt(MSa/(r b)) of a main mean, sqrt(MSb/(r a)) of a sub mean, with blocks fixed."""
    found = analysed("oats")
    main = treatment_means(found, "variety")[0]
    assert plain(main.standard_error) == pytest.approx(np.sqrt(601.33056 / 24), rel=1e-7)
    assert main.df == pytest.approx(10)
    # A sub mean also holds the whole plots' error, since it is a mean over three of them.
    sub = treatment_means(found, "nitrogen")[0]
    between = (601.33056 - 177.08333) / 4
    assert plain(sub.standard_error) == pytest.approx(np.sqrt((177.08333 + between) / 18), rel=1e-6)
    assert 10 < sub.df < 55


def test_treatment_means_unbalanced_levels_of_the_other_factor_count_alike():
    """By hand: cell means 4, 6 and 8, 10; three plots in one cell change nothing."""
    plots = PlotTable(
        [3.9, 4.1, 4.0, 6.0, 8.0, 8.0, 10.0, 10.0],
        {"method": tuple("AAAABBBB"), "variety": tuple("xxxyxxyy")},
    )
    found = analyse(plots, completely_randomised("method", "variety"))
    assert [plain(mean.mean) for mean in treatment_means(found, "method")] == pytest.approx([5, 9])
    cells = treatment_means(found, "method:variety")
    assert [(cell.label, cell.plots) for cell in cells] == [
        ("A:x", 3), ("A:y", 1), ("B:x", 2), ("B:y", 2),
    ]  # fmt: skip
    assert cells[1].levels == ("A", "y")


def test_treatment_means_empty_cell_is_left_out():
    plots = PlotTable(
        [4.0, 4.2, 6.0, 6.1, 8.0, 8.3, float("nan")],
        {"method": tuple("AAAABBB"), "variety": tuple("xxyyxxy")},
    )
    found = analyse(plots, completely_randomised("method", "variety"))
    assert [mean.label for mean in treatment_means(found, "method:variety")] == [
        "A:x",
        "A:y",
        "B:x",
    ]
    assert [mean.label for mean in treatment_means(found, "method")] == ["A"]


def test_treatment_means_missing_plot_is_adjusted_for_its_block():
    """The plot lost stood in the better block; the plain mean of B would be too low."""
    plots = PlotTable(
        [4.0, 5.0, 6.0, 7.1, 5.0, float("nan")],
        {"method": tuple("AABBCC"), "block": ("1", "2") * 3},
    )
    found = analyse(plots, randomised_blocks("method"))
    last = treatment_means(found, "method")[-1]
    # Least squares by hand: block 2 is 1.05 better; the mean lies half of that above 5.0.
    assert plain(last.mean) == pytest.approx(5.0 + 1.05 / 2)
    assert plain(last.standard_error) > plain(treatment_means(found, "method")[0].standard_error)


def test_treatment_means_split_plot_with_holes_is_told(trial):
    plots = trial("oats")
    yields = plots.yields.copy()
    yields[5] = np.nan
    found = analyse(PlotTable(yields, plots.factors), split_plot("variety", "nitrogen"))
    assert any("close, not exact" in note for note in found.notes)
    full = treatment_means(analyse(plots, split_plot("variety", "nitrogen")), "variety")
    holed = treatment_means(found, "variety")
    assert plain(holed[0].mean) == pytest.approx(plain(full[0].mean))
    assert found.split < 4


def test_treatment_means_unit_is_yield_per_area(analysed):
    mean = treatment_means(analysed("plants"), "group")[0].mean
    assert mean.to("t/ha").magnitude == pytest.approx(10 * mean.magnitude)


@pytest.mark.parametrize(("source", "level"), [("variety", 0.95), ("group", 1.0), ("group", 0)])
def test_treatment_means_impossible_request_raises(analysed, source, level):
    with pytest.raises(RangeError):
        treatment_means(analysed("plants"), source, confidence=level)
