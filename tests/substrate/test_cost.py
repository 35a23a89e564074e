from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, substrate
from scenariokit.errors import ArgumentError, RangeError, UnitError

with (Path(__file__).parents[1] / "published" / "medium_costs.csv").open(
    newline="", encoding="utf-8"
) as file:
    COSTS = list(csv.DictReader(file))


def cost(row):
    return substrate.cost_per_yield(
        quantity(float(row["price"]), "money/L"),
        quantity(float(row["volume_per_plant"]), "L/plant"),
        quantity(float(row["plants_per_area"]), "plant/m^2"),
        quantity(float(row["yield_per_area"]), "kg/m^2"),
        float(row["crops_per_filling"]),
        float(row["top_up_fraction"]),
    ).m_as("money/kg")


def test_volume_per_area_three_litres_nine_plants_27():
    found = substrate.volume_per_area("3 L", "9 plant/m^2")
    assert found.m_as("L/m^2") == pytest.approx(27)


def test_volume_per_area_no_medium_is_zero():
    assert substrate.volume_per_area("0 L", "9 plant/m^2").m_as("L/m^2") == 0


def test_price_in_place_compressed_bale_worked_case():
    # Computed by hand: 3.8 ft³ = 107.604 L, loose 215.208 L; 22 / 215.208, then with 80 % filling.
    loose = substrate.price_in_place("22 money", "3.8 ft^3", expansion=2)
    filled = substrate.price_in_place("22 money", "3.8 ft^3", expansion=2, fill_factor=0.8)
    assert loose.m_as("money/L") == pytest.approx(0.102227, abs=5e-7)
    assert filled.m_as("money/L") == pytest.approx(0.127783, abs=6e-7)


def test_price_in_place_with_freight_worked_case():
    # Computed by hand: (22 + 3) / (3.8 ft³ = 107.604 L, x 2 x 0.8 = 172.1664 L in place).
    found = substrate.price_in_place("22 money", "3.8 ft^3", 2, 0.8, freight="3 money")
    assert found.m_as("money/L") == pytest.approx(0.145208, abs=5e-7)


def test_price_in_place_no_freight_is_zero_freight():
    without = substrate.price_in_place("22 money", "100 L", 2, 0.8)
    free = substrate.price_in_place("22 money", "100 L", 2, 0.8, "0 money")
    assert without == free


def test_price_in_place_freight_array_gives_array():
    found = substrate.price_in_place("10 money", "100 L", freight=quantity([0.0, 5.0], "money"))
    np.testing.assert_allclose(found.m_as("money/L"), [0.1, 0.15])


def test_price_in_place_freight_without_a_unit_or_below_zero_is_refused():
    with pytest.raises(UnitError, match="freight"):
        substrate.price_in_place("22 money", "100 L", freight=3)
    with pytest.raises(RangeError, match="freight"):
        substrate.price_in_place("22 money", "100 L", freight="-3 money")


def test_price_in_place_no_factors_is_price_over_label():
    assert substrate.price_in_place("11 money", "100 L").m_as("money/L") == pytest.approx(0.11)


@pytest.mark.parametrize(
    ("unit", "litres"),
    [  # exact by definition, as printed to seven or more digits
        ("ft^3", 28.316847), ("US_dry_quart", 1.1012209), ("US_liquid_quart", 0.9463529),
        ("gal", 3.7854118), ("bushel", 35.2390702), ("yd^3", 764.554858),
    ],
)  # fmt: skip
def test_price_in_place_us_volumes_exact(unit, litres):
    found = substrate.price_in_place("1 money", quantity(1, unit))
    assert 1 / found.m_as("money/L") == pytest.approx(litres, rel=5e-7 / litres + 5e-8)


def test_medium_use_factor_three_crops_with_top_up_worked_case():
    # 1 + 0.15 x 2 = 1.3 fillings for 3 crops.
    assert substrate.medium_use_factor(3, 0.15).m_as("") == pytest.approx(1.3 / 3)


def test_medium_use_factor_all_renewed_is_one_filling_each():
    assert substrate.medium_use_factor(7, 1).m_as("") == pytest.approx(1)


@given(k=st.floats(1, 100), u=st.floats(0, 1))
@settings(max_examples=50)
def test_medium_use_factor_any_input_between_share_and_one(k, u):
    found = substrate.medium_use_factor(k, u).m_as("")
    assert 1 / k - 1e-12 <= found <= 1 + 1e-12
    assert found >= u - 1e-12


@pytest.mark.parametrize("row", COSTS, ids=lambda row: f"{row['value']}-{row['status']}")
def test_cost_per_yield_known_case_matches(row):
    # Trade cases: common practice, no published source; agreed to 0.01.
    tolerance = 0.01 if row["status"] == "trade" else 0.5 * 10 ** -int(row["printed_digits"])
    assert abs(cost(row) - float(row["value"])) <= tolerance * 1.001


def test_cost_per_yield_little_medium_saves_two_thirds():
    # Common practice, no published source: 0.24 per kg against 0.74.
    large = next(cost(row) for row in COSTS if row["value"] == "0.74")
    assert 1 - 0.24 / large == pytest.approx(2 / 3, abs=0.02)


def test_cost_per_yield_no_harvest_says_why():
    with pytest.raises(RangeError, match="no cost per kilogram without a harvest"):
        substrate.cost_per_yield("0.1 money/L", "1 L", "9 plant/m^2", "0 kg/m^2")


def test_cost_per_yield_no_medium_costs_nothing():
    assert substrate.cost_per_yield("1 money/L", "0 L", "9 plant/m^2", "4 kg/m^2").m == 0


