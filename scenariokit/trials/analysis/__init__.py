"""Analysis of designed trials: what differs, by how much, and what is not shown."""

from __future__ import annotations

from scenariokit.trials.analysis.anova import Analysis, AnovaRow, Stratum, analyse
from scenariokit.trials.analysis.comparisons import (
    Comparisons,
    Contrast,
    Pair,
    contrast,
    pairwise,
)
from scenariokit.trials.analysis.designs import (
    Design,
    completely_randomised,
    latin_square,
    randomised_blocks,
    split_plot,
)
from scenariokit.trials.analysis.dunnett import against_control
from scenariokit.trials.analysis.letters import compact_letters
from scenariokit.trials.analysis.means import TreatmentMean, treatment_means
from scenariokit.trials.analysis.missing import missing_yields
from scenariokit.trials.analysis.ranks import RankPair, RankTest, friedman, kruskal_wallis
from scenariokit.trials.analysis.ratio import (
    RatioInterval,
    ratio_in,
    ratio_of_estimates,
    ratio_of_means,
)
from scenariokit.trials.analysis.residuals import ResidualChecks, normal_scores, residual_checks
from scenariokit.trials.analysis.unequal import WelchTest, welch
from scenariokit.trials.analysis.words import interaction_words

__all__ = [
    "Analysis",
    "AnovaRow",
    "Comparisons",
    "Contrast",
    "Design",
    "Pair",
    "RankPair",
    "RankTest",
    "RatioInterval",
    "ResidualChecks",
    "Stratum",
    "TreatmentMean",
    "WelchTest",
    "against_control",
    "analyse",
    "compact_letters",
    "completely_randomised",
    "contrast",
    "friedman",
    "interaction_words",
    "kruskal_wallis",
    "latin_square",
    "missing_yields",
    "normal_scores",
    "pairwise",
    "randomised_blocks",
    "ratio_in",
    "ratio_of_estimates",
    "ratio_of_means",
    "residual_checks",
    "split_plot",
    "treatment_means",
    "welch",
]
