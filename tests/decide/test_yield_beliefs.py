"""What is thought of yields: from harvests, from draws, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plain_methods import plain

from scenariokit import quantity
from scenariokit.decide.yield_beliefs import YieldBelief, belief_from, belief_of
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.scenario import evaluate, scenario_for, with_values
from scenariokit.uncertainty import (
    Cause,
    Ensemble,
    Uncertain,
    Uncertainty,
    ensemble,
    normal,
    pert,
    usual_uncertainty,
)

BAG, POTS = plain("medium_bag", hours=0.05), plain("wedge_pots", harvest=4.0)
OUTCOMES = ("margin_per_area", "yield_per_area")


def numbers(**changes):
    given = {
        "methods": ("a", "b"),
        "margins": quantity(np.array([1.0, -2.0]), "money/m^2"),
        "yields": quantity(np.array([5.0, 4.0]), "kg/m^2"),
        "deviations": quantity(np.array([1.0, 0.0]), "kg/m^2"),
        "worth": quantity(np.array([2.0, 2.0]), "money/kg"),
    }
    return {**given, **changes}


def test_yield_belief_keeps_its_numbers_in_its_own_units():
    found = YieldBelief(**numbers(yields=quantity(np.array([5000.0, 4000.0]), "g/m^2")))
    assert found.yields.m == pytest.approx([5.0, 4.0])
    assert f"{found.yields.units:~}" == "kg / m ** 2"
    assert found.season.m.tolist() == [0.0, 0.0]


def test_yield_belief_all_that_is_wrong_at_once():
    with pytest.raises(ArgumentError) as caught:
        YieldBelief(
            ("a", "a"), quantity(np.array([1.0, math.nan]), "money/m^2"),
            quantity(np.array([5.0, -4.0]), "kg/m^2"), quantity(np.array([1.0]), "kg/m^2"),
            quantity(np.array([1.0, 2.0]), "money"), quantity(np.zeros((2, 3)), "kg/m^2"),
        )  # fmt: skip
    fields = [problem.field for problem in caught.value.problems]
    assert fields == ["methods", "margins", "yields", "deviations", "worth", "season"]


def test_yield_belief_without_a_method_is_refused():
    with pytest.raises(ArgumentError, match="do not name methods"):
        YieldBelief(**numbers(methods=()))


def test_belief_of_a_pert_harvest_by_hand():
    """Harvest 4, 5, 6: mean 5, variance (5 - 4)(6 - 5) / 7; the season has 0.36 of it."""
    found = belief_of([BAG])
    deviation = math.sqrt(1 / 7)
    assert found.methods == ("medium_bag",)
    assert found.yields.m == pytest.approx([5.0])
    assert found.deviations.m == pytest.approx([0.8 * deviation], rel=1e-6)
    assert found.season.m == pytest.approx([0.6 * deviation], rel=1e-6)
    crop, prices = BAG.crop, BAG.prices
    sold = crop.marketable_share.m * (1 - crop.loss_share.m)
    assert found.worth.m == pytest.approx([sold * prices.produce_price.m])
    assert found.margins.m == pytest.approx([evaluate(BAG)["margin_per_area"].m])


def test_belief_of_a_lopsided_harvest_moves_the_margin_to_the_mean_yield():
    one = with_values(BAG, {"harvest.high": "11 kg/m^2", "harvest.low": "2 kg/m^2"})
    found = belief_of([one], season=0.0)
    assert found.yields.m == pytest.approx([5.5])  # (2 + 4 · 5 + 11) / 6
    assert found.deviations.m == pytest.approx([math.sqrt(2.75)], rel=1e-6)
    more = found.margins.m[0] - evaluate(one)["margin_per_area"].m
    assert more == pytest.approx(0.5 * found.worth.m[0])
    assert found.season.m.tolist() == [0.0]


def test_belief_of_a_salty_feed_has_what_is_left_of_yield_and_doubt():
    fresh, salty = belief_of([BAG]), with_values(BAG, {"feed.ec": "3 dS/m"})
    found = belief_of([salty])
    left = evaluate(salty)["salinity_factor"].m
    assert left < 0.95
    assert found.yields.m == pytest.approx(left * fresh.yields.m)
    assert found.deviations.m == pytest.approx(left * fresh.deviations.m)


def test_belief_of_a_method_that_yields_nothing_has_no_doubt():
    none = with_values(
        POTS, {f"harvest.{end}": "0 kg/m^2" for end in ("low", "typical", "high")}
    )  # fmt: skip
    found = belief_of([BAG, none])
    assert (found.yields.m[1], found.deviations.m[1], found.worth.m[1]) == (0, 0, 0)
    assert found.margins.m[1] == pytest.approx(evaluate(none)["margin_per_area"].m)


@pytest.mark.parametrize("season", [-0.1, 1.1, math.nan])
def test_belief_of_a_season_that_is_no_correlation_is_refused(season):
    with pytest.raises(RangeError, match="is no correlation"):
        belief_of([BAG], season)


def test_belief_of_scenarios_that_cannot_stand_side_by_side_is_refused():
    with pytest.raises(InfeasibleError, match="stands twice"):
        belief_of([BAG, BAG])


def test_belief_from_draws_finds_the_spreads_that_were_drawn():
    """Normal yields with 0.6 of their score from the season: 0.8 and 0.6 of each deviation."""
    uncertainty = Uncertainty(
        (
            Uncertain("harvest.typical", normal("5 kg/m^2", "0.5 kg/m^2"), method="medium_bag",
                      cause="season", strength=0.6),
            Uncertain("harvest.typical", normal("4 kg/m^2", "0.3 kg/m^2"), method="wedge_pots",
                      cause="season", strength=-0.6),
            Uncertain("site.climate_factor", pert(0.7, 1, 1.4), relative=True, cause="season",
                      strength=-0.5),
        ),
        (Cause("market", "Market"), Cause("season", "Season")),
    )  # fmt: skip
    found = belief_from(ensemble([BAG, POTS], uncertainty, 2048, outcomes=OUTCOMES))
    assert found.methods == ("medium_bag", "wedge_pots")
    assert found.yields.m == pytest.approx([5.0, 4.0], rel=1e-3)
    assert found.deviations.m == pytest.approx([0.4, 0.24], rel=0.01)
    assert found.season.m[0].tolist() == [0.0, 0.0]
    assert found.season.m[1] == pytest.approx([0.3, -0.18], rel=0.01)
    sold = BAG.crop.marketable_share.m * (1 - BAG.crop.loss_share.m)
    assert found.worth.m == pytest.approx([sold * BAG.prices.produce_price.m] * 2, rel=1e-3)


def test_belief_from_draws_is_near_that_of_the_harvests():
    both = [scenario_for("medium_bag"), scenario_for("wedge_pots")]
    drawn = belief_from(ensemble(both, usual_uncertainty(both), 2048, outcomes=OUTCOMES))
    stated = belief_of(both)
    assert drawn.deviations.m == pytest.approx(stated.deviations.m, rel=0.02)
    assert drawn.season.m[0] == pytest.approx(stated.season.m, rel=0.03)
    assert drawn.worth.m == pytest.approx(stated.worth.m, rel=0.03)


def test_belief_from_draws_without_a_cause_has_no_season():
    one = Uncertain("harvest.typical", normal("5 kg/m^2", "0.5 kg/m^2"), method="medium_bag")
    found = belief_from(ensemble([BAG, POTS], Uncertainty((one,)), 256, outcomes=OUTCOMES))
    assert found.season.m.tolist() == [[0.0, 0.0]]
    assert found.deviations.m == pytest.approx([0.5, 0.0], rel=0.02)


def test_belief_from_draws_of_other_numbers_is_refused():
    price = Uncertainty((Uncertain("prices.produce_price", pert(0.8, 1, 1.2), relative=True),))
    drawn = ensemble([BAG, POTS], price, 64, outcomes=OUTCOMES)
    with pytest.raises(InfeasibleError, match="no yield is uncertain"):
        belief_from(drawn)
    lacking = Ensemble(drawn.scenarios, price, 0, {"margin_per_area": drawn.floats(OUTCOMES[0])})
    with pytest.raises(InfeasibleError, match="was not drawn"):
        belief_from(lacking)
    rows = {name: np.full((2, 64), np.nan) for name in OUTCOMES}
    with pytest.raises(InfeasibleError, match="no value in some draws"):
        belief_from(Ensemble(drawn.scenarios, price, 0, rows))


def test_belief_from_draws_of_a_fixed_yield_has_no_worth():
    one = Uncertain("harvest.typical", normal("5 kg/m^2", "0.5 kg/m^2"), method="medium_bag")
    still = Uncertain("harvest.typical", normal("4 kg/m^2", "0 kg/m^2"), method="wedge_pots")
    found = belief_from(ensemble([BAG, POTS], Uncertainty((one, still)), 64, outcomes=OUTCOMES))
    assert (found.deviations.m[1], found.worth.m[1]) == (0.0, 0.0)
