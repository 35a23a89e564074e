"""What one trial shows: the numbers of the analyses, and a refusal where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.analysis import (
    against_control,
    analyse,
    pairwise,
    randomised_blocks,
    ratio_in,
    treatment_means,
)
from scenariokit.trials.demo import demo_files, demo_records
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling import pool
from scenariokit.trials.summary import REVERSALS, summarise
from scenariokit.trials.unreplicated import unreplicated_differences

NAN = float("nan")


def plots_of(values, **factors):
    return PlotTable(values, {name: tuple(levels) for name, levels in factors.items()})


@pytest.fixture(scope="module")
def demo():
    return demo_records().plots


@pytest.fixture(scope="module")
def found(demo):
    return summarise(demo, control="wedge_pots")


def test_summarise_means_are_those_of_the_analysis(demo, found):
    analysis = analyse(demo, randomised_blocks("method", "variety"))
    expected = {one.label: one for one in treatment_means(analysis, "method")}
    assert [one.label for one in found.means] == sorted(
        expected, key=lambda label: -expected[label].mean.m
    )
    for one in found.means:
        assert one.mean == expected[one.label].mean
        assert (one.low, one.high) == (expected[one.label].low, expected[one.label].high)
    letters = pairwise(analysis, "method").letters
    assert {one.label: one.letters for one in found.means} == letters


def test_summarise_counts_plots_harvested_and_not(found):
    counts = {one.label: (one.plots, one.unharvested) for one in found.means}
    assert counts["sheet_wick_tray"] == (5, 1)
    assert sum(plots for plots, _ in counts.values()) == 23
    assert all(len(one.values) == one.plots for one in found.means)


def test_summarise_control_gives_dunnett_and_ratios(demo, found):
    analysis = analyse(demo, randomised_blocks("method", "variety"))
    expected = against_control(analysis, "method", "wedge_pots")
    assert [pair.p for pair in found.against.pairs] == [pair.p for pair in expected.pairs]
    bag = ratio_in(analysis, "method", "medium_bag", "wedge_pots")
    assert found.ratios["medium_bag"] == bag
    assert set(found.ratios) == {pair.first for pair in expected.pairs}


def test_summarise_without_control_holds_nothing_against_one(demo):
    one = summarise(demo)
    assert one.against is None
    assert one.ratios == {}


def test_summarise_tells_reversals_and_counts_the_rest(found):
    assert found.interactions[0].startswith("The differences of variety depend on method")
    assert len(found.interactions) == 1 + REVERSALS + 1
    assert found.interactions[-1] == "1 more such reversal is not told here."


def test_summarise_residual_checks_pass_so_no_ranks(found):
    assert found.checks.shapiro.p > 0.05
    assert found.ranks is None
    assert found.rank_reason == ""


def test_summarise_combination_in_any_order_is_the_same(demo):
    one, other = (
        summarise(demo, compare="variety:method"),
        summarise(demo, compare="method:variety"),
    )
    assert one.compare == other.compare == "method:variety"
    assert [m.label for m in one.means] == [m.label for m in other.means]
    assert len(one.means) == 8
    assert one.means[0].levels == ("medium_bag", "late red")


def test_summarise_combination_control_is_named_by_its_levels(demo):
    one = summarise(demo, compare="variety:method", control="wedge_pots:early white")
    assert len(one.against.pairs) == 7


@pytest.mark.parametrize("design", ["randomised", "blocks", "split"])
def test_summarise_design_chosen_is_used(demo, design):
    one = summarise(demo, design=design)
    assert (one.design.name, one.design.guessed) == (design, False)
    assert one.analysis.design is one.design.design


def test_summarise_design_that_plots_are_not_of_is_refused(demo):
    with pytest.raises(RangeError, match=r"(?s)row.*column"):
        summarise(demo, design="latin")


# -- no test -------------------------------------------------------------------------------


def test_summarise_one_plot_each_has_no_test_and_no_interval():
    plots = demo_records("single").plots
    one = summarise(plots)
    assert one.without == "no repeats"
    assert "analyse" in one.refusal
    assert (one.analysis, one.comparisons, one.checks, one.reach) == (None, None, None, None)
    assert all(mean.low is None and mean.high is None for mean in one.means)
    assert all(mean.letters == "" for mean in one.means)
    expected = unreplicated_differences(plots)
    assert [pair.observed for pair in one.differences] == [pair.observed for pair in expected]
    assert [row.cv for row in one.differences[0].credible] == [0.05, 0.12, 0.35]


def test_summarise_one_plot_of_each_combination_is_not_tested_on_its_interaction():
    """Varieties are no replicates of a method: their scatter is no error of a plot."""
    plots = plots_of([4.0, 5.0, 6.0, 9.0], method="AABB", variety="xyxy")
    one = summarise(plots)
    assert one.without == "no repeats"
    (pair,) = one.differences
    assert pair.plots == (2, 2)


def test_summarise_one_plot_of_each_combination_compared_in_pairs():
    plots = plots_of([4.0, 5.0, 6.0, 9.0], method="AABB", variety="xyxy")
    one = summarise(plots, compare="method:variety")
    assert (one.differences[0].first, one.differences[0].second) == ("A:x", "A:y")
    assert len(one.differences) == 6


def test_summarise_plots_that_do_not_vary_have_no_test():
    one = summarise(plots_of([4.0, 4.0, 6.0, 6.0], method="AABB"))
    assert one.without == "no variation"
    assert "leave no error" in one.refusal
    assert all(mean.low is None for mean in one.means)


def test_summarise_method_grown_with_its_own_variety_is_not_told_apart():
    plots = plots_of([4.0, 4.2, 6.0, 6.3], method="AABB", variety="xxyy")
    one = summarise(plots)
    assert one.without == "not told apart"
    assert one.comparisons is None


def test_summarise_one_method_repeated_has_an_interval_and_no_comparison():
    """Mean 4.767, interval 3.249 to 6.284: Student's t with 2 degrees, by hand."""
    one = summarise(plots_of([4.1, 4.9, 5.3], method="AAA"))
    assert one.without == "one level"
    (mean,) = one.means
    assert (mean.low.m, mean.high.m) == pytest.approx((3.24883, 6.28450), abs=1e-4)
    assert mean.standard_error.m == pytest.approx(0.352767, abs=1e-5)
    assert one.design is None


