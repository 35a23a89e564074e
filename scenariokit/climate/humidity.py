"""Vapour and pressure of the air.

The equations are those of FAO Irrigation and Drainage Paper 56 (Allen and
others 1998), written from memory and confirmed by reproducing its worked
examples, as other programs quote them, to the digits printed.
"""

from __future__ import annotations

import numpy as np

from scenariokit.climate.limits import refuse_crossed
from scenariokit.quantities import checked
from scenariokit.units import Floats

_TEMPERATURES = ("minimum_temperature", "maximum_temperature")


@checked("kPa", temperature="air_temperature")
def saturation_vapour_pressure(temperature: Floats) -> Floats:
    """Return the most vapour that air can hold, e°(T) = 0.6108 exp[17.27 T / (T + 237.3)].

    Parameters
    ----------
    temperature : quantity
        T, of the air [°C], scalar or array, -90 to 60.

    Returns
    -------
    quantity
        Saturation vapour pressure [kPa].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 11;
    confirmed by its example 18.

    Examples
    --------
    >>> round(saturation_vapour_pressure("21.5 degC").m_as("kPa"), 3)
    2.564
    """
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


@checked(
    "kPa", maximum_temperature="air_temperature", minimum_temperature="air_temperature"
)  # fmt: skip
def mean_saturation_vapour_pressure(
    maximum_temperature: Floats, minimum_temperature: Floats
) -> Floats:
    """Return the mean saturation vapour pressure, es = [e°(Tmax) + e°(Tmin)] / 2.

    Parameters
    ----------
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin of the day, or their means over the month [°C].

    Returns
    -------
    quantity
        es [kPa].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or Tmin above Tmax.

    Notes
    -----
    The saturation pressure at the mean temperature would be too low, because
    the curve bends upward.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 12; confirmed by its example 3.

    Examples
    --------
    >>> round(mean_saturation_vapour_pressure("24.5 degC", "15 degC").m_as("kPa"), 2)
    2.39
    """
    subject = "mean_saturation_vapour_pressure"
    refuse_crossed(minimum_temperature, maximum_temperature, _TEMPERATURES, "degC", subject)
    highest = saturation_vapour_pressure.floats(maximum_temperature)
    return (highest + saturation_vapour_pressure.floats(minimum_temperature)) / 2


@checked("kPa/kelvin", temperature="air_temperature")
def vapour_pressure_slope(temperature: Floats) -> Floats:
    """Return how steep the saturation curve is, Δ = 4098 e°(T) / (T + 237.3)².

    Parameters
    ----------
    temperature : quantity
        T, the mean of the day or month [°C], scalar or array.

    Returns
    -------
    quantity
        Δ [kPa per degree].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 13; confirmed by its example 17.

    Examples
    --------
    >>> round(vapour_pressure_slope("30.2 degC").m_as("kPa/kelvin"), 3)
    0.246
    """
    return 4098 * saturation_vapour_pressure.floats(temperature) / (temperature + 237.3) ** 2


@checked("kPa", elevation="elevation")
def atmospheric_pressure(elevation: Floats) -> Floats:
    """Return the usual pressure of the air, P = 101.3 [(293 - 0.0065 z) / 293]^5.26.

    Parameters
    ----------
    elevation : quantity
        z, height above the sea [m], scalar or array, -450 to 9000.

    Returns
    -------
    quantity
        P [kPa].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 7; confirmed by its example 2.

    Examples
    --------
    >>> round(atmospheric_pressure("1800 m").m_as("kPa"), 1)
    81.8
    """
    return 101.3 * ((293 - 0.0065 * elevation) / 293) ** 5.26


@checked("kPa/kelvin", pressure="atmospheric_pressure")
def psychrometric_constant(pressure: Floats) -> Floats:
    """Return the psychrometric constant, γ = 0.665e-3 P.

    Parameters
    ----------
    pressure : quantity
        P, of the air at the place [kPa], scalar or array, 25 to 110.

    Returns
    -------
    quantity
        γ [kPa per degree].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 8; confirmed by its example 2.

    Examples
    --------
    >>> round(psychrometric_constant("81.8 kPa").m_as("kPa/kelvin"), 3)
    0.054
    """
    return 0.665e-3 * pressure


