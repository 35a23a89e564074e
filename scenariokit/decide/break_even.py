"""Where two methods are equal, and what would have to be true for a method to win."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy import optimize

from scenariokit import units
from scenariokit.decide.over_range import ends_of, outcome_over, parameter_at, stated
from scenariokit.scenario import OUTCOMES, Scenario
from scenariokit.units import QuantityLike

GRID = 129
"""Values of the parameter that are looked at before crossings are pinned down."""


@dataclass(frozen=True)
class Crossing:
    """A value of the parameter at which the better of two methods changes.

    Parameters
    ----------
    at : quantity
        The value.
    kind : {'equal', 'jump'}
        Whether both are equal there, or one leaps past the other, as where one
        more filling becomes due.
    below, above : str
        Id of the better method just below and above.
    outcome : quantity
        The outcome of both there; of a leap, that of the first.
    """

    at: Any
    kind: Literal["equal", "jump"]
    below: str
    above: str
    outcome: Any


@dataclass(frozen=True)
class BreakEven:
    """Two methods over the range of one parameter. Make it by `break_even`.

    Parameters
    ----------
    one, other, path, name : str
        The methods, the parameter's path, and the outcome.
    values : quantity
        Values of the parameter that were looked at.
    first, second : quantity
        Outcomes of the two there; NaN where a value cannot be.
    crossings : tuple of Crossing
        Where the better one changes, in rising order; empty if never in range.
    always : str
        Id of the method that is better in the whole range; empty if there is
        a crossing, both are equal throughout, or nothing can be compared.
    equal : bool
        Whether both are equal throughout.
    undefined : bool
        Whether some values of the range cannot be, or give no outcome.
    """

    one: str
    other: str
    path: str
    name: str
    values: Any
    first: Any
    second: Any
    crossings: tuple[Crossing, ...]
    always: str
    equal: bool
    undefined: bool


def break_even(
    one: Scenario,
    other: Scenario,
    path: str,
    name: str = "cost_per_usable_kilogram",
    low: QuantityLike | None = None,
    high: QuantityLike | None = None,
    only: str = "",
) -> BreakEven:
    """Return where two methods are equal in an outcome, over the range of one parameter.

    Parameters
    ----------
    one, other : Scenario
        The two methods.
    path : str
        Path of the parameter. It moves in both that have it.
    name : str
        The outcome.
    low, high : quantity, optional
        Ends of the range; those of the parameter's slider if left out.
    only : str
        Id of the one method in which it moves; both if left out.

    Raises
    ------
    RangeError
        If neither has the path, or the ends are out of order or not possible.

    Notes
    -----
    The range is looked at in 129 values, in one vectorised pass for each
    method; where the sign of the difference changes, the crossing is pinned
    down to the last digits by Brent's method. Two crossings within one step of
    the grid can be missed.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> found = break_even(scenario_for("medium_bag"), scenario_for("perforated_tray"),
    ...                    "prices.medium_factor", "cost_per_kilogram")
    >>> [(crossing.below, crossing.above) for crossing in found.crossings]
    [('medium_bag', 'perforated_tray')]
    """
    moving = [scenario for scenario in (one, other) if only in ("", scenario.method.id)]
    described = parameter_at(moving, path)
    a, b = ends_of(described, low, high)
    grid = np.linspace(a, b, GRID)

    def outcome(scenario: Scenario, values: Any) -> Any:
        still = scenario not in moving
        return outcome_over(scenario, {"" if still else path: values}, name)

    first, second = outcome(one, grid), outcome(other, grid)
    sign = -1.0 if OUTCOMES[name].better == "lower" else 1.0

    def lead(values: Any) -> Any:
        return sign * (outcome(one, values) - outcome(other, values))

    ids = (one.method.id, other.method.id)
    gap = sign * (first - second)
    size = _size(first, second)
    roots = crossings(lead, grid, gap, size)
    known = gap[~np.isnan(gap)]
    equal = bool(known.size and np.all(np.abs(known) <= size))
    found = tuple(
        Crossing(
            units.quantity(at, described.unit), kind,
            ids[0] if before > 0 else ids[1], ids[1] if before > 0 else ids[0],
            units.quantity(float(outcome(one, np.array([at]))[0]), OUTCOMES[name].unit),
        )
        for at, kind, before in roots
    )  # fmt: skip
    always = ""
    if not found and not equal and known.size:
        always = ids[0] if known[np.argmax(np.abs(known))] > 0 else ids[1]
    unit = OUTCOMES[name].unit
    return BreakEven(
        *ids, path, name, units.quantity(grid, described.unit), units.quantity(first, unit),
        units.quantity(second, unit), found, always, equal, bool(np.isnan(gap).any()),
    )  # fmt: skip


def _size(*values: Any) -> float:
    """Return what counts as no difference beside values of this size."""
    known = np.concatenate([np.abs(part[np.isfinite(part)]) for part in values])
    return 1e-9 * float(known.max(initial=0.0)) + 1e-300


def crossings(
    lead: Callable[[Any], Any], grid: Any, gap: Any, size: float
) -> list[tuple[float, Literal["equal", "jump"], float]]:
    """Return where a lead changes its sign: value, kind, and the sign before.

    Parameters
    ----------
    lead : callable
        Takes an array of values of the parameter.
    grid, gap : ndarray
        Values looked at, and the lead there.
    size : float
        What counts as no difference.
    """
    found: list[tuple[float, Literal["equal", "jump"], float]] = []
    signs = np.where(np.abs(gap) <= size, 0.0, np.sign(gap))
    marked = [number for number, sign in enumerate(signs) if sign and not np.isnan(sign)]
    for start, stop in itertools.pairwise(marked):
        if signs[start] == signs[stop] or np.isnan(gap[start : stop + 1]).any():
            continue
        at, kind = _pin(lead, float(grid[start]), float(grid[stop]), size)
        found.append((at, kind, float(signs[start])))
    return found


def _pin(
    lead: Callable[[Any], Any], low: float, high: float, size: float
) -> tuple[float, Literal["equal", "jump"]]:
    def one(value: float) -> float:
        return float(lead(np.array([value]))[0])

    at = float(optimize.brentq(one, low, high, xtol=1e-15 * max(abs(low), abs(high)), rtol=1e-15))
    return at, "equal" if abs(one(at)) <= 1e3 * size else "jump"


@dataclass(frozen=True)
class Turn:
    """A value at which a method would begin to win, or cease to.

    Parameters
    ----------
    path, label : str
        The parameter.
    unit : str
        Its unit.
    stated : float
        Where it stands, in that unit.
    at : float or None
        The nearest value at which the best method changes; None if there is
        none within the range that was looked at.
    rival : str
        Id of the method that is as good there; the best of the others.
    kind : {'equal', 'jump', ''}
        As in `Crossing`; empty where there is none.
    far : float
        How far that is from where it stands, as a share of the range; infinite
        if there is none.
    """

    path: str
    label: str
    unit: str
    stated: float
    at: float | None
    rival: str
    kind: str
    far: float


def turns(
    scenarios: Sequence[Scenario],
    method: str,
    paths: Sequence[str],
    name: str = "margin_per_area",
    labels: Sequence[str] = (),
) -> tuple[Turn, ...]:
    """Return, for one parameter at a time, where a method begins or ceases to be the best.

    Parameters
    ----------
    scenarios : sequence of Scenario
        All that are compared.
    method : str
        Id of the one that is asked about.
    paths : sequence of str
        Parameters to try, each within the range of its slider. A path that
        starts with ``method.`` or ``harvest.`` moves in that method alone, any
        other in all.
    name : str
        The outcome.
    labels : sequence of str, optional
        What a person reads for the paths; the parameters' labels if left out.

    Returns
    -------
    tuple of Turn
        The nearest first; what never turns last.

    Raises
    ------
    RangeError
        If the method is not among the scenarios.
    """
    mine = [one for one in scenarios if one.method.id == method]
    if not mine:
        parameter_at([], method)
    others = [one for one in scenarios if one.method.id != method]
    sign = -1.0 if OUTCOMES[name].better == "lower" else 1.0
    found = []
    for number, path in enumerate(paths):
        described = parameter_at(mine, path)
        label = labels[number] if labels else described.label
        own = path.startswith(("method.", "harvest."))
        low, high, _ = described.slider
        here = stated(mine[0], path)
        grid = np.linspace(min(low, here), max(high, here), GRID)

        def rows(values: Any, own: bool = own, path: str = path) -> Any:
            """Return the outcome of the method and, below it, of all others; more is better."""
            return sign * np.stack(
                [outcome_over(mine[0], {path: values}, name)]
                + [outcome_over(one, {"" if own else path: values}, name) for one in others]
            )

        def lead(values: Any, rows: Callable[[Any], Any] = rows) -> Any:
            table = rows(values)
            return table[0] - table[1:].max(axis=0)

        found.append(_turn(lead, rows, grid, here, others, (path, label, described.unit)))
    return tuple(sorted(found, key=lambda turn: turn.far))


def _turn(
    lead: Callable[[Any], Any],
    rows: Callable[[Any], Any],
    grid: Any,
    here: float,
    others: Sequence[Scenario],
    named: tuple[str, str, str],
) -> Turn:
    """Return the crossing that is nearest to where the parameter stands."""
    if not others:
        return Turn(*named, here, None, "", "", float("inf"))
    table = rows(grid)
    gap = table[0] - table[1:].max(axis=0)
    roots = crossings(lead, grid, gap, _size(table))
    if not roots:
        return Turn(*named, here, None, "", "", float("inf"))
    at, kind, _ = min(roots, key=lambda root: abs(root[0] - here))
    rival = others[int(np.nanargmax(rows(np.array([at]))[1:, 0]))].method.id
    return Turn(*named, here, at, rival, kind, abs(at - here) / float(grid[-1] - grid[0]))
