"""Dataclasses of quantities, checked and brought to their own unit when they are made."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.quantities import Expect, to_floats, with_unit
from scenariokit.units import Floats


def measured(name: str, *, above_zero: bool = False, why: str = "") -> dict[str, Expect]:
    """Return the metadata of a dataclass field that holds a quantity of the glossary.

    A field whose default is ``None`` may be left out.

    Parameters
    ----------
    name : str
        Name of the parameter.
    above_zero : bool
        Refuse zero.
    why : str
        The reason, added to the message when zero is refused.
    """
    return {"expected": Expect(name, above_zero=above_zero, why=why)}


class Measured:
    """A frozen dataclass whose `measured` fields are checked when it is made."""

    def __post_init__(self) -> None:
        """Check every quantity and report all that are wrong in one message."""
        problems: list[Problem] = []
        for field in dataclasses.fields(self):  # type: ignore[arg-type]
            expected: Expect | None = field.metadata.get("expected")
            value = getattr(self, field.name)
            if expected is None or (value is None and field.default is None):
                continue
            described = parameter(expected.name)
            found, problem = to_floats(field.name, value, described, expected)
            if problem is not None:
                problems.append(problem)
            else:
                object.__setattr__(self, field.name, with_unit(found, described.unit))
        problems.extend(() if problems else self.faults())
        if problems:
            raise argument_error(problems, type(self).__name__)

    def faults(self) -> list[Problem]:
        """Return what is wrong with values that are each allowed; nothing unless overridden."""
        return []


def plain(value: Any) -> Floats:
    """Return a `measured` field as a float array in its own unit; 0 if it was left out."""
    return np.zeros(()) if value is None else np.asarray(value.magnitude, dtype=np.float64)
