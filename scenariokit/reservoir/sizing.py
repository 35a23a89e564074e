"""Closed-form sizing of a tank for a held, a falling and a hand-filled level.

Throughout, 1 cm of free water is 10 L/m², and a share q of the tank's
cross-section may be taken by containers and medium standing in the water.
"""

from __future__ import annotations

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked, with_floats
from scenariokit.units import Floats

LITRES_PER_CM = 10
"""L/m² in 1 cm of water."""
NO_USE = mark("a tank that loses no water never runs dry")


@checked("L", area="tank_area", depth="depth", displaced="displaced_fraction")
def volume(area: Floats, depth: Floats, displaced: Floats = 0) -> Floats:
    """Return the water in a tank, A d (1 - q).

    Parameters
    ----------
    area : quantity
        A, inside area of the tank [m²], scalar or array.
    depth : quantity
        d, water above the tank floor [cm], 0 to 500.
    displaced : float
        q, share of the cross-section taken by what stands in it, 0 to 0.99.

    Returns
    -------
    quantity
        Volume of free water [L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{volume('2 m^2', '10 cm', 0.25):.0f~P}"
    '150 l'
    """
    return area * depth * LITRES_PER_CM * (1 - displaced)


@checked(
    "day",
    usable_depth="depth",
    use_per_day=Expect("water_use", above_zero=True, why=NO_USE),
    displaced="displaced_fraction",
)
def autonomy(usable_depth: Floats, use_per_day: Floats, displaced: Floats = 0) -> Floats:
    """Return how long a tank lasts when its supply fails, d (1 - q) / E.

    Parameters
    ----------
    usable_depth : quantity
        d, depth from the level held to the lowest at which plants still drink [cm].
    use_per_day : quantity
        E, water use and evaporation [L/m² a day], above 0.
    displaced : float
        q, share of the cross-section taken by what stands in it, 0 to 0.99.

    Returns
    -------
    quantity
        Time until the lowest level [day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, or nothing is used.

    Examples
    --------
    >>> f"{autonomy('80 mm', '5.75 mm/day').m_as('day'):.1f} days"
    '13.9 days'
    """
    return usable_depth * LITRES_PER_CM * (1 - displaced) / use_per_day


def _starting_depth(
    season_use: Floats, minimum_depth: Floats, rain: Floats = 0.0, displaced: Floats = 0.0
) -> Floats:
    return minimum_depth + (season_use - rain) / (LITRES_PER_CM * (1 - displaced))


@with_floats(_starting_depth)
@checked(
    "cm",
    season_use="season_water",
    minimum_depth="depth",
    rain=Expect("rain", optional=True),
    displaced="displaced_fraction",
)
def starting_depth(
    season_use: Floats, minimum_depth: Floats, rain: Floats | None = None, displaced: Floats = 0
) -> Floats:
    """Return the level from which an unrefilled tank falls to a stated one at harvest.

    d0 = dmin + (W - R) / (1 - q).

    Parameters
    ----------
    season_use : quantity
        W, water use and evaporation from planting to harvest [L/m²].
    minimum_depth : quantity
        dmin, level at harvest [cm].
    rain : quantity, optional
        R, rain reaching the tank over the season [L/m²]; none if not given.
    displaced : float
        q, share of the cross-section taken by what stands in it, 0 to 0.99,
        the same at all depths.

    Returns
    -------
    quantity
        d0, level at planting [cm].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If more rain reaches the tank than is used: its level rises, not falls.

    Notes
    -----
    Rain is taken as kept. If the tank is full when it falls, the surplus runs
    over, and the level at harvest is lower than stated. Compare the result with
    the rim by `check_level`.

    Warnings
    --------
    A tank that starts deep is heavy: see `load`.

    Examples
    --------
    >>> f"{starting_depth('200 L/m^2', '5 cm'):.1f~P}"
    '25.0 cm'
    """
    fallen = 0.0 if rain is None else rain
    if np.any(fallen > season_use):
        raise InfeasibleError(
            tr(
                "starting_depth: rain ({fallen:g} L/m²) is more than season_use ({season_use:g} L/m²), so the "
                "level rises and does not fall; lower the share of rain that reaches the tank or "
                "hold the level with an overflow",
                fallen=np.max(fallen),
                season_use=np.min(season_use),
            )
        )
    return _starting_depth(season_use, minimum_depth, fallen, displaced)


