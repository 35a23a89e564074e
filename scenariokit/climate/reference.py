"""Reference evapotranspiration: the water that well-watered grass uses in some weather.

The equations are those of FAO Irrigation and Drainage Paper 56 (Allen and
others 1998), written from memory and confirmed by reproducing its worked
examples, as other programs quote them, to the digits printed.
"""

from __future__ import annotations

import numpy as np

from scenariokit.climate.humidity import (
    atmospheric_pressure,
    mean_saturation_vapour_pressure,
    psychrometric_constant,
    vapour_pressure_slope,
)
from scenariokit.climate.limits import refuse_crossed, refuse_where
from scenariokit.language import tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

EVAPORATION_PER_ENERGY = 0.408
"""Millimetres of water that a megajoule on a square metre evaporates: FAO-56."""


@checked("m/s", wind_speed="wind_speed", height="wind_height")
def wind_at_two_metres(wind_speed: Floats, height: Floats) -> Floats:
    """Return the wind speed at 2 m from that at another height, u2 = uz 4.87 / ln(67.8 z - 5.42).

    Parameters
    ----------
    wind_speed : quantity
        uz [m/s], scalar or array, 0 to 60.
    height : quantity
        z, of the gauge above the ground [m], 0.5 to 200; weather stations
        commonly have 10 m.

    Returns
    -------
    quantity
        u2 [m/s].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    For a gauge above short grass.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 47;
    confirmed by its example 14.

    Examples
    --------
    >>> round(wind_at_two_metres("3.2 m/s", "10 m").m_as("m/s"), 1)
    2.4
    """
    return wind_speed * 4.87 / np.log(67.8 * height - 5.42)


@checked(
    "MJ/m^2/day",
    later_temperature="air_temperature",
    earlier_temperature="air_temperature",
    months_apart="months_apart",
)
def soil_heat_flux(
    later_temperature: Floats, earlier_temperature: Floats, months_apart: Floats = 1
) -> Floats:
    """Return the heat that goes into the soil in a month, G = 0.14 (T_later - T_earlier) / months.

    Parameters
    ----------
    later_temperature, earlier_temperature : quantity
        Mean air temperature of two months [°C], scalar or array: of the month
        after and the month before, 2 months apart; or, while the month after is
        not known, of the month itself and the month before, 1 apart.
    months_apart : float
        2 or 1.

    Returns
    -------
    quantity
        G [MJ/m² a day]; below zero in autumn.

    Raises
    ------
    UnitError
        If a temperature has no unit or a value one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    For months. Over a day or ten days FAO-56 takes 0.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 43 (0.07, two months apart) and eq. 44 (0.14);
    confirmed by its examples 13 and 17.

    Examples
    --------
    >>> round(soil_heat_flux("18.8 degC", "14.1 degC", 2).m_as("MJ/m^2/day"), 2)
    0.33
    """
    return 0.14 * (later_temperature - earlier_temperature) / months_apart


