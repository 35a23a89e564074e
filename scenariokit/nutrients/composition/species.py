"""Ions and elements: milligrams, millimoles and milliequivalents, and contents as ions."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from scenariokit.errors import Problem, ValidityWarning, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.chemistry import formula_mass
from scenariokit.nutrients.composition.contents import (
    CONTENT,
    FORMS,
    IONS,
    checked_content,
    checked_keys,
    with_total_nitrogen,
)
from scenariokit.quantities import checked_floats, with_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike


@dataclass(frozen=True)
class Species:
    """One way to count a nutrient.

    Parameters
    ----------
    id : str
        Its key.
    formula : str
        What a mole of it weighs: ``"N"`` for ``N_nitrate``, of which the
        nitrogen alone is weighed.
    element : str
        The nutrient that is meant; empty for what is none.
    charge : int or None
        Charges of a mole of it in solution, with their sign; two of alkalinity
        for CaCO3. None where the form in solution is not known.
    """

    id: str
    formula: str
    element: str
    charge: int | None

    @property
    def molar_mass(self) -> float:
        """Mass of a mole, as a plain number of g/mol."""
        return formula_mass(self.formula)


SPECIES: Mapping[str, Species] = MappingProxyType({
    key: Species(key, formula, element, charge)
    for key, formula, element, charge in (
        ("N", "N", "N", None), ("N_nitrate", "N", "N", -1), ("N_ammonium", "N", "N", 1),
        ("N_urea", "N", "N", None), ("P", "P", "P", -1), ("K", "K", "K", 1),
        ("Ca", "Ca", "Ca", 2), ("Mg", "Mg", "Mg", 2), ("S", "S", "S", -2),
        ("Cl", "Cl", "Cl", -1), ("Na", "Na", "Na", 1), ("Fe", "Fe", "Fe", None),
        ("Mn", "Mn", "Mn", 2), ("Zn", "Zn", "Zn", 2), ("B", "B", "B", None),
        ("Cu", "Cu", "Cu", 2), ("Mo", "Mo", "Mo", None), ("NO3", "NO3", "N", -1),
        ("NH4", "NH4", "N", 1), ("H2PO4", "H2PO4", "P", -1), ("PO4", "PO4", "P", None),
        ("SO4", "SO4", "S", -2), ("HCO3", "HCO3", "", -1), ("CO3", "CO3", "", -2),
        ("CaCO3", "CaCO3", "", 2), ("H", "H", "", 1),
    )
})  # fmt: skip
"""Every species known here. P counts as H2PO4 and S as SO4 in charges, as at the pH of feeds."""

_ION_OF = MappingProxyType({
    "N_nitrate": "NO3", "N_ammonium": "NH4", "P": "H2PO4", "S": "SO4", "K": "K", "Na": "Na",
    "Ca": "Ca", "Mg": "Mg", "Cl": "Cl", "HCO3": "HCO3",
})  # fmt: skip
_UNKNOWN_SHARE = 0.02
"""Share of nitrogen of unknown form that is let pass, about that in chelates."""


def millimoles(concentration: QuantityLike, species: str) -> Quantity:
    """Return a concentration as amount, c = C / M.

    Parameters
    ----------
    concentration : quantity
        C, mass of the species in a litre [mg/L], scalar or array, 0 or more.
    species : str
        What is weighed: an element (``"N"``, ``"Ca"``, ...), an ion (``"NO3"``,
        ``"SO4"``, ...), ``"CaCO3"``, or the nitrogen of a form (``"N_nitrate"``).
        M is its molar mass [g/mol].

    Returns
    -------
    quantity
        Amount [mmol/L].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If it lies outside its range.
    ArgumentError
        If the species is unknown.

    Examples
    --------
    >>> f"{millimoles('200.39 mg/L', 'Ca').m_as('mmol/L'):.3f} mmol/L"
    '5.000 mmol/L'
    """
    chosen = _species(species, "millimoles")
    mass = _given("millimoles", "concentration", concentration, "concentration")
    return with_unit(mass / chosen.molar_mass, "mmol/L")


def milligrams(amount: QuantityLike, species: str) -> Quantity:
    """Return an amount as concentration, C = c M.

    Parameters
    ----------
    amount : quantity
        c, amount of the species in a litre [mmol/L], scalar or array, 0 or more.
    species : str
        As for `millimoles`.

    Returns
    -------
    quantity
        Mass of the species in a litre [mg/L].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If it lies outside its range.
    ArgumentError
        If the species is unknown.

    Examples
    --------
    >>> f"{milligrams('15 mmol/L', 'N_nitrate').m_as('mg/L'):.1f} mg/L N"
    '210.1 mg/L N'
    """
    chosen = _species(species, "milligrams")
    moles = _given("milligrams", "amount", amount, "amount_concentration")
    return with_unit(moles * chosen.molar_mass, "mg/L")


def milliequivalents(concentration: QuantityLike, species: str) -> Quantity:
    """Return a concentration as amount of charge, |z| C / M.

    Parameters
    ----------
    concentration : quantity
        C, mass of the species in a litre [mg/L], scalar or array, 0 or more.
    species : str
        As for `millimoles`, one whose charge z is known: P counts as H2PO4, S
        as SO4, CaCO3 with two charges of alkalinity.

    Returns
    -------
    quantity
        Amount of charge without its sign, in mmol/L: what laboratories write as
        meq/L.

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If it lies outside its range.
    ArgumentError
        If the species is unknown, or its charge is.

    Notes
    -----
    P as H2PO4 holds below about pH 6.5; higher up a part is HPO4, with two
    charges.

    Examples
    --------
    >>> f"{milliequivalents('100 mg/L', 'CaCO3').m_as('mmol/L'):.3f} meq/L"
    '1.998 meq/L'
    """
    chosen = _charged(species, "milliequivalents")
    mass = _given("milliequivalents", "concentration", concentration, "concentration")
    return with_unit(mass * abs(chosen.charge or 0) / chosen.molar_mass, "mmol/L")


def milligrams_from_equivalents(amount: QuantityLike, species: str) -> Quantity:
    """Return an amount of charge as concentration, q M / |z|.

    Parameters
    ----------
    amount : quantity
        q, amount of charge in a litre in mmol/L (meq/L), scalar or array, 0 or
        more.
    species : str
        As for `milliequivalents`.

    Returns
    -------
    quantity
        Mass of the species in a litre [mg/L].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If it lies outside its range.
    ArgumentError
        If the species is unknown, or its charge is.

    Examples
    --------
    >>> f"{milligrams_from_equivalents('1 mmol/L', 'HCO3').m_as('mg/L'):.2f} mg/L HCO3"
    '61.02 mg/L HCO3'
    """
    chosen = _charged(species, "milligrams_from_equivalents")
    charge = _given("milligrams_from_equivalents", "amount", amount, "amount_concentration")
    return with_unit(charge * chosen.molar_mass / abs(chosen.charge or 1), "mg/L")


def _species(species: str, subject: str) -> Species:
    if not isinstance(species, str) or species not in SPECIES:
        problem = Problem(
            "species", str(species), tr("is not known"), ", ".join(SPECIES), 'species="NO3"'
        )
        raise argument_error([problem], subject)
    return SPECIES[species]


def _charged(species: str, subject: str) -> Species:
    found = _species(species, subject)
    if found.charge is None:
        names = ", ".join(key for key, one in SPECIES.items() if one.charge is not None)
        reason = tr("has no one charge in solution, so no equivalents")
        problem = Problem("species", species, reason, names, 'species="N_nitrate"')
        raise argument_error([problem], subject)
    return found


def _given(subject: str, field: str, value: QuantityLike, name: str) -> Floats:
    return checked_floats(subject, {field: (value, name)})[field]


def ions_of_floats(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return plain ions in mmol/L from plain contents in mg/L; see `ions_from_content`.

    Keys that give no ion are passed over, and none is checked.
    """
    return {
        ion: content[key] / SPECIES[key].molar_mass
        for key, ion in _ION_OF.items()
        if key in content
    }


