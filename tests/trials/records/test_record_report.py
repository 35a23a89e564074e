"""Reports to send back, and empty records to hand out."""

from __future__ import annotations

import csv
import datetime
import io

import openpyxl
import pytest

from scenariokit.trials.records import (
    read_records,
    record_schema,
    record_template,
    record_workbook,
    report_csv,
)

ROW = {
    "study_id": "S", "plot_id": "1", "rep": "1", "treatment": "pots", "genotype": "early",
    "planting_date": datetime.date(2026, 5, 1), "plot_area": 0.1 + 0.2, "ttwp": 1 / 3,
    "ntp": 4, "note": "=1+1",
}  # fmt: skip


def report(records):
    return list(csv.DictReader(io.StringIO(report_csv(records))))


def test_report_csv_has_a_row_for_each_problem_and_flag():
    rows = [
        {**ROW, "ttwp": -1.0, "rep": ""},
        {**ROW, "plot_id": "2", "ttwp": 99.0},
    ]
    found = report(read_records(record_template(rows), name="trial.csv"))
    assert [(one["row"], one["column"], one["outcome"]) for one in found] == [
        ("2", "rep", "not used"),
        ("2", "ttwp", "not used"),
        ("3", "ttwp", "used, but look again"),
    ]
    assert (found[1]["file"], found[1]["value"]) == ("trial.csv", "'-1 kg")
    assert found[1]["rule"] == "is below the allowed range"
    assert found[1]["allowed"] == "0 to 1e+06 kg"


def test_report_csv_nothing_wrong_is_a_heading_only():
    assert report(read_records(record_template([ROW]))) == []


def test_report_csv_problem_of_the_whole_file_has_no_row():
    text = record_template([ROW]).replace(",ttwp [kg]", ",ttwp", 1)
    text += record_template([{**ROW, "plot_id": "2"}]).splitlines()[1]
    records = read_records(text, units={"ttwp": "lb"})
    assert report(records) == []
    mixed = read_records(text.replace("0.3333333333333333", "0.3 kg", 1), units={"ttwp": "lb"})
    assert [one["row"] for one in report(mixed)] == [""]


def test_record_template_empty_has_headings_with_units():
    heading = next(csv.reader(io.StringIO(record_template())))
    assert heading[:3] == ["study_id", "plot_id", "rep"]
    assert {"plot_area [m^2]", "ttwp [kg]", "water_added [L]"} <= set(heading)
    assert "ttwp [lb]" in record_template(system="us")


@pytest.mark.parametrize("system", ["metric", "us"])
def test_record_template_reads_back(system):
    row = read_records(record_template([ROW], system=system)).rows[0]
    assert row["plot_area"] == pytest.approx(0.1 + 0.2, rel=1e-14)
    assert row["note"] == "=1+1"


def test_record_workbook_reads_back_to_sixteen_digits():
    records = read_records(record_workbook([ROW, {**ROW, "plot_id": "2", "ttwp": None}]))
    assert records.problems == ()
    first, second = records.rows
    texts = {name: value for name, value in ROW.items() if not isinstance(value, float)}
    assert {name: first[name] for name in texts} == texts
    assert first["plot_area"] == pytest.approx(ROW["plot_area"], rel=1e-15)
    assert first["ttwp"] == 1 / 3
    assert second["ttwp"] is None


def test_record_workbook_explains_every_column_on_its_second_sheet():
    book = openpyxl.load_workbook(io.BytesIO(record_workbook()))
    assert book.sheetnames == ["plots", "columns"]
    names = [cells[0].value for cells in book["columns"].iter_rows(min_row=2)]
    assert names == [field.heading() for field in record_schema().fields]
    assert book["plots"].freeze_panes == "C2"
