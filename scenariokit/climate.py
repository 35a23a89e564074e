"""Water demand: the crop coefficient through a season, daily demand and tank evaporation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.months import (
    DAYS_PER_YEAR,
    MONTH_LENGTHS,
    daily_from_monthly,
    daily_from_monthly_sums,
    day_of_year,
    month_of_day,
)
from scenariokit.quantities import checked, checked_floats, with_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

__all__ = [
    "DAYS_PER_YEAR",
    "MONTH_LENGTHS",
    "OPEN_WATER",
    "crop_coefficient",
    "daily_demand",
    "daily_from_monthly",
    "daily_from_monthly_sums",
    "day_of_year",
    "month_of_day",
    "season_demand",
    "tank_evaporation",
]

OPEN_WATER = 1.05
"""Crop coefficient of open water under 2 m deep: FAO-56 Table 12."""

_STAGES = ("initial", "development", "mid", "late")
_POINTS = ("initial", "mid", "end")


def _four_stages(
    day: Floats,
    initial: Floats,
    development: Floats,
    mid: Floats,
    late: Floats,
    kc_initial: Floats,
    kc_mid: Floats,
    kc_end: Floats,
) -> Floats:
    """Return Kc from plain floats; before the season its first, after it its last value."""
    rise = _progress(day - initial, development)
    fall = _progress(day - (initial + development + mid), late)
    return kc_initial + rise * (kc_mid - kc_initial) + fall * (kc_end - kc_mid)


def _progress(elapsed: Floats, length: Floats) -> Floats:
    """Return the part of a stage that has passed: 0 before it, 1 after; a step if it is empty."""
    span = np.where(np.asarray(length) > 0, length, 1.0)
    step = np.where(np.asarray(elapsed) > 0, 1.0, 0.0)
    return np.where(np.asarray(length) > 0, np.clip(elapsed, 0.0, span) / span, step)[()]


@with_floats(_four_stages)
def crop_coefficient(
    day: QuantityLike, lengths: Sequence[QuantityLike], coefficients: Sequence[Any]
) -> Quantity:
    """Return the crop coefficient Kc on a day of the season.

    Kc is constant in the first stage, rises or falls in a straight line to the
    mid-season value in the second, is constant in the third and goes in a
    straight line to the end value in the last:
    Kc = Kc_prev + (day - sum of earlier lengths) / length (Kc_next - Kc_prev).

    Parameters
    ----------
    day : quantity
        Days since planting [day], scalar or array; at its end a season's last
        day has the number that the lengths add to.
    lengths : sequence of four quantities
        Length of the initial, development, mid and late stage [day]. A stage
        may last 0 days; then the coefficient steps.
    coefficients : sequence of three floats
        Kc of the initial stage, of the mid stage and at the end, 0 to 2.

    Returns
    -------
    quantity
        Kc, a ratio.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or a day after the last stage.
    ArgumentError
        If there are not four lengths and three coefficients.

    Notes
    -----
    Tabulated Kc is for a field of the crop, wide in every direction, and
    includes evaporation from wet soil. A small bed in the open can lose more.
    Where a cover keeps the surface dry, give the basal coefficients instead.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 66.

    Examples
    --------
    >>> stages = ["25 day", "30 day", "45 day", "30 day"]
    >>> round(crop_coefficient("40 day", stages, [0.5, 1.15, 0.75]).m_as(""), 3)
    0.825
    """
    subject = "crop_coefficient"
    stages = _named(lengths, _STAGES, "lengths", subject)
    points = _named(coefficients, _POINTS, "coefficients", subject)
    found = checked_floats(
        subject,
        {"day": (day, "duration")}
        | {key: (value, "duration") for key, value in stages.items()}
        | {key: (value, "crop_coefficient") for key, value in points.items()},
    )
    total = sum(found[key] for key in stages)
    if np.any(found["day"] > total * (1 + 1e-12)):
        problem = Problem(
            "day",
            f"{np.max(found['day']):g} day",
            "is after the end of the season",
            f"0 to {np.min(total):g} day, the sum of the lengths",
            kind="range",
        )
        raise argument_error([problem], subject)
    return with_unit(_four_stages(*found.values()), "")


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


def _named(values: Any, names: tuple[str, ...], key: str, subject: str) -> dict[str, Any]:
    """Return a sequence as name to value, or say how many values it must have."""
    count = len(values) if hasattr(values, "__len__") and not isinstance(values, str) else 1
    if count != len(names):
        reason = f"must hold {len(names)} values: {', '.join(names)}"
        raise argument_error([Problem(key, str(values), reason)], subject)
    return {f"{key}[{name}]": value for name, value in zip(names, values, strict=True)}
