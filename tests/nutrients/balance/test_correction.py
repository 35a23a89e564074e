from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.nutrients.balance.correction import correct
from scenariokit.nutrients.conductivity.strength import StrengthCurve

HOAGLAND_1 = {"K": 6.0, "Ca": 5.0, "Mg": 2.0, "NO3": 15.0, "H2PO4": 1.0, "SO4": 2.0}
HARD = {"Ca": 2.0, "Mg": 0.5, "HCO3": 4.0, "Na": 1.0, "Cl": 2.0}


def corrected(now, target, **options):
    values = {"full_ec": "2.4 dS/m", "water_ec": "0.4 dS/m"} | options
    return correct("100 L", quantity(now, "dS/m"), quantity(target, "dS/m"), **values)


def test_correct_low_ec_adds_stock_worked_case():
    # Computed by hand: strengths (1.6 - 0.4) / 2 = 0.6 and (2.0 - 0.4) / 2 = 0.8;
    # each 100 x 0.2 / (100 - 1.6) = 0.20325 L.
    found = corrected(1.6, 2.0)
    assert found.action == "raise"
    assert found.each.m_as("mL") == pytest.approx(203.25, abs=0.005)
    assert found.water.m == found.drain.m == 0
    assert found.says == (
        "EC from 1.60 to 2.00 dS/m: add 203 mL of each of the 2 stocks, one after the other."
    )


def test_correct_high_ec_adds_water_worked_case():
    # Computed by hand: 100 x (1.0 / 0.8 - 1) = 25 L of the same water.
    found = corrected(2.4, 2.0)
    assert found.action == "lower"
    assert found.water.m_as("L") == pytest.approx(25)
    assert found.volume_after.m_as("L") == pytest.approx(125)
    assert found.says == "EC from 2.40 to 2.00 dS/m: add 25 L of water."
    assert found.each.m == 0


def test_correct_high_ec_in_a_full_tank_drains_and_warns_of_nitrate():
    found = corrected(2.4, 2.0, room="10 L")
    assert found.action == "drain and refill"
    assert found.drain.m_as("L") == pytest.approx(20)
    assert found.volume_after.m_as("L") == pytest.approx(100)
    assert found.says == "EC from 2.40 to 2.00 dS/m: drain 20 L, then add 20 L of water."
    assert any("nitrate" in text and "drain, ditch" in text for text in found.cautions)


def test_correct_low_ec_in_a_full_tank_makes_room_and_warns_of_nitrate():
    found = corrected(1.6, 2.0, room="0 L")
    assert found.action == "raise"
    assert found.drain.m > 0
    assert "to make room, then add" in found.says
    assert any("nitrate" in text for text in found.cautions)


@pytest.mark.parametrize(
    ("now", "band", "action"),
    [
        (1.9, None, "none"), (2.1, None, "none"), (1.89, None, "raise"), (2.11, None, "lower"),
        (1.89, "0.2 dS/m", "none"), (1.95, "0 dS/m", "raise"), (2.0, "0 dS/m", "none"),
    ],
)  # fmt: skip
def test_correct_within_the_band_nothing_is_done(now, band, action):
    found = corrected(now, 2.0, band=band)
    assert found.action == action
    if action == "none":
        assert found.each.m == found.water.m == found.drain.m == 0
        assert found.volume_after.m_as("L") == 100
        assert "leave it" in found.says
        assert found.cautions == ()


def test_correct_empty_tank_says_so():
    found = correct("0 L", "1.0 dS/m", "2.0 dS/m", full_ec="2.4 dS/m")
    assert found.action == "none"
    assert found.says == "The tank is empty: nothing to correct."


def test_correct_every_action_advises_small_steps():
    for now in (1.0, 3.0):
        assert "Add half of it, stir, wait ten minutes, measure" in corrected(now, 2.0).cautions[0]


def test_correct_stock_cautions_keep_stocks_apart():
    text = " ".join(corrected(1.0, 2.0).cautions)
    assert "never mix stocks undiluted" in text
    assert "children" in text


def test_correct_one_stock_reads_well_and_litres_are_litres():
    found = correct("2000 L", "1.0 dS/m", "2.0 dS/m", full_ec="2 dS/m", dilution=100, stocks=1)
    # Computed by hand: 2000 x 0.5 / (100 - 1) = 10.10 L.
    assert found.says == "EC from 1.00 to 2.00 dS/m: add 10.1 L of the stock."


