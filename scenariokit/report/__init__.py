"""Words and tables made from outcomes; no arithmetic of the field."""

from __future__ import annotations

from scenariokit.report.mixing_sheet import mixing_sheet, stock_labels
from scenariokit.report.nutrient_balance import balance_sentences, balance_table
from scenariokit.report.nutrients import (
    dose_sentences,
    ec_gauge,
    recipe_sentences,
    recipe_table,
    strength_sentences,
    water_words,
)
from scenariokit.report.sentences import sentences
from scenariokit.report.tables import (
    SUMMARY,
    comparison_csv,
    comparison_table,
    comparison_text,
    method_sheet,
    problems_list,
)
from scenariokit.report.water import (
    calendar_text,
    heat_sentences,
    medium_sentences,
    mishap_sentence,
    water_sentences,
)

__all__ = [
    "SUMMARY",
    "balance_sentences",
    "balance_table",
    "calendar_text",
    "comparison_csv",
    "comparison_table",
    "comparison_text",
    "dose_sentences",
    "ec_gauge",
    "heat_sentences",
    "medium_sentences",
    "method_sheet",
    "mishap_sentence",
    "mixing_sheet",
    "problems_list",
    "recipe_sentences",
    "recipe_table",
    "sentences",
    "stock_labels",
    "strength_sentences",
    "water_sentences",
    "water_words",
]
