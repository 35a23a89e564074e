"""Salt that plants leave behind: how it builds up in a tank that is topped up."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

ROOT_ZONE_MAXIMUM: Mapping[str, tuple[float, float]] = MappingProxyType({
    "cucumber": (8, 10), "sweet_pepper": (8, 12), "lettuce": (8, 15), "tomato": (10, 15),
})  # fmt: skip
"""Highest Na and Cl in the root zone, mmol/L. Seen in a copy of Agri Kultuur, March 2016, p. 20,
whose rows for tomato and lettuce were out of order; there plants take up 0.3 to 1.5 mmol Na and
0.9 to 2 mmol Cl with each litre."""

_GROWS = mark(
    "It grows for ever: the water brings more of it than plants take up. Change the "
    "solution before it reaches what the crop bears, or top up with cleaner water."
)
_STEADY = mark("It does not build up: plants take up as much of it as the water brings, or more.")
_SOME_GROW = mark("In some of these cases it grows for ever; see grows.")


class BuildUp(NamedTuple):
    """What becomes of an ion of the source water in a topped-up tank."""

    concentration: Any
    per_top_up: Any
    top_ups_to_limit: Any
    grows: Any
    says: str


@checked(
    {"concentration": "mg/L", "per_top_up": "mg/L", "top_ups_to_limit": ""},
    source="concentration",
    uptake="concentration",
    top_up="top_up_volume",
    tank=Expect("solution_volume", above_zero=True, why=mark("an empty tank has no concentration")),
    top_ups="top_ups",
    limit=Expect("concentration", optional=True),
)
def build_up(
    source: Floats,
    uptake: Floats,
    top_up: Floats,
    tank: Floats,
    top_ups: Floats = 1,
    limit: Floats | None = None,
) -> BuildUp:
    """Return the concentration of sodium or chloride after a number of top-ups.

    C_n = C_(n-1) + (C_source - C_uptake) V_top-up / V_tank, from C_0 = C_source;
    so C_n = C_source + n (C_source - C_uptake) V_top-up / V_tank.

    Parameters
    ----------
    source : quantity
        C_source of the water, with which the tank is filled and topped up
        [mg/L], scalar or array, 0 or more.
    uptake : quantity
        C_uptake, mass that plants take up with each litre they drink [mg/L].
    top_up : quantity
        V_top-up, water added each time [L]: what plants drank.
    tank : quantity
        V_tank, volume of the full tank [L], above 0.
    top_ups : float
        n, how many times it was topped up; an array gives the course.
    limit : quantity, optional
        Concentration not to be passed [mg/L].

    Returns
    -------
    BuildUp
        ``concentration`` [mg/L] after n top-ups; ``per_top_up``, its change with
        each [mg/L]; ``top_ups_to_limit``, how many until the limit (infinite
        where it is never reached or none is given); ``grows``, true where it
        grows for ever; ``says``, the same in words.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    It grows for ever if C_source is above C_uptake. Where it is below, plants
    are taken to find less and less of it until none is left: the result is then
    0, not negative. For a closed tank: nothing runs out, and water that
    evaporates from it comes with no uptake. Fertiliser that brings the ion adds
    to the source. Multiply mmol/L by 22.99 for Na and 35.45 for Cl.

    Examples
    --------
    >>> found = build_up("60 mg/L", "23 mg/L", "20 L", "100 L", 10, limit="230 mg/L")
    >>> f"{found.concentration.m_as('mg/L'):.0f} mg/L, {bool(found.grows)}"
    '134 mg/L, True'
    >>> round(found.top_ups_to_limit.m_as(""), 1)
    23.0
    """
    step = (source - uptake) * top_up / tank
    shown = np.maximum(source + top_ups * step, 0.0)
    grows = step > 0
    rising = np.where(grows, step, 1.0)
    room = np.inf if limit is None else limit - source
    left = np.where(np.less_equal(room, 0), 0.0, np.where(grows, room / rising, np.inf))
    says = _GROWS if np.all(grows) else _SOME_GROW if np.any(grows) else _STEADY
    return BuildUp(shown, step, left[()], grows, tr(says))
