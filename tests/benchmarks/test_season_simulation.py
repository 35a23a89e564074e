"""A season for 100,000 tanks beside the same loop compiled, and one season by itself.

Run with ``python -m pytest -o addopts="" tests/benchmarks/test_season_simulation.py``.
The ratio is measured in one run, and both sides use one thread. `numba` is no
dependency; without it the comparison is skipped.
"""

from __future__ import annotations

import math
import time
import tracemalloc

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.reservoir import (
    ConstantLevel,
    Flows,
    HandFilled,
    Solute,
    Tank,
    season_totals,
    simulate,
)

MEMBERS, DAYS = 100_000, 130
REGIMES = {"constant": ConstantLevel("10 cm"), "hand": HandFilled("10 cm", every=7)}
BAND = ("3 cm", "12 cm")
TANK = Tank("15 cm", quantity([0, 2, 8], "cm"), [0.0, 0.4, 0.1])


def daily():
    """Return transpiration, evaporation and rain [L/m²] of 130 invented days."""
    rng = np.random.default_rng(0)
    days = np.arange(DAYS)
    showers = np.where(rng.random(DAYS) < 0.2, rng.exponential(6, DAYS), 0.0)
    return 2 + 3 * np.sin(np.pi * days / DAYS), np.full(DAYS, 0.4), showers


def flows(members=MEMBERS):
    thirst, drying, showers = (quantity(part, "mm/day") for part in daily())
    factor = np.random.default_rng(1).uniform(0.6, 1.6, members)
    return Flows(thirst, drying, showers, demand_factor=factor)


def strengths(members=MEMBERS):
    rng = np.random.default_rng(2)
    return rng.uniform(100, 200, (3, members)), rng.uniform(60, 150, (3, members))


def solutes(members=MEMBERS):
    return {
        str(n): Solute(quantity(inflow, "mg/L"), uptake=quantity(uptake, "mg/L"))
        for n, (inflow, uptake) in enumerate(zip(*strengths(members), strict=True))
    }


def compiled_season():
    """Return the balance of one member after the other, compiled."""
    numba = pytest.importorskip("numba")

    @numba.njit
    def season(thirst, drying, showers, factor, inflow, uptake, levels, valve, fills, out):
        held, rim, low, high = levels
        members, solutes = inflow.shape
        mass = np.empty(solutes)
        for member in range(members):
            volume = held
            lowest = volume
            top_up = hand_fill = rain = overflow = drunk = dried_up = deficit = 0.0
            below = above = filled = first_dry = 0
            row = out[member]
            for n in range(solutes):
                mass[n] = inflow[member, n] * volume
            for day in range(len(thirst)):
                if fills[day]:
                    added = max(held - volume, 0.0)
                    hand_fill += added
                    filled += added > 0
                    volume += added
                    for n in range(solutes):
                        mass[n] += inflow[member, n] * added
                        row[11 + 5 * n] += inflow[member, n] * added
                if showers[day] > 0:
                    rain += showers[day]
                    volume += showers[day]
                    if volume > rim:
                        over = volume - rim
                        overflow += over
                        volume -= over
                        share = -math.expm1(-over / rim)
                        for n in range(solutes):
                            lost = mass[n] * share
                            row[12 + 5 * n] += lost
                            mass[n] -= lost
                used = thirst[day] * factor[member]
                dried = drying[day] * factor[member]
                wanted = used + dried
                if valve:
                    added = max(held - volume + wanted, 0.0)
                    top_up += added
                    volume += added
                    for n in range(solutes):
                        mass[n] += inflow[member, n] * added
                        row[11 + 5 * n] += inflow[member, n] * added
                if volume < wanted:
                    share = volume / wanted
                    deficit += used * (1 - share)
                    used *= share
                    dried *= share
                    wanted = volume
                drunk += used
                dried_up += dried
                for n in range(solutes):
                    wish = uptake[member, n] * used
                    if wish > mass[n]:
                        row[13 + 5 * n] += wish - mass[n]
                        wish = mass[n]
                    row[14 + 5 * n] += wish
                    mass[n] -= wish
                volume -= wanted
                if volume <= 1e-9 and first_dry == 0:
                    first_dry = day + 1
                lowest = min(lowest, volume)
                below += volume < low - 1e-9
                above += volume > high + 1e-9
            row[0], row[1], row[2], row[3] = top_up, hand_fill, rain, overflow
            row[4], row[5], row[6] = drunk, dried_up, deficit
            row[7], row[8], row[9], row[10] = below, above, filled, first_dry
            for n in range(solutes):
                row[15 + 5 * n] = mass[n]
        return out

    return season


