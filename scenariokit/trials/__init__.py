"""Trials: what was weighed, and what may be said about it."""

from __future__ import annotations

from scenariokit.trials.harvest import (
    HarvestFile,
    MethodYield,
    harvest_schema,
    harvest_template,
    mean_interval,
    read_harvest,
    yield_by_method,
)

__all__ = [
    "HarvestFile",
    "MethodYield",
    "harvest_schema",
    "harvest_template",
    "mean_interval",
    "read_harvest",
    "yield_by_method",
]
