"""What a recommendation is made of: one standing a method, and how far the first two lie apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scenariokit.decide.basis import Basis
from scenariokit.decide.dominance import Order
from scenariokit.decide.lacks import Lack
from scenariokit.decide.leaning import Leaning
from scenariokit.decide.limits import Breach
from scenariokit.decide.weighting import Weighing
from scenariokit.errors import InfeasibleError
from scenariokit.units import Quantity

CLEAR, LIKELY = 0.9, 0.7
"""Chance of beating the runner-up from which a choice is called clear, or likely.

Nine in ten, and seven in ten: common practice, no published source. They grade
how far the draws lie apart, not how well the spreads behind them are known.
"""
Grade = Literal["clear", "likely", "open", "alone", "none"]


@dataclass(frozen=True)
class Standing:
    """One method among those compared.

    Mean, quantiles and regret are of what methods are put in order by.

    Parameters
    ----------
    method, label : str
        Its id, and what a person reads.
    breaches : tuple of Breach
        The limits that it breaks.
    undefined : float
        In which share of the draws it has no value.
    mean, low, high : quantity
        Mean and 5 and 95 % quantiles over the draws with a value; NaN without any.
    best : float
        In which share of the draws it is the best of those left.
    regret : quantity
        By how much it falls short of the best of each draw, on average; NaN
        for one that is not left.
    on_front : bool
        Whether no other method left beats it in all criteria, by means.
    lacks : tuple of Lack
        What it needs and cannot be had.
    at_risk : tuple of Breach
        Limits that count as kept but are broken in some draws.
    worst : quantity
        Mean of its worst tenth of the draws; NaN if it has no value in some.
    regret_high : quantity
        Regret that one draw in twenty exceeds.
    beaten_by : tuple of str
        Ids of the methods left that beat it in all criteria.
    not_compared : tuple of str
        Criteria in which it has no value in some draw; then it is not on the front.
    front_share : float
        In which share of the draws it is on the front.
    """

    method: str
    label: str
    breaches: tuple[Breach, ...]
    undefined: float
    mean: Quantity
    low: Quantity
    high: Quantity
    best: float
    regret: Quantity
    on_front: bool
    lacks: tuple[Lack, ...] = ()
    at_risk: tuple[Breach, ...] = ()
    worst: Quantity = None
    regret_high: Quantity = None
    beaten_by: tuple[str, ...] = ()
    not_compared: tuple[str, ...] = ()
    front_share: float = 0.0

    @property
    def within(self) -> bool:
        """Whether it keeps all limits, and needs nothing that cannot be had."""
        return not self.breaches and not self.lacks

    @property
    def left(self) -> bool:
        """Whether it may be chosen: within the limits, and with a value in every draw."""
        return self.within and self.undefined == 0


@dataclass(frozen=True)
class PriceOfLimits:
    """What the limits cost: the method that would be chosen without them.

    Parameters
    ----------
    method : str
        Its id.
    lead : quantity
        By how much its score exceeds that of the method chosen.
    """

    method: str
    lead: Quantity


@dataclass(frozen=True)
class Advice:
    """What the numbers recommend, and on what that rests. Make it by `advise`.

    Parameters
    ----------
    objective : str
        The outcome by which methods were put in order; with the leaning
        ``'weighted'`` the outcome that was asked for beside it.
    criteria : tuple of str
        The outcomes of the front.
    standings : tuple of Standing
        One a method, in the order compared.
    chosen, runner_up : str
        Ids of the first and second of those left; empty if there is none.
    beats : float
        In which share of the draws the chosen one is better than the
        runner-up, equal draws counting half. It is not the chance that the
        choice is right: that hangs on the spreads that were assumed.
    gap : quantity
        5, 50 and 95 % quantiles of the chosen one less the runner-up; NaN
        without one.
    dominance : {'first order', 'second order', ''}
        Of the chosen one over the runner-up.
    grade : {'clear', 'likely', 'open', 'alone', 'none'}
        How far apart the two are, by `beats`; whether only one is left, or none.
    knowing : quantity
        What it would be worth to know all before choosing by the mean.
    draws : int
        On how many draws it rests.
    leaning : str
        The rule by which methods were put in order.
    measured : str
        What was put in order: the objective, or ``'worth'``.
    tied : tuple of str
        Ids of all that share the first place, the one chosen among them. If
        they are several, which comes first means nothing.
    mean_gap : quantity
        Mean of the chosen one less the runner-up; NaN without one.
    dominances : tuple of (str, str, str)
        Every dominance among those left: the better, the worse, and the order.
    weighing : Weighing or None
        If weights were given: worth, totals and who wins for which weights.
    weighed : tuple of str
        Ids of the methods of its rows: those within the limits that have all criteria.
    counted_twice : tuple of (str, str)
        Weighed criteria of which the first is part of the second.
    price_of_limits : PriceOfLimits or None
        What the limits cost, if they rule out what would be chosen.
    basis : Basis or None
        Assumptions, notes, and what nobody has measured.
    """

    objective: str
    criteria: tuple[str, ...]
    standings: tuple[Standing, ...]
    chosen: str
    runner_up: str
    beats: float
    gap: Quantity
    dominance: Order
    grade: Grade
    knowing: Quantity
    draws: int
    leaning: Leaning = "average"
    measured: str = ""
    tied: tuple[str, ...] = ()
    mean_gap: Quantity = None
    dominances: tuple[tuple[str, str, Order], ...] = ()
    weighing: Weighing | None = None
    weighed: tuple[str, ...] = ()
    counted_twice: tuple[tuple[str, str], ...] = ()
    price_of_limits: PriceOfLimits | None = None
    basis: Basis | None = None

    @property
    def seldom_better(self) -> bool:
        """Whether the chosen one is the worse of the two more often than not.

        It then wins by more than it loses by, or its bad draws are less bad:
        that is the rule's doing, and no slip.
        """
        return bool(self.runner_up) and self.beats < 0.5 and len(self.tied) < 2

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
