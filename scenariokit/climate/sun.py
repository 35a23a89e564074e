"""The course of the sun: its distance, its height, the length of the day.

The equations are those of FAO Irrigation and Drainage Paper 56 (Allen and
others 1998), written from memory and confirmed by reproducing its worked
examples, as other programs quote them, to the digits printed.
"""

from __future__ import annotations

import warnings

import numpy as np

from scenariokit.errors import ValidityWarning
from scenariokit.language import tr
from scenariokit.quantities import checked
from scenariokit.units import Floats

_SOLAR_CONSTANT = 0.0820
"""Radiation of the sun above the air: MJ/m² a minute."""

_MINUTES_PER_DAY = 24 * 60


@checked("", day_of_year="day_of_year")
def inverse_relative_distance(day_of_year: Floats) -> Floats:
    """Return how near the sun is, dr = 1 + 0.033 cos(2 π J / 365).

    Parameters
    ----------
    day_of_year : float
        J, 1 to 366, scalar or array.

    Returns
    -------
    quantity
        dr, a ratio near 1; largest in January.

    Raises
    ------
    UnitError
        If the value is no plain number.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 23;
    confirmed by its example 8.

    Examples
    --------
    >>> round(inverse_relative_distance(246).m_as(""), 3)
    0.985
    """
    return 1 + 0.033 * np.cos(2 * np.pi * day_of_year / 365)


@checked("radian", day_of_year="day_of_year")
def solar_declination(day_of_year: Floats) -> Floats:
    """Return how far north the sun stands, δ = 0.409 sin(2 π J / 365 - 1.39).

    Parameters
    ----------
    day_of_year : float
        J, 1 to 366, scalar or array.

    Returns
    -------
    quantity
        δ [radian], above zero in the northern summer.

    Raises
    ------
    UnitError
        If the value is no plain number.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 24; confirmed by its example 8.

    Examples
    --------
    >>> round(solar_declination(246).m_as("radian"), 3)
    0.12
    """
    return 0.409 * np.sin(2 * np.pi * day_of_year / 365 - 1.39)


@checked("radian", latitude="latitude", day_of_year="day_of_year")
def sunset_hour_angle(latitude: Floats, day_of_year: Floats) -> Floats:
    """Return the angle the sun goes from noon to sunset, ωs = arccos(-tan φ tan δ).

    Parameters
    ----------
    latitude : quantity
        φ, -90 to 90 degrees, south below zero, scalar or array. A bare number
        is refused, because it could be degrees or radians.
    day_of_year : float
        J, 1 to 366, scalar or array.

    Returns
    -------
    quantity
        ωs [radian], 0 to π.

    Raises
    ------
    UnitError
        If the latitude has no unit, or a value one of another dimension.
    RangeError
        If a value lies outside its range.

    Warns
    -----
    ValidityWarning
        Where the sun does not rise or does not set on that day: ωs is then 0 or
        π, which the equation itself does not give.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 25; confirmed by its example 8.

    Examples
    --------
    >>> round(sunset_hour_angle("-20 deg", 246).m_as("radian"), 3)
    1.527
    """
    cosine = -np.tan(np.radians(latitude)) * np.tan(solar_declination.floats(day_of_year))
    if np.any(np.abs(cosine) > 1):
        warnings.warn(
            tr(
                "beyond the polar circles the sun does not rise, or does not set, on some of these "
                "days; the sunset angle was held at 0 or 180 degrees"
            ),
            ValidityWarning,
            stacklevel=3,
        )
    return np.arccos(np.clip(cosine, -1.0, 1.0))


@checked("hour", latitude="latitude", day_of_year="day_of_year")
def daylight_hours(latitude: Floats, day_of_year: Floats) -> Floats:
    """Return the hours from sunrise to sunset, N = 24 ωs / π.

    Parameters
    ----------
    latitude : quantity
        φ, -90 to 90 degrees, south below zero, scalar or array. A bare number
        is refused.
    day_of_year : float
        J, 1 to 366, scalar or array.

    Returns
    -------
    quantity
        N [hour], 0 to 24.

    Raises
    ------
    UnitError
        If the latitude has no unit, or a value one of another dimension.
    RangeError
        If a value lies outside its range.

    Warns
    -----
    ValidityWarning
        Where the sun does not rise or does not set on that day.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 34; confirmed by its example 9.

    Examples
    --------
    >>> round(daylight_hours("-20 deg", 246).m_as("hour"), 1)
    11.7
    """
    return 24 / np.pi * sunset_hour_angle.floats(latitude, day_of_year)


@checked("MJ/m^2/day", latitude="latitude", day_of_year="day_of_year")
def extraterrestrial_radiation(latitude: Floats, day_of_year: Floats) -> Floats:
    """Return the radiation of a day above the air.

    Ra = (1440 / π) Gsc dr [ωs sin φ sin δ + cos φ cos δ sin ωs], with
    Gsc = 0.0820 MJ/m² a minute.

    Parameters
    ----------
    latitude : quantity
        φ, -90 to 90 degrees, south below zero, scalar or array. A bare number
        is refused.
    day_of_year : float
        J, 1 to 366, scalar or array; the 15th stands well for a month.

    Returns
    -------
    quantity
        Ra [MJ/m² a day], on a level surface.

    Raises
    ------
    UnitError
        If the latitude has no unit, or a value one of another dimension.
    RangeError
        If a value lies outside its range.

    Warns
    -----
    ValidityWarning
        Where the sun does not rise or does not set on that day.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 21; confirmed by its example 8.

    Examples
    --------
    >>> round(extraterrestrial_radiation("-20 deg", 246).m_as("MJ/m^2/day"), 1)
    32.2
    """
    angle = sunset_hour_angle.floats(latitude, day_of_year)
    declination = solar_declination.floats(day_of_year)
    north = np.radians(latitude)
    height = angle * np.sin(north) * np.sin(declination)
    height = height + np.cos(north) * np.cos(declination) * np.sin(angle)
    scale = _MINUTES_PER_DAY / np.pi * _SOLAR_CONSTANT
    # On a day whose sun just fails to rise, rounding leaves a hair below zero.
    return scale * inverse_relative_distance.floats(day_of_year) * np.maximum(height, 0.0)
