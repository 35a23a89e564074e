"""Formula masses, and the same nutrient written as element, oxide or ion."""

from __future__ import annotations

import functools
import re
from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import pint

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import with_unit
from scenariokit.units import Quantity, QuantityLike, adopt, parse, registry

ATOMIC_MASSES: Mapping[str, float] = MappingProxyType({
    "H": 1.008, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "F": 18.998, "Na": 22.990,
    "Mg": 24.305, "Al": 26.982, "Si": 28.085, "P": 30.974, "S": 32.06, "Cl": 35.45,
    "K": 39.098, "Ca": 40.078, "Mn": 54.938, "Fe": 55.845, "Co": 58.933, "Ni": 58.693,
    "Cu": 63.546, "Zn": 65.38, "Se": 78.971, "Mo": 95.95, "I": 126.90,
})  # fmt: skip
"""g/mol, IUPAC abridged standard atomic weights."""

OXIDES: Mapping[str, str] = MappingProxyType({
    "P2O5": "P", "K2O": "K", "CaO": "Ca", "MgO": "Mg", "SO4": "S", "SO3": "S", "NO3": "N",
    "NH4": "N", "CaCO3": "Ca", "PO4": "P", "H2PO4": "P", "SiO2": "Si", "B2O3": "B",
    "Na2O": "Na",
})  # fmt: skip
"""Species in which nutrients are reported, to the element that is meant."""

NITRATE, AMMONIUM = "nitrate", "ammonium"
_GROUPS = {
    "NO3": Counter({"N": 1, "O": 3, NITRATE: 1}),
    "NH4": Counter({"N": 1, "H": 4, AMMONIUM: 1}),
}
_TOKEN = re.compile(r"NO3(?!\d)|NH4(?!\d)|[A-Z][a-z]?|[1-9]\d*|[()\[\]]")
_DOT = re.compile(r"\s*[.·*•]\s*")
_DIMENSIONS = ("[]", "[mass]", "[mass] / [length] ** 3", "[mass] / [length] ** 2")


def molar_mass(formula: str) -> Quantity:
    """Return the mass of a mole of a compound, the sum of its atoms.

    Parameters
    ----------
    formula : str
        For example ``"KNO3"``, ``"Ca(NO3)2.4H2O"`` or
        ``"5Ca(NO3)2.NH4NO3.10H2O"``; a point stands before water of
        crystallisation.

    Returns
    -------
    quantity
        Formula mass [g/mol].

    Raises
    ------
    ArgumentError
        If the formula cannot be read, or names an unknown element.

    Notes
    -----
    For plain salts and acids. Charges and isotopes are not read.

    Examples
    --------
    >>> f"{molar_mass('Ca(NO3)2.4H2O'):.3f~P}"
    '236.146 g/mol'
    """
    return with_unit(formula_mass(formula), "g/mol")


def mass_fraction(formula: str, element: str) -> Quantity:
    """Return the share of an element in the mass of a pure compound.

    Parameters
    ----------
    formula : str
        As for `molar_mass`.
    element : str
        Symbol, for example ``"Ca"``; 0 results for one that it does not hold.

    Returns
    -------
    quantity
        Share, 0 to 1.

    Raises
    ------
    ArgumentError
        If the formula cannot be read, or the element is unknown.

    Examples
    --------
    >>> f"{mass_fraction('KNO3', 'K').m_as('percent'):.2f} %"
    '38.67 %'
    """
    if not isinstance(element, str) or element not in ATOMIC_MASSES:
        problem = Problem(
            "element", str(element), tr("is not known"), ", ".join(ATOMIC_MASSES), 'element="K"'
        )
        raise argument_error([problem], "mass_fraction")
    return with_unit(atoms(formula)[element] * ATOMIC_MASSES[element] / formula_mass(formula), "")


