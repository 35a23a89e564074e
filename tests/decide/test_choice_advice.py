"""Advice: limits, front, who is chosen by which rule, how sure, and what is not known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from scenariokit import quantity
from scenariokit.decide import (
    Wishes,
    advise,
    criterion,
    mean_of_worst,
    regret_quantiles,
    regrets,
    usual_criteria,
)
from scenariokit.decide.advice import CLEAR, LIKELY
from scenariokit.decide.leaning import direction_of
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.scenario import compare, scenario_for
from scenariokit.uncertainty import Ensemble, Uncertainty, ensemble, usual_uncertainty

IDS = ("medium_bag", "wedge_pots", "paper_wrap", "field_soil")
SCENARIOS = [scenario_for(name) for name in IDS]
EVALUATIONS = tuple(compare(SCENARIOS))
BAG, POTS, PAPER, SOIL = IDS


def drawn(margins, **outcomes):
    """Return an ensemble of made-up draws of the first methods."""
    rows = {"margin_per_area": np.array(margins, dtype=float)}
    rows["yield_per_area"] = np.zeros_like(rows["margin_per_area"])
    rows |= {name: np.array(values, dtype=float) for name, values in outcomes.items()}
    return Ensemble(tuple(SCENARIOS[: len(margins)]), Uncertainty(()), 0, rows)


def advice_on(margins, limits=None, *, outcomes=None, **more):
    return advise(drawn(margins, **(outcomes or {})), EVALUATIONS[: len(margins)], limits, **more)


# -- the rule of the mean ---------------------------------------------------------------------------

THREE = [[4, 1, 7, 0], [3, 3, 3, 2], [0, 0, 0, 0]]
"""By hand: means 3, 2.75, 0. Best by draw 4 3 7 2; regrets of the first 0 2 0 2, mean 1, of the
second 1 0 4 0, mean 1.25, of the third 4 3 7 2, mean 4."""


def test_advice_by_the_mean_by_hand():
    found = advice_on(THREE)
    assert (found.chosen, found.runner_up) == (BAG, POTS)
    assert [one.mean.m for one in found.standings] == [3, 2.75, 0]
    assert [one.regret.m for one in found.standings] == [1, 1.25, 4]
    assert [one.best for one in found.standings] == [0.5, 0.5, 0]
    assert found.knowing.m == 1
    assert found.beats == 0.5
    assert found.mean_gap.m == pytest.approx(0.25)
    assert found.gap.m == pytest.approx(np.quantile([1, -2, 4, -2], [0.05, 0.5, 0.95]))
    assert (found.grade, found.dominance, found.tied) == ("open", "", (BAG,))
    assert found.dominances == ((BAG, PAPER, "first order"), (POTS, PAPER, "first order"))
    assert (found.leaning, found.measured, found.draws) == ("average", "margin_per_area", 4)
    assert found.standing(POTS).low.m == pytest.approx(np.quantile(THREE[1], 0.05))
    assert found.standing(POTS).high.m == pytest.approx(np.quantile(THREE[1], 0.95))
    assert found.standing(BAG).regret_high.m == pytest.approx(np.quantile([0, 2, 0, 2], 0.95))
    assert found.standing(BAG).mean.check("[currency]/[length]**2")


def test_advice_where_lower_is_better():
    """By hand: means 3, 2.75 and 0 are costs now; the worst tenth is the highest cost."""
    costs = {"cost_per_area": THREE}
    found = advice_on(THREE, outcomes=costs, objective="cost_per_area", criteria=["cost_per_area"])
    assert (found.chosen, found.runner_up) == (PAPER, POTS)
    assert found.standing(BAG).worst.m == 7
    assert found.standing(BAG).low.m == pytest.approx(np.quantile(THREE[0], 0.05))
    assert found.standing(BAG).high.m == pytest.approx(np.quantile(THREE[0], 0.95))
    assert found.standing(BAG).regret.m == 3
    assert found.mean_gap.m == -2.75
    assert (found.beats, found.grade, found.dominance) == (1.0, "clear", "first order")
    assert found.standing(PAPER).on_front
    assert found.standing(POTS).beaten_by == (PAPER,)


@pytest.mark.parametrize(("wins", "grade"), [(20, "clear"), (18, "clear"), (17, "likely"),
                                             (14, "likely"), (13, "open"), (11, "open")])  # fmt: skip
def test_advice_grades_by_how_often_the_first_is_better(wins, grade):
    first = np.where(np.arange(20) < wins, 1.0, -1.0)
    found = advice_on([first, np.zeros(20)])
    assert found.beats == pytest.approx(wins / 20)
    assert found.grade == grade
    assert (CLEAR, LIKELY) == (0.9, 0.7)


def test_advice_says_when_the_chosen_one_is_seldom_better():
    found = advice_on([[10, 0, 0, 0], [1, 1, 1, 1]])
    assert (found.chosen, found.beats, found.grade) == (BAG, 0.25, "open")
    assert found.seldom_better
    assert not advice_on([[1, 1], [0, 0]]).seldom_better
    assert not advice_on([[1, 1]]).seldom_better


# -- ends ----------------------------------------------------------------------------------------


def test_advice_on_one_method_is_alone():
    found = advice_on([[1, 3]])
    assert (found.chosen, found.runner_up, found.grade, found.beats) == (BAG, "", "alone", 1.0)
    assert np.isnan(found.gap.m).all()
    assert math.isnan(found.mean_gap.m)
    assert found.knowing.m == 0
    assert found.dominances == ()
    assert found.standings[0].best == 1


def test_advice_with_all_ruled_out_is_none():
    found = advice_on(THREE, {"most_load": "0 kg/m^2", "least_yield": "9 kg/m^2"})
    assert (found.chosen, found.runner_up, found.grade, found.beats) == ("", "", "none", 0.0)
    assert found.tied == ()
    assert found.price_of_limits is None
    assert all(not one.left and one.breaches and not one.on_front for one in found.standings)
    assert [one.mean.m for one in found.standings] == [3, 2.75, 0]
    assert all(math.isnan(one.regret.m) and one.best == 0 for one in found.standings)


def test_advice_with_all_tied_is_open_and_names_them_all():
    found = advice_on([[1, 2], [2, 1], [1.5, 1.5]])
    assert found.tied == (BAG, POTS, PAPER)
    assert (found.chosen, found.grade) == (BAG, "open")
    equal = advice_on([[1, 2], [1, 2]])
    assert (equal.chosen, equal.runner_up, equal.beats, equal.grade) == (BAG, POTS, 0.5, "open")
    assert [one.best for one in equal.standings] == [0.5, 0.5]
    assert not equal.seldom_better
    assert equal.dominances == ()


def test_advice_among_equals_takes_one_on_the_front_then_one_that_is_best_more_often():
    yields = {"yield_per_area": [[1, 1], [2, 2], [2, 2]]}
    found = advice_on([[1, 1]] * 3, outcomes=yields)
    assert (found.chosen, found.tied) == (POTS, (BAG, POTS, PAPER))
    assert found.standing(BAG).beaten_by == (POTS, PAPER)
    often = advice_on([[3, 0, 0], [0, 1, 2]])
    assert (often.chosen, often.tied) == (POTS, (BAG, POTS))


def test_advice_sets_aside_what_has_no_value_in_some_draw():
    found = advice_on([[np.nan, 9, 9, 9], [1, 1, 1, 1], [np.nan] * 4])
    bag, _, paper = found.standings
    assert (found.chosen, found.grade) == (POTS, "alone")
    assert (bag.undefined, bag.left, bag.within, bag.mean.m) == (0.25, False, True, 9)
    assert (bag.low.m, bag.high.m) == (9, 9)
    assert math.isnan(bag.worst.m)
    assert paper.undefined == 1
    assert math.isnan(paper.mean.m)
    assert math.isnan(paper.low.m)
    costs = {"cost_per_kilogram": [[np.nan, 3, 5, 4], [1, 1, 1, 1]]}
    lower = advice_on(THREE[:2], outcomes=costs, objective="cost_per_kilogram",
                      criteria=["cost_per_kilogram"])  # fmt: skip
    assert lower.standing(BAG).mean.m == 4
    assert lower.standing(BAG).low.m == pytest.approx(3.1)


def test_advice_marks_what_cannot_be_compared_on_the_front():
    days = {"autonomy": [[2, 2], [np.nan, np.nan], [3, 3]]}
    found = advice_on([[1, 1], [5, 5], [0, 0]], outcomes=days,
                      criteria=["margin_per_area", "autonomy"])  # fmt: skip
    pots = found.standing(POTS)
    assert (found.chosen, pots.on_front, pots.beaten_by) == (POTS, False, ())
    assert pots.not_compared == ("autonomy",)
    assert pots.front_share == 0
    assert found.standing(BAG).front_share == 1


# -- limits and lacks ----------------------------------------------------------------------------


def test_advice_within_limits_says_what_they_cost():
    found = advice_on(THREE, {"most_medium": "20 L/m^2"})
    assert found.chosen == POTS
    assert [one.limit.id for one in found.standing(BAG).breaches] == ["most_medium"]
    assert found.price_of_limits.method == BAG
    assert found.price_of_limits.lead.m == pytest.approx(0.25)
    assert found.standing(POTS).best == pytest.approx(1.0)
    kept = advice_on(THREE, {"least_yield": "4 kg/m^2"})
    assert kept.chosen == BAG
    assert [one.left for one in kept.standings] == [True, True, False]
    assert kept.price_of_limits is None


def test_advice_sets_aside_what_needs_what_cannot_be_had():
    found = advice_on(THREE, wishes=Wishes(lacking={"no_medium": True}))
    assert (found.chosen, found.grade) == (PAPER, "alone")
    assert [one.kind.id for one in found.standing(BAG).lacks] == ["no_medium"]
    assert found.price_of_limits.method == BAG


def test_advice_tells_of_limits_that_are_broken_in_some_draws():
    days = {"autonomy": [[1, 3, 3, 3], [3, 3, 3, 3], [3, 3, 3, 3]]}
    given = {"least_days": "2 day"}
    found = advice_on(THREE, given, outcomes=days)
    (risk,) = found.standing(BAG).at_risk
    assert (found.chosen, risk.share, risk.broken) == (BAG, 0.25, False)
    strict = advice_on(THREE, given, outcomes=days, wishes=Wishes(tolerated=0.1))
    assert strict.chosen == POTS
    assert strict.standing(BAG).breaches[0].needed.m == 1
    loose = advice_on(THREE, given, outcomes=days, wishes=Wishes(tolerated=0.25))
    assert loose.chosen == BAG


# -- other rules ---------------------------------------------------------------------------------


def test_advice_to_the_cautious_takes_the_best_bad_draws():
    """By hand: of ten draws one is the worst tenth: -5 and 1."""
    risky, steady = [-5, *[9] * 9], [1, *[2] * 9]
    assert advice_on([risky, steady]).chosen == BAG
    found = advice_on([risky, steady], wishes=Wishes("cautious"))
    assert (found.chosen, found.beats) == (POTS, 0.1)
    assert found.seldom_better
    assert found.standing(POTS).worst.m == 1
    assert found.leaning == "cautious"


def test_advice_by_regret_takes_the_least_high_regret():
    """By hand: regrets of the first 0 and, once in ten draws, 30; of the second 9 and 0."""
    first, second = [*[10] * 9, 0], [*[5] * 9, 30]
    found = advice_on([first, second], wishes=Wishes("regret"))
    assert (found.chosen, found.standing(POTS).regret_high.m) == (POTS, 5)
    assert found.standing(BAG).regret_high.m > 5


def test_advice_by_weights_puts_worth_in_order():
    """By hand, equal weights: yields 4 of 8 and 6 of 8, costs 1 and 3 of 4: 0.625 and 0.5."""
    criteria = (
        criterion("yield_per_area", "0 kg/m^2", "8 kg/m^2"),
        criterion("cost_per_kilogram", "4 money/kg", "0 money/kg"),
    )
    rows = {"yield_per_area": [[4, 4], [6, 6]], "cost_per_kilogram": [[1, 1], [3, 3]]}
    weights = {"yield_per_area": 5, "cost_per_kilogram": 5}
    wishes = Wishes("weighted", weights, criteria)
    found = advice_on([[0, 0], [9, 9]], outcomes=rows, wishes=wishes)
    assert (found.chosen, found.measured) == (BAG, "worth")
    assert [one.mean.m for one in found.standings] == pytest.approx([0.625, 0.5])
    assert found.standings[0].mean.dimensionless
    assert found.weighing.total == pytest.approx([0.625, 0.5])
    assert found.weighing.win_share == pytest.approx([2 / 3, 1 / 3], abs=1e-3)
    assert found.weighed == (BAG, POTS)
    assert found.counted_twice == (("yield_per_area", "cost_per_kilogram"),)
    assert found.price_of_limits is None
    only = Wishes("weighted", {"yield_per_area": 1, "cost_per_kilogram": 0}, criteria)
    assert advice_on([[0, 0], [9, 9]], outcomes=rows, wishes=only).chosen == POTS


def test_advice_by_weights_leaves_out_what_counts_for_nothing():
    """A criterion of weight 0 may lack values; the weighing then leaves that method out."""
    criteria = (
        criterion("yield_per_area", "0 kg/m^2", "8 kg/m^2"),
        criterion("autonomy", "0 day", "10 day"),
    )
    rows = {"yield_per_area": [[4, 4], [6, 6]], "autonomy": [[3, 3], [np.nan, np.nan]]}
    wishes = Wishes("weighted", {"yield_per_area": 1, "autonomy": 0}, criteria)
    found = advice_on([[0, 0], [0, 0]], outcomes=rows, wishes=wishes)
    assert (found.chosen, found.weighed) == (POTS, (BAG,))
    both = Wishes("weighted", {"yield_per_area": 1, "autonomy": 1}, criteria)
    assert advice_on([[0, 0], [0, 0]], outcomes=rows, wishes=both).chosen == BAG
    nobody = advice_on([[0, 0], [0, 0]], {"least_yield": "9 kg/m^2"}, outcomes=rows, wishes=both)
    assert (nobody.weighing, nobody.weighed) == (None, ())


def test_wishes_with_weights_take_the_usual_criteria_that_are_named():
    wishes = Wishes(weights={"yield_per_area": 3, "margin_per_area": 1})
    assert [one.name for one in wishes.weighed] == ["margin_per_area", "yield_per_area"]
    assert wishes.shares().tolist() == [0.25, 0.75]
    assert Wishes().weighed == ()
    found = advice_on(THREE, wishes=wishes)
    assert found.leaning == "average"
    assert found.weighing.weights.tolist() == [0.25, 0.75]
    assert advice_on(THREE).weighing is None


@pytest.mark.parametrize(
    "wishes",
    [
        Wishes("weighted"), Wishes("often"), Wishes(weights={"no_such": 1}),
        Wishes(weights={"yield_per_area": 0}), Wishes(weights={"yield_per_area": -1}),
        Wishes(weights={}), Wishes(tolerated=1.0), Wishes(lacking={"no_such": True}),
        Wishes(weights={"yield_per_area": 1}, criteria=usual_criteria()),
    ],
)  # fmt: skip
def test_advice_refuses_wishes(wishes):
    with pytest.raises(ArgumentError):
        advice_on(THREE, wishes=wishes)


def test_advice_refuses_what_does_not_fit():
    with pytest.raises(InfeasibleError, match="not those"):
        advise(drawn(THREE), EVALUATIONS[:2])
    with pytest.raises(InfeasibleError, match="was not drawn"):
        advice_on(THREE, objective="season_water")
    with pytest.raises(InfeasibleError, match="was not drawn"):
        advice_on(THREE, criteria=["season_water"])
    with pytest.raises(InfeasibleError, match="more or less"):
        advice_on(THREE, outcomes={"fullest_depth": THREE}, objective="fullest_depth")
    with pytest.raises(InfeasibleError, match="no outcome"):
        direction_of("no_such")
    with pytest.raises(RangeError, match="criteria"):
        advice_on(THREE, criteria=[])
    with pytest.raises(InfeasibleError, match="no limit"):
        advice_on(THREE, {"no_such": "1 cm"})
    with pytest.raises(InfeasibleError, match="no method"):
        advice_on(THREE).standing("no_such")


# -- what it rests on ----------------------------------------------------------------------------


def test_advice_of_real_draws_carries_its_basis():
    usual = usual_uncertainty(SCENARIOS)
    found = advise(ensemble(SCENARIOS, usual, 64, seed=3), EVALUATIONS)
    assert found.basis.assumptions == usual.assumptions()
    assert (found.basis.draws, found.basis.seed) == (64, 3)
    kinds = [one.kind for one in found.basis.unknowns]
    assert kinds == ["invented yield", "invented method", "invented site", "invented prices",
                     "crop from memory"]  # fmt: skip
    assert found.basis.unknowns[0].methods == IDS
    assert found.basis.unknowns[-1].details == ("Potato",)
    assert sum(one.best for one in found.standings) == pytest.approx(1)


# -- properties ----------------------------------------------------------------------------------

MARGINS = hnp.arrays(
    float, st.tuples(st.integers(1, 4), st.integers(1, 8)), elements=st.integers(-4, 4)
)


@given(MARGINS, st.sampled_from(["average", "cautious", "regret"]))
@settings(max_examples=60, deadline=None)
def test_advice_chooses_the_best_score(margins, leaning):
    found = advice_on(margins, wishes=Wishes(leaning))
    scores = {
        "average": margins.mean(axis=1),
        "cautious": mean_of_worst(margins, 0.1),
        "regret": -regret_quantiles(margins, [0.95])[:, 0],
    }[leaning]
    assert scores[IDS.index(found.chosen)] == pytest.approx(scores.max())
    assert sum(one.best for one in found.standings) == pytest.approx(1)
    assert [one.regret.m for one in found.standings] == pytest.approx(regrets(margins).mean(axis=1))
    assert found.knowing.m == pytest.approx(margins.max(axis=0).mean() - margins.mean(axis=1).max())
    assert any(one.on_front for one in found.standings)


@given(hnp.arrays(float, (3, 6), elements=st.integers(-4, 4)),
       st.sampled_from(["average", "cautious", "regret"]), st.integers(1, 3))  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_advice_does_not_change_when_a_method_that_loses_everywhere_is_added(
    margins, leaning, worse
):
    more = np.vstack([margins, margins[0] - worse])
    one, other = (advice_on(table, wishes=Wishes(leaning)) for table in (margins, more))
    assert (other.chosen, other.tied) == (one.chosen, one.tied)
    for mine, theirs in zip(one.standings, other.standings, strict=False):
        assert theirs.best == mine.best
        assert theirs.regret.m == mine.regret.m
    assert other.standings[-1].best == 0


@given(MARGINS, st.sampled_from([0.01, 1.0, 250.0]))
@settings(max_examples=40, deadline=None)
def test_advice_does_not_care_about_the_size_of_money(margins, factor):
    one, other = advice_on(margins), advice_on(margins * factor)
    assert (one.chosen, one.grade, one.tied) == (other.chosen, other.grade, other.tied)
    assert other.knowing.m == pytest.approx(factor * one.knowing.m)


def test_advice_takes_limits_as_quantities_or_text():
    text = advice_on(THREE, {"most_medium": "20 L/m^2"})
    given = advice_on(THREE, {"most_medium": quantity(0.02, "m^3/m^2")})
    assert text.chosen == given.chosen == POTS
