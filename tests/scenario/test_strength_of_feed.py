"""A feed is made as strong as its EC asks, by the ions of its salts and of its water."""

from __future__ import annotations

import csv
import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, nutrients, quantity
from scenariokit.errors import InfeasibleError
from scenariokit.scenario import (
    evaluate,
    feed_from,
    feed_season,
    feed_strength,
    full_strength_ec,
    scenario_for,
    water_ec,
    with_values,
)
from scenariokit.scenario.strength import solution_content

TABLE = Path(__file__).parents[1] / "published" / "conductivity.csv"
RECIPES = {
    "Hoagland solution 1": "hoagland_1",
    "Hoagland solution 2": "hoagland_2",
    "Steiner universal solution": "steiner",
}
HARD = dict(nutrients.water_from_row(catalog.waters()["hard_tap"]).content)


def published():
    """Yield recipe, strength and EC of each solution that the table has at a strength."""
    with TABLE.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            name, times, share = row["case"].partition(" x ")
            if times and row["kind"] == "feed":
                yield pytest.param(RECIPES[name], float(share), float(row["value"]), id=row["case"])


def feed_of(ec="1.6 dS/m", *, recipe="hoagland_1", water=None):
    feed = feed_from(catalog.recipes()[recipe])
    given = quantity(ec) if isinstance(ec, str) else quantity(ec, "dS/m")
    return dataclasses.replace(feed, ec=given, water_content=dict(water or {}))


def ec_of(content):
    """EC [dS/m] of plain contents in mg/L, straight from the model of ions."""
    with_units = {name: quantity(value, "mg/L") for name, value in content.items()}
    ions = nutrients.ions_from_content(with_units)
    return nutrients.electrical_conductivity(ions).m_as("dS/m")


def halved(feed, ec):
    """The strength with an EC, by halving an interval; the curve's polynomials are not asked."""
    low, high = 0.0, 3.0
    for _ in range(60):
        middle = (low + high) / 2
        names = {**feed.content, **feed.water_content}
        mixed = {
            name: middle * feed.content.get(name, 0.0) + feed.water_content.get(name, 0.0)
            for name in names
            if name != "N"
        }
        low, high = (middle, high) if ec_of(mixed) < ec else (low, middle)
    return low


# -- published -----------------------------------------------------------------------------


@pytest.mark.parametrize(("recipe", "strength", "ec"), [*published()])
def test_feed_strength_at_a_published_conductivity_is_the_strength_published(recipe, strength, ec):
    found = feed_strength(feed_of(ec, recipe=recipe))
    assert found == pytest.approx(strength, rel=0.01)


def test_published_conductivities_of_recipes_are_seven():
    assert len(list(published())) == 7


def test_feed_strength_half_hoagland_is_more_than_half_of_the_ec():
    """EC falls more slowly than strength: by proportion the strength would be 0.523."""
    feed = feed_of(1.1391)
    assert feed_strength(feed) == pytest.approx(0.5, rel=0.01)
    by_proportion = 1.1391 / full_strength_ec(feed).m_as("dS/m")
    assert by_proportion == pytest.approx(0.523, abs=0.001)
    assert feed_strength(feed) < 0.96 * by_proportion


# -- by hand -------------------------------------------------------------------------------


@pytest.mark.parametrize("water", [{}, HARD], ids=["pure", "hard"])
@pytest.mark.parametrize("ec", [1.0, 1.6, 2.4])
def test_feed_strength_equals_that_found_by_halving(ec, water):
    feed = feed_of(ec, water=water)
    assert feed_strength(feed) == pytest.approx(halved(feed, ec), rel=1e-7)


def test_feed_strength_of_the_usual_feed_is_seven_tenths():
    """EC 1.6 dS/m is 0.734 of the 2.179 dS/m of the full recipe, and 0.716 of its strength."""
    feed = feed_of()
    assert halved(feed, 1.6) == pytest.approx(0.7156, abs=5e-5)
    assert feed_strength(feed) == pytest.approx(0.7156, abs=5e-5)
    assert 1.6 / full_strength_ec(feed).m_as("dS/m") == pytest.approx(0.734, abs=5e-4)


@pytest.mark.parametrize("recipe", RECIPES.values())
def test_full_strength_ec_is_that_of_the_recipes_ions(recipe):
    feed = feed_of(recipe=recipe)
    assert full_strength_ec(feed).m_as("dS/m") == pytest.approx(ec_of(feed.content), rel=1e-9)
    row = catalog.recipes()[recipe]
    # The catalogue's number was computed with another model, without micronutrients.
    assert full_strength_ec(feed).m_as("dS/m") == pytest.approx(row.ec_full_strength, rel=0.01)


def test_water_ec_is_that_of_the_waters_ions():
    assert water_ec(feed_of(water=HARD)).m_as("dS/m") == pytest.approx(ec_of(HARD), rel=1e-9)
    assert water_ec(feed_of()).m_as("dS/m") == pytest.approx(0, abs=1e-12)


def test_full_strength_ec_in_hard_water_is_above_that_in_pure_water():
    assert full_strength_ec(feed_of(water=HARD)) > full_strength_ec(feed_of())


