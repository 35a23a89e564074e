from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import nutrients, quantity
from scenariokit.errors import InfeasibleError


@pytest.mark.parametrize(
    ("volume", "each", "water"), [("200 L", 2.0, 196.0), ("1000 L", 10.0, 980.0)]
)
def test_stock_dose_one_in_hundred_worked_case(volume, each, water):
    # Computed by hand: V / 100 of each and V (1 - 2/100) of water.
    dose = nutrients.stock_dose(volume, 100)
    assert dose.each.m_as("L") == pytest.approx(each)
    assert dose.water.m_as("L") == pytest.approx(water)


def test_stock_dose_half_strength_takes_half_of_each():
    # Half strength of a hundredfold stock is a dilution of 200: 1.0 + 1.0 + 198 L.
    dose = nutrients.stock_dose("200 L", 200)
    assert dose.each.m_as("L") == pytest.approx(1.0)
    assert dose.water.m_as("L") == pytest.approx(198.0)


def test_stock_dose_one_in_128_is_a_fluid_ounce_per_gallon():
    assert nutrients.stock_dose("1 gal", 128).each.m_as("fluid_ounce") == pytest.approx(1)


def test_stock_dose_three_stocks_leave_less_water():
    assert nutrients.stock_dose("100 L", 100, 3).water.m_as("L") == pytest.approx(97)


def test_stock_dose_only_stocks_no_water_left():
    assert nutrients.stock_dose("10 L", 2).water.m_as("L") == 0


def test_stock_dose_fewer_parts_than_stocks_is_infeasible():
    with pytest.raises(InfeasibleError, match=r"dilution of 1\.5 the 2 stocks"):
        nutrients.stock_dose("10 L", 1.5)


def test_stock_dose_caution_stands_with_the_number():
    assert "Never mix" in nutrients.stock_dose.__doc__


@given(volume=st.floats(0, 1e5), dilution=st.floats(10, 1e4), stocks=st.integers(1, 10))
@settings(max_examples=50)
def test_stock_dose_parts_add_to_volume(volume, dilution, stocks):
    dose = nutrients.stock_dose(quantity(volume, "L"), dilution, stocks)
    assert dose.each.m * stocks + dose.water.m == pytest.approx(volume, abs=1e-9)


HOAGLAND_1 = {"KH2PO4": 0.13608, "KNO3": 0.50551, "MgSO4": 0.49293, "Ca(NO3)2": 1.18073}


@pytest.mark.parametrize(
    ("dilution", "expected"),
    [  # computed by hand for Hoagland and Arnon 1950, solution 1
        (100, [13.61, 50.55, 49.29, 118.07]),
        (128, [17.42, 64.71, 63.10, 151.13]),
        (200, [27.22, 101.10, 98.59, 236.15]),
    ],
)
def test_stock_strength_hoagland_worked_case(dilution, expected):
    for rate, value in zip(HOAGLAND_1.values(), expected, strict=True):
        found = nutrients.stock_strength(quantity(rate, "g/L"), dilution).m_as("g/L")
        assert found == pytest.approx(value, abs=0.0051)


@given(rate=st.floats(0, 10), dilution=st.floats(2, 1e4), volume=st.floats(0.1, 1e4))
@settings(max_examples=50)
def test_stock_strength_dosed_again_gives_the_recipe(rate, dilution, volume):
    strength = nutrients.stock_strength(quantity(rate, "g/L"), dilution)
    dose = nutrients.stock_dose(quantity(volume, "L"), dilution)
    grams = (strength * dose.each).m_as("g")
    assert grams / volume == pytest.approx(rate, abs=1e-12)
