"""What a trial takes."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, UnitError
from scenariokit.trials.planning.budget import trial_budget
from scenariokit.trials.planning.designs import block_layout
from scenariokit.trials.planning.needs import PlotNeeds, needs_of, plants_in
from scenariokit.trials.planning.tanks import equal_tanks

TANKS = equal_tanks(3, "240 cm", "60 cm", sections=3)
LAYOUT = block_layout(["bag", "pots"], 3, seed=1, tanks=TANKS)
BAG = PlotNeeds("10 plant/m^2", "3 L/plant", "20 money/m^2")
POTS = PlotNeeds("12 plant/m^2", "0.5 L/plant", "16 money/m^2")


def test_trial_budget_hand_worked():
    """Six plots of 0.48 m²: 4 bags of 3 L in each of 3, 5 pots of half a litre in each of 3."""
    found = trial_budget(LAYOUT, {"bag": BAG, "pots": POTS})
    assert (found.plots, found.plants) == (6, 27)
    assert found.plot_area.m_as("m^2") == pytest.approx(2.88)
    assert found.tank_area.m_as("m^2") == pytest.approx(4.32)
    assert found.medium.m_as("L") == pytest.approx(3 * 4 * 3 + 3 * 5 * 0.5)
    assert found.cost.m_as("money") == pytest.approx(1.44 * 20 + 1.44 * 16)
    assert found.ground.m_as("m^2") == pytest.approx(3.6 * 4.2)
    by_name = {row.treatment: row for row in found.treatments}
    assert (by_name["bag"].plots, by_name["bag"].plants) == (3, 12)
    assert by_name["pots"].cost.m_as("money") == pytest.approx(23.04)


def test_trial_budget_same_needs_for_all():
    found = trial_budget(LAYOUT, BAG, walkway="0 cm", tanks_per_row=3)
    assert found.plants == 24
    assert found.ground.m_as("m^2") == pytest.approx(4.32)


def test_trial_budget_half_a_sum_is_none():
    bare = PlotNeeds("12 plant/m^2")
    found = trial_budget(LAYOUT, {"bag": BAG, "pots": bare})
    assert (found.cost, found.medium) == (None, None)
    assert {row.treatment: row.cost is None for row in found.treatments} == {
        "bag": False,
        "pots": True,
    }


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 500), st.floats(2.5, 60), st.floats(0, 30))
def test_trial_budget_cost_and_medium_scale(cost, density, volume):
    def needs(factor):
        return PlotNeeds(
            quantity(density, "plant/m^2"),
            quantity(volume * factor, "L/plant"),
            quantity(cost * factor, "money/m^2"),
        )

    one, two = (trial_budget(LAYOUT, needs(factor)) for factor in (1, 2))
    assert two.cost.m_as("money") == pytest.approx(2 * one.cost.m_as("money"))
    assert two.medium.m_as("L") == pytest.approx(2 * one.medium.m_as("L"))
    assert one.plants <= density * one.plot_area.m_as("m^2") * (1 + 1e-6)


def test_plants_in_exact_spacing_loses_none_to_rounding():
    tanks = equal_tanks(4, "110 cm", "70 cm")
    layout = block_layout(["bag", "pots"], 2, seed=1, tanks=tanks)
    needs = PlotNeeds(quantity(7 / 0.77, "plant/m^2"))
    assert plants_in(layout, layout.plots[0], needs) == 7


def test_plants_in_no_room_for_one_is_refused():
    with pytest.raises(ArgumentError, match=r"no room for a plant in plot P1 .* 2.08 plant/m²"):
        trial_budget(LAYOUT, PlotNeeds("2 plant/m^2"))


def test_needs_of_treatment_not_stated_is_refused():
    with pytest.raises(ArgumentError, match="needs = pots: is not stated; allowed: bag"):
        trial_budget(LAYOUT, {"bag": BAG})
    assert needs_of(LAYOUT.plots[0], BAG) is BAG


def test_plot_needs_all_faults_at_once_and_any_unit():
    with pytest.raises(UnitError) as caught:
        PlotNeeds("9 L", "3 kg", 20)
    assert len(caught.value.problems) == 3
    us = PlotNeeds("1 plant/ft^2", "1 gal/plant", "1 money/ft^2")
    assert us.plants_per_area.m_as("plant/m^2") == pytest.approx(10.7639104)


def test_trial_budget_without_tanks_is_refused():
    with pytest.raises(ArgumentError, match="without tanks"):
        trial_budget(block_layout(["bag", "pots"], 3, seed=1), BAG)
