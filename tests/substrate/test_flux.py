"""Upward flow, against computed tables, quadrature and properties."""

from __future__ import annotations

import csv
import warnings
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from scenariokit import quantity, substrate
from scenariokit.errors import InfeasibleError, RangeError, ValidityWarning
from scenariokit.substrate import mualem

with (Path(__file__).parents[1] / "published" / "upward_flux.csv").open(
    newline="", encoding="utf-8"
) as file:
    ROWS = list(csv.DictReader(file))
GARDNER = [row for row in ROWS if row["form"] == "gardner"]
POWER = [row for row in ROWS if row["form"] == "power"]
MUALEM = [row for row in ROWS if row["unit"] == "mm/day"]
HEIGHTS = [row for row in ROWS if row["unit"] == "cm"]
SAND = ("712.8 cm/day", "0.145 1/cm", 2.68)
MEDIA = st.tuples(
    st.floats(1, 2000), st.floats(0.01, 0.6), st.floats(1.5, 4), st.floats(-0.9, 2)
)  # fmt: skip


def medium(row):
    return (
        quantity(float(row["conductivity"]), "cm/day"),
        quantity(float(row["alpha"]), "1/cm"),
        float(row["n"]),
        float(row["connectivity"]),
    )


@pytest.mark.parametrize("row", GARDNER, ids=lambda row: row["value"])
def test_gardner_upward_limit_known_value_matches(row):
    ends = (quantity(float(row["at"]), "cm"),) if row["at"] else ()
    found = substrate.gardner_upward_limit(
        quantity(float(row["distance"]), "cm"), "100 cm/day", "0.1 1/cm", *ends
    )
    half = 0.51 * 10 ** -int(row["printed_digits"])
    assert found.m_as("cm/day") == pytest.approx(float(row["value"]), abs=half)


def test_gardner_upward_limit_equals_quadrature():
    q = substrate.gardner_upward_limit("30 cm", "100 cm/day", "0.1 1/cm", "100 cm").m_as("cm/day")
    height = quad(lambda h: 1 / (1 + q / (100 * np.exp(-0.1 * h))), 0, 100, epsabs=1e-11)[0]
    assert height == pytest.approx(30, abs=1e-8)


@pytest.mark.parametrize("row", POWER, ids=lambda row: f"{row['n']}-{row['status']}")
def test_power_constant_known_value_matches(row):
    # From memory the printed constants are 3.77, 2.46, 1.76 and 1.52: cut or rounded by up to 0.01.
    half = 0.011 if row["status"] == "memory" else 0.51 * 10 ** -int(row["printed_digits"])
    found = substrate.power_constant(float(row["n"])).m
    assert found == pytest.approx(float(row["value"]), abs=half)


def test_power_upward_limit_equals_quadrature():
    # K = 2 (20 / h)^3 cm/day; the height that the limit reaches must be the distance.
    q = substrate.power_upward_limit("30 cm", "2 cm/day", "20 cm", 3).m_as("cm/day")
    height = quad(lambda h: 1 / (1 + q / (2 * (20 / h) ** 3)), 0, np.inf)[0]
    assert height == pytest.approx(30, rel=1e-7)


def test_power_upward_limit_twice_the_distance_falls_by_power():
    near = substrate.power_upward_limit("30 cm", "2 cm/day", "20 cm", 3)
    far = substrate.power_upward_limit("60 cm", "2 cm/day", "20 cm", 3)
    assert near.m / far.m == pytest.approx(8)


@pytest.mark.parametrize("row", MUALEM, ids=lambda row: f"{row['form']}-{row['distance']}")
@pytest.mark.filterwarnings("ignore::scenariokit.errors.ValidityWarning")
def test_upward_limit_known_value_within_two_percent(row):
    found = substrate.upward_limit(quantity(float(row["distance"]), "cm"), *medium(row))
    assert found.m_as("mm/day") == pytest.approx(float(row["value"]), rel=0.02)


@pytest.mark.parametrize("row", HEIGHTS, ids=lambda row: f"{row['form']}-{row['at']}")
@pytest.mark.filterwarnings("ignore::scenariokit.errors.ValidityWarning")
def test_height_supplied_known_value_matches(row):
    found = substrate.height_supplied(quantity(float(row["at"]), "mm/day"), *medium(row))
    assert found.m_as("cm") == pytest.approx(float(row["value"]), abs=0.06)


@pytest.mark.filterwarnings("ignore::scenariokit.errors.ValidityWarning")
def test_upward_limit_sphagnum_connectivity_matters_fourfold():
    peat = ("262 cm/day", "0.3486 1/cm", 1.4006)
    fitted = substrate.upward_limit("10 cm", *peat, -1.692)
    usual = substrate.upward_limit("10 cm", *peat, 0.5)
    assert fitted.m / usual.m == pytest.approx(4, abs=0.5)


