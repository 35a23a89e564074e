"""Inputs and causes: what is refused, what they are called, what they say."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.errors import ArgumentError
from scenariokit.scenario import leaves, scenario_for
from scenariokit.uncertainty import Cause, Uncertain, Uncertainty, name_of, pert
from scenariokit.uncertainty.inputs import labelled
from scenariokit.uncertainty.leaf_paths import leaf_parameters, like_paths

FACTOR = pert(0.8, 1, 1.3)
MARKET = Cause("market", "How dear the market is")


def spread_of(path, **more):
    return Uncertain(path, FACTOR, relative=True, **more)


@pytest.mark.parametrize(
    ("inputs", "causes", "said"),
    [
        ([spread_of("a", cause="rain", strength=0.5)], (), "none is listed"),
        ([spread_of("a", cause="rain", strength=0.5)], (MARKET,), "market"),
        ([spread_of("a", cause="market", strength=1.2)], (MARKET,), "no correlation"),
        ([spread_of("a", cause="market", strength=float("nan"))], (MARKET,), "no correlation"),
        ([spread_of("a", strength=0.5)], (), "without a cause"),
        ([], (MARKET, MARKET), "name of its own"),
        ([], (Cause("", "x"),), "name of its own"),
        ([spread_of("a"), spread_of("a")], (), "twice"),
        ([spread_of("a"), spread_of("a", method="pots")], (), "a of pots"),
        ([spread_of("a", method="pots"), spread_of("a", method="pots")], (), "twice"),
    ],
)
def test_uncertainty_that_cannot_be_raises(inputs, causes, said):
    with pytest.raises(ArgumentError, match=said):
        Uncertainty(inputs, causes)


def test_uncertainty_lists_everything_wrong_at_once():
    bad = [spread_of("a", cause="rain", strength=2), spread_of("b"), spread_of("b")]
    with pytest.raises(ArgumentError) as caught:
        Uncertainty(bad, (MARKET, MARKET))
    assert len(caught.value.problems) == 4


def test_uncertainty_one_number_of_two_methods_is_two_inputs():
    both = Uncertainty([spread_of("a", method="bag"), spread_of("a", method="pots")])
    assert both.drivers == ("a (bag)", "a (pots)")
    assert [number for number, _ in both.for_method("pots")] == [1]
    assert both.for_method("tray") == []


def test_drivers_are_causes_then_inputs_and_never_alike():
    found = Uncertainty(
        (
            spread_of("prices.water_price", cause="market", strength=0.5),
            spread_of("prices.labour_price", label="How dear the market is"),
            spread_of("harvest.typical", method="pots", label="Yield"),
            spread_of("harvest.typical", method="tray", label="Yield"),
        ),
        (MARKET, Cause("season", "")),
    )
    assert found.drivers == (
        "How dear the market is (market)",
        "season",
        "Price of water",
        "How dear the market is (prices.labour_price)",
        "Yield (harvest.typical pots)",
        "Yield (harvest.typical tray)",
    )
    assert found.cause_of(found.inputs[0]) == 0
    assert found.cause_of(found.inputs[1]) is None


def test_correlations_are_products_of_strengths_within_a_cause():
    found = Uncertainty(
        (
            spread_of("a", cause="market", strength=0.8),
            spread_of("b", cause="market", strength=-0.5),
            spread_of("c", cause="season", strength=0.9),
            spread_of("d"),
            spread_of("e"),
        ),
        (MARKET, Cause("season", "Season")),
    ).correlations()
    expected = np.eye(5)
    expected[0, 1] = expected[1, 0] = -0.4
    assert found == pytest.approx(expected)
    assert np.all(np.linalg.eigvalsh(found) > 0)
    assert Uncertainty(()).correlations().shape == (0, 0)


def test_name_of_takes_label_then_parameter_then_path():
    assert name_of(spread_of("prices.water_price", label="Water")) == "Water"
    assert name_of(spread_of("prices.water_price")) == "Price of water"
    assert name_of(spread_of("nowhere", method="pots")) == "nowhere (pots)"


def test_assumptions_say_spread_cause_and_what_they_rest_on():
    found = Uncertainty(
        (
            spread_of("prices.water_price", cause="market", strength=0.5, note="from memory"),
            Uncertain("tank.area", pert("1 m^2", "2 m^2", "4 m^2")),
        ),
        (MARKET,),
    ).assumptions()
    assert found == (
        "Price of water: most likely 1, from 0.8 to 1.3 times what is stated; moves with "
        "“How dear the market is” (correlation 0.5); from memory",
        "Tank area: most likely 2, from 1 to 4 m²",
    )


def test_leaf_parameters_are_those_of_every_scenario():
    known = leaf_parameters()
    for method in ("medium_bag", "wedge_pots", "field_soil", "paper_wrap"):
        for path, described, _ in leaves(scenario_for(method)):
            assert known[path] is described
    assert known["method.medium.volume_per_plant"].unit == "L/plant"


def test_like_paths_finds_what_may_be_meant():
    assert "prices.produce_price" in like_paths("prices.produce_prise")
    assert "method.medium.volume_per_plant" in like_paths("volume_per_plant.volume_per_plant")
    assert "tank.area" in like_paths("?")


def test_labelled_gives_label_or_path():
    scenario = scenario_for("medium_bag")
    assert labelled("tank.area", scenario) == "Tank area"
    assert labelled("tank.colour", scenario) == "tank.colour"
