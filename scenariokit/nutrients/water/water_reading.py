"""Reading a water analysis: what is counted, in which unit, as mg/L of a content."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
import pint

from scenariokit import units
from scenariokit.errors import Problem
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.species import SPECIES, Species
from scenariokit.quantities import to_floats

MILLIEQUIVALENT = "meq/L"
"""Amount of charge, as laboratories write it; to a computer no unit."""

PARAMETERS: Mapping[str, str] = MappingProxyType({
    **{name: name for name in (
        "Ca", "Mg", "Na", "K", "NO3", "N_nitrate", "NH4", "N_ammonium", "Cl", "SO4", "S", "HCO3",
        "P", "H2PO4", "PO4", "Fe", "Mn", "Zn", "B", "Cu", "Mo",
    )},
    "NO3-N": "N_nitrate", "NH4-N": "N_ammonium", "alkalinity": "CaCO3",
    "alkalinity_CaCO3": "CaCO3",
})  # fmt: skip
"""What an analysis may name, to the species that is counted; EC and pH besides."""

EC, PH = "EC", "pH"
MOST = 1e6
"""mg/L or mmol/L beyond which a number cannot be meant."""

_FOLDED = {name.casefold(): name for name in (*PARAMETERS, EC, PH)}
_KEYS = {"NO3": "N_nitrate", "NH4": "N_ammonium", "SO4": "S", "H2PO4": "P", "PO4": "P",
         "CaCO3": "HCO3"}  # fmt: skip
_PER_MOLE = {"CaCO3": 2}
"""Moles of the content's species in a mole of the one counted, where that is not one."""
_CHARGE_UNIT = re.compile(r"m(?:eq|val|molc)\s*(?:/\s*[Ll]|\s[Ll]-1)", re.IGNORECASE)
_TEXT = re.compile(r"^\s*([^\s]+?)\s*(m(?:eq|val|molc)\b.*)$", re.IGNORECASE)
_ALLOWED = mark("mg/L, mmol/L or meq/L")
BARE_NUMBER = mark("is a bare number; it needs a unit")


class Reading(NamedTuple):
    """One line of an analysis, understood."""

    name: str
    species: str
    number: float
    unit: str

    @property
    def key(self) -> str:
        """The content key that it fills."""
        return _KEYS.get(self.species, self.species)

    @property
    def milligrams(self) -> float:
        """Its mg/L as the content counts it."""
        moles = _moles(self.number, self.unit, SPECIES[self.species])
        return moles * _PER_MOLE.get(self.species, 1) * SPECIES[self.key].molar_mass

    def charge_as(self, unit: str) -> float:
        """Return its charge in meq/L, with sign, if its number were in `unit`."""
        one = SPECIES[self.species]
        if one.charge is None:
            return 0.0
        # Alkalinity counts as the bicarbonate that it is.
        charge = -one.charge if self.species == "CaCO3" else one.charge
        return charge * _moles(self.number, unit, one)


class Analysis(NamedTuple):
    """A whole analysis, understood."""

    readings: tuple[Reading, ...]
    ec: float | None
    ph: float | None


Line = tuple[str, Any, int | None]
"""Parameter, value, and the row in a file."""


def read_analysis(lines: Iterable[Line], bare_unit: str = "") -> tuple[Analysis, list[Problem]]:
    """Return what the lines of an analysis say, and what is wrong with them.

    Parameters
    ----------
    lines : iterable of (str, value, int or None)
        Parameter, value, and row in a file. A value is a quantity, a text with
        a unit, or a pair of number and unit.
    bare_unit : str, optional
        Unit of bare numbers; without one they are refused.
    """
    readings: list[Reading] = []
    others: dict[str, float] = {}
    problems: list[Problem] = []
    seen: dict[str, str] = {}
    for given, value, row in lines:
        name = _FOLDED.get(str(given).strip().casefold(), "")
        try:
            taken = _key_of(name, str(given))
            if taken in seen:
                raise _RefusedError(_twice(seen[taken], name), tr("each once"))
            seen[taken] = name
            if name in (EC, PH):
                others[name] = _other(name, value)
            else:
                readings.append(_reading(name, value, bare_unit))
        except _RefusedError as refused:
            problems.append(refused.problem(name or str(given), value, row))
    return Analysis(tuple(readings), others.get(EC), others.get(PH)), problems


class _RefusedError(Exception):
    """A value that cannot be read."""

    def __init__(self, reason: str, allowed: str = "", kind: str = "record") -> None:
        super().__init__(reason)
        self.reason, self.allowed, self.kind = reason, allowed, kind

    def problem(self, field: str, value: Any, row: int | None) -> Problem:
        """Return it as a problem of `field`."""
        text = " ".join(str(part) for part in value) if isinstance(value, tuple) else str(value)
        return Problem(field, text, self.reason, self.allowed, row=row, kind=self.kind)


def _twice(first: str, second: str) -> str:
    if first == second:
        return tr("is given twice")
    return tr("is given twice, as {first} and as {second}", first=first, second=second)


def _key_of(name: str, given: str) -> str:
    """Return what a name fills; alkalinity and bicarbonate may both be given."""
    if not name:
        if given.strip() == "N":
            reason = tr("is not a known parameter; write N_nitrate or N_ammonium")
        else:
            reason = tr("is not a known parameter")
        raise _RefusedError(reason, ", ".join((*PARAMETERS, EC, PH)))
    if name in (EC, PH):
        return name
    species = PARAMETERS[name]
    return species if species == "CaCO3" else _KEYS.get(species, species)


