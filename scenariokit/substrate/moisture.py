"""Water and air in a medium that stands in, on or over water; does it stay moist and airy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.substrate.curve import Hydraulics, effective_saturation, mean_saturation
from scenariokit.substrate.delivery import Place, capillary_limit
from scenariokit.substrate.moisture_words import cautions, verdicts
from scenariokit.units import Floats

LEAST_AIR = 0.10
"""Mean air-filled porosity that roots are given at least; common practice, no published source."""
MOST_SUCTION = "50 cm"
"""The end of easily available water; De Boodt and Verdonck 1972, from memory."""
NO_DEMAND = mark("a margin is a limit divided by a demand")


class MoistureProfile(NamedTuple):
    """Height above the container's base, and water and air there; points on the first axis."""

    height: Any
    water_content: Any
    air_content: Any


@dataclass(frozen=True)
class Standing:
    """Where the medium stands.

    Parameters
    ----------
    medium_height : quantity
        Depth of medium in its container [cm], above 0.
    base_height : quantity
        Underside of the medium above the tank floor [cm].
    level : quantity
        Water above the tank floor [cm].
    medium_share : float
        Share of the tank's area on which medium stands: the water that all the
        tank's plants use must pass through it.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    """

    medium_height: Any
    base_height: Any
    level: Any
    medium_share: Any = 1.0

    def __post_init__(self) -> None:
        """Check every value and bring it to its own unit."""
        _adopt(
            self,
            {
                "medium_height": Expect("depth", above_zero=True, why=mark("there is no medium")),
                "base_height": "depth",
                "level": "depth",
                "medium_share": "medium_share",
            },
            {"medium_share": ""},
        )


@dataclass(frozen=True)
class SheetWick:
    """A sheet that hangs into the water and lies under the medium.

    Parameters
    ----------
    conductivity : quantity
        K of the wet sheet [cm/day].
    thickness : quantity
        Of all layers when wet [mm].
    maximum_rise : quantity
        H, height at which a hanging strip of it stops getting wet [cm].
    width_per_area : quantity
        Edge that hangs into the water for each m² of tank [m/m²].
    run : quantity
        Mean way along the sheet under the medium, beyond the way up [cm].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    """

    conductivity: Any
    thickness: Any
    maximum_rise: Any
    width_per_area: Any
    run: Any = "0 cm"

    def __post_init__(self) -> None:
        """Check every value and bring it to its own unit."""
        _adopt(
            self,
            {
                "conductivity": "hydraulic_conductivity",
                "thickness": "wick_thickness",
                "maximum_rise": "maximum_rise",
                "width_per_area": "wick_width_per_area",
                "run": "wick_path",
            },
            {"conductivity": "cm/day", "thickness": "mm", "width_per_area": "m/m^2"},
        )


@dataclass(frozen=True)
class CapillaryCheck:
    """Whether a medium stays moist, has air and can deliver the peak.

    Numbers are scalars or arrays, as what was asked. `delivery_limit`,
    `margin` and `delivers` are None where the medium's conductivity is not
    known and no wick sets a limit of its own.

    Parameters
    ----------
    connected : bool
        Water reaches the medium: it stands in the water or on a wick that reaches.
    top_suction : quantity
        At rest, at the top of the medium [cm]; 0 under water.
    mean_water_content, mean_air_filled_porosity : quantity
        Of the whole medium at rest; not the laboratory's number at 10 cm.
    delivery_limit : quantity or None
        Greatest steady flow to the top of the medium, per tank area [mm/day].
    margin : quantity or None
        `delivery_limit` divided by the peak demand.
    moist, airy, delivers : bool, or None
        The three verdicts.
    verdicts : tuple of str
        The same in words, with the numbers they rest on.
    cautions : tuple of str
        Where the result lies outside what its model covers.
    """

    connected: Any
    top_suction: Any
    mean_water_content: Any
    mean_air_filled_porosity: Any
    delivery_limit: Any
    margin: Any
    moist: Any
    airy: Any
    delivers: Any
    verdicts: tuple[str, ...]
    cautions: tuple[str, ...]


