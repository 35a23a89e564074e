"""Strips and sheets as wicks: how high and how fast water rises, and what they deliver."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.substrate.rise import drag_of, front_at, nearness
from scenariokit.substrate.tubes import DENSITY, GRAVITY, VISCOSITY, or_usual
from scenariokit.units import Floats

CM_PER_DAY = 100 * 86400
"""cm/day in 1 m/s."""
FIRST_MOMENT = mark("nothing has risen yet")


class StripFit(NamedTuple):
    """What two readings of a hanging strip say of it."""

    maximum_rise: Any
    conductivity_per_porosity: Any


@checked(
    "cm/day",
    permeability="permeability",
    viscosity=Expect("dynamic_viscosity", optional=True),
    density=Expect("liquid_density", optional=True),
)
def conductivity_from_permeability(
    permeability: Floats, viscosity: Floats | None = None, density: Floats | None = None
) -> Floats:
    """Return the hydraulic conductivity of a permeable body, K = k rho g / mu.

    Parameters
    ----------
    permeability : quantity
        k [m²].
    viscosity : quantity, optional
        mu [mPa s]; water at 20 °C if not given.
    density : quantity, optional
        rho [kg/m³]; water at 20 °C if not given.

    Returns
    -------
    quantity
        K [cm/day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> round(conductivity_from_permeability("1e-12 m^2").m, 2)
    84.44
    """
    weight = or_usual(density, DENSITY) * GRAVITY
    return permeability * weight / (or_usual(viscosity, VISCOSITY) * 1e-3) * CM_PER_DAY


@checked(
    "m^2",
    conductivity="hydraulic_conductivity",
    viscosity=Expect("dynamic_viscosity", optional=True),
    density=Expect("liquid_density", optional=True),
)
def permeability_from_conductivity(
    conductivity: Floats, viscosity: Floats | None = None, density: Floats | None = None
) -> Floats:
    """Return the permeability that a hydraulic conductivity means, k = K mu / (rho g).

    Parameters
    ----------
    conductivity : quantity
        K [cm/day].
    viscosity : quantity, optional
        mu [mPa s]; water at 20 °C if not given.
    density : quantity, optional
        rho [kg/m³]; water at 20 °C if not given.

    Returns
    -------
    quantity
        k [m²].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{permeability_from_conductivity('62.8 cm/day').m:.2e}"
    '7.44e-13'
    """
    weight = or_usual(density, DENSITY) * GRAVITY
    return conductivity / CM_PER_DAY * or_usual(viscosity, VISCOSITY) * 1e-3 / weight


@checked(
    "cm",
    time="elapsed_time",
    conductivity="hydraulic_conductivity",
    porosity="wick_porosity",
    maximum_rise="maximum_rise",
)
def strip_rise(
    time: Floats, conductivity: Floats, porosity: Floats, maximum_rise: Floats
) -> Floats:
    """Return the height of the wet front of a hanging strip at a time.

    L in t = (phi / K) [-L - H ln(1 - L / H)].

    Parameters
    ----------
    time : quantity
        t since the dry strip touched the water [hour], 0 or more.
    conductivity : quantity
        K of the wet strip [cm/day].
    porosity : float
        phi, water taken up per volume of strip, above 0.
    maximum_rise : quantity
        H, height at which the strip stops getting wet [cm].

    Returns
    -------
    quantity
        Height above the water [cm], below H.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    Darcy flow behind a sharp front. Not for a strip that swells, or that loses
    much water to the air on the way.

    References
    ----------
    Fries and Dreyer 2008, J. Colloid and Interface Science 320:259 (the form,
    from memory).

    Examples
    --------
    >>> rope = ("62.79 cm/day", 0.6, "62.07 cm")
    >>> f"{strip_rise('100 minute', *rope).m_as('inch'):.1f} in"
    '10.0 in'
    """
    return front_at(time / 24 * conductivity / porosity, maximum_rise)


@checked(
    "hour",
    rise="wick_rise",
    conductivity="hydraulic_conductivity",
    porosity="wick_porosity",
    maximum_rise="maximum_rise",
)
def strip_rise_time(
    rise: Floats, conductivity: Floats, porosity: Floats, maximum_rise: Floats
) -> Floats:
    """Return the time in which a hanging strip gets wet to a height.

    t = (phi / K) [-L - H ln(1 - L / H)].

    Parameters
    ----------
    rise : quantity
        L [cm], below H.
    conductivity : quantity
        K of the wet strip [cm/day].
    porosity : float
        phi, water taken up per volume of strip, above 0.
    maximum_rise : quantity
        H, height at which the strip stops getting wet [cm].

    Returns
    -------
    quantity
        Time [hour].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the strip never gets wet to that height.

    Examples
    --------
    >>> f"{strip_rise_time('22 inch', '62.79 cm/day', 0.6, '62.07 cm').m_as('hour'):.0f} h"
    '20 h'
    """
    if np.any(rise >= maximum_rise):
        raise InfeasibleError(
            tr(
                "strip_rise_time: rise ({rise:g} cm) must be below maximum_rise ({maximum_rise:g} cm); the "
                "front never gets there",
                rise=np.max(rise),
                maximum_rise=np.min(maximum_rise),
            )
        )
    drag = drag_of(-np.log1p(-rise / maximum_rise))
    return drag * maximum_rise * porosity / conductivity * 24


@checked(
    {"maximum_rise": "cm", "conductivity_per_porosity": "cm/day"},
    first_time=Expect("elapsed_time", above_zero=True, why=FIRST_MOMENT),
    first_rise=Expect("wick_rise", above_zero=True, why=FIRST_MOMENT),
    second_time=Expect("elapsed_time", above_zero=True, why=FIRST_MOMENT),
    second_rise=Expect("wick_rise", above_zero=True, why=FIRST_MOMENT),
)
def fit_strip(
    first_time: Floats, first_rise: Floats, second_time: Floats, second_rise: Floats
) -> StripFit:
    """Return highest rise and conductivity per porosity from two readings of a hanging strip.

    H and K / phi for which both readings lie on t = (phi / K) [-L - H ln(1 - L / H)].

    Parameters
    ----------
    first_time, second_time : quantity
        t since the dry strip touched the water [hour], the second later.
    first_rise, second_rise : quantity
        L, height of the wet front at those times [cm].

    Returns
    -------
    StripFit
        ``maximum_rise`` [cm] and ``conductivity_per_porosity`` [cm/day];
        multiply the latter with phi, found by weighing the strip wet and dry.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the readings are out of order, or the front rose as the square root
        of time or faster, so that no highest rise shows: wait longer.

    Notes
    -----
    Two readings give two numbers and no measure of error: take a third to see
    whether they hold. Hang the strip in still, damp air.

    Examples
    --------
    >>> rope = fit_strip("100 minute", "10 inch", "20 hour", "22 inch")
    >>> f"{rope.maximum_rise:.1f~P}, {rope.conductivity_per_porosity.m_as('cm/day'):.1f} cm/day"
    '62.1 cm, 104.7 cm/day'
    """
    ratio = second_time / first_time
    if np.any((ratio <= 1) | (second_rise <= first_rise)):
        raise InfeasibleError(tr("fit_strip: the second reading must be later and higher"))
    if np.any(ratio <= (second_rise / first_rise) ** 2 * (1 + 1e-9)):
        raise InfeasibleError(
            tr(
                "fit_strip: the front rose as the square root of time or faster, so the highest rise "
                "cannot be seen; take the second reading later"
            )
        )
    v = nearness(first_rise / second_rise, ratio)
    highest = second_rise / -np.expm1(-v)
    return StripFit(highest, drag_of(v) * highest / (second_time / 24))


@checked(
    "mL/hour",
    conductivity="hydraulic_conductivity",
    cross_section="wick_cross_section",
    maximum_rise="maximum_rise",
    height="wick_rise",
    path=Expect("wick_path", above_zero=True, why=mark("a wick has a length")),
    suction=Expect("suction", optional=True),
)
def strip_delivery(
    conductivity: Floats,
    cross_section: Floats,
    maximum_rise: Floats,
    height: Floats,
    path: Floats,
    suction: Floats | None = None,
) -> Floats:
    """Return the steady delivery of a wick, Q = K A (s - h) / Lw, s = min(H, suction).

    Parameters
    ----------
    conductivity : quantity
        K of the wet wick [cm/day].
    cross_section : quantity
        A, width times thickness [cm²].
    maximum_rise : quantity
        H, the greatest suction that the wet wick bears [cm].
    height : quantity
        h of the upper end over the water [cm].
    path : quantity
        Lw, wet length between water and upper end [cm], at least h.
    suction : quantity, optional
        Suction at the upper end [cm]; H, the utmost, if not given.

    Returns
    -------
    quantity
        Delivery [mL/hour]; 0 where the wick does not reach the height, less
        than 0 where the medium is wetter than the height, so that it drains.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the path is shorter than the height.

    Notes
    -----
    Needs good contact at both ends. A wick open to the air loses part of this:
    see `wick_evaporation`.

    Examples
    --------
    >>> round(strip_delivery("84.44 cm/day", "1 cm^2", "30 cm", "10 cm", "10 cm").m, 2)
    7.04
    """
    if np.any(path < height * (1 - 1e-12)):
        raise InfeasibleError(
            tr(
                "strip_delivery: path ({path:g} cm) is shorter than the height ({height:g} cm)",
                path=np.min(path),
                height=np.max(height),
            )
        )
    drawn = maximum_rise if suction is None else np.minimum(maximum_rise, suction)
    flow = conductivity / 24 * cross_section * (drawn - height) / path
    return np.where(height < maximum_rise, flow, 0.0)[()]


@checked("mL/day", exposed_area="exposed_area", evaporation="reference_evapotranspiration")
def wick_evaporation(exposed_area: Floats, evaporation: Floats) -> Floats:
    """Return what the bare part of a wick loses to the air, A E.

    Parameters
    ----------
    exposed_area : quantity
        A, both faces of the part in the open [cm²].
    evaporation : quantity
        E [mm/day]; reference evapotranspiration for the order of magnitude.

    Returns
    -------
    quantity
        Loss [mL/day].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    A sleeve around the wick saves it. Salt stays behind where water evaporates.

    Examples
    --------
    >>> f"{wick_evaporation('200 cm^2', '5 mm/day').m:.0f} mL a day"
    '100 mL a day'
    """
    return exposed_area * evaporation / 10
