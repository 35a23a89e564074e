"""Trials: records, analysis, pooled results, and the next trial."""

from __future__ import annotations

from scenariokit.trials.analysis import (
    Analysis,
    Comparisons,
    Design,
    RatioInterval,
    against_control,
    analyse,
    compact_letters,
    completely_randomised,
    contrast,
    friedman,
    interaction_words,
    kruskal_wallis,
    latin_square,
    missing_yields,
    pairwise,
    randomised_blocks,
    ratio_in,
    ratio_of_estimates,
    ratio_of_means,
    residual_checks,
    split_plot,
    treatment_means,
    welch,
)
from scenariokit.trials.demo import demo_files, demo_records, demo_study
from scenariokit.trials.harvest import (
    HarvestFile,
    MethodYield,
    harvest_schema,
    harvest_template,
    mean_interval,
    read_harvest,
    yield_by_method,
)
from scenariokit.trials.measures import GroupMeasures, Measure, group_measures
from scenariokit.trials.meta import meta_analysis
from scenariokit.trials.mixed.model import MixedAnalysis, mixed_model
from scenariokit.trials.over_studies import StudiesSummary, summarise_studies
from scenariokit.trials.planning.budget import trial_budget
from scenariokit.trials.planning.degrees import error_degrees
from scenariokit.trials.planning.designs import (
    block_layout,
    latin_square_layout,
    randomised_layout,
)
from scenariokit.trials.planning.field_book import field_book_csv, field_book_xlsx
from scenariokit.trials.planning.field_rows import BookDetails
from scenariokit.trials.planning.field_sheet import field_book_text
from scenariokit.trials.planning.layout import Layout
from scenariokit.trials.planning.needs import PlotNeeds
from scenariokit.trials.planning.plot_map import plot_map
from scenariokit.trials.planning.power import (
    detectable_difference,
    power_of_difference,
    replicates_for_difference,
)
from scenariokit.trials.planning.split_and_augmented import augmented_layout, split_plot_layout
from scenariokit.trials.planning.spread import (
    effect_of_difference,
    power_of_effect,
    replicates_for_effect,
)
from scenariokit.trials.planning.tanks import Tank, equal_tanks
from scenariokit.trials.planning.width import replicates_for_width, width_of_interval
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooled_prior import pooled_prior, tempered_differences
from scenariokit.trials.pooling.pool import Pooled, pool
from scenariokit.trials.prior import Prior, with_prior
from scenariokit.trials.records.merging import plots_of
from scenariokit.trials.records.reading import Records, read_records
from scenariokit.trials.records.report import record_template, record_workbook, report_csv
from scenariokit.trials.records.study import Study, read_study, study_template
from scenariokit.trials.summary import TrialSummary, summarise
from scenariokit.trials.to_yields import method_yields
from scenariokit.trials.unreplicated import credible_difference, unreplicated_differences

__all__ = [
    "Analysis",
    "BookDetails",
    "Comparisons",
    "Design",
    "GroupMeasures",
    "HarvestFile",
    "Layout",
    "Measure",
    "MethodYield",
    "MixedAnalysis",
    "PlotNeeds",
    "PlotTable",
    "Pooled",
    "Prior",
    "RatioInterval",
    "Records",
    "StudiesSummary",
    "Study",
    "Tank",
    "TrialSummary",
    "against_control",
    "analyse",
    "augmented_layout",
    "block_layout",
    "compact_letters",
    "completely_randomised",
    "contrast",
    "credible_difference",
    "demo_files",
    "demo_records",
    "demo_study",
    "detectable_difference",
    "effect_of_difference",
    "equal_tanks",
    "error_degrees",
    "field_book_csv",
    "field_book_text",
    "field_book_xlsx",
    "friedman",
    "group_measures",
    "harvest_schema",
    "harvest_template",
    "interaction_words",
    "kruskal_wallis",
    "latin_square",
    "latin_square_layout",
    "mean_interval",
    "meta_analysis",
    "method_yields",
    "missing_yields",
    "mixed_model",
    "pairwise",
    "plot_map",
    "plots_of",
    "pool",
    "pooled_prior",
    "power_of_difference",
    "power_of_effect",
    "randomised_blocks",
    "randomised_layout",
    "ratio_in",
    "ratio_of_estimates",
    "ratio_of_means",
    "read_harvest",
    "read_records",
    "read_study",
    "record_template",
    "record_workbook",
    "replicates_for_difference",
    "replicates_for_effect",
    "replicates_for_width",
    "report_csv",
    "residual_checks",
    "split_plot",
    "split_plot_layout",
    "study_template",
    "summarise",
    "summarise_studies",
    "tempered_differences",
    "treatment_means",
    "trial_budget",
    "unreplicated_differences",
    "welch",
    "width_of_interval",
    "with_prior",
    "yield_by_method",
]
