"""Outcomes beside the same model written by hand in NumPy, which knows nothing of scenariokit."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from scenariokit import catalog
from scenariokit.scenario import leaves, outcome_values, scenario_for, with_draws

MODEL = Path(__file__).parents[1] / "benchmarks" / "cost_model_numpy.py"
spec = importlib.util.spec_from_file_location("model_by_hand", MODEL)
by_hand = importlib.util.module_from_spec(spec)
sys.modules["model_by_hand"] = by_hand
spec.loader.exec_module(by_hand)

DRAWS = 64
CASES = [(method, crop) for method, row in catalog.methods().items() for crop in row["yields"]]


def drawn(scenario, seed):
    """Return a scenario with every number that enters moved by up to a quarter, each by itself."""
    rng = np.random.default_rng(seed)
    draws = {}
    for path, described, quantity in leaves(scenario):
        value = np.asarray(quantity.magnitude, dtype=float)
        if value.ndim:  # a value for each month
            continue
        most = np.inf if described.maximum is None else described.maximum
        draws[path] = np.minimum(value * rng.uniform(0.75, 1.25, DRAWS), most)
    return with_draws(scenario, draws)


def assert_same(scenario):
    """Hold both models together to 1e-9; differences are judged by what they are differences of."""
    own = outcome_values(scenario, by_hand.OUTCOMES)
    found = by_hand.outcomes(by_hand.numbers_of(scenario))
    money = own["cost_per_area"] + own["takings_per_area"]
    slack = {
        "margin_per_area": money,
        "return_to_labour": money / own["labour_per_area"],
        # The last years of a payback hang on a difference of takings and costs.
        "payback": 1e4 * np.nan_to_num(own["payback"]),
    }
    assert tuple(own) == by_hand.OUTCOMES
    for name, values in own.items():
        here, there = np.broadcast_arrays(np.asarray(values, float), found[name])
        np.testing.assert_array_equal(np.isnan(here), np.isnan(there), err_msg=name)
        allowed = 1e-9 * np.abs(np.nan_to_num(slack.get(name, there)))
        assert np.all(np.abs(np.nan_to_num(here - there)) <= allowed), name
    return own


@pytest.mark.parametrize(("method", "crop"), CASES)
def test_outcomes_at_usual_values_agree_with_the_model_by_hand(method, crop):
    own = assert_same(scenario_for(method, crop))
    assert own["cost_per_kilogram"] > 0


@pytest.mark.parametrize(("method", "crop"), CASES)
def test_outcomes_of_draws_of_every_number_agree_with_the_model_by_hand(method, crop):
    own = assert_same(drawn(scenario_for(method, crop), seed=len(method)))
    assert np.std(own["margin_per_area"]) > 0


@pytest.mark.parametrize("method", ["medium_bag", "paper_wrap", "suspended_pot", "field_soil"])
def test_outcomes_agree_by_hand_where_there_is_no_harvest_interest_or_sale(method):
    none = np.array([0.0, 1.0, 1.0, 1.0])
    one = with_draws(
        scenario_for(method),
        {
            "harvest.typical": 4.0 * none,
            "prices.interest_rate": 0.06 * none[::-1],
            "crop.marketable_share": 0.9 * np.array([1.0, 0.0, 1.0, 1.0]),
            "prices.produce_price": 9.0 * np.array([1.0, 1.0, 0.0, 1.0]),
        },
    )
    own = assert_same(one)
    assert np.isnan(own["cost_per_kilogram"]).tolist() == [True, False, False, False]
    assert np.isnan(own["cost_per_usable_kilogram"]).tolist() == [True, True, False, False]
    assert np.isnan(own["payback"][[0, 1, 2]]).all()


def test_outcomes_agree_by_hand_where_salt_or_rain_take_all():
    rain = {"site.rain_share": 1.0, "site.rain": np.full(12, 500.0)}
    one = with_draws(
        scenario_for("suspended_pot"),
        {**rain, "feed.ec": np.array([1.6, 3.0, 5.5]), "crop.salinity_slope": 40.0},
    )
    own = assert_same(one)
    assert own["yield_per_area"][2] == 0
    numbers = by_hand.numbers_of(one)
    filling = 10 * numbers.fullest_depth * (1 - numbers.displaced)  # cm to L/m²
    assert own["solution_made"] == pytest.approx(filling, rel=1e-12)
