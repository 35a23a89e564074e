"""EC beside IPHREEQC, an independent program, where its Python package is installed."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.nutrients.conductivity.ions import electrical_conductivity
from scenariokit.nutrients.conductivity.meter import ec_at

phreeqc = pytest.importorskip("phreeqc", reason="the extra `oracles` is not installed")

SALTS = {
    "KNO3": {"K": 1, "NO3": 1},
    "Ca(NO3)2": {"Ca": 1, "NO3": 2},
    "MgSO4": {"Mg": 1, "SO4": 1},
    "KH2PO4": {"K": 1, "H2PO4": 1},
    "NH4H2PO4": {"NH4": 1, "H2PO4": 1},
    "K2SO4": {"K": 2, "SO4": 1},
    "NH4NO3": {"NH4": 1, "NO3": 1},
    "(NH4)2SO4": {"NH4": 2, "SO4": 1},
    "Mg(NO3)2": {"Mg": 1, "NO3": 2},
    "KCl": {"K": 1, "Cl": 1},
    "CaCl2": {"Ca": 1, "Cl": 2},
    "NaCl": {"Na": 1, "Cl": 1},
}
ALWAYS = {"KNO3": (1, 7), "Ca(NO3)2": (1, 6), "MgSO4": (0.5, 3), "KH2PO4": (0.2, 2)}
SOMETIMES = {
    "NH4H2PO4": 1, "K2SO4": 2, "NH4NO3": 1, "(NH4)2SO4": 0.7, "Mg(NO3)2": 1, "KCl": 2, "CaCl2": 1,
    "NaCl": 2,
}  # fmt: skip
HOAGLAND = {"KH2PO4": 1, "KNO3": 5, "Ca(NO3)2": 5, "MgSO4": 2}
# Nitrogen is given by valence, so that nitrate and ammonium do not react.
NAMES = {
    "K": "K", "Na": "Na", "NH4": "N(-3)", "Ca": "Ca", "Mg": "Mg", "NO3": "N(5)", "Cl": "Cl",
    "SO4": "S(6)", "H2PO4": "P",
}  # fmt: skip


def ions_of(salts):
    """Return ions in mmol/L from millimoles of salt in a litre."""
    ions = {}
    for salt, amount in salts.items():
        for ion, count in SALTS[salt].items():
            ions[ion] = ions.get(ion, 0.0) + count * amount
    return ions


def to_ec(salts, wanted):
    """Return ions scaled to about the EC that is wanted."""
    ions = ions_of(salts)
    for _ in range(3):
        factor = wanted / electrical_conductivity.floats(ions)
        ions = {ion: amount * factor for ion, amount in ions.items()}
    return ions


def reference(solutions, temperature=25):
    """Return EC in dS/m of each solution, as IPHREEQC has it; pH by charge balance."""
    engine = phreeqc.Phreeqc()
    assert engine.LoadBuiltInDatabase("phreeqc.dat") == 0
    text = []
    for number, ions in enumerate(solutions, start=1):
        text += [f"SOLUTION {number}", f" temp {temperature}", " units mmol/L", " pH 7 charge"]
        text += [" density 1 calculate"]
        text += [f" {NAMES[ion]} {amount:.12g}" for ion, amount in ions.items() if amount > 0]
    text += ["SELECTED_OUTPUT", " -reset false", "USER_PUNCH", " -headings sc", " -start"]
    text += ["10 PUNCH SC", " -end", "END", ""]
    assert engine.RunString("\n".join(text)) == 0, engine.GetErrorString()
    return np.array(engine.GetSelectedOutput()["sc"], dtype=float) / 1000


def feeds(count, seed):
    """Return random feeds made of salts, so in balance, of EC 0.4 to 4 dS/m."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        salts = {salt: rng.uniform(*span) for salt, span in ALWAYS.items()}
        salts |= {
            salt: rng.uniform(0, most) for salt, most in SOMETIMES.items() if rng.random() < 0.5
        }
        found.append(to_ec(salts, rng.uniform(0.4, 4)))
    return found


@pytest.mark.parametrize("seed", [0, 1])
def test_electrical_conductivity_two_hundred_random_feeds_within_five_percent(seed):
    solutions = feeds(200, seed)
    expected = reference(solutions)
    error = np.array([electrical_conductivity.floats(ions) for ions in solutions]) / expected - 1
    assert expected.min() > 0.39
    assert np.max(np.abs(error)) < 0.05
    assert np.mean(np.abs(error)) < 0.015
    assert abs(np.mean(error)) < 0.01


def test_electrical_conductivity_any_mixture_of_salts_within_ten_percent():
    # Also mixtures that nobody would feed, such as mostly ammonium sulfate.
    rng = np.random.default_rng(0)
    solutions = [
        to_ec(
            {
                salt: rng.uniform(0.1, 5)
                for salt in rng.choice(list(SALTS), rng.integers(3, 9), False)
            },
            rng.uniform(0.4, 4),
        )
        for _ in range(200)
    ]
    found = np.array([electrical_conductivity.floats(ions) for ions in solutions])
    error = found / reference(solutions) - 1
    assert np.max(np.abs(error)) < 0.1
    assert np.mean(np.abs(error)) < 0.02


@pytest.mark.parametrize("salt", SALTS)
def test_electrical_conductivity_one_salt_within_six_percent(salt):
    solutions = [ions_of({salt: amount}) for amount in (0.5, 2.0, 8.0)]
    for ions, expected in zip(solutions, reference(solutions), strict=True):
        assert electrical_conductivity.floats(ions) == pytest.approx(expected, rel=0.06)


def test_electrical_conductivity_up_to_the_limit_within_three_percent():
    solutions = [ions_of({s: k * n for s, n in HOAGLAND.items()}) for k in (0.1, 0.5, 1, 2, 3.7)]
    found = [electrical_conductivity.floats(ions) for ions in solutions]
    assert found == pytest.approx(reference(solutions), rel=0.03)


@pytest.mark.parametrize("temperature", [5, 10, 15, 20, 30, 35])
def test_ec_at_temperature_of_a_feed_within_two_percent(temperature):
    ions = ions_of(HOAGLAND)
    usual = ec_at.floats(reference([ions])[0], float(temperature))
    assert usual == pytest.approx(reference([ions], temperature)[0], rel=0.02)
