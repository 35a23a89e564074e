"""Every number that a scenario can have, by its path, found from the classes alone."""

from __future__ import annotations

import dataclasses
import difflib
import functools
import types
from collections.abc import Iterator
from typing import Any, Union, get_args, get_origin, get_type_hints

from scenariokit.parameters import Parameter
from scenariokit.scenario import Scenario
from scenariokit.scenario.leaves import leaf_parameter


@functools.cache
def leaf_parameters() -> dict[str, Parameter]:
    """Return the parameter of every leaf that some scenario has, by path.

    Examples
    --------
    >>> leaf_parameters()["prices.produce_price"].unit
    'money/kg'
    """
    return dict(_leaves(Scenario, ""))


def _leaves(kind: Any, prefix: str) -> Iterator[tuple[str, Parameter]]:
    hints = get_type_hints(kind)
    for field in dataclasses.fields(kind):
        described, path = leaf_parameter(field), f"{prefix}{field.name}"
        if described is not None:
            yield path, described
            continue
        for part in _parts(hints[field.name]):
            if dataclasses.is_dataclass(part):
                yield from _leaves(part, f"{path}.")


def _parts(hint: Any) -> tuple[Any, ...]:
    """Return what a field may hold: the parts of ``Medium | None``, else the one class."""
    return get_args(hint) if get_origin(hint) in (Union, types.UnionType) else (hint,)


def like_paths(path: str) -> str:
    """Return paths that are spelt like one that there is not, for a message."""
    known = list(leaf_parameters())
    near = difflib.get_close_matches(path, known, n=3)
    if not near:  # the last part alone may be right
        near = [one for one in known if one.split(".")[-1] == path.split(".")[-1]]
    return ", ".join(near) or ", ".join(known)
