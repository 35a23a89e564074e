"""Checks that every part of a board's file shares; each names the field at fault."""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Mapping, Sequence
from importlib import resources
from typing import Any, NoReturn, cast

from scenariokit.errors import ScenarioFileError, shorten
from scenariokit.language import tr
from scenariokit.schema_library import schema_library

SCHEMA = "board.schema.json"


def check_names(given: Mapping[str, Any], names: Sequence[str], prefix: str, name: str) -> None:
    """Refuse a part that has a field too many or too few."""
    unknown, missing = sorted(set(given) - set(names)), sorted(set(names) - set(given))
    if unknown:
        raise ScenarioFileError(
            tr("{place}: unknown field {field}", place=name, field=f"{prefix}{shorten(unknown[0])}")
        )
    if missing:
        raise ScenarioFileError(
            tr("{place}: the field {field} is missing", place=name, field=f"{prefix}{missing[0]}")
        )


def refuse(place: str, value: Any, allowed: str | Sequence[str]) -> NoReturn:
    """Refuse a value, and say what is allowed."""
    words = allowed if isinstance(allowed, str) else ", ".join(allowed)
    raise ScenarioFileError(
        tr(
            "{place} = {value}; allowed: {allowed}",
            place=place,
            value=repr(str(value)[:60]),
            allowed=words,
        )
    )


def check_finite(part: Any, name: str, way: str = "") -> None:
    """Refuse a number that JSON does not have: infinite, or none at all."""
    if isinstance(part, float) and not math.isfinite(part):
        refuse(f"{name}: {way}", part, tr("a finite number"))
    if isinstance(part, dict | list):
        rows = part.items() if isinstance(part, dict) else enumerate(part)
        for key, value in rows:
            check_finite(value, name, f"{way}.{key}" if way else str(key))


@functools.cache
def board_schema() -> dict[str, Any]:
    """Return the shipped JSON Schema of a saved board."""
    text = resources.files(__package__).joinpath(SCHEMA).read_text("utf-8")
    return cast(dict[str, Any], json.loads(text))


def check_schema(document: Mapping[str, Any], name: str) -> None:
    """Check a decoded board against the shipped schema; the message names the fields at fault."""
    validator = schema_library().Draft202012Validator(board_schema())
    found = sorted(validator.iter_errors(document), key=lambda error: list(map(str, error.path)))
    lines = []
    for error in found[:10]:
        place = ".".join(str(part) for part in error.path) or "document"
        lines.append(f"{place}: {shorten(error.message, 200)}")
    if lines:
        raise ScenarioFileError(f"{name}: " + "; ".join(lines))
