"""Charts: rows in, Altair chart out. Altair loads when the first chart is made."""

from __future__ import annotations

from scenariokit.charts.bars import cost_stack_chart, resource_chart
from scenariokit.charts.frames import (
    axis_top,
    cost_rows,
    fate_rows,
    resource_rows,
    tradeoff_rows,
)
from scenariokit.charts.nutrients import (
    balance_chart,
    balance_rows,
    element_chart,
    element_rows,
)
from scenariokit.charts.points import fate_chart, tradeoff_chart
from scenariokit.charts.section import section_chart, section_rows, section_size
from scenariokit.charts.water import profile_chart, profile_rows, season_chart, season_rows

__all__ = [
    "axis_top",
    "balance_chart",
    "balance_rows",
    "cost_rows",
    "cost_stack_chart",
    "element_chart",
    "element_rows",
    "fate_chart",
    "fate_rows",
    "profile_chart",
    "profile_rows",
    "resource_chart",
    "resource_rows",
    "season_chart",
    "season_rows",
    "section_chart",
    "section_rows",
    "section_size",
    "tradeoff_chart",
    "tradeoff_rows",
]