@with_floats(ions_of_floats)
def ions_from_content(content: Mapping[str, QuantityLike]) -> dict[str, Quantity]:
    """Return the ions of a solution from its content, c = C / M.

    N_nitrate becomes NO3, N_ammonium NH4, P H2PO4, S SO4; K, Na, Ca, Mg, Cl and
    HCO3 are themselves.

    Parameters
    ----------
    content : mapping of str to quantity
        Content key to concentration C [mg/L], scalar or array, 0 or more. M is
        the molar mass of what the key weighs [g/mol].

    Returns
    -------
    dict of str to quantity
        Ion to amount [mmol/L], one for each key that gives an ion. Total ``N``,
        urea and the micronutrients give none.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If a key is unknown.

    Warns
    -----
    ValidityWarning
        If more than 2 % of the nitrogen is of unknown form: it gives no ion,
        so charges and EC come out too low.

    Notes
    -----
    For pH 5 to 6.5, where phosphate is nearly all H2PO4. Hydrogen ions are not
    known from a content. Micronutrients are under 1 % of the charge of a feed.

    Examples
    --------
    >>> ions = ions_from_content({"N_nitrate": "210.105 mg/L", "S": "64.12 mg/L"})
    >>> [f"{ion} {amount.m_as('mmol/L'):.2f}" for ion, amount in ions.items()]
    ['NO3 15.00', 'SO4 2.00']
    """
    floats = checked_content(content, "ions_from_content")
    total = floats.get("N", 0.0)
    rest = total - sum(floats.get(form, 0.0) for form in FORMS)
    if np.any(rest > _UNKNOWN_SHARE * np.asarray(total)):
        warnings.warn(
            tr(
                "{rest:.3g} mg/L of nitrogen is of unknown form and gives no ion: charges and EC "
                "come out too low; say how much is nitrate, ammonium and urea",
                rest=float(np.max(rest)),
            ),
            ValidityWarning,
            stacklevel=2,
        )
    return {ion: with_unit(amount, "mmol/L") for ion, amount in ions_of_floats(floats).items()}


