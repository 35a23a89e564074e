"""Oxygen in water and in the air above it."""

from __future__ import annotations

import warnings

import numpy as np

from scenariokit import climate
from scenariokit.errors import InfeasibleError, ValidityWarning
from scenariokit.language import tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

KELVIN = 273.15
ATMOSPHERE = 101.325
"""kPa, standard atmosphere."""
OXYGEN_SHARE = 0.2095
"""Share of oxygen in dry air by volume, from memory."""
OXYGEN_MOLAR_MASS = 31.998
"""g/mol."""
GAS_CONSTANT = 8.314462618
"""J/(mol K), exact by definition."""
HIGHEST = 40.0
"""degC up to which the equation of saturation was fitted."""


def _pressure(elevation: Floats | None, pressure: Floats | None, subject: str) -> Floats:
    """Return the air pressure [kPa] from either, of a standard atmosphere at sea level if none."""
    if elevation is not None and pressure is not None:
        raise InfeasibleError(
            tr("{subject}: give elevation or pressure, not both", subject=subject)
        )
    if elevation is not None:
        return climate.atmospheric_pressure.floats(elevation)
    return ATMOSPHERE if pressure is None else pressure


@checked(
    "mg/L",
    temperature="water_temperature",
    elevation=Expect("elevation", optional=True),
    pressure=Expect("atmospheric_pressure", optional=True),
)
def oxygen_saturation(
    temperature: Floats, elevation: Floats | None = None, pressure: Floats | None = None
) -> Floats:
    """Return the dissolved oxygen of water in balance with moist air.

    ln C1 = -139.34411 + 1.575701e5/T - 6.642308e7/T² + 1.243800e10/T³ - 8.621949e11/T⁴
    with T in kelvin, at one atmosphere; at a pressure P in atmospheres
    C = C1 P (1 - u/P) (1 - h P) / [(1 - u) (1 - h)], where
    u = exp(11.8571 - 3840.70/T - 216961/T²) is the vapour pressure and
    h = 0.000975 - 1.426e-5 t + 6.436e-8 t², t in degC.

    Parameters
    ----------
    temperature : quantity
        t, of the water [degC], scalar or array; fitted for 0 to 40.
    elevation : quantity, optional
        Height above the sea [m], from which the pressure follows.
    pressure : quantity, optional
        Instead of `elevation`: air pressure at the place [kPa]. Without either
        one standard atmosphere.

    Returns
    -------
    quantity
        Dissolved oxygen at saturation [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If both elevation and pressure are given.

    Notes
    -----
    Fresh water: nutrient salts of usual strength lower it by about 1 %. What a
    tank in fact holds is less, since roots and microbes use it. Above 40 degC
    the fit is stretched, and a `ValidityWarning` says so.

    References
    ----------
    Benson and Krause 1980/1984 as in Standard Methods (APHA), method 4500-O;
    constants of the pressure correction from memory. Elevation to pressure:
    FAO-56 equation 7.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> f"{oxygen_saturation(quantity(20, 'degC')).m_as('mg/L'):.2f} mg/L"
    '9.09 mg/L'
    """
    if np.any(temperature > HIGHEST):
        warnings.warn(
            tr(
                "oxygen_saturation: {temperature:g} degC lies above the {highest:g} degC up to which the "
                "equation was fitted",
                temperature=np.max(temperature),
                highest=HIGHEST,
            ),
            ValidityWarning,
            stacklevel=3,
        )
    kelvin = temperature + KELVIN
    inverse = 1 / kelvin
    sea_level = np.exp(
        -139.34411
        + inverse
        * (1.575701e5 + inverse * (-6.642308e7 + inverse * (1.243800e10 - inverse * 8.621949e11)))
    )
    share = _pressure(elevation, pressure, "oxygen_saturation") / ATMOSPHERE
    vapour = np.exp(11.8571 - 3840.70 * inverse - 216961 * inverse**2)
    bend = 0.000975 - 1.426e-5 * temperature + 6.436e-8 * temperature**2
    # Above the boiling point at that pressure the air holds vapour only.
    dry = np.maximum(share - vapour, 0) * (1 - bend * share)
    return sea_level * dry / np.where(vapour < 1, (1 - vapour) * (1 - bend), np.inf)


@checked(
    "g/m^2",
    depth="depth",
    temperature="water_temperature",
    elevation=Expect("elevation", optional=True),
)
def oxygen_in_water(depth: Floats, temperature: Floats, elevation: Floats | None = None) -> Floats:
    """Return the oxygen that saturated water of a depth holds, C d.

    Parameters
    ----------
    depth : quantity
        d [cm], scalar or array.
    temperature : quantity
        Of the water [degC].
    elevation : quantity, optional
        Height above the sea [m]; sea level if not given.

    Returns
    -------
    quantity
        Oxygen [g/m²].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    References
    ----------
    As `oxygen_saturation`.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> f"{oxygen_in_water('10 cm', quantity(20, 'degC')).m_as('g/m^2'):.2f} g/m²"
    '0.91 g/m²'
    """
    return oxygen_saturation.floats(temperature, elevation) * depth / 100


@checked(
    "g/m^2",
    gap="depth",
    temperature="water_temperature",
    elevation=Expect("elevation", optional=True),
)
def oxygen_in_air_gap(gap: Floats, temperature: Floats, elevation: Floats | None = None) -> Floats:
    """Return the oxygen in a gap of air above the water, 0.2095 P M d / (R T).

    Parameters
    ----------
    gap : quantity
        d, height of the gap [cm], scalar or array.
    temperature : quantity
        Of the air [degC].
    elevation : quantity, optional
        Height above the sea [m]; one standard atmosphere if not given.

    Returns
    -------
    quantity
        Oxygen [g/m²], in dry air; moist air of 20 degC holds up to 2.3 % less.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    Oxygen moves some ten thousand times faster in air than in water (2e-5
    against 2e-9 m²/s, from memory): a gap above the water feeds roots that
    still water of the same depth could not.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> f"{oxygen_in_air_gap('5 cm', quantity(20, 'degC')).m_as('g/m^2'):.1f} g/m²"
    '13.9 g/m²'
    """
    pascal = _pressure(elevation, None, "oxygen_in_air_gap") * 1000
    density = OXYGEN_SHARE * pascal * OXYGEN_MOLAR_MASS / (GAS_CONSTANT * (temperature + KELVIN))
    return density * gap / 100
