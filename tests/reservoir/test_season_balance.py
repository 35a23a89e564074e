from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.reservoir import (
    ConstantLevel,
    FallingLevel,
    FallingThenHeld,
    Flows,
    HandFilled,
    Solute,
    Tank,
    season_totals,
    simulate,
)

PUBLISHED = Path(__file__).parents[1] / "published"
TANK = Tank("15 cm")


def rows(name):
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def mm(value):
    return quantity(value, "mm/day")


def mg(value):
    return quantity(value, "mg/L")


def salt(**kwargs):
    return {"K": Solute("150 mg/L", **kwargs)}


def of_row(row, steps):
    """Return the simulated concentration at the end of a published case."""
    flows = Flows(
        "5 mm/day", mm(float(row["evaporation"])), discharge=mm(float(row["discharge"])),
        days=int(row["days"]),
    )  # fmt: skip
    given_ = salt(factor=float(row["factor"])) if row["factor"] else salt(uptake="120 mg/L")
    regime = FallingLevel("10 cm") if "falling" in row["case"] else ConstantLevel("10 cm")
    season = simulate(TANK, regime, flows, given_, steps_per_day=steps)
    return season.concentrations["K"][-1].m_as("mg/L")


CASES = rows("concentration_drift.csv")
EXACT = [row for row in CASES if not row["factor"] and float(row["discharge"]) == 0]
FIRST_ORDER = [row for row in CASES if row not in EXACT]


@pytest.mark.parametrize("row", EXACT, ids=lambda row: row["value"])
@pytest.mark.parametrize("steps", [1, 3])
def test_simulate_stated_uptake_without_discharge_is_exact(row, steps):
    assert of_row(row, steps) == pytest.approx(float(row["value"]), rel=1e-8)


@pytest.mark.parametrize("row", FIRST_ORDER, ids=lambda row: row["value"])
def test_simulate_half_the_step_halves_the_error(row):
    assert len(FIRST_ORDER) == 3
    errors = [of_row(row, steps) - float(row["value"]) for steps in (1, 2, 4, 8)]
    for coarse, fine in itertools.pairwise(errors):
        assert coarse / fine == pytest.approx(2, rel=0.15)


@pytest.mark.parametrize("row", FIRST_ORDER[:2], ids=lambda row: row["value"])
def test_simulate_daily_steps_at_constant_level_are_off_by_little(row):
    assert of_row(row, 1) == pytest.approx(float(row["value"]), rel=1.3e-3)


@pytest.mark.parametrize("row", rows("rain_dilution.csv"), ids=lambda row: row["value"])
def test_simulate_one_shower_dilutes_as_worked_by_hand(row):
    depth, rain = float(row["depth_mm"]), float(row["rain_mm"])
    rim = depth + rain if row["kept"] == "1" else depth
    flows = Flows("0 mm/day", rain=mm(rain), days=1)
    season = simulate(Tank(quantity(rim, "mm")), FallingLevel(quantity(depth, "mm")), flows, salt())
    assert season.concentrations["K"][-1].m_as("mg/L") == pytest.approx(
        float(row["value"]), abs=0.006
    )


def test_simulate_overflow_in_many_steps_same_as_in_one():
    flows = Flows("0 mm/day", rain="50 mm/day", days=1)
    found = [
        simulate(Tank("10 cm"), FallingLevel("8 cm"), flows, salt(), steps_per_day=n)
        .concentrations["K"][-1].m for n in (1, 10)
    ]  # fmt: skip
    assert found[0] == pytest.approx(found[1], rel=1e-12)


def test_simulate_parts_of_one_day_worked_case():
    # 100 L/m² of 150 mg/L; E 4, Ev 1, leak 2, discharge 3: the valve gives 10 of the same.
    flows = Flows("4 mm/day", "1 mm/day", leak="2 mm/day", discharge="3 mm/day", days=1)
    season = simulate(TANK, ConstantLevel("10 cm"), flows, salt(uptake="120 mg/L"))
    water, k = season.water, season.solutes["K"]
    found = [water.top_up, water.transpiration, water.evaporation, water.leak, water.discharge]
    assert [part.m_as("L/m^2")[0] for part in found] == pytest.approx([10, 4, 1, 2, 3])
    found = [k.supplied, k.uptake, k.leak, k.discharge, k.unmet]
    assert [part.m_as("mg/m^2")[0] for part in found] == pytest.approx([1500, 480, 300, 450, 0])
    # Computed by hand: (15000 + 1500 - 480 - 300 - 450) / 100.
    assert season.concentrations["K"].m_as("mg/L").tolist() == pytest.approx([150, 152.7])


