"""What a table must hold: a Table Schema with units, read from JSON."""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Literal, get_args

from scenariokit import units
from scenariokit.language import tr

FieldType = Literal["string", "number", "integer", "boolean", "quantity"]

ANY_UNIT = "any"
"""The `unit` of a quantity whose dimension depends on the row, such as a package's size."""


@dataclass(frozen=True)
class Field:
    """One column of a table.

    Parameters
    ----------
    name, title, description : str
        The heading, its label, and what it means.
    type : {'string', 'number', 'integer', 'boolean', 'quantity'}
        A number has no dimension; a quantity always has a unit.
    unit, us_unit : str
        The unit of the values given back, and the US customary one offered in
        a template. ``"any"`` leaves the dimension to the row.
    required : bool
        Whether the column must be there and every row must fill it.
    minimum, maximum : float or None
        Allowed range in `unit`, both ends allowed.
    enum : tuple of str
        Allowed texts, if only some are allowed.
    pattern : str
        Regular expression that the whole text must match.
    """

    name: str
    title: str = ""
    description: str = ""
    type: FieldType = "string"
    unit: str = ""
    us_unit: str = ""
    required: bool = False
    minimum: float | None = None
    maximum: float | None = None
    enum: tuple[str, ...] = ()
    pattern: str = ""

    @property
    def is_text(self) -> bool:
        """Whether the column holds text."""
        return self.type == "string"

    @property
    def needs_unit(self) -> bool:
        """Whether a bare number is refused."""
        return self.type == "quantity" and bool(self.unit)

    @property
    def allowed(self) -> str:
        """The allowed values in words."""
        unit = f" {self.unit}" if self.unit and self.unit != ANY_UNIT else ""
        if self.enum:
            return ", ".join(self.enum)
        if self.minimum is not None and self.maximum is not None:
            return tr("{low:g} to {high:g}{unit}", low=self.minimum, high=self.maximum, unit=unit)
        if self.minimum is not None:
            return tr("{low:g}{unit} or more", low=self.minimum, unit=unit)
        if self.maximum is not None:
            return tr("{high:g}{unit} or less", high=self.maximum, unit=unit)
        return tr("text of the form {pattern}", pattern=self.pattern) if self.pattern else ""

    def heading(self, system: str = "metric") -> str:
        """Return the heading with its unit in brackets."""
        unit = self.us_unit if system == "us" and self.us_unit else self.unit
        return f"{self.name} [{unit}]" if unit and unit != ANY_UNIT else self.name


@dataclass(frozen=True)
class Schema:
    """The columns of a table, its key, and what stands for a missing value."""

    name: str
    title: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...] = ()
    missing_values: tuple[str, ...] = ("",)

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the columns, in order."""
        return tuple(field.name for field in self.fields)

    def field(self, name: str) -> Field:
        """Return the column called `name`.

        Raises
        ------
        KeyError
            If there is none; the message lists the names.
        """
        for field in self.fields:
            if field.name == name:
                return field
        raise KeyError(f"{self.name} has no column {name!r}; it has {', '.join(self.names)}")


def from_json(document: Mapping[str, Any]) -> Schema:
    """Return the schema that a Table Schema document describes.

    Parameters
    ----------
    document : mapping
        Frictionless Table Schema: ``fields`` with ``name``, ``title``,
        ``description``, ``type``, ``constraints``, and our own ``unit`` and
        ``us_unit``; ``primaryKey``; ``missingValues``.

    Raises
    ------
    ValueError
        If a type or a unit is not known.
    """
    key = document.get("primaryKey", ())
    return Schema(
        name=document.get("name", "table"),
        title=document.get("title", ""),
        fields=tuple(_field(row) for row in document["fields"]),
        primary_key=(key,) if isinstance(key, str) else tuple(key),
        missing_values=tuple(document.get("missingValues", ("",))),
    )


def _field(row: Mapping[str, Any]) -> Field:
    """Return one column; refuse what this reader cannot keep."""
    kind = row.get("type", "string")
    if kind not in get_args(FieldType):
        raise ValueError(f"column {row['name']}: type {kind!r} is not one of {FieldType}")
    unit = row.get("unit", "")
    if unit and unit != ANY_UNIT:
        units.unit_of(unit)
    limits = row.get("constraints", {})
    return Field(
        name=row["name"],
        title=row.get("title", ""),
        description=row.get("description", ""),
        type=kind,
        unit=unit,
        us_unit=row.get("us_unit", ""),
        required=limits.get("required", False),
        minimum=limits.get("minimum"),
        maximum=limits.get("maximum"),
        enum=tuple(limits.get("enum", ())),
        pattern=limits.get("pattern", ""),
    )


@functools.cache
def schema(name: str) -> Schema:
    """Return the shipped schema called `name`.

    Raises
    ------
    KeyError
        If there is none; the message lists the names.
    """
    folder = files("scenariokit.catalog").joinpath("schemas")
    known = sorted(item.name.removesuffix(".json") for item in folder.iterdir())
    if name not in known:
        raise KeyError(f"no table is called {name!r}; known: {', '.join(known)}")
    return from_json(json.loads(folder.joinpath(f"{name}.json").read_text(encoding="utf-8")))
