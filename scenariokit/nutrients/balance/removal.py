"""What produce carries away, what a kilogram of it is given, and what is left to dilute."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.chemistry import element_from_oxide, oxide_from_element
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

_MG_PER_G = 1000


def removed(crop: Any, yield_per_area: QuantityLike) -> dict[str, Quantity]:
    """Return the elements that leave with the harvest, content x Y.

    Parameters
    ----------
    crop : mapping or object
        Element to its content in fresh produce, such as ``{"N": "3.2 g/kg"}``;
        or an object whose attribute ``removal`` is such a mapping, there also of
        plain numbers in g/kg.
    yield_per_area : quantity
        Y, harvest [kg/m²], scalar or array, 0 or more.

    Returns
    -------
    dict of str to quantity
        Element to mass per tank area [g/m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If `crop` is neither a mapping nor has one, or it is empty.

    Notes
    -----
    The harvested part only; for leaves and roots besides see `taken_up`.

    Examples
    --------
    >>> found = removed({"N": "3.2 g/kg", "K": "4.8 g/kg"}, "5 kg/m^2")
    >>> f"{found['N']:.1f~P}"
    '16.0 g/m²'
    """
    return _content_times_yield(crop, yield_per_area, ("removal", "removed"))


def taken_up(crop: Any, yield_per_area: QuantityLike) -> dict[str, Quantity]:
    """Return the elements that whole plants take up for a harvest, uptake x Y.

    Parameters
    ----------
    crop : mapping or object
        Element to its uptake by the whole plant for each kilogram of fresh
        produce, such as ``{"N": "4.6 g/kg"}``; or an object whose attribute
        ``uptake`` is such a mapping, there also of plain numbers in g/kg, as a
        crop of the catalogue.
    yield_per_area : quantity
        Y, harvest [kg/m²], scalar or array, 0 or more.

    Returns
    -------
    dict of str to quantity
        Element to mass per tank area [g/m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If `crop` is neither a mapping nor has one, or it is empty.

    Notes
    -----
    Plants with much of an element at hand take up more of it than the harvest
    needs; the catalogue's numbers are for usual feeding, most from memory.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> found = taken_up(catalog.crops()["potato"], "5 kg/m^2")
    >>> f"{found['N']:.1f~P}, {found['Ca']:.1f~P}"
    '23.2 g/m², 4.0 g/m²'
    """
    return _content_times_yield(crop, yield_per_area, ("uptake", "taken_up"))


def _content_times_yield(
    crop: Any, yield_per_area: QuantityLike, names: tuple[str, str]
) -> dict[str, Quantity]:
    """Return element to g/m²; `names` are the attribute of `crop` and the function."""
    attribute, subject = names
    table = getattr(crop, attribute, crop)
    if not isinstance(table, Mapping) or not table:
        problem = Problem("crop", str(crop), tr("must map elements to contents, at least one"), "",
                          'crop={"N": "3.2 g/kg"}')  # fmt: skip
        raise argument_error([problem], subject)
    if table is not crop:
        table = {
            name: with_unit(value, "g/kg") if isinstance(value, int | float) else value
            for name, value in table.items()
        }
    found = checked_floats(
        subject,
        {f"crop[{name}]": (value, "nutrient_removal") for name, value in table.items()}
        | {"yield_per_area": (yield_per_area, "yield_per_area")},
    )
    return {
        name: with_unit(found[f"crop[{name}]"] * found["yield_per_area"], "g/m^2") for name in table
    }


@checked(
    "g/kg",
    concentration="concentration",
    water_use="season_water",
    yield_per_area=Expect(
        "yield_per_area",
        above_zero=True,
        why=mark("there is no use per kilogram without a harvest"),
    ),
)
def use_per_yield(concentration: Floats, water_use: Floats, yield_per_area: Floats) -> Floats:
    """Return the nutrient given for each kilogram harvested, C W / Y.

    Parameters
    ----------
    concentration : quantity
        C, element in the solution [mg/L], scalar or array, 0 or more.
    water_use : quantity
        W, solution made in the season [L/m²].
    yield_per_area : quantity
        Y, harvest [kg/m²], above 0.

    Returns
    -------
    quantity
        Element given for each kilogram [g/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the yield is zero.

    Examples
    --------
    >>> round(use_per_yield("105 mg/L", "400 L/m^2", "5 kg/m^2").m_as("g/kg"), 2)
    8.4
    """
    return concentration * water_use / _MG_PER_G / yield_per_area


@checked("mg/L", concentration="concentration")
def nitrogen_from_nitrate(concentration: Floats) -> Floats:
    """Return nitrate as nitrogen, 0.2259 mg of N in each mg of NO3.

    Parameters
    ----------
    concentration : quantity
        Nitrate as NO3 [mg/L], scalar or array, 0 or more.

    Returns
    -------
    quantity
        The same as N [mg/L].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    Warnings
    --------
    Limits for drinking water are given both ways: 50 mg/L as NO3 is 11.3 mg/L as
    N. Nutrient solution holds many times that: never drink it, and never let it
    run to a drain, ditch or well.

    Examples
    --------
    >>> f"{nitrogen_from_nitrate('50 mg/L').m_as('mg/L'):.2f} mg/L N"
    '11.30 mg/L N'
    """
    return element_from_oxide(with_unit(concentration, "mg/L"), "NO3").m_as("mg/L")


@checked("mg/L", concentration="concentration")
def nitrate_from_nitrogen(concentration: Floats) -> Floats:
    """Return nitrate nitrogen as nitrate, 4.4266 mg of NO3 for each mg of N.

    Parameters
    ----------
    concentration : quantity
        Nitrate as N [mg/L], scalar or array, 0 or more.

    Returns
    -------
    quantity
        The same as NO3 [mg/L].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    Examples
    --------
    >>> f"{nitrate_from_nitrogen('10 mg/L').m_as('mg/L'):.2f} mg/L NO3"
    '44.27 mg/L NO3'
    """
    return oxide_from_element(with_unit(concentration, "mg/L"), "NO3").m_as("mg/L")


@checked(
    "",
    concentration="concentration",
    limit=Expect("concentration", above_zero=True, why=mark("no dilution reaches zero")),
)
def dilution_to_limit(concentration: Floats, limit: Floats) -> Floats:
    """Return the total parts in which one part of solution must end to meet a limit.

    The larger of C / limit and 1: what is within the limit needs no dilution.

    Parameters
    ----------
    concentration : quantity
        C [mg/L], scalar or array, 0 or more.
    limit : quantity
        Highest concentration allowed [mg/L], above 0, counted as the same
        species as `concentration` (both as N, or both as NO3).

    Returns
    -------
    quantity
        Fold, 1 or more: 21 means 1 L made up to 21 L.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the limit is zero.

    Notes
    -----
    The diluting water is taken to hold none of it.

    Warnings
    --------
    This shows how strong spent solution is; it is no way to dispose of it. The
    nutrients are the same after dilution: spread it on crops in soil at the
    nitrogen they need, never to a drain, ditch or well. Local rules apply.

    Examples
    --------
    >>> round(dilution_to_limit("210.1 mg/L", "10 mg/L").m_as(""), 1)
    21.0
    """
    return np.maximum(concentration / limit, 1.0)
