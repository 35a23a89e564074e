from __future__ import annotations

import numpy as np
import pytest

from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, RecordError
from scenariokit.trials.effect_pool import Pooling, pool_effects
from scenariokit.trials.meta import meta_analysis
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.study_effects import study_effects


def studies(seed=0, number=4, repeats=4, single=1):
    """Return plots of methods A, B and C in several studies, some with one plot each; invented."""
    rng = np.random.default_rng(seed)
    rows = []
    for study in range(number + single):
        level = rng.normal(5, 0.5)
        for method, factor in (("A", 1.0), ("B", 1.25), ("C", 0.9)):
            for _ in range(repeats if study < number else 1):
                rows.append((f"s{study}", method, level * factor + rng.normal(0, 0.4)))
    study, method, values = zip(*rows, strict=True)
    return PlotTable(values, {"study": study, "method": method})


def test_meta_analysis_pools_the_effects_of_the_studies():
    plots = studies()
    b, c = meta_analysis(plots, "A")
    effects = [row for row in study_effects(plots, "A") if row.method == "B" and not row.reason]
    pool = pool_effects([row.effect for row in effects], [row.standard_error for row in effects])
    assert b.pool == pool
    assert b.random.estimate.m_as("") == pytest.approx(np.exp(pool.random.estimate))
    assert b.random.low.m_as("") == pytest.approx(np.exp(pool.random.low))
    assert b.fixed.high.m_as("") == pytest.approx(np.exp(pool.fixed.high))
    assert b.prediction.low.m_as("") == pytest.approx(np.exp(pool.prediction[0]))
    assert (b.method, b.common, b.scale, c.method) == ("B", "A", "ratio", "C")


def test_meta_analysis_rows_have_weights_and_intervals():
    b, _ = meta_analysis(studies(), "A")
    assert [row.study for row in b.rows] == ["s0", "s1", "s2", "s3"]
    assert sum(row.weight for row in b.rows) == pytest.approx(1)
    for row in b.rows:
        assert row.low < row.estimate < row.high
        assert row.plots == 4


def test_meta_analysis_study_of_single_plots_is_shown_apart():
    b, _ = meta_analysis(studies(), "A")
    (row,) = b.apart
    assert (row.study, row.plots, row.weight) == ("s4", 1, 0)
    assert row.low is None
    assert row.high is None
    assert row.estimate.m_as("") > 0
    assert "no plot was repeated" in row.reason
    assert "1 of 5 studies are shown apart and not pooled" in b.notes


def test_meta_analysis_means_are_in_kilograms_per_area():
    rows = meta_analysis(studies(), scale="mean")
    assert [row.method for row in rows] == ["A", "B", "C"]
    assert rows[0].common == ""
    assert rows[0].random.estimate.check("[mass]/[length]**2")
    assert 3 < rows[0].random.estimate.m_as("kg/m^2") < 7


def test_meta_analysis_differences_are_in_kilograms_per_area():
    b, _ = meta_analysis(studies(), "A", scale="difference")
    assert b.random.estimate.m_as("kg/m^2") == pytest.approx(1.25, abs=0.6)


@pytest.mark.parametrize(("number", "repeated"), [(1, 1), (0, 0)])
def test_meta_analysis_fewer_than_two_studies_are_not_pooled(number, repeated):
    b, _ = meta_analysis(studies(number=number, single=2), "A")
    assert (b.fixed, b.random, b.prediction, b.pool) == (None,) * 4
    assert len(b.rows) == repeated
    assert all(row.weight == 0 for row in b.rows)
    assert f"{repeated} of {number + 2} studies have a standard error; pooling needs two" in b.notes


def test_meta_analysis_two_studies_have_no_prediction():
    b, _ = meta_analysis(studies(number=2, single=0), "A")
    assert b.prediction is None
    assert b.random is not None


def test_meta_analysis_few_degrees_are_noted():
    few, _ = meta_analysis(studies(repeats=2), "A")
    assert any("fewer than 4 degrees of freedom" in note for note in few.notes)
    many, _ = meta_analysis(studies(repeats=4), "A")
    assert not any("fewer than 4 degrees" in note for note in many.notes)


def test_meta_analysis_study_without_a_value_is_shown_without_estimate():
    plots = studies(single=0)
    values = plots.yields.copy()
    column = np.array(plots.factors["method"])
    values[(np.array(plots.factors["study"]) == "s0") & (column == "B")] = 0
    b, _ = meta_analysis(PlotTable(values, dict(plots.factors)), "A")
    assert b.apart[0].study == "s0"
    assert b.apart[0].estimate is None
    assert len(b.rows) == 3


def test_meta_analysis_pooling_choices_are_passed_on():
    plots = studies()
    normal = meta_analysis(plots, "A", pooling=Pooling("dersimonian_laird", "normal", 0.8))[0]
    plain = meta_analysis(plots, "A")[0]
    assert normal.random.high < plain.random.high
    assert normal.rows[0].high < plain.rows[0].high


@pytest.mark.parametrize(
    ("options", "error", "message"),
    [
        ({"common": "Z"}, ArgumentError, "is not the method of any harvested plot"),
        ({"common": "A", "study": "place"}, RecordError, "is not recorded"),
        ({"common": "A", "pooling": Pooling(confidence=2)}, RangeError, "confidence"),
        ({"common": "A", "pooling": Pooling("guess")}, ArgumentError, "between = guess"),
    ],
)
def test_meta_analysis_wrong_choice_is_refused(options, error, message):
    with pytest.raises(error, match=message):
        meta_analysis(studies(), **options)


def test_meta_analysis_no_harvest_is_refused():
    plots = PlotTable([float("nan")], {"method": ("A",), "study": ("1",)})
    with pytest.raises(InfeasibleError, match="nothing to pool"):
        meta_analysis(plots, "A")
