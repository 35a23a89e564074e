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
from scenariokit.scenario.evaluate import Evaluation, evaluate
from scenariokit.scenario.flows import DailyFlows, daily_flows, daily_water_use
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
from scenariokit.scenario.moisture import medium_check, medium_profile, mix_hydraulics
from scenariokit.scenario.outcomes import COST_PARTS, OUTCOMES, part_label
from scenariokit.scenario.season import (
    TankSeason,
    WarmMonth,
    root_zone_months,
    tank_season,
    thirstiest_day,
)
from scenariokit.scenario.weather import OwnWeather, site_with_weather

__all__ = [
    "COST_PARTS",
    "OUTCOMES",
    "Comparison",
    "Container",
    "Crop",
    "DailyFlows",
    "Evaluation",
    "Feed",
    "Harvest",
    "Level",
    "Medium",
    "Method",
    "OwnWeather",
    "Prices",
    "Scenario",
    "Sheet",
    "Site",
    "Supply",
    "Tank",
    "TankSeason",
    "WarmMonth",
    "column_name",
    "compare",
    "crop_from",
    "daily_flows",
    "daily_water_use",
    "evaluate",
    "feed_from",
    "harvest_from",
    "harvest_from_plots",
    "leaves",
    "load",
    "medium_check",
    "medium_profile",
    "method_from",
    "mix_hydraulics",
    "part_label",
    "prices_from",
    "root_zone_months",
    "save",
    "scenario_for",
    "schema",
    "shown",
    "site_from",
    "site_with_weather",
    "tank_season",
    "thirstiest_day",
    "value_at",
    "with_values",
]
