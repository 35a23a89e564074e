"""The workbook holds the comparison's numbers as numbers, and nobody's formula."""

from __future__ import annotations

import datetime
import io
import shutil
import subprocess

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hostile import HOSTILE, labelled

from scenariokit import quantity
from scenariokit.charts.frames import Showing
from scenariokit.errors import InfeasibleError
from scenariokit.report.input_sources import input_lines, shared_lines
from scenariokit.report.workbook import comparison_workbook, number_format, sheet_title
from scenariokit.scenario import OUTCOMES, compare, scenario_for, with_values
from scenariokit.scenario.leaves import leaves

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
KEYS = ("medium_bag", "sheet_wick_tray", "suspended_pot")
TODAY = datetime.date(2026, 5, 3)
CSV_UTF8 = "csv:Text - txt - csv (StarCalc):44,34,76,1"
NUMBERS, INPUTS, SOURCES, CAUTIONS = range(4)


@pytest.fixture(scope="module")
def comparison():
    return compare([scenario_for(key) for key in KEYS])


def opened(comparison, showing=METRIC):
    packed = comparison_workbook(comparison, showing, TODAY)
    return openpyxl.load_workbook(io.BytesIO(packed)), packed


def texts(page):
    return [cell for row in page.iter_rows() for cell in row if isinstance(cell.value, str)]


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_comparison_workbook_read_by_pandas_gives_back_every_number(comparison, showing):
    _, packed = opened(comparison, showing)
    frame = pd.read_excel(io.BytesIO(packed), sheet_name=NUMBERS).iloc[: len(OUTCOMES)]
    for found in comparison:
        wanted = [showing.number(found, name) for name in OUTCOMES]
        got = frame[found.scenario.method.label].astype(float)
        np.testing.assert_allclose(got, [np.nan if one is None else one for one in wanted])
    assert list(frame.iloc[:, 1].fillna("")) == [showing.unit(name) for name in OUTCOMES]


def test_comparison_workbook_numbers_are_numbers_with_their_digits(comparison):
    page = opened(comparison)[0].worksheets[NUMBERS]
    for row, described in enumerate(OUTCOMES.values(), start=2):
        for column in range(3, 3 + len(KEYS)):
            cell = page.cell(row, column)
            assert cell.value is None or cell.data_type == "n"
            assert cell.number_format == number_format(described)
    assert page.freeze_panes == "C2"
    assert all(page.column_dimensions[letter].width >= 12 for letter in "ABCDE")


def test_comparison_workbook_inputs_hold_every_leaf_with_source_and_status(comparison):
    page = opened(comparison)[0].worksheets[INPUTS]
    rows = list(page.iter_rows(min_row=2, values_only=True))
    by_path = {}
    for holds, _, value, _, source, status, path in rows:
        assert isinstance(value, int | float)
        assert source, path
        assert status or path.startswith("feed.water_content"), path
        by_path.setdefault(path, {})[holds] = value
    for found in comparison:
        for path, described, held_value in leaves(found.scenario):
            if np.ndim(held_value.m):
                assert f"{path}.12" in by_path
                continue
            held = by_path[path]
            label = found.scenario.method.label
            (mine,) = [v for k, v in held.items() if k == "all methods" or label in k]
            assert mine == pytest.approx(float(held_value.m)), described.name


def test_input_lines_value_set_by_hand_says_so():
    plain = scenario_for("wedge_pots")
    moved = with_values(plain, {"feed.ec": "1.9 dS/m", "method.plants_per_area": "20 plant/m^2"})
    before = {line.path: line.rest.status for line in input_lines(plain, METRIC)}
    after = {line.path: line.rest.status for line in input_lines(moved, METRIC)}
    assert "set" not in before.values()
    changed = {path for path, status in after.items() if status == "set"}
    assert changed == {"feed.ec", "method.plants_per_area"}


def test_input_lines_ensemble_is_refused_with_its_path():
    many = with_values(scenario_for("wedge_pots"), {"tank.area": quantity([1.0, 2.0, 3.0], "m^2")})
    with pytest.raises(InfeasibleError, match=r"tank\.area holds 3 values"):
        input_lines(many, METRIC)


