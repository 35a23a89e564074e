"""The results wall at the level of its traits."""

from __future__ import annotations

import re
from html import unescape

import pytest

from scenariokit.environment import WALL_VARIABLE
from scenariokit.errors import RecordError
from scenariokit.language import use_language
from scenariokit.trials.demo_rooms import demo_rooms
from scenariokit.trials.records import record_template
from scenariokit.widgets import open_wall
from scenariokit.widgets.file_saver import FileSaver

HOSTILE = "<img src=x onerror=alert(1)>"


def words(widget):
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.delenv(WALL_VARIABLE, raising=False)
    for name, content in demo_rooms():
        (tmp_path / name).write_bytes(content)
    return tmp_path


def tick(wall):
    wall.pulse._received(wall.pulse, {"kind": "tick"}, [])


def test_wall_shows_rooms_words_and_files(folder):
    wall = open_wall(folder)
    assert "8 files handed in · 8 rooms on the wall" in words(wall.counts)
    assert len(wall.chart.datasets["rooms"]) == 24
    assert len(wall.chart.datasets["pooled"]) == 3
    assert "One plot proves little" in words(wall.says)
    assert "ducklings.csv" in words(wall.files)
    assert wall.chart.table_rows


def test_wall_a_tick_brings_a_new_file_without_drawing_anew(folder):
    wall = open_wall(folder)
    spec = wall.chart.spec
    row = {"study_id": "Late", "plot_id": "1", "rep": "1", "treatment": "medium_bag",
           "genotype": "e", "planting_date": "2026-05-01", "plot_area": 1.0, "ttwp": 5.0}  # fmt: skip
    (folder / "blue_table_2.csv").write_text(record_template([row]), encoding="utf-8")
    tick(wall)
    assert "9 rooms" in words(wall.counts)
    assert any(one["room"] == "Late" for one in wall.chart.datasets["rooms"])
    assert wall.chart.spec["layer"] == spec["layer"]


def test_wall_a_tick_without_news_sends_no_rows(folder):
    wall = open_wall(folder)
    sent = []
    wall.chart.observe(lambda change: sent.append(change.name))
    tick(wall)
    assert sent == []


def test_wall_escapes_what_groups_write(tmp_path):
    row = {"study_id": HOSTILE, "plot_id": "1", "rep": "1", "treatment": HOSTILE,
           "genotype": "e", "planting_date": "2026-05-01", "plot_area": 1.0, "ttwp": 5.0}  # fmt: skip
    (tmp_path / "a <img src=x>.csv").write_text(record_template([row]), encoding="utf-8")
    wall = open_wall(tmp_path)
    for part in (wall.says, wall.files, wall.counts):
        assert "<img" not in part.value
    assert HOSTILE in words(wall.says)
    assert wall.chart.datasets["rooms"][0]["room"] == HOSTILE


def test_wall_without_files_waits(tmp_path):
    wall = open_wall(tmp_path)
    assert "No plot has been handed in yet" in words(wall.says)
    assert wall.chart.layout.display == "none"


def test_wall_unknown_folder_is_refused(tmp_path):
    with pytest.raises(RecordError, match="is no folder"):
        open_wall(tmp_path / "typo")


def test_wall_takes_the_folder_of_the_server(folder, monkeypatch):
    monkeypatch.setenv(WALL_VARIABLE, str(folder))
    assert open_wall().state.folder == folder


def test_wall_lost_folder_is_said_and_taken_back_when_it_returns(tmp_path):
    folder = tmp_path / "wall"
    folder.mkdir()
    wall = open_wall(folder)
    folder.rmdir()
    tick(wall)
    assert "cannot be looked into" in words(wall.status)
    folder.mkdir()
    tick(wall)
    assert words(wall.status) == ""


def test_wall_loading_says_what_became_of_each_file(tmp_path):
    wall = open_wall(tmp_path)
    name, content = demo_rooms()[0]
    assert "On the wall: blue_table.csv" in wall._load([(name, content)])
    assert len(list(tmp_path.iterdir())) == 1
    with pytest.raises(RecordError, match="the column is missing"):
        wall._load([("bad.csv", b"a,b\n1,2\n"), demo_rooms()[1]])
    assert len(list(tmp_path.iterdir())) == 2
    assert "2 rooms" in words(wall.counts)


def test_wall_settings_change_units_and_decimal_sign(folder):
    wall = open_wall(folder)
    wall.settings.values = {**wall.settings.values, "system": "us"}
    assert "lb/ft²" in str(wall.chart.spec)
    wall.settings.values = {**wall.settings.values, "decimal": ","}
    assert wall.state.decimal == ","
    assert "could not be used" in words(wall.counts)


def test_wall_another_language_keeps_the_numbers(folder):
    wall = open_wall(folder)
    before = sorted(one["mean"] for one in wall.chart.datasets["rooms"])
    try:
        wall.settings.values = {**wall.settings.values, "language": "es"}
        assert sorted(one["mean"] for one in wall.chart.datasets["rooms"]) == before
        assert wall.chart.words["lang"] == "es"
    finally:
        use_language("en")


def test_wall_files_to_take_away(folder):
    wall = open_wall(folder)
    made = {
        one.filename: one._make()
        for box in wall.widget.children
        for one in getattr(box, "children", ())
        if isinstance(one, FileSaver)
    }
    assert made["wall_plots.csv"].count("\n") == 58
    assert "size: A4" in made["worksheet_a4.html"]
    assert "size: letter" in made["worksheet_letter.html"]


def test_wall_look_now_shows_everything_again(folder):
    wall = open_wall(folder)
    wall.says.value = ""
    wall.refresh_button.click()
    assert "8 rooms" in words(wall.says)
