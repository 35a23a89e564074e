"""Chances of being best, payoffs, regret and the mean of the worst draws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from scenariokit import quantity
from scenariokit.decide import (
    best_share,
    mean_of_worst,
    normal_loss,
    payoffs,
    picks,
    regret_quantiles,
    regrets,
)
from scenariokit.decide.regret import best_of
from scenariokit.errors import RangeError

OWN = [[60, 40, 10], [90, 30, -30], [20, 20, 20]]
OWN_CHANCES = [0.3, 0.5, 0.2]
"""Worked by hand: means 18+20+2 = 40, 27+15-6 = 36, 20; best of each state 90, 40, 20."""
SLIDES = [[1500, 300, -800], [900, 600, -200], [500, 500, 500]]
SLIDES_CHANCES = [0.5, 0.3, 0.2]
"""The example of the article on the expected value of perfect information in Wikipedia, seen in
lecture slides that quote it: means 680, 590, 500; with knowledge 1030; its value 350."""
DRAWS = hnp.arrays(
    float, st.tuples(st.integers(1, 5), st.integers(1, 12)), elements=st.integers(-5, 5)
)


def test_best_share_shares_ties_equally():
    """By hand: draws won by the first, the second, both, the first."""
    assert best_share([[3, 1, 2, 5], [1, 2, 2, 4]]).tolist() == [0.625, 0.375]


def test_best_share_where_lower_is_better():
    assert best_share([[3, 1], [1, 2]], "lower").tolist() == [0.5, 0.5]
    assert best_share([[3, 3], [1, 2]], "lower").tolist() == [0, 1]


def test_best_share_missing_is_never_best():
    assert best_share([[np.nan, 1], [0, 0]]).tolist() == [0.5, 0.5]
    assert best_share([[np.nan, 1], [np.nan, 0]], "lower").tolist() == [0.0, 0.5]


def test_best_share_of_a_quantity_does_not_care_about_the_unit():
    kilograms = quantity(np.array([[3.0, 1.0], [1.0, 2.0]]), "kg")
    assert best_share(kilograms.to("lb")).tolist() == best_share(kilograms).tolist() == [0.5, 0.5]


def test_payoffs_worked_by_hand():
    found = payoffs(OWN, probabilities=OWN_CHANCES)
    assert found.expected == pytest.approx([40, 36, 20])
    assert found.expected_regret == pytest.approx([11, 15, 31])
    assert found.greatest_regret.tolist() == [30, 50, 70]
    assert found.worst.tolist() == [10, -30, 20]
    assert found.perfect == pytest.approx(51)
    assert found.value_of_knowing == pytest.approx(11)


def test_payoffs_published_value_of_perfect_information():
    found = payoffs(SLIDES, probabilities=SLIDES_CHANCES)
    assert found.expected == pytest.approx([680, 590, 500])
    assert found.perfect == pytest.approx(1030)
    assert found.value_of_knowing == pytest.approx(350)


def test_payoffs_of_costs_are_those_of_their_negatives():
    costs = payoffs(-np.array(OWN), "lower", OWN_CHANCES)
    gains = payoffs(OWN, "higher", OWN_CHANCES)
    assert costs.expected == pytest.approx(-gains.expected)
    assert costs.worst.tolist() == (-gains.worst).tolist()
    assert costs.perfect == pytest.approx(-gains.perfect)
    assert costs.expected_regret == pytest.approx(gains.expected_regret)


def test_payoffs_and_regrets_give_quantities_back():
    money = quantity(np.array(OWN, dtype=float), "money/m^2")
    found = payoffs(money, probabilities=OWN_CHANCES)
    assert found.value_of_knowing.to("money/m^2").m == pytest.approx(11)
    assert regrets(money).units == money.units
    assert regret_quantiles(money, [1.0]).m[:, 0].tolist() == [30, 50, 70]
    assert mean_of_worst(money, 1.0).m == pytest.approx(np.mean(OWN, axis=1))


def test_payoffs_refuse_chances_that_are_none():
    for chances in ([0.5, 0.5], [0.6, 0.6, -0.2], [0.3, 0.3, 0.3], [np.nan, 0.5, 0.5]):
        with pytest.raises(RangeError, match="add to 1"):
            payoffs(OWN, probabilities=chances)


def test_payoffs_without_chances_take_all_alike():
    assert payoffs(OWN).expected == pytest.approx(np.mean(OWN, axis=1))


@pytest.mark.parametrize(
    "function", [best_share, payoffs, regrets, regret_quantiles, mean_of_worst]
)
@pytest.mark.parametrize("values", [[1, 2], [[1, np.inf]], np.empty((0, 3)), np.empty((2, 0))])
def test_tables_refuse(function, values):
    with pytest.raises(RangeError):
        function(values)


@pytest.mark.parametrize("function", [payoffs, regrets, regret_quantiles, mean_of_worst])
def test_tables_refuse_missing_values(function):
    with pytest.raises(RangeError, match="1 of 2: are NaN"):
        function([[1, np.nan]])


def test_tables_say_all_that_is_wrong_at_once():
    with pytest.raises(RangeError) as caught:
        payoffs([[np.inf, np.nan]], "neither")
    assert len(caught.value.problems) == 3


def test_picks_of_three_rules_by_hand():
    found = picks(OWN, probabilities=OWN_CHANCES)
    assert (found.on_average, found.at_worst, found.least_greatest_regret) == ((0,), (2,), (0,))
    assert picks([[1, 2], [2, 1]]).on_average == (0, 1)
    assert picks([[1, 5], [2, 2]], "lower").at_worst == (1,)


def test_picks_by_greatest_regret_may_turn_when_a_third_is_added():
    """By hand. Two: regrets 0,4 and 3,0. The third wins the second state by 5: 9 and 5..."""
    two = [[8, 1], [5, 5]]
    assert picks(two).least_greatest_regret == (1,)
    assert picks([*two, [14, 0]]).least_greatest_regret == (2,)
    assert picks([*two, [11, 1]]).least_greatest_regret == (0, 2)


def test_regret_quantiles_are_those_of_numpy():
    values = np.random.default_rng(1).normal(size=(4, 101))
    levels = [0, 0.31, 0.5, 0.95, 1]
    expected = np.quantile(regrets(values), levels, axis=1).T
    assert regret_quantiles(values, levels) == pytest.approx(expected)


@pytest.mark.parametrize("levels", [[-0.1], [1.1], [np.nan]])
def test_regret_quantiles_refuse_what_is_no_probability(levels):
    with pytest.raises(RangeError, match="levels"):
        regret_quantiles(OWN, levels)


def test_mean_of_worst_counts_a_part_of_a_draw():
    """By hand: a quarter of 6 draws is one and a half: (1 + 2/2) / 1.5."""
    assert mean_of_worst([[6, 5, 4, 3, 2, 1]], 0.25) == pytest.approx([2 / 1.5])
    assert mean_of_worst([[6, 5, 4, 3, 2, 1]], 0.25, "lower") == pytest.approx([(6 + 2.5) / 1.5])
    assert mean_of_worst([[3, 1, 2]], 1.0).tolist() == [2]
    assert mean_of_worst([[3, 1, 2]], 1e-6) == pytest.approx([1])


@pytest.mark.parametrize("share", [0, -0.1, 1.1, np.nan])
def test_mean_of_worst_refuses_what_is_no_share(share):
    with pytest.raises(RangeError, match="share"):
        mean_of_worst(OWN, share)


def test_normal_loss_of_the_unit_normal():
    """sd (phi(u) - u Q(u)) at mean 2 and sd 4, computed: 0.791186."""
    assert normal_loss(2, 4) == pytest.approx(0.791186, abs=5e-7)
    assert normal_loss(-2, 4) == normal_loss(2, 4)
    assert normal_loss(0, 1) == pytest.approx(1 / np.sqrt(2 * np.pi))
    assert normal_loss(5, 0) == 0


@pytest.mark.parametrize(("gap", "deviation"), [(1, -1), (1, np.inf), (np.nan, 1), (1, np.nan)])
def test_normal_loss_refuses(gap, deviation):
    with pytest.raises(RangeError):
        normal_loss(gap, deviation)


def test_best_of_takes_rounding_as_equal():
    assert best_of([0.1 + 0.2, 0.3]) == (0, 1)
    assert best_of([-1, -1.1]) == (0,)
    assert best_of([0.0, 0.0]) == (0, 1)


@given(DRAWS, st.sampled_from(["higher", "lower"]))
@settings(max_examples=80, deadline=None)
def test_best_shares_add_to_one_and_regret_is_zero_for_somebody(values, better):
    assert best_share(values, better).sum() == pytest.approx(1)
    short = regrets(values, better)
    assert np.all(short >= 0)
    assert np.all(short.min(axis=0) == 0)
    assert np.array_equal(short == 0, values == (
        values.max(axis=0) if better == "higher" else values.min(axis=0)
    ))  # fmt: skip


@given(DRAWS, st.sampled_from(["higher", "lower"]))
@settings(max_examples=60, deadline=None)
def test_least_expected_regret_is_the_best_mean_and_the_value_of_knowing(values, better):
    found = payoffs(values, better)
    sign = 1 if better == "higher" else -1
    gaps = sign * found.expected + found.expected_regret
    assert gaps == pytest.approx(np.full(len(values), sign * found.perfect))
    best = (sign * found.expected).max()
    assert found.value_of_knowing == pytest.approx(sign * found.perfect - best)


@given(DRAWS, st.integers(1, 3))
@settings(max_examples=60, deadline=None)
def test_adding_an_option_that_loses_everywhere_changes_nothing(values, worse):
    more = np.vstack([values, values[0] - worse])
    assert np.array_equal(best_share(more)[:-1], best_share(values))
    assert best_share(more)[-1] == 0
    assert np.array_equal(regrets(more)[:-1], regrets(values))
    one, other = payoffs(values), payoffs(more)
    assert np.array_equal(np.argsort(one.greatest_regret, kind="stable"),
                          np.argsort(other.greatest_regret[:-1], kind="stable"))  # fmt: skip
    assert other.value_of_knowing == pytest.approx(one.value_of_knowing)
