"""Several trials together: pooled effects beside one model, and where neither is to be had."""

from __future__ import annotations

import pytest

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.demo import demo_files, demo_records
from scenariokit.trials.meta import meta_analysis
from scenariokit.trials.mixed import mixed_model
from scenariokit.trials.over_studies import most_common, summarise_studies
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling import pool


@pytest.fixture(scope="module")
def plots():
    return pool(demo_files()).plots()


@pytest.fixture(scope="module")
def found(plots):
    return summarise_studies(plots, common="wedge_pots")


def test_summarise_studies_pools_as_the_meta_analysis_does(plots, found):
    expected = meta_analysis(plots, "wedge_pots")
    assert [one.method for one in found.over] == [one.method for one in expected]
    for one, other in zip(found.over, expected, strict=True):
        assert one.random == other.random


def test_summarise_studies_model_takes_out_the_varieties(plots, found):
    model = mixed_model(plots.known(), ("method",), adjust=("variety",))
    assert found.model.means("method")[0].mean.m == pytest.approx(model.means("method")[0].mean.m)
    assert found.refusal == ""
    assert "52" in found.notes[0]  # how the pool came about is told first


def test_summarise_studies_of_unrepeated_plots_are_shown_apart(found):
    bag = next(one for one in found.over if one.method == "medium_bag")
    assert [row.study for row in bag.apart] == ["moss-end-1"]
    assert len(bag.rows) == 3


def test_summarise_studies_counts_only_studies_with_a_harvest(plots, found):
    assert found.studies == plots.levels("study")
    lost = PlotTable(
        [4.0, 5.0, 4.4, 5.5, float("nan")],
        {"method": tuple("ABABA"), "study": tuple("11223")},
    )
    assert summarise_studies(lost).studies == ("1", "2")


def test_summarise_studies_differences_on_request(plots):
    one = summarise_studies(plots, common="wedge_pots", scale="difference").over[0]
    assert one.scale == "difference"


def test_summarise_studies_varieties_are_compared_with_methods_taken_out(plots):
    found = summarise_studies(plots, compare="variety")
    assert {one.levels["variety"] for one in found.model.means("variety")} == {
        "early white",
        "late red",
    }


def test_summarise_studies_without_a_model_says_why():
    """Two plots of two studies: nothing is left to measure how plots vary."""
    plots = PlotTable([4.0, 5.0], {"method": ("A", "B"), "study": ("1", "2")})
    found = summarise_studies(plots)
    assert found.model is None
    assert "nothing is left" in found.refusal
    assert found.notes == ()


def test_most_common_is_in_most_studies_and_first_among_such(plots):
    assert most_common(plots.known(), "method") == plots.levels("method")[0]
    table = PlotTable([1.0, 2.0, 3.0, 4.0], {"method": tuple("ABAC"), "study": tuple("1223")})
    assert most_common(table, "method") == "A"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"compare": "colour"}, "not recorded"),
        ({"common": "nothing"}, "nothing"),
        ({"confidence": 0.0}, "confidence"),
    ],
)
def test_summarise_studies_bad_option_is_refused(plots, options, words):
    with pytest.raises(RangeError, match=words):
        summarise_studies(plots, **options)


def test_summarise_studies_needs_studies_recorded():
    with pytest.raises(RangeError, match="study"):
        summarise_studies(PlotTable([4.0, 5.0], {"method": ("A", "B")}))


def test_summarise_studies_single_study_is_refused():
    with pytest.raises(InfeasibleError, match="fewer than two studies"):
        summarise_studies(demo_records().plots)


def test_summarise_studies_single_method_is_refused():
    plots = PlotTable([4.0, 5.0], {"method": ("A", "A"), "study": ("1", "2")})
    with pytest.raises(InfeasibleError, match="fewer than two levels of method"):
        summarise_studies(plots)
