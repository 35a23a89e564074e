from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.nutrients.balance.mixing import correction_amounts, linear_strength

STRENGTH = st.floats(0.01, 3)


def strength_after(found, volume, now, dilution, stocks):
    """Salt left and added, over the volume there is afterwards."""
    each = found.each.m_as("L")
    drain, water = found.drain.m_as("L"), found.water.m_as("L")
    after = volume - drain + water + stocks * each
    assert after == pytest.approx(found.volume_after.m_as("L"), rel=1e-12)
    return (now * (volume - drain) + dilution * each) / after


def test_correction_amounts_up_worked_case():
    # Computed by hand: 100 x (1.0 - 0.8) / (100 - 2 x 1.0) = 0.20408 L of each.
    found = correction_amounts("100 L", 0.8, 1.0)
    assert found.each.m_as("mL") == pytest.approx(204.08, abs=0.005)
    assert found.volume_after.m_as("L") == pytest.approx(100.40816, abs=5e-6)
    assert found.water.m == found.drain.m == 0


def test_correction_amounts_down_worked_case():
    # Computed by hand: 100 x (1.25 / 1.0 - 1) = 25 L.
    found = correction_amounts("100 L", 1.25, 1.0)
    assert found.water.m_as("L") == pytest.approx(25)
    assert found.volume_after.m_as("L") == pytest.approx(125)
    assert found.each.m == found.drain.m == 0


def test_correction_amounts_down_without_room_drains_and_refills():
    # Computed by hand: 100 x (1 - 1.0 / 1.25) = 20 L out, 20 L of water in.
    found = correction_amounts("100 L", 1.25, 1.0, room="24.9 L")
    assert found.drain.m_as("L") == pytest.approx(20)
    assert found.water.m_as("L") == pytest.approx(20)
    assert found.volume_after.m_as("L") == pytest.approx(100)


def test_correction_amounts_down_that_just_fits_is_not_drained():
    assert correction_amounts("100 L", 1.25, 1.0, room="25 L").drain.m == 0


def test_correction_amounts_up_in_a_full_tank_makes_room_first():
    # Computed by hand: k = 0.2 / 98; D = 2 k 100 / (1 + 2 k) = 0.40650 L; each k (100 - D).
    found = correction_amounts("100 L", 0.8, 1.0, room="0 L")
    assert found.drain.m_as("L") == pytest.approx(0.406504, abs=5e-7)
    assert found.each.m_as("mL") == pytest.approx(203.252, abs=5e-4)
    assert found.volume_after.m_as("L") == pytest.approx(100, rel=1e-12)


def test_correction_amounts_at_the_target_nothing_is_done():
    found = correction_amounts("100 L", 1.0, 1.0, room="0 L")
    assert found.each.m == found.water.m == found.drain.m == 0
    assert found.volume_after.m_as("L") == 100


def test_correction_amounts_array_agrees_with_scalars_in_any_unit():
    now = np.array([0.5, 1.0, 1.5])
    together = correction_amounts("100 gal", now, 1.0, 200, 3, room="30 L")
    for number, value in enumerate(now):
        one = correction_amounts("378.5411784 L", float(value), 1.0, 200, 3, room="30000 mL")
        for field in one._fields:
            there = getattr(together, field)
            assert np.broadcast_to(there.m, 3)[number] == pytest.approx(getattr(one, field).m)


@pytest.mark.parametrize("dilution", [2, 1.5])
def test_correction_amounts_stocks_too_weak_is_infeasible(dilution):
    with pytest.raises(InfeasibleError, match=r"cannot make a strength of 1; they must be more"):
        correction_amounts("100 L", 0.5, 1.0, dilution)


def test_correction_amounts_plain_water_as_target_says_why():
    with pytest.raises(RangeError, match="only by draining all"):
        correction_amounts("100 L", 0.5, 0)


def test_correction_amounts_bad_values_are_named_at_once():
    with pytest.raises(ArgumentError, match=r"(?s)volume.*strength_now.*dilution.*room"):
        correction_amounts("100 kg", -1, 1, 0.5, room="-1 L")


@given(st.floats(0.1, 1e4), STRENGTH, STRENGTH, st.floats(50, 400), st.integers(1, 4),
       st.none() | st.floats(0, 1e4))  # fmt: skip
@settings(max_examples=200)
def test_correction_amounts_mass_balance_reaches_the_target(
    volume, now, target, dilution, stocks, room
):
    litres = None if room is None else quantity(room, "L")
    found = correction_amounts(quantity(volume, "L"), now, target, dilution, stocks, litres)
    reached = strength_after(found, volume, now, dilution, stocks)
    assert reached == pytest.approx(target, rel=1e-9)
    parts = [part.m_as("L") for part in found]
    assert min(parts) >= 0
    assert found.drain.m_as("L") <= volume
    if room is not None:
        assert found.volume_after.m_as("L") <= (volume + room) * (1 + 1e-8)


def test_linear_strength_worked_case():
    # Computed by hand: (1.4 - 0.4) / (2.4 - 0.4) = 0.5.
    assert linear_strength("1.4 dS/m", "2.4 dS/m", "0.4 dS/m").m_as("") == pytest.approx(0.5)
    assert linear_strength("1400 uS/cm", "2.4 mS/cm", "0.4 dS/m").m_as("") == pytest.approx(0.5)


def test_linear_strength_of_the_water_itself_is_zero():
    assert linear_strength("0.4 dS/m", "2.4 dS/m", "0.4 dS/m").m == 0


def test_linear_strength_half_of_hoagland_is_five_percent_over():
    # Computed with IPHREEQC 3.8.6: half strength 1.139, full strength 2.166 dS/m.
    assert linear_strength("1.139 dS/m", "2.166 dS/m").m_as("") == pytest.approx(0.526, abs=5e-4)


def test_linear_strength_array_agrees_with_scalars():
    together = linear_strength(quantity(np.array([0.4, 1.0]), "dS/m"), "2.4 dS/m", "0.4 dS/m")
    assert together.m == pytest.approx([0.0, 0.3])


@pytest.mark.parametrize(
    ("ec", "shown"), [("0.3 dS/m", "0.3"), (quantity(np.array([1.0, 0.2]), "dS/m"), "0.2")]
)
def test_linear_strength_below_the_water_is_infeasible(ec, shown):
    with pytest.raises(InfeasibleError, match=rf"EC of {shown} dS/m is below that of the water"):
        linear_strength(ec, "2.4 dS/m", "0.4 dS/m")


def test_linear_strength_full_strength_like_water_is_infeasible():
    with pytest.raises(InfeasibleError, match="must be above that of the water"):
        linear_strength("0.5 dS/m", "0.4 dS/m", "0.4 dS/m")
