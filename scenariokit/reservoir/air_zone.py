"""Suspended plants: roots that a falling level left in air must not be drowned."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

SETTLED = 7.0
"""Days in air after which roots count as air roots; own judgement, no published source."""
TOLERATED = 0.5
"""cm by which the level may rise again; own judgement, no published source."""


class Drowning(NamedTuple):
    """A day that ends with air roots under water, and from which level up they are."""

    day: int
    depth: Any
    allowed: Any


def _settled_level(depth: Floats, settled: float) -> Floats:
    """Return for each day the lowest height above which roots have settled in air."""
    days = max(round(settled), 1)
    found = np.full(depth.shape, np.inf)
    lowest = np.full(depth.shape[1:], np.inf)
    for number in range(days, len(depth)):
        # Above the highest level of the last days everything was in air throughout.
        lowest = np.minimum(lowest, depth[number - days : number].max(axis=0))
        found[number] = lowest
    return found


def drowned_air_zone(depth: QuantityLike, settled: QuantityLike = None) -> Quantity:
    """Return how much of the air zone's roots stands under water on each day.

    Roots that have stood in air for some days live there. The air zone is what
    lay above the water for all of those days, at any time of the season; the
    result is how far the level stands above its lower end.

    Parameters
    ----------
    depth : quantity
        Level [cm] at planting and at the end of each day, the first axis is the
        day; further axes are an ensemble's.
    settled : quantity, optional
        Days in air after which roots live there [day, one value, rounded to
        whole days]; 7 if not given.

    Returns
    -------
    quantity
        Height of air roots under water [cm], of the shape of `depth`; 0 where none.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    Common practice for plants hung over a falling level, no published source;
    so is the number of days. Not for hand-filled tanks of wicks or medium, whose
    roots do not hang in air.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> level = quantity([10, 9, 8, 7, 6, 5, 8], "cm")
    >>> drowned_air_zone(level, "2 day").m_as("cm").tolist()
    [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2.0]
    """
    found = _read("drowned_air_zone", depth, settled)
    series = np.atleast_1d(found["depth"])
    rise = np.maximum(series - _settled_level(series, found["settled"]), 0)
    return with_unit(rise, "cm")


def air_zone_violations(
    depth: QuantityLike, settled: QuantityLike = None, tolerated: QuantityLike = None
) -> list[Drowning]:
    """Return the days on which a level was raised over roots that live in air.

    Parameters
    ----------
    depth : quantity
        Level [cm] at planting and at the end of each day, of one tank.
    settled : quantity, optional
        Days in air after which roots live there [day]; 7 if not given.
    tolerated : quantity, optional
        Rise that does no harm [cm]; 0.5 if not given.

    Returns
    -------
    list of Drowning
        Day, its level and the level not to be passed [cm]; empty if all is well.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, or `depth` is
        not one series.

    Notes
    -----
    As `drowned_air_zone`.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> level = quantity([10, 9, 8, 7, 6, 5, 8], "cm")
    >>> row, = air_zone_violations(level, "2 day")
    >>> row.day, f"{row.depth:.0f~P}", f"{row.allowed:.1f~P}"
    (6, '8 cm', '6.5 cm')
    """
    found = _read("air_zone_violations", depth, settled, tolerated)
    series = np.asarray(found["depth"])
    if series.ndim != 1:
        problem = Problem("depth", f"shape {series.shape}", tr("is not one series"), kind="range")
        raise argument_error([problem], "air_zone_violations")
    allowed = _settled_level(series, found["settled"]) + found["tolerated"]
    return [
        Drowning(
            int(day), with_unit(float(series[day]), "cm"), with_unit(float(allowed[day]), "cm")
        )
        for day in np.flatnonzero(series > allowed + 1e-9)
    ]


def _read(
    subject: str, depth: QuantityLike, settled: QuantityLike, tolerated: QuantityLike = None
) -> dict[str, Any]:
    """Return the arguments as plain floats, left-out ones at their usual value."""
    days = with_unit(SETTLED, "day") if settled is None else settled
    rise = with_unit(TOLERATED, "cm") if tolerated is None else tolerated
    found = checked_floats(
        subject,
        {"depth": (depth, "depth"), "settled": (days, "duration"), "tolerated": (rise, "depth")},
    )
    problems = [
        Problem(name, f"shape {np.shape(found[name])}", tr("is not one value"), kind="range")
        for name in ("settled", "tolerated")
        if np.ndim(found[name])
    ]
    if problems:
        raise argument_error(problems, subject)
    return found
