"""Radiation that reaches the ground and that the grass keeps.

The equations are those of FAO Irrigation and Drainage Paper 56 (Allen and
others 1998), written from memory and confirmed by reproducing its worked
examples, as other programs quote them, to the digits printed.
"""

from __future__ import annotations

import warnings

import numpy as np

from scenariokit.climate.limits import refuse_crossed, refuse_where
from scenariokit.errors import ValidityWarning
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

GRASS_ALBEDO = 0.23
"""Share of solar radiation that the reference grass reflects: FAO-56."""

CLEAR_SKY_SHARE = 0.75
"""Share of the radiation above the air that a clear sky lets through at sea level: FAO-56."""

LONGER_DAY = 0.25
"""Hours by which sunshine may exceed the daylight of geometry, which bends no light. Our choice."""

_STEFAN_BOLTZMANN = 4.903e-9
"""Radiation of a black body: MJ/m² a day per K⁴."""

_ZERO_CELSIUS = 273.16
"""FAO-56 takes 273.16 K here, and 273 in its equation 6."""

_TEMPERATURES = ("minimum_temperature", "maximum_temperature")


@checked(
    "MJ/m^2/day",
    extraterrestrial_radiation="extraterrestrial_radiation",
    elevation="elevation",
)
def clear_sky_radiation(extraterrestrial_radiation: Floats, elevation: Floats) -> Floats:
    """Return the solar radiation under a clear sky, Rso = (0.75 + 2e-5 z) Ra.

    Parameters
    ----------
    extraterrestrial_radiation : quantity
        Ra [MJ/m² a day], scalar or array.
    elevation : quantity
        z, height above the sea [m].

    Returns
    -------
    quantity
        Rso [MJ/m² a day].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 37;
    confirmed by its example 18.

    Examples
    --------
    >>> f"{clear_sky_radiation('41.09 MJ/m^2/day', '100 m').m_as('MJ/m^2/day'):.2f}"
    '30.90'
    """
    return (CLEAR_SKY_SHARE + 2e-5 * elevation) * extraterrestrial_radiation


@checked(
    "MJ/m^2/day",
    extraterrestrial_radiation="extraterrestrial_radiation",
    sunshine="sunshine",
    daylight="daylight",
    dull_share="angstrom_share",
    sunny_share="angstrom_share",
)
def solar_from_sunshine(
    extraterrestrial_radiation: Floats,
    sunshine: Floats,
    daylight: Floats,
    dull_share: Floats = 0.25,
    sunny_share: Floats = 0.50,
) -> Floats:
    """Return the solar radiation from hours of sunshine, Rs = (as + bs n / N) Ra.

    Parameters
    ----------
    extraterrestrial_radiation : quantity
        Ra [MJ/m² a day], scalar or array.
    sunshine : quantity
        n, hours of bright sunshine in the day, at most the daylight.
    daylight : quantity
        N, hours of daylight, as `daylight_hours` gives them. Where there are
        none, n / N counts as 0; Ra is 0 too.
    dull_share, sunny_share : float
        as and bs, 0 to 1: what a dull day lets through, and what a sunny day adds.

    Returns
    -------
    quantity
        Rs [MJ/m² a day].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the sunshine is longer than the
        daylight by more than a quarter of an hour (air bends light, so the real
        day is a few minutes longer than N).

    References
    ----------
    Allen and others 1998, FAO-56, eq. 35; confirmed by its example 10.

    Examples
    --------
    >>> found = solar_from_sunshine("25.1 MJ/m^2/day", "7.1 hour", "10.9 hour")
    >>> f"{found.m_as('MJ/m^2/day'):.2f}"
    '14.45'
    """
    refuse_where(
        np.asarray(sunshine) > np.asarray(daylight) + LONGER_DAY,
        "sunshine", sunshine, "hour", tr("is longer than the daylight"), tr("daylight or less"),
        "solar_from_sunshine",
    )  # fmt: skip
    lit = np.asarray(daylight) > 0
    share = np.where(lit, sunshine / np.where(lit, daylight, 1.0), 0.0)[()]
    return (dull_share + sunny_share * share) * extraterrestrial_radiation


@checked(
    "MJ/m^2/day",
    extraterrestrial_radiation="extraterrestrial_radiation",
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    coefficient="range_coefficient",
)
def solar_from_temperature_range(
    extraterrestrial_radiation: Floats,
    maximum_temperature: Floats,
    minimum_temperature: Floats,
    coefficient: Floats = 0.16,
) -> Floats:
    """Return a guess of the solar radiation where none is measured, Rs = kRs √(Tmax - Tmin) Ra.

    Parameters
    ----------
    extraterrestrial_radiation : quantity
        Ra [MJ/m² a day], scalar or array.
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin [°C].
    coefficient : float
        kRs, 0.16 inland and 0.19 by the coast, per square root of a degree.

    Returns
    -------
    quantity
        Rs [MJ/m² a day].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or Tmin above Tmax.

    Warns
    -----
    ValidityWarning
        If the guess is more than a clear sky lets through at sea level, 0.75 Ra.

    Notes
    -----
    Not for islands, where the sea holds the temperature (from memory).

    References
    ----------
    Hargreaves and Samani, as given by Allen and others 1998, FAO-56, eq. 50; confirmed
    by its example 15.

    Examples
    --------
    >>> found = solar_from_temperature_range("40.6 MJ/m^2/day", "26.6 degC", "14.8 degC")
    >>> round(found.m_as("MJ/m^2/day"), 1)
    22.3
    """
    subject = "solar_from_temperature_range"
    refuse_crossed(minimum_temperature, maximum_temperature, _TEMPERATURES, "degC", subject)
    share = coefficient * np.sqrt(maximum_temperature - minimum_temperature)
    if np.any(np.asarray(share) > CLEAR_SKY_SHARE):
        warnings.warn(
            tr(
                "the temperature range gives more radiation than a clear sky lets through at sea "
                "level"
            ),
            ValidityWarning,
            stacklevel=3,
        )
    return share * extraterrestrial_radiation


