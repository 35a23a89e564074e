"""A recommendation as data: what was ruled out, what is best, how sure, and what is not known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.basis import basis_of
from scenariokit.decide.criteria import double_counted
from scenariokit.decide.dominance import Order, sorted_dominance
from scenariokit.decide.front import front_of, front_probability
from scenariokit.decide.lacks import Lack, lacks
from scenariokit.decide.leaning import (
    Measured,
    Ranking,
    Wishes,
    direction_of,
    measured,
    put_in_order,
)
from scenariokit.decide.limits import LIMITS, Breach, judged, read_limits, read_tolerated
from scenariokit.decide.regret import WORST_SHARE, sorted_mean_of_worst, sorted_quantiles
from scenariokit.decide.standing import (
    CLEAR,
    LIKELY,
    Advice,
    Grade,
    PriceOfLimits,
    Standing,
)
from scenariokit.decide.weighting import Weighing, weigh
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.scenario import Evaluation
from scenariokit.uncertainty import Ensemble

__all__ = ["CLEAR", "LIKELY", "Advice", "Grade", "PriceOfLimits", "Standing", "Wishes", "advise"]

LEVELS = (0.05, 0.5, 0.95)


def advise(
    found: Ensemble,
    evaluations: Sequence[Evaluation],
    limits: Mapping[str, Any] | None = None,
    objective: str = "margin_per_area",
    criteria: Sequence[str] = ("yield_per_area", "margin_per_area"),
    wishes: Wishes | None = None,
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
        Outcomes of the front, one or more.
    wishes : Wishes, optional
        Another rule than the mean, weights, what cannot be had, and how often
        a limit may be broken.

    Raises
    ------
    InfeasibleError
        If the methods do not agree, an outcome was not drawn, or has no direction.
    ArgumentError
        If a limit, a weight or another wish cannot be read.

    Notes
    -----
    The rule: methods that break a limit, need what cannot be had, or have no
    value in some draw are set aside; of those left the one with the best score
    is chosen, by the mean of the objective unless another leaning is wished
    for (`LEANING_WORDS`). The best mean is also the least expected regret, for
    the two differ by the same amount for all methods. Of equal scores one on
    the front goes first, then one that is best more often. The runner-up is
    the second by score, whether or not another beats it in all criteria.

    By the mean, by bad draws and by weights the order of two methods does not
    change when a third is added; by regret it does not when the third is
    nowhere best. Means weigh a loss and a gain alike: who cannot bear a loss
    leans to ``'cautious'``.

    Examples
    --------
    >>> from scenariokit.scenario import compare, scenario_for
    >>> from scenariokit.uncertainty import ensemble, usual_uncertainty
    >>> all_three = [scenario_for(one) for one in ("medium_bag", "wedge_pots", "suspended_pot")]
    >>> found = ensemble(all_three, usual_uncertainty(all_three), draws=256)
    >>> advice = advise(found, tuple(compare(all_three)), {"deepest_water": "10 cm"})
    >>> advice.chosen, advice.runner_up, advice.standing("suspended_pot").left
    ('medium_bag', 'wedge_pots', False)
    >>> advice.basis.unknowns[0].kind
    'invented yield'
    """
    wishes = wishes or Wishes()
    _check(found, evaluations, criteria)
    given = measured(found, objective, wishes)
    held = _held(found, evaluations, limits or {}, wishes)
    within = [n for n, (broken, _, lacking) in enumerate(held) if not broken and not lacking]
    left = [n for n in within if given.undefined[n] == 0]
    front = _front(found, left, criteria)
    order = put_in_order(given, left, wishes.leaning, front.unbeaten)
    ids, unit = found.methods, given.unit
    names = [ids[n] for n in order.order[:2]] + ["", ""]
    weighing, weighed = _weighing(found, within, wishes)
    beats, gap, mean_gap = _gap(given, order.order[:2])
    dominances = _dominances(given, left)
    pair = tuple(order.order[:2])
    return Advice(
        objective, tuple(criteria), _standings(found, given, held, front, order),
        names[0], names[1], beats, units.quantity(gap, unit),
        next((how for *two, how in dominances if tuple(two) == pair), ""),
        _grade(order, beats), units.quantity(_knowing(order), unit), found.draws,
        leaning=wishes.leaning, measured=given.name, tied=tuple(ids[n] for n in order.tied),
        mean_gap=units.quantity(mean_gap, unit),
        dominances=tuple((ids[one], ids[other], how) for one, other, how in dominances),
        weighing=weighing, weighed=tuple(ids[n] for n in weighed),
        counted_twice=double_counted([one.name for one in wishes.weighed]),
        price_of_limits=_price_of_limits(found, given, held, order),
        basis=basis_of(found),
    )  # fmt: skip