def test_simulate_valve_fails_level_falls_from_that_day_and_dries():
    # 80 mm at 5.75 mm a day last 13.9 days: dry on the 14th without water.
    flows = Flows("5.75 mm/day", days=40)
    season = simulate(TANK, ConstantLevel("8 cm", "11 day"), flows)
    depth = season.depth.m_as("cm")
    assert depth[10] == pytest.approx(8)
    assert depth[11] == pytest.approx(8 - 0.575)
    assert season.totals.first_dry.m_as("day") == 24
    assert depth.min() == 0
    wanted = 5.75 * 40
    met, missed = (season.totals.water.transpiration, season.totals.water.deficit)
    assert met.m_as("L/m^2") + missed.m_as("L/m^2") == pytest.approx(wanted)


def test_simulate_valve_fails_differently_for_each_member():
    regime = ConstantLevel("8 cm", quantity([1.0, 11.0, 500.0], "day"))
    season = simulate(TANK, regime, Flows("5.75 mm/day", days=40))
    assert season.totals.first_dry.m_as("day").tolist() == [14, 24, np.inf]


def test_simulate_valve_works_through_a_day_thirstier_than_the_tank():
    season = simulate(TANK, ConstantLevel("0.3 cm"), Flows("9 mm/day", days=5), salt(factor=3.0))
    assert season.totals.water.deficit.m_as("L/m^2") == 0
    assert season.depth[-1].m_as("cm") == pytest.approx(0.3)
    assert season.concentrations["K"].m_as("mg/L").min() >= 0


def test_simulate_dry_tank_keeps_its_salt_and_refills():
    regime = HandFilled("4 cm", days=[12])
    flows = Flows("2 mm/day", "3 mm/day", days=14)
    season = simulate(TANK, regime, flows, salt(uptake="120 mg/L"))
    assert season.totals.first_dry.m_as("day") == 8
    assert np.isnan(season.concentrations["K"][11].m_as("mg/L"))
    # Computed by hand: 6000 - 16 x 120 mg/m² are left dry, then 6000 come in; 2 L drunk, 35 L left.
    assert season.concentrations["K"][12].m_as("mg/L") == pytest.approx(
        (6000 - 16 * 120 + 6000 - 240) / 35
    )


def test_simulate_uptake_takes_no_more_than_there_is():
    flows = Flows("5 mm/day", days=10)
    found = simulate(TANK, FallingLevel("10 cm"), flows, {"K": Solute("20 mg/L", "120 mg/L")})
    taken = found.totals.solutes["K"]
    assert taken.uptake.m_as("mg/m^2") == pytest.approx(2000)
    assert taken.unmet.m_as("mg/m^2") == pytest.approx(4000)
    assert found.totals.residual["K"].m_as("mg/m^2") == 0


def test_simulate_drained_more_than_there_is_empties():
    flows = Flows("0 mm/day", drained="500 L/m^2", drained_on=[2], days=3)
    season = simulate(TANK, FallingLevel("10 cm"), flows, salt())
    assert season.depth.m_as("cm").tolist() == [10, 10, 0, 0]
    assert season.totals.solutes["K"].drained.m_as("mg/m^2") == pytest.approx(15000)
    assert season.totals.first_dry.m_as("day") == 2


def test_simulate_drained_every_day_is_a_tenth_of_a_falling_tank():
    flows = Flows("0 mm/day", drained="1 L/m^2", days=10)
    season = simulate(TANK, FallingLevel("10 cm"), flows, salt())
    assert season.depth[-1].m_as("cm") == pytest.approx(9)
    assert season.concentrations["K"][-1].m_as("mg/L") == pytest.approx(150)


def test_simulate_falling_then_held_reaches_and_keeps_its_level():
    season = simulate(TANK, FallingThenHeld("12 cm", "4 cm"), Flows("5 mm/day", days=60))
    depth = season.depth.m_as("cm")
    assert depth[15:17] == pytest.approx([4.5, 4])
    assert depth[-1] == pytest.approx(4)
    assert season.totals.water.top_up.m_as("L/m^2") == pytest.approx(60 * 5 - 80)


def test_simulate_pots_in_the_water_make_the_level_fall_faster():
    pots = Tank("15 cm", quantity([0, 5], "cm"), [0.5, 0.0])
    season = simulate(pots, FallingLevel("6 cm"), Flows("5 mm/day", days=4))
    # Computed by hand: 35 L/m² at 6 cm; 30, 25 (5 cm), 20 (4 cm), 15 (3 cm).
    assert season.depth.m_as("cm").tolist() == pytest.approx([6, 5.5, 5, 4, 3])


