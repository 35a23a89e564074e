"""Mixed models of plots from several studies, sites and seasons."""

from __future__ import annotations

from scenariokit.trials.mixed.model import MixedAnalysis, mixed_model, random_terms
from scenariokit.trials.mixed.results import (
    FixedTest,
    RandomEffect,
    TreatmentDifference,
    TreatmentMean,
    VarianceComponent,
)

__all__ = [
    "FixedTest",
    "MixedAnalysis",
    "RandomEffect",
    "TreatmentDifference",
    "TreatmentMean",
    "VarianceComponent",
    "mixed_model",
    "random_terms",
]