def element_from_oxide(value: QuantityLike, oxide: str) -> Quantity:
    """Return how much element a mass of an oxide or ion holds.

    Parameters
    ----------
    value : quantity
        Mass, mass per volume, mass per area or share of the oxide or ion,
        scalar or array, 0 or more.
    oxide : str
        What `value` counts: ``"P2O5"``, ``"K2O"``, ``"CaO"``, ``"MgO"``,
        ``"SO4"``, ``"SO3"``, ``"NO3"``, ``"NH4"``, ``"CaCO3"``, ``"PO4"``,
        ``"H2PO4"``, ``"SiO2"``, ``"B2O3"`` or ``"Na2O"``.

    Returns
    -------
    quantity
        The element (P of P2O5, N of NO3, ...) in the unit given.

    Raises
    ------
    UnitError
        If the value has no unit where one is due, or is no mass, mass per
        volume, mass per area or share. Amounts (mol) do not change by a mass factor.
    RangeError
        If it is below zero, not finite or NaN, or a share above 1.
    ArgumentError
        If the species is unknown.

    Examples
    --------
    >>> f"{element_from_oxide('100 mg/L', 'P2O5').m_as('mg/L'):.2f} mg/L P"
    '43.64 mg/L P'
    """
    subject = "element_from_oxide"
    factor = _factor(oxide, subject)
    return _scaled(_mass_like(value, subject), factor, subject)


def oxide_from_element(value: QuantityLike, oxide: str) -> Quantity:
    """Return the mass of an oxide or ion that holds so much element.

    Parameters
    ----------
    value : quantity
        Mass, mass per volume, mass per area or share of the element, scalar or
        array, 0 or more.
    oxide : str
        What to count instead; the species of `element_from_oxide`.

    Returns
    -------
    quantity
        The oxide or ion in the unit given.

    Raises
    ------
    UnitError
        If the value has no unit where one is due, or is no mass, mass per
        volume, mass per area or share.
    RangeError
        If it is below zero, not finite or NaN, or a share that comes above 1.
    ArgumentError
        If the species is unknown.

    Examples
    --------
    >>> f"{oxide_from_element('10 mg/L', 'NO3').m_as('mg/L'):.2f} mg/L NO3"
    '44.27 mg/L NO3'
    """
    subject = "oxide_from_element"
    factor = 1 / _factor(oxide, subject)
    return _scaled(_mass_like(value, subject), factor, subject)


@functools.lru_cache(maxsize=512)
def formula_mass(formula: str) -> float:
    """Return the formula mass as a plain number of g/mol; see `molar_mass`."""
    return float(
        sum(ATOMIC_MASSES[name] * n for name, n in atoms(formula).items() if name in ATOMIC_MASSES)
    )


@functools.lru_cache(maxsize=512)
def _atoms(formula: str) -> Counter[str]:
    total: Counter[str] = Counter()
    for part in _DOT.split(formula.strip()):
        found = re.fullmatch(r"([1-9]\d*)?(.+)", part)
        if found is None:
            raise _unreadable(formula, tr("has an empty part"))
        times = int(found.group(1) or 1)
        for name, count in _group(found.group(2), formula).items():
            total[name] += times * count
    if not total:
        raise _unreadable(formula, tr("names no atom"))
    return total


def atoms(formula: str) -> Counter[str]:
    """Return the atoms in a formula, and its ``nitrate`` and ``ammonium`` groups.

    Parameters
    ----------
    formula : str
        As for `molar_mass`.

    Returns
    -------
    Counter
        Symbol to count; a new one on each call.

    Raises
    ------
    ArgumentError
        If the formula cannot be read, or names an unknown element.

    Examples
    --------
    >>> atoms("NH4NO3")["N"], atoms("NH4NO3")["nitrate"]
    (2, 1)
    """
    if not isinstance(formula, str):
        raise _unreadable(str(formula), tr("is no text"))
    return Counter(_atoms(formula))