def test_summarise_one_plot_of_one_method_has_no_interval():
    one = summarise(plots_of([4.1], method="A"))
    assert (one.means[0].low, one.without) == (None, "one level")


def test_summarise_level_compared_stands_alone_while_another_factor_varies():
    one = summarise(plots_of([4.1, 4.9, 5.3, 6.0], method="AAAA", variety="xxyy"))
    assert one.without == "one level"
    assert one.means[0].low is None  # varieties differ: their scatter is no error


def test_summarise_single_plot_beside_repeated_ones_borrows_their_error():
    one = summarise(plots_of([4.1, 4.9, 5.3, 6.0, 6.4, 6.8, 6.5], method="AAABBBC"))
    single = next(mean for mean in one.means if mean.label == "C")
    assert single.plots == 1
    assert single.low is not None
    assert any("one plot only" in note for note in one.notes)


def test_summarise_level_not_harvested_is_named():
    one = summarise(plots_of([4.1, 4.9, 6.0, 6.4, NAN], method="AABBC"))
    assert one.lost == ("C",)
    assert [mean.label for mean in one.means] == ["B", "A"]


def test_summarise_pair_of_which_one_was_harvested_has_no_difference():
    one = summarise(plots_of([4.1, NAN], method="AB"))
    assert one.without == "one level"
    assert one.differences == ()


