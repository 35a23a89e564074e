from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mixed_cases import dense, published, several_studies, split_plot, strawberry

from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, RecordError
from scenariokit.trials.mixed import mixed_model, random_terms
from scenariokit.trials.mixed.matrices import fixed_part
from scenariokit.trials.mixed.results import _pooled_degrees
from scenariokit.trials.plots import PlotTable

STUDY = (("study",), ("study", "method"))


def oats():
    known = published("oats")
    squares = {key.removeprefix("ms_"): value for key, value in known.items() if "ms_" in key}
    for name in ("nitrogen", "interaction"):
        squares[name] = known[f"f_{name}"] * known["ms_sub_plot"]
    return split_plot(squares)


def test_mixed_model_split_plot_equals_published_tests_and_degrees():
    known = published("oats")
    found = mixed_model(oats(), ("variety", "nitrogen"), ["block", ("block", "variety")])
    variety, nitrogen, both = found.tests
    assert [test.degrees for test in found.tests] == [2, 3, 6]
    assert [test.error_degrees for test in found.tests] == pytest.approx([10, 45, 45], rel=1e-6)
    assert variety.f == pytest.approx(known["f_variety"], abs=1e-6)
    assert variety.p == pytest.approx(known["p_variety"], abs=1e-6)
    assert nitrogen.f == pytest.approx(known["f_nitrogen"], abs=1e-5)
    assert both.f == pytest.approx(known["f_interaction"], abs=1e-6)
    assert [row.term for row in found.components] == [("block",), ("block", "variety"), ("plot",)]


def test_mixed_model_split_plot_standard_errors_equal_textbook_formulas():
    # variety means differ by √(2 MS(whole plot) / (blocks × rates)), nitrogen by the sub-plot error
    known = published("oats")
    found = mixed_model(oats(), ("variety", "nitrogen"), ["block", ("block", "variety")])
    whole = [row.standard_error.m_as("kg/m^2") for row in found.differences("variety")]
    assert whole == pytest.approx([np.sqrt(2 * known["ms_whole_plot"] / 24)] * 3, rel=1e-8)
    sub = [row.standard_error.m_as("kg/m^2") for row in found.differences("nitrogen")]
    assert sub == pytest.approx([np.sqrt(2 * known["ms_sub_plot"] / 18)] * 6, rel=1e-8)
    # at one nitrogen rate both errors count: √(2 (3 MS(sub) + MS(whole)) / (blocks × rates))
    mixed = next(
        row for row in found.differences()
        if row.first["nitrogen"] == row.second["nitrogen"]
    )  # fmt: skip
    both = np.sqrt(2 * (3 * known["ms_sub_plot"] + known["ms_whole_plot"]) / 24)
    assert mixed.standard_error.m_as("kg/m^2") == pytest.approx(both, rel=1e-8)
    # Satterthwaite 1946 for that sum of two mean squares, by hand
    upper = (3 * known["ms_sub_plot"] + known["ms_whole_plot"]) ** 2
    lower = (3 * known["ms_sub_plot"]) ** 2 / 45 + known["ms_whole_plot"] ** 2 / 10
    assert mixed.degrees == pytest.approx(upper / lower, rel=1e-7)


def test_mixed_model_randomised_blocks_equals_analysis_of_variance():
    known = published("strawberry")
    found = mixed_model(strawberry(), ("variety",), ["block"])
    test = found.tests[0]
    assert (test.degrees, test.error_degrees) == (7, pytest.approx(21, rel=1e-7))
    assert test.f == pytest.approx(known["f_variety"], abs=1e-5)
    assert test.p == pytest.approx(known["p_variety"], abs=1e-6)
    pair = found.differences("variety")[0]
    half = (pair.high - pair.low).m_as("kg/m^2") / 2
    assert half == pytest.approx(known["lsd_05"], abs=1e-6)
    means = {row.levels["variety"]: row.mean.m_as("kg/m^2") for row in found.means()}
    assert means["P"] == pytest.approx(6.5)
    assert means["M"] == pytest.approx(5.55)


