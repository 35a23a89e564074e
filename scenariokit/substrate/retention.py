"""How much water and air a growing medium holds at a height above the water.

At rest the suction at a height equals that height above the free water, so a
curve of water content over suction is also a picture of the standing medium.
"""

from __future__ import annotations

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.substrate.curve import check_curve, effective_saturation, mean_saturation
from scenariokit.units import Floats

GRAVITY = 9.80665
"""m/s², standard gravity."""
WATER = 1000.0
"""kg/m³, water as laboratories round it."""


@checked("cm", pressure="suction_pressure", density=Expect("liquid_density", optional=True))
def suction_from_pressure(pressure: Floats, density: Floats | None = None) -> Floats:
    """Return a suction given as pressure as a height of water, p / (rho g).

    Parameters
    ----------
    pressure : quantity
        p, suction [kPa], 0 or more: write 1 kPa for -1 kPa.
    density : quantity, optional
        rho [kg/m³]; 1000 if not given.

    Returns
    -------
    quantity
        Suction [cm].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{suction_from_pressure('1 kPa'):.3f~P}"
    '10.197 cm'
    """
    mass = WATER if density is None else density
    return pressure * 1e5 / (mass * GRAVITY)


@checked(
    "",
    suction="suction",
    theta_residual="theta_residual",
    theta_saturated="theta_saturated",
    vg_alpha="vg_alpha",
    vg_n="vg_n",
)
def water_content(
    suction: Floats,
    theta_residual: Floats,
    theta_saturated: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
) -> Floats:
    """Return the water content at a suction, theta_r + (theta_s - theta_r) [1 + (alpha h)^n]^-m.

    m = 1 - 1/n.

    Parameters
    ----------
    suction : quantity
        h [cm], 0 or more; at rest the height above the free water.
    theta_residual, theta_saturated : float
        theta_r and theta_s, 0 to 1.
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.

    Returns
    -------
    quantity
        Volume of water per volume of medium, 0 to 1.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If theta_residual is not below theta_saturated.

    Notes
    -----
    Valid for a draining medium that shrinks little. A medium being wetted holds
    less at the same suction; peat markedly so.

    References
    ----------
    van Genuchten 1980, Soil Science Society of America J. 44:892.

    Examples
    --------
    >>> round(water_content("10 cm", 0.045, 0.43, "0.145 1/cm", 2.68).m, 5)
    0.21434
    """
    check_curve("water_content", theta_residual, theta_saturated)
    held = effective_saturation(suction, vg_alpha, vg_n)
    return theta_residual + (theta_saturated - theta_residual) * held


@checked(
    "",
    suction="suction",
    theta_residual="theta_residual",
    theta_saturated="theta_saturated",
    vg_alpha="vg_alpha",
    vg_n="vg_n",
)
def air_filled_porosity_at_suction(
    suction: Floats,
    theta_residual: Floats,
    theta_saturated: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
) -> Floats:
    """Return the air-filled porosity at one suction, theta_s - theta(h).

    With 10 cm it is the number that laboratories print (EN 13041, -1 kPa). It
    is not the mean of a pot: see `mean_air_filled_porosity`.

    Parameters
    ----------
    suction : quantity
        h [cm], 0 or more.
    theta_residual, theta_saturated : float
        theta_r and theta_s, 0 to 1.
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.

    Returns
    -------
    quantity
        Volume of air per volume of medium, 0 to 1.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If theta_residual is not below theta_saturated.

    Examples
    --------
    >>> round(air_filled_porosity_at_suction("10 cm", 0.045, 0.43, "0.145 1/cm", 2.68).m, 4)
    0.2157
    """
    check_curve("air_filled_porosity_at_suction", theta_residual, theta_saturated)
    held = effective_saturation(suction, vg_alpha, vg_n)
    return (theta_saturated - theta_residual) * (1 - held)


_SLICE: dict[str, str | Expect] = {
    "bottom": "height_above_water",
    "top": "height_above_water",
    "theta_residual": "theta_residual",
    "theta_saturated": "theta_saturated",
    "vg_alpha": "vg_alpha",
    "vg_n": "vg_n",
}