@given(numbers=MEDIA, distance=st.floats(2, 60), more=st.floats(0.5, 40))
@settings(max_examples=50)
def test_upward_limit_farther_is_less_and_wetter_end_is_less(numbers, distance, more):
    near = substrate.upward_limit.floats(distance, *numbers)
    assert substrate.upward_limit.floats(distance + more, *numbers) < near
    assert substrate.upward_limit.floats(distance, *numbers, distance + more) <= near * (1 + 1e-12)
    assert near < 10 * numbers[0] * 15000 / distance


@given(numbers=MEDIA, rate=st.floats(0.2, 50))
@settings(max_examples=50)
def test_height_supplied_its_limit_is_the_rate(numbers, rate):
    height = substrate.height_supplied.floats(rate, *numbers)
    assert substrate.upward_limit.floats(height, *numbers) == pytest.approx(rate, rel=1e-8)


@pytest.mark.parametrize(
    "medium_", [(712.8, 0.145, 2.68, 0.5), (24.96, 0.036, 1.56, 0.5), (262, 0.3486, 1.4, -1.692)]
)
@pytest.mark.parametrize("flow", [0.01, 0.5, 50])
def test_height_reached_equals_adaptive_quadrature(medium_, flow):
    edges = [0, 0.001, 0.01, 0.1, 1, 3, 10, 20, 30, 100, 1000, 15000]

    def slope(h):
        k = float(mualem.conductivity_at(h, *medium_))
        return k / (k + flow)

    whole = sum(quad(slope, low, high, limit=500, epsabs=1e-11)[0] for low, high in pairwise(edges))
    assert float(mualem.height_reached(flow, 0.0, 15000.0, medium_)) == pytest.approx(
        whole, abs=1e-8
    )


def test_mualem_conductivity_worked_case():
    # By hand: Se = 0.43984, Se^(1/m) = 0.26966, 1 - 0.73034^m = 0.17880; 712.8 x 0.66320 x 0.03197
    found = substrate.mualem_conductivity("10 cm", *SAND).m
    assert found == pytest.approx(15.11, abs=0.02)


def test_mualem_conductivity_full_is_saturated():
    assert substrate.mualem_conductivity("0 cm", *SAND).m == pytest.approx(712.8)


def test_mualem_conductivity_dry_end_keeps_its_digits():
    # Far out K falls as h^-(n (2 + 0.5 m) ...): two points a decade apart give the power.
    far = mualem.conductivity_at(np.array([1e5, 1e6]), 712.8, 0.145, 2.68, 0.5)
    m = 1 - 1 / 2.68
    assert np.log10(far[0] / far[1]) == pytest.approx(2.68 * (2 + 0.5 * m), rel=1e-6)


@pytest.mark.parametrize(
    "call",
    [
        lambda: substrate.upward_limit("10 cm", "50 cm/day", "0.05 1/cm", 1.36),
        lambda: substrate.height_supplied("5 mm/day", "50 cm/day", "0.05 1/cm", 1.36),
        lambda: substrate.mualem_conductivity("5 cm", "50 cm/day", "0.05 1/cm", 1.36),
    ],
)
def test_upward_flow_low_n_warns_of_order_of_magnitude(call):
    with pytest.warns(ValidityWarning, match="order of magnitude") as caught:
        call()
    assert caught[0].filename == __file__


def test_upward_limit_usual_n_does_not_warn():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        substrate.upward_limit("10 cm", *SAND)


def test_upward_limit_connectivity_too_low_raises():
    with pytest.raises(InfeasibleError, match="rises as the medium dries"):
        substrate.upward_limit("10 cm", *SAND, -3.5)


def test_upward_limit_wet_surface_raises():
    with pytest.raises(InfeasibleError, match="water runs down or rests"):
        substrate.upward_limit("30 cm", *SAND, 0.5, "30 cm")
    with pytest.raises(InfeasibleError, match="gardner_upward_limit"):
        substrate.gardner_upward_limit("30 cm", "100 cm/day", "0.1 1/cm", "20 cm")


def test_upward_limit_at_the_water_says_why():
    with pytest.raises(RangeError, match="at the water itself"):
        substrate.upward_limit("0 cm", *SAND)


def test_gardner_upward_limit_very_far_is_nothing_without_overflow():
    assert substrate.gardner_upward_limit("1000 cm", "1 cm/day", "5 1/cm").m == 0