def test_mixed_model_unbalanced_differences_have_the_gls_standard_error():
    plots = several_studies(3)
    found = mixed_model(plots, random=STUDY)
    components = [row.variance.m_as("kg^2/m^4") for row in found.components]
    part = fixed_part(plots, ("method",), interaction=True)
    covariance, b = dense(plots, part.columns, STUDY, components)[1:3]
    for row, (i, j) in zip(found.differences("method"), [(0, 1), (0, 2), (1, 2)], strict=True):
        variance = covariance[i, i] + covariance[j, j] - 2 * covariance[i, j]
        assert row.standard_error.m_as("kg/m^2") == pytest.approx(np.sqrt(variance), rel=1e-8)
        assert row.difference.m_as("kg/m^2") == pytest.approx(b[i] - b[j], rel=1e-8)
        assert row.p == pytest.approx(
            2 * _student(abs(b[i] - b[j]) / np.sqrt(variance), row.degrees), rel=1e-6
        )


def _student(t, degrees):
    from scipy.stats import t as student

    return student.sf(t, degrees)


def test_mixed_model_means_and_differences_agree():
    found = mixed_model(several_studies(3), random=STUDY)
    a, b, _ = found.means("method")
    pair = found.differences("method")[0]
    assert pair.first == a.levels == {"method": "A"}
    assert pair.second == b.levels
    assert (a.mean - b.mean).m_as("kg/m^2") == pytest.approx(pair.difference.m_as("kg/m^2"))
    assert a.low < a.mean < a.high


def test_mixed_model_confidence_given_as_percent_changes_only_the_interval():
    wide = mixed_model(several_studies(3), random=STUDY, confidence="99 %").means()[0]
    narrow = mixed_model(several_studies(3), random=STUDY, confidence=0.9).means()[0]
    assert wide.low < narrow.low < narrow.high < wide.high
    assert wide.standard_error == narrow.standard_error


def test_mixed_model_random_effects_equal_dense_predictions_and_are_drawn_in():
    plots = several_studies(8, drop=0)
    found = mixed_model(plots, random=["study"])
    components = [row.variance.m_as("kg^2/m^4") for row in found.components]
    part = fixed_part(plots, ("method",), interaction=True)
    p = dense(plots, part.columns, (("study",),), components)[3]
    z = np.eye(5)[plots.codes("study")]
    wanted = components[0] * z.T @ p @ plots.yields
    assert [row.effect.m_as("kg/m^2") for row in found.effects] == pytest.approx(wanted, rel=1e-8)
    plain = plots.yields.reshape(5, 9).mean(axis=1) - plots.yields.mean()
    assert np.all(np.abs(wanted) < np.abs(plain))
    error = components[0] - components[0] ** 2 * np.diag(z.T @ p @ z)
    errors = [row.standard_error.m_as("kg/m^2") for row in found.effects]
    assert errors == pytest.approx(np.sqrt(error), rel=1e-7)
    assert found.effects[0].levels == ("0",)


def test_mixed_model_component_at_zero_is_kept_and_said():
    plots = PlotTable(
        [4, 5, 6, 5, 6, 4, 6, 4, 5.0],
        {"method": ("A", "B", "C") * 3, "study": tuple("111222333")},
    )
    found = mixed_model(plots, random=["study"])
    study = found.components[0]
    assert study.at_zero
    assert study.variance.m_as("kg^2/m^4") == 0
    assert any("study came out at zero" in note for note in found.notes)
    assert all(row.effect.m_as("kg/m^2") == 0 for row in found.effects)
    assert found.tests[0].error_degrees == pytest.approx(6)


def test_mixed_model_shares_sum_to_one_and_count_groups():
    found = mixed_model(several_studies(8, drop=0), random=STUDY)
    assert sum(row.share for row in found.components) == pytest.approx(1)
    assert [row.groups for row in found.components] == [5, 15, 45]
    sd, variance = found.components[0].standard_deviation, found.components[0].variance
    assert sd.m_as("kg/m^2") ** 2 == pytest.approx(variance.m_as("kg^2/m^4"))


