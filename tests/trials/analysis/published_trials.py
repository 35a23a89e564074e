"""Published trials as plots, from tests/published/trial_yields.csv."""

from __future__ import annotations

import csv
from pathlib import Path

from scenariokit.trials.analysis.designs import (
    completely_randomised,
    latin_square,
    randomised_blocks,
    split_plot,
)
from scenariokit.trials.plots import PlotTable

PUBLISHED = Path(__file__).parents[2] / "published"
DESIGNS = {
    "scab": completely_randomised("treatment"),
    "latin": latin_square("treatment"),
    "strawberry": randomised_blocks("variety"),
    "sweetpotato": completely_randomised("virus"),
    "silicon": completely_randomised("instrument"),
    "handbook": completely_randomised("group"),
    "oats": split_plot("variety", "nitrogen"),
    "alfalfa": split_plot("variety", "date"),
    "peas": randomised_blocks("n", "p", "k"),
    "plants": completely_randomised("group"),
    "warp": completely_randomised("wool", "tension"),
    "sprays": latin_square("treatment"),
    "blood": completely_randomised("drug"),
    "sleep": randomised_blocks("drug", block="patient"),
}


def levels_of(text):
    """Return "a=1 2;b=x y" as {"a": ["1", "2"], "b": ["x", "y"]}."""
    parts = [part.split("=") for part in text.split(";") if part]
    return {name: levels.split(" ") for name, levels in parts}


def read_trial(name):
    yields, factors = [], {}
    with (PUBLISHED / "trial_yields.csv").open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["trial"] == name]
    for row in rows:
        values = [float(value) for value in row["values"].split()]
        yields += values
        held = dict(part.split("=") for part in row["held"].split(";"))
        along = levels_of(row["along"])
        for factor, level in held.items():
            factors.setdefault(factor, []).extend([level] * len(values))
        for factor, levels in along.items():
            factors.setdefault(factor, []).extend(levels)
    return PlotTable(yields, {factor: tuple(levels) for factor, levels in factors.items()})
