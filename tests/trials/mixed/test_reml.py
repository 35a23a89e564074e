from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mixed_cases import dense, dense_deviance, published, several_studies, split_plot, strawberry

from scenariokit.errors import InfeasibleError
from scenariokit.trials.mixed import reml
from scenariokit.trials.mixed.gls import products, solve
from scenariokit.trials.mixed.matrices import fixed_part, group_codes, indicators
from scenariokit.trials.plots import PlotTable

TERMS = (("study",), ("study", "method"))


def set_up(plots, treatments=("method",), terms=TERMS):
    part = fixed_part(plots, treatments, interaction=True)
    groups = [group_codes(plots, term)[0] for term in terms]
    return part.columns, products(plots.yields, part.columns, groups)


def test_fit_components_split_plot_equals_published_oats():
    known = published("oats")
    squares = {key.removeprefix("ms_"): value for key, value in known.items() if "ms_" in key}
    for name in ("nitrogen", "interaction"):
        squares[name] = known[f"f_{name}"] * known["ms_sub_plot"]
    plots = split_plot(squares)
    _, given_ = set_up(plots, ("variety", "nitrogen"), (("block",), ("block", "variety")))
    found = reml.fit_components(given_)
    assert found.values == pytest.approx(
        [known["var_blocks"], known["var_whole_plot"], known["var_sub_plot"]], abs=1e-4
    )
    assert np.sqrt(found.values) == pytest.approx(
        [known["sd_blocks"], known["sd_whole_plot"], known["sd_sub_plot"]], abs=1e-3
    )
    assert not found.at_zero.any()


def test_fit_components_randomised_blocks_equals_analysis_of_variance():
    known = published("strawberry")
    _, given_ = set_up(strawberry(), ("variety",), (("block",),))
    found = reml.fit_components(given_)
    error = known["ms_error"]
    # worked by hand: expected mean square of blocks is σ² + 8 σ²(block)
    assert found.values == pytest.approx([error * (known["f_blocks"] - 1) / 8, error], rel=1e-6)


def test_fit_components_balanced_studies_equals_analysis_of_variance_exactly():
    plots = several_studies(8, studies=6, repeats=4, drop=0)
    _, given_ = set_up(plots)
    cube = plots.yields.reshape(6, 3, 4)
    error = np.sum((cube - cube.mean(axis=2, keepdims=True)) ** 2) / (6 * 3 * 3)
    cells = cube.mean(axis=2)
    both = cells - cells.mean(0) - cells.mean(1)[:, None] + cells.mean()
    interaction = 4 * np.sum(both**2) / 10
    studies = 12 * np.sum((cells.mean(1) - cells.mean()) ** 2) / 5
    wanted = [(studies - interaction) / 12, (interaction - error) / 4, error]
    assert min(wanted) > 0  # else the comparison would not hold
    assert reml.fit_components(given_).values == pytest.approx(wanted, rel=1e-9)


def test_fit_components_uncertainty_is_inverse_of_dense_information():
    plots = several_studies(2)
    columns, given_ = set_up(plots)
    found = reml.fit_components(given_)
    p = dense(plots, columns, TERMS, found.values)[3]
    parts = []
    for term in TERMS:
        codes, groups = group_codes(plots, term)
        z = indicators(codes, len(groups))
        parts.append(z @ z.T)
    parts = [part for part, zero in zip(parts, found.at_zero, strict=True) if not zero]
    parts.append(np.eye(len(plots)))
    information = [[np.trace(p @ a @ p @ b) / 2 for b in parts] for a in parts]
    assert found.uncertainty == pytest.approx(np.linalg.inv(information), rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 12))
def test_fit_components_no_nearby_components_are_more_likely(seed, drop):
    plots = several_studies(seed, drop=drop)
    columns, given_ = set_up(plots)
    found = reml.fit_components(given_)
    assert found.deviance == pytest.approx(
        dense_deviance(plots, columns, TERMS, found.values), abs=1e-7
    )
    rng = np.random.default_rng(seed)
    scale = found.values.max()
    for size in (0.3, 0.03, 0.003):
        other = np.maximum(found.values + size * scale * rng.normal(size=3), 0)
        other[-1] = max(other[-1], 1e-3 * scale)
        assert dense_deviance(plots, columns, TERMS, other) >= found.deviance - 1e-7


def test_fit_components_groups_that_differ_less_than_chance_are_at_zero():
    # the same three values in every study: study means do not differ at all
    plots = PlotTable(
        [4, 5, 6, 5, 6, 4, 6, 4, 5.0],
        {"method": ("A", "B", "C") * 3, "study": tuple("111222333")},
    )
    _, given_ = set_up(plots, terms=(("study",),))
    found = reml.fit_components(given_)
    assert found.at_zero.tolist() == [True]
    # without studies: sum of squares of 9 plots about 3 means, 6 degrees of freedom
    assert found.values == pytest.approx([0, 6 / 6])
    assert found.uncertainty == pytest.approx(np.array([[2 * 1.0**2 / 6]]))


