"""Sending to the wall: only where there is one, only what is said, only when asked."""

from __future__ import annotations

import logging
import os
import re
from html import unescape

import pytest

from scenariokit import catalog
from scenariokit.environment import WALL_VARIABLE
from scenariokit.errors import RecordError
from scenariokit.trials import harvest_schema
from scenariokit.trials.demo import demo_files
from scenariokit.trials.records import read_records, record_template
from scenariokit.widgets import open_board, open_drop, open_trial, open_wall
from scenariokit.widgets.trial_state import OWN, read_files
from scenariokit.widgets.wall_drop import sending_of_records, wall_folder

ROW = {
    "study_id": "S", "plot_id": "1", "rep": "1", "treatment": "medium_bag", "genotype": "early",
    "planting_date": "2026-05-01", "plot_area": 2.0, "ttwp": 8.0,
    "note": "weighed by a person with a name", "solution_note": "secret",
}  # fmt: skip


def words(widget):
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(WALL_VARIABLE, str(tmp_path))
    return tmp_path


def named(drop, name="Table 3"):
    drop.group.values = {"group": name}
    return drop


def only(folder):
    (path,) = folder.iterdir()
    return path


def test_drop_without_a_wall_says_to_hand_the_file_over(monkeypatch):
    monkeypatch.delenv(WALL_VARIABLE, raising=False)
    drop = open_drop()
    assert wall_folder() is None
    assert drop.button.disabled
    assert "Download your file and hand it to the facilitator" in words(drop.note)
    assert drop.button not in drop.widget.children


def test_drop_variable_that_names_no_folder_is_no_wall(monkeypatch, tmp_path):
    monkeypatch.setenv(WALL_VARIABLE, str(tmp_path / "typo"))
    assert wall_folder() is None


def test_drop_sends_a_checked_file_without_notes(folder):
    drop = named(open_drop())
    drop._choose("mine.csv", record_template([ROW]).encode())
    assert not list(folder.iterdir())
    drop.send()
    assert "Sent as Table 3: 1 plot" in words(drop.message)
    text = only(folder).read_text("utf-8")
    assert "person with a name" not in text
    assert "secret" not in text
    (row,) = read_records(text).rows
    assert (row["study_id"], row["ttwp"], row["treatment"]) == (
        "Table 3", 8.0, catalog.methods()["medium_bag"]["label"],
    )  # fmt: skip


def test_drop_sending_again_replaces(folder):
    drop = named(open_drop())
    drop._choose("mine.csv", record_template([ROW]).encode())
    drop.send()
    first = only(folder)
    drop._choose("mine.csv", record_template([{**ROW, "ttwp": 9.0}]).encode())
    drop.send()
    assert "earlier file is replaced" in words(drop.message)
    assert only(folder) != first
    assert read_records(only(folder)).rows[0]["ttwp"] == 9.0


def test_drop_bad_file_is_refused_with_its_reason_and_nothing_is_sent(folder):
    drop = named(open_drop())
    with pytest.raises(RecordError, match="the column is missing"):
        drop._choose("bad.csv", b"a,b\n1,2\n")
    drop.send()
    assert "none was chosen yet" in words(drop.message)
    assert os.listdir(folder) == []


def test_drop_bad_rows_are_told_and_left_out(folder):
    rows = [ROW, {**ROW, "plot_id": "2", "ttwp": -1.0}]
    drop = named(open_drop())
    said = drop._choose("mine.csv", record_template(rows).encode())
    assert "1 plot is ready to be sent. Not used: mine.csv, row 3" in said


def test_drop_needs_a_group_and_takes_no_markup(folder):
    drop = named(open_drop(), "///")
    drop._choose("mine.csv", record_template([ROW]).encode())
    drop.send()
    assert "a name for your group" in words(drop.message)
    named(drop, "<img src=x onerror=alert(1)>").send()
    assert "<img" not in drop.message.value
    assert "<" not in only(folder).name


def test_drop_several_studies_of_a_group_stay_apart():
    rows = [{**ROW, "planting_date": read_records(record_template([ROW])).rows[0]["planting_date"],
             "study_id": study} for study in ("spring", "autumn")]  # fmt: skip
    text = sending_of_records(rows).table("Herons")
    studies = {row["study_id"] for row in read_records(text).rows}
    assert studies == {"Herons: spring", "Herons: autumn"}


def test_drop_of_a_harvest_sheet_reaches_the_wall_under_the_group(folder):
    rows = [{"plot": "1", "method": "our own way", "crop": "potato", "tank_area": 2.0,
             "harvest_mass": 9.0}]  # fmt: skip
    drop = named(open_drop(), "Reds")
    drop._choose("weights.csv", catalog.write_csv(rows, harvest_schema()).encode())
    drop.send()
    wall = open_wall(folder)
    (method,) = wall.state.found.methods
    assert (method.method, method.rooms[0].room) == ("our own way", "Reds")
    assert method.rooms[0].mean.m == pytest.approx(4.5)


def test_trial_desk_sends_its_own_records_and_never_the_invented_ones(folder):
    desk = open_trial()
    drop = named(desk.files.wall)
    drop.send()
    assert "nothing of your own to send" in words(drop.message)
    desk.state.take(read_files(demo_files(("single",))), OWN)
    drop.send()
    assert "Sent as Table 3: 4 plots" in words(drop.message)
    wall = open_wall(folder)
    assert wall.state.found.rooms == ("Table 3",)
    assert wall.state.plots == 4


def test_board_sends_its_own_weights_and_never_the_invented_ones(folder):
    board = open_board()
    drop = named(board.files.wall)
    drop.send()
    assert "nothing of your own to send" in words(drop.message)
    rows = [{"plot": str(n), "method": "wedge_pots", "crop": "potato", "tank_area": 2.0,
             "harvest_mass": 8.0 + n} for n in range(3)]  # fmt: skip
    board.state.load_harvest(catalog.write_csv(rows, harvest_schema()).encode(), "mine.csv")
    drop.send()
    assert "Sent as Table 3: 3 plots" in words(drop.message)
    (method,) = open_wall(folder).state.found.methods
    assert method.rooms[0].mean.m == pytest.approx(4.5)
    assert method.rooms[0].low is not None


def test_drop_fault_is_said_and_traced(folder, caplog):
    drop = named(open_drop())
    drop._source = lambda: 1 / 0
    with caplog.at_level(logging.ERROR):
        drop.send()
    assert "Something went wrong inside scenariokit" in words(drop.message)
    assert "ZeroDivisionError" in caplog.text


def test_drop_wall_that_went_away_is_said(folder, tmp_path, monkeypatch):
    drop = named(open_drop())
    monkeypatch.setenv(WALL_VARIABLE, str(tmp_path / "gone"))
    drop.send()
    assert "cannot reach a wall" in words(drop.message)
