"""One cell: its number, its unit, its rule."""

from __future__ import annotations

import datetime
import functools
import math
import re
from typing import Any, Literal

import pint

from scenariokit import units
from scenariokit.catalog.fields import ANY_UNIT, Field
from scenariokit.catalog.sources import StaleFormula
from scenariokit.language import tr

Decimal = Literal[".", ","]

_NUMBER = re.compile(r"^([+-]?(?:[0-9][0-9.,]*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*(.*)$")
_UNIT = re.compile(r"^[A-Za-z0-9_°µμ%²³·^*/() .-]{1,40}$")
_POWER = re.compile(r"(?<=[A-Za-z])([23])(?![A-Za-z0-9])")
_PIECES = re.compile(r"^(?:pieces?|pcs?)$", re.IGNORECASE)
_ESCAPED = re.compile(r"^'+[=+\-@]")
_TRUTH = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


class CellError(ValueError):
    """Why a cell cannot be used, and what could stand there instead."""

    def __init__(self, reason: str, allowed: str = "", example: str = "", kind: str = "record"):
        super().__init__(reason)
        self.reason = reason
        self.allowed = allowed
        self.example = example
        self.kind = kind


def read_cell(raw: Any, field: Field, unit: str, decimal: Decimal, missing: tuple[str, ...]) -> Any:
    """Return the value of one cell in the unit of its column.

    Parameters
    ----------
    raw : str, number, bool, date or None
        What the file holds.
    field : Field
        What the column must hold.
    unit : str
        The unit in the heading, or an empty text.
    decimal : {'.', ','}
        The decimal sign of numbers written as text.
    missing : tuple of str
        Texts that stand for a missing value.

    Returns
    -------
    float, int, bool, str, quantity or None
        A missing text is ``""``, any other missing value ``None``. A quantity
        only where the dimension depends on the row.

    Raises
    ------
    CellError
        If the rule of the column is broken.
    """
    if isinstance(raw, StaleFormula):
        raise CellError(
            tr("holds a formula without a stored result"),
            tr("the value itself, or the file saved by a spreadsheet program"),
        )
    if raw is None or (isinstance(raw, str) and raw.strip() in missing):
        if field.required:
            raise CellError(tr("is missing"), field.allowed or tr("a value"), _example(field))
        return "" if field.is_text else None
    if field.is_text:
        return _text(raw, field)
    if field.type == "boolean":
        return _truth(raw)
    number = _number(raw, field, unit, decimal)
    if field.unit == ANY_UNIT:
        return number
    return _in_range(number, field)


def _text(raw: Any, field: Field) -> str:
    """Return text as it stands; a formula is text like any other."""
    if isinstance(raw, datetime.datetime | datetime.date):
        text = raw.isoformat().removesuffix("T00:00:00")
    elif isinstance(raw, float) and raw.is_integer():
        text = str(int(raw))
    else:
        text = str(raw).strip()
    if _ESCAPED.match(text):
        text = text[1:]
    if field.enum and text not in field.enum:
        raise CellError(tr("is not one of the allowed words"), field.allowed, field.enum[0])
    if field.pattern and not re.fullmatch(field.pattern, text):
        raise CellError(tr("does not have the required form"), field.allowed)
    return text


def _truth(raw: Any) -> bool:
    found = _TRUTH.get(str(raw).strip().lower())
    if found is None:
        raise CellError(tr("is neither true nor false"), tr("true, false, yes, no"), "true")
    return found


def _number(raw: Any, field: Field, unit: str, decimal: Decimal) -> Any:
    """Return the number of a cell, converted from its own unit or the heading's."""
    if isinstance(raw, bool):
        raise CellError(tr("is true or false, not a number"), field.allowed, _example(field))
    if isinstance(raw, datetime.datetime | datetime.date | datetime.time):
        reason = tr("is a date; the spreadsheet program took a number for one")
        raise CellError(
            reason, tr("a number in a cell formatted as text or number"), _example(field)
        )
    own = ""
    if isinstance(raw, int | float):
        value = float(raw)
    else:
        value, own = split_number(str(raw), decimal)
    if not math.isfinite(value):
        raise CellError(tr("is not a finite number"), field.allowed, _example(field))
    used = own or unit
    if not used:
        if field.needs_unit:
            wanted = (
                tr("a unit") if field.unit == ANY_UNIT else tr("the unit {unit}", unit=field.unit)
            )
            reason = tr("is a bare number; it needs {wanted} or one like it", wanted=wanted)
            where = tr("{heading} as heading, or in the cell", heading=field.heading())
            raise CellError(reason, where, _example(field), "unit")
        used = field.unit
    if field.unit == ANY_UNIT:
        return units.registry().Quantity(value, known_unit(used))
    return convert(value, used, field.unit)


