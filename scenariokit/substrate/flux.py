"""How much water can rise through a medium: the limit of steady upward flow.

Steady flow q reaches the height z(h) = integral from 0 to h of dh / (1 + q / K(h));
the limit at distance d is the q for which z comes to d only at the driest
suction that is allowed at the top.
"""

from __future__ import annotations

import warnings

import numpy as np

from scenariokit.errors import InfeasibleError, ValidityWarning
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.substrate.mualem import (
    DRIEST,
    check_connectivity,
    conductivity_at,
    flux_limit,
    height_reached,
)
from scenariokit.units import Floats

COARSE_N = 1.5
"""Below this n the Mualem model gives the order of magnitude only."""
AT_WATER = mark("at the water itself the flow has no limit")
_DISTANCE = Expect("distance_to_water", above_zero=True, why=AT_WATER)


@checked(
    "mm/day",
    distance=_DISTANCE,
    conductivity="hydraulic_conductivity",
    gardner_alpha="gardner_alpha",
    surface_suction=Expect("suction", optional=True),
)
def gardner_upward_limit(
    distance: Floats,
    conductivity: Floats,
    gardner_alpha: Floats,
    surface_suction: Floats | None = None,
) -> Floats:
    """Return the upward flow limit for K = Ks exp(-a h), Ks / (exp(a d) - 1).

    With a surface suction h0, Ks [1 - exp(-a (h0 - d))] / (exp(a d) - 1).

    Parameters
    ----------
    distance : quantity
        d, from the free water to where it is used [cm], above 0.
    conductivity : quantity
        Ks of the full medium [cm/day].
    gardner_alpha : quantity
        a [1/cm].
    surface_suction : quantity, optional
        h0 [cm], more than d; without limit if not given.

    Returns
    -------
    quantity
        Greatest steady flow [mm/day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the surface suction is not more than the distance: water then
        runs down or rests.

    References
    ----------
    Gardner 1958, Soil Science 85:228.

    Examples
    --------
    >>> f"{gardner_upward_limit('30 cm', '100 cm/day', '0.1 1/cm').m_as('cm/day'):.5f}"
    '5.23957'
    """
    limit = 10 * conductivity * np.exp(-gardner_alpha * distance)
    limit = limit / -np.expm1(-gardner_alpha * distance)
    if surface_suction is None:
        return limit
    _check_upward("gardner_upward_limit", distance, surface_suction)
    return limit * -np.expm1(-gardner_alpha * (surface_suction - distance))


@checked("", exponent="flux_exponent")
def power_constant(exponent: Floats) -> Floats:
    """Return the constant of the power form, A = [pi / (n sin(pi / n))]^n.

    Parameters
    ----------
    exponent : float
        n, above 1.

    Returns
    -------
    quantity
        A, without dimension.

    Raises
    ------
    UnitError, RangeError
        If the value has a dimension or lies outside its range.

    References
    ----------
    Gardner 1958, Soil Science 85:228.

    Examples
    --------
    >>> round(power_constant(3).m, 4)
    1.768
    """
    return (np.pi / (exponent * np.sin(np.pi / exponent))) ** exponent


@checked(
    "mm/day",
    distance=_DISTANCE,
    conductivity="hydraulic_conductivity",
    suction=Expect(
        "suction", above_zero=True, why=mark("the power form has no end at zero suction")
    ),
    exponent="flux_exponent",
)
def power_upward_limit(
    distance: Floats, conductivity: Floats, suction: Floats, exponent: Floats
) -> Floats:
    """Return the upward flow limit for K = K1 (h1 / h)^n, A K1 (h1 / d)^n.

    Parameters
    ----------
    distance : quantity
        d, from the free water to where it is used [cm], above 0.
    conductivity, suction : quantity
        K1 [cm/day], measured at the suction h1 [cm].
    exponent : float
        n, above 1.

    Returns
    -------
    quantity
        Greatest steady flow [mm/day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    The form grows without end towards the water: for distances well beyond the
    suction at which the medium begins to drain.

    References
    ----------
    Gardner 1958, Soil Science 85:228.

    Examples
    --------
    >>> f"{power_upward_limit('50 cm', '1 cm/day', '50 cm', 2).m_as('cm/day'):.4f}"
    '2.4674'
    """
    return 10 * power_constant.floats(exponent) * conductivity * (suction / distance) ** exponent


@checked(
    "cm/day",
    suction="suction",
    conductivity="hydraulic_conductivity",
    vg_alpha="vg_alpha",
    vg_n="vg_n",
    connectivity="pore_connectivity",
)
def mualem_conductivity(
    suction: Floats,
    conductivity: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
    connectivity: Floats = 0.5,
) -> Floats:
    """Return the conductivity at a suction, Ks Se^l [1 - (1 - Se^(1/m))^m]^2.

    Se = [1 + (alpha h)^n]^-m, m = 1 - 1/n.

    Parameters
    ----------
    suction : quantity
        h [cm], 0 or more.
    conductivity : quantity
        Ks of the full medium [cm/day].
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.
    connectivity : float
        l, 0.5 unless fitted; above -2/m.

    Returns
    -------
    quantity
        Conductivity [cm/day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the connectivity lets the conductivity rise as the medium dries.

    Warns
    -----
    ValidityWarning
        If n is below 1.5: then the order of magnitude only.

    References
    ----------
    van Genuchten 1980, Soil Science Society of America J. 44:892; Mualem 1976,
    Water Resources Research 12:513 (both from memory).

    Examples
    --------
    >>> round(mualem_conductivity("10 cm", "712.8 cm/day", "0.145 1/cm", 2.68).m, 1)
    15.1
    """
    _check_model("mualem_conductivity", vg_n, connectivity)
    return conductivity_at(suction, conductivity, vg_alpha, vg_n, connectivity)