@checked("MJ/m^2/day", solar_radiation="solar_radiation", albedo="albedo")
def net_shortwave_radiation(solar_radiation: Floats, albedo: Floats = GRASS_ALBEDO) -> Floats:
    """Return the solar radiation that the surface keeps, Rns = (1 - α) Rs.

    Parameters
    ----------
    solar_radiation : quantity
        Rs [MJ/m² a day], scalar or array.
    albedo : float
        α, 0.23 for the reference grass.

    Returns
    -------
    quantity
        Rns [MJ/m² a day].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 38; confirmed by its example 18.

    Examples
    --------
    >>> f"{net_shortwave_radiation('22.07 MJ/m^2/day').m_as('MJ/m^2/day'):.1f}"
    '17.0'
    """
    return (1 - albedo) * solar_radiation


@checked(
    "MJ/m^2/day",
    solar_radiation="solar_radiation",
    clear_sky_radiation=Expect(
        "solar_radiation", above_zero=True, why=mark("without sun its share has no value")
    ),
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    vapour_pressure="vapour_pressure",
)
def net_longwave_radiation(
    solar_radiation: Floats,
    clear_sky_radiation: Floats,
    maximum_temperature: Floats,
    minimum_temperature: Floats,
    vapour_pressure: Floats,
) -> Floats:
    """Return the heat that the surface radiates away.

    Rnl = σ [(Tmax,K⁴ + Tmin,K⁴) / 2] (0.34 - 0.14 √ea) (1.35 Rs / Rso - 0.35),
    where Rs / Rso counts as 1 if it is more and σ = 4.903e-9 MJ/m² a day per K⁴.

    Parameters
    ----------
    solar_radiation, clear_sky_radiation : quantity
        Rs and Rso [MJ/m² a day], scalar or array; Rso above 0.
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin [°C].
    vapour_pressure : quantity
        ea [kPa].

    Returns
    -------
    quantity
        Rnl [MJ/m² a day].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, Rso is 0 (polar night), or Tmin lies above Tmax.

    Notes
    -----
    The limit Rs / Rso ≤ 1 is part of the source's equation. No lower limit is
    put on it: the equation of sunshine does not fall below 1/3.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 39; confirmed by its examples 11, 17 and 18.

    Examples
    --------
    >>> found = net_longwave_radiation(
    ...     "14.5 MJ/m^2/day", "18.8 MJ/m^2/day", "25.1 degC", "19.1 degC", "2.1 kPa")
    >>> round(found.m_as("MJ/m^2/day"), 1)
    3.5
    """
    subject = "net_longwave_radiation"
    refuse_crossed(minimum_temperature, maximum_temperature, _TEMPERATURES, "degC", subject)
    warm = (maximum_temperature + _ZERO_CELSIUS) ** 4
    black = _STEFAN_BOLTZMANN * (warm + (minimum_temperature + _ZERO_CELSIUS) ** 4) / 2
    clearness = np.minimum(solar_radiation / clear_sky_radiation, 1.0)
    return black * (0.34 - 0.14 * np.sqrt(vapour_pressure)) * (1.35 * clearness - 0.35)


@checked(
    "MJ/m^2/day",
    solar_radiation="solar_radiation",
    clear_sky_radiation=Expect(
        "solar_radiation", above_zero=True, why=mark("without sun its share has no value")
    ),
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    vapour_pressure="vapour_pressure",
    albedo="albedo",
)
def net_radiation(
    solar_radiation: Floats,
    clear_sky_radiation: Floats,
    maximum_temperature: Floats,
    minimum_temperature: Floats,
    vapour_pressure: Floats,
    albedo: Floats = GRASS_ALBEDO,
) -> Floats:
    """Return the radiation that the surface keeps in all, Rn = Rns - Rnl.

    Parameters
    ----------
    solar_radiation, clear_sky_radiation : quantity
        Rs and Rso [MJ/m² a day], scalar or array; Rso above 0.
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin [°C].
    vapour_pressure : quantity
        ea [kPa].
    albedo : float
        α, 0.23 for the reference grass.

    Returns
    -------
    quantity
        Rn [MJ/m² a day]; below zero on short winter days.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, Rso is 0 (polar night), or Tmin lies above Tmax.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 40; confirmed by its examples 17 and 18.

    Examples
    --------
    >>> found = net_radiation(
    ...     "22.07 MJ/m^2/day", "30.90 MJ/m^2/day", "21.5 degC", "12.3 degC", "1.409 kPa")
    >>> round(found.m_as("MJ/m^2/day"), 2)
    13.28
    """
    kept = net_shortwave_radiation.floats(solar_radiation, albedo)
    return kept - net_longwave_radiation.floats(
        solar_radiation, clear_sky_radiation, maximum_temperature, minimum_temperature,
        vapour_pressure,
    )  # fmt: skip