def split_number(text: str, decimal: Decimal) -> tuple[float, str]:
    """Return the number in `text` and the unit after it.

    Parameters
    ----------
    text : str
        For example ``"2.5 lb"``.
    decimal : {'.', ','}
        The declared decimal sign. The other sign is refused, never guessed.

    Raises
    ------
    CellError
        If there is no number, or one that could be read in two ways.

    Examples
    --------
    >>> from scenariokit.catalog.cells import split_number
    >>> split_number("1,5 L", ",")
    (1.5, 'L')
    """
    clean = text.strip().replace("\u2212", "-")
    found = _NUMBER.match(clean)
    if found is None:
        raise CellError(tr("is not a number"), tr("a number, with a unit if the heading has none"))
    digits, unit = found.group(1), found.group(2).strip()
    other = "," if decimal == "." else "."
    if other in digits:
        if other == ",":
            reason = tr("has a comma, but the decimal sign of this file is the point")
            allowed = tr("a decimal point; if the whole file uses commas, say so (decimal=',')")
        else:
            reason = tr("has a point, which is ambiguous where the decimal sign is the comma")
            allowed = tr("a decimal comma and no separator of thousands")
        raise CellError(reason, allowed, f"1{decimal}5")
    try:
        return float(digits.replace(decimal, ".")), unit
    except ValueError:
        raise CellError(
            tr("is not a number"), tr("one decimal sign ({decimal}) at most", decimal=decimal)
        ) from None


def known_unit(text: str) -> Any:
    """Return the unit that `text` names, in the ways people write it.

    Raises
    ------
    CellError
        If it is not a unit.
    """
    clean = text.strip()
    if _PIECES.match(clean):
        return units.unit_of("count")
    if not _UNIT.match(clean):
        raise CellError(tr("{clean!r} is not a unit", clean=clean), kind="unit")
    try:
        return units.unit_of(_POWER.sub(r"^\1", clean))
    except (pint.PintError, ValueError, TypeError, KeyError, SyntaxError, ArithmeticError) as error:
        raise CellError(tr("the unit {clean!r} is not known", clean=clean), kind="unit") from error


def convert(value: float, unit: str, target: str) -> float:
    """Return `value`, given in `unit`, in the unit `target`.

    Raises
    ------
    CellError
        If the unit is unknown or of another dimension.
    """
    offset, factor = _line(unit, target)
    return value if (offset, factor) == (0.0, 1.0) else offset + factor * value


@functools.lru_cache(maxsize=512)
def _line(unit: str, target: str) -> tuple[float, float]:
    """Return offset and factor from `unit` to `target`; degrees need the offset."""
    if unit == target:
        return 0.0, 1.0
    start, goal = known_unit(unit), units.unit_of(target)
    reg = units.registry()
    try:
        zero = float(reg.Quantity(0.0, start).m_as(goal))
        one = float(reg.Quantity(1.0, start).m_as(goal))
    except (pint.PintError, ArithmeticError) as error:
        reason = tr(
            "the unit {unit!r} is of another dimension than {value}",
            unit=unit,
            value=target or tr("a plain number"),
        )
        raise CellError(
            reason, tr("{value} or one like it", value=target or tr("no unit")), kind="unit"
        ) from error
    return zero, one - zero


def _in_range(number: float, field: Field) -> float | int:
    """Return `number` if the column allows it."""
    if not math.isfinite(number):
        raise CellError(tr("is not a finite number"), field.allowed, kind="range")
    if field.minimum is not None and number < field.minimum:
        raise CellError(tr("is below the allowed range"), field.allowed, kind="range")
    if field.maximum is not None and number > field.maximum:
        raise CellError(tr("is above the allowed range"), field.allowed, kind="range")
    if field.type == "integer":
        if not number.is_integer():
            raise CellError(tr("is not a whole number"), field.allowed, kind="range")
        return int(number)
    return number


def _example(field: Field) -> str:
    """Return how a good cell may look."""
    if field.enum:
        return field.enum[0]
    if field.is_text:
        return ""
    if field.type == "boolean":
        return "true"
    unit = "100 L" if field.unit == ANY_UNIT else f"1 {field.unit}".strip()
    return unit