def test_mixed_model_unharvested_plots_are_left_out_and_counted():
    plots = several_studies(3)
    values = plots.yields.copy()
    values[:2] = np.nan
    found = mixed_model(PlotTable(values, dict(plots.factors), notes=("merged",)), random=STUDY)
    assert found.plots == len(plots) - 2
    assert found.notes[0] == "merged"
    assert "2 plots were not harvested" in found.notes[1]


def test_mixed_model_adjusts_for_fixed_factors_evenly():
    plots = strawberry()
    fixed = mixed_model(plots, ("variety",), [], adjust=("block",))
    random = mixed_model(plots, ("variety",), ["block"])
    for one, other in zip(fixed.differences(), random.differences(), strict=True):
        assert one.difference.m_as("kg/m^2") == pytest.approx(other.difference.m_as("kg/m^2"))
        assert one.standard_error.m_as("kg/m^2") == pytest.approx(
            other.standard_error.m_as("kg/m^2")
        )
    assert fixed.components[-1].variance.m_as("kg^2/m^4") == pytest.approx(1.1304167, abs=1e-6)


def two_factors(missing=(), seed=0):
    rng = np.random.default_rng(seed)
    rows = [
        (m, v, s)
        for s in "1234"
        for m in "AB"
        for v in "xyz"
        if (m, v) not in missing
        for _ in range(2)
    ]
    method, variety, study = zip(*rows, strict=True)
    values = 5 + rng.normal(size=len(rows)) + np.array([float(s) for s in study])
    return PlotTable(values, {"method": method, "variety": variety, "study": study})


def test_mixed_model_without_interaction_tests_main_effects_only():
    found = mixed_model(two_factors(), ("method", "variety"), ["study"], interaction=False)
    assert [test.term for test in found.tests] == [("method",), ("variety",)]
    assert len(found.means()) == 6
    assert len(found.means("variety")) == 3
    assert len(found.differences("method")) == 1


def test_mixed_model_missing_combination_gives_other_means_and_says_so():
    plots = two_factors(missing=[("B", "z")])
    found = mixed_model(plots, ("method", "variety"), ["study"])
    assert len(found.means("method", "variety")) == 5
    assert {"method": "B", "variety": "z"} not in [row.levels for row in found.means()]
    assert found.tests == ()
    assert any("main effects are not tested" in note for note in found.notes)
    with pytest.raises(InfeasibleError, match="B × z stood in no plot"):
        found.means("method")
    additive = mixed_model(plots, ("method", "variety"), ["study"], interaction=False)
    assert len(additive.means("method")) == 2
    assert len(additive.tests) == 2
    assert len(additive.means()) == 5


def test_means_of_a_factor_that_is_no_treatment_is_refused():
    found = mixed_model(several_studies(3), random=STUDY)
    with pytest.raises(ArgumentError, match=r"study.*is not a treatment here; allowed: method"):
        found.means("study")


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 500), st.floats(0.01, 40), st.randoms(use_true_random=False))
def test_mixed_model_scale_order_and_names_of_levels_do_not_matter(seed, factor, random):
    plots = several_studies(seed)
    order = list(range(len(plots)))
    random.shuffle(order)
    names = dict(zip("ABC", ("None", "NA", "1"), strict=True))
    other = PlotTable(
        plots.yields[order] * factor,
        {
            "method": tuple(names[plots.factors["method"][i]] for i in order),
            "study": tuple(plots.factors["study"][i] for i in order),
        },
    )
    one, two = mixed_model(plots, random=STUDY), mixed_model(other, random=STUDY)
    assert two.tests[0].f == pytest.approx(one.tests[0].f, rel=1e-6)
    assert two.tests[0].error_degrees == pytest.approx(one.tests[0].error_degrees, rel=1e-5)
    means = {row.levels["method"]: row.mean.m_as("kg/m^2") for row in two.means()}
    for row in one.means():
        assert means[names[row.levels["method"]]] == pytest.approx(
            factor * row.mean.m_as("kg/m^2"), rel=1e-7
        )


