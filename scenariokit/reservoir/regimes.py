"""What goes through a tank: how it is refilled, its daily flows and its solutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np

from scenariokit.errors import Problem
from scenariokit.language import mark, tr
from scenariokit.reservoir.measured import Measured, measured, plain

EMPTY = mark("a level held at the floor is an empty tank")


@dataclass(frozen=True)
class ConstantLevel(Measured):
    """A float valve holds the level from planting on.

    Parameters
    ----------
    depth : quantity
        Level held [cm], above 0.
    valve_fails_on : quantity, optional
        First day on which the valve gives nothing any more [day]; the day after
        planting is day 1. A valve that fails on day 1 never worked.
    """

    depth: Any = field(metadata=measured("depth", above_zero=True, why=EMPTY))
    valve_fails_on: Any = field(default=None, metadata=measured("duration"))


@dataclass(frozen=True)
class FallingLevel(Measured):
    """A tank filled once, at planting.

    Parameters
    ----------
    start : quantity
        Level at planting [cm].
    """

    start: Any = field(metadata=measured("depth"))


@dataclass(frozen=True)
class FallingThenHeld(Measured):
    """A level that falls from planting on and is held by a float valve once it is low.

    Parameters
    ----------
    start : quantity
        Level at planting [cm], not below `depth`.
    depth : quantity
        Level held afterwards [cm], above 0.
    valve_fails_on : quantity, optional
        First day on which the valve gives nothing any more [day].
    """

    start: Any = field(metadata=measured("depth"))
    depth: Any = field(metadata=measured("depth", above_zero=True, why=EMPTY))
    valve_fails_on: Any = field(default=None, metadata=measured("duration"))

    def faults(self) -> list[Problem]:
        """Refuse a start below the level held: the valve would raise it at once."""
        if np.any(plain(self.start) < plain(self.depth)):
            return [
                Problem("start", str(self.start), tr("lies below the level held"), kind="range")
            ]
        return []


@dataclass(frozen=True)
class HandFilled(Measured):
    """A tank filled up by hand in the morning of some days.

    Parameters
    ----------
    depth : quantity
        Level to which it is filled [cm], above 0.
    every : int, optional
        Days between fillings: 7 fills in the morning of days 8, 15, 22 ...
    days : sequence of int, optional
        The days themselves, instead of `every`; the day after planting is day 1.
    missed : sequence of int
        Days on which it should have been filled and was not.
    start : quantity, optional
        Level at planting [cm]; `depth` if not given.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, if neither or
        both of `every` and `days` are given, or if a missed day is no filling day.
    """

    depth: Any = field(metadata=measured("depth", above_zero=True, why=EMPTY))
    every: int | None = None
    days: Sequence[int] | None = None
    missed: Sequence[int] = ()
    start: Any = field(default=None, metadata=measured("depth"))

    def faults(self) -> list[Problem]:
        """Return what is wrong with the days."""
        if (self.every is None) == (self.days is None):
            return [Problem("every, days", "", tr("give one of the two"), kind="range")]
        if self.every is not None and not _is_day(self.every):
            return [_day_problem("every", self.every)]
        problems = [
            _day_problem(name, day)
            for name in ("days", "missed")
            for day in getattr(self, name) or ()
            if not _is_day(day)
        ]
        for day in () if problems else self.missed:
            if not self.is_due(day):
                problems.append(Problem("missed", str(day), "is no filling day", kind="range"))
        return problems

    def is_due(self, day: int) -> bool:
        """Return whether `day` is a filling day, missed or not."""
        if self.days is not None:
            return day in self.days
        return day > 1 and (day - 1) % (self.every or 1) == 0

    def fills(self, days: int) -> tuple[int, ...]:
        """Return the days, up to a last one, on which the tank is in fact filled."""
        return tuple(d for d in range(1, days + 1) if self.is_due(d) and d not in self.missed)


def _is_day(value: object) -> bool:
    whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
    return whole and int(value) >= 1  # type: ignore[call-overload]


def _day_problem(name: str, value: object) -> Problem:
    return Problem(
        name, str(value), tr("is not a whole number of days"), tr("1 or more"), kind="range"
    )


Regime: TypeAlias = ConstantLevel | FallingLevel | FallingThenHeld | HandFilled
"""How a level is kept."""


@dataclass(frozen=True)
class Flows(Measured):
    """What leaves and enters a tank by itself, day by day.

    The first axis of an array is the day; further axes are those of an
    ensemble. A scalar holds for every day.

    Parameters
    ----------
    transpiration : quantity
        Water that the plants want [L/m² a day].
    evaporation : quantity, optional
        Evaporation from the tank [L/m² a day].
    rain : quantity, optional
        Rain that gets into the tank [mm a day].
    leak : quantity, optional
        Water lost through the tank [L/m² a day].
    discharge : quantity, optional
        Solution run off on purpose, evenly over the day [L/m² a day].
    drained : quantity, optional
        Solution let out in the morning, before any filling [L/m²]. What is not
        there is not let out.
    drained_on : sequence of int, optional
        Days on which `drained` is let out; every day if not given. The day
        after planting is day 1.
    demand_factor : float or array
        Multiplies transpiration and evaporation, one for each member of an
        ensemble; it has no day axis. 1 if not given.
    days : int, optional
        Length of the season, needed where no array tells it.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, or if the
        lengths along the day axis differ or are not known.
    """

    transpiration: Any = field(metadata=measured("water_use"))
    evaporation: Any = field(default=None, metadata=measured("water_use"))
    rain: Any = field(default=None, metadata=measured("daily_rain"))
    leak: Any = field(default=None, metadata=measured("water_use"))
    discharge: Any = field(default=None, metadata=measured("water_use"))
    drained: Any = field(default=None, metadata=measured("stored_water"))
    drained_on: Sequence[int] | None = None
    demand_factor: Any = field(default=None, metadata=measured("climate_factor"))
    days: int | None = None

    def faults(self) -> list[Problem]:
        """Return what is wrong with the day axis, and keep the number of days."""
        problems = [
            _day_problem(name, value)
            for name, value in (
                ("days", 1 if self.days is None else self.days),
                *(("drained_on", day) for day in self.drained_on or ()),
            )
            if not _is_day(value)
        ]
        lengths = {
            name: len(plain(getattr(self, name)))
            for name in ("transpiration", "evaporation", "rain", "leak", "discharge", "drained")
            if plain(getattr(self, name)).ndim
        }
        known = {size for size in lengths.values() if size > 1}
        known |= set() if self.days is None else {int(self.days)}
        if len(known) > 1:
            text = f"days {self.days}, {lengths}"
            problems.append(Problem("days", text, tr("lengths of the season differ"), kind="range"))
        elif not known and not lengths:
            problems.append(Problem("days", "", tr("is needed: no array tells it"), kind="range"))
        if not problems:
            object.__setattr__(self, "days", int(max(known, default=1)))
        return problems


@dataclass(frozen=True)
class Solute(Measured):
    """A dissolved element or salt: how it comes in and how plants take it up.

    Parameters
    ----------
    inflow : quantity
        Concentration of what is filled in, by valve or hand [mg/L].
    uptake : quantity, optional
        Concentration at which plants take it up, mass per volume transpired [mg/L].
    factor : float, optional
        Instead of `uptake`: uptake as a multiple of the concentration around the
        roots. With neither, plants take up none.
    start : quantity, optional
        Concentration at planting [mg/L]; `inflow` if not given.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, or if both
        `uptake` and `factor` are given.
    """

    inflow: Any = field(metadata=measured("concentration"))
    uptake: Any = field(default=None, metadata=measured("concentration"))
    factor: Any = field(default=None, metadata=measured("uptake_factor"))
    start: Any = field(default=None, metadata=measured("concentration"))

    def faults(self) -> list[Problem]:
        """Refuse two descriptions of the same uptake."""
        if self.uptake is not None and self.factor is not None:
            return [Problem("uptake, factor", "", tr("give one of the two"), kind="range")]
        return []
