"""A season in the tank: water and solutes day by day, for one tank or an ensemble."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from scenariokit.quantities import with_unit
from scenariokit.reservoir.balance import (
    SOLUTE_PARTS,
    TRACE,
    WATER_PARTS,
    Balance,
    Ledger,
    ledger_part,
    new_ledger,
)
from scenariokit.reservoir.planning import Band, members, require_count, season_plan
from scenariokit.reservoir.records import Season, SeasonTotals, SoluteParts, WaterParts
from scenariokit.reservoir.regimes import Flows, Regime, Solute
from scenariokit.reservoir.tank import Tank
from scenariokit.units import Floats, Quantity

CHUNK = 25_000
"""Members that are worked on at once: the state of so many still fits a processor's cache."""


def simulate(
    tank: Tank,
    regime: Regime,
    flows: Flows,
    solutes: Mapping[str, Solute] | None = None,
    *,
    band: Band | None = None,
    steps_per_day: int = 1,
) -> Season:
    """Return a season day by day: level, concentrations and where everything went.

    dV/dt = inflow + rain - E - Ev - leak - discharge - overflow and
    d(VC)/dt = inflow Cin - E Cu - (leak + discharge + overflow) C, where Cu is
    stated or p C.

    Parameters
    ----------
    tank : Tank
        Rim, and what stands in the water.
    regime : ConstantLevel, FallingLevel, FallingThenHeld or HandFilled
        How the level is kept.
    flows : Flows
        Transpiration E, evaporation Ev, rain and losses by days.
    solutes : mapping of str to Solute, optional
        Any number, by name.
    band : pair of quantities, optional
        Lowest and highest level in order [cm]; days outside are counted.
    steps_per_day : int
        Steps in a day, 1 or more.

    Returns
    -------
    Season
        Series with the day as first axis, then the axes of the ensemble: the
        common shape of every array given, day axes left out.

    Raises
    ------
    RangeError
        If shapes do not fit or a day lies after the season.
    InfeasibleError
        If a level lies above the rim, or the band's low above its high.

    Notes
    -----
    Scheme: in the morning what is `drained`, then the filling by hand. Then in
    each step rain, which dilutes and runs over the rim well mixed (exact for
    rain alone); then what is taken leaves at the concentration that now is,
    and the valve gives it back. With a stated uptake concentration and no
    discharge, leak or overflow the concentration is exact for any step.
    Otherwise the error is of first order: half the step, half the error. For
    100 L/m² at 5 L/m² a day one step a day is off by 0.1 % after 60 days at a
    constant level, by 3 % in a tank that has fallen to a sixth, and by more
    when a step takes much of what is there.

    Never below zero: demands that exceed what is there are met in proportion,
    the rest is ``deficit``; solutes stay behind when water has gone. Nothing
    precipitates, so concentrations in a nearly dry tank are not to be believed.
    Rain holds no solutes.

    References
    ----------
    Carmassi et al. 2003, Acta Horticulturae 614:20 (closed loops refilled with
    full solution: concentrations rise with cumulated uptake of water).

    Examples
    --------
    >>> from scenariokit.reservoir import ConstantLevel, Flows, Solute, Tank, simulate
    >>> flows = Flows("5 mm/day", days=60)
    >>> salt = Solute("150 mg/L", uptake="120 mg/L")
    >>> season = simulate(Tank("15 cm"), ConstantLevel("10 cm"), flows, {"K": salt})
    >>> f"{season.concentrations['K'][-1].m_as('mg/L'):.1f} mg/L"
    '240.0 mg/L'
    """
    given = dict(solutes or {})
    shape = members(tank, regime, flows, given, band)
    plan = season_plan(tank, regime, flows, given, (shape, band, steps_per_day))
    done = Balance(plan, daily=True).run()
    volume = _shaped(done.volumes, shape)
    water = {name: _shaped(part, shape) for name, part in done.water.items()}
    parts = {name: _shaped(np.moveaxis(p, 1, 0), shape) for name, p in done.solutes.items()}
    mass = _shaped(np.moveaxis(done.masses, 1, 0), shape)
    return Season(
        tank=tank,
        day=with_unit(np.arange(plan.days + 1.0), "day"),
        volume=with_unit(volume, "L/m^2"),
        depth=with_unit(tank.centimetres(volume), "cm"),
        concentrations=_concentrations(given, mass, volume),
        water=_water(water),
        solutes=_solutes(given, parts),
        totals=_totals(tank, given, _sums((done.water, done.solutes), _ends(done), shape)),
    )