@checked("L", area="tank_area", peak_use="water_use", days="reserve_days")
def reserve_volume(area: Floats, peak_use: Floats, days: Floats) -> Floats:
    """Return the header tank that feeds a float valve through the peak, A E t.

    Parameters
    ----------
    area : quantity
        A, tank area that it feeds [m²], scalar or array.
    peak_use : quantity
        E, water use and evaporation on the thirstiest days [L/m² a day].
    days : quantity
        t, days that it must bridge without refilling [day].

    Returns
    -------
    quantity
        Usable volume [L], from full down to the outlet.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    The float valve holds the level, so what stands in the water does not
    matter. What the tank itself holds is not counted: that is the second
    reserve, given by `autonomy`, for when the valve fails.

    Examples
    --------
    >>> f"{reserve_volume('10 m^2', '6 mm/day', '7 day'):.0f~P}"
    '420 l'
    """
    return area * peak_use * days


@checked(
    "day",
    level_high="depth",
    level_low="depth",
    use_per_day=Expect("water_use", above_zero=True, why=NO_USE),
    displaced="displaced_fraction",
)
def hand_fill_interval(
    level_high: Floats, level_low: Floats, use_per_day: Floats, displaced: Floats = 0
) -> Floats:
    """Return the days between fillings by hand, (dhigh - dlow) (1 - q) / E.

    Parameters
    ----------
    level_high : quantity
        dhigh, level to which it is filled [cm].
    level_low : quantity
        dlow, level at which it is filled again [cm], below `level_high`.
    use_per_day : quantity
        E, water use and evaporation [L/m² a day], above 0.
    displaced : float
        q, share of the cross-section taken by what stands in it, 0 to 0.99.

    Returns
    -------
    quantity
        Interval [day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, or nothing is used.
    InfeasibleError
        If the low level is not below the high one.

    Examples
    --------
    >>> f"{hand_fill_interval('8 cm', '3 cm', '5 mm/day').m_as('day'):.1f} days"
    '10.0 days'
    """
    if np.any(level_low >= level_high):
        raise InfeasibleError(
            tr(
                "hand_fill_interval: level_low ({level_low:g} cm) must be below level_high ({level_high:g} cm)",
                level_low=np.max(level_low),
                level_high=np.min(level_high),
            )
        )
    return (level_high - level_low) * LITRES_PER_CM * (1 - displaced) / use_per_day


@checked("cm/day", use_per_day="water_use", displaced="displaced_fraction")
def drop_per_day(use_per_day: Floats, displaced: Floats = 0) -> Floats:
    """Return how far the level falls in a day, E / (1 - q).

    Parameters
    ----------
    use_per_day : quantity
        E, water use and evaporation [L/m² a day], scalar or array, 0 or more.
    displaced : float
        q, share of the cross-section taken by what stands in it, 0 to 0.99.

    Returns
    -------
    quantity
        Fall of the level [cm a day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> round(drop_per_day("6 mm/day", 0.5).m_as("cm/day"), 2)
    1.2
    """
    return use_per_day / (LITRES_PER_CM * (1 - displaced))


@checked("cm", level="depth", rim="depth")
def check_level(level: Floats, rim: Floats) -> Floats:
    """Return the freeboard of a level below the rim, and refuse a level above it.

    Parameters
    ----------
    level : quantity
        Water above the tank floor [cm], scalar or array.
    rim : quantity
        Height of the rim or overflow above the tank floor [cm].

    Returns
    -------
    quantity
        rim - level [cm], 0 or more.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If a level lies above the rim.

    Examples
    --------
    >>> f"{check_level('12 cm', '15 cm'):.1f~P}"
    '3.0 cm'
    """
    over = np.asarray(level - rim)
    if np.any(over > 0):
        worst = int(np.argmax(over))
        high, edge = (np.broadcast_to(item, over.shape).flat[worst] for item in (level, rim))
        raise InfeasibleError(
            tr(
                "check_level: level ({high:g} cm) lies {high2:g} cm above the rim ({edge:g} cm)",
                high=high,
                high2=high - edge,
                edge=edge,
            )
        )
    return rim - level