def test_shared_lines_what_is_alike_stands_once(comparison):
    places = {}
    for line, names in shared_lines(comparison, METRIC):
        places.setdefault(line.path, []).append(names)
    assert places["feed.ec"] == [()]
    assert len(places["harvest.typical"]) == len(KEYS)


def test_comparison_workbook_every_outcome_has_formula_and_direction_in_words(comparison):
    page = opened(comparison)[0].worksheets[SOURCES]
    rows = list(page.iter_rows(min_row=2, max_row=1 + len(OUTCOMES), values_only=True))
    assert [row[2] for row in rows] == [described.formula for described in OUTCOMES.values()]
    assert {row[3] for row in rows} == {
        "higher is better", "lower is better", "neither is better in itself",
    }  # fmt: skip


def test_comparison_workbook_all_cautions_and_reasons_are_there():
    zero = {f"harvest.{end}": "0 kg/m^2" for end in ("low", "typical", "high")}
    both = compare([scenario_for("medium_bag"), with_values(scenario_for("paper_wrap"), zero)])
    page = opened(both)[0].worksheets[CAUTIONS]
    said = {row[2] for row in page.iter_rows(min_row=2, values_only=True)}
    for found in both:
        assert {caution.text for caution in found.cautions} <= said
        assert set(found.undefined.values()) <= said


def test_comparison_workbook_demo_data_says_that_it_is_invented(comparison):
    book, _ = opened(comparison)
    for page in (book.worksheets[NUMBERS], book.worksheets[SOURCES]):
        assert any("Demo data is invented" in cell.value for cell in texts(page))


@pytest.mark.parametrize("label", HOSTILE.values(), ids=HOSTILE)
def test_comparison_workbook_hostile_text_is_text_in_every_cell(label):
    book, _ = opened(compare([labelled(label)]))
    for page in book.worksheets:
        for cell in texts(page):
            assert cell.data_type == "s"
            assert not any(ord(sign) < 32 or "\u202a" <= sign <= "\u202e" for sign in cell.value)
            if cell.value[:1] in tuple("=+-@"):
                assert cell.quotePrefix
    assert not any(
        cell.data_type == "f" for page in book for row in page.iter_rows() for cell in row
    )


def test_comparison_workbook_negative_number_stays_a_number():
    dear = with_values(scenario_for("wedge_pots"), {"prices.labour_price": "90 money/hour"})
    page = opened(compare([dear]))[0].worksheets[NUMBERS]
    margin = next(row for row in page.iter_rows() if row[0].value == "Left over per area")[2]
    assert margin.data_type == "n"
    assert margin.value < 0


@pytest.mark.parametrize("text", ["[a]:*?/\\'b", "x" * 60, "Números y unidades: todo lo que hay"])
def test_sheet_title_any_language_is_taken_by_a_spreadsheet(text):
    book = openpyxl.Workbook()
    assert book.create_sheet(sheet_title(text)).title == sheet_title(text)
    assert len(sheet_title(text)) <= 31


def test_comparison_workbook_libreoffice_reads_the_same_numbers(comparison, tmp_path):
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("LibreOffice (soffice) is not installed")
    path = tmp_path / "comparison.xlsx"
    path.write_bytes(comparison_workbook(comparison, METRIC, TODAY))
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    subprocess.run(
        [soffice, profile, "--headless", "--convert-to", CSV_UTF8, "--outdir", tmp_path, path],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    frame = pd.read_csv(tmp_path / "comparison.csv", thousands=",").iloc[: len(OUTCOMES)]
    for found in comparison:
        for row, (name, described) in enumerate(OUTCOMES.items()):
            value = METRIC.number(found, name)
            shown = frame[found.scenario.method.label].iloc[row]
            if value is None:
                assert pd.isna(shown)
            else:
                number = float(str(shown).replace(",", ""))
                assert number == pytest.approx(value, abs=0.5001 * 10**-described.digits)
