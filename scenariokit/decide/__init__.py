"""Choosing: limits, fronts, chances, weights, break-even, and what is worth finding out."""

from __future__ import annotations

from scenariokit.decide.advice import Advice, PriceOfLimits, Standing, advise
from scenariokit.decide.basis import UNKNOWN_WORDS, Basis, Unknown, basis_of
from scenariokit.decide.break_even import BreakEven, Crossing, break_even, break_even_to
from scenariokit.decide.break_even_line import break_even_line
from scenariokit.decide.chance import (
    Payoffs,
    best_share,
    dominance,
    normal_loss,
    payoffs,
)
from scenariokit.decide.criteria import OBJECTIVES, criterion, double_counted, usual_criteria
from scenariokit.decide.dominance import (
    ORDER_WORDS,
    DominanceTable,
    dominance_table,
    mean_shortfall,
)
from scenariokit.decide.driver_shares import (
    DriverShare,
    driver_shares,
    groups_by_cause,
    sobol_shares,
    variance_shares,
)
from scenariokit.decide.front import Front, dominators, front_of, front_probability, on_front
from scenariokit.decide.information import Information, information, value_for_two
from scenariokit.decide.lacks import LACKS, Lack, LackKind, lacks
from scenariokit.decide.leaning import LEANING_WORDS, Wishes
from scenariokit.decide.learning import (
    DriverValue,
    TrialValue,
    best_trial,
    trial_values,
    value_of_knowing_all,
    values_of_learning,
)
from scenariokit.decide.limits import LIMITS, Breach, LimitKind, beside_limits, breaches
from scenariokit.decide.partial_budgets import partial_budget_of
from scenariokit.decide.regret import Picks, mean_of_worst, picks, regret_quantiles, regrets
from scenariokit.decide.sweep import Sweep, weight_sweep
from scenariokit.decide.swing import Swing, SwingRow, swing
from scenariokit.decide.to_win import ToWin, Turn, to_win, turns
from scenariokit.decide.trial_value import TrialTerms, trial_value_curve, trial_value_for
from scenariokit.decide.weighting import Criterion, Weighing, all_weights, weigh
from scenariokit.decide.win_map import WinMap, win_map
from scenariokit.decide.yield_beliefs import YieldBelief, belief_from, belief_of

__all__ = [
    "LACKS",
    "LEANING_WORDS",
    "LIMITS",
    "OBJECTIVES",
    "ORDER_WORDS",
    "UNKNOWN_WORDS",
    "Advice",
    "Basis",
    "Breach",
    "BreakEven",
    "Criterion",
    "Crossing",
    "DominanceTable",
    "DriverShare",
    "DriverValue",
    "Front",
    "Information",
    "Lack",
    "LackKind",
    "LimitKind",
    "Payoffs",
    "Picks",
    "PriceOfLimits",
    "Standing",
    "Sweep",
    "Swing",
    "SwingRow",
    "ToWin",
    "TrialTerms",
    "TrialValue",
    "Turn",
    "Unknown",
    "Weighing",
    "WinMap",
    "Wishes",
    "YieldBelief",
    "advise",
    "all_weights",
    "basis_of",
    "belief_from",
    "belief_of",
    "beside_limits",
    "best_share",
    "best_trial",
    "breaches",
    "break_even",
    "break_even_line",
    "break_even_to",
    "criterion",
    "dominance",
    "dominance_table",
    "dominators",
    "double_counted",
    "driver_shares",
    "front_of",
    "front_probability",
    "groups_by_cause",
    "information",
    "lacks",
    "mean_of_worst",
    "mean_shortfall",
    "normal_loss",
    "on_front",
    "partial_budget_of",
    "payoffs",
    "picks",
    "regret_quantiles",
    "regrets",
    "sobol_shares",
    "swing",
    "to_win",
    "trial_value_curve",
    "trial_value_for",
    "trial_values",
    "turns",
    "usual_criteria",
    "value_for_two",
    "value_of_knowing_all",
    "values_of_learning",
    "variance_shares",
    "weigh",
    "weight_sweep",
    "win_map",
]
