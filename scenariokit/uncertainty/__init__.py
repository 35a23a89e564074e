"""Uncertain numbers: spreads, what drives several of them, and many draws side by side."""

from __future__ import annotations

from scenariokit.uncertainty.draws import SET_OF_DRAWS, draw_scores, input_scores, input_values
from scenariokit.uncertainty.ensemble import (
    DEFAULT_OUTCOMES,
    Block,
    Difference,
    Ensemble,
    Stopped,
    ensemble,
    stream,
)
from scenariokit.uncertainty.inputs import Cause, Uncertain, Uncertainty, name_of
from scenariokit.uncertainty.placing import Placed, drawn_scenario, placed
from scenariokit.uncertainty.progress import Progress, ProgressLine
from scenariokit.uncertainty.running import RunningSummary, summarise_draws
from scenariokit.uncertainty.spreads import (
    Spread,
    fixed,
    from_interval,
    from_percentiles,
    lognormal,
    normal,
    pert,
    triangular,
    uniform,
)
from scenariokit.uncertainty.usual import usual_uncertainty, yield_spread

__all__ = [
    "DEFAULT_OUTCOMES",
    "SET_OF_DRAWS",
    "Block",
    "Cause",
    "Difference",
    "Ensemble",
    "Placed",
    "Progress",
    "ProgressLine",
    "RunningSummary",
    "Spread",
    "Stopped",
    "Uncertain",
    "Uncertainty",
    "draw_scores",
    "drawn_scenario",
    "ensemble",
    "fixed",
    "from_interval",
    "from_percentiles",
    "input_scores",
    "input_values",
    "lognormal",
    "name_of",
    "normal",
    "pert",
    "placed",
    "stream",
    "summarise_draws",
    "triangular",
    "uniform",
    "usual_uncertainty",
    "yield_spread",
]