@checked(
    "mm/day",
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    vapour_pressure="vapour_pressure",
    wind_speed="wind_speed",
    net_radiation="net_radiation",
    elevation="elevation",
    soil_heat_flux=Expect("soil_heat_flux", optional=True),
)
def penman_monteith(
    maximum_temperature: Floats,
    minimum_temperature: Floats,
    vapour_pressure: Floats,
    wind_speed: Floats,
    net_radiation: Floats,
    elevation: Floats,
    soil_heat_flux: Floats | None = None,
) -> Floats:
    """Return reference evapotranspiration by the FAO Penman-Monteith equation.

    ETo = [0.408 Δ (Rn - G) + γ 900 / (T + 273) u2 (es - ea)] / [Δ + γ (1 + 0.34 u2)],
    T = (Tmax + Tmin) / 2, Δ and γ and es as `vapour_pressure_slope`,
    `psychrometric_constant` and `mean_saturation_vapour_pressure` give them.

    Parameters
    ----------
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin of the day, or their means over a month [°C]. Every
        argument may be an array over days and members of an ensemble.
    vapour_pressure : quantity
        ea [kPa], at most es.
    wind_speed : quantity
        u2, at 2 m [m/s]; see `wind_at_two_metres`.
    net_radiation : quantity
        Rn [MJ/m² a day].
    elevation : quantity
        z, height above the sea [m].
    soil_heat_flux : quantity, optional
        G [MJ/m² a day], 0 if left out, as is right for a day; for a month see
        `soil_heat_flux`.

    Returns
    -------
    quantity
        ETo [mm a day]. Below zero where dew falls all day: it is given as it
        comes, never cut off.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, Tmin lies above Tmax, or the air
        holds more vapour than it can.

    Notes
    -----
    Valid for days to months and an open field of grass. Not for the air in a
    greenhouse or a room, where wind and radiation are others. FAO-56 advises to
    take u2 as 0.5 m/s where less is measured (from memory); that is left to you.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 6; confirmed by its examples 17, 18 and 20.

    Examples
    --------
    >>> found = penman_monteith(
    ...     "21.5 degC", "12.3 degC", "1.409 kPa", "2.078 m/s", "13.28 MJ/m^2/day", "100 m")
    >>> f"{found:.2f~P}"
    '3.88 mm/d'
    """
    saturated = mean_saturation_vapour_pressure.floats(maximum_temperature, minimum_temperature)
    refuse_where(
        np.asarray(vapour_pressure) > saturated * (1 + 1e-9),
        "vapour_pressure", vapour_pressure, "kPa",
        tr("is more than air of that temperature can hold"), "mean_saturation_vapour_pressure or less",
        "penman_monteith",
    )  # fmt: skip
    mean = (maximum_temperature + minimum_temperature) / 2
    slope = vapour_pressure_slope.floats(mean)
    gamma = psychrometric_constant.floats(atmospheric_pressure.floats(elevation))
    energy = net_radiation if soil_heat_flux is None else net_radiation - soil_heat_flux
    wind_term = gamma * 900 / (mean + 273) * wind_speed * (saturated - vapour_pressure)
    numerator = EVAPORATION_PER_ENERGY * slope * energy + wind_term
    return numerator / (slope + gamma * (1 + 0.34 * wind_speed))


@checked(
    "mm/day",
    maximum_temperature="air_temperature",
    minimum_temperature="air_temperature",
    extraterrestrial_radiation="extraterrestrial_radiation",
)
def hargreaves(
    maximum_temperature: Floats, minimum_temperature: Floats, extraterrestrial_radiation: Floats
) -> Floats:
    """Return reference evapotranspiration from temperatures alone.

    ETo = 0.0023 (T + 17.8) √(Tmax - Tmin) 0.408 Ra, T = (Tmax + Tmin) / 2.

    Parameters
    ----------
    maximum_temperature, minimum_temperature : quantity
        Tmax and Tmin [°C], scalar or array.
    extraterrestrial_radiation : quantity
        Ra [MJ/m² a day].

    Returns
    -------
    quantity
        ETo [mm a day]. Below zero in frost under -17.8 °C: it is given as it comes.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or Tmin above Tmax.

    Notes
    -----
    It gives too little where wind is strong and too much where air is moist
    (from memory). Means of a week or more are better than single days.

    References
    ----------
    Hargreaves and Samani, as given by Allen and others 1998, FAO-56, eq. 52. No
    worked example of it is known to us; the program pyet 1.5.0 gives the same but for the
    latent heat, which it lets change with temperature.

    Examples
    --------
    >>> f"{hargreaves('26.6 degC', '14.8 degC', '40.55 MJ/m^2/day'):.2f~P}"
    '5.03 mm/d'
    """
    names = ("minimum_temperature", "maximum_temperature")
    refuse_crossed(minimum_temperature, maximum_temperature, names, "degC", "hargreaves")
    mean = (maximum_temperature + minimum_temperature) / 2
    width = np.sqrt(maximum_temperature - minimum_temperature)
    energy = EVAPORATION_PER_ENERGY * extraterrestrial_radiation
    return 0.0023 * (mean + 17.8) * width * energy
