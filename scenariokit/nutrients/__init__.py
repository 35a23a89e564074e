"""Nutrients: conversions, labels, recipes, stocks, and what the harvest carries away."""

from scenariokit.nutrients.chemistry import (
    element_from_oxide,
    mass_fraction,
    molar_mass,
    oxide_from_element,
)
from scenariokit.nutrients.labels import from_label
from scenariokit.nutrients.recipes import concentrations
from scenariokit.nutrients.removal import (
    dilution_to_limit,
    nitrate_from_nitrogen,
    nitrogen_from_nitrate,
    removed,
    use_per_yield,
)
from scenariokit.nutrients.stocks import StockDose, stock_dose, stock_strength

__all__ = [
    "StockDose",
    "concentrations",
    "dilution_to_limit",
    "element_from_oxide",
    "from_label",
    "mass_fraction",
    "molar_mass",
    "nitrate_from_nitrogen",
    "nitrogen_from_nitrate",
    "oxide_from_element",
    "removed",
    "stock_dose",
    "stock_strength",
    "use_per_yield",
]