@checked(
    {"height": "cm", "water_content": "", "air_content": ""},
    medium_height=Expect("depth", above_zero=True, why=mark("there is no medium")),
    level="level_above_base",
)
def moisture_profile(
    medium: Hydraulics | Mapping[str, Any],
    medium_height: Floats,
    level: Floats,
    points: int = 41,
) -> MoistureProfile:
    """Return water and air over the height of a standing medium at rest.

    theta(z - zw) with the van Genuchten curve; full below the water level.

    Parameters
    ----------
    medium : Hydraulics or mapping
        The medium's curve, or a row of the table of media.
    medium_height : quantity
        Depth of medium in the container [cm], above 0, scalar or array.
    level : quantity
        zw, water level above the container's base [cm]; less than 0 if below it.
    points : int
        Heights from base to top, 2 or more.

    Returns
    -------
    MoistureProfile
        ``height`` above the base [cm], ``water_content`` and ``air_content``
        by volume; points on the first axis.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    At rest and joined to the water by wet pores or a wick. While plants drink
    the medium is drier than this; after watering from above wetter.

    Examples
    --------
    >>> sand = Hydraulics(0.045, 0.43, "0.145 1/cm", 2.68)
    >>> profile = moisture_profile(sand, "15 cm", "5 cm", points=4)
    >>> [round(value, 3) for value in profile.air_content.m.tolist()]
    [0.0, 0.0, 0.076, 0.216]
    """
    if isinstance(points, bool) or not isinstance(points, int) or points < 2:
        problem = Problem("points", str(points), tr("is too few, or no whole number"), tr("2 or more"),
                          "points=41", kind="range")  # fmt: skip
        raise argument_error([problem], "moisture_profile")
    residual, full, alpha, n = _hydraulics(medium).curve
    up = np.linspace(0.0, 1.0, points)
    shape = np.broadcast_shapes(*(np.shape(v) for v in (medium_height, level, residual, full, alpha, n)))  # fmt: skip
    heights = up.reshape(-1, *(1 for _ in shape)) * np.broadcast_to(medium_height, shape)
    air = (full - residual) * (1 - effective_saturation(heights - level, alpha, n))
    return MoistureProfile(heights, full - air, air)


