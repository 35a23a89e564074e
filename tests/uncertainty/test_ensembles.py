"""Ensembles: common draws, blocks, what is undefined, and what many draws come to."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.scenario import OUTCOMES, evaluate, outcome_values, scenario_for, with_values
from scenariokit.uncertainty import (
    DEFAULT_OUTCOMES,
    SET_OF_DRAWS,
    Ensemble,
    Stopped,
    Uncertain,
    Uncertainty,
    draw_scores,
    ensemble,
    input_scores,
    pert,
    placed,
    stream,
    uniform,
    usual_uncertainty,
)
from scenariokit.uncertainty.ensemble import MOST_HELD
from scenariokit.uncertainty.summaries import level_column

BAG, POTS, SOIL = (scenario_for(name) for name in ("medium_bag", "wedge_pots", "field_soil"))
BOTH = [BAG, POTS]
USUAL = usual_uncertainty([BAG, POTS, SOIL])
FOUND = ensemble([BAG, POTS, SOIL], USUAL, 300, seed=4)
EVERYTHING = tuple(OUTCOMES)


def made(name="margin_per_area", rows=((1.0, 2.0, 3.0, 4.0), (2.0, 2.0, 2.0, 2.0))):
    return Ensemble(tuple(BOTH), Uncertainty(()), 0, {name: np.array(rows)})


def same(one, other):
    return all(
        np.array_equal(one.floats(name), other.floats(name), equal_nan=True)
        for name in one.outcomes
    )


# -- making one ----------------------------------------------------------------------


def test_ensemble_has_the_usual_outcomes_and_rows():
    assert tuple(FOUND.outcomes) == DEFAULT_OUTCOMES
    assert FOUND.methods == ("medium_bag", "wedge_pots", "field_soil")
    assert FOUND.labels[1] == POTS.method.label
    assert FOUND.draws == 300
    assert all(rows.shape == (3, 300) for rows in FOUND.outcomes.values())
    assert not FOUND.floats("yield_per_area").flags.writeable


def test_ensemble_without_spread_is_the_evaluated_scenario():
    still = ensemble(BOTH, Uncertainty(()), 5, outcomes=EVERYTHING)
    for row, scenario in enumerate(BOTH):
        for name, value in evaluate(scenario).outcomes.items():
            expected = np.full(5, float(value.magnitude))
            assert still.floats(name)[row] == pytest.approx(expected, nan_ok=True)


def test_ensemble_draws_are_evaluated_one_by_one():
    scores = input_scores(USUAL, draw_scores(USUAL, 0, 20, 4))
    place = placed([BAG], USUAL)[0]
    for draw in (0, 7, 19):
        changes = {path: found[draw] for path, found in place.values(scores).items()}
        units = {path: spread.unit for _, path, spread in place.spreads}
        alone = with_values(
            BAG, {path: quantity(float(at), units[path]) for path, at in changes.items()}
        )
        expected = outcome_values(alone, DEFAULT_OUTCOMES)
        for name in DEFAULT_OUTCOMES:
            assert FOUND.floats(name)[0, draw] == pytest.approx(float(expected[name]), rel=1e-12)


def test_ensemble_shares_its_draws_between_methods_and_with_any_selection():
    price = Uncertain("prices.produce_price", pert(0.5, 1, 2), relative=True)
    found = ensemble(BOTH, Uncertainty((price,)), 64)
    margin = found.floats("margin_per_area")
    # One price moves both: the better the price, the better each of them.
    assert np.array_equal(np.argsort(margin[0]), np.argsort(margin[1]))
    alone = ensemble([POTS], USUAL, 300, seed=4)
    assert np.array_equal(alone.floats("yield_per_area")[0], FOUND.floats("yield_per_area")[1])


def test_ensemble_longer_run_begins_as_a_shorter_one():
    longer = ensemble([BAG, POTS, SOIL], USUAL, 500, seed=4)
    for name in DEFAULT_OUTCOMES:
        begun = longer.floats(name)[:, :300]
        assert np.array_equal(begun, FOUND.floats(name), equal_nan=True)


def test_ensemble_seed_zero_is_a_seed():
    zero = ensemble(BOTH, USUAL, 50, seed=0)
    assert same(zero, ensemble(BOTH, USUAL, 50))
    assert not same(zero, ensemble(BOTH, USUAL, 50, seed=1))


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 120))
def test_ensemble_any_block_gives_the_same_bits(block):
    expected = ensemble(BOTH, USUAL, 100, outcomes=EVERYTHING)
    assert same(ensemble(BOTH, USUAL, 100, outcomes=EVERYTHING, block=block), expected)


@pytest.mark.parametrize("path", ["crop.days_mid", "crop.kc_mid", "feed.ec", "site.rain_share"])
def test_ensemble_sums_over_days_give_the_same_bits(path):
    share = path == "site.rain_share"
    spread = uniform(0, 1) if share else pert(0.7, 1, 1.4)
    one = Uncertainty((Uncertain(path, spread, relative=not share),))
    whole = ensemble([BAG, POTS, SOIL], one, 60, outcomes=EVERYTHING)
    for block in (1, 7, 32):
        assert same(ensemble([BAG, POTS, SOIL], one, 60, outcomes=EVERYTHING, block=block), whole)


def test_ensemble_says_what_was_cut():
    wide = Uncertain("crop.marketable_share", uniform(0.5, 1.5))
    found = ensemble(BOTH, Uncertainty((wide,)), 8)
    assert found.notes == ("Share that can be used or sold: draws outside 0 to 1 are left out",)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"draws": 0}, "too few"),
        ({"draws": MOST_HELD}, "stream"),
        ({"block": 0}, "block"),
        ({"outcomes": ["glory"]}, "glory"),
        ({"outcomes": []}, "none is named"),
        ({"seed": -1}, "seed"),
    ],
)
def test_ensemble_impossible_request_raises(change, said):
    with pytest.raises(RangeError, match=said):
        ensemble(**{"scenarios": BOTH, "uncertainty": USUAL, "draws": 8, **change})


def test_ensemble_same_method_twice_raises():
    with pytest.raises(InfeasibleError, match="twice"):
        ensemble([BAG, BAG], USUAL, 8)


# -- progress ------------------------------------------------------------------------


def test_ensemble_tells_how_far_it_is():
    told = []
    ensemble(BOTH, USUAL, 100, block=40, progress=lambda done, total: told.append((done, total)))
    assert told == [(40, 100), (80, 100), (100, 100)]


def test_ensemble_stopped_gives_nothing():
    def stop(done, total):
        raise Stopped("enough")

    with pytest.raises(Stopped, match="enough"):
        ensemble(BOTH, USUAL, 100, block=40, progress=stop)


def test_stream_is_the_ensemble_in_pieces():
    told = []
    pieces = list(
        stream(BOTH, USUAL, 100, 3, block=30, progress=lambda done, total: told.append(done))
    )
    assert [(piece.start, piece.stop) for piece in pieces] == [
        (0, 30),
        (30, 60),
        (60, 90),
        (90, 100),
    ]
    assert told == [30, 60, 90, 100]
    whole = ensemble(BOTH, USUAL, 100, 3)
    for name in DEFAULT_OUTCOMES:
        joined = np.concatenate([piece.outcomes[name] for piece in pieces], axis=1)
        assert np.array_equal(joined, whole.floats(name))


def test_stream_may_be_left_early_and_checks_before_it_begins():
    assert next(stream(BOTH, USUAL, SET_OF_DRAWS * 1000, outcomes=["yield_per_area"])).start == 0
    with pytest.raises(RangeError, match="numbers of draws"):
        stream(BOTH, USUAL, 0)
    with pytest.raises(ArgumentError, match="path"):
        stream(BOTH, Uncertainty((Uncertain("nowhere", uniform(1, 2)),)), 10)


# -- what it comes to ----------------------------------------------------------------


def test_values_carry_the_outcomes_unit():
    assert FOUND.values("yield_per_area").m_as("g/m^2") == pytest.approx(
        1000 * FOUND.floats("yield_per_area")
    )


def test_quantiles_equal_numpys():
    found = FOUND.quantiles("yield_per_area", (0.1, 0.5))
    assert found.m == pytest.approx(
        np.quantile(FOUND.floats("yield_per_area"), [0.1, 0.5], axis=1).T
    )
    assert FOUND.quantiles("yield_per_area", 0.5).m.shape == (3,)


def test_quantiles_leave_out_what_does_not_exist_and_say_how_much():
    gaps = made("cost_per_kilogram", [[1.0, np.nan, 3.0, 2.0], [np.nan] * 4])
    assert gaps.quantiles("cost_per_kilogram", [0.5]).m == pytest.approx(
        np.array([[2.0], [np.nan]]), nan_ok=True
    )
    assert gaps.undefined("cost_per_kilogram") == pytest.approx([0.25, 1.0])


def test_probability_counts_what_does_not_exist_as_neither():
    gaps = made("cost_per_kilogram", [[1.0, np.nan, 3.0, 2.0], [2.0] * 4])
    assert gaps.probability("cost_per_kilogram", above="1.5 money/kg") == pytest.approx([0.5, 1])
    assert gaps.probability("cost_per_kilogram", below="1.5 money/kg") == pytest.approx([0.25, 0])


def test_probability_of_many_values_is_a_curve():
    limits = quantity([0.5, 2.5, 9.0], "money/m^2")
    found = made().probability("margin_per_area", above=limits)
    assert found == pytest.approx(np.array([[1, 0.5, 0], [1, 0, 0]]))
    assert made().probability("margin_per_area", above=quantity([2.5], "money/m^2")).shape == (2, 1)


def test_probability_in_any_unit():
    whole = FOUND.probability("yield_per_area", above="4 kg/m^2")
    assert np.array_equal(whole, FOUND.probability("yield_per_area", above="4000 g/m^2"))
    assert np.all((whole >= 0) & (whole <= 1))


@pytest.mark.parametrize(
    ("limits", "error"),
    [
        ({}, InfeasibleError),
        ({"above": "1 money/m^2", "below": "2 money/m^2"}, InfeasibleError),
        ({"above": 1.0}, ArgumentError),
        ({"above": "1 kg"}, ArgumentError),
    ],
)
def test_probability_impossible_question_raises(limits, error):
    with pytest.raises(error):
        made().probability("margin_per_area", **limits)


def test_difference_is_draw_by_draw():
    found = made().difference("margin_per_area", "medium_bag", "wedge_pots")
    assert found.values.m == pytest.approx([-1, 0, 1, 2])
    assert found.share_better == pytest.approx(0.5 + 0.125)  # two better, one alike
    assert found.quantiles([0, 1]).m == pytest.approx([-1, 2])
    assert found.undefined == 0


def test_difference_of_costs_is_better_below():
    rows = [[1.0, 2.0, np.nan, 4.0], [2.0, 2.0, 2.0, 2.0]]
    found = made("cost_per_kilogram", rows).difference(
        "cost_per_kilogram", "medium_bag", "wedge_pots"
    )
    assert found.share_better == pytest.approx((1 + 0.5) / 4)
    assert found.undefined == 0.25


def test_share_best_shares_ties_and_leaves_out_what_does_not_exist():
    rows = [[1.0, 2.0, np.nan, np.nan], [2.0, 2.0, 9.0, np.nan]]
    assert made("cost_per_kilogram", rows).share_best("cost_per_kilogram") == pytest.approx(
        [(1 + 0.5) / 4, (0.5 + 1) / 4]
    )
    assert made().share_best("margin_per_area") == pytest.approx([(0.5 + 2) / 4, 1.5 / 4])


def test_share_best_of_what_is_neither_better_nor_worse_raises():
    with pytest.raises(InfeasibleError, match="neither"):
        made("fullest_depth").share_best("fullest_depth")
    with pytest.raises(InfeasibleError, match="neither"):
        _ = made("fullest_depth").difference("fullest_depth", *FOUND.methods[:2]).share_better


def test_unknown_outcome_method_or_level_raises():
    with pytest.raises(InfeasibleError, match="was not drawn"):
        FOUND.floats("refills")
    with pytest.raises(InfeasibleError, match="no method 'moon'"):
        FOUND.difference("yield_per_area", "moon", "medium_bag")
    with pytest.raises(RangeError, match="no probability"):
        FOUND.quantiles("yield_per_area", [0.5, 1.5])


def test_scores_are_those_that_were_drawn():
    assert np.array_equal(FOUND.scores, draw_scores(USUAL, 0, 300, 4))
    assert np.array_equal(FOUND.input_scores, input_scores(USUAL, FOUND.scores))


def test_frame_has_a_row_each_and_units_in_its_headings():
    gaps = made("cost_per_kilogram", [[1.0, np.nan, 3.0, 2.0], [2.0] * 4])
    frame = gaps.frame(levels=(0.5,))
    assert list(frame.columns) == [
        "method", "draws", "cost_per_kilogram_p50_money_per_kg", "cost_per_kilogram_undefined",
    ]  # fmt: skip
    assert frame["cost_per_kilogram_undefined"].tolist() == [1, 0]
    assert len(FOUND.frame(["yield_per_area"]).columns) == 6


def test_level_column_of_odd_levels():
    assert level_column("yield_per_area", 0.025) == "yield_per_area_p2_5_kg_per_m2"
    assert level_column("yield_per_area", "mean") == "yield_per_area_mean_kg_per_m2"


def test_ensemble_yield_of_nothing_has_no_cost_per_kilogram():
    names = ("low", "typical", "high")
    none = with_values(BAG, {f"harvest.{name}": "0 kg/m^2" for name in names})
    found = ensemble([none, POTS], usual_uncertainty([none, POTS]), 32)
    assert found.undefined("cost_per_kilogram").tolist() == [1, 0]
    assert found.share_best("cost_per_kilogram").tolist() == [0, 1]
    assert dataclasses.is_dataclass(found)
