"""Harvest weights from files, and what may be said from a few plots."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials import harvest_template, mean_interval, read_harvest, yield_by_method

HEAD = "plot,method,tank_area [m^2],harvest_mass [kg]\n"


def yields(text, **options):
    return yield_by_method(read_harvest(HEAD + text, **options))


def test_mean_interval_equals_worked_example():
    # computed by hand: mean 4.766667, s 0.611010, t(0.975, 2) = 4.3027 (Student's table)
    low, high = mean_interval([4.1, 4.9, 5.3])
    assert low == pytest.approx(3.248833, abs=1e-5)
    assert high == pytest.approx(6.284500, abs=1e-5)


@pytest.mark.parametrize(
    ("degrees", "t"),
    [(1, 12.7062), (2, 4.3027), (3, 3.1824), (4, 2.7764), (10, 2.2281), (30, 2.0423)],
)
def test_mean_interval_uses_the_tabled_t(degrees, t):
    """Two-sided 95 % points of Student's t, as printed in statistical tables."""
    values = np.arange(degrees + 1, dtype=float)
    low, high = mean_interval(values)
    half = t * values.std(ddof=1) / np.sqrt(values.size)
    assert (high - low) / 2 == pytest.approx(half, rel=2e-5)


def test_mean_interval_single_value_has_none():
    assert mean_interval([4.9]) is None


@pytest.mark.parametrize(("values", "level"), [([], 0.95), ([1, 2], 0.0), ([1, 2], 1.0)])
def test_mean_interval_impossible_request_raises(values, level):
    with pytest.raises(ValueError, match=r"values|level"):
        mean_interval(values, level)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0.1, 20), min_size=2, max_size=12), st.floats(0.1, 10))
def test_mean_interval_scales_with_the_values(values, factor):
    low, high = mean_interval(values)
    wide = mean_interval([value * factor for value in values])
    np.testing.assert_allclose(wide, (low * factor, high * factor), rtol=1e-9, atol=1e-9)


def test_yield_by_method_means_per_method_with_interval():
    found = yields(
        "A,wedge_pots,2,8.2\nB,wedge_pots,2,9.8\nC,wedge_pots,2,10.6\nD,medium_bag,1,6\n"
    )
    pots, bag = found["wedge_pots", "potato"], found["medium_bag", "potato"]
    assert pots.plots == 3
    assert pots.mean.m_as("kg/m^2") == pytest.approx(4.766667, abs=1e-6)
    assert pots.low.m_as("kg/m^2") == pytest.approx(3.248833, abs=1e-5)
    assert pots.values == pytest.approx((4.1, 4.9, 5.3))
    assert (bag.plots, bag.low, bag.high) == (1, None, None)


def test_yield_by_method_blank_is_not_harvested_and_zero_is_nothing():
    found = yields("A,wedge_pots,2,\nB,wedge_pots,2,0\nC,wedge_pots,2,8\n")["wedge_pots", "potato"]
    assert (found.plots, found.unharvested) == (2, 1)
    assert found.mean.m_as("kg/m^2") == pytest.approx(2.0)
    assert found.low.magnitude == 0  # an interval of a mean near zero does not go below it


def test_yield_by_method_all_blank_is_left_out():
    assert yields("A,wedge_pots,2,\n") == {}


def test_read_harvest_takes_mixed_units_row_by_row():
    text = "plot,method,tank_area [m^2],harvest_mass [kg]\nA,wedge_pots,2,8\nB,wedge_pots,21.527821 ft^2,17.6369810 lb\n"
    found = yield_by_method(read_harvest(text))["wedge_pots", "potato"]
    assert found.values == pytest.approx((4.0, 4.0), rel=1e-6)  # 8 kg on 2 m² twice


def test_read_harvest_takes_labels_and_any_case():
    assert ("wedge_pots", "potato") in yields("A,Nested pots with wedge pockets,2,8\n")
    assert ("wedge_pots", "potato") in yields("A,WEDGE_POTS,2,8\n")


def test_read_harvest_bad_rows_are_listed_and_good_ones_kept():
    text = "A,wedge_pots,2,8\nB,hanging_garden,2,8\nC,wedge_pots,0,8\nD,wedge_pots,2,-1\nA,wedge_pots,2,9\n"
    found = read_harvest(HEAD + text, name="mine.csv")
    assert [row["plot"] for row in found.rows] == ["A"]
    assert sorted(problem.row for problem in found.problems) == [3, 4, 5, 6]
    unknown = next(problem for problem in found.problems if problem.row == 3)
    assert unknown.field == "method"
    assert "medium_bag" in unknown.allowed
    assert unknown.file == "mine.csv"


def test_read_harvest_unknown_crop_is_listed():
    text = "plot,method,crop,tank_area [m^2],harvest_mass [kg]\nA,wedge_pots,cactus,2,8\n"
    found = read_harvest(text)
    assert not found.rows
    assert "potato" in found.problems[0].allowed


def test_read_harvest_decimal_comma_is_declared_not_guessed():
    text = "plot;method;tank_area [m^2];harvest_mass [kg]\nA;wedge_pots;2,5;10,5\n"
    refused = read_harvest(text)
    assert not refused.rows
    assert all("decimal" in str(problem) for problem in refused.problems)
    (row,) = read_harvest(text, decimal=",").rows
    assert row["harvest_mass"] == pytest.approx(10.5)


@pytest.mark.parametrize("content", [b"", b"plot,method\n", b"\xff\xfe\x00x", b"x" * 50_000_000])
def test_read_harvest_unusable_file_raises_one_error(content):
    with pytest.raises(RecordError):
        read_harvest(content, name="mine.csv")


def test_read_harvest_xlsx_and_byte_order_mark():
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (
        ["plot", "method", "tank_area [m^2]", "harvest_mass [kg]"],
        ["A", "wedge_pots", 2, 8],
    ):
        book.active.append(row)
    buffer = io.BytesIO()
    book.save(buffer)
    sheet = read_harvest(buffer.getvalue(), name="mine.xlsx")
    text = read_harvest(b"\xef\xbb\xbf" + (HEAD + "A,wedge_pots,2,8\n").encode())
    assert sheet.rows[0]["harvest_mass"] == text.rows[0]["harvest_mass"] == 8


def test_harvest_template_reads_back_when_filled():
    head = harvest_template().strip()
    columns = [name.split(" [")[0] for name in head.split(",")]
    filled = {"plot": "A", "method": "wedge_pots", "tank_area": "2", "harvest_mass": "8"}
    row = ",".join(filled.get(name, "") for name in columns)
    assert read_harvest(f"{head}\n{row}\n").rows[0]["tank_area"] == 2