@pytest.mark.parametrize("seed", [1, 3, 8, 11])
def test_mixed_model_equals_another_implementation(seed):
    pandas = pytest.importorskip("pandas")
    api = pytest.importorskip("statsmodels.api")
    plots = several_studies(seed)
    found = mixed_model(plots, random=STUDY)
    frame = pandas.DataFrame({"y": plots.yields, **plots.factors})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = api.MixedLM.from_formula(
            "y ~ 0 + method", frame, groups="study", re_formula="1",
            vc_formula={"both": "0 + C(method)"},
        ).fit(method=["powell", "lbfgs"])  # fmt: skip
    theirs = [float(fit.cov_re.iloc[0, 0]), float(fit.vcomp[0]), float(fit.scale)]
    ours = [row.variance.m_as("kg^2/m^4") for row in found.components]
    assert ours == pytest.approx(theirs, rel=2e-3, abs=2e-4)
    assert found.deviance <= -2 * fit.llf + 1e-6
    assert found.deviance == pytest.approx(-2 * fit.llf, abs=1e-3)


def test_mixed_model_standard_errors_hold_in_repeated_draws():
    # the variance of the estimated difference over draws, beside the mean of its own estimate
    rng = np.random.default_rng(0)
    study = tuple(str(i) for i in range(8) for _ in range(4))
    method = tuple("AABB" * 8)
    seen, said, held = [], [], 0
    for _ in range(300):
        values = 20 + np.repeat(rng.normal(size=8), 4) + rng.normal(size=32)
        values += np.repeat(0.7 * rng.normal(size=16), 2)
        plots = PlotTable(values, {"study": study, "method": method})
        row = mixed_model(plots, random=STUDY).differences()[0]
        seen.append(row.difference.m_as("kg/m^2"))
        said.append(row.standard_error.m_as("kg/m^2") ** 2)
        held += row.low.m_as("kg/m^2") <= 0 <= row.high.m_as("kg/m^2")
    assert np.mean(said) == pytest.approx(np.var(seen), rel=0.2)
    assert held / 300 == pytest.approx(0.95, abs=0.03)


# -- random terms and what the plots allow ---------------------------------------------------


def test_random_terms_take_what_is_recorded():
    plots = several_studies(3)
    assert random_terms(plots) == STUDY
    found = mixed_model(plots)
    assert found.random == STUDY


def test_random_terms_one_plot_of_each_method_leave_the_interaction_to_the_plots():
    plots = PlotTable(
        [4.1, 5.0, 3.2, 4.4, 5.1, 5.8],
        {"method": ("A", "B") * 3, "study": ("1", "1", "2", "2", "3", "3")},
    )
    found = mixed_model(plots)
    assert found.random == (("study",),)
    assert any("study × method cannot be told from the others" in note for note in found.notes)
    # two methods in three studies: the paired t test
    gaps = np.array([-0.9, -1.2, -0.7])
    pair = found.differences()[0]
    assert pair.difference.m_as("kg/m^2") == pytest.approx(gaps.mean())
    assert pair.standard_error.m_as("kg/m^2") == pytest.approx(gaps.std(ddof=1) / np.sqrt(3))
    assert pair.degrees == pytest.approx(2)


def test_random_terms_blocks_and_main_plots_stand_within_studies():
    rows = [(s, b, m, v) for s in "12" for b in "123" for m in "AB" for v in "xyz"]
    study, block, method, variety = zip(*rows, strict=True)
    values = np.random.default_rng(2).normal(8, 1, len(rows))
    plots = PlotTable(
        values,
        {"method": method, "variety": variety, "study": study, "block": block, "main": method},
    )
    terms = random_terms(plots, ("method", "variety"))
    assert terms == (
        ("study",), ("study", "block"), ("study", "block", "main"), ("study", "method"),
        ("study", "variety"), ("study", "method", "variety"),
    )  # fmt: skip
    alone = plots.where(np.array(study) == "1")
    factors = {name: alone.factors[name] for name in ("method", "variety", "block", "main")}
    one = PlotTable(alone.yields, factors)
    assert random_terms(one, ("method", "variety")) == (("block",), ("block", "main"))


