"""Draws put into scenarios."""

from __future__ import annotations

import functools
import operator
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pint

from scenariokit.errors import ArgumentError, InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import Parameter
from scenariokit.scenario import Scenario, with_draws
from scenariokit.scenario.model import check_geometry
from scenariokit.uncertainty.draws import input_scores
from scenariokit.uncertainty.inputs import Uncertain, Uncertainty, name_of
from scenariokit.uncertainty.leaf_paths import leaf_parameters, like_paths
from scenariokit.uncertainty.spread import Spread

YIELD = "harvest.typical"
_GEOMETRY = ("method.container.", "method.level.", "method.medium.volume", "method.plants")
_MONTHLY = ("site.reference_evapotranspiration", "site.rain", "site.mean_temperature")
"""Leaves with a value for each month."""

Seen = dict[tuple[int, Any], Any]
"""Standard draws by input and shape, which another scenario of the same block has made."""


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
    notes: tuple[str, ...] = ()

    def drawn(self, scores: Any, seen: Seen | None = None) -> Scenario:
        """Return the scenario with arrays of draws for the scores of all inputs.

        Parameters
        ----------
        scores : ndarray
            Normal scores, one row an input, as `input_scores` gives them.
        seen : dict, optional
            Kept between scenarios of the same scores, so that what they share
            is worked out once.

        Raises
        ------
        InfeasibleError
            If drawn measures of a method do not fit into each other.
        """
        changes = self.values(scores, seen)
        ends = self.scenario.harvest.ends_at(changes[YIELD]) if YIELD in changes else {}
        made = with_draws(self.scenario, {**ends, **changes})
        moved = [path for path in changes if path.startswith(_GEOMETRY)]
        if moved:
            try:
                check_geometry(made.method)
            except InfeasibleError as error:
                raise InfeasibleError(
                    tr(
                        "some draws cannot be built: {error}. Narrow the spread of {names}",
                        error=error,
                        names=", ".join(moved),
                    )
                ) from error
        return made

    def values(self, scores: Any, seen: Seen | None = None) -> dict[str, Any]:
        """Return the draws by path, each in the leaf's own unit, for the scores of all inputs."""
        known: Seen = {} if seen is None else seen
        found: dict[str, Any] = {}
        for number, path, spread in self.spreads:
            # Spreads of one shape share the costly part; place and size are a line each.
            key = number, spread if spread.cut else spread.shape
            if key not in known:
                known[key] = spread.standard_at(scores[number])
            found[path] = spread.from_standard(known[key])
        return found


def placed(
    scenarios: Sequence[Scenario], uncertainty: Uncertainty, *, strict: bool = True
) -> tuple[Placed, ...]:
    """Return the uncertain numbers of each scenario, checked.

    Parameters
    ----------
    scenarios : sequence of Scenario
        Their leaves must be single numbers.
    uncertainty : Uncertainty
        What is drawn. A number that only some methods have, such as the volume
        of a medium, is drawn for these; one of a method that is not compared
        is left out.
    strict : bool
        Whether a number that no scenario has is an error.

    Returns
    -------
    tuple of Placed
        In the order of the scenarios.

    Raises
    ------
    ArgumentError
        If no scenario has a path, a spread has the wrong unit or lies wholly
        outside what the leaf allows, or a leaf already holds several values.
    """
    found: list[Placed] = []
    problems: list[Problem] = []
    used: set[int] = set()
    for scenario in scenarios:
        problems += _arrays(scenario)
        spreads, notes = [], []
        for number, one in uncertainty.for_method(scenario.method.id):
            value = _leaf(scenario, one.path)
            if value is None:
                continue
            used.add(number)
            spread = _placed(one, value)
            if isinstance(spread, Problem):
                problems.append(spread)
                continue
            spreads.append((number, one.path, spread))
            if spread.cut and not one.spread.cut:
                allowed = leaf_parameters()[one.path].allowed
                notes.append(
                    tr(
                        "{label}: draws outside {allowed} are left out",
                        label=name_of(one),
                        allowed=allowed,
                    )
                )
        found.append(Placed(scenario, tuple(spreads), tuple(notes)))
    if strict:
        problems += _unused(scenarios, uncertainty, used)
    if problems:
        raise argument_error(dict.fromkeys(problems), "uncertainty")
    return tuple(found)


def _unused(
    scenarios: Sequence[Scenario], uncertainty: Uncertainty, used: set[int]
) -> list[Problem]:
    """Return the inputs that no scenario has, though their method is compared."""
    compared = {one.method.id for one in scenarios}
    found = []
    for number, one in enumerate(uncertainty.inputs):
        if number in used or (one.method and one.method not in compared):
            continue
        if one.path not in leaf_parameters():
            found.append(Problem("path", one.path, tr("is no number of a scenario"),
                                 like_paths(one.path), kind="range"))  # fmt: skip
        else:
            reason = (
                tr("no scenario of the method {method} has this number", method=one.method)
                if one.method
                else tr("no scenario has this number")
            )
            found.append(Problem("path", one.path, reason,
                                 tr("a number that at least one has"), kind="range"))  # fmt: skip
    return found