@checked("", **_SLICE)
def mean_water_content(
    bottom: Floats,
    top: Floats,
    theta_residual: Floats,
    theta_saturated: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
) -> Floats:
    """Return the mean water content of a slice, the mean of theta(z) from bottom to top.

    Parameters
    ----------
    bottom, top : quantity
        z of the slice's ends above the free water [cm]; what lies below 0 is full.
    theta_residual, theta_saturated : float
        theta_r and theta_s, 0 to 1.
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.

    Returns
    -------
    quantity
        Volume of water per volume of medium, 0 to 1.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the top is not above the bottom, or theta_residual not below
        theta_saturated.

    Notes
    -----
    Assumes rest: no flow, and the slice joined to the water by wet pores. By
    Gauss-Legendre quadrature, 32 points below the bend of the curve and 32
    above; within 1e-8 of the closed form with a hypergeometric function.

    References
    ----------
    van Genuchten 1980, Soil Science Society of America J. 44:892 (the curve).

    Examples
    --------
    >>> round(mean_water_content("5 cm", "25 cm", 0.045, 0.43, "0.145 1/cm", 2.68).m, 4)
    0.168
    """
    _check_slice("mean_water_content", bottom, top)
    check_curve("mean_water_content", theta_residual, theta_saturated)
    held = mean_saturation(bottom, top, vg_alpha, vg_n)
    return theta_residual + (theta_saturated - theta_residual) * held


@checked("", **_SLICE)
def mean_air_filled_porosity(
    bottom: Floats,
    top: Floats,
    theta_residual: Floats,
    theta_saturated: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
) -> Floats:
    """Return the mean air-filled porosity of a slice, theta_s minus its mean water content.

    It is what the roots in a standing medium get on the whole, and less than
    the laboratory's number at 10 cm suction for a shallow medium.

    Parameters
    ----------
    bottom, top : quantity
        z of the slice's ends above the free water [cm]; what lies below 0 is full.
    theta_residual, theta_saturated : float
        theta_r and theta_s, 0 to 1.
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.

    Returns
    -------
    quantity
        Volume of air per volume of medium, 0 to 1.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the top is not above the bottom, or theta_residual not below
        theta_saturated.

    Examples
    --------
    >>> round(mean_air_filled_porosity("0 cm", "10 cm", 0.045, 0.43, "0.145 1/cm", 2.68).m, 4)
    0.0871
    """
    _check_slice("mean_air_filled_porosity", bottom, top)
    check_curve("mean_air_filled_porosity", theta_residual, theta_saturated)
    held = mean_saturation(bottom, top, vg_alpha, vg_n)
    return (theta_saturated - theta_residual) * (1 - held)


@checked(
    "",
    height=Expect(
        "distance_to_water", above_zero=True, why=mark("a pot without height holds nothing")
    ),
    theta_residual="theta_residual",
    theta_saturated="theta_saturated",
    vg_alpha="vg_alpha",
    vg_n="vg_n",
)
def container_capacity(
    height: Floats,
    theta_residual: Floats,
    theta_saturated: Floats,
    vg_alpha: Floats,
    vg_n: Floats,
) -> Floats:
    """Return the mean water content of a pot that has just drained, from 0 to its height.

    Parameters
    ----------
    height : quantity
        H, depth of the medium [cm], above 0.
    theta_residual, theta_saturated : float
        theta_r and theta_s, 0 to 1.
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.

    Returns
    -------
    quantity
        Volume of water per volume of medium, 0 to 1.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If theta_residual is not below theta_saturated.

    Notes
    -----
    A pot drains only until its base is just full: the water table perches there.

    References
    ----------
    Milks, Fonteno and Larson 1989, J. American Society for Horticultural
    Science 114:53 (the principle).

    Examples
    --------
    >>> round(container_capacity("20 cm", 0.045, 0.43, "0.145 1/cm", 2.68).m, 4)
    0.2455
    """
    check_curve("container_capacity", theta_residual, theta_saturated)
    held = mean_saturation(0.0, height, vg_alpha, vg_n)
    return theta_residual + (theta_saturated - theta_residual) * held


def _check_slice(subject: str, bottom: Floats, top: Floats) -> None:
    if np.any(top <= bottom):
        raise InfeasibleError(
            tr(
                "{subject}: top ({top:g} cm) must lie above bottom ({bottom:g} cm)",
                subject=subject,
                top=np.min(top),
                bottom=np.max(bottom),
            )
        )