def test_fit_components_without_random_terms_is_ordinary_least_squares():
    plots = several_studies(4)
    columns, given_ = set_up(plots, terms=())
    found = reml.fit_components(given_)
    rest = plots.yields - columns @ np.linalg.lstsq(columns, plots.yields, rcond=None)[0]
    assert found.values == pytest.approx([rest @ rest / (len(plots) - 3)])
    assert found.deviance == pytest.approx(dense_deviance(plots, columns, (), found.values))


def test_fit_components_very_large_differences_of_studies_are_found():
    plots = several_studies(8, drop=0)
    moved = PlotTable(plots.yields + 4000 * plots.codes("study"), dict(plots.factors))
    _, given_ = set_up(moved, terms=(("study",),))
    found = reml.fit_components(given_)
    cells = moved.yields.reshape(5, 9)
    between = 9 * np.var(cells.mean(axis=1), ddof=1)
    assert found.values[0] == pytest.approx((between - found.values[1]) / 9, rel=1e-6)


def test_settle_from_zero_asks_terms_back():
    plots = several_studies(8, drop=0)
    _, given_ = set_up(plots)
    best = reml.fit_components(given_).values
    ratios = reml._settle(given_, np.zeros(2))
    assert ratios == pytest.approx(best[:-1] / best[-1], rel=1e-9)


def test_fit_components_search_that_does_not_settle_is_refused(monkeypatch):
    monkeypatch.setattr(reml, "_STEPS", 0)
    _, given_ = set_up(several_studies(1))
    with pytest.raises(InfeasibleError, match="did not settle"):
        reml.fit_components(given_)


def test_shorten_takes_no_step_that_raises_the_deviance():
    _, given_ = set_up(several_studies(8, drop=0))
    best = reml.fit_components(given_)
    ratios = best.values[:-1] / best.values[-1]
    tried, solved = reml._shorten(given_, ratios, 20 * ratios, best.solved.deviance)
    assert solved.deviance == pytest.approx(best.solved.deviance, abs=2e-8)
    assert tried == pytest.approx(ratios, rel=1e-4)


def test_products_of_squares_equal_dense_matrices():
    plots = several_studies(2)
    columns, given_ = set_up(plots)
    components = np.array([0.7, 0.2, 0.4])
    p = dense(plots, columns, TERMS, components)[3]
    py = p @ plots.yields
    parts = []
    for term in TERMS:
        codes, groups = group_codes(plots, term)
        z = indicators(codes, len(groups))
        parts.append(z @ z.T)
    parts.append(np.eye(len(plots)))
    wanted = [[py @ a @ p @ b @ py for b in parts] for a in parts]
    ratios = components[:-1] / 0.4
    found = reml.products_of_squares(given_, solve(given_, ratios), ratios)
    # found is in units of the residual variance: y'PVPVPy has P three times
    assert found / 0.4**3 == pytest.approx(np.array(wanted), rel=1e-8)


def test_fit_components_finds_the_higher_of_two_peaks():
    # invented plots on which a climb from large differences of blocks ends on a lower peak
    plots = PlotTable(
        [3.414206, 3.959802, 4.299589, 3.256165, 5.847701, 2.744642, 4.568909, 4.078781,
         4.215536, 3.494815, 3.753728, 3.494401, 3.798475],
        {
            "study": tuple("4243110030060"),
            "block": tuple("1011131203111"),
            "method": tuple("2121202101011"),
        },
    )  # fmt: skip
    _, given_ = set_up(plots, terms=(("study",), ("study", "block"), ("study", "method")))
    lower = solve(given_, reml._settle(given_, np.array([0.02, 2, 0.02])))
    found = reml.fit_components(given_)
    assert found.solved.deviance < lower.deviance - 0.4


def test_starts_many_groups_need_one_only():
    rng = np.random.default_rng(3)
    study = np.repeat(np.arange(120), 4)
    values = 9 + rng.normal(size=120)[study] + 0.5 * rng.normal(size=480)
    plots = PlotTable(values, {"study": tuple(map(str, study)), "method": tuple("AABB" * 120)})
    _, given_ = set_up(plots)
    assert len(reml._starts(given_)) == 1
    found = reml.fit_components(given_)
    assert found.values[0] == pytest.approx(1, rel=0.4)
    assert found.values[-1] == pytest.approx(0.25, rel=0.2)


@pytest.mark.parametrize(
    ("terms", "apart"),
    [
        ((("study",), ("study", "method")), [True, True]),
        ((("study",), ("site",)), [True, False]),
        ((("method",),), [False]),
        ((("study", "plot"),), [False]),
        ((("study", "method"), ("study",)), [True, True]),
    ],
)
def test_can_be_told_apart_refuses_terms_without_information_of_their_own(terms, apart):
    plots = several_studies(1)
    factors = dict(plots.factors)
    factors["site"] = tuple(f"site {name}" for name in factors["study"])
    factors["plot"] = plots.plot_ids
    table = PlotTable(plots.yields, factors)
    _, given_ = set_up(table, terms=terms)
    assert reml.can_be_told_apart(given_).tolist() == apart
