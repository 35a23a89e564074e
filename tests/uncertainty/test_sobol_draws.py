"""Draws: even, repeatable, and the same however they are cut into pieces."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import RangeError
from scenariokit.uncertainty import (
    SET_OF_DRAWS,
    Cause,
    Uncertain,
    Uncertainty,
    draw_scores,
    input_scores,
    input_values,
    normal,
    pert,
)
from scenariokit.uncertainty.draws import MOST_DRAWS, score_pieces

PRICE = Uncertain(
    "prices.produce_price", pert(0.8, 1, 1.3), relative=True, cause="market", strength=0.6
)
WATER = Uncertain(
    "prices.water_price", pert(0.8, 1, 1.3), relative=True, cause="market", strength=-0.5
)
LABOUR = Uncertain("prices.labour_price", normal("6 money/hour", "1 money/hour"))
THREE = Uncertainty((PRICE, WATER, LABOUR), (Cause("market", "How dear the market is"),))


def test_draw_scores_shape_and_seed():
    first = draw_scores(THREE, 0, 64, 0)
    assert first.shape == (4, 64)
    assert np.array_equal(first, draw_scores(THREE, 0, 64))
    assert not np.array_equal(first, draw_scores(THREE, 0, 64, 1))
    assert not first.flags.writeable


def test_draw_scores_are_standard_normal_and_even():
    found = draw_scores(THREE, 0, 4096, 3)
    assert np.all(np.isfinite(found))
    assert np.max(np.abs(found.mean(axis=1))) < 2e-3
    assert np.max(np.abs(found.var(axis=1) - 1)) < 0.01
    # 4096 draws of a Sobol set: one in each 4096th of the range, far closer than chance.
    shares = np.sort(stats.norm.cdf(found), axis=1)
    assert np.max(np.abs(shares - (np.arange(4096) + 0.5) / 4096)) < 1 / 4096
    correlations = np.corrcoef(found) - np.eye(4)
    assert np.max(np.abs(correlations)) < 0.01


@settings(max_examples=25, deadline=None)
@given(
    st.integers(0, 400),
    st.lists(st.integers(1, 90), min_size=1, max_size=6),
    st.integers(0, 2**40),
)
def test_draw_scores_chunks_are_the_whole_to_the_bit(start, widths, seed):
    ends = start + np.cumsum([0, *widths])
    whole = draw_scores(THREE, start, int(ends[-1]), seed)
    chunks = [
        draw_scores(THREE, int(first), int(last), seed) for first, last in itertools.pairwise(ends)
    ]
    assert np.array_equal(whole, np.concatenate(chunks, axis=1))


def test_draw_scores_across_sets_are_the_whole_to_the_bit():
    edge = SET_OF_DRAWS
    whole = draw_scores(THREE, edge - 10, edge + 10, 5)
    assert np.array_equal(whole[:, :10], draw_scores(THREE, edge - 10, edge, 5))
    assert np.array_equal(whole[:, 10:], draw_scores(THREE, edge, edge + 10, 5))
    # Each set is scrambled anew, so that one does not repeat the last.
    assert not np.array_equal(whole[:, 10:], draw_scores(THREE, 0, 10, 5))


def test_draw_scores_long_pieces_are_not_kept_but_the_same():
    long = draw_scores(THREE, 0, 5000, 2)
    assert np.array_equal(long[:, :300], draw_scores(THREE, 0, 300, 2))


def test_draw_scores_without_inputs_is_empty():
    assert draw_scores(Uncertainty(()), 0, 8).shape == (0, 8)


@pytest.mark.parametrize(
    ("start", "stop", "seed", "count"),
    [(0, 0, 0, 1), (-1, 5, 0, 1), (5, 2, -1, 2), (0, MOST_DRAWS + 1, 0, 1), (0, 5, 0.5, 1)],
)
def test_draw_scores_impossible_numbers_raise(start, stop, seed, count):
    with pytest.raises(RangeError) as caught:
        draw_scores(THREE, start, stop, seed)
    assert len(caught.value.problems) == count


@pytest.mark.parametrize("block", [1, 7, 1000])
def test_score_pieces_join_to_the_whole(block):
    start = SET_OF_DRAWS - 20
    pieces = list(score_pieces(THREE, start, start + 40, 1, block))
    assert next(first for first, _ in pieces) == start
    assert all(scores.shape[1] <= block for _, scores in pieces)
    joined = np.concatenate([scores for _, scores in pieces], axis=1)
    assert np.array_equal(joined, input_scores(THREE, draw_scores(THREE, start, start + 40, 1)))


# -- causes --------------------------------------------------------------------------


def test_input_scores_equal_case_worked_by_hand():
    # 0.6 · 2 + 0.8 · 1 = 2; -0.5 · 2 + √0.75 · 1; without a cause its own part
    found = input_scores(THREE, np.array([[2.0], [1.0], [1.0], [0.3]]))
    assert found[:, 0] == pytest.approx([2.0, -1 + np.sqrt(0.75), 0.3])


def test_input_scores_have_the_correlations_said():
    found = np.corrcoef(input_scores(THREE, draw_scores(THREE, 0, 2**14, 0)))
    assert found == pytest.approx(THREE.correlations(), abs=0.01)
    assert THREE.correlations()[0, 1] == pytest.approx(-0.3)


@pytest.mark.parametrize("strength", [1.0, -1.0])
def test_input_scores_full_strength_is_the_cause(strength):
    one = Uncertain("prices.water_price", pert(1, 2, 3), cause="c", strength=strength)
    scores = np.array([[0.7], [5.0]])
    found = input_scores(Uncertainty((one,), (Cause("c", "c"),)), scores)
    assert found[0, 0] == strength * 0.7


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 60), min_size=1, max_size=5))
def test_input_values_chunks_are_the_whole_to_the_bit(widths):
    scores = draw_scores(THREE, 0, sum(widths), 9)
    whole = input_values(THREE, scores)
    ends = np.cumsum([0, *widths])
    chunks = [
        input_values(THREE, scores[:, first:last]) for first, last in itertools.pairwise(ends)
    ]
    for number, values in whole.items():
        assert np.array_equal(values, np.concatenate([one[number] for one in chunks]))


def test_input_values_are_in_the_spreads_own_unit():
    found = input_values(THREE, np.zeros((4, 1)))
    assert found[0] == pytest.approx(pert(0.8, 1, 1.3).quantile(0.5).m)
    assert found[2] == pytest.approx(6)
