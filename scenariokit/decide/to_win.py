"""What would have to be true for a method to be the best, one number at a time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from scenariokit import units
from scenariokit.decide.crossings import ROUNDING, narrowed
from scenariokit.decide.over_range import (
    OWN,
    candidate_paths,
    ends_of,
    has,
    label_of,
    outcome_over,
    parameter_at,
    reach,
    refuse_draws,
    sign_of,
    stated,
)
from scenariokit.decide.swing import parts_drawn
from scenariokit.decide.turns_found import ToWin, Turn
from scenariokit.errors import Problem, argument_error
from scenariokit.scenario import OUTCOMES, Scenario, outcome_values
from scenariokit.uncertainty import Uncertainty
from scenariokit.uncertainty.placing import one_crop_and_currency
from scenariokit.units import Floats

__all__ = ["ToWin", "Turn", "to_win", "turns"]

SPACES = 128
"""Spaces between the values of a number that are looked at."""
_SMOOTH = 1e-7
"""What may be left of a difference where it is zero, as a share of that at the nearest values."""


def to_win(
    scenarios: Sequence[Scenario],
    method: str,
    name: str = "margin_per_area",
    paths: Sequence[str] | None = None,
    labels: Sequence[str] = (),
    uncertainty: Uncertainty | None = None,
) -> ToWin:
    """Return, for one number at a time, where a method begins or ceases to be the best.

    Parameters
    ----------
    scenarios : sequence of Scenario
        All that are compared, each of another method.
    method : str
        Id of the one that is asked about.
    name : str
        The outcome.
    paths : sequence of str, optional
        Numbers to try, each within the range of its slider, and beyond it as
        far as it stands now; all of the method's if left out.
    labels : sequence of str, optional
        What a person reads for the paths; the parameters' labels if left out.
    uncertainty : Uncertainty, optional
        Whose spreads tell how probable a value beyond the turn is.

    Raises
    ------
    RangeError
        If the method is not among the scenarios, it has no such path, or there
        is no such outcome.
    InfeasibleError
        If the scenarios cannot stand side by side.

    Notes
    -----
    A number of the method itself (its path begins with ``method.`` or
    ``harvest.``) moves in that method alone, any other in all that have it:
    the method must then beat the best of the others as they too become. A
    common number that does not stand at one value in all moves in the method
    alone. Every number is looked at in 129 values, in one pass for each
    method; all turns together are then pinned down to neighbouring floats. A
    method that is best only between two of these values is missed. A method
    without a value of the outcome loses to any that has one. Numbers are moved
    one at a time: what several would do together is not seen.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> both = [scenario_for("medium_bag"), scenario_for("perforated_tray")]
    >>> found = to_win(both, "perforated_tray", "cost_per_kilogram", ["prices.medium_factor"])
    >>> found.wins, found.turns[0].wins, found.turns[0].rival
    (False, 'above', 'medium_bag')
    """
    one_crop_and_currency(scenarios)
    refuse_draws(scenarios)
    sign = sign_of(name)
    mine = next((one for one in scenarios if one.method.id == method), None)
    if mine is None:
        known = ", ".join(one.method.id for one in scenarios)
        problem = Problem("method", method, "is not compared", known, kind="range")
        raise argument_error([problem], "to_win")
    others = [one for one in scenarios if one is not mine]
    wanted = candidate_paths(mine) if paths is None else tuple(paths)
    stand = [outcome_values(one, [name])[name] for one in (mine, *others)]
    field = _Field(mine, others, name, sign, np.array(stand, dtype=float))
    dials = [
        _dial(field, path, labels[number] if labels else "") for number, path in enumerate(wanted)
    ]
    now = sign * field.now
    rival, best = _best(now[1:])
    found = _turns(field, dials, _zero(now))
    if uncertainty is not None:
        found = _with_chances(found, mine, uncertainty)
    lead = float(now[0] - best) if math.isfinite(best) else math.nan
    return ToWin(
        method, name, bool(_ahead(now[:, np.newaxis])[0] > _zero(now)),
        others[rival].method.id if math.isfinite(best) else "",
        units.quantity(lead, OUTCOMES[name].unit),
        tuple(sorted(found, key=lambda turn: turn.far)),
    )  # fmt: skip


def turns(
    scenarios: Sequence[Scenario],
    method: str,
    paths: Sequence[str] | None = None,
    name: str = "margin_per_area",
    labels: Sequence[str] = (),
    uncertainty: Uncertainty | None = None,
) -> tuple[Turn, ...]:
    """Return the turns of `to_win`, the nearest first; parameters and errors are its."""
    return to_win(scenarios, method, name, paths, labels, uncertainty).turns


class _Dial(NamedTuple):
    """One number that is moved: where it stands, its values, and whether all methods have it."""

    path: str
    label: str
    unit: str
    here: float
    common: bool
    places: Floats
    ends: tuple[float, float]


class _Field(NamedTuple):
    """The method that is asked about, its rivals, the outcome, and its values as things stand."""

    mine: Scenario
    others: list[Scenario]
    name: str
    sign: float
    now: Floats

    def over(self, dial: _Dial) -> Any:
        """Return the outcome over one number's values, the method first; more is better."""
        changes = {dial.path: dial.places}
        rows = np.repeat(self.now[:, np.newaxis], len(dial.places), axis=1)
        rows[0] = outcome_over(self.mine, changes, self.name)
        for number, one in enumerate(self.others, start=1):
            if dial.common and has(one, dial.path):
                rows[number] = outcome_over(one, changes, self.name)
        return self.sign * rows

    def rows(self, dials: Sequence[_Dial], places: Floats) -> Any:
        """Return the same with each of several numbers moved alone, all in one pass a method.

        Parameters
        ----------
        dials : sequence
            The numbers; one may stand several times.
        places : ndarray
            One row of values a number.
        """
        count = places.shape[1]
        width = places.size
        changes: dict[str, Any] = {"": np.empty(width)}
        common: set[str] = {""}
        for number, dial in enumerate(dials):
            values = changes.setdefault(dial.path, np.full(width, dial.here))
            values[number * count : (number + 1) * count] = places[number]
            if dial.common:
                common.add(dial.path)
        shared = {path: values for path, values in changes.items() if path in common}
        found = [outcome_over(self.mine, changes, self.name)]
        found += [outcome_over(one, shared, self.name) for one in self.others]
        return self.sign * np.stack(found)


