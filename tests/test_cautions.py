"""Cautions stand where the number stands that raises them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.cautions import FLOOR_LOAD, RULES, WHO_NITRATE_NITROGEN
from scenariokit.scenario import OUTCOMES, evaluate, scenario_for, with_values


def ids(scenario):
    return {caution.id: caution for caution in evaluate(scenario).cautions}


@pytest.fixture(scope="module")
def pot():
    return scenario_for("suspended_pot")


def test_cautions_of_a_potato_tank_are_all_there(pot):
    found = ids(pot)
    wanted = {
        "load",
        "open_water",
        "mosquitoes",
        "discharge",
        "salts",
        "green_tubers",
        "food_contact",
    }
    assert wanted <= set(found)
    for caution in found.values():
        assert caution.outcome in OUTCOMES
        assert caution.source
        assert caution.text.endswith(".")


def test_caution_load_defers_to_engineer_and_grows_with_depth(pot):
    deep = with_values(pot, {"method.level.rim": "60 cm", "method.level.start": "50 cm"})
    note, danger = ids(pot)["load"], ids(deep)["load"]
    assert "licensed engineer" in note.text
    assert "building code" in note.text
    assert danger.severity == "danger"
    # 50 cm at 998.204 kg/m³ (Kell 1975) is 499 kg/m², 4.89 kPa
    assert "499 kg" in danger.text
    assert "4.89 kPa" in danger.text


def test_floor_load_is_the_mass_that_presses_with_the_stated_pressure():
    assert pytest.approx(1.92, abs=0.01) == FLOOR_LOAD * 9.80665 / 1000


def test_nitrate_guideline_converts_to_nitrogen():
    """50 mg/L nitrate x 14.007/62.004 (IUPAC abridged masses)."""
    assert pytest.approx(50 * 14.007 / 62.004, abs=0.01) == WHO_NITRATE_NITROGEN


def test_caution_discharge_states_the_concentration(pot):
    found = evaluate(pot)
    made, fed = found["solution_made"].m_as("L/m^2"), found["n_supplied"].m_as("g/m^2")
    text = next(one.text for one in found.cautions if one.id == "discharge")
    assert f"{fed / made * 1000:.0f} mg/L" in text


@pytest.mark.parametrize(
    ("harvest", "words"),
    [("9 kg/m^2", "commercial fields"), ("15 kg/m^2", "field plots"), ("25 kg/m^2", "lamp-lit")],
)
def test_caution_yield_beyond_records_says_which(pot, harvest, words):
    high = with_values(pot, {f"harvest.{end}": harvest for end in ("low", "typical", "high")})
    assert words in ids(high)["plausible_yield"].text


def test_caution_yield_usual_is_silent(pot):
    assert "plausible_yield" not in ids(pot)


@pytest.mark.parametrize(("ec", "side"), [("0.5 dS/m", "below"), ("3 dS/m", "above")])
def test_caution_ec_outside_what_was_tried(pot, ec, side):
    assert side in ids(with_values(pot, {"feed.ec": ec}))["strength"].text
    assert "strength" not in ids(with_values(pot, {"feed.ec": "1.6 dS/m"}))


def test_caution_basis_invented_single_plot_and_trial(pot):
    assert "invented" in ids(pot)["basis"].text
    single = dataclasses.replace(pot.harvest, status="trial", interval=False)
    assert "One plot proves little" in ids(dataclasses.replace(pot, harvest=single))["basis"].text
    trial = dataclasses.replace(pot.harvest, status="trial", interval=True)
    assert "basis" not in ids(dataclasses.replace(pot, harvest=trial))


def test_caution_drowned_when_water_covers_the_medium():
    bag = scenario_for("medium_bag")
    box = bag.method.container
    top = box.base_height + box.medium_height
    drowned = with_values(
        bag,
        {
            "method.level.rim": top * 2 + quantity(5, "cm"),
            "method.level.high": top + quantity(1, "cm"),
        },
    )
    assert "drowned" in ids(drowned)
    assert "drowned" not in ids(bag)


def test_caution_dry_when_the_level_does_not_reach_and_nothing_wicks():
    bag, sheet = scenario_for("medium_bag"), scenario_for("sheet_wick_tray")
    lifted = {"method.container.base_height": "6 cm", "method.level.low": "1 cm"}
    assert "dry" in ids(with_values(bag, lifted))
    assert "dry" not in ids(with_values(sheet, lifted))


def test_caution_green_tubers_only_for_potato():
    assert "green_tubers" not in ids(scenario_for("deep_litre", crop="lettuce"))


def test_cautions_of_an_ensemble_look_at_the_worst(pot):
    many = with_values(pot, {"feed.ec": quantity(np.array([1.5, 4.0]), "dS/m")})
    assert "4.00 dS/m" in ids(many)["strength"].text


def test_every_rule_can_be_silent():
    field = evaluate(scenario_for("field_soil")).cautions
    assert len(field) < len(RULES)


def test_caution_food_contact_warns_of_print_where_paper_is_used():
    assert "mineral oil" in ids(scenario_for("paper_wrap"))["food_contact"].text
    assert "mineral oil" not in ids(scenario_for("medium_bag"))["food_contact"].text