def test_summarise_control_without_a_mean_is_not_compared():
    values = [4.1, 4.9, 6.0, 6.4, 5.0, 5.3]
    plots = plots_of(values, method="AABBCC", variety="xyxyxx")
    plots = PlotTable(
        np.tile(plots.yields, 2) + np.linspace(0, 0.5, 12),
        {name: levels * 2 for name, levels in plots.factors.items()},
    )
    one = summarise(plots, control="C")
    assert "C" not in one.comparisons.letters
    assert one.against is None
    assert any("give no mean of C" in note for note in one.notes)


def test_summarise_control_that_gave_nothing_has_differences_and_no_ratios():
    one = summarise(plots_of([0.0, 0.0, 4.0, 4.4], method="AABB"), control="A")
    assert one.against is not None
    assert one.ratios == {}


def test_summarise_nothing_harvested_is_refused():
    with pytest.raises(InfeasibleError, match="no plot was harvested"):
        summarise(plots_of([NAN, NAN], method="AB"))


def test_summarise_several_studies_are_refused_with_what_is_possible():
    with pytest.raises(InfeasibleError, match=r"4 studies.*summarise_studies"):
        summarise(pool(demo_files()).plots())


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"compare": "colour"}, "not recorded"),
        ({"control": "nothing"}, "no method of a harvested plot"),
        ({"confidence": 1.5}, "confidence"),
        ({"design": "lattice"}, "not known"),
    ],
)
def test_summarise_bad_option_is_refused(demo, options, words):
    with pytest.raises(RangeError, match=words):
        summarise(demo, **options)


def test_summarise_wider_confidence_gives_wider_intervals(demo, found):
    wide = summarise(demo, confidence=0.99)
    for one, other in zip(found.means, wide.means, strict=True):
        assert other.high - other.low > one.high - one.low


# -- ranks ---------------------------------------------------------------------------------


def test_summarise_outlier_in_blocks_is_looked_at_by_ranks():
    values = [4.0, 5.0, 6.0, 4.1, 5.1, 6.1, 4.2, 5.0, 6.2, 4.1, 5.2, 26.0, 4.0, 5.1, 6.1]
    one = summarise(plots_of(values, method="ABC" * 5, block=sorted("12345" * 3)))
    assert "far from a normal curve" in one.rank_reason
    assert one.ranks.name == "Friedman"
    assert one.ranks.p < 0.01


def test_summarise_unequal_spread_drawn_freely_is_looked_at_by_ranks():
    rng = np.random.default_rng(3)
    values = np.concatenate([rng.normal(5, 0.05, 10), rng.normal(5, 1.5, 10)]).clip(0)
    one = summarise(plots_of(values, method="A" * 10 + "B" * 10))
    assert "vary more than others" in one.rank_reason
    assert one.ranks.name == "Kruskal-Wallis"


@settings(max_examples=20, deadline=None)
@given(
    st.permutations(range(12)),
    st.floats(0.1, 10),
    st.lists(st.integers(0, 40), min_size=12, max_size=12, unique=True),
)
def test_summarise_order_of_rows_and_size_of_yields_do_not_matter(order, factor, tenths):
    values = 3 + np.array(tenths) / 10
    methods, blocks = tuple("ABC" * 4), tuple(sorted("1234" * 3))
    one = summarise(PlotTable(values, {"method": methods, "block": blocks}))
    assume(one.without == "" and one.analysis.residual.mean_square > 1e-9)
    other = summarise(
        PlotTable(
            values[list(order)] * factor,
            {"method": tuple(methods[i] for i in order), "block": tuple(blocks[i] for i in order)},
        )
    )
    assert other.analysis.row("method").f == pytest.approx(one.analysis.row("method").f, rel=1e-6)
    ours = {mean.label: mean.mean.m * factor for mean in one.means}
    assert {mean.label: mean.mean.m for mean in other.means} == pytest.approx(ours, rel=1e-9)
