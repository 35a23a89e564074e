"""From quantities to the plain plan of a season: shapes, days and levels checked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.reservoir.balance import Plan
from scenariokit.reservoir.measured import plain
from scenariokit.reservoir.regimes import FallingLevel, Flows, HandFilled, Regime, Solute
from scenariokit.reservoir.tank import Tank
from scenariokit.units import Floats, QuantityLike

Band = tuple[QuantityLike, QuantityLike]
"""Lowest and highest level that are in order."""
FLOWS = ("transpiration", "evaporation", "rain", "leak", "discharge", "drained")


def members(
    tank: Tank, regime: Regime, flows: Flows, solutes: Mapping[str, Solute], band: Band | None
) -> tuple[int, ...]:
    """Return the common shape of the ensemble."""
    shapes = {"tank": tank.shape, "demand_factor": plain(flows.demand_factor).shape}
    for name in ("depth", "start", "valve_fails_on"):
        shapes[name] = plain(getattr(regime, name, None)).shape
    for name in FLOWS:
        shapes[name] = plain(getattr(flows, name)).shape[1:]
    for key, solute in solutes.items():
        for name in ("inflow", "uptake", "factor", "start"):
            shapes[f"{key}.{name}"] = plain(getattr(solute, name)).shape
    for name, level in zip(("low", "high"), band or (), strict=False):
        shapes[f"band {name}"] = np.shape(getattr(level, "magnitude", 0.0))
    try:
        return np.broadcast_shapes(*shapes.values())
    except ValueError:
        text = ", ".join(f"{name} {shape}" for name, shape in shapes.items() if shape)
        raise argument_error(
            [Problem("shapes", text, tr("do not broadcast together"), kind="range")], "simulate"
        ) from None


def season_plan(
    tank: Tank,
    regime: Regime,
    flows: Flows,
    solutes: Mapping[str, Solute],
    setting: tuple[tuple[int, ...], Band | None, int],
) -> Plan:
    """Return the season as plain floats with one axis of members.

    `setting` is the shape of the ensemble, the band and the steps in a day.
    """
    shape, band, steps = setting
    require_count("steps_per_day", steps, "simulate")
    days = int(flows.days or 0)
    given = list(solutes.values())
    low, high = _band(tank, band, shape)
    factor = np.ones(()) if flows.demand_factor is None else plain(flows.demand_factor)
    return Plan(
        days=days,
        steps=steps,
        members=int(np.prod(shape, dtype=np.int64)),
        rim=_row(tank.litres(plain(tank.rim)), shape),
        low=low,
        high=high,
        demand_factor=_row(factor, shape),
        **{name: _daily(plain(getattr(flows, name)), days, shape) for name in FLOWS},
        **_levels(tank, regime, shape),
        fill_days=_fill_days(regime, days),
        drain_days=_drain_days(flows, days),
        strength=_rows(
            [item.inflow if item.start is None else item.start for item in given], shape
        ),
        inflow=_rows([item.inflow for item in given], shape),
        fixed=_rows([item.uptake for item in given], shape),
        factor=_rows([item.factor for item in given], shape),
    )


def _levels(tank: Tank, regime: Regime, shape: tuple[int, ...]) -> dict[str, Floats]:
    """Return the level at planting, the one held or filled to, and how long a valve works."""
    falling = isinstance(regime, FallingLevel)
    held = np.zeros(()) if isinstance(regime, FallingLevel) else plain(regime.depth)
    start = getattr(regime, "start", None)
    begin = held if start is None else plain(start)
    for name, depth in (("start", begin), ("depth", held)):
        tank.below_rim(name, depth)
    fails = getattr(regime, "valve_fails_on", None)
    until = plain(fails) if fails is not None else np.asarray(np.inf)
    if falling or isinstance(regime, HandFilled):
        until = np.zeros(())
    return {
        "start": _row(tank.litres(begin), shape),
        "held": _row(tank.litres(held), shape),
        "valve_until": _row(until, shape),
    }


def require_count(name: str, value: object, subject: str) -> None:
    """Refuse what is not a whole number of 1 or more."""
    if not isinstance(value, int | np.integer) or isinstance(value, bool) or value < 1:
        problem = Problem(
            name, str(value), tr("is not a whole number"), tr("1 or more"), kind="range"
        )
        raise argument_error([problem], subject)


def _row(value: Floats, shape: tuple[int, ...]) -> Floats:
    """Return one value for all members, or one for each, along one axis."""
    array = np.asarray(value, dtype=np.float64)
    if array.size == 1:
        return array.reshape(1)
    return np.broadcast_to(array, shape).reshape(-1)


def _rows(values: list[Any], shape: tuple[int, ...]) -> Floats:
    rows = [_row(plain(value), shape) for value in values]
    size = max((row.size for row in rows), default=1)
    return np.array([np.broadcast_to(row, size) for row in rows]).reshape(len(rows), size)


def _daily(value: Floats, days: int, shape: tuple[int, ...]) -> Floats:
    """Return (days, members) or (days, 1) of a flow whose first axis is the day."""
    array = value if value.ndim else value[np.newaxis]
    inner = array.shape[1:]
    if np.prod(inner, dtype=np.int64) == 1:
        return np.broadcast_to(array.reshape(len(array), 1), (days, 1))
    whole = np.broadcast_to(array.reshape(len(array), *inner), (len(array), *shape))
    return np.broadcast_to(whole.reshape(len(array), -1), (days, int(np.prod(shape))))


def _fill_days(regime: Regime, days: int) -> frozenset[int]:
    if not isinstance(regime, HandFilled):
        return frozenset()
    late = [day for day in regime.days or () if day > days]
    _within("days", late, days)
    return frozenset(day - 1 for day in regime.fills(days))


def _drain_days(flows: Flows, days: int) -> frozenset[int]:
    if flows.drained is None:
        return frozenset()
    if flows.drained_on is None:
        return frozenset(range(days))
    _within("drained_on", [day for day in flows.drained_on if day > days], days)
    return frozenset(day - 1 for day in flows.drained_on)


def _within(name: str, late: list[int], days: int) -> None:
    if late:
        problem = Problem(
            name, str(late), tr("lies after the season"), f"1 to {days}", kind="range"
        )
        raise argument_error([problem], "simulate")


def _band(tank: Tank, band: Band | None, shape: tuple[int, ...]) -> tuple[Floats, Floats]:
    if band is None:
        return np.array([-np.inf]), np.array([np.inf])
    low, high = band
    found = checked_floats("simulate", {"low": (low, "depth"), "high": (high, "depth")})
    if np.any(found["low"] > found["high"]):
        raise InfeasibleError(tr("simulate: the band's low level lies above its high one"))
    return _row(tank.litres(found["low"]), shape), _row(tank.litres(found["high"]), shape)
