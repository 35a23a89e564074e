"""What the water in a tank weighs."""

from __future__ import annotations

from typing import Any, NamedTuple

from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

GRAVITY = 9.80665
"""m/s², standard gravity."""
REFERENCE_TEMPERATURE = 20.0
"""degC at which water is weighed where no temperature is given."""


class Load(NamedTuple):
    """What the water alone weighs on its floor."""

    mass_per_area: Any
    pressure: Any


@checked("kg/m^3", temperature="water_temperature")
def water_density(temperature: Floats) -> Floats:
    """Return the density of pure water at 1 atm.

    Parameters
    ----------
    temperature : quantity
        T [degC], scalar or array, 0 to 100.

    Returns
    -------
    quantity
        Density [kg/m³].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    Notes
    -----
    A nutrient solution of usual strength is 0.1 to 0.3 % heavier; a hundredfold
    stock 6 to 10 %.

    References
    ----------
    Kell 1975, J. Chemical and Engineering Data 20:97.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> f"{water_density(quantity(20, 'degC')):.1f~P}"
    '998.2 kg/m³'
    """
    t = temperature
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return top / (1 + 16.879850e-3 * t)


@checked(
    {"mass_per_area": "kg/m^2", "pressure": "kPa"},
    depth="depth",
    temperature=Expect("water_temperature", optional=True),
)
def load(depth: Floats, temperature: Floats | None = None) -> Load:
    """Return what water of a depth weighs on the floor under it.

    Mass per area rho d, pressure rho g d.

    Parameters
    ----------
    depth : quantity
        d [cm], scalar or array, 0 to 500.
    temperature : quantity, optional
        Temperature of the water [degC]; 20 degC if not given.

    Returns
    -------
    Load
        ``mass_per_area`` [kg/m²] and ``pressure`` [kPa].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Warnings
    --------
    Water only: add tank, wet medium, crop and people. House floors are commonly
    designed for 1.92 kPa in all (ASCE 7, from memory), which 19.6 cm of water
    use up. Ask a competent person before loading a balcony, roof or bench.

    References
    ----------
    Kell 1975, J. Chemical and Engineering Data 20:97 (density).

    Examples
    --------
    >>> found = load("10 cm")
    >>> f"{found.mass_per_area:.1f~P}, {found.pressure:.2f~P}"
    '99.8 kg/m², 0.98 kPa'
    """
    warmth = REFERENCE_TEMPERATURE if temperature is None else temperature
    mass = water_density.floats(warmth) * depth / 100
    return Load(mass, mass * GRAVITY / 1000)
