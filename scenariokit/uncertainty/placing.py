"""Draws put into scenarios."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import ArgumentError, InfeasibleError, Problem, argument_error
from scenariokit.scenario import Scenario, leaves, with_draws
from scenariokit.scenario.model import check_geometry
from scenariokit.uncertainty.inputs import Uncertain, Uncertainty, name_of
from scenariokit.uncertainty.spreads import Spread

YIELD = "harvest.typical"
_GEOMETRY = ("method.container.", "method.level.", "method.medium.volume", "method.plants")


@dataclass(frozen=True)
class Placed:
    """The uncertain numbers of one scenario, each with the spread that its leaf allows.

    Parameters
    ----------
    scenario : Scenario
        The scenario at its stated values.
    spreads : tuple of (int, str, Spread)
        Number of the input, its path, and its spread in the leaf's own unit.
    notes : tuple of str
        Which spreads reach beyond the leaf's range and were cut there.
    """

    scenario: Scenario
    spreads: tuple[tuple[int, str, Spread], ...]
    notes: tuple[str, ...]

    def drawn(self, scores: Any) -> Scenario:
        """Return the scenario with arrays of draws for the scores of all inputs.

        Raises
        ------
        InfeasibleError
            If drawn measures of a method do not fit into each other.
        """
        changes: dict[str, Any] = {
            path: spread.at_scores(scores[number]) for number, path, spread in self.spreads
        }
        if YIELD in changes:
            harvest = self.scenario.harvest
            usual = float(np.max(harvest.typical.magnitude))
            for end in ("low", "high"):
                ratio = getattr(harvest, end).magnitude / usual if usual else 1.0
                changes[f"harvest.{end}"] = changes[YIELD] * ratio
        made = with_draws(self.scenario, changes)
        if any(path.startswith(_GEOMETRY) for path in changes):
            check_geometry(made.method)
        return made


def placed(scenarios: Sequence[Scenario], uncertainty: Uncertainty) -> tuple[Placed, ...]:
    """Return the uncertain numbers of each scenario, checked.

    Parameters
    ----------
    scenarios : sequence of Scenario
        Their leaves must be scalars where they are drawn.
    uncertainty : Uncertainty
        What is drawn. A number that only some methods have, such as the volume
        of a medium, is drawn for these; one of a method that is not compared
        is left out.

    Raises
    ------
    ArgumentError
        If no scenario has a path, a spread has the wrong unit or lies wholly
        outside what the leaf allows, or a drawn leaf already is an array.
    """
    found: list[Placed] = []
    problems: list[Problem] = []
    used: set[int] = set()
    for scenario in scenarios:
        known = {path: (described, value) for path, described, value in leaves(scenario)}
        spreads, notes = [], []
        for number, one in uncertainty.for_method(scenario.method.id):
            if one.path not in known:
                continue
            used.add(number)
            described, value = known[one.path]
            try:
                spread, note = _placed(one, described, value)
            except ArgumentError as error:
                problems.extend(error.problems)
                continue
            spreads.append((number, one.path, spread))
            notes.extend(note)
        found.append(Placed(scenario, tuple(spreads), tuple(notes)))
    compared = {one.method.id for one in scenarios}
    for number, one in enumerate(uncertainty.inputs):
        if number not in used and one.method in ("", *compared):
            where = f" of the method {one.method}" if one.method else ""
            reason = f"no scenario{where} has this number"
            problems.append(Problem("path", one.path, reason, "a path of a scenario", kind="range"))
    if problems:
        raise argument_error(problems, "uncertainty")
    return tuple(found)


def _placed(one: Uncertain, described: Any, value: Any) -> tuple[Spread, list[str]]:
    """Return an input's spread in the unit and within the range of its leaf."""
    if np.ndim(value.magnitude):
        reason = "holds several values already, so none can be drawn for it"
        raise argument_error([Problem(one.path, "", reason, "one value", kind="range")], "draws")
    if one.relative:
        if one.spread.unit:
            reason = f"is a factor, so it has no unit, but {one.spread.unit} is given"
            raise argument_error([Problem(one.path, one.spread.words(), reason, kind="unit")], "")
        spread = one.spread.scaled(float(value.magnitude))
        spread = Spread(spread.kind, spread.numbers, described.unit, *_shares(spread))
    else:
        spread = _in_unit(one, described.unit)
    cut = spread.within(described.minimum, described.maximum)
    if cut is spread:
        return spread, []
    return cut, [f"{name_of(one)}: draws outside {described.allowed} are left out"]


def _shares(spread: Spread) -> tuple[float, float]:
    return spread.low_share, spread.high_share


def _in_unit(one: Uncertain, unit: str) -> Spread:
    import pint

    try:
        return one.spread.in_unit(unit)
    except pint.DimensionalityError as error:
        problem = Problem(
            one.path, one.spread.words(), f"is in {one.spread.unit or 'no unit'}",
            f"a unit like {unit or 'a plain number'}", kind="unit",
        )  # fmt: skip
        raise argument_error([problem], "uncertainty") from error


def one_crop_and_currency(scenarios: Sequence[Scenario]) -> None:
    """Refuse scenarios that cannot stand side by side.

    Raises
    ------
    InfeasibleError
        If there is none, a method stands twice, or crops or currencies differ.
    """
    if not scenarios:
        raise InfeasibleError("there is no scenario to draw; choose at least one method")
    ids = [one.method.id for one in scenarios]
    if len(set(ids)) < len(ids):
        raise InfeasibleError(f"a method stands twice among {', '.join(ids)}")
    for what, values in (
        ("crops", {one.crop.id for one in scenarios}),
        ("currencies", {one.prices.currency for one in scenarios}),
    ):
        if len(values) > 1:
            raise InfeasibleError(f"the scenarios have several {what}: {', '.join(sorted(values))}")
