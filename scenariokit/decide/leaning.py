"""Rules by which methods are put in order: on average, by their bad draws, by regret, by weights."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scenariokit.decide.criteria import usual_criteria
from scenariokit.decide.regret import (
    WORST_SHARE,
    best_of,
    sorted_mean_of_worst,
    sorted_quantiles,
)
from scenariokit.decide.rows import sign_for
from scenariokit.decide.sweep import plain_totals
from scenariokit.decide.weighting import Criterion, read_weights
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark
from scenariokit.parameters import Direction
from scenariokit.scenario import OUTCOMES
from scenariokit.uncertainty import Ensemble

Leaning = Literal["average", "cautious", "regret", "weighted"]

LEANING_WORDS: dict[Leaning, str] = {
    "average": mark("the best mean over all draws, which is also the least expected regret"),
    "cautious": mark("the best mean over the worst tenth of each method's own draws"),
    "regret": mark("the least regret, but for the draws in which it is greatest, one of twenty"),
    "weighted": mark("the highest weighted worth, on average over all draws"),
}
"""What each rule goes by, in plain words."""
REGRET_LEVEL = 0.95
"""Quantile of regret by which ``"regret"`` chooses; common practice, no published source."""
WORTH = "worth"
"""What is measured when methods are put in order by weighted worth; without a unit."""


@dataclass(frozen=True)
class Wishes:
    """How a person wants the numbers looked at.

    Parameters
    ----------
    leaning : {'average', 'cautious', 'regret', 'weighted'}
        The rule by which methods are put in order; see `LEANING_WORDS`.
    weights : mapping, optional
        Name of each criterion to how much it counts, 0 or more. Needed for
        ``'weighted'``; for the other rules they add who wins for which weights.
    criteria : sequence of Criterion
        What is weighed, with fixed anchors. If left out, those of
        `usual_criteria` that `weights` names.
    lacking : mapping, optional
        What cannot be had, by id of `scenariokit.decide.LACKS`.
    tolerated : float, optional
        Share of the draws in which a limit may be broken; left out, limits are
        judged at the stated values.
    """

    leaning: Leaning = "average"
    weights: Mapping[str, float] | None = None
    criteria: Sequence[Criterion] = ()
    lacking: Mapping[str, Any] | None = None
    tolerated: float | None = None

    @property
    def weighed(self) -> tuple[Criterion, ...]:
        """What is weighed, in the order of the criteria; empty without weights."""
        if self.weights is None:
            return ()
        if self.criteria:
            return tuple(self.criteria)
        return tuple(one for one in usual_criteria() if one.name in self.weights)

    def shares(self) -> Any:
        """Return the weights of `weighed`, brought to add to 1.

        Raises
        ------
        ArgumentError
            If weights and criteria are not of the same names, or no weights.
        """
        names = [one.name for one in self.weighed]
        given = dict(self.weights or {})
        problems = []
        if sorted(names) != sorted(given):
            problems.append(Problem("weights", ", ".join(given), "are not of the criteria",
                                    ", ".join(names) or "names of usual_criteria()", kind="range"))  # fmt: skip
            raise argument_error(problems, "Wishes")
        shares, problems = read_weights([given[name] for name in names], len(names))
        if problems:
            raise argument_error(problems, "Wishes")
        return shares


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


@dataclass(frozen=True)
class Measured:
    """What methods are put in order by, draw by draw. Make it by `measured`.

    Parameters
    ----------
    name : str
        The outcome, or `WORTH`.
    unit : str
        Its unit.
    rows : ndarray
        Methods by draws.
    sign : float
        1 if more is better, -1 if less is.
    undefined : ndarray
        In which share of the draws each method has no value.
    ascending : ndarray
        Each method's draws from the worst to the best, turned so that more is
        better; NaN last.
    """

    name: str
    unit: str
    rows: Any
    sign: float
    undefined: Any
    ascending: Any

    @property
    def up(self) -> Any:
        """Methods by draws, turned so that more is better."""
        return self.rows if self.sign > 0 else -self.rows


def measured(found: Ensemble, objective: str, wishes: Wishes) -> Measured:
    """Return what methods are put in order by: the objective, or the weighted worth.

    Raises
    ------
    ArgumentError
        If weights are needed and do not fit, or the leaning is another word.
    InfeasibleError
        If an outcome was not drawn or has no direction.
    """
    if wishes.leaning not in LEANING_WORDS:
        problem = Problem("leaning", f"{wishes.leaning}", "is no rule", ", ".join(LEANING_WORDS),
                          kind="range")  # fmt: skip
        raise argument_error([problem], "Wishes")
    sign = sign_for(direction_of(objective))
    name, unit, rows = objective, OUTCOMES[objective].unit, found.floats(objective)
    if wishes.leaning == "weighted":
        shares = wishes.shares()
        worth = [one.worth(found.floats(one.name)) for one in wishes.weighed]
        counted = [number for number, share in enumerate(shares) if share > 0]
        stacked = np.stack([worth[number] for number in counted], axis=-1)
        name, unit, sign = WORTH, "", 1.0
        rows = plain_totals(stacked, shares[counted])
    ascending = np.sort(rows if sign > 0 else -rows, axis=1)
    undefined = np.isnan(rows).mean(axis=1)
    return Measured(name, unit, rows, sign, undefined, ascending)


@dataclass(frozen=True)
class Ranking:
    """Methods put in order by a rule. Make it by `put_in_order`.

    Parameters
    ----------
    scores : ndarray
        By what each method is put in order, more being better; NaN for one
        that has none. Methods that were set aside have one where that does not
        depend on the others.
    order : tuple of int
        Numbers of the methods left, the best first.
    tied : tuple of int
        Those that share the first place.
    best : ndarray
        In which share of the draws each is the best of those left; 0 for others.
    regret, regret_high : ndarray
        Mean and `REGRET_LEVEL` quantile of each one's regret; NaN for others.
    """

    scores: Any
    order: tuple[int, ...]
    tied: tuple[int, ...]
    best: Any
    regret: Any
    regret_high: Any


def put_in_order(given: Measured, left: Sequence[int], leaning: Leaning, unbeaten: Any) -> Ranking:
    """Return the methods left in order of a rule.

    Parameters
    ----------
    given : Measured
        By what.
    left : sequence of int
        Numbers of the methods that may be chosen; they have a value in every draw.
    leaning : str
        The rule.
    unbeaten : ndarray of bool
        Which methods no other beats in all criteria: they go first among equals,
        and after that those that are best more often, then in the order given.
    """
    count = len(given.rows)
    best, regret, high = np.zeros(count), np.full((2, count), np.nan)[0], np.full(count, np.nan)
    chosen = list(left)
    if chosen:
        up = given.up[chosen]
        top = up.max(axis=0)
        first = up == top
        best[chosen] = (first / first.sum(axis=0)).mean(axis=1)
        short = top - up
        regret[chosen] = short.mean(axis=1)
        high[chosen] = sorted_quantiles(np.sort(short, axis=1), [REGRET_LEVEL])[:, 0]
    scores = _scores(given, leaning, high)
    if not chosen:
        return Ranking(scores, (), (), best, regret, high)
    order: list[int] = []
    groups = []
    remaining = chosen
    while remaining:  # group by group, so that rounding alone puts nobody before another
        group = tuple(remaining[place] for place in best_of(scores[remaining], slack=1e-9))
        order += sorted(group, key=lambda n: (not unbeaten[n], -best[n], n))
        remaining = [n for n in remaining if n not in group]
        groups.append(group)
    return Ranking(scores, tuple(order), groups[0], best, regret, high)


def _scores(given: Measured, leaning: Leaning, regret_high: Any) -> Any:
    if leaning == "regret":
        return -regret_high
    if leaning == "cautious":
        return sorted_mean_of_worst(given.ascending, WORST_SHARE)
    return given.up.mean(axis=1)
