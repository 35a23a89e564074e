"""Choosing: limits, fronts, chances, weights, break-even, and what is worth finding out."""

from __future__ import annotations

from scenariokit.decide.advice import Advice, Standing, advise
from scenariokit.decide.break_even import BreakEven, Crossing, Turn, break_even, turns
from scenariokit.decide.chance import (
    Payoffs,
    best_share,
    dominance,
    normal_loss,
    payoffs,
)
from scenariokit.decide.criteria import OBJECTIVES, usual_criteria
from scenariokit.decide.driver_shares import DriverShare, driver_shares, sobol_shares
from scenariokit.decide.front import dominators, front_probability, on_front
from scenariokit.decide.learning import (
    DriverValue,
    TrialValue,
    best_trial,
    trial_values,
    value_of_knowing_all,
    values_of_learning,
)
from scenariokit.decide.limits import LIMITS, Breach, LimitKind, breaches
from scenariokit.decide.swing import Swing, SwingRow, swing
from scenariokit.decide.weighting import Criterion, Weighing, all_weights, weigh
from scenariokit.decide.win_map import WinMap, win_map

__all__ = [
    "LIMITS",
    "OBJECTIVES",
    "Advice",
    "Breach",
    "BreakEven",
    "Criterion",
    "Crossing",
    "DriverShare",
    "DriverValue",
    "LimitKind",
    "Payoffs",
    "Standing",
    "Swing",
    "SwingRow",
    "TrialValue",
    "Turn",
    "Weighing",
    "WinMap",
    "advise",
    "all_weights",
    "best_share",
    "best_trial",
    "breaches",
    "break_even",
    "dominance",
    "dominators",
    "driver_shares",
    "front_probability",
    "normal_loss",
    "on_front",
    "payoffs",
    "sobol_shares",
    "swing",
    "trial_values",
    "turns",
    "usual_criteria",
    "value_of_knowing_all",
    "values_of_learning",
    "weigh",
    "win_map",
]
