"""A scenario as one versioned JSON document, with units in it."""

from __future__ import annotations

import dataclasses
import functools
import json
import typing
from collections.abc import Callable, Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from scenariokit import catalog, units
from scenariokit.errors import ScenarioFileError
from scenariokit.language import tr
from scenariokit.scenario import model
from scenariokit.scenario.leaves import leaf_parameter
from scenariokit.schema_library import schema_library

FORMAT = "scenariokit/scenario"
VERSION = 3
MAX_BYTES = 1_000_000


def _to_version_2(scenario: dict[str, Any]) -> dict[str, Any]:
    """Return a scenario with source water, before always pure, and with uptake by its crop."""
    feed = {key: value for key, value in scenario["feed"].items() if key != "full_ec"}
    crop = {**scenario["crop"], "uptake": _uptake_of(scenario["crop"])}
    feed = {**feed, "water": "pure water", "water_content": {}}
    return {**scenario, "feed": feed, "crop": crop}


def _uptake_of(crop: Mapping[str, Any]) -> dict[str, float]:
    """Return what whole plants of a stored crop take up, as the catalogue knows it now.

    A crop that the catalogue does not know takes up what its produce holds.
    """
    crops = catalog.crops()
    known = crops[crop["id"]].uptake if crop["id"] in crops else {}
    return {
        element: max(float(grams), known.get(element, 0.0))
        for element, grams in crop["removal"].items()
    }


def _to_version_3(scenario: dict[str, Any]) -> dict[str, Any]:
    """Return a scenario with its labour split among tasks and, as before, no loss in storage."""
    method = dict(scenario["method"])
    hours, shares = method.pop("labour_per_plant"), catalog.labour_shares()
    split = shares.get(method["id"], shares[catalog.ANY_METHOD])
    method["labour"] = {task: _times(hours, share) for task, share in split.items()}
    return {**scenario, "method": method, "crop": {**scenario["crop"], "loss_share": "0"}}


def _times(encoded: Any, factor: float) -> Any:
    """Return an encoded quantity times a plain factor."""
    if isinstance(encoded, dict):
        return {**encoded, "values": (np.asarray(encoded["values"], float) * factor).tolist()}
    number, _, unit = encoded.partition(" ")
    return f"{float(number) * factor!r} {unit}"


MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {
    1: _to_version_2,
    2: _to_version_3,
}
"""From each older version, the function that brings its `scenario` one version up."""


def to_document(scenario: model.Scenario) -> dict[str, Any]:
    """Return `scenario` as plain JSON types.

    A scalar is written ``"0.5 L/plant"``, an array as ``{"values": [...], "unit": "L/plant"}``.
    """
    return {"format": FORMAT, "version": VERSION, "scenario": _encode(scenario)}


