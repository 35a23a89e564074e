"""An outcome over the range of one number of a scenario, or of several."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.parameters import Outcome, Parameter, UnitSystem
from scenariokit.quantities import to_floats
from scenariokit.scenario import (
    OUTCOMES,
    Scenario,
    evaluate,
    feed_strength,
    leaves,
    outcome_values,
    value_at,
    with_draws,
)
from scenariokit.scenario.model import check_geometry
from scenariokit.uncertainty.leaf_paths import leaf_parameters, like_paths
from scenariokit.units import Quantity, QuantityLike

YIELD = "harvest.typical"
OWN = ("method.", "harvest.")
"""How paths begin that belong to one method; all others are of the place, the crop or the market."""
MONTHLY = ("site.reference_evapotranspiration", "site.rain", "site.mean_temperature")
"""Paths at which the twelve months stand."""
_BISECTIONS = 200


def _leaf(scenario: Scenario, path: str) -> tuple[Parameter, Quantity] | None:
    """Return description and quantity at a path, or None if there is no number."""
    described = leaf_parameters().get(path)
    if described is None:
        return None
    try:
        return described, value_at(scenario, path)
    except KeyError:  # a method without that part
        return None


def parameter_at(scenarios: Sequence[Scenario], path: str) -> Parameter:
    """Return the description of the number at a path of at least one scenario.

    Raises
    ------
    RangeError
        If none of them has it, or it holds several values already, as months do.
    """
    found = None
    for scenario in scenarios:
        here = _leaf(scenario, path)
        if here is None:
            continue
        found, value = here
        if np.ndim(value.magnitude):
            reason = "holds several values, so it cannot be moved as one"
            problem = Problem("path", path, reason, "a path to one value", kind="range")
            raise argument_error([problem], "range")
    if found is None:
        reason = "is no number of these scenarios"
        allowed = (
            "a number that at least one has" if path in leaf_parameters() else like_paths(path)
        )
        problem = Problem("path", path, reason, allowed, kind="range")
        raise argument_error([problem], "range")
    return found


def refuse_draws(scenarios: Sequence[Scenario]) -> None:
    """Refuse scenarios whose numbers are arrays already, so that none can be moved beside them.

    Raises
    ------
    RangeError
        With the paths of these numbers.
    """
    problems = [
        Problem(path, f"{np.size(value.magnitude)} values", "holds several values already",
                "one value", kind="range")
        for scenario in scenarios
        for path, _, value in leaves(scenario)
        if np.ndim(value.magnitude) and not (path in MONTHLY and np.shape(value.magnitude) == (12,))
    ]  # fmt: skip
    if problems:
        raise argument_error(dict.fromkeys(problems), "range")


def has(scenario: Scenario, path: str) -> bool:
    """Return whether a scenario has a number at a path."""
    return _leaf(scenario, path) is not None


def stated(scenario: Scenario, path: str) -> float:
    """Return the plain number that stands at a path, in its own unit."""
    return float(value_at(scenario, path).magnitude)


def outcome_named(name: str) -> Outcome:
    """Return the description of an outcome.

    Raises
    ------
    RangeError
        If there is none of that name.
    """
    if name not in OUTCOMES:
        problem = Problem("name", name, "is no outcome", ", ".join(OUTCOMES), kind="range")
        raise argument_error([problem], "outcome")
    return OUTCOMES[name]


def sign_of(name: str) -> float:
    """Return 1 for an outcome of which more is better, or neither side is, and else -1."""
    return -1.0 if outcome_named(name).better == "lower" else 1.0


def label_of(path: str, described: Parameter) -> str:
    """Return what a person reads for a path; its last word tells alike parameters apart.

    Examples
    --------
    >>> from scenariokit.glossary import parameter
    >>> label_of("method.level.low", parameter("depth"))
    'Depth of water (low)'
    >>> label_of("prices.labour_price", parameter("labour_price"))
    'Cost of an hour of labour'
    """
    last = path.rpartition(".")[2]
    if described.name.endswith(last) or last.endswith(described.name):
        return tr(described.label)
    which = tr(last.replace("_", " "))
    return tr("{label} ({which})", label=tr(described.label), which=which)


_LAST_WORDS = (
    mark("length"), mark("width"), mark("height"), mark("base height"), mark("medium height"),
    mark("crops per sheet"), mark("low"), mark("high"), mark("start"), mark("rim"),
    mark("days initial"), mark("days development"), mark("days mid"), mark("days late"),
    mark("kc initial"), mark("kc mid"), mark("kc end"), mark("typical"),
    mark("mean temperature"), mark("ec"), mark("medium factor"),
)  # fmt: skip
"""Last words of paths that `label_of` shows."""


def candidate_paths(scenario: Scenario) -> tuple[str, ...]:
    """Return the paths of all numbers of a scenario that can be moved as one.

    Those of months are left out, which hold twelve values, and the ends of
    the yield's range, which follow the usual yield.
    """
    ends = ("harvest.low", "harvest.high")
    return tuple(
        path
        for path, _, value in leaves(scenario)
        if path not in ends and not np.ndim(value.magnitude)
    )


def ends_of(
    described: Parameter,
    low: QuantityLike | None,
    high: QuantityLike | None,
    here: Iterable[float] = (),
) -> tuple[float, float]:
    """Return the ends of a range in the parameter's own unit.

    Parameters
    ----------
    described : Parameter
        The parameter.
    low, high : quantity, optional
        The ends; those of its slider if left out.
    here : iterable of float
        Values that stand now. An end that is left out is moved to take them in.

    Raises
    ------
    ArgumentError
        If an end has the wrong unit, or they are out of order or outside what
        is possible.
    """
    values, problems = [], []
    usual = (min(described.slider[0], *here, np.inf), max(described.slider[1], *here, -np.inf))
    for key, end, other in zip(("low", "high"), (low, high), usual, strict=True):
        found, problem = (other, None) if end is None else to_floats(key, end, described)
        if problem is None and np.ndim(found):
            problem = Problem(key, f"{end}", "holds several values", "one value", kind="range")
        if problem is not None:
            problems.append(problem)
        values.append(found)
    if not problems and not values[0] < values[1]:
        problems.append(Problem("low, high", f"{values[0]:g}, {values[1]:g} {described.unit}",
                                tr("are no range"), tr("low below high"), kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, described.name)
    return float(values[0]), float(values[1])


def moved(scenario: Scenario, changes: Mapping[str, Any]) -> Scenario:
    """Return a scenario with plain numbers at some paths, the range of a yield carried along.

    Raises
    ------
    InfeasibleError
        If the measures of the method do not fit into each other.
    """
    given = dict(changes)
    if YIELD in given:
        given |= scenario.harvest.ends_at(given[YIELD])
    made = with_draws(scenario, given)
    if any(path.startswith("method.") for path in given):
        check_geometry(made.method)
    return made


def outcome_over(scenario: Scenario, changes: Mapping[str, Any], name: str) -> Any:
    """Return an outcome for arrays of plain numbers, NaN where they cannot hold together.

    Paths that the scenario does not have are left aside.
    """
    size = len(next(iter(changes.values())))
    own = {path: np.asarray(given) for path, given in changes.items() if has(scenario, path)}
    if not own:
        return np.full(size, outcome_values(scenario, [name])[name])
    try:
        return _outcomes(scenario, own, name, size)
    except InfeasibleError:
        fitting = _fitting(scenario, own, 0, size)
    found = np.full(size, np.nan)
    if fitting.size:
        kept = {path: given[fitting] for path, given in own.items()}
        found[fitting] = _outcomes(scenario, kept, name, fitting.size)
    return found


def _outcomes(scenario: Scenario, changes: Mapping[str, Any], name: str, size: int) -> Any:
    found = outcome_values(moved(scenario, changes), [name])[name]
    return np.array(np.broadcast_to(found, (size,)), dtype=float)


def _fitting(scenario: Scenario, own: Mapping[str, Any], start: int, stop: int) -> Any:
    """Return the numbers of the values that can hold together, halving until a part fits."""
    if not _misfit(scenario, {path: given[start:stop] for path, given in own.items()}):
        return np.arange(start, stop)
    if stop - start == 1:
        return np.arange(0)
    middle = (start + stop) // 2
    parts = [_fitting(scenario, own, *ends) for ends in ((start, middle), (middle, stop))]
    return np.concatenate(parts)


def _misfit(scenario: Scenario, changes: Mapping[str, Any]) -> str:
    """Return why values cannot hold together; empty if they can."""
    try:
        made = moved(scenario, changes)
        if "feed.ec" in changes and made.method.level.regime != "none":
            feed_strength(made.feed)
    except InfeasibleError as error:
        return str(error)
    return ""


@dataclass(frozen=True)
class Reach:
    """The part of a range within which a number fits the rest of its scenarios.

    Parameters
    ----------
    low, high : float
        Its ends; `low` above `high` where no value fits.
    below, above : str
        Why it does not fit below and above; empty where it does, to the end of the range.
    """

    low: float
    high: float
    below: str = ""
    above: str = ""


def reach(scenarios: Sequence[Scenario], path: str, low: float, high: float) -> Reach:
    """Return between which values of a range a number fits all scenarios that have it.

    Notes
    -----
    The values that fit make one unbroken range about the one that stands, since
    every rule that pieces must fit is monotonic in each single measure. So
    its ends are found by halving.
    """
    found = Reach(low, high)
    for scenario in scenarios:
        if has(scenario, path) and path.startswith(("method.", "feed.ec")):
            one = _reach(scenario, path, low, high)
            found = Reach(
                max(found.low, one.low), min(found.high, one.high),
                one.below if one.low > found.low else found.below,
                one.above if one.high < found.high else found.above,
            )  # fmt: skip
    return found


def _reach(scenario: Scenario, path: str, low: float, high: float) -> Reach:
    here = stated(scenario, path)
    anchor = min(max(here, low), high)
    unfit = "" if anchor == here else _misfit(scenario, {path: anchor})
    if unfit:  # the values that fit lie to one side of the whole range
        return Reach(high, low, unfit, unfit)
    below, above = (_misfit(scenario, {path: end}) for end in (low, high))
    first = _edge(scenario, path, anchor, low) if below else low
    last = _edge(scenario, path, anchor, high) if above else high
    return Reach(first, last, below, above)


def _edge(scenario: Scenario, path: str, good: float, bad: float) -> float:
    """Return the value that still fits, next to those that do not."""
    for _ in range(_BISECTIONS):
        middle = (good + bad) / 2
        if middle in (good, bad):
            break
        if _misfit(scenario, {path: middle}):
            bad = middle
        else:
            good = middle
    return good


def why_undefined(scenario: Scenario, changes: Mapping[str, float], name: str) -> str:
    """Return why an outcome has no value at some plain numbers; empty if it has one."""
    own = {path: value for path, value in changes.items() if has(scenario, path)}
    try:
        found = evaluate(moved(scenario, own))
    except InfeasibleError as error:
        return str(error)
    if not np.isnan(found[name].magnitude):
        return ""
    why = tr("there is no {outcome}", outcome=tr(OUTCOMES[name].label).lower())
    return found.undefined.get(name, why)


def path_column(path: str, described: Parameter, system: UnitSystem) -> str:
    """Return the column of a number: its path and its unit in plain ASCII.

    Examples
    --------
    >>> from scenariokit.glossary import parameter
    >>> path_column("prices.labour_price", parameter("labour_price"), "metric")
    'prices_labour_price_money_per_hour'
    """
    return f"{path.replace('.', '_')}{unit_suffix(described.shown_unit(system))}"


def unit_suffix(unit: str) -> str:
    """Return a unit as the end of a column's name, in plain ASCII; empty for none."""
    plain = unit.replace("(", "").replace(")", "").replace("^", "").replace("*", "_")
    return f"_{plain.replace('/', '_per_')}" if unit else ""


def shown_number(value: Quantity, described: Parameter, system: UnitSystem, rate: float) -> Any:
    """Return plain numbers of a parameter in the reader's unit, money at a rate.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> from scenariokit.glossary import parameter
    >>> round(shown_number(quantity("3 money/kg"), parameter("produce_price"), "us", 1.1), 3)
    1.497
    """
    number = units.magnitude(value, described.shown_unit(system))
    return number * rate if "money" in described.unit else number
