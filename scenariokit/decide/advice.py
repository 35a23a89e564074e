"""A recommendation as data: what was ruled out, what is best, how sure, and what is not known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scenariokit import units
from scenariokit.decide.chance import Dominance, best_share, dominance, payoffs
from scenariokit.decide.front import on_front
from scenariokit.decide.limits import Breach, breaches
from scenariokit.errors import InfeasibleError
from scenariokit.parameters import Direction
from scenariokit.scenario import OUTCOMES, Evaluation
from scenariokit.uncertainty import Ensemble

CLEAR, LIKELY = 0.9, 0.7
"""Chance of beating the runner-up from which a choice is called clear, or likely."""
Grade = Literal["clear", "likely", "open", "alone", "none"]


@dataclass(frozen=True)
class Standing:
    """One method among those compared.

    Parameters
    ----------
    method, label : str
        Its id, and what a person reads.
    breaches : tuple of Breach
        The limits that it breaks.
    undefined : float
        In which share of the draws the objective does not exist.
    mean, low, high : quantity
        Mean and 5 and 95 % quantiles of the objective; NaN where undefined.
    best : float
        In which share of the draws it is the best of those left.
    regret : quantity
        By how much it falls short of the best of each draw, on average.
    on_front : bool
        Whether no other method left beats it in all criteria, by means.
    """

    method: str
    label: str
    breaches: tuple[Breach, ...]
    undefined: float
    mean: Any
    low: Any
    high: Any
    best: float
    regret: Any
    on_front: bool

    @property
    def left(self) -> bool:
        """Whether it may be chosen: within the limits, and with a value in every draw."""
        return not self.breaches and self.undefined == 0


@dataclass(frozen=True)
class Advice:
    """What the numbers recommend, and on what that rests. Make it by `advise`.

    Parameters
    ----------
    objective : str
        The outcome by which methods were put in order.
    criteria : tuple of str
        The outcomes of the front.
    standings : tuple of Standing
        One a method, in the order compared.
    chosen, runner_up : str
        Ids of the first and second of those left; empty if there is none.
    beats : float
        In which share of the draws the chosen one is better than the runner-up.
    gap : quantity
        5, 50 and 95 % quantiles of the chosen one less the runner-up; NaN
        without one.
    dominance : {'first order', 'second order', ''}
        Of the chosen one over the runner-up.
    grade : {'clear', 'likely', 'open', 'alone', 'none'}
        How far apart the two are, by `beats`; whether only one is left, or none.
    knowing : quantity
        What it would be worth to know all before choosing.
    draws : int
        On how many draws it rests.
    """

    objective: str
    criteria: tuple[str, ...]
    standings: tuple[Standing, ...]
    chosen: str
    runner_up: str
    beats: float
    gap: Any
    dominance: Dominance
    grade: Grade
    knowing: Any
    draws: int

    def standing(self, method: str) -> Standing:
        """Return the standing of the method called `method`.

        Raises
        ------
        InfeasibleError
            If it is not among them.
        """
        for one in self.standings:
            if one.method == method:
                return one
        raise InfeasibleError(f"no method {method!r} was compared")


def advise(
    found: Ensemble,
    evaluations: Sequence[Evaluation],
    limits: Mapping[str, Any] | None = None,
    objective: str = "margin_per_area",
    criteria: Sequence[str] = ("yield_per_area", "margin_per_area"),
) -> Advice:
    """Return a recommendation.

    Parameters
    ----------
    found : Ensemble
        Draws of the methods, with the objective and the criteria among its outcomes.
    evaluations : sequence of Evaluation
        The same methods at their stated values, in the same order.
    limits : mapping, optional
        What must hold, by id of `scenariokit.decide.LIMITS`.
    objective : str
        Outcome by which methods are put in order.
    criteria : sequence of str
        Outcomes of the front.

    Raises
    ------
    InfeasibleError
        If the methods do not agree, an outcome was not drawn, or has no direction.
    ArgumentError
        If a limit cannot be read.

    Notes
    -----
    The rule: methods that break a limit, or have no value of the objective in
    some draw, are set aside; of those left the one with the best mean of the
    objective is chosen. It is also the one with the least expected regret, for
    the two differ by the same amount for all methods. Means weigh a loss and a
    gain alike: who cannot bear a loss looks at the low ends and at regret too.
    """
    ids = tuple(one.scenario.method.id for one in evaluations)
    if ids != found.methods:
        raise InfeasibleError("the evaluations are not those of the methods that were drawn")
    better = direction_of(objective)
    rows = found.floats(objective)
    undefined = np.isnan(rows).mean(axis=1)
    broken = [
        breaches(one, limits or {}, {name: table[number] for name, table in found.outcomes.items()})
        for number, one in enumerate(evaluations)
    ]
    left = [n for n in range(len(ids)) if not broken[n] and undefined[n] == 0]
    shares, regrets = np.zeros(len(ids)), np.full(len(ids), np.nan)
    knowing = 0.0
    if left:
        shares[left] = best_share(rows[left], better)
        told = payoffs(rows[left], better)
        regrets[left], knowing = told.expected_regret, told.value_of_knowing
    front = _front(found, left, criteria)
    unit = OUTCOMES[objective].unit
    quantiles = found.quantiles(objective).magnitude
    means = [
        float(row[~np.isnan(row)].mean()) if not np.isnan(row).all() else np.nan for row in rows
    ]
    standings = tuple(
        Standing(
            ids[n], found.labels[n], broken[n], float(undefined[n]),
            units.quantity(means[n], unit), units.quantity(float(quantiles[n, 0]), unit),
            units.quantity(float(quantiles[n, 2]), unit), float(shares[n]),
            units.quantity(float(regrets[n]), unit), n in front,
        )
        for n in range(len(ids))
    )  # fmt: skip
    return _ordered(found, objective, tuple(criteria), standings, left, knowing)


def direction_of(name: str) -> Direction:
    """Return which direction of an outcome is better.

    Raises
    ------
    InfeasibleError
        If there is no such outcome, or neither direction is better.
    """
    if name not in OUTCOMES or OUTCOMES[name].better == "neither":
        raise InfeasibleError(f"{name!r} is no outcome of which more or less is better")
    return OUTCOMES[name].better


def _front(found: Ensemble, left: Sequence[int], criteria: Sequence[str]) -> set[int]:
    """Return the numbers of the methods left that no other one left beats by its means."""
    if not left:
        return set()
    table = np.column_stack([found.floats(name)[list(left)].mean(axis=1) for name in criteria])
    flags = on_front(table, [direction_of(name) for name in criteria])
    return {number for number, flag in zip(left, flags, strict=True) if flag}


def _ordered(
    found: Ensemble,
    objective: str,
    criteria: tuple[str, ...],
    standings: tuple[Standing, ...],
    left: Sequence[int],
    knowing: float,
) -> Advice:
    """Return the advice: first and second of those left, and how far apart they are."""
    better, unit = direction_of(objective), OUTCOMES[objective].unit
    sign = -1.0 if better == "lower" else 1.0
    rows = found.floats(objective)
    order = sorted(left, key=lambda number: -sign * float(rows[number].mean()))
    worth = units.quantity(knowing, unit)
    if not order:
        nothing = units.quantity(np.full(3, np.nan), unit)
        return Advice(objective, criteria, standings, "", "", 0.0, nothing, "", "none", worth,
                      found.draws)  # fmt: skip
    first = order[0]
    if len(order) == 1:
        nothing = units.quantity(np.full(3, np.nan), unit)
        return Advice(objective, criteria, standings, found.methods[first], "", 1.0, nothing, "",
                      "alone", worth, found.draws)  # fmt: skip
    second = order[1]
    gap = found.difference(objective, found.methods[first], found.methods[second])
    beats = gap.share_better
    grade: Grade = "clear" if beats >= CLEAR else "likely" if beats >= LIKELY else "open"
    return Advice(
        objective, criteria, standings, found.methods[first], found.methods[second], beats,
        gap.quantiles(), dominance(rows[first], rows[second], better), grade, worth, found.draws,
    )  # fmt: skip