def _dial(field: _Field, path: str, label: str) -> _Dial:
    """Return a number of the method with the values to look at, that which stands among them."""
    mine = field.mine
    described = parameter_at([mine], path)
    here = stated(mine, path)
    sharers = [one for one in field.others if has(one, path)]
    common = not path.startswith(OWN) and all(stated(one, path) == here for one in sharers)
    low, high = ends_of(described, None, None, [here])
    fits = reach([mine, *sharers] if common else [mine], path, low, high)
    places = np.union1d(np.linspace(fits.low, fits.high, SPACES + 1), [here])
    return _Dial(
        path, label or label_of(path, described), described.unit, here, common, places, (low, high)
    )


def _ahead(rows: Any) -> Any:
    """Return by how much the first row is above the best of the others, where it has a value."""
    return rows[0] - np.where(np.isnan(rows[1:]), -np.inf, rows[1:]).max(axis=0, initial=-np.inf)


def _best(values: Any) -> tuple[int, float]:
    """Return number and value of the best; minus infinity if none has a value."""
    if not len(values):
        return -1, -math.inf
    known = np.where(np.isnan(values), -np.inf, values)
    number = int(known.argmax())
    return number, float(known[number])


def _zero(values: Any) -> float:
    """Return what is no difference beside values of this size."""
    return ROUNDING * float(np.max(np.abs(values), initial=0.0, where=np.isfinite(values)))


