"""Money: equipment over its life, the cost stack of a crop, returns, and partial budgets."""

from __future__ import annotations

from scenariokit.economics.capital import annualised, capital_recovery, payback, per_crop
from scenariokit.economics.costs import CostStack, cost_per_usable_kilogram, cost_stack
from scenariokit.economics.labour import labour_per_kilogram, return_to_labour
from scenariokit.economics.partial_budget import (
    BudgetRow,
    BudgetStep,
    PartialBudget,
    partial_budget,
)
from scenariokit.economics.returns import (
    break_even_price,
    break_even_yield,
    margin,
    sold_share,
)

__all__ = [
    "BudgetRow",
    "BudgetStep",
    "CostStack",
    "PartialBudget",
    "annualised",
    "break_even_price",
    "break_even_yield",
    "capital_recovery",
    "cost_per_usable_kilogram",
    "cost_stack",
    "labour_per_kilogram",
    "margin",
    "partial_budget",
    "payback",
    "per_crop",
    "return_to_labour",
    "sold_share",
]
