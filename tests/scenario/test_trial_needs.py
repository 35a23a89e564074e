"""What a plot of a method needs is what its scenario says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenariokit import units
from scenariokit.errors import InfeasibleError
from scenariokit.scenario import evaluate, scenario_for
from scenariokit.scenario.trial_needs import plot_needs


def test_plot_needs_are_those_of_the_scenario():
    found = evaluate(scenario_for("medium_bag"))
    needs = plot_needs(found)
    assert needs.plants_per_area.m_as("plant/m^2") == 18
    assert needs.volume_per_plant.m_as("L/plant") == 2.4
    assert needs.cost_per_area.m_as("money/m^2") == found["cost_per_area"].m_as("money/m^2")


def test_plot_needs_without_medium_is_none_of_it():
    needs = plot_needs(evaluate(scenario_for("paper_wrap")))
    assert needs.volume_per_plant.m_as("L/plant") == 0


def test_plot_needs_follow_the_price_list():
    here, there = (
        plot_needs(evaluate(scenario_for("wedge_pots", prices=name)))
        for name in ("tern_hollow", "dunmarrow")
    )
    assert here.cost_per_area != there.cost_per_area
    assert here.plants_per_area == there.plants_per_area


def test_plot_needs_of_an_ensemble_are_refused():
    one = scenario_for("medium_bag")
    many = units.quantity(np.array([16.0, 18.0]), "plant/m^2")
    with pytest.raises(InfeasibleError, match="ensemble"):
        plot_needs(evaluate(replace(one, method=replace(one.method, plants_per_area=many))))
