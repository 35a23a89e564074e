"""The field book: what is printed is read back, before and after it was filled in."""

from __future__ import annotations

import csv
import datetime
import io

import numpy as np
import openpyxl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError
from scenariokit.trials.planning.designs import (
    block_layout,
    latin_square_layout,
    randomised_layout,
)
from scenariokit.trials.planning.field_book import field_book_csv, field_book_xlsx
from scenariokit.trials.planning.field_rows import BookDetails, field_rows
from scenariokit.trials.planning.field_sheet import field_book_text
from scenariokit.trials.planning.needs import PlotNeeds
from scenariokit.trials.planning.split_and_augmented import augmented_layout, split_plot_layout
from scenariokit.trials.planning.tanks import Tank, equal_tanks
from scenariokit.trials.records import plots_of, read_records, record_schema

TANKS = equal_tanks(4, "2 m", "0.75 m", sections=3)
LAYOUT = block_layout(["bag", "pots", "wick"], 4, seed=0, tanks=TANKS)
DETAILS = BookDetails("spring trial", "2026-05-01", variety="early")
SINGLE = equal_tanks(16, "1 m", "1 m")
LAYOUTS = {
    "blocks": LAYOUT,
    "randomised": randomised_layout(["bag", "pots"], 4, seed=0, tanks=SINGLE),
    "latin_square": latin_square_layout(list("ABCD"), seed=0, tanks=SINGLE),
    "split_plot": split_plot_layout(["bag", "pots"], ["x", "y", "z"], 2, seed=0, tanks=TANKS),
    "augmented": augmented_layout(
        ["x", "y"], ["n1", "n2"], 3, seed=0, treatment="bag", tanks=TANKS
    ),
    "factorial": block_layout(["bag", "pots"], 2, seed=0, varieties=["x", "y"], tanks=SINGLE),
}


def cells(book):
    return [list(row) for row in openpyxl.load_workbook(io.BytesIO(book))["plots"].values]


def read_back(content):
    records = read_records(content, name="book")
    assert records.problems == ()
    return records


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("write", [field_book_csv, field_book_xlsx])
def test_field_book_unedited_reads_back_exactly(write, name):
    layout = LAYOUTS[name]
    records = read_back(write(layout, DETAILS))
    rows = field_rows(layout, DETAILS)
    assert len(records.rows) == len(layout.plots)
    for found, sent in zip(records.rows, rows, strict=True):
        for column, value in sent.items():
            expected = DETAILS.planting_date if column == "planting_date" else value
            assert found[column] == expected
        assert found["ttwp"] is None
        assert found["harvest_date"] is None
    assert np.isnan(records.plots.yields).all()


def test_field_book_csv_filled_in_gives_the_yields():
    head, *rows = csv.reader(io.StringIO(field_book_csv(LAYOUT, DETAILS)))
    weight, day = head.index("ttwp [kg]"), head.index("harvest_date")
    for number, row in enumerate(rows, start=1):
        row[weight], row[day] = str(number / 2), "2026-08-20"
    rows[3][weight] = ""  # one plot was not harvested
    text = io.StringIO()
    csv.writer(text).writerows([head, *rows])
    records = read_back(text.getvalue())
    plots = plots_of(records)
    expected = np.arange(1, 13) / 2 / 0.5  # half a square metre each
    expected[3] = np.nan
    np.testing.assert_allclose(plots.yields, expected)
    assert plots.factors["method"] == tuple(plot.treatment for plot in LAYOUT.plots)
    assert plots.factors["block"] == tuple(plot.block for plot in LAYOUT.plots)
    assert plots.factors["row"] == tuple(str(plot.row) for plot in LAYOUT.plots)
    assert records.rows[0]["harvest_date"] == datetime.date(2026, 8, 20)


def test_field_book_xlsx_filled_in_gives_the_yields():
    book = openpyxl.load_workbook(io.BytesIO(field_book_xlsx(LAYOUT, DETAILS)))
    sheet = book["plots"]
    head = [cell.value for cell in sheet[1]]
    for number in range(2, sheet.max_row + 1):
        sheet.cell(number, head.index("ttwp [kg]") + 1, number - 1)
        sheet.cell(number, head.index("harvest_date") + 1, datetime.date(2026, 8, 20))
    out = io.BytesIO()
    book.save(out)
    records = read_back(out.getvalue())
    np.testing.assert_allclose(records.plots.yields, np.arange(1, 13) / 0.5)
    assert records.rows[0]["harvest_date"] == datetime.date(2026, 8, 20)


