"""Running summaries: the same as keeping all draws, however these are cut up."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import scenario_for, with_values
from scenariokit.uncertainty import (
    Block,
    RunningSummary,
    Stopped,
    Uncertain,
    Uncertainty,
    ensemble,
    fixed,
    stream,
    summarise_draws,
    uniform,
    usual_uncertainty,
)
from scenariokit.uncertainty.running import PANEL
from scenariokit.uncertainty.tally import ExactSum, Tally, bins_from

BOTH = [scenario_for("medium_bag"), scenario_for("wedge_pots")]
USUAL = usual_uncertainty(BOTH)
NAMES = ("margin_per_area", "cost_per_kilogram", "fullest_depth")
DRAWS = 3 * PANEL + 500
ALL = ensemble(BOTH, USUAL, DRAWS, 7, NAMES)


def summary(start=0):
    return RunningSummary.begin(BOTH, USUAL, 7, NAMES, start=start)


def block(first, last):
    return Block(first, {name: ALL.floats(name)[:, first:last] for name in NAMES})


def added(edges):
    found = summary(edges[0])
    for first, last in itertools.pairwise(edges):
        found.add(block(first, last))
    return found


def results(found):
    parts = []
    for name in NAMES:
        parts += [found.mean(name).m, found.deviation(name).m, found.undefined(name)]
        parts += [end.m for end in (*found.extremes(name), *found.quantiles(name))]
    parts.append(found.share_best("margin_per_area"))
    return np.concatenate([np.ravel(part) for part in parts])


WHOLE = results(added([0, DRAWS]))


def test_running_summary_is_what_all_draws_come_to():
    found = added([0, DRAWS])
    for name in NAMES:
        rows = ALL.floats(name)
        assert found.mean(name).m == pytest.approx(rows.mean(axis=1), rel=1e-12)
        assert found.deviation(name).m == pytest.approx(
            rows.std(axis=1, ddof=1), rel=1e-9, abs=1e-12
        )
        least, greatest = found.extremes(name)
        assert np.array_equal(least.m, rows.min(axis=1))
        assert np.array_equal(greatest.m, rows.max(axis=1))
    assert found.share_best("margin_per_area") == pytest.approx(ALL.share_best("margin_per_area"))
    assert (found.draws, found.names, found.methods) == (DRAWS, NAMES, ALL.methods)


@pytest.mark.parametrize("name", NAMES)
def test_quantiles_lie_within_their_stated_error(name):
    levels = [0, 1e-4, 0.05, 0.3, 0.5, 0.95, 0.9999, 1]
    values, within = added([0, DRAWS]).quantiles(name, levels)
    exact = ALL.quantiles(name, levels).m
    assert np.all(np.abs(values.m - exact) <= within.m + 1e-12)
    reach = ALL.floats(name).max(axis=1) - ALL.floats(name).min(axis=1)
    assert np.all(within.m[:, 2:6] <= reach[:, np.newaxis] / 1000)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, DRAWS - 1), max_size=6, unique=True))
def test_add_any_blocks_give_the_same_bits(cuts):
    assert np.array_equal(results(added([0, *sorted(cuts), DRAWS])), WHOLE)


@pytest.mark.parametrize("cuts", [(1,), (2,), (1, 2, 3), (3,)])
def test_merge_any_stretches_give_the_same_bits(cuts):
    edges = [0, *(PANEL * cut for cut in cuts), DRAWS]
    parts = [added([first, last]) for first, last in itertools.pairwise(edges)]
    found = parts[0]
    for part in parts[1:]:
        found.merge(part)
    assert np.array_equal(results(found), WHOLE)
    assert found.draws == DRAWS


def test_merge_later_stretches_first_gives_the_same_bits():
    first, second, third = (added([PANEL * at, PANEL * (at + 1)]) for at in range(3))
    second.merge(third)
    first.merge(second)
    first.add(block(3 * PANEL, DRAWS))
    assert np.array_equal(results(first), WHOLE)


def test_summarise_draws_is_all_of_it_at_once():
    found = summarise_draws(BOTH, USUAL, DRAWS, 7, NAMES, block=3000)
    assert np.array_equal(results(found), WHOLE)


def test_summarise_draws_stopped_gives_nothing():
    def stop(done, total):
        raise Stopped("enough")

    with pytest.raises(Stopped):
        summarise_draws(BOTH, USUAL, 100, progress=stop)


def test_results_in_between_do_not_disturb_what_follows():
    found = summary()
    found.add(block(0, 100))
    assert found.mean("margin_per_area").m == pytest.approx(
        ALL.floats("margin_per_area")[:, :100].mean(axis=1)
    )
    found.add(block(100, DRAWS))
    assert np.array_equal(results(found), WHOLE)


def test_running_summary_follows_the_stream():
    found = summary()
    for piece in stream(BOTH, USUAL, PANEL, 7, NAMES, block=1500):
        found.add(piece)
    assert found.stop == PANEL


def test_frame_has_units_in_its_headings():
    frame = added([0, DRAWS]).frame([0.5])
    assert list(frame.columns)[:5] == [
        "method", "draws", "margin_per_area_mean_money_per_m2", "margin_per_area_p50_money_per_m2",
        "margin_per_area_undefined",
    ]  # fmt: skip


# -- what is undefined or does not move ----------------------------------------------


def test_running_summary_without_values_says_so():
    names = ("low", "typical", "high")
    none = with_values(BOTH[0], {f"harvest.{name}": "0 kg/m^2" for name in names})
    two = [none, BOTH[1]]
    found = summarise_draws(two, usual_uncertainty(two), 50, outcomes=["cost_per_kilogram"])
    assert found.undefined("cost_per_kilogram").tolist() == [50, 0]
    assert math.isnan(found.mean("cost_per_kilogram").m[0])
    assert math.isnan(found.deviation("cost_per_kilogram").m[0])
    assert np.isnan(found.quantiles("cost_per_kilogram")[0].m[0]).all()
    assert np.isnan([end.m[0] for end in found.extremes("cost_per_kilogram")]).all()
    assert found.share_best("cost_per_kilogram").tolist() == [0, 1]


def test_running_summary_of_one_value_is_that_value():
    still = Uncertainty((Uncertain("prices.labour_price", fixed("7 money/hour")),))
    found = summarise_draws(BOTH, still, 40, outcomes=["margin_per_area"])
    alone = ensemble(BOTH, still, 1, outcomes=["margin_per_area"]).floats("margin_per_area")
    assert found.quantiles("margin_per_area")[0].m == pytest.approx(np.repeat(alone, 3, axis=1))
    assert found.deviation("margin_per_area").m == pytest.approx([0, 0], abs=1e-12)


def test_tally_counts_gaps_infinities_and_ties():
    rows = np.array([[1.0, np.nan, 3.0, np.inf], [1.0, 2.0, 4.0, 5.0]])
    tally = Tally(bins_from(rows, 64), 1.0)
    tally.take(rows)
    assert tally.defined.tolist() == [2, 4]
    assert tally.mean() == pytest.approx([2, 3])
    assert tally.variance() == pytest.approx([2, 10 / 3])
    assert tally.share_best(4) == pytest.approx([0.125, 0.875])
    values, within = tally.quantiles(np.array([0.0, 0.5, 1.0]))
    assert np.all(np.abs(values - [[1, 2, 3], [1, 3, 5]]) <= within)
    assert tally.counts.sum(axis=1).tolist() == [2, 4]


def test_tally_values_beyond_the_bins_widen_the_error():
    tally = Tally(bins_from(np.array([[0.0, 1.0]]), 16), -1.0)
    tally.take(np.array([[-50.0, 0.5, 70.0]]))
    values, within = tally.quantiles(np.array([0.0, 0.5, 1.0]))
    assert tally.counts[0, [0, -1]].tolist() == [1, 1]
    assert np.all(np.abs(values[0] - [-50, 0.5, 70]) <= within[0])
    assert within[0, 0] > 40


# -- exact sums ----------------------------------------------------------------------


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.floats(-1e12, 1e12, allow_nan=False), max_size=30), st.randoms(), st.integers(0, 30)
)
def test_exact_sum_does_not_depend_on_order_or_grouping(values, random, cut):
    mixed = list(values)
    random.shuffle(mixed)
    first, second = ExactSum(mixed[:cut]), ExactSum(mixed[cut:])
    second.add(first.parts)
    assert second.value == ExactSum(values).value == math.fsum(values)


# -- errors --------------------------------------------------------------------------


def test_running_summary_refuses_what_does_not_follow():
    found = added([0, 100])
    with pytest.raises(InfeasibleError, match="draw 200 does not follow"):
        found.add(block(200, 300))
    with pytest.raises(InfeasibleError, match="does not follow one up to 100"):
        found.merge(summary(PANEL))
    with pytest.raises(InfeasibleError, match="lacks"):
        found.add(Block(100, {"margin_per_area": np.zeros((2, 5))}))


@pytest.mark.parametrize(
    "other",
    [
        RunningSummary.begin(BOTH, USUAL, 8, NAMES, start=PANEL),
        RunningSummary.begin(BOTH, USUAL, 7, NAMES[:1], start=PANEL),
        RunningSummary.begin(BOTH[:1], USUAL, 7, NAMES, start=PANEL),
    ],
)
def test_merge_refuses_another_run(other):
    with pytest.raises(InfeasibleError, match="not of one run"):
        added([0, PANEL]).merge(other)


@pytest.mark.parametrize("start", [-PANEL, 5])
def test_begin_within_a_panel_raises(start):
    with pytest.raises(RangeError, match="multiples of 4096"):
        summary(start)


def test_running_summary_impossible_questions_raise():
    with pytest.raises(InfeasibleError, match="no draws"):
        summary().mean("margin_per_area")
    with pytest.raises(InfeasibleError, match="was not drawn"):
        added([0, 10]).mean("refills")
    with pytest.raises(InfeasibleError, match="neither"):
        added([0, 10]).share_best("fullest_depth")
    with pytest.raises(RangeError, match="no probability"):
        added([0, 10]).quantiles("margin_per_area", [2])
    with pytest.raises(RangeError, match="draws"):
        summarise_draws(BOTH, Uncertainty((Uncertain("tank.area", uniform("1 m^2", "2 m^2")),)), 0)