class _Bracket(NamedTuple):
    """Neighbouring values between which it changes whether the method is the best."""

    dial: int
    low: float
    high: float
    low_lead: float
    high_lead: float


def _turns(field: _Field, dials: Sequence[_Dial], zero: float) -> list[Turn]:
    """Return the nearest turn of every number."""
    found, brackets = [], []
    for number, dial in enumerate(dials):
        rows = field.over(dial)
        lead = _ahead(rows)
        brackets += _brackets(number, dial, np.where(np.abs(lead) <= zero, 0.0, lead))
        span = np.nanmax(rows, axis=1) - np.nanmin(rows, axis=1) if _known(rows) else np.inf
        effect = bool(np.any(span > _zero(rows)))
        found.append(
            Turn(dial.path, dial.label, dial.unit, dial.here, None, "", "", math.inf,
                 looked=dial.ends, effect=effect)
        )  # fmt: skip
    for bracket, turn in zip(brackets, _pinned(field, dials, brackets, zero), strict=True):
        if turn.far < found[bracket.dial].far:
            found[bracket.dial] = replace(turn, effect=True)
    return found


def _known(rows: Any) -> bool:
    """Return whether every method has a value, and has it throughout."""
    return not np.isnan(rows).any()


def _brackets(number: int, dial: _Dial, lead: Any) -> list[_Bracket]:
    """Return the nearest change on either side of where a number stands."""
    places, wins = dial.places, lead > 0
    here = int(np.searchsorted(places, dial.here))
    changed = np.flatnonzero(wins[1:] != wins[:-1])
    sides = [changed[changed < here][-1:], changed[changed >= here][:1]]
    return [
        _Bracket(number, *(float(x) for x in (*places[at : at + 2], *lead[at : at + 2])))
        for side in sides
        for at in side
    ]


def _pinned(
    field: _Field, dials: Sequence[_Dial], brackets: Sequence[_Bracket], zero: float
) -> list[Turn]:
    """Return the turns within all brackets, narrowed to neighbouring floats together."""
    if not brackets:
        return []
    moving = [dials[one.dial] for one in brackets]

    def leads(places: Floats) -> Floats:
        return _ahead(field.rows(moving, places)).reshape(places.shape)

    ends = np.array([one[1:] for one in brackets]).T
    low, high, low_end, high_end = narrowed(leads, *ends)
    losing: Floats = np.where(low_end > 0, high, low)
    table = field.rows(moving, losing[:, np.newaxis])
    found = []
    for number, dial in enumerate(moving):
        rise = np.abs(ends[2:, number])
        left = np.abs([low_end[number], high_end[number]])
        smooth = np.all(left <= _SMOOTH * np.max(rise) + 2 * zero) and np.isfinite(rise).all()
        at = float((low, high)[int(np.argmin(np.where(np.isnan(left), np.inf, left)))][number])
        rival, best = _best(table[1:, number])
        found.append(
            Turn(
                dial.path, dial.label, dial.unit, dial.here, at,
                field.others[rival].method.id if math.isfinite(best) else "",
                "equal" if smooth else "jump", abs(at - dial.here) / (dial.ends[1] - dial.ends[0]),
                "below" if low_end[number] > 0 else "above",
                (at - dial.here) / abs(dial.here) if dial.here else math.nan, looked=dial.ends,
            )
        )  # fmt: skip
    return found


def _with_chances(found: Sequence[Turn], mine: Scenario, uncertainty: Uncertainty) -> list[Turn]:
    """Return the turns with the probability of a value beyond them."""
    (place,) = parts_drawn([mine], uncertainty)
    spreads = {path: spread for _, path, spread in place.spreads}
    result = []
    for one in found:
        if one.value is None or one.path not in spreads:
            result.append(one)
            continue
        below = float(spreads[one.path].share_below(one.value))
        beyond = below if one.value.magnitude < one.stated else 1 - below
        result.append(replace(one, chance=beyond))
    return result
