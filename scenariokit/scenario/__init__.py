"""Scenarios: what is compared, how it is evaluated, how it is kept in a file."""

from __future__ import annotations

from scenariokit.scenario.build import (
    crop_from,
    feed_from,
    harvest_from,
    harvest_from_plots,
    method_from,
    prices_from,
    scenario_for,
    site_from,
)
from scenariokit.scenario.compare import Comparison, column_name, compare, shown
from scenariokit.scenario.document import load, save, schema
from scenariokit.scenario.evaluate import Evaluation, daily_water_use, evaluate
from scenariokit.scenario.leaves import leaves, value_at, with_values
from scenariokit.scenario.model import (
    Container,
    Crop,
    Feed,
    Harvest,
    Level,
    Medium,
    Method,
    Prices,
    Scenario,
    Sheet,
    Site,
    Supply,
    Tank,
)
from scenariokit.scenario.outcomes import COST_PARTS, OUTCOMES, part_label

__all__ = [
    "COST_PARTS",
    "OUTCOMES",
    "Comparison",
    "Container",
    "Crop",
    "Evaluation",
    "Feed",
    "Harvest",
    "Level",
    "Medium",
    "Method",
    "Prices",
    "Scenario",
    "Sheet",
    "Site",
    "Supply",
    "Tank",
    "column_name",
    "compare",
    "crop_from",
    "daily_water_use",
    "evaluate",
    "feed_from",
    "harvest_from",
    "harvest_from_plots",
    "leaves",
    "load",
    "method_from",
    "part_label",
    "prices_from",
    "save",
    "scenario_for",
    "schema",
    "shown",
    "site_from",
    "value_at",
    "with_values",
]