def test_simulate_band_counts_days_outside():
    season = simulate(
        TANK, FallingLevel("10 cm"), Flows("5 mm/day", days=20), band=("4 cm", "8 cm")
    )
    # Levels 9.5, 9, 8.5 lie above; 3.5 down to 0 are 8 days below; 8 and 4 are in order.
    assert season.totals.days_above.m_as("day") == 3
    assert season.totals.days_below.m_as("day") == 8


FLOW = st.floats(0, 12)
FACTOR = st.one_of(st.none(), st.floats(0, 3))
REGIMES = st.sampled_from(
    [
        ConstantLevel("8 cm"), ConstantLevel("8 cm", "9 day"), FallingLevel("11 cm"),
        FallingThenHeld("11 cm", "3 cm"), HandFilled("9 cm", every=4, missed=[9]),
        ConstantLevel("0.2 cm"),
    ]
)  # fmt: skip


@given(
    regime=REGIMES, seed=st.integers(0, 10**6), peak=FLOW, leak=FLOW, run_off=FLOW,
    shower=st.floats(0, 90), factor=FACTOR, steps=st.integers(1, 3),
)  # fmt: skip
@settings(max_examples=60)
def test_simulate_any_season_closes_and_never_falls_below_zero(
    regime, seed, peak, leak, run_off, shower, factor, steps
):
    rng = np.random.default_rng(seed)
    flows = Flows(
        mm(rng.uniform(0, peak, (30, 3))), mm(rng.uniform(0, 2, 30)),
        mm(np.where(rng.random(30) < 0.2, shower, 0.0)), mm(leak), mm(run_off),
        quantity(rng.uniform(0, 20, 30), "L/m^2"), [5, 17],
    )  # fmt: skip
    given_ = {
        "fixed": Solute("150 mg/L", uptake=mg(rng.uniform(0, 400, 3))),
        "other": Solute("90 mg/L", factor=factor, start="10 mg/L"),
    }
    tank = Tank("12 cm", quantity([0, 3, 7], "cm"), [0.2, 0.6, 0.0])
    season = simulate(tank, regime, flows, given_, steps_per_day=steps)
    for share in season.totals.closure().values():
        assert np.all(share < 1e-9)
    assert np.all(season.volume.m >= 0)
    assert np.all(season.depth.m_as("cm") <= 12 * (1 + 1e-12))
    for name, parts in season.solutes.items():
        assert all(np.all(part.m >= -1e-9) for part in parts)
        wet = season.volume.m > 1e-6
        assert np.all(season.concentrations[name].m[wet] >= -1e-9)
    daily = np.diff(season.volume.m, axis=0)
    np.testing.assert_allclose(daily, season.water.gain().m, atol=1e-9)
    totals = season_totals(tank, regime, flows, given_, steps_per_day=steps, chunk=2)
    for one, other in zip(totals.water, season.totals.water, strict=True):
        np.testing.assert_allclose(one.m, other.m, rtol=1e-12, atol=1e-12)
    for name, parts in totals.solutes.items():
        for one, other in zip(parts, season.totals.solutes[name], strict=True):
            np.testing.assert_allclose(one.m, other.m, rtol=1e-9, atol=1e-7)
    np.testing.assert_array_equal(totals.first_dry.m, season.totals.first_dry.m)


@given(use=st.floats(1, 9), days=st.integers(5, 60))
@settings(max_examples=30)
def test_simulate_twice_the_water_half_the_drift(use, days):
    drift = [
        simulate(
            Tank("50 cm"), ConstantLevel(quantity(depth, "cm")), Flows(mm(use), days=days),
            salt(uptake="120 mg/L"),
        ).concentrations["K"][-1].m_as("mg/L") - 150
        for depth in (10, 20)
    ]  # fmt: skip
    assert drift[0] == pytest.approx(2 * drift[1], rel=1e-9)


@given(regime=REGIMES, seed=st.integers(0, 10**6))
@settings(max_examples=30)
def test_simulate_refill_as_strong_as_uptake_stays_without_evaporation(regime, seed):
    flows = Flows(mm(np.random.default_rng(seed).uniform(0, 5, 20)))
    season = simulate(TANK, regime, flows, {"K": Solute("130 mg/L", uptake="130 mg/L")})
    found = season.concentrations["K"].m_as("mg/L")
    wet = season.volume.m > 1e-3
    assert found[wet] == pytest.approx(130, rel=1e-6)