@checked(
    "mm/day",
    distance=_DISTANCE,
    conductivity="hydraulic_conductivity",
    vg_alpha="vg_alpha",
    vg_n="vg_n",
    connectivity="pore_connectivity",
    surface_suction=Expect("suction", optional=True),
)
def upward_limit(
    distance: Floats,
    conductivity: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
    connectivity: Floats = 0.5,
    surface_suction: Floats | None = None,
) -> Floats:
    """Return the upward flow limit of a van Genuchten-Mualem medium, solved numerically.

    The q for which the integral from 0 to h0 of dh / (1 + q / K(h)) is d.

    Parameters
    ----------
    distance : quantity
        d, from the free water to where it is used [cm], above 0.
    conductivity : quantity
        Ks of the full medium [cm/day].
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.
    connectivity : float
        l, 0.5 unless fitted.
    surface_suction : quantity, optional
        h0 [cm], more than d; 15000 cm if not given.

    Returns
    -------
    quantity
        Greatest steady flow [mm/day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the surface suction is not more than the distance, or the connectivity
        lets the conductivity rise as the medium dries.

    Warns
    -----
    ValidityWarning
        If n is below 1.5: then the order of magnitude only.

    Notes
    -----
    Not for a medium with cracks or an air gap between it and the water. Roots
    that reach the water need no such flow.

    References
    ----------
    Gardner 1958, Soil Science 85:228 (the integral).

    Examples
    --------
    >>> round(upward_limit("15 cm", "712.8 cm/day", "0.145 1/cm", 2.68).m_as("mm/day"), 1)
    22.3
    """
    _check_model("upward_limit", vg_n, connectivity)
    driest = DRIEST if surface_suction is None else surface_suction
    _check_upward("upward_limit", distance, driest)
    return 10 * flux_limit(distance, driest, (conductivity, vg_alpha, vg_n, connectivity))


@checked(
    "cm",
    rate=Expect("water_use", above_zero=True, why=mark("at rest water stands at any height")),
    conductivity="hydraulic_conductivity",
    vg_alpha="vg_alpha",
    vg_n="vg_n",
    connectivity="pore_connectivity",
    surface_suction=Expect("suction", optional=True),
)
def height_supplied(
    rate: Floats,
    conductivity: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
    connectivity: Floats = 0.5,
    surface_suction: Floats | None = None,
) -> Floats:
    """Return the greatest height to which a rate can rise, the integral of dh / (1 + q / K(h)).

    Parameters
    ----------
    rate : quantity
        q, water use [mm/day], above 0.
    conductivity : quantity
        Ks of the full medium [cm/day].
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.
    connectivity : float
        l, 0.5 unless fitted.
    surface_suction : quantity, optional
        h0 [cm]; 15000 cm if not given.

    Returns
    -------
    quantity
        Height above the free water [cm].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the connectivity lets the conductivity rise as the medium dries.

    Warns
    -----
    ValidityWarning
        If n is below 1.5: then the order of magnitude only.

    References
    ----------
    Gardner 1958, Soil Science 85:228 (the integral).

    Examples
    --------
    >>> round(height_supplied("5 mm/day", "712.8 cm/day", "0.145 1/cm", 2.68).m, 1)
    19.5
    """
    _check_model("height_supplied", vg_n, connectivity)
    driest = DRIEST if surface_suction is None else surface_suction
    medium = (conductivity, vg_alpha, vg_n, connectivity)
    return height_reached(rate / 10, 0.0, driest, medium)


def _check_upward(subject: str, distance: Floats, surface_suction: Floats) -> None:
    if np.any(surface_suction <= distance):
        text = tr(
            "{subject}: surface_suction ({surface_suction:g} cm) must be more than the distance "
            "({distance:g} cm); else water runs down or rests",
            subject=subject,
            surface_suction=np.min(surface_suction),
            distance=np.max(distance),
        )
        raise InfeasibleError(text)


def _check_model(subject: str, vg_n: Floats, connectivity: Floats) -> None:
    """Refuse a conductivity that rises with drying; warn where the model is rough."""
    check_connectivity(subject, vg_n, connectivity)
    if np.any(vg_n < COARSE_N):
        warnings.warn(
            tr(
                "{subject}: n ({vg_n:g}) is below {coarse_n:g}, where the model's conductivity "
                "collapses just below saturation; take the order of magnitude only",
                subject=subject,
                vg_n=np.min(vg_n),
                coarse_n=COARSE_N,
            ),
            ValidityWarning,
            stacklevel=4,
        )
