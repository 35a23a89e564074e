from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import economics, quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.scenario import COST_PARTS

with (Path(__file__).parents[1] / "published" / "capital_recovery.csv").open(
    newline="", encoding="utf-8"
) as file:
    FACTORS = list(csv.DictReader(file))

PARTS = [
    "planting", "medium", "sheet", "consumables", "equipment", "nutrients", "water", "labour",
]  # fmt: skip


@pytest.mark.parametrize(
    "row", FACTORS, ids=lambda row: f"{row['interest']}-{row['years']}-{row['status']}"
)
def test_capital_recovery_table_matches(row):
    found = economics.capital_recovery(
        float(row["interest"]), quantity(float(row["years"]), "year")
    )
    tolerance = 0.5 * 10 ** -int(row["printed_digits"]) + 1e-12
    assert abs(found.m_as("1/year") - float(row["value"])) <= tolerance


def test_capital_recovery_array_mixes_zero_and_more():
    found = economics.capital_recovery(np.array([0.0, 0.08]), quantity([4.0, 10.0], "year"))
    np.testing.assert_allclose(found.m_as("1/year"), [0.25, 0.149029], atol=5e-7)


@pytest.mark.parametrize("interest", [5e-324, 1e-310, 1e-300, 1e-15])
@pytest.mark.parametrize("years", [0.01, 1.5, 7.0, 200.0])
def test_capital_recovery_vanishing_interest_is_straight_line(interest, years):
    found = economics.capital_recovery(interest, quantity(years, "year"))
    assert found.m_as("1/year") == pytest.approx(1 / years, rel=1e-9)


@given(interest=st.floats(1e-4, 1), years=st.floats(0.5, 100))
@settings(max_examples=50)
def test_capital_recovery_any_loan_is_paid_back(interest, years):
    found = economics.capital_recovery(interest, quantity(years, "year")).m_as("1/year")
    # Present worth of the payments equals the sum borrowed.
    assert found * (1 - (1 + interest) ** -years) / interest == pytest.approx(1, rel=1e-9)
    assert found > max(interest, 1 / years) * (1 - 1e-12)


@pytest.mark.parametrize(
    ("interest", "expected"),
    [(0.08, 32.922657), (0.0, 22.50)],  # computed by hand; straight line (200 - 20) / 8
)
def test_annualised_worked_case(interest, expected):
    found = economics.annualised("200 money", "20 money", "8 year", interest)
    assert found.m_as("money/year") == pytest.approx(expected, abs=5e-7)


def test_annualised_other_form_of_the_equation_agrees():
    # C CRF - S i / ((1 + i)^n - 1).
    factor = economics.capital_recovery(0.08, "8 year").m
    other = 200 * factor - 20 * 0.08 / (1.08**8 - 1)
    assert economics.annualised("200 money", "20 money", "8 year", 0.08).m == pytest.approx(other)


def test_annualised_array_mixes_zero_and_more_interest():
    found = economics.annualised("200 money", "20 money", "8 year", np.array([0.0, 0.08]))
    np.testing.assert_allclose(found.m_as("money/year"), [22.5, 32.922657], atol=5e-7)


def test_annualised_salvage_above_price_is_infeasible():
    with pytest.raises(InfeasibleError, match="salvage"):
        economics.annualised("20 money", "21 money", "8 year", 0.05)


def test_annualised_full_salvage_costs_interest_only():
    found = economics.annualised("200 money", "200 money", "8 year", 0.05)
    assert found.m_as("money/year") == pytest.approx(10)


@given(price=st.floats(0, 1e5), share=st.floats(0, 1), interest=st.floats(0, 1))
@settings(max_examples=50)
def test_annualised_any_price_scales_with_currency(price, share, interest):
    one, ten = (
        economics.annualised(
            quantity(price * n, "money"), quantity(price * n * share, "money"), "8 year", interest
        ).m
        for n in (1, 10)
    )
    assert ten == pytest.approx(10 * one, rel=1e-9, abs=1e-9)


def test_per_crop_two_crops_share_a_year():
    found = economics.per_crop("32.92 money/year", "2 crop/year")
    assert found.m_as("money/crop") == pytest.approx(16.46)


@given(annual=st.floats(0, 1e6), crops=st.floats(0.1, 20))
@settings(max_examples=50)
def test_per_crop_times_crops_gives_year_back(annual, crops):
    found = economics.per_crop(quantity(annual, "money/year"), quantity(crops, "crop/year"))
    assert found.m_as("money/crop") * crops == pytest.approx(annual)


def test_cost_stack_total_is_sum_of_parts():
    stack = economics.cost_stack(**{name: f"{n} money/m^2" for n, name in enumerate(PARTS)})
    assert stack.total.m_as("money/m^2") == pytest.approx(28)
    assert list(stack.parts) == PARTS == list(COST_PARTS)


def test_cost_stack_part_left_out_costs_nothing():
    assert economics.cost_stack(medium="3 money/m^2").labour.m_as("money/m^2") == 0


def test_cost_stack_square_feet_same_cost():
    stack = economics.cost_stack(medium=quantity(1 / 0.3048**-2, "money/ft^2"))
    assert stack.total.m_as("money/m^2") == pytest.approx(1)


def test_cost_stack_unknown_part_lists_known():
    with pytest.raises(TypeError, match=r"has no part rent; it has planting, medium"):
        economics.cost_stack(rent="1 money/m^2")


def test_cost_stack_bad_parts_all_named():
    with pytest.raises(ArgumentError) as caught:
        economics.cost_stack(medium=3, water="-1 money/m^2", labour="1 hour")
    assert [problem.field for problem in caught.value.problems] == ["medium", "water", "labour"]


