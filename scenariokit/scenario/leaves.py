"""How a scenario holds its quantities: each leaf names the parameter that it is."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats

T = TypeVar("T")


def leaf(name: str) -> Any:
    """Return a dataclass field that holds the quantity called `name` in the glossary."""
    return dataclasses.field(metadata={"parameter": name})


def leaf_parameter(field: dataclasses.Field[Any]) -> Parameter | None:
    """Return the glossary entry of a dataclass field, or None if it is no quantity."""
    name = field.metadata.get("parameter")
    return parameter(name) if name else None


class Checked:
    """A dataclass whose leaves are checked and brought to their own unit when it is made."""

    def __post_init__(self) -> None:
        """Check every leaf and report all that are wrong in one message."""
        problems: list[Problem] = []
        reg = units.registry()
        for field in dataclasses.fields(self):  # type: ignore[arg-type]
            described = leaf_parameter(field)
            if described is None:
                continue
            found, problem = to_floats(field.name, getattr(self, field.name), described)
            if problem is not None:
                problems.append(problem)
            else:
                value = reg.Quantity(found, units.unit_of(described.unit))
                object.__setattr__(self, field.name, value)
        if problems:
            raise argument_error(problems, type(self).__name__)


def leaves(tree: Any, prefix: str = "") -> Iterator[tuple[str, Parameter, Any]]:
    """Yield path, description and quantity of every leaf of a tree of dataclasses.

    Parameters
    ----------
    tree : dataclass
        A scenario or a part of one.
    prefix : str
        Path of `tree` itself.
    """
    for field in dataclasses.fields(tree):
        value = getattr(tree, field.name)
        path = f"{prefix}{field.name}"
        described = leaf_parameter(field)
        if described is not None:
            yield path, described, value
        elif dataclasses.is_dataclass(value):
            yield from leaves(value, f"{path}.")


def value_at(tree: Any, path: str) -> Any:
    """Return what stands at a dotted `path` of a tree of dataclasses.

    Raises
    ------
    KeyError
        If there is no such path; the message names the part that is missing.
    """
    here = tree
    for name in path.split("."):
        if not dataclasses.is_dataclass(here) or not hasattr(here, name):
            raise KeyError(f"{path!r}: {type(here).__name__} has no {name!r}")
        here = getattr(here, name)
    return here


def with_values(tree: T, changes: Mapping[str, Any]) -> T:
    """Return a copy of `tree` with the quantities at the given paths replaced.

    Parameters
    ----------
    tree : dataclass
        A scenario or a part of one; it is not changed.
    changes : mapping
        Dotted path to new value: a quantity, a string such as ``"0.5 L"``, or
        for a ratio a number; scalars or arrays.

    Raises
    ------
    KeyError
        If a path does not exist.
    ArgumentError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for, with_values
    >>> one = scenario_for("wedge_pots")
    >>> more = with_values(one, {"method.medium.volume_per_plant": "1 L"})
    >>> f"{more.method.medium.volume_per_plant:.1f~P}"
    '1.0 l/plant'
    """
    direct: dict[str, Any] = {}
    nested: dict[str, dict[str, Any]] = {}
    for path, value in changes.items():
        head, _, rest = path.partition(".")
        value_at(tree, head)
        if rest:
            nested.setdefault(head, {})[rest] = value
        else:
            direct[head] = value
    for head, inner in nested.items():
        part = getattr(tree, head)
        if not dataclasses.is_dataclass(part):
            first = next(iter(inner))
            raise KeyError(f"'{head}.{first}': this scenario has no {head!r}")
        direct[head] = with_values(part, inner)
    return dataclasses.replace(tree, **direct)  # type: ignore[type-var]


def with_draws(tree: T, changes: Mapping[str, Any]) -> T:
    """Return a copy of `tree` with plain numbers put at the given paths, unchecked.

    Parameters
    ----------
    tree : dataclass
        A scenario or a part of one; it is not changed.
    changes : mapping
        Dotted path to a float or array in the leaf's own unit. Whoever calls
        sees to it that they lie in the leaf's range, as draws from a
        distribution that was checked once do; else use `with_values`.

    Raises
    ------
    KeyError
        If a path does not exist or is no quantity.
    """
    nested: dict[str, dict[str, Any]] = {}
    new: dict[str, Any] = {}
    parts = vars(tree)
    for path, value in changes.items():
        head, _, rest = path.partition(".")
        old = parts[head] if head in parts else value_at(tree, head)
        if rest:
            nested.setdefault(head, {})[rest] = value
        elif hasattr(old, "magnitude"):
            new[head] = type(old)(value, old.units)
        else:
            raise KeyError(f"{path!r} of {type(tree).__name__} is no quantity")
    for head, inner in nested.items():
        if not dataclasses.is_dataclass(parts[head]):
            raise KeyError(f"'{head}.{next(iter(inner))}': this scenario has no {head!r}")
        new[head] = with_draws(parts[head], inner)
    made: T = object.__new__(type(tree))  # its checks were made when the tree was
    vars(made).update(parts, **new)
    return made


def plain(value: Any) -> Any:
    """Return the number or array of a leaf, which is already in its own unit."""
    return value.magnitude
