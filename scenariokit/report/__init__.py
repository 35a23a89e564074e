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

__all__ = [
    "SUMMARY",
    "comparison_csv",
    "comparison_table",
    "comparison_text",
    "method_sheet",
    "problems_list",
    "sentences",
]
