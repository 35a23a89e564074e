"""Plot records: one row for each tank or tank section, checked, and as experimental units."""

from __future__ import annotations

from scenariokit.trials.records.merging import plots_of
from scenariokit.trials.records.reading import Records, read_records, with_study
from scenariokit.trials.records.report import record_template, record_workbook, report_csv
from scenariokit.trials.records.schema import record_document, record_schema
from scenariokit.trials.records.study import Study, read_study, study_template

__all__ = [
    "Records",
    "Study",
    "plots_of",
    "read_records",
    "read_study",
    "record_document",
    "record_schema",
    "record_template",
    "record_workbook",
    "report_csv",
    "study_template",
    "with_study",
]