@checked(
    "kPa",
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    maximum_humidity="relative_humidity",
    minimum_humidity="relative_humidity",
)
def vapour_pressure_from_humidity(
    maximum_temperature: Floats,
    minimum_temperature: Floats,
    maximum_humidity: Floats,
    minimum_humidity: Floats,
) -> Floats:
    """Return the vapour in the air from the highest and lowest relative humidity of the day.

    ea = [e°(Tmin) RHmax + e°(Tmax) RHmin] / 2, the humidities as shares.

    Parameters
    ----------
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin [°C], scalar or array.
    maximum_humidity, minimum_humidity : float or quantity
        RHmax and RHmin, 0 to 1 or with a percent sign.

    Returns
    -------
    quantity
        ea [kPa].

    Raises
    ------
    UnitError
        If a temperature has no unit or a value one of another dimension.
    RangeError
        If a value lies outside its range, or a lowest value above the highest.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 17; confirmed by its examples 5 and 18.

    Examples
    --------
    >>> found = vapour_pressure_from_humidity("21.5 degC", "12.3 degC", "84 %", "63 %")
    >>> round(found.m_as("kPa"), 3)
    1.409
    """
    subject = "vapour_pressure_from_humidity"
    refuse_crossed(minimum_temperature, maximum_temperature, _TEMPERATURES, "degC", subject)
    names = ("minimum_humidity", "maximum_humidity")
    refuse_crossed(minimum_humidity, maximum_humidity, names, "", subject)
    cold = saturation_vapour_pressure.floats(minimum_temperature)
    warm = saturation_vapour_pressure.floats(maximum_temperature)
    return (cold * maximum_humidity + warm * minimum_humidity) / 2


@checked(
    "kPa",
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    mean_humidity="relative_humidity",
)
def vapour_pressure_from_mean_humidity(
    maximum_temperature: Floats, minimum_temperature: Floats, mean_humidity: Floats
) -> Floats:
    """Return the vapour in the air from the mean relative humidity, ea = RHmean es.

    Parameters
    ----------
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin [°C], scalar or array.
    mean_humidity : float or quantity
        RHmean, 0 to 1 or with a percent sign.

    Returns
    -------
    quantity
        ea [kPa].

    Raises
    ------
    UnitError
        If a temperature has no unit or a value one of another dimension.
    RangeError
        If a value lies outside its range, or Tmin above Tmax.

    Notes
    -----
    Less good than the highest and lowest humidity: on the day of FAO-56's
    example 18 it makes reference evapotranspiration 2.4 % too low (computed).

    References
    ----------
    Allen and others 1998, FAO-56, eq. 19; confirmed by its example 5.

    Examples
    --------
    >>> found = vapour_pressure_from_mean_humidity("25 degC", "18 degC", "68 %")
    >>> round(found.m_as("kPa"), 2)
    1.78
    """
    saturated = mean_saturation_vapour_pressure.floats(maximum_temperature, minimum_temperature)
    return mean_humidity * saturated


@checked("kPa", dew_point="air_temperature")
def vapour_pressure_from_dew_point(dew_point: Floats) -> Floats:
    """Return the vapour in the air from its dew point, ea = e°(Tdew).

    Parameters
    ----------
    dew_point : quantity
        Tdew [°C], scalar or array.

    Returns
    -------
    quantity
        ea [kPa].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 14; confirmed by its example 20.

    Examples
    --------
    >>> round(vapour_pressure_from_dew_point("14.8 degC").m_as("kPa"), 2)
    1.68
    """
    return saturation_vapour_pressure.floats(dew_point)


@checked("kPa", minimum_temperature="air_temperature")
def vapour_pressure_from_minimum_temperature(minimum_temperature: Floats) -> Floats:
    """Return a guess of the vapour in the air where no humidity is known, ea = e°(Tmin).

    Parameters
    ----------
    minimum_temperature : quantity
        Tmin [°C], scalar or array.

    Returns
    -------
    quantity
        ea [kPa].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    Notes
    -----
    It takes the air for saturated at daybreak. In dry places it is not: there
    give a Tmin that is 2 to 3 degrees lower (from memory).

    References
    ----------
    Allen and others 1998, FAO-56, eq. 48; confirmed by its example 20.

    Examples
    --------
    >>> round(vapour_pressure_from_minimum_temperature("14.8 degC").m_as("kPa"), 2)
    1.68
    """
    return saturation_vapour_pressure.floats(minimum_temperature)
