"""EC at the temperature of the solution and at 25 °C, the one that is written down."""

from __future__ import annotations

import warnings

import numpy as np

from scenariokit.errors import ValidityWarning
from scenariokit.language import tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

REFERENCE_TEMPERATURE = 25.0
"""Temperature at which EC is stated [degC]."""

COEFFICIENT = 2.0
"""Usual change of the EC of a feed [percent of EC at 25 °C for each °C]."""

VALID_TEMPERATURES = (5.0, 35.0)
"""Where one coefficient holds for feeds [degC]."""


@checked(
    "dS/m",
    ec="electrical_conductivity",
    temperature="water_temperature",
    coefficient=Expect("ec_temperature_coefficient", optional=True),
)
def ec_at_25(ec: Floats, temperature: Floats, coefficient: Floats = None) -> Floats:
    """Return EC at 25 °C from EC read in a solution of another temperature.

    EC(25) = EC / (1 + a (T - 25))

    Parameters
    ----------
    ec : quantity
        EC as read without compensation [dS/m], scalar or array, 0 or more.
    temperature : quantity
        T, of the solution [degC], 0 to 100.
    coefficient : quantity, optional
        a, percent of EC at 25 °C for each degree, 0 to 3 %; 2 % if left out.

    Returns
    -------
    quantity
        EC at 25 °C [dS/m].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Warns
    -----
    ValidityWarning
        If a temperature is outside 5 to 35 °C.

    Notes
    -----
    Most meters do this themselves ("ATC"): what they show is EC at 25 °C
    already, and to do it again makes it wrong by 2 % for each degree. 2 % is
    within 1.5 % of true for feeds from 5 to 35 °C, computed with IPHREEQC 3.8.6
    (1.97 % at 5 °C to 2.14 % at 35 °C for Hoagland solution 1). Many meters use
    1.91 % (from memory).

    Examples
    --------
    >>> f"{ec_at_25('1.515 dS/m', '10 degC'):.2f~P}"
    '2.16 dS/m'
    """
    _warn_outside(temperature)
    return ec / _relative(temperature, coefficient)


@checked(
    "dS/m",
    ec="electrical_conductivity",
    temperature="water_temperature",
    coefficient=Expect("ec_temperature_coefficient", optional=True),
)
def ec_at(ec: Floats, temperature: Floats, coefficient: Floats = None) -> Floats:
    """Return EC at a temperature from EC at 25 °C; the inverse of `ec_at_25`.

    EC(T) = EC(25) (1 + a (T - 25))

    Parameters
    ----------
    ec : quantity
        EC at 25 °C [dS/m], scalar or array, 0 or more.
    temperature : quantity
        T, of the solution [degC], 0 to 100.
    coefficient : quantity, optional
        a, percent of EC at 25 °C for each degree, 0 to 3 %; 2 % if left out.

    Returns
    -------
    quantity
        EC that a meter without compensation shows at T [dS/m].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Warns
    -----
    ValidityWarning
        If a temperature is outside 5 to 35 °C.

    Notes
    -----
    See `ec_at_25`.

    Examples
    --------
    >>> f"{ec_at('2 dS/m', '15 degC'):.2f~P}"
    '1.60 dS/m'
    """
    _warn_outside(temperature)
    return ec * _relative(temperature, coefficient)


def _relative(temperature: Floats, coefficient: Floats) -> Floats:
    """Return EC relative to that at 25 °C."""
    share = (COEFFICIENT if coefficient is None else coefficient) / 100
    return 1 + share * (temperature - REFERENCE_TEMPERATURE)


def _warn_outside(temperature: Floats) -> None:
    low, high = VALID_TEMPERATURES
    if np.any(np.asarray(temperature) < low) or np.any(np.asarray(temperature) > high):
        warnings.warn(
            tr(
                "outside {low:g} to {high:g} °C the EC of a feed does not change by the same share "
                "for each degree",
                low=low,
                high=high,
            ),
            ValidityWarning,
            stacklevel=4,
        )