def test_feed_strength_other_unit_same_strength():
    assert feed_strength(feed_of("1600 uS/cm")) == pytest.approx(feed_strength(feed_of()), rel=1e-9)


def test_feed_strength_array_equals_its_scalars():
    both = feed_strength(feed_of([1.0, 1.6]))
    assert both.shape == (2,)
    np.testing.assert_allclose(
        both, [feed_strength(feed_of(1.0)), feed_strength(feed_of(1.6))], rtol=1e-12
    )


def test_feed_strength_in_hard_water_is_less():
    assert feed_strength(feed_of(water=HARD)) < feed_strength(feed_of())


def test_feed_strength_at_the_ec_of_the_water_is_none():
    feed = feed_of(water=HARD)
    same = dataclasses.replace(feed, ec=water_ec(feed))
    assert feed_strength(same) == pytest.approx(0, abs=1e-9)


# -- what cannot be ------------------------------------------------------------------------


def test_feed_strength_below_the_ec_of_the_water_says_so():
    with pytest.raises(InfeasibleError, match=r"EC of 0.5 dS/m is below that of the water itself"):
        feed_strength(feed_of(0.5, water=HARD))


def test_feed_strength_above_what_the_model_covers_says_so():
    with pytest.raises(InfeasibleError, match=r"EC of 9 dS/m is above what the model of EC covers"):
        feed_strength(feed_of(9.0))


def test_feed_strength_one_bad_member_is_counted():
    with pytest.raises(InfeasibleError, match=r"\(1 of 3 values\)"):
        feed_strength(feed_of([1.0, 9.0, 1.6]))


def test_feed_strength_of_a_recipe_without_ions_says_so():
    feed = dataclasses.replace(feed_of(), content={"B": 0.5, "N_urea": 100.0, "N": 100.0})
    with pytest.raises(InfeasibleError, match="brings no ions that conduct"):
        feed_strength(feed)


# -- what a litre holds --------------------------------------------------------------------


def test_solution_content_is_salts_by_strength_and_the_whole_of_the_water():
    feed = feed_of(water=HARD)
    strength, found = feed_strength(feed), solution_content(feed)
    for name in ("N", "K", "Ca", "Mg", "S", "Na", "HCO3"):
        by_hand = strength * feed.content.get(name, 0.0) + HARD.get(name, 0.0)
        assert found[name] == pytest.approx(by_hand, rel=1e-12), name
    assert found["HCO3"] == HARD["HCO3"]


def test_solution_content_without_strength_is_the_water():
    found = solution_content(feed_of(water=HARD), 0.0)
    assert {name: value for name, value in found.items() if value} == {
        name: value for name, value in HARD.items() if value
    }


def test_solution_content_without_a_total_of_nitrogen_adds_up_its_forms():
    feed = feed_of(water={"N_nitrate": 6.0, "N_ammonium": 2.0, "Ca": 20.0})
    assert solution_content(feed, 0.0)["N"] == pytest.approx(8.0)


def test_solution_content_of_shares_is_an_array():
    found = solution_content(feed_of(water=HARD), np.array([0.0, 0.5, 1.0]))
    assert found["Ca"].shape == (3,)
    np.testing.assert_allclose(np.diff(found["Ca"], 2), 0, atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    ec=st.floats(0.9, 4.5), hardness=st.floats(0, 1), recipe=st.sampled_from([*RECIPES.values()])
)
def test_solution_content_of_any_feed_has_its_ec(ec, hardness, recipe):
    water = {name: hardness * value for name, value in HARD.items()}
    found = solution_content(feed_of(ec, recipe=recipe, water=water))
    assert ec_of(found) == pytest.approx(ec, rel=1e-7)


# -- in a scenario -------------------------------------------------------------------------


def test_evaluate_water_that_brings_nitrogen_counts_as_fed():
    """By hand: salts at their strength, and 6 mg/L of nitrogen in every litre that is made."""
    one = scenario_for("medium_bag")
    hard = dataclasses.replace(one, feed=feed_of(water=HARD))
    found = evaluate(hard)
    litres = found["solution_made"].m_as("L/m^2")
    salts = feed_strength(hard.feed) * hard.feed.content["N"]
    by_hand = (salts + 6.0) * litres / 1000
    assert found["n_supplied"].m_as("g/m^2") == pytest.approx(by_hand, rel=1e-9)
    assert found["fertiliser_mass"] < evaluate(one)["fertiliser_mass"]


def test_feed_season_first_filling_holds_what_the_solution_does():
    one = dataclasses.replace(scenario_for("medium_bag"), feed=feed_of(water=HARD))
    content = solution_content(one.feed)
    for name, element in feed_season(one).elements.items():
        assert element.concentration[0].m_as("mg/L") == pytest.approx(content[name], rel=1e-9)


def test_evaluate_ec_below_the_water_says_so():
    one = dataclasses.replace(scenario_for("medium_bag"), feed=feed_of(water=HARD))
    with pytest.raises(InfeasibleError, match="below that of the water itself"):
        evaluate(with_values(one, {"feed.ec": "0.3 dS/m"}))