@given(scale=st.floats(0.1, 10), volume=st.floats(0.01, 20), yield_=st.floats(0.6, 5.9))
@settings(max_examples=50)
def test_cost_per_yield_volume_and_yield_scaled_alike_unchanged(scale, volume, yield_):
    price, plants = "0.11 money/L", "9 plant/m^2"
    one = substrate.cost_per_yield(price, quantity(volume, "L"), plants, quantity(yield_, "kg/m^2"))
    two = substrate.cost_per_yield(
        price, quantity(volume * scale, "L"), plants, quantity(yield_ * scale, "kg/m^2")
    )
    assert two.m == pytest.approx(one.m, rel=1e-9)


def test_mixed_volume_loss_of_15_percent_leaves_85():
    assert substrate.mixed_volume(["60 L", "40 L"], 0.15).m_as("L") == pytest.approx(85)


def test_mixed_volume_other_units_same_volume():
    found = substrate.mixed_volume(["0.06 m^3", quantity(40, "dm^3")], "15 %")
    assert found.m_as("L") == pytest.approx(85)


def test_mixed_volume_arrays_broadcast():
    found = substrate.mixed_volume([quantity([10, 20], "L"), "5 L"], 0.1)
    np.testing.assert_allclose(found.m_as("L"), [13.5, 22.5])


@pytest.mark.parametrize("parts", [[], "60 L", 5])
def test_mixed_volume_no_list_of_parts_raises(parts):
    with pytest.raises(ArgumentError, match="one value for each component"):
        substrate.mixed_volume(parts)


def test_mixed_volume_several_faults_all_named():
    with pytest.raises(ArgumentError) as caught:
        substrate.mixed_volume([60, "40 kg", "5 L"], 0.95)
    assert [p.field for p in caught.value.problems] == ["parts[0]", "parts[1]", "loss"]


def test_component_volumes_worked_case_60_40_with_loss():
    # Computed by hand: 27 / 0.85 = 31.7647 L of parts, 60 and 40 % of it.
    found = substrate.component_volumes("27 L", [0.6, 0.4], loss=0.15)
    assert [part.m_as("L") for part in found] == pytest.approx([19.0588, 12.7059], abs=5e-5)


def test_component_volumes_percent_shares_accepted():
    found = substrate.component_volumes("10 L", ["60 %", "40 %"])
    assert [part.m_as("L") for part in found] == pytest.approx([6, 4])


@pytest.mark.parametrize("shares", [[0.6, 0.3], [0.6, 0.5], [0.33, 0.33, 0.33]])
def test_component_volumes_shares_not_one_names_shares(shares):
    with pytest.raises(RangeError, match=r"shares.*add to .*not to 1"):
        substrate.component_volumes("27 L", shares)


def test_component_volumes_array_shares_first_wrong_sum_reported():
    with pytest.raises(RangeError, match=r"add to 0\.9, not to 1"):
        substrate.component_volumes("27 L", [quantity([0.6, 0.5], ""), 0.4])


def test_component_volumes_thirds_accepted():
    assert len(substrate.component_volumes("27 L", [1 / 3, 1 / 3, 1 / 3])) == 3


def test_component_volumes_volume_without_unit_raises():
    with pytest.raises(UnitError, match="volume"):
        substrate.component_volumes(27, [0.6, 0.4])


@given(first=st.floats(0, 1), volume=st.floats(0.1, 1e4), loss=st.floats(0, 0.9))
@settings(max_examples=50)
def test_component_volumes_mixed_again_gives_volume_wanted(first, volume, loss):
    parts = substrate.component_volumes(quantity(volume, "L"), [first, 1 - first], loss)
    assert substrate.mixed_volume(parts, loss).m_as("L") == pytest.approx(volume, rel=1e-9)


def test_mixed_price_worked_case():
    # Computed by hand: (0.6 x 0.10 + 0.4 x 0.20) / 0.85 = 0.164706.
    found = substrate.mixed_price(["0.10 money/L", "0.20 money/L"], [0.6, 0.4], loss=0.15)
    assert found.m_as("money/L") == pytest.approx(0.164706, abs=5e-7)


def test_mixed_price_per_cubic_metre_same_price():
    found = substrate.mixed_price(["100 money/m^3", "0.20 money/L"], [0.6, 0.4], loss=0.15)
    assert found.m_as("money/L") == pytest.approx(0.164706, abs=5e-7)


def test_mixed_price_lengths_differ_names_shares():
    with pytest.raises(RangeError, match="1 shares for 2 prices"):
        substrate.mixed_price(["0.1 money/L", "0.2 money/L"], [1.0])


def test_mixed_price_shares_not_one_names_shares():
    with pytest.raises(RangeError, match="shares"):
        substrate.mixed_price(["0.1 money/L", "0.2 money/L"], [0.5, 0.4])


@given(first=st.floats(0, 1), low=st.floats(0, 10), high=st.floats(0, 10), loss=st.floats(0, 0.9))
@settings(max_examples=50)
def test_mixed_price_no_loss_lies_between_components(first, low, high, loss):
    prices = [quantity(low, "money/L"), quantity(high, "money/L")]
    plain = substrate.mixed_price(prices, [first, 1 - first]).m_as("money/L")
    assert min(low, high) - 1e-9 <= plain <= max(low, high) + 1e-9
    lossy = substrate.mixed_price(prices, [first, 1 - first], loss).m_as("money/L")
    assert lossy == pytest.approx(plain / (1 - loss), rel=1e-9, abs=1e-12)