def _content_floats(ions: Mapping[str, Any]) -> dict[str, Any]:
    """Return contents in mg/L from plain ions in mmol/L; hydrogen is passed over."""
    found = {
        key: ions[ion] * SPECIES[key].molar_mass for key, ion in _ION_OF.items() if ion in ions
    }
    whole = with_total_nitrogen(found)
    return {key: whole[key] for key in CONTENT if key in whole}


@with_floats(_content_floats)
def content_from_ions(ions: Mapping[str, QuantityLike]) -> dict[str, Quantity]:
    """Return the content of a solution from its ions, C = c M.

    Parameters
    ----------
    ions : mapping of str to quantity
        Ion to amount c [mmol/L], scalar or array, 0 or more: K, Na, NH4, Ca, Mg,
        H, NO3, Cl, SO4, H2PO4, HCO3.

    Returns
    -------
    dict of str to quantity
        Content key to concentration C [mg/L]. NO3 becomes N_nitrate, NH4
        N_ammonium, and ``N`` is their sum; hydrogen has no key.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If an ion is unknown.

    Examples
    --------
    >>> content = content_from_ions({"NO3": "12 mmol/L", "K": "7 mmol/L"})
    >>> [f"{key} {value.m_as('mg/L'):.1f}" for key, value in content.items()]
    ['N 168.1', 'N_nitrate 168.1', 'K 273.7']
    """
    floats = checked_keys(ions, IONS, "amount_concentration", "content_from_ions", "ions")
    return {key: with_unit(value, "mg/L") for key, value in _content_floats(floats).items()}