@pytest.mark.parametrize("target", [0.4, 0.3])
def test_correct_target_not_above_the_water_is_infeasible(target):
    with pytest.raises(InfeasibleError, match=r"is not above the water's own 0\.4 dS/m"):
        corrected(1.6, target)


def test_correct_reading_below_the_water_is_infeasible():
    with pytest.raises(InfeasibleError, match="check the meter"):
        corrected(0.3, 2.0)


def test_correct_from_plain_water_makes_the_whole_solution():
    # Computed by hand: 100 x 1 / (100 - 2) = 1.0204 L of each.
    assert corrected(0.4, 2.4).each.m_as("mL") == pytest.approx(1020.4, abs=0.05)


def test_correct_stocks_too_weak_is_infeasible():
    with pytest.raises(InfeasibleError, match="more concentrated"):
        corrected(1.0, 2.4, dilution=2)


@pytest.mark.parametrize(
    "options",
    [
        {"full_ec": None},
        {"curve": StrengthCurve(HOAGLAND_1)},
        {"full_ec": None, "curve": StrengthCurve(HOAGLAND_1), "water_ec": "0.4 dS/m"},
    ],
)
def test_correct_needs_just_one_way_to_strength(options):
    with pytest.raises(ArgumentError, match="full_ec, curve, water_ec"):
        corrected(1.6, 2.0, **options)


def test_correct_arrays_are_sent_to_the_function_for_them():
    with pytest.raises(ArgumentError, match=r"ec_now.*correction_amounts"):
        corrected(np.array([1.0, 1.5]), 2.0)


def test_correct_bad_values_are_named_at_once():
    with pytest.raises(ArgumentError, match=r"(?s)volume.*ec_now.*ec_target.*band"):
        correct("5 kg", 1.6, "-2 dS/m", full_ec="2 dS/m", band="5 L")
    with pytest.raises(RangeError, match="dilution"):
        corrected(1.6, 2.0, dilution=0)


def test_correct_units_do_not_matter():
    metric = corrected(1.6, 2.0, room="0.1 L")
    other = correct(
        "26.41720524 gal", "1600 uS/cm", "2 mS/cm", full_ec="240 mS/m", water_ec="0.04 S/m",
        room="100 mL",
    )  # fmt: skip
    assert other.each.m_as("mL") == pytest.approx(metric.each.m_as("mL"), rel=1e-8)
    assert other.drain.m_as("L") == pytest.approx(metric.drain.m_as("L"), rel=1e-6)


def test_correct_with_a_curve_reaches_the_ec_of_the_ions():
    curve = StrengthCurve(HOAGLAND_1, HARD)
    found = correct("100 L", "1.2 dS/m", "1.8 dS/m", curve=curve)
    each = found.each.m_as("L")
    after = (100 * curve.strength(1.2) + 100 * each) / (100 + 2 * each)
    assert curve.ec(after) == pytest.approx(1.8, rel=1e-9)


def test_correct_with_a_curve_water_is_the_lowest_ec():
    curve = StrengthCurve(HOAGLAND_1, HARD)
    with pytest.raises(InfeasibleError, match="not above the water's own"):
        correct("100 L", "1.2 dS/m", quantity(curve.water_ec, "dS/m"), curve=curve)
    with pytest.raises(InfeasibleError, match="below that of the water"):
        correct("100 L", "0.1 dS/m", "1.2 dS/m", curve=curve)


@given(st.floats(0.4, 5), st.floats(0.5, 5), st.none() | st.floats(0, 50))
@settings(max_examples=100)
def test_correct_ec_by_mass_balance_is_the_target(now, target, room):
    litres = None if room is None else quantity(room, "L")
    found = corrected(now, target, room=litres, band="0 dS/m")
    each, water, drain = (
        found.each.m_as("L"), found.water.m_as("L"), found.drain.m_as("L"),
    )  # fmt: skip
    salt = (now - 0.4) / 2.0 * (100 - drain) + 100 * each
    reached = 0.4 + 2.0 * salt / (100 - drain + water + 2 * each)
    assert reached == pytest.approx(target, rel=1e-9)