def _check(found: Ensemble, evaluations: Sequence[Evaluation], criteria: Sequence[str]) -> None:
    ids = tuple(one.scenario.method.id for one in evaluations)
    if ids != found.methods:
        raise InfeasibleError(tr("the evaluations are not those of the methods that were drawn"))
    if not criteria:
        problem = Problem("criteria", "", "name no outcome", "one or more", kind="range")
        raise argument_error([problem], "advise")


Held = tuple[tuple[Breach, ...], tuple[Breach, ...], tuple[Lack, ...]]
"""Limits that a method breaks, those that it keeps but for some draws, and what it lacks."""


def _held(
    found: Ensemble, evaluations: Sequence[Evaluation], limits: Mapping[str, Any], wishes: Wishes
) -> list[Held]:
    numbers, lacking = read_limits(limits), wishes.lacking or {}
    read_tolerated(wishes.tolerated)
    rows: list[Held] = []
    for row, evaluation in enumerate(evaluations):
        draws = {name: table[row] for name, table in found.outcomes.items()}
        told = [
            judged(LIMITS[name], allowed, evaluation, draws, wishes.tolerated)
            for name, allowed in numbers.items()
        ]
        known = [one for one in told if one is not None]
        rows.append(
            (
                tuple(one.as_breach() for one in known if one.broken),
                tuple(one.as_breach() for one in known if one.share > 0 and not one.broken),
                lacks(evaluation.scenario, lacking) if lacking else (),
            )
        )
    return rows


@dataclass(frozen=True)
class _Fronts:
    """The front among those left; lists and arrays have one entry for each method compared."""

    members: Any
    unbeaten: Any
    beaten_by: list[tuple[str, ...]]
    not_compared: list[tuple[str, ...]]
    share: Any


def _front(found: Ensemble, left: Sequence[int], criteria: Sequence[str]) -> _Fronts:
    better = [direction_of(name) for name in criteria]
    rows = [found.floats(name) for name in criteria]
    count = len(found.methods)
    members, unbeaten = np.zeros(count, dtype=bool), np.ones(count, dtype=bool)
    beaten_by: list[tuple[str, ...]] = [()] * count
    not_compared: list[tuple[str, ...]] = [()] * count
    share = np.zeros(count)
    chosen = list(left)
    if chosen:
        cube = np.stack([table[chosen] for table in rows])
        told = front_of(_level(cube.mean(axis=2)).T, better)
        share[chosen] = front_probability(cube, better)
        for place, number in enumerate(chosen):
            members[number] = place in told.members
            unbeaten[number] = not told.beaten_by[place]
            beaten_by[number] = tuple(found.methods[chosen[one]] for one in told.beaten_by[place])
            not_compared[number] = tuple(criteria[one] for one in told.undefined[place])
    return _Fronts(members, unbeaten, beaten_by, not_compared, share)


def _level(means: Any) -> Any:
    """Return means of which those that differ by rounding alone are equal, criterion by criterion."""
    scale = np.nanmax(np.abs(means), axis=1, keepdims=True, initial=0.0)
    scale[scale == 0] = 1.0
    return np.round(means / scale, 12)


