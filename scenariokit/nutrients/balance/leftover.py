"""What is left in the tank at harvest: its nitrate, and where it may safely go."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.balance.removal import dilution_to_limit, nitrate_from_nitrogen
from scenariokit.nutrients.composition.chemistry import ATOMIC_MASSES, formula_mass
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

Guideline = Literal["WHO", "US EPA"]

DRINKING_WATER: Mapping[str, float] = MappingProxyType({
    "WHO": 50.0 * ATOMIC_MASSES["N"] / formula_mass("NO3"),
    "US EPA": 10.0,
})  # fmt: skip
"""Highest nitrate in drinking water, in mg/L as N.

World Health Organization guideline, 50 mg/L as NO3 (read in documents that quote
it); United States Environmental Protection Agency, maximum contaminant level,
10 mg/L as N (read in answers of the agency).
"""
CAUTION = mark(
    "Spent solution holds many times the nitrate that drinking water may hold: never to "
    "a drain, ditch or well, and never drink it. Spread it on crops in soil, over enough "
    "area, at the nitrogen that they need. Local rules apply."
)
AGRONOMIC_RATE = 150.0
"""kg/ha of nitrogen that a crop in soil can use in a season; common practice, no published source."""
_G_PER_M2 = 0.1
"""g/m² in 1 kg/ha."""


class NitrateLeft(NamedTuple):
    """The nitrate in a volume of spent solution."""

    nitrogen: Any
    nitrate: Any
    dilution: Any
    soil_area: Any
    caution: str = CAUTION


@checked("", concentration="concentration")
def dilution_to_drinking_water(concentration: Floats, guideline: Guideline = "WHO") -> Floats:
    """Return the total parts in which one part of solution would meet the nitrate of drinking water.

    The larger of C / limit and 1.

    Parameters
    ----------
    concentration : quantity
        C, nitrate in the solution, counted as N [mg/L], scalar or array.
    guideline : {'WHO', 'US EPA'}
        50 mg/L counted as NO3, or 10 mg/L counted as N.

    Returns
    -------
    quantity
        Fold, 1 or more: 21 means 1 L made up to 21 L.

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.
    ArgumentError
        If the guideline is not known.

    Warnings
    --------
    This shows how strong spent solution is; it is no way to dispose of it, and
    diluted solution is no drinking water: it holds more than nitrate. Never to
    a drain, ditch or well. Local rules apply.

    Examples
    --------
    >>> round(dilution_to_drinking_water("210.1 mg/L").m_as(""), 1)
    18.6
    >>> round(dilution_to_drinking_water("210.1 mg/L", "US EPA").m_as(""), 1)
    21.0
    """
    if guideline not in DRINKING_WATER:
        problem = Problem("guideline", str(guideline), tr("is not known"), ", ".join(DRINKING_WATER),
                          'guideline="WHO"')  # fmt: skip
        raise argument_error([problem], "dilution_to_drinking_water")
    return dilution_to_limit.floats(concentration, DRINKING_WATER[guideline])


@checked(
    "m^2",
    nitrogen="element_mass",
    rate=Expect(
        "nitrogen_rate", above_zero=True, why=mark("no area takes up nitrogen at that rate")
    ),
)
def soil_area_for(nitrogen: Floats, rate: Any = f"{AGRONOMIC_RATE:g} kg/ha") -> Floats:
    """Return the cropped soil that can use so much nitrogen, A = m / r.

    Parameters
    ----------
    nitrogen : quantity
        m, nitrogen in the solution [g], scalar or array, 0 or more.
    rate : quantity, optional
        r, nitrogen that the crop on it needs in a season, less what it is given
        otherwise [kg/ha], above 0; 150 kg/ha if not given.

    Returns
    -------
    quantity
        A, area of soil [m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the rate is zero.

    Warnings
    --------
    Only on growing crops in soil, in portions that the soil holds, away from
    wells and water, never on frozen or soaked ground, and never to a drain,
    ditch or well. Salt and sodium in it count too. Local rules apply.

    Examples
    --------
    >>> f"{soil_area_for('21 g').m_as('m^2'):.1f} m^2"
    '1.4 m^2'
    """
    return nitrogen / (rate * _G_PER_M2)


@checked(
    {"nitrogen": "g", "nitrate": "g", "dilution": "", "soil_area": "m^2"},
    concentration="concentration",
    volume="solution_volume",
)
def nitrate_left(concentration: Floats, volume: Floats) -> NitrateLeft:
    """Return the nitrate in spent solution, C V, and how it may be put to use.

    Parameters
    ----------
    concentration : quantity
        C, nitrate in the solution, counted as N [mg/L], scalar or array.
    volume : quantity
        V, solution left [L], 0 or more.

    Returns
    -------
    NitrateLeft
        ``nitrogen`` [g]; the same as ``nitrate``, counted as NO3 [g];
        ``dilution``, fold, 1 or more, in which it would meet the guideline for
        drinking water of the World Health Organization; ``soil_area`` [m²] that
        can use the nitrogen at 150 kg/ha; and a ``caution`` in words.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Warnings
    --------
    The dilution shows how strong spent solution is; it is no way to dispose of
    it. Never to a drain, ditch or well. Local rules apply.

    Examples
    --------
    >>> found = nitrate_left("210.1 mg/L", "100 L")
    >>> f"{found.nitrogen:.1f~P} N, {found.nitrate:.0f~P} NO3, {found.soil_area:.1f~P} of soil"
    '21.0 g N, 93 g NO3, 1.4 m² of soil'
    """
    nitrogen = concentration * volume / 1000
    return NitrateLeft(
        nitrogen,
        nitrate_from_nitrogen.floats(nitrogen),
        dilution_to_drinking_water.floats(concentration),
        soil_area_for.floats(nitrogen, AGRONOMIC_RATE),
        tr(CAUTION),
    )
