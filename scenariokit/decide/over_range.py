"""An outcome over the range of one number of a scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.parameters import Parameter
from scenariokit.scenario import Scenario, leaves, outcome_values, with_draws
from scenariokit.scenario.model import check_geometry
from scenariokit.units import QuantityLike

YIELD = "harvest.typical"


def parameter_at(scenarios: Sequence[Scenario], path: str) -> Parameter:
    """Return the description of the number at a path of at least one scenario.

    Raises
    ------
    RangeError
        If none of them has it.
    """
    for scenario in scenarios:
        for where, described, _ in leaves(scenario):
            if where == path:
                return described
    problem = Problem("path", path, "is no number of these scenarios", "a path such as "
                      "prices.labour_price", kind="range")  # fmt: skip
    raise argument_error([problem], "break-even")


def has(scenario: Scenario, path: str) -> bool:
    """Return whether a scenario has a number at a path."""
    return any(where == path for where, _, _ in leaves(scenario))


def stated(scenario: Scenario, path: str) -> float:
    """Return the plain number that stands at a path, in its own unit."""
    return float(next(value for where, _, value in leaves(scenario) if where == path).magnitude)


def ends_of(
    described: Parameter, low: QuantityLike | None, high: QuantityLike | None
) -> tuple[float, float]:
    """Return the ends of a range in the parameter's own unit; those of its slider if left out.

    Raises
    ------
    RangeError
        If they are out of order or outside what is possible.
    """
    first, last, _ = described.slider
    a = first if low is None else float(units.magnitude(units.quantity(low), described.unit))
    b = last if high is None else float(units.magnitude(units.quantity(high), described.unit))
    least = -np.inf if described.minimum is None else described.minimum
    most = np.inf if described.maximum is None else described.maximum
    if not least <= a < b <= most:
        problem = Problem("low, high", f"{a:g}, {b:g} {described.unit}", "are no range of it",
                          described.allowed, kind="range")  # fmt: skip
        raise argument_error([problem], described.name)
    return a, b


def moved(scenario: Scenario, changes: Mapping[str, Any]) -> Scenario:
    """Return a scenario with plain numbers at some paths, the range of a yield carried along."""
    given = dict(changes)
    if YIELD in given:
        harvest = scenario.harvest
        usual = float(np.max(harvest.typical.magnitude))
        for end in ("low", "high"):
            ratio = getattr(harvest, end).magnitude / usual if usual else 1.0
            given[f"harvest.{end}"] = given[YIELD] * ratio
    made = with_draws(scenario, given)
    if any(path.startswith("method.") for path in given):
        check_geometry(made.method)
    return made


def outcome_over(scenario: Scenario, changes: Mapping[str, Any], name: str) -> Any:
    """Return an outcome for arrays of plain numbers, NaN where they cannot hold together.

    Paths that the scenario does not have are left aside.
    """
    size = len(next(iter(changes.values())))
    own = {path: values for path, values in changes.items() if has(scenario, path)}
    if not own:
        return np.full(size, outcome_values(scenario, [name])[name])
    try:
        found = outcome_values(moved(scenario, own), [name])[name]
        return np.array(np.broadcast_to(found, (size,)))
    except InfeasibleError:
        return np.array([_one(scenario, own, name, number) for number in range(size)])


def _one(scenario: Scenario, own: Mapping[str, Any], name: str, number: int) -> float:
    """Return the outcome of one of many values, NaN where it cannot be."""
    changes = {path: float(values[number]) for path, values in own.items()}
    try:
        return float(outcome_values(moved(scenario, changes), [name])[name])
    except InfeasibleError:
        return float("nan")