def _group(text: str, formula: str) -> Counter[str]:
    """Return the atoms of one part between hydrate points."""
    pieces = _TOKEN.findall(text)
    if "".join(pieces) != text:
        raise _unreadable(formula, tr("holds a sign that is not part of a formula"))
    stack: list[Counter[str]] = [Counter()]
    last: Counter[str] = Counter()
    for piece in pieces:
        if piece in "([":
            stack.append(Counter())
            last = Counter()
            continue
        if piece.isdigit():
            if not last:
                raise _unreadable(formula, tr("has the number {piece} after nothing", piece=piece))
            stack[-1].update({name: count * (int(piece) - 1) for name, count in last.items()})
            last = Counter()
            continue
        if piece in ")]":
            if len(stack) == 1:
                raise _unreadable(formula, tr("closes a bracket that is not open"))
            last = stack.pop()
        else:
            last = _unit(piece, formula)
        stack[-1].update(last)
    if len(stack) > 1:
        raise _unreadable(formula, tr("has a bracket that is not closed"))
    return stack[0]


def _unit(piece: str, formula: str) -> Counter[str]:
    if piece in _GROUPS:
        return _GROUPS[piece]
    if piece not in ATOMIC_MASSES:
        raise _unreadable(
            formula, tr("names {piece!r}, which is no element known here", piece=piece)
        )
    return Counter({piece: 1})


def _unreadable(formula: str, reason: str) -> Exception:
    problem = Problem("formula", formula, reason, example='formula="Ca(NO3)2.4H2O"')
    return argument_error([problem], "formula")


def _factor(oxide: str, subject: str) -> float:
    """Return grams of element in a gram of the oxide or ion."""
    if not isinstance(oxide, str) or oxide not in OXIDES:
        problem = Problem(
            "oxide", str(oxide), tr("is not known"), ", ".join(OXIDES), 'oxide="P2O5"'
        )
        raise argument_error([problem], subject)
    element = OXIDES[oxide]
    return atoms(oxide)[element] * ATOMIC_MASSES[element] / formula_mass(oxide)


def _mass_like(value: Any, subject: str) -> Quantity:
    """Return `value` as a quantity of mass, mass per volume or area, or share."""
    reason, kind, found = "", "unit", value
    try:
        if isinstance(value, str):
            found = parse(value)
        elif hasattr(value, "m_as"):
            found = adopt(value)
        elif value is None or isinstance(value, bool):
            raise TypeError(tr("is not a quantity"))
        else:
            found = with_unit(np.asarray(value, dtype=np.float64)[()], "")
    except (ValueError, TypeError, pint.UndefinedUnitError) as error:
        reason = str(error)
    else:
        numbers = np.asarray(found.magnitude, dtype=np.float64)
        if not any(found.check(dimension) for dimension in _DIMENSIONS):
            reason = tr("has the unit {units}, of another dimension", units=found.units)
        elif not np.all(np.isfinite(numbers)):
            reason, kind = tr("holds NaN or is not finite"), "range"
        elif np.any(numbers < 0):
            reason, kind = tr("is below zero"), "range"
    if reason:
        allowed = tr("a mass, mass per volume or area, or a share of 0 to 1")
        problem = Problem("value", str(value), reason, allowed, 'value="100 mg/L"', kind=kind)
        raise argument_error([problem], subject)
    return found


def _scaled(value: Quantity, factor: float, subject: str) -> Quantity:
    """Return `value` times `factor`, refusing a share above 1 on either side."""
    result = registry().Quantity(value.magnitude * factor, value.units)
    if value.dimensionless:
        largest = max(float(np.max(side.m_as(""))) for side in (value, result))
        if largest > 1 + 1e-9:
            reason = tr("is or becomes a share of {largest:g}, above 1", largest=largest)
            problem = Problem(
                "value", str(value), reason, tr("0 to 1"), "value='15 %'", kind="range"
            )
            raise argument_error([problem], subject)
    return result