def test_cost_stack_cannot_be_changed():
    stack = economics.cost_stack(medium="3 money/m^2")
    with pytest.raises(AttributeError):
        stack.medium = 4


def test_cost_stack_per_kilogram_worked_case():
    stack = economics.cost_stack(medium="3.24 money/m^2", labour="1.76 money/m^2")
    assert stack.per_kilogram("4 kg/m^2").m_as("money/kg") == pytest.approx(1.25)
    assert stack.parts_per_kilogram("4 kg/m^2")["medium"].m_as("money/kg") == pytest.approx(0.81)


def test_cost_stack_per_kilogram_no_harvest_says_why():
    with pytest.raises(RangeError, match="no cost per kilogram without a harvest"):
        economics.cost_stack(medium="3 money/m^2").per_kilogram("0 kg/m^2")


def test_cost_stack_per_kilogram_no_unit_raises():
    with pytest.raises(UnitError, match="yield_per_area"):
        economics.cost_stack(medium="3 money/m^2").per_kilogram(4)


def test_cost_stack_arrays_broadcast_in_total():
    stack = economics.cost_stack(medium=quantity([1.0, 2.0], "money/m^2"), water="1 money/m^2")
    assert stack.total.m_as("money/m^2").tolist() == [2, 3]
    assert stack.per_kilogram("2 kg/m^2").m_as("money/kg").tolist() == [1, 1.5]


@given(st.lists(st.floats(0, 1e4), min_size=8, max_size=8), st.floats(0.1, 20))
@settings(max_examples=50)
def test_cost_stack_parts_per_kilogram_add_to_total(values, yield_):
    stack = economics.cost_stack(
        **{name: quantity(value, "money/m^2") for name, value in zip(PARTS, values, strict=True)}
    )
    harvest = quantity(yield_, "kg/m^2")
    parts = sum(part.m for part in stack.parts_per_kilogram(harvest).values())
    assert parts == pytest.approx(stack.per_kilogram(harvest).m, rel=1e-9, abs=1e-12)


def test_cost_per_usable_kilogram_worked_case():
    # Computed by hand: 12 / (5 x 0.9 x 0.95) = 12 / 4.275.
    found = economics.cost_per_usable_kilogram("12 money/m^2", "5 kg/m^2", 0.9, 0.05)
    assert found.m_as("money/kg") == pytest.approx(2.807018, abs=5e-7)
    assert economics.cost_per_usable_kilogram("12 money/m^2", "5 kg/m^2").m == pytest.approx(2.4)


def test_cost_per_usable_kilogram_us_units_and_arrays():
    found = economics.cost_per_usable_kilogram(
        quantity(12 * 0.3048**2, "money/ft^2"),
        quantity([5.0, 10.0], "kg/m^2").to("lb/ft^2"),
        np.array([1.0, 0.5]),
        np.array([0.0, 0.5]),
    )
    np.testing.assert_allclose(found.m_as("money/kg"), [2.4, 4.8])


@pytest.mark.parametrize(("harvest", "share"), [("0 kg/m^2", 1), ("5 kg/m^2", 0)])
def test_cost_per_usable_kilogram_of_nothing_says_why(harvest, share):
    with pytest.raises(RangeError, match="nothing can be used or sold"):
        economics.cost_per_usable_kilogram("12 money/m^2", harvest, share)


def test_margin_worked_case():
    # Computed by hand: 2.5 x 5 x 0.9 - 8.
    found = economics.margin("2.5 money/kg", "5 kg/m^2", "8 money/m^2", 0.9)
    assert found.m_as("money/m^2") == pytest.approx(3.25)


def test_margin_loss_is_negative():
    assert economics.margin("1 money/kg", "0 kg/m^2", "8 money/m^2").m_as("money/m^2") == -8


def test_break_even_price_worked_case():
    # Computed by hand: 12 / 5.
    found = economics.break_even_price("12 money/m^2", "5 kg/m^2")
    assert found.m_as("money/kg") == pytest.approx(2.40)


def test_break_even_yield_worked_case():
    # Computed by hand: 12 / 2.5.
    found = economics.break_even_yield("12 money/m^2", "2.5 money/kg")
    assert found.m_as("kg/m^2") == pytest.approx(4.8)


def test_break_even_yield_free_produce_says_why():
    with pytest.raises(RangeError, match="fetches nothing"):
        economics.break_even_yield("12 money/m^2", "0 money/kg")


@given(cost=st.floats(0, 100), harvest=st.floats(0.1, 20), share=st.floats(0.1, 1))
@settings(max_examples=50)
def test_break_even_price_gives_zero_margin(cost, harvest, share):
    costs, yield_ = quantity(cost, "money/m^2"), quantity(harvest, "kg/m^2")
    price = economics.break_even_price(costs, yield_, share)
    left = economics.margin(price, yield_, costs, share)
    assert left.m_as("money/m^2") == pytest.approx(0, abs=1e-9 * (1 + cost))


@given(cost=st.floats(0, 10), price=st.floats(1, 20), share=st.floats(0.5, 1))
@settings(max_examples=50)
def test_break_even_yield_gives_zero_margin(cost, price, share):
    costs, price_ = quantity(cost, "money/m^2"), quantity(price, "money/kg")
    yield_ = economics.break_even_yield(costs, price_, share)
    left = economics.margin(price_, yield_, costs, share)
    assert left.m_as("money/m^2") == pytest.approx(0, abs=1e-9 * (1 + cost))
