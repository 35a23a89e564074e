"""Weighing with fixed anchors, all weightings, and orders that do not turn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.optimize import linprog

from scenariokit.decide import (
    OBJECTIVES,
    Criterion,
    all_weights,
    criterion,
    double_counted,
    usual_criteria,
    weigh,
    weight_sweep,
)
from scenariokit.decide.sweep import plain_totals
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.scenario import OUTCOMES

YIELD = Criterion("yield_per_area", "Yield", "kg/m^2", 0, 8, "by hand")
COST = Criterion("cost_per_kilogram", "Cost", "money/kg", 4, 0, "by hand")
WORTHS = hnp.arrays(
    float, st.tuples(st.integers(1, 6), st.integers(1, 4)), elements=st.integers(-4, 8)
)


def ten(count):
    """Return criteria from 0 to 10, more being better."""
    return [Criterion(f"c{n}", "", "", 0, 10, "by hand") for n in range(count)]


def closeness(table, weights):
    """Return the share of the way from the worst to the best point, columns as unit vectors.

    This scale is taken from the options at hand; it stands here for the contrast.
    """
    scaled = np.asarray(table) / np.linalg.norm(table, axis=0) * weights
    best, worst = (np.linalg.norm(scaled - end(scaled, axis=0), axis=1) for end in (np.max, np.min))
    return worst / (best + worst)


def stretched(table, weights):
    """Return weighted sums of columns stretched from their own least to their own greatest."""
    given = np.asarray(table, dtype=float)
    low, high = given.min(axis=0), given.max(axis=0)
    return (given - low) / (high - low) @ weights


# -- worth and totals ------------------------------------------------------------------------


def test_weigh_by_hand():
    """6/8 and (4 - 2)/4 at weights 3/4 and 1/4: 0.6875; 4/8 and 3/4: 0.5625."""
    found = weigh([[6, 2], [4, 1]], [YIELD, COST], [3, 1])
    assert found.worth.tolist() == [[0.75, 0.5], [0.5, 0.75]]
    assert found.weights.tolist() == [0.75, 0.25]
    assert found.total.tolist() == [0.6875, 0.5625]
    assert found.order == (0, 1)


def test_weigh_goes_on_beyond_the_anchors_and_says_where():
    found = weigh([[10, 5], [0, 0]], [YIELD, COST], [1, 1])
    assert found.worth.tolist() == [[1.25, -0.25], [0, 1]]
    assert found.outside.tolist() == [[True, True], [False, False]]


@pytest.mark.parametrize("weights", [[1, 3], [0.25, 0.75], [10, 30]])
def test_weigh_only_the_ratio_of_weights_counts(weights):
    assert weigh([[6, 2]], [YIELD, COST], weights).total == pytest.approx([0.5625])


def test_weigh_equal_totals_keep_the_order_given():
    assert weigh([[4, 2], [4, 2]], [YIELD, COST], [1, 1]).order == (0, 1)


@pytest.mark.parametrize(
    ("values", "weights"),
    [
        ([[1, 2, 3]], [1, 1]), ([1, 2], [1, 1]), ([[1, np.nan]], [1, 1]), ([[1, np.inf]], [1, 1]),
        (np.empty((0, 2)), [1, 1]), ([[1, 2]], [1]), ([[1, 2]], [-1, 2]), ([[1, 2]], [0, 0]),
        ([[1, 2]], [np.nan, 1]), ([[1, 2]], [np.inf, 1]),
    ],
)  # fmt: skip
def test_weigh_refuses(values, weights):
    with pytest.raises(RangeError):
        weigh(values, [YIELD, COST], weights)


def test_weigh_says_all_that_is_wrong_at_once():
    with pytest.raises(RangeError) as caught:
        weigh([[np.nan] * 11], ten(10), [0])
    assert len(caught.value.problems) == 4


@pytest.mark.parametrize("ends", [(1, 1), (np.nan, 1), (0, np.inf)])
def test_criterion_refuses_anchors_that_are_not_two_numbers(ends):
    with pytest.raises(RangeError, match="poor, excellent"):
        Criterion("a", "A", "kg", *ends, "by hand")


# -- orders that turn, and ours that does not ---------------------------------------------------


def test_order_by_closeness_turns_when_a_beaten_option_is_added_and_ours_does_not():
    """Computed: .320860 .610541 .573536, then .440192 .559808 .656111 .458429 with (7, 1)."""
    three, more = [[1, 5], [8, 2], [4, 6]], [[1, 5], [8, 2], [4, 6], [7, 1]]
    half = [0.5, 0.5]
    assert closeness(three, half) == pytest.approx([0.320860, 0.610541, 0.573536], abs=5e-7)
    assert closeness(more, half) == pytest.approx(
        [0.440192, 0.559808, 0.656111, 0.458429], abs=5e-7
    )
    assert np.argmax(closeness(three, half)) != np.argmax(closeness(more, half))
    one, other = weigh(three, ten(2), half), weigh(more, ten(2), half)
    assert np.array_equal(other.total[:3], one.total)
    assert [n for n in other.order if n < 3] == list(one.order)
    assert np.array_equal(other.win_share[:3], one.win_share)
    assert other.win_share[3] == 0


def test_order_by_stretched_scales_turns_when_a_beaten_option_is_added_and_ours_does_not():
    """Computed: .6 .5 .5 for (5,4) (9,2) (4,4); with (5, 1) beside them .6 .666667 .5 .1."""
    three, more = [[5, 4], [9, 2], [4, 4]], [[5, 4], [9, 2], [4, 4], [5, 1]]
    half = [0.5, 0.5]
    assert stretched(three, half) == pytest.approx([0.6, 0.5, 0.5])
    assert stretched(more, half) == pytest.approx([0.6, 2 / 3, 0.5, 0.1], abs=5e-7)
    one, other = weigh(three, ten(2), half), weigh(more, ten(2), half)
    assert np.array_equal(other.total[:3], one.total)
    assert [n for n in other.order if n < 3] == list(one.order)


@given(WORTHS, st.integers(1, 3), st.data())
@settings(max_examples=60, deadline=None)
def test_adding_a_beaten_option_changes_no_total_and_no_share(worth, worse, data):
    like = data.draw(st.integers(0, len(worth) - 1))
    more = np.vstack([worth, worth[like] - worse])
    weights = data.draw(
        st.lists(st.integers(1, 9), min_size=worth.shape[1], max_size=worth.shape[1])
    )
    one, other = (weigh(table, ten(worth.shape[1]), weights) for table in (worth, more))
    assert np.array_equal(other.total[:-1], one.total)
    assert np.array_equal(other.win_share[:-1], one.win_share)
    assert other.never[-1]


# -- all weightings ------------------------------------------------------------------------------


def test_weight_sweep_never_picks_what_lies_off_the_hull():
    """(0,10), (4,4), (10,0): the middle is not beaten, but trails by 1 at the weights 1/2, 1/2."""
    found = weight_sweep([[0, 10], [4, 4], [10, 0]])
    assert found.win_share == pytest.approx([0.5, 0, 0.5])
    assert found.never.tolist() == [False, True, False]
    assert found.best_leads()[1] == pytest.approx(-1)
    assert found.suiting(1) == pytest.approx([0.5, 0.5])
    assert np.isnan(found.winning[1]).all()
    assert np.isnan(found.centre[1]).all()


def test_weight_sweep_shares_and_ranges_by_hand():
    """(0, 1) beats (1, 1/2) while w1 < w2 / 2, that is w1 < 1/3."""
    found = weight_sweep([[0, 1], [1, 0.5]])
    assert found.win_share == pytest.approx([1 / 3, 2 / 3], abs=1e-3)
    assert found.winning[0, 0] == pytest.approx([0, 1 / 3], abs=1e-3)
    assert found.winning[1, 0] == pytest.approx([1 / 3, 1], abs=1e-3)
    assert found.centre[0] == pytest.approx([1 / 6, 5 / 6], abs=1e-3)


@pytest.mark.parametrize("criteria", [2, 3, 4, 5, 6, 7, 8, 9])
def test_weight_sweep_of_options_good_at_one_thing_each_shares_alike(criteria):
    found = weight_sweep(np.eye(criteria))
    assert found.win_share == pytest.approx(np.full(criteria, 1 / criteria))
    assert not found.never.any()


def test_weight_sweep_of_equal_options_shares():
    found = weight_sweep([[1, 2], [1, 2], [0, 1]])
    assert found.win_share == pytest.approx([0.5, 0.5, 0])
    assert found.never.tolist() == [False, False, True]


def test_weight_sweep_finds_a_sliver_between_the_points_of_the_lattice():
    """By hand: the third is ahead while w1 lies within 0.00012 of 1/2, by 0.00012 at most."""
    worth = np.array([[1, 0], [0, 1], [0.50012, 0.50012]])
    assert all_weights(2)[:, 0] == pytest.approx((np.arange(1001) + 0.5) / 1001)
    found = weight_sweep(worth)
    assert found.best_leads()[2] == pytest.approx(0.00012)
    assert found.win_share[2] == pytest.approx(1 / 1001)
    # Moved off the lattice, to w1 from 0.50038 to 0.50062; its points are 0.5 and 0.500999.
    shifted = worth + np.array([[0, 0], [0.001, 0.001], [0.0005, 0.0005]])
    moved = weight_sweep(shifted)
    assert moved.win_share[2] == 0
    assert moved.best_leads()[2] > 1e-5
    assert not moved.never[2]


def test_weight_sweep_of_one_option_and_of_one_criterion():
    alone = weight_sweep([[0.3, 0.4]])
    assert alone.win_share.tolist() == [1]
    assert alone.best_leads().tolist() == [np.inf]
    assert alone.suiting(0).tolist() == [0.5, 0.5]
    single = weight_sweep([[1], [2], [2]])
    assert single.win_share.tolist() == [0, 0.5, 0.5]
    assert single.never.tolist() == [True, False, False]


@pytest.mark.parametrize("worth", [[1, 2], np.empty((0, 2)), [[np.nan]], [[0.0] * 10]])
def test_weight_sweep_refuses(worth):
    with pytest.raises(RangeError):
        weight_sweep(worth)


@pytest.mark.parametrize("criteria", range(1, 10))
def test_all_weights_add_to_one_and_treat_all_criteria_alike(criteria):
    found = all_weights(criteria)
    assert found.sum(axis=1) == pytest.approx(np.ones(len(found)))
    assert np.all(found > 0)
    assert found.mean(axis=0) == pytest.approx(np.full(criteria, 1 / criteria))
    assert len({tuple(row) for row in found.tolist()}) == len(found)
    assert not found.flags.writeable


def test_plain_totals_do_not_depend_on_what_stands_beside():
    rng = np.random.default_rng(0)
    worth, weights = rng.normal(size=(40, 5)), rng.dirichlet(np.ones(5))
    whole = plain_totals(worth, weights)
    assert whole == pytest.approx(worth @ weights)
    assert all(plain_totals(worth[n : n + 1], weights)[0] == whole[n] for n in range(40))


@given(WORTHS)
@settings(max_examples=40, deadline=None)
def test_best_leads_are_those_of_a_linear_programme(worth):
    """The same by a solver: max t with Σ w (u_i - u_j) ≥ t for all j, w ≥ 0, Σ w = 1."""
    found = weight_sweep(worth)
    leads = found.best_leads()
    for option in range(len(worth) if len(worth) > 1 else 0):
        gaps = worth[option] - np.delete(worth, option, axis=0)
        size = worth.shape[1]
        solved = linprog(
            [*np.zeros(size), -1], A_ub=np.hstack([-gaps, np.ones((len(gaps), 1))]),
            b_ub=np.zeros(len(gaps)), A_eq=[[*np.ones(size), 0]], b_eq=[1],
            bounds=[(0, None)] * size + [(None, None)],
        )  # fmt: skip
        assert leads[option] == pytest.approx(-solved.fun, abs=1e-9)
        weights = found.suiting(option)
        assert weights.sum() == pytest.approx(1)
        assert (gaps @ weights).min() == pytest.approx(leads[option], abs=1e-9)


@given(WORTHS)
@settings(max_examples=60, deadline=None)
def test_weight_sweep_shares_add_to_one_and_never_means_no_share(worth):
    found = weight_sweep(worth)
    assert found.win_share.sum() == pytest.approx(1)
    assert np.all(found.win_share[found.never] == 0)
    assert np.all(found.best_leads()[found.never] <= 1e-8)
    assert np.all(found.best_leads()[found.win_share > 0] >= -1e-9)


# -- criteria ------------------------------------------------------------------------------------


def test_usual_criteria_have_the_directions_and_units_of_their_outcomes():
    for one in usual_criteria():
        assert one.better == OUTCOMES[one.name].better
        assert one.unit == OUTCOMES[one.name].unit
        assert one.source
        assert (one.worth(one.poor), one.worth(one.excellent)) == (0, 1)
    assert all(OUTCOMES[name].better != "neither" for name in OBJECTIVES)


def test_criterion_of_ones_own_in_any_unit():
    found = criterion("yield_per_area", "0 lb/ft^2", "1 lb/ft^2", "my club")
    assert found.excellent == pytest.approx(4.8824276)
    assert (found.source, found.better) == ("my club", "higher")
    assert criterion("fullest_depth", "20 cm", "0 cm").better == "lower"
    assert criterion("fullest_depth", "0 cm", "20 cm").better == "higher"


@pytest.mark.parametrize(
    ("name", "poor", "excellent", "error"),
    [
        ("no_such", "0 kg", "1 kg", RangeError),
        ("yield_per_area", "0 kg", "1 kg/m^2", UnitError),
        ("yield_per_area", 0, "8 kg/m^2", UnitError),
        ("yield_per_area", ["0 kg/m^2", "1 kg/m^2"], "8 kg/m^2", RangeError),
        ("yield_per_area", "8 kg/m^2", "0 kg/m^2", RangeError),
        ("yield_per_area", "8 kg/m^2", "8 kg/m^2", RangeError),
        ("labour_per_area", "0 hour/m^2", "1 hour/m^2", RangeError),
        ("fullest_depth", "3 cm", "3 cm", RangeError),
    ],
)
def test_criterion_of_ones_own_refuses(name, poor, excellent, error):
    with pytest.raises(error):
        criterion(name, poor, excellent)


def test_criterion_of_ones_own_says_both_bad_anchors_at_once():
    with pytest.raises(ArgumentError) as caught:
        criterion("yield_per_area", "0 kg", "8 m")
    assert len(caught.value.problems) == 2


def test_double_counted_names_what_is_part_of_another():
    assert double_counted(["yield_per_area", "season_water"]) == ()
    found = double_counted(["season_water", "water_per_yield", "labour_per_area"])
    assert found == (("season_water", "water_per_yield"),)