def test_field_book_split_plot_reads_back_with_its_whole_plots():
    layout = LAYOUTS["split_plot"]
    plots = plots_of(read_back(field_book_csv(layout, DETAILS)))
    whole = [main.rpartition("/")[2] for main in plots.factors["main"]]
    assert whole == [plot.main for plot in layout.plots]


def test_field_book_shared_water_reads_back_as_fewer_plots():
    tanks = equal_tanks(2, "2 m", "1 m", sections=3)
    layout = randomised_layout(["bag", "pots"], 3, seed=0, tanks=tanks)
    records = read_back(field_book_csv(layout, DETAILS))
    kinds = {(plot.tank, plot.treatment) for plot in layout.plots}
    assert len(records.plots) == len(kinds) < len(layout.plots)


@pytest.mark.parametrize("write", [field_book_csv, field_book_xlsx])
def test_field_book_us_units_read_back_to_the_same_areas(write):
    found = read_back(write(LAYOUT, DETAILS, system="us"))
    assert [row["plot_area"] for row in found.rows] == pytest.approx([0.5] * 12)
    text = field_book_csv(LAYOUT, DETAILS, system="us")
    assert "ttwp [lb]" in text.splitlines()[0]


def test_field_book_plants_and_medium_are_filled_in_where_stated():
    needs = PlotNeeds("9 plant/m^2", "3 L/plant")
    details = BookDetails("s", "2026-05-01", variety="early", needs=needs)
    row = read_back(field_book_xlsx(LAYOUT, details)).rows[0]
    assert (row["ntp"], row["medium_volume"]) == (4, 12)
    no_medium = BookDetails("s", "2026-05-01", variety="e", needs=PlotNeeds("9 plant/m^2"))
    assert read_back(field_book_csv(LAYOUT, no_medium)).rows[0]["medium_volume"] is None


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=9)


@pytest.mark.parametrize(("write", "examples"), [(field_book_csv, 60), (field_book_xlsx, 12)])
def test_field_book_any_names_read_back_exactly(write, examples):
    @settings(max_examples=examples, deadline=None)
    @given(st.lists(NAMES, min_size=4, max_size=4, unique=True))
    def check(names):
        assume("NA" not in names)
        *treatments, variety, study = names
        layout = block_layout(treatments, 2, seed=0, tanks=equal_tanks(4, "1 m", "1 m"))
        rows = read_back(write(layout, BookDetails(study, "2026-05-01", variety=variety))).rows
        assert [row["treatment"] for row in rows] == [plot.treatment for plot in layout.plots]
        assert {(row["genotype"], row["study_id"]) for row in rows} == {(variety, study)}

    check()


@pytest.mark.parametrize(
    "name", ["=1+1", "+x", "-x", "@x", "'=x", "''=x", "007", "1.0", "2026-05-01"]
)
def test_field_book_names_that_look_like_something_else_stay_text(name):
    layout = block_layout([name, "pots"], 2, seed=0, tanks=equal_tanks(4, "1 m", "1 m"))
    for write in (field_book_csv, field_book_xlsx):
        assert name in {row["treatment"] for row in read_back(write(layout, DETAILS)).rows}
    head, *rows = cells(field_book_xlsx(layout, DETAILS))
    assert all(isinstance(row[head.index("treatment")], str) for row in rows)


def test_field_book_xlsx_headings_are_locked_and_cells_open():
    sheet = openpyxl.load_workbook(io.BytesIO(field_book_xlsx(LAYOUT, DETAILS)))["plots"]
    assert sheet.protection.sheet
    assert not sheet.protection.password
    assert all(cell.protection.locked for cell in sheet[1])
    assert not any(cell.protection.locked for row in sheet.iter_rows(min_row=2) for cell in row)
    assert sheet.freeze_panes == "C2"
    assert [cell.value for cell in sheet[1]] == [
        field.heading() for field in record_schema().fields
    ]