def capillary_check(
    medium: Hydraulics | Mapping[str, Any],
    standing: Standing,
    peak_demand: Any,
    wick: SheetWick | None = None,
    least_air: Any = LEAST_AIR,
    most_suction: Any = MOST_SUCTION,
) -> CapillaryCheck:
    """Return whether a medium over water stays moist, has air and can deliver the peak.

    Moist: top suction at rest at most `most_suction`. Airy: mean air-filled
    porosity at rest at least `least_air`. Delivers: the greatest steady flow
    to the top of the medium is at least the peak demand.

    Parameters
    ----------
    medium : Hydraulics or mapping
        The medium; without its conductivity only a wick's limit can be given.
        A row of the table of media has none.
    standing : Standing
        Depth of the medium, height of its base, water level and area.
    peak_demand : quantity
        Water use on the thirstiest day, per tank area [mm/day], above 0.
    wick : SheetWick, optional
        Lifts water to a base that stands above the level.
    least_air : float
        0.10 if not given; common practice, no published source.
    most_suction : quantity
        50 cm if not given, the end of easily available water (De Boodt and
        Verdonck 1972, from memory).

    Returns
    -------
    CapillaryCheck

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the medium's connectivity lets its conductivity rise with drying.

    Notes
    -----
    Counts the medium alone: roots that reach the water need none of it, and a
    medium out of reach of water is judged as a pot that has just drained. Flow
    to the top is asked for; most roots sit lower. The limit is a daily mean,
    and demand at noon is two to three times that (from memory).

    Examples
    --------
    >>> peat = Hydraulics(0.0864, 0.9079, "0.0452 1/cm", 1.3623, "48.5 cm/day")
    >>> found = capillary_check(peat, Standing("10 cm", "0 cm", "2 cm"), "6 mm/day")
    >>> for line in found.verdicts:
    ...     print(line)
    stays moist: suction at the top 8.0 cm, at most 50 cm asked
    lacks air: mean air-filled porosity 0.02, at least 0.10 asked
    can deliver the peak: 125 mm/day to the top, 20.89 times the demand
    """
    known = _hydraulics(medium)
    found = checked_floats(
        "capillary_check",
        {
            "peak_demand": (peak_demand, Expect("water_use", above_zero=True, why=NO_DEMAND)),
            "least_air": (least_air, "air_filled_porosity"),
            "most_suction": (most_suction, "suction"),
        },
    )
    place = _place(standing, wick)
    connected, bottom, top = _ends(place, wick)
    residual, full, alpha, n = known.curve
    water = residual + (full - residual) * mean_saturation(bottom, top, alpha, n)
    air = full - water
    limit = capillary_limit(known, place, connected)
    margin = None if limit is None else limit / found["peak_demand"]
    moist = connected & (top <= found["most_suction"])
    airy = air >= found["least_air"]
    delivers = None if margin is None else margin >= 1
    numbers = (np.maximum(top, 0.0), air, limit, margin)
    return CapillaryCheck(
        _truth(connected), with_unit(np.maximum(top, 0.0), "cm"), with_unit(water, ""),
        with_unit(air, ""), _maybe(limit, "mm/day"), _maybe(margin, ""), _truth(moist),
        _truth(airy), None if delivers is None else _truth(delivers),
        verdicts((moist, airy, delivers), numbers, found), cautions(known, connected, wick),
    )  # fmt: skip


def _hydraulics(medium: Hydraulics | Mapping[str, Any]) -> Hydraulics:
    return medium if isinstance(medium, Hydraulics) else Hydraulics.of_row(medium)


def _adopt(holder: Any, kinds: dict[str, str | Expect], units: dict[str, str]) -> None:
    """Check the named fields of a frozen `holder` and give them their unit, cm unless named."""
    given = {name: (getattr(holder, name), kind) for name, kind in kinds.items()}
    for name, value in checked_floats(type(holder).__name__, given).items():
        object.__setattr__(holder, name, with_unit(value, units.get(name, "cm")))


def _place(standing: Standing, wick: SheetWick | None) -> Place:
    """Return heights and the wick in plain floats, in cm and day."""
    gap = standing.base_height.magnitude - standing.level.magnitude
    section = rise = run = None
    if wick is not None:
        # m/m² is 1/m: a hundredth of 1/cm; mm is a tenth of a cm
        edge, thick = wick.width_per_area.magnitude / 100, wick.thickness.magnitude / 10
        section = wick.conductivity.magnitude * edge * thick
        rise, run = wick.maximum_rise.magnitude, wick.run.magnitude
    return Place(standing.medium_height.magnitude, gap, standing.medium_share.magnitude,
                 section, rise, run)  # fmt: skip


def _ends(place: Place, wick: SheetWick | None) -> tuple[Any, Any, Any]:
    """Return whether water reaches the medium, and its ends above the water, or above its base."""
    reach = 0.0 if wick is None else place.maximum_rise
    connected = np.asarray((place.gap <= 0) | (place.gap < reach))
    bottom = np.where(connected, place.gap, 0.0)[()]
    return connected, bottom, bottom + place.medium_height


def _truth(value: Any) -> Any:
    return bool(value) if np.ndim(value) == 0 else np.asarray(value)


def _maybe(value: Any, unit: str) -> Any:
    return None if value is None else with_unit(value, unit)
