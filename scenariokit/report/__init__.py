"""Words and tables made from outcomes; no arithmetic of the field."""

from __future__ import annotations

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
    "calendar_text",
    "comparison_csv",
    "comparison_table",
    "comparison_text",
    "heat_sentences",
    "medium_sentences",
    "method_sheet",
    "mishap_sentence",
    "problems_list",
    "sentences",
    "water_sentences",
]