def _standings(
    found: Ensemble, given: Measured, held: Sequence[Held], front: _Fronts, order: Ranking
) -> tuple[Standing, ...]:
    whole = given.undefined == 0
    means, ends = given.rows.mean(axis=1), np.full((len(whole), 2), np.nan)
    ends[whole] = sorted_quantiles(given.ascending[whole], LEVELS[::2])
    for number in np.flatnonzero(~whole):
        known = given.ascending[number][~np.isnan(given.ascending[number])]
        if known.size:
            means[number] = given.sign * known.mean()
            ends[number] = sorted_quantiles(known[np.newaxis], LEVELS[::2])[0]
    if given.sign < 0:  # the worst draws are the highest numbers
        ends = -ends[:, ::-1]
    worst = given.sign * sorted_mean_of_worst(given.ascending, WORST_SHARE)
    worst = np.where(whole, worst, np.nan)
    as_quantity = units.registry().Quantity
    unit = units.unit_of(given.unit)
    return tuple(
        Standing(
            found.methods[n], found.labels[n], held[n][0], float(given.undefined[n]),
            as_quantity(float(means[n]), unit), as_quantity(float(ends[n, 0]), unit),
            as_quantity(float(ends[n, 1]), unit), float(order.best[n]),
            as_quantity(float(order.regret[n]), unit), bool(front.members[n]),
            held[n][2], held[n][1], as_quantity(float(worst[n]), unit),
            as_quantity(float(order.regret_high[n]), unit), front.beaten_by[n],
            front.not_compared[n], float(front.share[n]),
        )
        for n in range(len(whole))
    )  # fmt: skip


def _gap(given: Measured, pair: Sequence[int]) -> tuple[float, Any, float]:
    """Return how often the first of two is better, and quantiles and mean of what it is ahead by."""
    if len(pair) < 2:
        return (1.0 if pair else 0.0), np.full(3, np.nan), np.nan
    gap = given.rows[pair[0]] - given.rows[pair[1]]
    ahead = given.sign * gap
    beats = float(((ahead > 0) + 0.5 * (ahead == 0)).mean())
    return beats, sorted_quantiles(np.sort(gap)[np.newaxis], LEVELS)[0], float(gap.mean())


def _grade(order: Ranking, beats: float) -> Grade:
    if len(order.order) < 2:
        return "alone" if order.order else "none"
    if len(order.tied) > 1:
        return "open"
    return "clear" if beats >= CLEAR else "likely" if beats >= LIKELY else "open"


def _knowing(order: Ranking) -> float:
    """Return the smallest expected regret, which is the value of knowing all."""
    return float(order.regret[list(order.order)].min()) if order.order else 0.0


def _dominances(given: Measured, left: Sequence[int]) -> list[tuple[int, int, Order]]:
    chosen = list(left)
    if len(chosen) < 2:
        return []
    first, second = sorted_dominance(given.ascending[chosen])
    return [
        (chosen[one], chosen[other], "first order" if first[one, other] else "second order")
        for one, other in zip(*np.nonzero(second), strict=True)
    ]


def _weighing(
    found: Ensemble, within: Sequence[int], wishes: Wishes
) -> tuple[Weighing | None, list[int]]:
    """Return the weighing of the means of those within the limits that have all criteria."""
    if wishes.weights is None:
        return None, []
    shares = wishes.shares()
    table = np.column_stack([found.floats(one.name).mean(axis=1) for one in wishes.weighed])
    whole = [n for n in within if not np.isnan(table[n]).any()]
    if not whole:
        return None, []
    return weigh(table[whole], wishes.weighed, shares), whole


def _price_of_limits(
    found: Ensemble, given: Measured, held: Sequence[Held], order: Ranking
) -> PriceOfLimits | None:
    """Return the best of those that limits alone rule out, if its score is above the chosen one's."""
    ruled_out = [
        n for n, (broken, _, lacking) in enumerate(held)
        if (broken or lacking) and not np.isnan(order.scores[n])
    ]  # fmt: skip
    if not ruled_out or not order.order:
        return None
    best = max(ruled_out, key=lambda n: order.scores[n])
    lead = float(order.scores[best] - order.scores[order.order[0]])
    if lead <= 0:
        return None
    return PriceOfLimits(found.methods[best], units.quantity(lead, given.unit))
