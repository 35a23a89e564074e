"""What must hold for a grower: limits that rule a method out, whatever else speaks for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pint

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.scenario import Evaluation, Scenario
from scenariokit.units import Quantity

GRAVITY = 9.80665
"""m/s², standard: a floor's bearing load in kPa as the mass that weighs so much."""


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
    per_week : bool
        Whether it holds for a week of the season, on average, and not for the whole of it.
    between_fills : bool
        Whether it is the days between two fills by hand.
    question : str
        What it asks of a grower.
    """

    id: str
    label: str
    parameter: Parameter
    outcome: str
    least: bool = False
    per_tank: bool = False
    per_week: bool = False
    between_fills: bool = False
    question: str = ""

    def of(self, scenario: Scenario, values: Any) -> Any:
        """Return what the limit bounds, as plain numbers, from numbers of its outcome.

        Parameters
        ----------
        scenario : Scenario
            Its tank, season and level.
        values : float or array
            The outcome in its own unit.
        """
        if self.between_fills:
            return _days_between_fills(scenario, values)
        if self.per_tank:
            values = values * _fitting(scenario.tank.area.magnitude, values, np.max)
        if self.per_week:
            return values / (_fitting(_season_days(scenario), values, np.min) / 7)
        return values


def _fitting(part: Any, values: Any, worst: Callable[[Any], Any]) -> Any:
    """Return a number of the scenario to go with `values`: the worst of several that do not fit."""
    if isinstance(part, float) or np.shape(part) == np.shape(values):
        return part
    return worst(part)


def _season_days(scenario: Scenario) -> Any:
    crop = scenario.crop
    stages = (crop.days_initial, crop.days_development, crop.days_mid, crop.days_late)
    return sum(stage.magnitude for stage in stages)


def _days_between_fills(scenario: Scenario, refills: Any) -> Any:
    """Return the days between fills by hand; NaN where nobody has to fill."""
    level, none = scenario.method.level, np.full(np.shape(refills), np.nan)
    if level.regime == "hand-filled":
        return np.nan_to_num(none) + _fitting(level.fill_interval.magnitude, refills, np.min)
    if level.held or level.regime == "none":
        return none
    return _fitting(_season_days(scenario), refills, np.min) / (refills + 1)


def _kind(id: str, label: str, unit: str, slider: tuple[float, float, float], usual: float,
          help: str, outcome: str, us_unit: str = "", **more: Any) -> LimitKind:  # fmt: skip
    described = Parameter(id, id, label, unit, 0, 1e9, slider, usual, help,
                          mark("the grower's own answer"), mark("What must hold"), us_unit)  # fmt: skip
    return LimitKind(id, label, described, outcome, **more)


LIMITS: dict[str, LimitKind] = {
    one.id: one
    for one in (
        _kind("most_medium", mark("Growing medium at most"), "L/m^2", (0, 60, 1), 10,
              mark("Growing medium that can be had for each square metre; 0 if there is none."),
              "medium_volume_per_area", "US_dry_quart/ft^2",
              question=mark("How much growing medium can you get for a square metre?")),
        _kind("deepest_water", mark("Water no deeper than"), "cm", (0, 40, 0.5), 10,
              mark("Deepest water that is allowed, for the sake of children, floor or frame. A child "
                   "can drown in a few centimetres: cover every tank."), "fullest_depth", "inch",
              question=mark("How deep may water stand?")),
        _kind("most_load", mark("Weight of water at most"), "kg/m^2", (0, 400, 5), 100,
              mark("What floor, bench or roof may bear besides everything else on it. Ask a licensed "
                   "engineer before you put water on a roof, balcony or upper floor."),
              "water_load", "lb/ft^2",
              question=mark("How much weight of water may stand on each square metre?")),
        _kind("most_investment", mark("Money for equipment at most"), "money", (0, 1000, 5), 200,
              mark("What can be spent on equipment for the whole tank."), "investment_per_area",
              per_tank=True, question=mark("How much can you spend on equipment for the tank?")),
        _kind("most_labour", mark("Labour at most"), "hour", (0, 60, 0.5), 10,
              mark("Hours that can be worked for one crop on the whole tank."), "labour_per_area",
              per_tank=True, question=mark("How many hours can you work for a crop in the tank?")),
        _kind("most_water", mark("Water in a season at most"), "L", (0, 5000, 50), 1500,
              mark("Water that can be had for one crop on the whole tank."), "season_water", "gal",
              per_tank=True, question=mark("How much water do you have in a season?")),
        _kind("least_days", mark("Days that it must last unattended"), "day", (0, 21, 0.5), 3,
              mark("Days on which nobody comes, or after which a failed valve is noticed."),
              "autonomy", least=True, question=mark("For how many days may nobody come?")),
        _kind("least_yield", mark("Yield at least"), "kg/m^2", (0, 10, 0.1), 4,
              mark("What a square metre of tank must bring."), "yield_per_area", "lb/ft^2", least=True,
              question=mark("What must a square metre bring?")),
        _kind("most_investment_per_area", mark("Money for equipment at most, each m²"), "money/m^2",
              (0, 200, 1), 50, mark("What can be spent on equipment for each square metre of tank."),
              "investment_per_area", "money/ft^2",
              question=mark("How much can you spend on equipment for a square metre?")),
        _kind("most_labour_per_week", mark("Labour in a week at most"), "hour", (0, 20, 0.25), 2,
              mark("Hours that can be worked on the whole tank in a week, averaged over the season. "
                   "Planting and lifting come in bursts and take more."), "labour_per_area",
              per_tank=True, per_week=True, question=mark("How many hours can you work in a week?")),
        _kind("least_fill_days", mark("Days between fills by hand at least"), "day", (0, 30, 1), 3,
              mark("How many days must lie between two fills, where somebody fills the tank by hand."),
              "refills", least=True, between_fills=True,
              question=mark("How many days must lie between two fills by hand?")),
    )
}  # fmt: skip
"""The limits that can be set, by id."""


@dataclass(frozen=True)
class Breach:
    """A limit beside what a method has; broken, unless it came from `beside_limits`.

    Parameters
    ----------
    limit : LimitKind
        Which.
    value, allowed : quantity
        What the method has at its stated values, and the limit.
    share : float
        In which share of the draws it is broken; without draws 1 if it is broken and else 0.
    needed : quantity
        The strictest limit that the method would keep: its value, or with a
        share that is tolerated the value that all but this share of the draws keep.
    broken : bool
        Whether it counts as broken.
    drawn : bool
        Whether `share` comes from draws; else from the stated values.
    """

    limit: LimitKind
    value: Quantity
    allowed: Quantity
    share: float
    needed: Quantity = None
    broken: bool = True
    drawn: bool = False

    @property
    def excess(self) -> Quantity:
        """How far what is needed lies beyond what is allowed; below zero there is room left."""
        gap = self.needed - self.allowed
        return -gap if self.limit.least else gap


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
            tr(
                "no limit is called {unknown}; there are {known}",
                unknown=", ".join(unknown),
                known=", ".join(LIMITS),
            )
        )
    found, problems = {}, []
    for name, value in given.items():
        number, problem = to_floats(name, _as_mass(name, value), LIMITS[name].parameter)
        if problem is None and np.ndim(number):
            problem = Problem(name, f"{value}", "holds several values", "one value", kind="range")
        if problem is not None:
            problems.append(problem)
        else:
            found[name] = float(number)
    if problems:
        raise argument_error(problems, "limits")
    return found


def _as_mass(name: str, value: Any) -> Any:
    """Return a load given as a pressure, as building codes do, as the mass that weighs so much."""
    if name != "most_load":
        return value
    try:
        given = units.quantity(value)
    except (pint.UndefinedUnitError, ValueError, TypeError):
        return value  # told by whoever reads it
    if not given.is_compatible_with("kPa"):
        return value
    return units.quantity(given.m_as("Pa") / GRAVITY, "kg/m^2")


def breaches(
    evaluation: Evaluation,
    given: Mapping[str, Any],
    draws: Mapping[str, Any] | None = None,
    tolerated: float | None = None,
) -> tuple[Breach, ...]:
    """Return the limits that a method breaks.

    Parameters
    ----------
    evaluation : Evaluation
        Of the method.
    given : mapping
        Id of `LIMITS` to a quantity or string; what is not named is not limited.
    draws : mapping, optional
        Outcome name to that method's draws in the outcome's own unit, to say in
        which share of them the limit is broken.
    tolerated : float, optional
        Share of the draws in which a limit may be broken, from 0 to below 1.
        Left out, a limit is judged at the stated values, or at the worst of
        them if they are several.

    Raises
    ------
    InfeasibleError, ArgumentError
        As in `read_limits`.
    RangeError
        If `tolerated` is no such share.

    Notes
    -----
    A method without the number, such as the days until a field without a tank
    is dry, breaks no limit on it; nor does a draw without it.

    Examples
    --------
    >>> from scenariokit.scenario import evaluate, scenario_for
    >>> bag = evaluate(scenario_for("medium_bag"))
    >>> [one.limit.id for one in breaches(bag, {"most_medium": "0 L/m^2"})]
    ['most_medium']
    """
    rows = beside_limits(evaluation, given, draws, tolerated)
    return tuple(row for row in rows if row.broken)


def beside_limits(
    evaluation: Evaluation,
    given: Mapping[str, Any],
    draws: Mapping[str, Any] | None = None,
    tolerated: float | None = None,
) -> tuple[Breach, ...]:
    """Return each limit beside what a method has, kept or broken.

    Limits on a number that the method does not have are left out. Parameters
    and errors are those of `breaches`.

    Examples
    --------
    >>> from scenariokit.scenario import evaluate, scenario_for
    >>> bag = evaluate(scenario_for("medium_bag"))
    >>> (one,) = beside_limits(bag, {"deepest_water": "10 cm"})
    >>> one.broken, f"{one.excess:g~P}"
    (False, '-6 cm')
    """
    read_tolerated(tolerated)
    rows = []
    for name, allowed in read_limits(given).items():
        found = judged(LIMITS[name], allowed, evaluation, draws or {}, tolerated)
        if found is not None:
            rows.append(found.as_breach())
    return tuple(rows)


def read_tolerated(tolerated: float | None) -> None:
    """Refuse what is no share of draws that may break a limit.

    Raises
    ------
    RangeError
        If it is not from 0 to below 1.
    """
    if tolerated is not None and not 0 <= tolerated < 1:
        reason = "is no share of draws that may break a limit"
        problem = Problem("tolerated", f"{tolerated:g}", reason, "0 to below 1", kind="range")
        raise argument_error([problem], "limits")


@dataclass(frozen=True)
class Judged:
    """Plain numbers of a limit beside what a method has; see `Breach`."""

    limit: LimitKind
    value: float
    allowed: float
    share: float
    broken: bool
    drawn: bool
    rows: Any
    tolerated: float | None

    def as_breach(self) -> Breach:
        """Return it with units."""
        needed = self.value
        if self.tolerated is not None:
            needed = _kept_by_all_but(self.rows, self.tolerated, least=self.limit.least)
        as_quantity, unit = units.registry().Quantity, units.unit_of(self.limit.parameter.unit)
        return Breach(
            self.limit, as_quantity(self.value, unit), as_quantity(self.allowed, unit),
            self.share, as_quantity(needed, unit), self.broken, self.drawn,
        )  # fmt: skip


def judged(
    kind: LimitKind,
    allowed: float,
    evaluation: Evaluation,
    draws: Mapping[str, Any],
    tolerated: float | None,
) -> Judged | None:
    """Return a limit beside what a method has, as plain numbers; None if it has no such number."""
    scenario = evaluation.scenario
    stated = np.atleast_1d(kind.of(scenario, evaluation[kind.outcome].magnitude))
    known = stated[~np.isnan(stated)]
    if not known.size:
        return None
    value = float(known.min() if kind.least else known.max())
    drawn = kind.outcome in draws
    rows = np.atleast_1d(kind.of(scenario, draws[kind.outcome])) if drawn else known
    share = np.count_nonzero(_broken(kind, rows, allowed)) / rows.size
    broken = bool(_broken(kind, value, allowed) if tolerated is None else share > tolerated)
    return Judged(kind, value, allowed, share, broken, drawn, rows, tolerated)


def _kept_by_all_but(rows: Any, tolerated: float, *, least: bool) -> float:
    """Return the strictest limit that is broken in no more than the tolerated share of draws."""
    # NaN breaks no limit: it stands at the end that is never broken.
    up = np.where(np.isnan(rows), -np.inf, -rows if least else rows)
    spared = min(int(tolerated * up.size * (1 + 1e-12)), up.size - 1)
    place = up.size - 1 - spared
    found = float(np.partition(up, place)[place])
    return -found if least else found


def _broken(kind: LimitKind, values: Any, allowed: float) -> Any:
    """Return where a limit is broken; a number that does not exist breaks none."""
    slack = 1e-9 * max(abs(allowed), 1.0)
    return values < allowed - slack if kind.least else values > allowed + slack