def compiled_inputs(members, regime):
    fills = np.zeros(DAYS, dtype=np.bool_)
    fills[7::7] = regime == "hand"
    levels = tuple(float(TANK.litres(depth)) for depth in (10.0, 15.0, 3.0, 12.0))
    factor = np.random.default_rng(1).uniform(0.6, 1.6, members)
    inflow, uptake = (np.ascontiguousarray(part.T) for part in strengths(members))
    return *daily(), factor, inflow, uptake, levels, regime == "constant", fills


def compiled_call(season, inputs):
    return season(*inputs, np.zeros((len(inputs[3]), 26)))


def totals(inputs, regime):
    return season_totals(TANK, REGIMES[regime], *inputs, band=BAND)


def own_inputs(members):
    return flows(members), solutes(members)


@pytest.mark.parametrize("regime", REGIMES)
def test_season_totals_same_as_compiled_loop(regime):
    out = compiled_call(compiled_season(), compiled_inputs(500, regime))
    found = totals(own_inputs(500), regime)
    parts = found.water
    expected = (
        parts.top_up, parts.hand_fill, parts.rain, parts.overflow, parts.transpiration,
        parts.evaporation, parts.deficit,
    )  # fmt: skip
    for column, part in enumerate(expected):
        np.testing.assert_allclose(out[:, column], part.m_as("L/m^2"), rtol=1e-9, atol=1e-9)
    for n in range(3):
        own = found.solutes[str(n)]
        own = own.supplied, own.overflow, own.unmet, own.uptake, found.residual[str(n)]
        for column, part in enumerate(own, start=11 + 5 * n):
            np.testing.assert_allclose(out[:, column], part.m_as("mg/m^2"), rtol=1e-9, atol=1e-5)
    np.testing.assert_array_equal(out[:, 7], found.days_below.m)
    np.testing.assert_array_equal(out[:, 8], found.days_above.m)
    np.testing.assert_array_equal(out[:, 9], found.fills)


@pytest.mark.parametrize("regime", REGIMES)
def test_season_totals_beside_compiled(regime, capsys):
    season, given, other = compiled_season(), own_inputs(MEMBERS), compiled_inputs(MEMBERS, regime)
    compiled_call(season, compiled_inputs(10, regime))
    own_times, other_times = [], []
    for _ in range(15):
        begin = time.perf_counter()
        totals(given, regime)
        middle = time.perf_counter()
        compiled_call(season, other)
        own_times.append(middle - begin)
        other_times.append(time.perf_counter() - middle)
    own, best = min(own_times), min(other_times)
    with capsys.disabled():
        print(f"\n{regime}: {own:.3f} s, compiled {best:.3f} s, ratio {own / best:.2f}")
    assert own > 0


@pytest.mark.benchmark(group="season, 100,000 tanks, 3 solutes")
@pytest.mark.parametrize("regime", REGIMES)
def test_season_totals_of_quantities(benchmark, regime):
    found = benchmark(totals, own_inputs(MEMBERS), regime)
    assert found.first_dry.shape == (MEMBERS,)


@pytest.mark.benchmark(group="season, 100,000 tanks, 3 solutes")
@pytest.mark.parametrize("regime", REGIMES)
def test_season_totals_compiled(benchmark, regime):
    season = compiled_season()
    found = benchmark(compiled_call, season, compiled_inputs(MEMBERS, regime))
    assert found.shape == (MEMBERS, 26)


@pytest.mark.benchmark(group="one season")
def test_simulate_one_season_six_solutes(benchmark):
    given = {name: Solute("150 mg/L", uptake="120 mg/L") for name in ("N", "P", "K", "Ca", "Mg")}
    given["Na"] = Solute("20 mg/L", factor=0.3)
    one = Flows(*(quantity(part, "mm/day") for part in daily()))
    season = benchmark(simulate, TANK, REGIMES["hand"], one, given, band=BAND)
    assert max(season.totals.closure().values()) < 1e-9


def test_season_totals_memory_grows_with_the_chunk_not_with_the_days():
    given, one = solutes(MEMBERS), flows(MEMBERS)
    peaks = {}
    for chunk in (2_000, 20_000):
        tracemalloc.start()
        found = season_totals(TANK, REGIMES["hand"], one, given, band=BAND, chunk=chunk)
        kept, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        peaks[chunk] = peak - kept
        assert found.water.rain.shape == (MEMBERS,)
    daily_series = MEMBERS * DAYS * 8
    assert peaks[2_000] < daily_series
    assert peaks[20_000] < daily_series
