"""Nutrients: composition, recipes, stocks, EC, care while growing, and what is left."""

from scenariokit.nutrients.balance.correction import Correction, correct
from scenariokit.nutrients.balance.demand import (
    solution_holding,
    top_up_concentration,
    uptake_concentration,
    uptake_from_efficiency,
)
from scenariokit.nutrients.balance.leftover import (
    NitrateLeft,
    dilution_to_drinking_water,
    nitrate_left,
    soil_area_for,
)
from scenariokit.nutrients.balance.mixing import (
    CorrectionAmounts,
    correction_amounts,
    linear_strength,
)
from scenariokit.nutrients.balance.removal import (
    dilution_to_limit,
    nitrate_from_nitrogen,
    nitrogen_from_nitrate,
    removed,
    use_per_yield,
)
from scenariokit.nutrients.composition.chemistry import (
    element_from_oxide,
    mass_fraction,
    molar_mass,
    oxide_from_element,
)
from scenariokit.nutrients.composition.contents import content_of
from scenariokit.nutrients.composition.fertilisers import (
    fertiliser_from_formula,
    fertiliser_from_label,
    fertiliser_from_row,
    shelf,
)
from scenariokit.nutrients.composition.labels import from_label, label_shares
from scenariokit.nutrients.composition.own_files import own_fertilisers, own_targets
from scenariokit.nutrients.composition.product import Fertiliser
from scenariokit.nutrients.composition.recipes import concentrations
from scenariokit.nutrients.composition.species import (
    content_from_ions,
    ions_from_content,
    milliequivalents,
    milligrams,
    milligrams_from_equivalents,
    millimoles,
)
from scenariokit.nutrients.concentrate.compatibility import (
    Incompatibility,
    incompatible,
    incompatible_content,
    require_compatible,
)
from scenariokit.nutrients.concentrate.concentrates import most_concentrated, plan_stocks
from scenariokit.nutrients.concentrate.solubility import hydrate_solubility, solubility
from scenariokit.nutrients.concentrate.stock_dosing import (
    TankDose,
    dilution_from_ratio,
    tank_dose,
    weighing_notes,
)
from scenariokit.nutrients.concentrate.stock_labels import stock_label
from scenariokit.nutrients.concentrate.stock_plan import SolubilityCheck, Stock, StockPlan
from scenariokit.nutrients.concentrate.stocks import StockDose, stock_dose, stock_strength
from scenariokit.nutrients.conductivity.charge import ChargeBalance, charge_balance, ionic_strength
from scenariokit.nutrients.conductivity.ions import CationRule, cation_rule, electrical_conductivity
from scenariokit.nutrients.conductivity.meter import ec_at, ec_at_25
from scenariokit.nutrients.conductivity.strength import (
    StrengthCurve,
    strength_curve,
    strength_for_ec,
)
from scenariokit.nutrients.recipe.solve import NoRecipeError, Recipe, Unmet, solve
from scenariokit.nutrients.recipe.solve_task import Limits
from scenariokit.nutrients.recipe.targets import Band, TargetSet, scaled, target_set, targets_from
from scenariokit.nutrients.water.acidity import (
    PhWindow,
    bicarbonate_share,
    ph_window,
    remaining_alkalinity,
)
from scenariokit.nutrients.water.acids import (
    Acid,
    AcidDose,
    acid_for_alkalinity,
    acid_from_row,
    acid_strength,
)
from scenariokit.nutrients.water.build_up import BuildUp, build_up
from scenariokit.nutrients.water.hardness import (
    alkalinity_equivalents,
    alkalinity_from_bicarbonate,
    alkalinity_from_equivalents,
    bicarbonate_from_alkalinity,
    hardness,
    hardness_as_carbonate,
)
from scenariokit.nutrients.water.source_water import (
    SourceWater,
    source_water,
    water_from_row,
    water_from_rows,
)
from scenariokit.nutrients.water.water_checks import WaterFinding, water_limits, water_problems

__all__ = [
    "Acid",
    "AcidDose",
    "Band",
    "BuildUp",
    "CationRule",
    "ChargeBalance",
    "Correction",
    "CorrectionAmounts",
    "Fertiliser",
    "Incompatibility",
    "Limits",
    "NitrateLeft",
    "NoRecipeError",
    "PhWindow",
    "Recipe",
    "SolubilityCheck",
    "SourceWater",
    "Stock",
    "StockDose",
    "StockPlan",
    "StrengthCurve",
    "TankDose",
    "TargetSet",
    "Unmet",
    "WaterFinding",
    "acid_for_alkalinity",
    "acid_from_row",
    "acid_strength",
    "alkalinity_equivalents",
    "alkalinity_from_bicarbonate",
    "alkalinity_from_equivalents",
    "bicarbonate_from_alkalinity",
    "bicarbonate_share",
    "build_up",
    "cation_rule",
    "charge_balance",
    "concentrations",
    "content_from_ions",
    "content_of",
    "correct",
    "correction_amounts",
    "dilution_from_ratio",
    "dilution_to_drinking_water",
    "dilution_to_limit",
    "ec_at",
    "ec_at_25",
    "electrical_conductivity",
    "element_from_oxide",
    "fertiliser_from_formula",
    "fertiliser_from_label",
    "fertiliser_from_row",
    "from_label",
    "hardness",
    "hardness_as_carbonate",
    "hydrate_solubility",
    "incompatible",
    "incompatible_content",
    "ionic_strength",
    "ions_from_content",
    "label_shares",
    "linear_strength",
    "mass_fraction",
    "milliequivalents",
    "milligrams",
    "milligrams_from_equivalents",
    "millimoles",
    "molar_mass",
    "most_concentrated",
    "nitrate_from_nitrogen",
    "nitrate_left",
    "nitrogen_from_nitrate",
    "own_fertilisers",
    "own_targets",
    "oxide_from_element",
    "ph_window",
    "plan_stocks",
    "remaining_alkalinity",
    "removed",
    "require_compatible",
    "scaled",
    "shelf",
    "soil_area_for",
    "solubility",
    "solution_holding",
    "solve",
    "source_water",
    "stock_dose",
    "stock_label",
    "stock_strength",
    "strength_curve",
    "strength_for_ec",
    "tank_dose",
    "target_set",
    "targets_from",
    "top_up_concentration",
    "uptake_concentration",
    "uptake_from_efficiency",
    "use_per_yield",
    "water_from_row",
    "water_from_rows",
    "water_limits",
    "water_problems",
    "weighing_notes",
]
