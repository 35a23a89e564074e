"""Water in a round tube: Jurin's height and the rise after Lucas and Washburn.

One radius seldom serves a real wick: its final height and its speed ask for
different ones. For wicks use the two numbers of `fit_strip`.
"""

from __future__ import annotations

import numpy as np

from scenariokit.quantities import Expect, checked
from scenariokit.substrate.rise import front_at
from scenariokit.units import Floats

GRAVITY = 9.80665
"""m/s², standard gravity."""
TENSION = 0.07275
VISCOSITY = 1.0016
DENSITY = 998.207
"""Of water at 20 °C, in N/m, mPa s and kg/m³ (from memory)."""


def or_usual(value: Floats | None, usual: float) -> Floats:
    """Return `value`, or the usual one where none was given."""
    return usual if value is None else value


@checked(
    "cm",
    radius="pore_radius",
    contact_angle=Expect("contact_angle", optional=True),
    surface_tension=Expect("surface_tension", optional=True),
    density=Expect("liquid_density", optional=True),
)
def jurin_height(
    radius: Floats,
    contact_angle: Floats | None = None,
    surface_tension: Floats | None = None,
    density: Floats | None = None,
) -> Floats:
    """Return the height at which water stands in a tube, 2 gamma cos(theta) / (rho g r).

    Parameters
    ----------
    radius : quantity
        r, inner radius [mm].
    contact_angle : quantity, optional
        theta [deg], 0 to 89.9; 0 if not given.
    surface_tension : quantity, optional
        gamma [N/m]; water at 20 °C if not given.
    density : quantity, optional
        rho [kg/m³]; water at 20 °C if not given.

    Returns
    -------
    quantity
        Height [cm].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    For tubes much narrower than 2.7 mm, the capillary length of water.

    Examples
    --------
    >>> round(jurin_height("0.1 mm").m_as("cm"), 2)
    14.86
    """
    weight = or_usual(density, DENSITY) * GRAVITY
    return 2 * _pull(contact_angle, surface_tension) / (weight * radius) * 1e5


@checked(
    "cm",
    time="elapsed_time",
    radius="pore_radius",
    contact_angle=Expect("contact_angle", optional=True),
    surface_tension=Expect("surface_tension", optional=True),
    viscosity=Expect("dynamic_viscosity", optional=True),
)
def washburn_horizontal(
    time: Floats,
    radius: Floats,
    contact_angle: Floats | None = None,
    surface_tension: Floats | None = None,
    viscosity: Floats | None = None,
) -> Floats:
    """Return how far water runs into a lying tube, sqrt(gamma r cos(theta) t / (2 mu)).

    Parameters
    ----------
    time : quantity
        t [hour], 0 or more.
    radius : quantity
        r, inner radius [mm].
    contact_angle : quantity, optional
        theta [deg]; 0 if not given.
    surface_tension : quantity, optional
        gamma [N/m]; water at 20 °C if not given.
    viscosity : quantity, optional
        mu [mPa s]; water at 20 °C if not given.

    Returns
    -------
    quantity
        Length [cm].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    Leaves out inertia: not for the first second in a tube of 0.1 mm. Not for
    paper that swells, nor where much evaporates.

    References
    ----------
    Washburn 1921, Physical Review 17:273 (from memory).

    Examples
    --------
    >>> round(washburn_horizontal("60 s", "0.01 mm").m, 4)
    14.7615
    """
    drag = 2 * or_usual(viscosity, VISCOSITY) * 1e-3
    pull = _pull(contact_angle, surface_tension)
    return 100 * np.sqrt(pull * (radius * 1e-3) * (time * 3600) / drag)


@checked(
    "cm",
    time="elapsed_time",
    radius="pore_radius",
    contact_angle=Expect("contact_angle", optional=True),
    surface_tension=Expect("surface_tension", optional=True),
    viscosity=Expect("dynamic_viscosity", optional=True),
    density=Expect("liquid_density", optional=True),
)
def washburn_vertical(
    time: Floats,
    radius: Floats,
    contact_angle: Floats | None = None,
    surface_tension: Floats | None = None,
    viscosity: Floats | None = None,
    density: Floats | None = None,
) -> Floats:
    """Return how high water has risen in a standing tube.

    L in t = (8 mu / (rho g r^2)) [-L - H ln(1 - L / H)], H by `jurin_height`.

    Parameters
    ----------
    time : quantity
        t [hour], 0 or more.
    radius : quantity
        r, inner radius [mm].
    contact_angle : quantity, optional
        theta [deg]; 0 if not given.
    surface_tension : quantity, optional
        gamma [N/m]; water at 20 °C if not given.
    viscosity : quantity, optional
        mu [mPa s]; water at 20 °C if not given.
    density : quantity, optional
        rho [kg/m³]; water at 20 °C if not given.

    Returns
    -------
    quantity
        Height [cm], below Jurin's.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    As for `washburn_horizontal`.

    References
    ----------
    Fries and Dreyer 2008, J. Colloid and Interface Science 320:259 (from memory).

    Examples
    --------
    >>> round(washburn_vertical("60 s", "0.01 mm").m, 4)
    14.2769
    """
    highest = jurin_height.floats(radius, contact_angle, surface_tension, density)
    weight = or_usual(density, DENSITY) * GRAVITY
    speed = weight * (radius * 1e-3) ** 2 / (8 * or_usual(viscosity, VISCOSITY) * 1e-3)
    return front_at(time * 3600 * speed * 100, highest)


def _pull(contact_angle: Floats | None, surface_tension: Floats | None) -> Floats:
    """Return gamma cos(theta)."""
    return or_usual(surface_tension, TENSION) * np.cos(np.radians(or_usual(contact_angle, 0.0)))