def season_totals(
    tank: Tank,
    regime: Regime,
    flows: Flows,
    solutes: Mapping[str, Solute] | None = None,
    *,
    band: Band | None = None,
    steps_per_day: int = 1,
    chunk: int = CHUNK,
) -> SeasonTotals:
    """Return the sums of a season, for ensembles too large to keep every day.

    The same balance as `simulate`; `chunk` members are worked on at a time, so
    that beside the result memory does not grow with members times days.

    Parameters
    ----------
    tank, regime, flows, solutes, band, steps_per_day
        As for `simulate`. Daily flows common to all members, with a
        `demand_factor` for each, take no memory by members and days.
    chunk : int
        Members at a time, 1 or more.

    Returns
    -------
    SeasonTotals
        Each part of the shape of the ensemble.

    Raises
    ------
    RangeError, InfeasibleError
        As `simulate`.

    Examples
    --------
    >>> import numpy as np
    >>> from scenariokit.reservoir import FallingLevel, Flows, Tank, season_totals
    >>> flows = Flows("5 mm/day", days=30, demand_factor=np.array([0.8, 1.0, 1.2]))
    >>> found = season_totals(Tank("20 cm"), FallingLevel("14 cm"), flows)
    >>> found.first_dry.m_as("day").tolist(), found.water.deficit.m_as("L/m^2").round(1).tolist()
    ([inf, 28.0, 24.0], [0.0, 10.0, 40.0])
    """
    given = dict(solutes or {})
    require_count("chunk", chunk, "season_totals")
    shape = members(tank, regime, flows, given, band)
    plan = season_plan(tank, regime, flows, given, (shape, band, steps_per_day))
    ledger = new_ledger(1, len(given), plan.members)
    spans = [(first, min(first + chunk, plan.members)) for first in range(0, plan.members, chunk)]
    ends = [
        _ends(Balance(plan.part(*span), daily=False, ledger=ledger_part(ledger, *span)).run())
        for span in spans
    ]
    joined = {name: np.concatenate([end[name] for end in ends], axis=-1) for name in ends[0]}
    return _totals(tank, given, _sums(ledger, joined, shape))


def _ends(done: Balance) -> dict[str, Floats]:
    """Return what is not a sum of parts, members last; copies, so that the rest is let go."""
    return {
        "first mass": done.masses[0].copy(),
        "last mass": done.masses[-1].copy(),
        "first": done.volumes[0].copy(),
        "last": done.volumes[-1].copy(),
        "lowest": done.lowest,
        "below": done.below,
        "above": done.above,
        "dry": done.first_dry,
        "fills": done.fills,
    }


def _sums(ledger: Ledger, ends: dict[str, Floats], shape: tuple[int, ...]) -> dict[str, Floats]:
    """Return the parts summed over the season and the ends, in the shape of the ensemble."""
    sums = dict(ends)
    for kind, half in zip(("water", "solute"), ledger, strict=True):
        for name, part in half.items():
            sums[f"{kind} {name}"] = part[0] if len(part) == 1 else part.sum(axis=0)
    return {name: _shaped(part, shape) for name, part in sums.items()}


def _shaped(part: Floats, shape: tuple[int, ...]) -> Floats:
    """Return `part` with its last axis, the members, in the shape of the ensemble."""
    return part.reshape((*part.shape[:-1], *shape))


def _totals(tank: Tank, solutes: Mapping[str, Solute], sums: dict[str, Any]) -> SeasonTotals:
    def held(name: str) -> dict[str, Quantity]:
        return {key: with_unit(sums[name][n], "mg/m^2") for n, key in enumerate(solutes)}

    return SeasonTotals(
        water=_water({name: sums[f"water {name}"] for name in WATER_PARTS}),
        solutes=_solutes(solutes, {name: sums[f"solute {name}"] for name in SOLUTE_PARTS}),
        volume_at_planting=_scalar(sums["first"], "L/m^2"),
        volume_at_harvest=_scalar(sums["last"], "L/m^2"),
        depth_at_harvest=_scalar(tank.centimetres(sums["last"]), "cm"),
        lowest_depth=_scalar(tank.centimetres(sums["lowest"]), "cm"),
        concentrations=_concentrations(solutes, sums["last mass"], sums["last"]),
        at_planting=held("first mass"),
        residual=held("last mass"),
        days_below=_scalar(sums["below"].astype(np.float64), "day"),
        days_above=_scalar(sums["above"].astype(np.float64), "day"),
        first_dry=_scalar(sums["dry"], "day"),
        fills=sums["fills"][()],
    )


def _scalar(value: Floats, unit: str) -> Quantity:
    """Return a quantity; one member without an axis becomes a plain float."""
    return with_unit(np.asarray(value)[()], unit)


def _water(parts: Mapping[str, Floats]) -> WaterParts:
    return WaterParts(**{name: _scalar(parts[name], "L/m^2") for name in WATER_PARTS})


def _solutes(solutes: Mapping[str, Solute], parts: Mapping[str, Floats]) -> dict[str, SoluteParts]:
    return {
        key: SoluteParts(**{name: _scalar(parts[name][n], "mg/m^2") for name in SOLUTE_PARTS})
        for n, key in enumerate(solutes)
    }


def _concentrations(
    solutes: Mapping[str, Solute], mass: Floats, volume: Floats
) -> dict[str, Quantity]:
    wet = np.where(volume > TRACE, volume, np.nan)
    return {key: _scalar(mass[n] / wet, "mg/L") for n, key in enumerate(solutes)}
