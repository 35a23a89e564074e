"""The JSON Schema of a saved board, made from the names and bounds that the reader uses."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from scenariokit.scenario import document as scenario_document
from scenariokit.widgets.board_feed import KEYS
from scenariokit.widgets.board_file import (
    BOARD_FORMAT,
    BOARD_VERSION,
    MOST_METHODS,
    MOST_SCENARIOS,
    OUTER,
    OWN,
    VIEW,
)
from scenariokit.widgets.board_file_checks import SCHEMA
from scenariokit.widgets.board_file_choice import (
    DRAWS_ALLOWED,
    LANGUAGE_CODE,
    LEANINGS_KEPT,
    MOST_WEIGHT,
    VIEW_NAME,
)
from scenariokit.widgets.board_file_feed import ROOM, STOCKS

Schema = dict[str, Any]

_WORD: Schema = {"type": "string", "maxLength": 200}
_ID: Schema = {"type": "string", "minLength": 1, "maxLength": 100}
_TABLE: Schema = {
    "type": ["string", "null"],
    "maxLength": 1_000_000,
    "description": "the text of a CSV table, or null",
}


def _mapping(names: Iterable[str], properties: Schema) -> Schema:
    """Return the schema of a mapping that has exactly these names."""
    return {
        "type": "object",
        "additionalProperties": False,
        "required": list(names),
        "properties": properties,
    }


def _list(items: Schema, most: int, fewest: int = 0) -> Schema:
    return {"type": "array", "items": items, "minItems": fewest, "maxItems": most}


def _view() -> Schema:
    return _mapping(
        VIEW,
        {
            "crop": _ID,
            "site": _ID,
            "price_list": _ID,
            "chosen": {**_list(_ID, MOST_METHODS, 1), "uniqueItems": True},
            "focus": _ID,
            "system": {"enum": ["metric", "us"]},
            "currency": {"type": "string", "pattern": "^[A-Z]{3}$"},
            "rate": {"type": "number", "exclusiveMinimum": 0},
        },
    )


def _own() -> Schema:
    prices = _mapping(
        ("label", "currency", "missing", "table"),
        {"label": _WORD, "currency": _WORD, "missing": _list(_ID, 1000), "table": _TABLE},
    )
    return _mapping(
        OWN,
        {
            "prices": {"anyOf": [{"type": "null"}, prices]},
            **{name: _TABLE for name in OWN if name != "prices"},
        },
    )


def _feed() -> Schema:
    plan = _mapping(
        ("aim", "solved", "shelf", "cheapest", "water", "acid"),
        {
            "aim": _ID,
            "solved": {"type": "boolean"},
            "shelf": _list(_ID, 1000),
            "cheapest": {"type": "boolean"},
            "water": _ID,
            "acid": _WORD,
        },
    )
    room = _mapping(
        ("stocks", *ROOM),
        {
            "stocks": {"enum": list(STOCKS)},
            **{
                name: {"type": "string", "maxLength": 80, "description": f"a number in {unit}"}
                for name, (_, unit) in ROOM.items()
            },
        },
    )
    own = _mapping(KEYS, dict.fromkeys(KEYS, _TABLE))
    return _mapping(("plan", "room", "own"), {"plan": plan, "room": room, "own": own})


def _choice() -> Schema:
    def numbers(most: float | None) -> Schema:
        bounds = {"minimum": 0} if most is None else {"minimum": 0, "maximum": most}
        return {"type": "object", "additionalProperties": {"type": "number", **bounds}}

    fewest, most = DRAWS_ALLOWED
    properties = {
        "limits": {**numbers(None), "description": "each in the limit's own unit"},
        "lacking": {**_list(_ID, 1000), "uniqueItems": True},
        "objective": _ID,
        "leaning": {"enum": list(LEANINGS_KEPT)},
        "front": _list(_ID, 2, 2),
        "rival": _WORD,
        "turning": _ID,
        "mapped": {**_list(_ID, 2, 2), "uniqueItems": True},
        "weights": numbers(MOST_WEIGHT),
        "draws": {"type": "integer", "minimum": fewest, "maximum": most},
    }
    return _mapping(properties, properties)


def _scenario() -> Schema:
    described = {
        "format": {"const": scenario_document.FORMAT},
        "version": {"type": "integer", "minimum": 1},
        "scenario": {"type": "object"},
    }
    words = "a scenario's own document, of any version; its schema is shipped beside the scenarios"
    return {**_mapping(described, described), "description": words}


def build_board_schema() -> Schema:
    """Return the JSON Schema of a board of this version; the shipped file must equal it."""
    page = {
        "view": {"type": "string", "pattern": f"^({VIEW_NAME})?$"},
        "language": {"type": "string", "pattern": f"^{LANGUAGE_CODE}$"},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "scenariokit comparison board",
        **_mapping(
            OUTER,
            {
                "format": {"const": BOARD_FORMAT},
                "version": {"const": BOARD_VERSION},
                "view": _view(),
                "own": _own(),
                "feed": _feed(),
                "choice": _choice(),
                "page": {**_mapping(page, page), "description": "hints that need not be followed"},
                "scenarios": _list(_scenario(), MOST_SCENARIOS, 1),
            },
        ),
    }


def write_board_schema(path: Path | None = None) -> None:
    """Write the schema, over the shipped file unless told where."""
    target = path or Path(__file__).with_name(SCHEMA)
    target.write_text(json.dumps(build_board_schema(), indent=1) + "\n", encoding="utf-8")
