"""The greatest flow to the top of a standing medium, in plain floats."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.substrate.curve import Hydraulics
from scenariokit.substrate.mualem import DRIEST, check_connectivity, flux_limit
from scenariokit.units import Floats


class Place(NamedTuple):
    """A medium over water, in cm and day; the last three only with a wick."""

    medium_height: Floats
    gap: Floats
    """Base of the medium above the water; less than 0 under it."""
    share: Floats
    """Share of the tank's area on which medium stands."""
    wick_conductance: Any
    """K, times edge per tank area, times thickness: flow per tank area for a unit gradient."""
    maximum_rise: Any
    run: Any


def capillary_limit(medium: Hydraulics, place: Place, connected: Any) -> Any:
    """Return the limit per tank area in mm/day, or None where nothing sets one.

    In water: the medium's own limit over the height of its top. On a wick: the
    flow that dries the top to its driest while the wick's end, with suction
    gap + q Lw / (K A), is not drier than the wick bears.
    """
    if medium.conductivity is None:
        return None if place.wick_conductance is None else wick_limit(place, connected)
    values = (medium.conductivity.magnitude, *medium.curve[2:], medium.connectivity.magnitude)
    check_connectivity("capillary_check", *values[2:])
    wet = np.asarray(place.gap <= 0)
    rise = np.asarray(np.where(wet, place.gap, 0.0) + place.medium_height)
    # A medium wholly under water is not limited; the solver gets a harmless height there.
    distance = np.where(rise > 0, rise, 1.0)
    base, resistance = np.zeros_like(distance), np.zeros_like(distance)
    if place.wick_conductance is not None and not np.all(wet):
        lifted = connected & ~wet
        base = np.where(lifted, place.gap, 0.0)
        way = np.where(lifted, place.gap + place.run, 0.0)
        resistance = way * place.share / place.wick_conductance
    own = 10 * place.share * flux_limit(distance, DRIEST, values, base, resistance)
    limit = np.where(rise > 0, np.where(connected, own, 0.0), np.inf)
    if place.wick_conductance is not None:
        limit = np.minimum(limit, wick_limit(place, connected))
    return limit[()]


def wick_limit(place: Place, connected: Any) -> Floats:
    """Return the limit of the wick alone in mm/day; none where the medium stands in water."""
    wet = np.asarray(place.gap <= 0)
    way = np.where(wet, 1.0, place.gap + place.run)
    flow = 10 * place.wick_conductance * (place.maximum_rise - place.gap) / way
    return np.where(wet, np.inf, np.where(connected, flow, 0.0))[()]
