"""What a crop and its tank lose to the air, from reference evapotranspiration."""

from __future__ import annotations

import numpy as np

from scenariokit.quantities import checked
from scenariokit.units import Floats

OPEN_WATER = 1.05
"""Crop coefficient of open water under 2 m deep: FAO-56 Table 12."""


@checked(
    "L/m^2/day",
    reference_evapotranspiration="reference_evapotranspiration",
    crop_coefficient="crop_coefficient",
    factor="climate_factor",
)
def daily_demand(
    reference_evapotranspiration: Floats, crop_coefficient: Floats, factor: Floats = 1
) -> Floats:
    """Return the water a crop uses in a day, kf Kc ETo.

    Parameters
    ----------
    reference_evapotranspiration : quantity
        ETo [mm/day], scalar or array, 0 to 30.
    crop_coefficient : float
        Kc of that day, 0 to 2.
    factor : float
        kf, 1 for the site as tabulated; above 1 for a hotter, drier or more
        exposed place, 0.6 to 0.8 under plastic (from memory).

    Returns
    -------
    quantity
        Demand [L/m² a day], the same number as mm/day.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 58.

    Examples
    --------
    >>> round(daily_demand("5 mm/day", 1.15).m_as("L/m^2/day"), 2)
    5.75
    """
    return reference_evapotranspiration * crop_coefficient * factor


@checked(
    "L/m^2",
    reference_evapotranspiration="reference_evapotranspiration",
    crop_coefficient="crop_coefficient",
    factor="climate_factor",
)
def season_demand(
    reference_evapotranspiration: Floats, crop_coefficient: Floats, factor: Floats = 1
) -> Floats:
    """Return the water a crop uses in a season, the sum over its days of kf Kc ETo.

    Parameters
    ----------
    reference_evapotranspiration : quantity
        ETo of each day [mm/day]; one value stands for every day.
    crop_coefficient : array of float
        Kc of each day, days on the last axis, from the first day to the last.
    factor : float
        kf, as in `daily_demand`.

    Returns
    -------
    quantity
        Demand of the season [L/m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> import numpy as np
    >>> from scenariokit import quantity
    >>> from scenariokit.climate import crop_coefficient
    >>> days = quantity(np.arange(1, 131), "day")
    >>> stages = ["25 day", "30 day", "45 day", "30 day"]
    >>> season = crop_coefficient(days, stages, [0.5, 1.15, 0.75])
    >>> round(season_demand("5 mm/day", season).m_as("L/m^2"), 1)
    588.1
    """
    daily = np.atleast_1d(reference_evapotranspiration * crop_coefficient * factor)
    return daily.sum(axis=-1)[()]


@checked(
    "L/m^2/day",
    reference_evapotranspiration="reference_evapotranspiration",
    open_fraction="open_fraction",
    cover_efficiency="cover_efficiency",
)
def tank_evaporation(
    reference_evapotranspiration: Floats, open_fraction: Floats, cover_efficiency: Floats = 0
) -> Floats:
    """Return what evaporates from the tank itself, 1.05 ETo fo (1 - ce).

    Parameters
    ----------
    reference_evapotranspiration : quantity
        ETo [mm/day], scalar or array, 0 to 30.
    open_fraction : float
        fo, share of the tank's surface that is open water, 0 to 1.
    cover_efficiency : float
        ce, share of its evaporation that a cover stops, 0 to 1.

    Returns
    -------
    quantity
        Evaporation per tank area [L/m² a day].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Warnings
    --------
    Water that stays open for a week breeds mosquitoes, and a child can drown in
    a few centimetres: close every gap, and use a lid that bears a child.

    References
    ----------
    FAO Irrigation and Drainage Paper 56, Table 12 (open water under 2 m: 1.05).

    Examples
    --------
    >>> round(tank_evaporation("5 mm/day", 1, 0.85).m_as("L/m^2/day"), 2)
    0.79
    """
    return OPEN_WATER * reference_evapotranspiration * open_fraction * (1 - cover_efficiency)
