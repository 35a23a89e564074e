"""What is worth finding out: drivers, inputs, groups and trials of methods that were drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.decide import learning
from scenariokit.decide.driver_shares import groups_by_cause
from scenariokit.decide.information import unit_normal_loss
from scenariokit.decide.learning import (
    DriverValue,
    best_trial,
    trial_values,
    value_of_knowing_all,
    value_of_learning,
    values_of_inputs,
    values_of_learning,
)
from scenariokit.decide.trial_value import TrialTerms, trial_value_curve, value_of_yields
from scenariokit.decide.yield_beliefs import belief_from
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.scenario import scenario_for
from scenariokit.uncertainty import (
    Cause,
    Ensemble,
    Uncertain,
    Uncertainty,
    draw_scores,
    ensemble,
    pert,
    usual_uncertainty,
)

BAG, POTS, TRAY = (scenario_for(name) for name in ("medium_bag", "wedge_pots", "perforated_tray"))
MONEY = "money/m^2"


def uncertainty():
    often = {"relative": True, "cause": "market"}
    return Uncertainty(
        (
            Uncertain("prices.produce_price", pert(0.8, 1, 1.2), strength=0.6, **often),
            Uncertain("prices.labour_price", pert(0.8, 1, 1.2), relative=True),
            Uncertain("prices.water_price", pert(0.8, 1, 1.2), relative=True),
        ),
        (Cause("market", "Market"),),
    )


def linear(gap=0.4, weights=(0.5, 1.5, 0.8, 0.0), name="margin_per_area", draws=4096):
    """Return draws in which the bag leads by gap + Σ w z, z the drivers; both share much."""
    thought = uncertainty()
    scores = draw_scores(thought, 0, draws, 0)
    lead = gap + np.tensordot(weights, scores, 1)
    shared = 20 * scores[0] + 5 * scores[3]
    return Ensemble((BAG, POTS), thought, 0, {name: np.array([shared + lead, shared])})


def loss(gap, deviation):
    return deviation * unit_normal_loss(abs(gap) / deviation)


@pytest.fixture(scope="module")
def usual():
    """Return draws of three methods, of which two are near each other."""
    three = [BAG, POTS, TRAY]
    return ensemble(three[1:], usual_uncertainty(three[1:]), 2048)


def test_values_of_learning_are_those_of_the_linear_normal_model():
    found = values_of_learning(linear())
    worth = [row.value.m_as(MONEY) for row in found]
    labels = ["Market", "Price of the produce", "Cost of an hour of labour", "Price of water"]
    assert [row.driver for row in found] == [labels[1], labels[2], labels[0], labels[3]]
    assert worth[:3] == pytest.approx([loss(0.4, 1.5), loss(0.4, 0.8), loss(0.4, 0.5)], rel=0.03)
    assert worth[3] < 0.005
    assert [row.told for row in found] == [True, True, True, False]
    assert found[0].low.m_as(MONEY) < found[0].high.m_as(MONEY) + 1e-3


def test_values_of_learning_lower_is_better():
    found = values_of_learning(linear(name="cost_per_usable_kilogram"), "cost_per_usable_kilogram")
    assert found[0].value.m_as("money/kg") == pytest.approx(loss(0.4, 1.5), rel=0.03)


def test_values_of_learning_groups_are_known_together():
    draws = linear()
    groups = groups_by_cause(draws.uncertainty)
    found = {row.driver: row.value.m for row in values_of_learning(draws, groups=groups)}
    assert found["Market"] == pytest.approx(loss(0.4, math.hypot(0.5, 1.5)), rel=0.02)
    assert found["Cost of an hour of labour"] == pytest.approx(loss(0.4, 0.8), rel=0.03)
    every = values_of_learning(draws, groups={"all": range(4)})[0].value.m
    assert every == pytest.approx(value_of_knowing_all(draws).m, rel=0.01)


@pytest.mark.parametrize("numbers", [(), (4,), (-1, 0)])
def test_values_of_learning_groups_of_no_drivers_are_refused(numbers):
    with pytest.raises(RangeError, match=r"one or more of 0 to 3"):
        values_of_learning(linear(), groups={"these": numbers})


def test_value_of_learning_one_or_several_by_name():
    draws = linear()
    one = value_of_learning(draws, "Price of the produce")
    assert one == values_of_learning(draws)[0]
    two = value_of_learning(draws, ["Market", "Cost of an hour of labour"])
    assert two.driver == "Market and Cost of an hour of labour"
    assert two.value.m_as(MONEY) == pytest.approx(loss(0.4, math.hypot(0.5, 0.8)), rel=0.03)


@pytest.mark.parametrize("drivers", ["Moon", ["Market", "Moon"], []])
def test_value_of_learning_unknown_driver_is_refused_with_those_known(drivers):
    with pytest.raises(RangeError, match="is no driver; allowed: Market, Price of the produce"):
        value_of_learning(linear(), drivers)


def test_values_of_inputs_tell_of_their_cause_too():
    """The price's score is 0.6 c + 0.8 e; of 0.5 c + 1.5 e it tells 0.6 · 0.5 + 0.8 · 1.5."""
    found = {row.driver: row.value.m for row in values_of_inputs(linear())}
    told = 0.6 * 0.5 + 0.8 * 1.5
    assert found["Price of the produce"] == pytest.approx(loss(0.4, told), rel=0.03)
    assert found["Cost of an hour of labour"] == pytest.approx(loss(0.4, 0.8), rel=0.03)
    assert set(found) == {"Price of the produce", "Cost of an hour of labour", "Price of water"}