@given(regime=REGIMES, seed=st.integers(0, 10**6), more=st.floats(1.01, 3))
@settings(max_examples=30)
def test_simulate_thirstier_season_never_stands_higher_or_is_later_dry(regime, seed, more):
    flows = Flows(
        mm(np.random.default_rng(seed).uniform(0, 5, 30)), "0.5 mm/day",
        demand_factor=np.array([1.0, more]),
    )  # fmt: skip
    season = simulate(TANK, regime, flows)
    assert np.all(season.depth.m[:, 1] <= season.depth.m[:, 0] + 1e-9)
    assert season.totals.first_dry.m[1] <= season.totals.first_dry.m[0]
    assert season.totals.water.deficit.m[1] >= season.totals.water.deficit.m[0]


def test_simulate_ensemble_equals_its_members():
    factor = np.array([[0.5, 1.0, 1.5], [2.0, 0.1, 0.7]])
    inflow = np.array([100.0, 150.0, 200.0])
    rain = mm(np.linspace(0, 4, 25))
    together = simulate(
        TANK, HandFilled("8 cm", every=5), Flows("4 mm/day", rain=rain, demand_factor=factor),
        {"K": Solute(mg(inflow), factor=0.7)},
    )  # fmt: skip
    assert together.depth.shape == (26, 2, 3)
    for place in np.ndindex(2, 3):
        alone = simulate(
            TANK, HandFilled("8 cm", every=5),
            Flows("4 mm/day", rain=rain, demand_factor=factor[place]),
            {"K": Solute(mg(inflow[place[1]]), factor=0.7)},
        )  # fmt: skip
        where = (slice(None), *place)
        np.testing.assert_allclose(together.depth.m[where], alone.depth.m, rtol=1e-12)
        np.testing.assert_allclose(
            together.concentrations["K"].m[where], alone.concentrations["K"].m, rtol=1e-12
        )
        assert together.totals.fills[place] == alone.totals.fills
        assert type(alone.totals.first_dry.magnitude) is float


def test_season_totals_daily_arrays_of_members_equal_any_chunk():
    use = mm(np.random.default_rng(1).uniform(0, 6, (20, 2, 4)))
    found = [
        season_totals(TANK, FallingLevel("9 cm"), Flows(use), salt(factor=1.2), chunk=chunk)
        for chunk in (1, 3, 100)
    ]
    for other in found[1:]:
        np.testing.assert_array_equal(found[0].residual["K"].m, other.residual["K"].m)
        np.testing.assert_array_equal(found[0].first_dry.m, other.first_dry.m)
    assert found[0].first_dry.shape == (2, 4)


def test_simulate_other_units_same_season():
    one = simulate(TANK, FallingLevel("10 cm"), Flows("6 mm/day", days=10), salt(factor=0.5))
    other = simulate(
        Tank("150 mm"), FallingLevel("0.1 m"), Flows("0.25 L/m^2/hour", days=10),
        {"K": Solute("0.15 g/L", factor="50 %")},
    )  # fmt: skip
    np.testing.assert_allclose(one.depth.m_as("cm"), other.depth.m_as("cm"), rtol=1e-12)
    np.testing.assert_allclose(one.concentrations["K"].m, other.concentrations["K"].m, rtol=1e-12)


FLOWS = Flows("4 mm/day", days=10)


@pytest.mark.parametrize(
    ("call", "kind", "words"),
    [
        (lambda: simulate(TANK, ConstantLevel("16 cm"), FLOWS), InfeasibleError, "rim"),
        (lambda: simulate(TANK, FallingLevel("16 cm"), FLOWS), InfeasibleError, "start"),
        (lambda: simulate(TANK, FallingLevel("9 cm"), FLOWS, band=("5 cm", "4 cm")),
         InfeasibleError, "band"),
        (lambda: simulate(TANK, FallingLevel("9 cm"), FLOWS, steps_per_day=0), RangeError,
         "steps_per_day"),
        (lambda: season_totals(TANK, FallingLevel("9 cm"), FLOWS, chunk=0), RangeError, "chunk"),
        (lambda: simulate(TANK, HandFilled("9 cm", days=[11]), FLOWS), RangeError, "after"),
        (lambda: simulate(TANK, FallingLevel("9 cm"),
                          Flows("4 mm/day", drained="2 L/m^2", drained_on=[11], days=10)),
         RangeError, "drained_on"),
        (lambda: simulate(TANK, FallingLevel(quantity([1.0, 2.0], "cm")),
                          Flows("4 mm/day", demand_factor=np.ones(3), days=10)),
         RangeError, "broadcast"),
    ],
)  # fmt: skip
def test_simulate_what_cannot_be_raises(call, kind, words):
    with pytest.raises(kind, match=words):
        call()


def test_simulate_names_its_scheme_and_error():
    assert "half the step" in reservoir.simulate.__doc__