def _number(scenario: Scenario, path: str) -> Any:
    """Return the plain number, or the numbers of the months, at a path."""
    return operator.attrgetter(path)(scenario).magnitude


def _leaf(scenario: Scenario, path: str) -> Any:
    """Return the plain number at a path, or None if the scenario has no such leaf."""
    if path not in leaf_parameters():
        return None
    try:
        return _number(scenario, path)
    except AttributeError:  # a method without that part, such as one without medium
        return None


@functools.cache
def _getters() -> tuple[tuple[str, Any], ...]:
    return tuple((path, operator.attrgetter(path)) for path in leaf_parameters())


def _arrays(scenario: Scenario) -> list[Problem]:
    """Return the leaves that hold several values, so that draws cannot stand beside them."""
    found = []
    for path, get in _getters():
        try:
            value = get(scenario).magnitude
        except AttributeError:  # a method without that part
            continue
        if isinstance(value, float) or np.ndim(value) == 0:
            continue
        if path not in _MONTHLY or np.shape(value) != (12,):
            reason = tr("holds several values already, so nothing can be drawn beside it")
            found.append(Problem(path, f"{value}", reason, tr("one value"), kind="range"))
    return found


def _placed(one: Uncertain, value: Any) -> Spread | Problem:
    """Return an input's spread in the unit and range of its leaf, or why there is none."""
    described = leaf_parameters()[one.path]
    if one.relative and one.spread.unit:
        return Problem(one.path, one.spread.words(), tr("is a factor, so it has no unit"),
                       tr("a plain number"), kind="unit")  # fmt: skip
    if one.path in _MONTHLY:
        return Problem(one.path, one.spread.words(), tr("has a value for each month"),
                       tr("a spread of site.climate_factor or site.rain_share"), kind="range")  # fmt: skip
    if one.relative and value < 0:
        return Problem(one.path, f"{value:g}", tr("is below zero, so a factor cannot spread it"),
                       tr("a spread in its own unit"), kind="range")  # fmt: skip
    try:
        return _fitted(one.spread, float(value) if one.relative else None, described)
    except pint.DimensionalityError:
        return Problem(one.path, one.spread.words(), _stated_unit(one.spread.unit),
                       _wanted_unit(described.unit), kind="unit")  # fmt: skip
    except ArgumentError:
        return Problem(one.path, f"{name_of(one)}, {one.spread.words()}",
                       tr("lies wholly outside the allowed range"), described.allowed,
                       kind="range")  # fmt: skip


def _stated_unit(unit: str) -> str:
    return tr("is in {unit}", unit=unit) if unit else tr("is in no unit")


def _wanted_unit(unit: str) -> str:
    return tr("a unit like {unit}", unit=unit) if unit else tr("a plain number")


@functools.lru_cache(maxsize=4096)
def _fitted(spread: Spread, factor: float | None, described: Parameter) -> Spread:
    """Return a spread in a leaf's unit and within its range."""
    if factor is None:
        found = spread.in_unit(described.unit)
    else:
        found = replace(spread.scaled(factor), unit=described.unit)
    return found.within(described.minimum, described.maximum)


def drawn_scenario(scenario: Scenario, uncertainty: Uncertainty, scores: Any) -> Scenario:
    """Return a scenario with arrays of draws for the scores of all drivers.

    Parameters
    ----------
    scenario : Scenario
        With single numbers.
    uncertainty : Uncertainty
        What is drawn; inputs that the scenario does not have are left out.
    scores : ndarray
        Normal scores, one row a driver, as `draw_scores` gives them.

    Raises
    ------
    ArgumentError
        If a spread does not fit its leaf.
    InfeasibleError
        If drawn measures of the method do not fit into each other.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import draw_scores, usual_uncertainty
    >>> one = scenario_for("wedge_pots")
    >>> thought = usual_uncertainty([one])
    >>> drawn_scenario(one, thought, draw_scores(thought, 0, 8)).harvest.typical.shape
    (8,)
    """
    (place,) = placed([scenario], uncertainty, strict=False)
    return place.drawn(input_scores(uncertainty, scores))


def one_crop_and_currency(scenarios: Sequence[Scenario]) -> None:
    """Refuse scenarios that cannot stand side by side.

    Raises
    ------
    InfeasibleError
        If there is none, a method stands twice, or crops or currencies differ.
    """
    if not scenarios:
        raise InfeasibleError(tr("there is no scenario to draw; choose at least one method"))
    ids = [one.method.id for one in scenarios]
    if len(set(ids)) < len(ids):
        raise InfeasibleError(tr("a method stands twice among {names}", names=", ".join(ids)))
    crops = {one.crop.id for one in scenarios}
    if len(crops) > 1:
        listed = ", ".join(sorted(crops))
        raise InfeasibleError(tr("the scenarios have several crops: {crops}", crops=listed))
    currencies = {one.prices.currency for one in scenarios}
    if len(currencies) > 1:
        listed = ", ".join(sorted(currencies))
        raise InfeasibleError(
            tr("the scenarios have several currencies: {currencies}", currencies=listed)
        )
