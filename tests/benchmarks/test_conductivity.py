"""EC of a million solutions beside plain NumPy, and strength for a slider and an ensemble.

Run with ``python -m pytest -o addopts="" tests/benchmarks/test_conductivity.py``.
Ratios are measured in one run, on one thread.
"""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.nutrients.conductivity.charge import CHARGES
from scenariokit.nutrients.conductivity.ions import LIMITING, electrical_conductivity
from scenariokit.nutrients.conductivity.strength import StrengthCurve

SOLUTIONS = 1_000_000
HIGHEST = {"K": 8, "Na": 1, "NH4": 1, "Ca": 5, "Mg": 2, "NO3": 15, "Cl": 1, "SO4": 3, "H2PO4": 1,
           "HCO3": 0.5}  # fmt: skip
HOAGLAND = {"K": 6.0, "Ca": 5.0, "Mg": 2.0, "NO3": 15.0, "H2PO4": 1.0, "SO4": 2.0}
WATER = {"Ca": 1.0, "HCO3": 2.0}


@pytest.fixture(scope="module")
def ions():
    rng = np.random.default_rng(0)
    return {ion: most * rng.uniform(0.1, 1, SOLUTIONS) for ion, most in HIGHEST.items()}


def bare(ions):
    """Return the sum at infinite dilution."""
    return sum(abs(CHARGES[ion]) * LIMITING[ion] * amount for ion, amount in ions.items()) / 1000


def with_activity(ions):
    """Return the sum with activity but no pairs, one coefficient shared by each charge."""
    molar = 0.5 * sum(CHARGES[ion] ** 2 * amount for ion, amount in ions.items()) / 1000
    root = np.sqrt(molar)
    davies = root / (1 + root) - 0.3 * molar
    slowed = {z: (10 ** (-0.509 * z * z * davies)) ** (0.6 / z**0.5) for z in (1, 2)}
    return sum(
        abs(CHARGES[ion]) * LIMITING[ion] * amount * slowed[abs(CHARGES[ion])]
        for ion, amount in ions.items()
    ) / 1000  # fmt: skip


def with_activity_of_each(ions):
    """Return the same with the coefficient worked out for each ion."""
    molar = 0.5 * sum(CHARGES[ion] ** 2 * amount for ion, amount in ions.items()) / 1000
    root = np.sqrt(molar)
    davies = root / (1 + root) - 0.3 * molar
    total = 0.0
    for ion, amount in ions.items():
        z = abs(CHARGES[ion])
        coefficient = 10 ** (-0.509 * z * z * davies)
        total = total + z * LIMITING[ion] * amount * coefficient ** (0.6 / z**0.5)
    return total / 1000


@pytest.mark.benchmark(group="EC of a million solutions")
def test_electrical_conductivity_million_solutions(benchmark, ions):
    assert benchmark(electrical_conductivity.floats, ions).shape == (SOLUTIONS,)


@pytest.mark.benchmark(group="EC of a million solutions")
def test_electrical_conductivity_million_solutions_by_hand(benchmark, ions):
    assert benchmark(with_activity, ions).shape == (SOLUTIONS,)


@pytest.mark.benchmark(group="EC of a million solutions")
@pytest.mark.parametrize("function", [with_activity_of_each, bare])
def test_electrical_conductivity_million_solutions_by_other_sums(benchmark, ions, function):
    assert benchmark(function, ions).shape == (SOLUTIONS,)


@pytest.mark.benchmark(group="one solution")
def test_electrical_conductivity_one_solution(benchmark):
    assert benchmark(electrical_conductivity.floats, HOAGLAND) > 2


@pytest.mark.benchmark(group="one solution")
def test_strength_curve_one_look_up(benchmark):
    assert benchmark(StrengthCurve(HOAGLAND, WATER).strength, 1.6) > 0.5


@pytest.mark.benchmark(group="making a curve")
def test_strength_curve_made_and_asked(benchmark):
    assert benchmark(lambda: StrengthCurve(HOAGLAND, WATER).strength(1.6)) > 0.5


@pytest.mark.benchmark(group="strength of 100,000")
def test_strength_curve_ensemble(benchmark):
    wanted = np.linspace(0.5, 6, 100_000)
    assert benchmark(StrengthCurve(HOAGLAND, WATER).strength, wanted).shape == wanted.shape


@pytest.mark.benchmark(group="strength of 100,000")
def test_strength_curve_ensemble_by_hand(benchmark):
    """Linear interpolation in a table of a thousand strengths."""
    curve = StrengthCurve(HOAGLAND, WATER)
    strengths = np.linspace(0, curve.highest_strength, 1000)
    table, wanted = curve.ec(strengths), np.linspace(0.5, 6, 100_000)
    assert benchmark(np.interp, wanted, table, strengths).shape == wanted.shape