def test_random_terms_same_groups_twice_are_taken_once():
    plots = several_studies(3)
    factors = {**plots.factors, "site": tuple(f"room {name}" for name in plots.factors["study"])}
    assert random_terms(PlotTable(plots.yields, factors)) == STUDY


def test_random_terms_without_groups_are_none():
    plots = PlotTable([4, 5, 6, 7.0], {"method": ("A", "A", "B", "B")})
    assert random_terms(plots) == ()
    found = mixed_model(plots)
    assert found.effects == ()
    assert found.differences()[0].degrees == pytest.approx(2)


@pytest.mark.parametrize(
    ("options", "error", "message"),
    [
        ({"treatments": ("dose",)}, RecordError, "dose: is not recorded; allowed: study, method"),
        ({"random": ["place"]}, RecordError, "place.*is not recorded"),
        ({"treatments": ()}, ArgumentError, "treatments: is empty"),
        ({"adjust": ("method",)}, ArgumentError, "method.*is named twice"),
        ({"random": [("study", "study")]}, ArgumentError, "study × study.*is not a set of factors"),
        ({"random": [()]}, ArgumentError, "random.*is not a set of factors"),
        ({"confidence": 1}, RangeError, "confidence"),
        ({"confidence": "3 kg"}, ArgumentError, "confidence"),
        ({"random": ["method"]}, InfeasibleError, "variance of method cannot be told"),
        ({"random": [("study", "plot")]}, InfeasibleError, "study × plot cannot be told"),
        ({"adjust": ("plot",)}, InfeasibleError, "cannot be told apart"),
    ],
)
def test_mixed_model_wrong_choice_is_refused(options, error, message):
    plots = several_studies(3)
    table = PlotTable(plots.yields, {**plots.factors, "plot": plots.plot_ids})
    with pytest.raises(error, match=message.replace("dose:", "dose.*")):
        mixed_model(table, **options)


def test_mixed_model_one_level_is_refused_with_its_name():
    plots = PlotTable([4, 5, 6.0], {"method": ("A",) * 3, "study": ("1", "1", "2")})
    with pytest.raises(RangeError, match=r"method.*one level only"):
        mixed_model(plots)


def test_mixed_model_no_harvest_is_refused():
    plots = PlotTable([float("nan")] * 2, {"method": ("A", "B")})
    with pytest.raises(InfeasibleError, match="no plot was harvested"):
        mixed_model(plots)


def test_mixed_model_one_plot_of_each_treatment_is_refused():
    plots = PlotTable([4, 5.0], {"method": ("A", "B")})
    with pytest.raises(InfeasibleError, match="2 plots for 2 means: nothing is left"):
        mixed_model(plots)


def test_mixed_model_terms_that_use_up_all_plots_are_refused():
    plots = PlotTable(
        [4, 5, 6, 8, 4.4],
        {"method": tuple("BBAAB"), "row": tuple("12110"), "column": tuple("10202")},
    )
    with pytest.raises(InfeasibleError, match="leave no plot"):
        mixed_model(plots, random=["row", "column"])


def test_mixed_model_copied_weights_are_refused():
    plots = PlotTable(
        [4, 4, 5, 5, 4.5, 4.5, 5.5, 5.5],
        {"method": tuple("AABBAABB"), "study": tuple("11112222")},
    )
    with pytest.raises(InfeasibleError, match="exactly the same"):
        mixed_model(plots, random=["study"])
    with pytest.raises(InfeasibleError, match="exactly the same"):
        mixed_model(plots.where(np.arange(8) < 4), random=[])


def test_pooled_degrees_follow_the_formula_and_its_limit():
    assert _pooled_degrees(np.array([7.0, 7.0])) == 7
    # E = 4/2 + 6/4 = 3.5; 2 E / (E - 2) = 7 / 1.5
    assert _pooled_degrees(np.array([4.0, 6.0])) == pytest.approx(7 / 1.5)
    assert _pooled_degrees(np.array([1.5, 6.0])) == 2
