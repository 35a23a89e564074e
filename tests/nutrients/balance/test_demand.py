"""Uptake for each litre, and what a solution must hold, against worked and published cases."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity, reservoir
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.balance.demand import (
    solution_holding,
    top_up_concentration,
    uptake_concentration,
    uptake_from_efficiency,
)
from scenariokit.nutrients.balance.removal import removed, taken_up

with (Path(__file__).parents[2] / "published" / "crop_uptake.csv").open(encoding="utf-8") as file:
    PUBLISHED = list(csv.DictReader(file))


def rows(name):
    return [row for row in PUBLISHED if row["quantity"] == name]


def digits(row):
    """Return half a unit of the last printed digit."""
    return 0.5 * 10.0 ** -int(row["printed_digits"]) * (1 + 1e-9)


# -- the crops ------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("uptake"), ids=lambda row: f"{row['crop']}-{row['element']}")
def test_crop_uptake_bounds_meet_the_published_range(row):
    crop = catalog.crops()[row["crop"]]
    low, high = crop.uptake_bounds[row["element"]]
    assert low <= float(row["high"]) * 1.05
    assert high >= float(row["low"]) * 0.95
    assert low * 0.9 <= crop.uptake[row["element"]] <= high * 1.1


def test_crop_uptake_potato_nitrogen_bounds_hold_the_growth_of_a_field():
    (row,) = rows("tuber_growth")
    for_a_kilogram = float(row["value"]) / 0.75  # kg of N for 0.75 t of tubers: 4.93 g/kg
    low, high = catalog.crops()["potato"].uptake_bounds["N"]
    assert low < for_a_kilogram < high


@pytest.mark.parametrize("name", sorted(catalog.crops()))
def test_crop_uptake_is_more_than_the_produce_holds(name):
    crop = catalog.crops()[name]
    assert list(crop.uptake) == ["N", "P", "K", "Ca", "Mg", "S"]
    for element, grams in crop.uptake.items():
        low, high = crop.uptake_bounds[element]
        assert crop[f"removal_{element}"] <= low <= grams <= high


def test_crop_uptake_calcium_sits_in_leaves():
    """Tubers and fruit hold a small share of it, leaves most; leaf crops are mostly produce."""
    share = {name: crop.removal_Ca / crop.uptake["Ca"] for name, crop in catalog.crops().items()}
    assert max(share[name] for name in ("potato", "tomato", "sweet_pepper", "strawberry")) < 0.2
    assert min(share[name] for name in ("lettuce", "kale")) > 0.8


# -- taken_up -------------------------------------------------------------------------------


def test_taken_up_worked_case():
    # By hand: tubers of 5 kg/m² x 4.64 g/kg = 23.2 g/m².
    found = taken_up({"N": "4.64 g/kg", "K": "7.2 g/kg"}, "5 kg/m^2")
    assert found["N"].m_as("g/m^2") == pytest.approx(23.2)
    assert found["K"].m_as("g/m^2") == pytest.approx(36)


def test_taken_up_of_a_catalogue_crop_is_more_than_removed():
    crop = catalog.crops()["potato"]
    content = {name: f"{crop[f'removal_{name}']} g/kg" for name in crop.uptake}
    whole, tubers = taken_up(crop, "5 kg/m^2"), removed(content, "5 kg/m^2")
    assert all(whole[name] > tubers[name] for name in content)


def test_taken_up_array_of_yields_gives_arrays_in_any_unit():
    found = taken_up({"N": "0.464 percent"}, quantity([0.0, 50.0], "t/ha"))["N"]
    np.testing.assert_allclose(found.m_as("g/m^2"), [0, 23.2])


@pytest.mark.parametrize("crop", [{}, "potato", 5])
def test_taken_up_no_contents_raises(crop):
    with pytest.raises(ArgumentError, match=r"taken_up: .*map elements to contents"):
        taken_up(crop, "5 kg/m^2")


def test_taken_up_bad_yield_and_content_both_named():
    with pytest.raises(ArgumentError) as caught:
        taken_up({"N": "3 g"}, 5)
    assert [p.field for p in caught.value.problems] == ["crop[N]", "yield_per_area"]


# -- uptake_concentration -------------------------------------------------------------------


def test_uptake_concentration_worked_case():
    # By hand: 30 g in 400 L is 75 mg/L.
    assert uptake_concentration("30 g/m^2", "400 L/m^2").m_as("mg/L") == pytest.approx(75)


def test_uptake_concentration_other_units_same_result():
    found = uptake_concentration("300 kg/ha", "400 mm")
    assert found.m_as("mg/L") == pytest.approx(75)


def test_uptake_concentration_arrays_broadcast():
    found = uptake_concentration(quantity([[10.0], [20.0]], "g/m^2"), quantity([100, 200], "L/m^2"))
    np.testing.assert_allclose(found.m_as("mg/L"), [[100, 50], [200, 100]])


def test_uptake_concentration_nothing_transpired_says_why():
    with pytest.raises(RangeError, match="nothing is transpired"):
        uptake_concentration("30 g/m^2", "0 L/m^2")


@pytest.mark.parametrize(
    ("uptake", "water", "kind"),
    [(30, "400 L/m^2", UnitError), ("30 g", "400 L/m^2", UnitError),
     ("-1 g/m^2", "400 L/m^2", RangeError), ("30 g/m^2", "400 L", UnitError),
     ("30 g/m^2", "400", UnitError)],
)  # fmt: skip
def test_uptake_concentration_bad_argument_raises(uptake, water, kind):
    with pytest.raises(kind):
        uptake_concentration(uptake, water)


# -- uptake_from_efficiency -----------------------------------------------------------------


@pytest.mark.parametrize("row", rows("efficiency"), ids=lambda row: row["element"])
def test_uptake_from_efficiency_published_values(row):
    found = uptake_from_efficiency(quantity(float(row["low"]), "g/L"), float(row["high"]))
    assert found.m_as("mg/L") == pytest.approx(float(row["value"]), abs=digits(row))


def test_uptake_from_efficiency_percent_and_share_are_the_same():
    found = [uptake_from_efficiency("3 g/L", "4 %"), uptake_from_efficiency("3 kg/m^3", 0.04)]
    assert [value.m_as("mg/L") for value in found] == pytest.approx([120, 120])


@pytest.mark.parametrize("share", ["4", 4.0, "-1 %", "4 g/L"])
def test_uptake_from_efficiency_bad_share_raises(share):
    with pytest.raises(ArgumentError):
        uptake_from_efficiency("3 g/L", share)


@given(efficiency=st.floats(0.1, 20), share=st.floats(1e-4, 0.2), litres=st.floats(1, 2000))
@settings(max_examples=50)
def test_uptake_from_efficiency_is_the_uptake_of_that_growth(efficiency, share, litres):
    """Dry matter made with the water, times its content, by the litre."""
    grown = quantity(efficiency * litres * share, "g/m^2")
    by_litre = uptake_from_efficiency(quantity(efficiency, "g/L"), share)
    if grown.m < 1e4:
        found = uptake_concentration(grown, quantity(litres, "L/m^2"))
        assert found.m_as("mg/L") == pytest.approx(by_litre.m_as("mg/L"))


# -- top_up_concentration -------------------------------------------------------------------


def test_top_up_concentration_worked_case():
    # By hand: 120 x 500 / 550 = 109.09.
    found = top_up_concentration("120 mg/L", "500 L/m^2", "50 L/m^2")
    assert found.m_as("mg/L") == pytest.approx(109.0909, abs=5e-5)


def test_top_up_concentration_without_evaporation_is_the_uptake():
    assert top_up_concentration("120 mg/L", "500 mm", "0 mm").m_as("mg/L") == pytest.approx(120)


def test_top_up_concentration_nothing_transpired_says_why():
    with pytest.raises(RangeError, match="nothing is transpired"):
        top_up_concentration("120 mg/L", "0 L/m^2", "5 L/m^2")


@given(uptake=st.floats(0, 500), drunk=st.floats(0.5, 10), open_water=st.floats(0, 5))
@settings(max_examples=25, deadline=None)
def test_top_up_concentration_holds_a_simulated_tank_steady(uptake, drunk, open_water):
    days = 40
    inflow = top_up_concentration(
        quantity(uptake, "mg/L"), quantity(drunk * days, "L/m^2"),
        quantity(open_water * days, "L/m^2"),
    )  # fmt: skip
    element = reservoir.Solute(inflow, uptake=quantity(uptake, "mg/L"), start="200 mg/L")
    flows = reservoir.Flows(
        quantity(drunk, "L/m^2/day"), evaporation=quantity(open_water, "L/m^2/day"), days=days
    )
    season = reservoir.simulate(
        reservoir.Tank("30 cm"), reservoir.ConstantLevel("20 cm"), flows, {"N": element}
    )
    np.testing.assert_allclose(season.concentrations["N"].m_as("mg/L"), 200, rtol=1e-9)


# -- solution_holding -----------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("solution_holding"), ids=lambda row: row["element"])
def test_solution_holding_tubers_in_half_strength_solution(row):
    found = solution_holding(
        quantity(float(row["low"]), "g/kg"), quantity(float(row["high"]), "mg/L")
    )
    assert found.m_as("L/kg") == pytest.approx(float(row["value"]), abs=digits(row))


def test_solution_holding_potassium_of_half_strength_runs_out_before_nitrogen():
    nitrogen, potassium = solution_holding(
        quantity([3.2, 4.8], "g/kg"), quantity([105.0, 117.3], "mg/L")
    ).m_as("L/kg")
    assert potassium > nitrogen


def test_solution_holding_scales_with_both():
    once = solution_holding("3.2 g/kg", "105 mg/L")
    assert solution_holding("6.4 g/kg", "210 mg/L").m == pytest.approx(once.m)
    assert solution_holding("0 g/kg", "105 mg/L").m == 0


def test_solution_holding_solution_without_it_says_why():
    with pytest.raises(RangeError, match="without it holds any"):
        solution_holding("3.2 g/kg", "0 mg/L")


@pytest.mark.parametrize(("content", "strength"), [(3.2, "105 mg/L"), ("3.2 g/kg", "105 g")])
def test_solution_holding_bad_unit_raises(content, strength):
    with pytest.raises(UnitError):
        solution_holding(content, strength)


@given(grams=st.floats(0.01, 50), strength=st.floats(0.1, 1000))
@settings(max_examples=50)
def test_solution_holding_that_much_solution_holds_it(grams, strength):
    litres = solution_holding(quantity(grams, "g/kg"), quantity(strength, "mg/L"))
    held = (litres * quantity(strength, "mg/L")).m_as("g/kg")
    assert held == pytest.approx(grams)
