from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.nutrients.conductivity.charge import CHARGES, ionic_strength
from scenariokit.nutrients.conductivity.ion_pairs import DOUBLE, LOG_CONSTANTS, sulfate_pairs


def davies(charge, strength):
    """Return the activity coefficient, written out; strength in mol/L."""
    root = np.sqrt(strength)
    return 10 ** (-0.509 * charge**2 * (root / (1 + root) - 0.3 * strength))


def check(ions):
    """Check mass action and both balances of the pairs found, from first principles."""
    unpaired = ionic_strength.floats(ions)
    found = sulfate_pairs(ions, unpaired)
    total = ions["SO4"]
    assert found.sulfate + sum(found.pairs.values()) == pytest.approx(total, rel=1e-8, abs=1e-15)
    lost = sum((4 if cation in DOUBLE else 2) * pair for cation, pair in found.pairs.items())
    assert found.ionic_strength == pytest.approx(unpaired - lost, rel=1e-8, abs=1e-12)
    strength = np.asarray(found.ionic_strength) / 1000
    for cation, pair in found.pairs.items():
        charge = CHARGES[cation]
        free = (np.asarray(ions[cation]) - pair) / 1000 * davies(charge, strength)
        made = free * np.asarray(found.sulfate) / 1000 * davies(2, strength)
        product = 10 ** LOG_CONSTANTS[cation] * made / davies(charge - 2, strength)
        assert np.asarray(pair) / 1000 == pytest.approx(product, rel=1e-7, abs=1e-16)
    return found


def test_sulfate_pairs_magnesium_sulfate_worked_by_hand():
    # I = 8 - 4 x 0.329 = 6.684 mmol/L; f = 0.08176/1.08176 - 0.3 x 0.006684 = 0.07357;
    # g2 = 10^(-2.036 f) = 0.7083; K g2^2 = 234.4 x 0.5017 = 117.6 L/mol;
    # 117.6 x 1.671e-3 x 1.671e-3 mol/L = 0.3284 mmol/L.
    found = sulfate_pairs({"Mg": 2.0, "SO4": 2.0}, 8.0)
    assert found.pairs["Mg"] == pytest.approx(0.329, abs=0.001)
    assert found.sulfate == pytest.approx(1.671, abs=0.001)
    assert found.ionic_strength == pytest.approx(6.684, abs=0.004)


def test_sulfate_pairs_feed_balances_close():
    ions = {"K": 7.0, "Ca": 4.5, "Mg": 2.0, "NO3": 12.0, "H2PO4": 1.0, "SO4": 3.5, "H": 0.01}
    found = check(ions)
    assert 0.2 < 1 - found.sulfate / 3.5 < 0.4


def test_sulfate_pairs_without_sulfate_none():
    found = sulfate_pairs({"K": 6.0, "NO3": 6.0}, 6.0)
    assert found.pairs == {}
    assert found.sulfate == 0
    assert found.ionic_strength == 6.0


def test_sulfate_pairs_zero_sulfate_in_an_array_none_there():
    sulfate = np.array([0.0, 2.0])
    ions = {"Mg": np.array([2.0, 2.0]), "SO4": sulfate, "NO3": 4 - 2 * sulfate}
    found = check(ions)
    assert found.pairs["Mg"][0] == 0
    assert found.pairs["Mg"][1] > 0.3


def test_sulfate_pairs_pure_water_zero():
    found = sulfate_pairs({"Ca": np.zeros(2), "SO4": np.zeros(2)}, np.zeros(2))
    assert np.all(found.sulfate == 0)
    assert np.all(found.ionic_strength == 0)


def test_sulfate_pairs_no_partner_all_free():
    found = sulfate_pairs({"SO4": 2.0}, 4.0)
    assert found.sulfate == pytest.approx(2.0)


@pytest.mark.parametrize(
    "ions",
    [
        {"Ca": 30.0, "SO4": 0.001, "NO3": 60.0},
        {"Ca": 0.001, "SO4": 25.0, "K": 50.0},
        {"Mg": 27.0, "SO4": 27.0},
        {"Ca": 0.0001, "SO4": 0.0001},
        {"Ca": 500.0, "SO4": 200.0, "Mg": 200.0, "K": 600.0, "NO3": 1500.0},
        {"Mg": 5000.0, "SO4": 5000.0},
        {"SO4": 40.0, "Ca": 400.0},
    ],
)
def test_sulfate_pairs_extreme_mixtures_balances_close(ions):
    check(ions)


amounts = st.floats(0, 40)


@given(
    ions=st.fixed_dictionaries(dict.fromkeys(("K", "Na", "NH4", "Ca", "Mg", "SO4"), amounts)),
    chloride=amounts,
    acid=st.floats(0, 1),
)
@settings(max_examples=200, deadline=None)
def test_sulfate_pairs_any_mixture_balances_close(ions, chloride, acid):
    check({**ions, "Cl": chloride, "H": acid})