def test_values_of_inputs_with_one_label_are_told_apart():
    thought = Uncertainty(
        tuple(
            Uncertain(
                "harvest.typical", pert(0.8, 1, 1.2), relative=True, method=one, label="Yield"
            )
            for one in ("medium_bag", "wedge_pots")
        )
    )
    rows = np.random.default_rng(0).normal(size=(2, 256))
    found = values_of_inputs(Ensemble((BAG, POTS), thought, 0, {"margin_per_area": rows}))
    assert sorted(row.driver for row in found) == [
        "Yield (harvest.typical medium_bag)", "Yield (harvest.typical wedge_pots)",
    ]  # fmt: skip


def test_values_of_learning_are_ordered_below_what_all_is_worth(usual):
    every = value_of_knowing_all(usual)
    found = values_of_learning(usual)
    numbers = [row.value.m for row in found]
    assert numbers == sorted(numbers, reverse=True)
    assert all(row.value <= every + 2 * row.error for row in found)
    assert found[0].told
    assert values_of_learning(usual) == found


def test_values_of_learning_outcomes_that_cannot_rank_are_refused():
    rows = {"margin_per_area": np.array([[1.0, math.nan], [1.0, 2.0]]),
            "fullest_depth": np.ones((2, 2))}  # fmt: skip
    draws = Ensemble((BAG, POTS), uncertainty(), 0, rows)
    for refuse in (values_of_learning, values_of_inputs, value_of_knowing_all):
        with pytest.raises(InfeasibleError, match="Left over per area has no value in some draws"):
            refuse(draws)
        with pytest.raises(InfeasibleError, match="neither more nor less"):
            refuse(draws, "fullest_depth")
        with pytest.raises(InfeasibleError, match="was not drawn"):
            refuse(draws, "payback")


def test_values_of_learning_too_few_draws_are_refused():
    with pytest.raises(InfeasibleError, match="16 draws are too few"):
        values_of_learning(linear(draws=16))


def test_driver_value_over_a_tank_and_crops_in_money():
    row = DriverValue("Market", quantity(0.5, MONEY))
    assert row.over("20 m^2").m_as("money") == pytest.approx(10.0)
    assert row.over("20 m^2", crops=4).m_as("money") == pytest.approx(40.0)
    feet = DriverValue("Market", quantity(0.5, MONEY).to("money/ft^2"))
    assert feet.over("20 m^2").m_as("money") == pytest.approx(10.0)
    assert str(feet.over("20 m^2").units) == "money"
    assert not row.told


def test_driver_value_over_what_cannot_be_is_refused():
    row = DriverValue("Market", quantity(0.5, MONEY))
    with pytest.raises(UnitError, match="area"):
        row.over(20)
    for crops in (-1, math.nan):
        with pytest.raises(InfeasibleError, match="0 or more can be"):
            row.over("20 m^2", crops)
    with pytest.raises(InfeasibleError, match="cannot be summed over a tank"):
        DriverValue("Market", quantity(0.5, "money/kg")).over("20 m^2")


# -- trials -------------------------------------------------------------------------------


def test_trial_values_are_those_of_the_belief_from_the_draws(usual):
    found = trial_values(usual, [1, 3, 6], 0.2, "5 money", "50 m^2", 6)
    terms = TrialTerms(0.2, "5 money", area="50 m^2", crops=6)
    exact = trial_value_curve(belief_from(usual), [1, 3, 6], terms)
    for one, other in zip(found, exact, strict=True):
        assert one.gain.m == other.gain.m
        assert (one.cost.m, one.worth.m) == (other.cost.m, other.worth.m)
    assert [one.plots for one in found] == [2, 6, 12]
    assert learning.best_trial is best_trial


def test_trial_values_are_capped_by_the_yields_and_these_by_all(usual):
    """EVSI ≤ EVPPI of the yields' own parts ≤ EVPI."""
    gain = trial_values(usual, [4])[0].gain.m
    ceiling = value_of_yields(belief_from(usual)).m
    labels = [name for name in usual.uncertainty.drivers if name.startswith("Yield")]
    fitted = value_of_learning(usual, labels)
    assert 0 < gain < ceiling
    assert ceiling == pytest.approx(fitted.value.m, rel=0.1)
    assert fitted.value < value_of_knowing_all(usual)


def test_trial_values_all_that_is_wrong_at_once(usual):
    with pytest.raises(ArgumentError) as caught:
        trial_values(usual, [0], 5.0, "5 kg", "5 m", 0)
    assert [problem.field for problem in caught.value.problems] == [
        "replicates", "variation", "cost_per_plot", "area", "crops",
    ]  # fmt: skip


def test_trial_values_without_an_uncertain_yield_are_refused():
    with pytest.raises(InfeasibleError):
        trial_values(linear(), [2])
