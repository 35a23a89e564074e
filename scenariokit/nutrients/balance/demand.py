"""What a crop asks of its solution: uptake for each litre, and what a solution must hold."""

from __future__ import annotations

from scenariokit.language import mark
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

_MG_PER_G = 1000
_NOTHING_DRUNK = mark("nothing is taken up where nothing is transpired")


@checked(
    "mg/L",
    uptake_per_area="nutrient_uptake",
    transpiration=Expect("season_water", above_zero=True, why=_NOTHING_DRUNK),
)
def uptake_concentration(uptake_per_area: Floats, transpiration: Floats) -> Floats:
    """Return what plants take up with each litre that they transpire, Cu = M / E.

    Parameters
    ----------
    uptake_per_area : quantity
        M, element taken up by whole plants over a season [g/m²], scalar or
        array, 0 or more; for a crop see `taken_up`.
    transpiration : quantity
        E, water transpired in that season [L/m²], above 0.

    Returns
    -------
    quantity
        Cu, mean concentration of the uptake [mg/L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or nothing is transpired.

    Notes
    -----
    A mean of the season: young plants take up more for each litre than old
    ones, and every plant more in humid, dark weather than in dry sun.

    Examples
    --------
    >>> f"{uptake_concentration('30 g/m^2', '400 L/m^2').m_as('mg/L'):.1f} mg/L"
    '75.0 mg/L'
    """
    return _MG_PER_G * uptake_per_area / transpiration


@checked("mg/L", water_use_efficiency="water_use_efficiency", tissue_fraction="tissue_fraction")
def uptake_from_efficiency(water_use_efficiency: Floats, tissue_fraction: Floats) -> Floats:
    """Return what plants take up with each litre from what they make of it, Cu = WUE f.

    Parameters
    ----------
    water_use_efficiency : quantity
        WUE, dry matter made with each litre transpired [g/L], scalar or array.
    tissue_fraction : quantity
        f, element in that dry matter, as a share.

    Returns
    -------
    quantity
        Cu, concentration of the uptake [mg/L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    For plants with as much of the element as they want. A top-up of this
    strength keeps a tank that loses water only through its plants as it is.

    References
    ----------
    Langenfeld, Pinto, Faust, Heins and Bugbee 2022, Principles of nutrient and
    water management for indoor agriculture, Sustainability 14:10204.

    Examples
    --------
    >>> f"{uptake_from_efficiency('3 g/L', '4 %').m_as('mg/L'):.0f} mg/L"
    '120 mg/L'
    """
    return _MG_PER_G * water_use_efficiency * tissue_fraction


@checked(
    "mg/L",
    uptake="concentration",
    transpiration=Expect("season_water", above_zero=True, why=_NOTHING_DRUNK),
    evaporation="season_water",
)
def top_up_concentration(uptake: Floats, transpiration: Floats, evaporation: Floats) -> Floats:
    """Return the concentration of top-up that holds an element as it is, Cu E / (E + Ev).

    Weaker than the uptake, because what evaporates leaves its salts behind.

    Parameters
    ----------
    uptake : quantity
        Cu, concentration of the uptake [mg/L], scalar or array, 0 or more.
    transpiration : quantity
        E, water transpired in a season [L/m²], above 0.
    evaporation : quantity
        Ev, water that evaporates from the tank in it [L/m²].

    Returns
    -------
    quantity
        Concentration of the top-up [mg/L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or nothing is transpired.

    Notes
    -----
    For a tank whose level is held and that no rain reaches; for water used in a
    day see `scenariokit.reservoir.top_up_to_hold`.

    Examples
    --------
    >>> found = top_up_concentration("120 mg/L", "500 L/m^2", "50 L/m^2")
    >>> f"{found.m_as('mg/L'):.1f} mg/L"
    '109.1 mg/L'
    """
    return uptake * transpiration / (transpiration + evaporation)


@checked(
    "L/kg",
    content="nutrient_removal",
    concentration=Expect(
        "concentration", above_zero=True, why=mark("no volume of a solution without it holds any")
    ),
)
def solution_holding(content: Floats, concentration: Floats) -> Floats:
    """Return the solution that holds as much of an element as a kilogram of produce.

    V = m / C.

    Parameters
    ----------
    content : quantity
        m, element in produce, or taken up for it by whole plants [g/kg], scalar
        or array, 0 or more.
    concentration : quantity
        C, element in the solution [mg/L], above 0.

    Returns
    -------
    quantity
        V, litres of solution for each kilogram [L/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the solution holds none.

    Notes
    -----
    The element for which most litres are needed runs out first. If plants drink
    fewer litres for a kilogram than this, the solution is too weak in it.

    Examples
    --------
    >>> f"{solution_holding('3.2 g/kg', '105 mg/L').m_as('L/kg'):.1f} L/kg"
    '30.5 L/kg'
    """
    return _MG_PER_G * content / concentration