def save(scenario: model.Scenario) -> str:
    """Return `scenario` as JSON text.

    Examples
    --------
    >>> from scenariokit.scenario import load, save, scenario_for
    >>> one = scenario_for("paper_wrap")
    >>> load(save(one)).method.id
    'paper_wrap'
    """
    return json.dumps(to_document(scenario), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def load(text: str | bytes, name: str = "") -> model.Scenario:
    """Return the scenario that a JSON text holds.

    Parameters
    ----------
    text : str or bytes
        What `save` wrote, by this version or an older one.
    name : str
        The file's name, for messages; "scenario file" if left out.

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioFileError
        If it is not JSON, not a scenario, of a newer version, or has an
        unknown, missing or unreadable field; the message names the field.
    """
    name = name or tr("scenario file")
    if len(text) > MAX_BYTES:
        raise ScenarioFileError(
            tr(
                "{name}: has {count:,} characters; a scenario has at most {most:,}",
                name=name,
                count=len(text),
                most=MAX_BYTES,
            )
        )
    try:
        if isinstance(text, bytes):
            text = text.decode("utf-8-sig")
        document = json.loads(text, parse_constant=_refuse_constant)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ScenarioFileError(
            tr("{name}: is not a JSON document ({error})", name=name, error=error)
        ) from error
    return from_document(document, name)


def _refuse_constant(word: str) -> Any:
    raise ScenarioFileError(tr("the document holds {word}; every number must be finite", word=word))


def from_document(document: Any, name: str = "") -> model.Scenario:
    """Return the scenario in a decoded document; see `load` for the errors."""
    name = name or tr("scenario document")
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise ScenarioFileError(
            tr(
                '{name}: is not a scenario (its "format" is not "{format}")',
                name=name,
                format=FORMAT,
            )
        )
    version = document.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise ScenarioFileError(
            tr(
                '{name}: "version" = {version!r} is not a whole number from 1 on',
                name=name,
                version=version,
            )
        )
    if version > VERSION:
        raise ScenarioFileError(
            tr(
                "{name}: is of version {version}, and this scenariokit reads up to {newest}; "
                "install a newer scenariokit to open it",
                name=name,
                version=version,
                newest=VERSION,
            )
        )
    while version < VERSION:
        document = {**document, "scenario": _migrated(document, version, name)}
        version += 1
    _validate({**document, "version": VERSION}, name)
    try:
        return typing.cast(model.Scenario, _decode(model.Scenario, document["scenario"]))
    except ValueError as error:
        raise ScenarioFileError(f"{name}: {error}") from error


def _migrated(document: dict[str, Any], version: int, name: str) -> dict[str, Any]:
    """Return the `scenario` of a document one version up."""
    try:
        return MIGRATIONS[version](document["scenario"])
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise ScenarioFileError(
            tr(
                "{name}: is not a whole scenario of version {version} ({kind}: {error})",
                name=name,
                version=version,
                kind=type(error).__name__,
                error=error,
            )
        ) from error


def _validate(document: dict[str, Any], name: str) -> None:
    """Check `document` against the shipped schema and name the field at fault."""
    validator = schema_library().Draft202012Validator(schema())
    lines = []
    for error in sorted(validator.iter_errors(document), key=lambda found: list(found.path)):
        place = ".".join(str(part) for part in error.path) or tr("document")
        lines.append(f"{place}: {error.message[:200]}")
    if lines:
        raise ScenarioFileError(f"{name}: " + "; ".join(lines[:10]))


@functools.cache
def schema() -> dict[str, Any]:
    """Return the shipped JSON Schema of a scenario document."""
    text = resources.files(__package__).joinpath("scenario.schema.json").read_text("utf-8")
    return typing.cast(dict[str, Any], json.loads(text))


def _encode(value: Any) -> Any:
    """Return a part of a scenario as plain JSON types."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: _encode_leaf(field, getattr(value, field.name))
            for field in dataclasses.fields(value)
        }
    if isinstance(value, tuple):
        return [_encode(item) for item in value]
    if isinstance(value, dict):
        return {key: _encode(item) for key, item in value.items()}
    return value


def _encode_leaf(field: dataclasses.Field[Any], value: Any) -> Any:
    described = leaf_parameter(field)
    if described is None:
        return _encode(value)
    number = value.magnitude
    if np.ndim(number) == 0:
        return f"{float(number)!r} {described.unit}".strip()
    return {"values": np.asarray(number).tolist(), "unit": described.unit}


def _decode_leaf(value: Any) -> Any:
    if isinstance(value, dict):
        return units.quantity(np.asarray(value["values"], dtype=float), value["unit"])
    return value


def _decode(kind: Any, value: Any) -> Any:
    """Return `value` as the dataclass `kind`; its own checks name what is wrong."""
    hints = _hints(kind)
    arguments = {}
    for field in dataclasses.fields(kind):
        if field.name not in value:
            continue
        given = value[field.name]
        if leaf_parameter(field) is not None:
            arguments[field.name] = _decode_leaf(given)
        else:
            arguments[field.name] = _decode_plain(hints[field.name], given)
    return kind(**arguments)


@functools.cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _decode_plain(hint: Any, value: Any) -> Any:
    """Return a field that is no leaf: a part, a list of parts, a mapping or a plain value."""
    parts = [item for item in (hint, *typing.get_args(hint)) if dataclasses.is_dataclass(item)]
    if value is None or not parts:
        return _tupled(value)
    if isinstance(value, list):
        return tuple(_decode(parts[0], item) for item in value)
    return _decode(parts[0], value)


def _tupled(value: Any) -> Any:
    return tuple(_tupled(item) for item in value) if isinstance(value, list) else value


def build_schema() -> dict[str, Any]:
    """Return the JSON Schema made from the dataclasses; the shipped file must equal it."""
    definitions: dict[str, Any] = {}
    _define(model.Scenario, definitions)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "scenariokit scenario",
        "type": "object",
        "additionalProperties": False,
        "required": ["format", "version", "scenario"],
        "properties": {
            "format": {"const": FORMAT},
            "version": {"const": VERSION},
            "scenario": {"$ref": "#/$defs/Scenario"},
        },
        "$defs": {
            "quantity": {
                "anyOf": [
                    {"type": "string", "maxLength": 80},
                    {
                        "type": "object",
                        "additionalProperties": False,
                        "required": ["values", "unit"],
                        "properties": {
                            "values": {"type": "array", "maxItems": 100_000},
                            "unit": {"type": "string", "maxLength": 40},
                        },
                    },
                ]
            },
            **definitions,
        },
    }


def _define(kind: Any, definitions: dict[str, Any]) -> dict[str, str]:
    """Add the schema of the dataclass `kind` and return a reference to it."""
    name = kind.__name__
    if name not in definitions:
        definitions[name] = {}
        hints, properties = _hints(kind), {}
        for field in dataclasses.fields(kind):
            described = leaf_parameter(field)
            if described is not None:
                properties[field.name] = {
                    "$ref": "#/$defs/quantity",
                    "description": f"{described.label}; {described.allowed}",
                }
            else:
                properties[field.name] = _schema_of(hints[field.name], definitions)
        definitions[name] = {
            "type": "object",
            "additionalProperties": False,
            "required": [
                field.name
                for field in dataclasses.fields(kind)
                if field.default is dataclasses.MISSING
            ],
            "properties": properties,
        }
    return {"$ref": f"#/$defs/{name}"}


_PLAIN = {str: "string", float: "number", int: "integer", bool: "boolean", type(None): "null"}


def _schema_of(hint: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of a type hint that occurs in a scenario."""
    if dataclasses.is_dataclass(hint):
        return dict(_define(hint, definitions))
    if hint in _PLAIN:
        return {"type": _PLAIN[hint]}
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal:
        return {"enum": list(arguments)}
    if origin is dict:
        return {"type": "object", "additionalProperties": _schema_of(arguments[1], definitions)}
    if origin is tuple and arguments[-1] is Ellipsis:
        return {"type": "array", "items": _schema_of(arguments[0], definitions)}
    if origin is tuple:
        items = [_schema_of(item, definitions) for item in arguments]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "items": False}
    return {"anyOf": [_schema_of(item, definitions) for item in arguments]}


def write_schema(path: Path | None = None) -> None:
    """Write the schema made from the dataclasses, over the shipped file unless told where."""
    target = path or Path(__file__).with_name("scenario.schema.json")
    target.write_text(json.dumps(build_schema(), indent=1) + "\n", encoding="utf-8")