def _other(name: str, value: Any) -> float:
    """Return EC in dS/m, or pH."""
    if isinstance(value, tuple) and len(value) == 2:
        number, unit = _number(value[0]), str(value[1] or "").strip()
        value = _quantity(number, unit) if unit else number
    if name == PH and isinstance(value, str):
        value = _number(value)
    described = parameter("water_ph" if name == PH else "electrical_conductivity")
    found, problem = to_floats(name, value, described)
    if problem is not None:
        raise _RefusedError(problem.reason, problem.allowed, problem.kind)
    return _single(found)


def _reading(name: str, value: Any, bare_unit: str) -> Reading:
    """Return one line whose number is in mg/L, mmol/L or meq/L."""
    number, unit = _split(value, bare_unit)
    species = SPECIES[PARAMETERS[name]]
    if unit == MILLIEQUIVALENT and species.charge is None:
        raise _RefusedError(tr("has no one charge in solution"), tr("mg/L or mmol/L"), "unit")
    if unit == "mmol/L" and species.id == "CaCO3":
        reason = tr("in mmol/L may mean CaCO3 or charge")
        raise _RefusedError(reason, tr("mg/L as CaCO3, or meq/L"), "unit")
    if not 0 <= number <= MOST:
        reason = (
            tr("is NaN (a missing value)") if math.isnan(number) else tr("is outside its range")
        )
        raise _RefusedError(reason, tr("0 to {most:g} {unit}", most=MOST, unit=unit), "range")
    return Reading(name, species.id, number, unit)


def _split(value: Any, bare_unit: str) -> tuple[float, str]:
    """Return a value as number and one of the three units."""
    if isinstance(value, tuple):
        if len(value) != 2:
            raise _RefusedError(tr("must be a pair of number and unit"), tr(_ALLOWED))
        return _with_unit(_number(value[0]), str(value[1] or "").strip(), bare_unit)
    if isinstance(value, str):
        charge = _TEXT.match(value)
        if charge:
            return _with_unit(_number(charge.group(1)), charge.group(2).strip(), bare_unit)
        if value.strip().startswith("<"):
            reason = tr("is below detection; write 0, or half the limit of detection")
            raise _RefusedError(reason, tr(_ALLOWED))
        try:
            return _common(units.parse(value), bare_unit)
        except (ValueError, pint.UndefinedUnitError) as error:
            raise _unread(error) from None
    if hasattr(value, "m_as"):
        return _common(units.adopt(value), bare_unit)
    return _with_unit(_number(value), "", bare_unit)


def _with_unit(number: float, unit: str, bare_unit: str) -> tuple[float, str]:
    if not unit and not bare_unit:
        raise _RefusedError(tr(BARE_NUMBER), tr(_ALLOWED), "unit")
    if not unit or _CHARGE_UNIT.fullmatch(unit):
        return number, bare_unit if not unit else MILLIEQUIVALENT
    return _common(_quantity(number, unit), bare_unit)


def _common(quantity: Any, bare_unit: str) -> tuple[float, str]:
    """Return a quantity in mg/L or mmol/L."""
    for dimension, unit in (
        ("[mass] / [length] ** 3", "mg/L"), ("[substance] / [length] ** 3", "mmol/L"),
    ):  # fmt: skip
        if quantity.check(dimension):
            return _single(units.magnitude(quantity, unit)), unit
    if not quantity.unit_items():
        return _with_unit(_single(quantity.magnitude), "", bare_unit)
    if quantity.dimensionless:
        reason = tr(
            "has the unit {unit}, of another kind; ppm is no unit here, write mg/L",
            unit=quantity.units,
        )
    else:
        reason = tr("has the unit {unit}, of another kind", unit=quantity.units)
    raise _RefusedError(reason, tr(_ALLOWED), "unit")


def _quantity(number: float, unit: str) -> Any:
    try:
        return units.quantity(number, unit)
    except (ValueError, pint.UndefinedUnitError) as error:
        raise _unread(error) from None


def _unread(error: Exception) -> _RefusedError:
    if isinstance(error, pint.UndefinedUnitError):
        names = error.unit_names
        name = names if isinstance(names, str) else ", ".join(names)
        return _RefusedError(tr("the unit {name!r} is not known", name=name), tr(_ALLOWED), "unit")
    return _RefusedError(str(error), tr(_ALLOWED))


def _number(value: Any) -> float:
    """Return a plain number; a text may hold one."""
    if isinstance(value, bool) or value is None:
        raise _RefusedError(tr("is missing") if value is None else tr("is no number"))
    if isinstance(value, str) and value.strip().startswith("<"):
        raise _RefusedError(tr("is below detection; write 0, or half the limit of detection"))
    try:
        return _single(value)
    except (TypeError, ValueError):
        raise _RefusedError(tr("is no number; write it with a point")) from None


def _single(value: Any) -> float:
    if np.size(value) != 1:
        raise _RefusedError(tr("must be one number"))
    return float(np.asarray(value).item()) if not isinstance(value, str) else float(value)


def _moles(number: float, unit: str, species: Species) -> float:
    """Return mmol/L of `species` from a number in one of the three units."""
    if unit == "mmol/L":
        return number
    if unit == MILLIEQUIVALENT:
        return number / abs(species.charge or 1)
    return number / species.molar_mass


def as_given(readings: Sequence[Reading]) -> dict[str, tuple[float, str]]:
    """Return the numbers of an analysis by parameter, with their unit."""
    return {one.name: (one.number, one.unit) for one in readings}