def test_field_book_xlsx_offers_lists_and_checks_numbers():
    book = openpyxl.load_workbook(io.BytesIO(field_book_xlsx(LAYOUT, DETAILS)))
    sheet, lists = book["plots"], book["lists"]
    head = [cell.value for cell in sheet[1]]
    rules = {}
    for rule in sheet.data_validations.dataValidation:
        assert rule.allow_blank
        assert rule.showErrorMessage
        for ranged in rule.sqref.ranges:
            rules[head[ranged.min_col - 1]] = rule
            assert (ranged.min_row, ranged.max_row) == (2, 13)
    assert rules["treatment"].type == rules["genotype"].type == "list"
    assert rules["treatment"].formula1 == "lists!$A$2:$A$4"
    offered = [lists.cell(number, 1).value for number in (2, 3, 4)]
    assert sorted(offered) == ["bag", "pots", "wick"]
    assert lists["B2"].value == "early"
    assert (rules["ttwp [kg]"].type, rules["ttwp [kg]"].formula1) == ("decimal", "0.0")
    assert rules["ntp"].type == "whole"
    assert rules["harvest_date"].type == "date"
    assert "note" not in rules
    meanings = [row[0] for row in book["columns"].iter_rows(min_row=2, values_only=True)]
    assert meanings == head


def test_field_book_without_tanks_is_refused():
    layout = block_layout(["bag", "pots"], 2, seed=0)
    with pytest.raises(ArgumentError, match="without tanks"):
        field_book_csv(layout, DETAILS)


def test_field_rows_names_that_cannot_be_read_back_are_refused_all_at_once():
    layout = block_layout(["NA", "pots"], 2, seed=0, tanks=SINGLE)
    with pytest.raises(ArgumentError) as caught:
        field_rows(layout, BookDetails("s", "2026-05-01"))
    assert [problem.field for problem in caught.value.problems] == ["treatment", "variety"]
    long = block_layout(["x" * 101, "pots"], 2, seed=0, tanks=[Tank("t" * 102, "1 m", "1 m", 4)])
    with pytest.raises(ArgumentError) as caught:
        field_rows(long, DETAILS)
    assert {problem.field for problem in caught.value.problems} == {"treatment", "reservoir"}


@pytest.mark.parametrize("day", ["1 May 2026", "2026-13-01", "", None, datetime.date(1800, 1, 1)])
def test_book_details_impossible_date_is_refused(day):
    with pytest.raises(ArgumentError, match="planting_date"):
        BookDetails("s", day)


def test_book_details_dates_of_any_kind_are_one():
    noon = datetime.datetime(2026, 5, 1, 12, tzinfo=datetime.UTC)
    days = {BookDetails("s", day).planting_date for day in ("2026-05-01", noon, noon.date())}
    assert days == {datetime.date(2026, 5, 1)}


def test_book_details_all_faults_at_once():
    with pytest.raises(ArgumentError) as caught:
        BookDetails("", "soon", treatment=" x", variety="NA")
    assert len(caught.value.problems) == 4


def test_field_book_text_has_a_line_and_boxes_for_each_plot():
    text = field_book_text(LAYOUT, DETAILS, rows_per_page=5)
    pages = text.split("\f")
    assert len(pages) == 3
    assert all("Page" in page and "plot_id" in page for page in pages)
    lines = [line for line in text.splitlines() if line.startswith("P")]
    assert [line.split()[0] for line in lines] == [plot.plot_id for plot in LAYOUT.plots]
    assert all(line.count("[_") == 5 for line in lines)
    assert len({line.index("[__________]") for line in lines}) == 1
    assert "seed 0" in pages[0]
    assert "ttwp [kg]: Total tuber weight." in pages[-1]
    assert all(
        plot.treatment in line and plot.tank in line
        for plot, line in zip(LAYOUT.plots, lines, strict=True)
    )


@pytest.mark.parametrize("rows", [0, 2.5, True])
def test_field_book_text_impossible_page_is_refused(rows):
    with pytest.raises(ArgumentError, match="rows_per_page"):
        field_book_text(LAYOUT, DETAILS, rows_per_page=rows)
