"""What must hold for a grower: limits that rule a method out, whatever else speaks for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, argument_error
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.scenario import Evaluation


@dataclass(frozen=True)
class LimitKind:
    """A question that a grower may answer with a number.

    Parameters
    ----------
    id, label : str
        How it is called, and what a person reads.
    parameter : Parameter
        Unit, range, slider, help and source of the number.
    outcome : str
        The outcome that it bounds.
    least : bool
        Whether the number is the least allowed; else it is the most.
    per_tank : bool
        Whether it holds for the whole tank and not for a square metre.
    """

    id: str
    label: str
    parameter: Parameter
    outcome: str
    least: bool = False
    per_tank: bool = False


def _kind(id: str, label: str, unit: str, slider: tuple[float, float, float], usual: float,
          help: str, outcome: str, us_unit: str = "", **more: Any) -> LimitKind:  # fmt: skip
    described = Parameter(id, id, label, unit, 0, 1e9, slider, usual, help,
                          "the grower's own answer", "What must hold", us_unit)  # fmt: skip
    return LimitKind(id, label, described, outcome, **more)


LIMITS: dict[str, LimitKind] = {
    one.id: one
    for one in (
        _kind("most_medium", "Growing medium at most", "L/m^2", (0, 60, 1), 60,
              "Growing medium that can be had for each square metre; 0 if there is none.",
              "medium_volume_per_area", "US_dry_quart/ft^2"),
        _kind("deepest_water", "Water no deeper than", "cm", (0, 40, 0.5), 40,
              "Deepest water that is allowed, for the sake of children, floor or frame. A child "
              "can drown in a few centimetres: cover every tank.", "fullest_depth", "inch"),
        _kind("most_load", "Weight of water at most", "kg/m^2", (0, 400, 5), 400,
              "What floor, bench or roof may bear besides everything else on it. Ask a licensed "
              "engineer before you put water on a roof, balcony or upper floor.",
              "water_load", "lb/ft^2"),
        _kind("most_investment", "Money for equipment at most", "money", (0, 1000, 5), 1000,
              "What can be spent on equipment for the whole tank.", "investment_per_area",
              per_tank=True),
        _kind("most_labour", "Labour at most", "hour", (0, 60, 0.5), 60,
              "Hours that can be worked for one crop on the whole tank.", "labour_per_area",
              per_tank=True),
        _kind("most_water", "Water in a season at most", "L", (0, 5000, 50), 5000,
              "Water that can be had for one crop on the whole tank.", "season_water", "gal",
              per_tank=True),
        _kind("least_days", "Days that it must last unattended", "day", (0, 21, 0.5), 0,
              "Days on which nobody comes, or after which a failed valve is noticed.",
              "autonomy", least=True),
        _kind("least_yield", "Yield at least", "kg/m^2", (0, 10, 0.1), 0,
              "What a square metre of tank must bring.", "yield_per_area", "lb/ft^2", least=True),
    )
}  # fmt: skip
"""The limits that can be set, by id."""


@dataclass(frozen=True)
class Breach:
    """A limit that a method breaks.

    Parameters
    ----------
    limit : LimitKind
        Which.
    value, allowed : quantity
        What the method has, and the limit.
    share : float
        In which share of the draws it is broken; 1 without draws.
    """

    limit: LimitKind
    value: Any
    allowed: Any
    share: float


def read_limits(given: Mapping[str, Any]) -> dict[str, float]:
    """Return limits by id as plain numbers in their own units.

    Parameters
    ----------
    given : mapping
        Id of `LIMITS` to a quantity or string.

    Raises
    ------
    InfeasibleError
        If there is no such limit.
    ArgumentError
        If a value has the wrong unit or lies outside its range.
    """
    unknown = sorted(set(given) - set(LIMITS))
    if unknown:
        raise InfeasibleError(
            f"no limit is called {', '.join(unknown)}; there are {', '.join(LIMITS)}"
        )
    found, problems = {}, []
    for name, value in given.items():
        number, problem = to_floats(name, value, LIMITS[name].parameter)
        if problem is not None:
            problems.append(problem)
        else:
            found[name] = float(number)
    if problems:
        raise argument_error(problems, "limits")
    return found


def breaches(
    evaluation: Evaluation, given: Mapping[str, Any], draws: Mapping[str, Any] | None = None
) -> tuple[Breach, ...]:
    """Return the limits that a method breaks at its stated values.

    Parameters
    ----------
    evaluation : Evaluation
        Of the method.
    given : mapping
        Id of `LIMITS` to a quantity or string; what is not named is not limited.
    draws : mapping, optional
        Outcome name to that method's draws in the outcome's own unit, to say in
        which share of them the limit is broken.

    Raises
    ------
    InfeasibleError, ArgumentError
        As in `read_limits`.

    Notes
    -----
    A method without the number, such as the days until a field without a tank
    is dry, breaks no limit on it.

    Examples
    --------
    >>> from scenariokit.scenario import evaluate, scenario_for
    >>> bag = evaluate(scenario_for("medium_bag"))
    >>> [one.limit.id for one in breaches(bag, {"most_medium": "0 L/m^2"})]
    ['most_medium']
    """
    area = float(np.max(evaluation.scenario.tank.area.magnitude))
    found = []
    for name, allowed in read_limits(given).items():
        kind = LIMITS[name]
        factor = area if kind.per_tank else 1.0
        value = float(np.max(evaluation[kind.outcome].magnitude)) * factor
        if not _broken(kind, np.asarray(value), allowed):
            continue
        share = 1.0
        if draws is not None and kind.outcome in draws:
            share = float(_broken(kind, draws[kind.outcome] * factor, allowed).mean())
        unit = kind.parameter.unit
        found.append(
            Breach(kind, units.quantity(value, unit), units.quantity(allowed, unit), share)
        )
    return tuple(found)


def _broken(kind: LimitKind, values: Any, allowed: float) -> Any:
    """Return where a limit is broken; a number that does not exist breaks none."""
    slack = 1e-9 * max(abs(allowed), 1.0)
    with np.errstate(invalid="ignore"):
        return values < allowed - slack if kind.least else values > allowed + slack
