"""The numbers that make a spread, read in one unit and checked together."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pint

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats

_UNIT_IN_TEXT = re.compile(r"^\s*[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*(.*?)\s*$", re.DOTALL)
_PLAIN = ("level", "degrees")
"""Arguments that are plain numbers whatever the unit of the others."""


def read_numbers(subject: str, values: Mapping[str, Any]) -> tuple[dict[str, float], str]:
    """Return plain numbers in the first unit that can be read; all that cannot, in one error.

    Raises
    ------
    ArgumentError
        If a value is no single finite number, or of another dimension than the first.
    """
    unit = next((found for found in map(_unit, values.values()) if found is not None), "")
    problems: list[Problem] = []
    if _has_offset(unit):
        reason = "has a zero of its own, so a spread of it cannot be multiplied"
        problems.append(Problem("unit", unit, reason, "kelvin, say", kind="unit"))
    given: dict[str, float] = {}
    for name, value in () if problems else values.items():
        found, problem = to_floats(name, value, _any_number(name, "" if name in _PLAIN else unit))
        if problem is None and np.size(found) != 1:
            problem = Problem(name, f"{value}", "holds several values", "one number", kind="range")
        if problem is not None:
            problems.append(problem)
        else:
            given[name] = float(np.reshape(found, ())[()])
    if problems:
        raise argument_error(problems, subject)
    return given, unit


def _any_number(name: str, unit: str) -> Parameter:
    return Parameter(name, "", name, unit, None, None, (0, 1, 1), 1, "", "")


def _unit(value: Any) -> str | None:
    """Return the unit of a value as it was written; empty for a ratio, None if it has none."""
    try:
        read = units.quantity(value)
        if read.dimensionless:
            return ""
    except (pint.UndefinedUnitError, pint.DimensionalityError, ValueError, TypeError):
        return None
    written = _UNIT_IN_TEXT.match(value) if isinstance(value, str) else None
    return written.group(1) if written else f"{read.units:~C}".replace("**", "^")


def _has_offset(unit: str) -> bool:
    """Return whether zero of a unit is not zero in others, as of a Celsius temperature."""
    return bool(unit and units.quantity(0.0, unit).to_base_units().magnitude != 0)


def refuse_bad(subject: str, problems: Sequence[Problem]) -> None:
    """Raise one error that lists all problems, if there are any.

    Raises
    ------
    ArgumentError
        If there is a problem.
    """
    if problems:
        raise argument_error(problems, subject)


def out_of_order(given: Mapping[str, float], *, equal: bool = True) -> list[Problem]:
    """Return a problem if ``low`` is above ``high``, or not below it unless they may be equal."""
    low, high = given["low"], given["high"]
    if low < high or (equal and low == high):
        return []
    reason = "is above high" if equal else "is not below high"
    return [Problem("low", f"{low:g}", reason, f"less than {high:g}", kind="range")]


def negative(given: Mapping[str, float], name: str) -> list[Problem]:
    """Return a problem if the number called `name` is below zero."""
    if given[name] >= 0:
        return []
    return [Problem(name, f"{given[name]:g}", "is below zero", "0 or more", kind="range")]


def not_above_zero(given: Mapping[str, float], name: str) -> list[Problem]:
    """Return a problem if the number called `name` is not above zero."""
    if given[name] > 0:
        return []
    return [Problem(name, f"{given[name]:g}", "is not above zero", "more than 0", kind="range")]


def not_a_share(given: Mapping[str, float], name: str) -> list[Problem]:
    """Return a problem if the number called `name` is not between 0 and 1."""
    if 0 < given[name] < 1:
        return []
    reason = "is no share between none and all"
    return [Problem(name, f"{given[name]:g}", reason, "between 0 and 1", kind="range")]
