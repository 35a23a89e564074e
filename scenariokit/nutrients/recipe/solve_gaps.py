"""Which elements a recipe leaves outside their band, why, and what would help."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from typing import Literal, NamedTuple

import numpy as np

from scenariokit.language import tr
from scenariokit.nutrients.composition.fertilisers import Fertiliser
from scenariokit.nutrients.recipe.solve_numbers import Solution
from scenariokit.nutrients.recipe.solve_task import (
    TRACES,
    FloatLimits,
    Task,
    band_ends,
    catalogue,
    content_columns,
    has_foreign_trace,
    without_traces,
)
from scenariokit.nutrients.recipe.targets import FloatBand

_SLACK, _DUST = 1e-6, 1e-9
_HELPS = 1e-6
_NOTABLE = 1e-3


class Gap(NamedTuple):
    """One element outside its band, in mg/L; `short` is below zero where there is too much."""

    element: str
    wanted: float
    reached: float
    short: float
    low: float
    high: float
    reason: Literal["missing", "coupled", "excess", "water"]


def find_gaps(
    bands: Mapping[str, FloatBand],
    limits: FloatLimits,
    tolerance: float,
    content: Mapping[str, float],
    water: Mapping[str, float],
    fertilisers: Iterable[Fertiliser],
) -> list[Gap]:
    """Return the elements outside their band or limit, in the order of the targets."""
    shelf = [one for one in fertilisers if not has_foreign_trace(one, bands)]
    caps = dict(limits.ceilings)
    if limits.ammonium_share is not None:
        caps["N_ammonium"] = limits.ammonium_share * content.get("N", 0.0)
    found = []
    for element in dict.fromkeys((*bands, *caps)):
        band = bands.get(element, FloatBand(None, 0.0, caps.get(element)))
        low, high = band_ends(band, tolerance)
        high = min(high, caps.get(element, high))
        reached = float(content.get(element, 0.0))
        if reached < low * (1 - _SLACK):
            brought = any(one.shares.get(element, 0.0) > 0 for one in shelf)
            short, reason = low - reached, "coupled" if brought else "missing"
        elif reached > high * (1 + _SLACK) + _DUST:
            alone = water.get(element, 0.0) > high * (1 + _SLACK) + _DUST
            short, reason = high - reached, "water" if alone else "excess"
        else:
            continue
        wanted = band.target or high
        found.append(Gap(element, wanted, reached, short, low, high, reason))  # type: ignore[arg-type]
    return found


def causes_of(
    element: str,
    rates: Mapping[str, float],
    fertilisers: Mapping[str, Fertiliser],
    water: Mapping[str, float],
) -> tuple[str, ...]:
    """Return what brings an element, most first; what brings under a thousandth is left out."""
    parts = {"water": water.get(element, 0.0)}
    for name, rate in rates.items():
        parts[name] = 1000 * rate * fertilisers[name].shares.get(element, 0.0)
    total = sum(parts.values())
    notable = [name for name, part in parts.items() if part > _NOTABLE * total]
    return tuple(sorted(notable, key=lambda name: (-parts[name], name)))


def helpful_salts(
    task: Task, found: Solution, fertilisers: Mapping[str, Fertiliser], short: Iterable[str]
) -> dict[str, tuple[str, ...]]:
    """Return for each element that is short the catalogue salts that would help, richest first.

    A salt helps if a little of it lowers what was minimised: then it brings more
    of what is short than of what would be too much.
    """
    offered = {name: salt for name, salt in catalogue().items() if name not in fertilisers}
    aims = task.aims @ content_columns(offered.values())
    bounds = without_traces(task.limits, task.broken, offered.values())
    lengths = np.sqrt((aims**2).sum(axis=0))
    lengths[lengths == 0] = 1.0  # brings nothing aimed at
    force = (aims.T @ found.pull - bounds.T @ found.push) / lengths
    # A ceiling that is full though nothing on the shelf touches it has no force of its own.
    full = (task.room <= 0) & ~task.bounds.any(axis=1)
    barred = ((bounds > 0) & full[:, None]).any(axis=0)
    helps = dict(zip(offered, (force > _HELPS) & ~barred, strict=True))
    return {
        element: tuple(
            sorted(
                (
                    name
                    for name, salt in offered.items()
                    if helps[name] and element in salt.shares and _is_for(salt, element)
                ),
                key=lambda name: (-offered[name].shares[element], name),
            )
        )
        for element in short
    }


def _is_for(salt: Fertiliser, element: str) -> bool:
    """Return whether a salt may be named for an element: trace salts only for their trace."""
    return element in TRACES or TRACES.isdisjoint(salt.shares)


def gap_words(
    gap: Gap, helpful: Mapping[str, tuple[str, ...]], over: Mapping[str, tuple[str, ...]]
) -> str:
    """Return in words how far an element is from its band, and what is to blame or would help."""
    numbers = {
        "element": gap.element,
        "reached": gap.reached,
        "amount": abs(gap.short),
        "low": gap.low,
        "high": gap.high,
    }
    if gap.short < 0:
        return tr(
            "{element} comes to {reached:.4g} mg/L, {amount:.3g} above its band up to {high:.4g} "
            "(from {salts})",
            salts=", ".join(over[gap.element]),
            **numbers,
        )
    salts = helpful[gap.element]
    if not salts:
        return tr(
            "{element} comes to {reached:.4g} mg/L, {amount:.3g} below its band from {low:.4g} "
            "(no salt of the catalogue would help)",
            **numbers,
        )
    return tr(
        "{element} comes to {reached:.4g} mg/L, {amount:.3g} below its band from {low:.4g} "
        "({salts} would help)",
        salts=functools.reduce(_either, salts),
        **numbers,
    )


def _either(first: str, second: str) -> str:
    return tr("{first} or {second}", first=first, second=second)
