"""Controls, charts and the comparison board for notebooks and the browser.

Everything here shows; nothing here computes. Altair and the board load when
they are first used.
"""

from __future__ import annotations

import importlib
from typing import Any

_PUBLIC = {
    "ChartEngine": "scenariokit.widgets.engine",
    "ChartView": "scenariokit.widgets.chart_view",
    "FilePicker": "scenariokit.widgets.file_picker",
    "FileSaver": "scenariokit.widgets.file_saver",
    "FieldPanel": "scenariokit.widgets.field_panel",
    "Board": "scenariokit.widgets.board",
    "open_board": "scenariokit.widgets.board",
    "TrialDesk": "scenariokit.widgets.trial_desk",
    "open_trial": "scenariokit.widgets.trial_desk",
    "PlanDesk": "scenariokit.widgets.plan_desk",
    "open_planner": "scenariokit.widgets.plan_desk",
    "ResultsWall": "scenariokit.widgets.results_wall",
    "open_wall": "scenariokit.widgets.results_wall",
    "WallDrop": "scenariokit.widgets.wall_drop",
    "open_drop": "scenariokit.widgets.wall_drop",
    "Lesson": "scenariokit.widgets.lesson",
    "explore": "scenariokit.widgets.lesson",
}

__all__ = [*_PUBLIC]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _PUBLIC:
        raise AttributeError(f"scenariokit.widgets has no {name!r}; it has {', '.join(_PUBLIC)}")
    value = getattr(importlib.import_module(_PUBLIC[name]), name)
    globals()[name] = value
    return value
