"""The folder of a wall: what is seen in it, and how a file gets into it."""

from __future__ import annotations

import os

import pytest

from scenariokit.errors import RecordError
from scenariokit.trials.pooling import wall_folder
from scenariokit.trials.pooling.wall_folder import (
    files_in,
    group_name,
    keep_file,
    plain_stem,
    sent_group,
    write_sent,
)


def names(folder):
    return [one.name for one in files_in(folder)]


def test_files_in_takes_tables_and_boards_and_nothing_else(tmp_path):
    for name in ("b.csv", "a.XLSX", "c.json", "d.txt", ".hidden.csv", "~$a.xlsx"):
        (tmp_path / name).write_text("x")
    (tmp_path / "deep.csv").mkdir()
    outside = tmp_path.parent / "outside.csv"
    outside.write_text("secret")
    (tmp_path / "link.csv").symlink_to(outside)
    assert names(tmp_path) == ["a.XLSX", "b.csv", "c.json"]


def test_files_in_missing_folder_is_refused(tmp_path):
    with pytest.raises(RecordError, match="cannot be looked into"):
        files_in(tmp_path / "none")


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("Table 3", "Table 3"),
        ("  Les   Pommes  ", "Les Pommes"),
        ("../../etc/passwd", "etcpasswd"),
        ("<img src=x onerror=alert(1)>", "img srcx onerroralert1"),
        ("=cmd|' /C calc'!A0", "cmd C calcA0"),
        ("-rf", "rf"),
        ("Gärtner 組", "Gärtner 組"),
        ("\u202egnp.exe\x00", "gnpexe"),
        ("///", ""),
        ("x" * 90, "x" * 40),
    ],
)
def test_group_name_keeps_what_a_file_name_can_hold(given, kept):
    assert group_name(given) == kept


def test_write_sent_writes_whole_files_under_random_names(tmp_path):
    first = write_sent(tmp_path, "a,b\n1,2\n", "Table 3")
    second = write_sent(tmp_path, "a,b\n1,2\n", "Table 3")
    assert first != second
    assert first.read_text() == "a,b\n1,2\n"
    assert sent_group(first.name) == plain_stem(first.name) == "Table 3"
    assert sorted(os.listdir(tmp_path)) == sorted([first.name, second.name])
    assert first.parent == tmp_path


def test_write_sent_again_replaces_the_earlier_file(tmp_path):
    first = write_sent(tmp_path, "old", "Herons")
    second = write_sent(tmp_path, "new", "Herons", replaces=first)
    assert os.listdir(tmp_path) == [second.name]
    third = write_sent(tmp_path, "newer", "Herons", replaces=first)
    assert third.exists()


def test_write_sent_too_large_leaves_nothing(tmp_path):
    with pytest.raises(RecordError, match="too large to be sent: 300 kB"):
        write_sent(tmp_path, "x" * 300_001, "Herons")
    assert os.listdir(tmp_path) == []


def test_write_sent_into_a_full_folder_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(wall_folder, "MAX_FILES", 2)
    for _ in range(2):
        write_sent(tmp_path, "x", "Herons")
    with pytest.raises(RecordError, match="is full: 2 files"):
        write_sent(tmp_path, "x", "Herons")
    with pytest.raises(RecordError, match="is full"):
        keep_file(tmp_path, "mine.csv", b"x")


def test_write_sent_that_breaks_off_leaves_no_half_file(tmp_path, monkeypatch):
    def broken(self, _target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(wall_folder.Path, "replace", broken)
    with pytest.raises(RecordError, match="No space left on device"):
        write_sent(tmp_path, "x", "Herons")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    ("name", "content", "ending"),
    [("my trial.CSV", b"x", ".csv"), ("odd.exe", b"PK\x03\x04", ".xlsx"), ("odd", b"a,b", ".csv"),
     ("../up.json", b"{}", ".json")],
)  # fmt: skip
def test_keep_file_stays_in_the_folder_and_is_seen(tmp_path, name, content, ending):
    path = keep_file(tmp_path, name, content)
    assert path.parent == tmp_path
    assert path.suffix == ending
    assert names(tmp_path) == [path.name]
    assert path.read_bytes() == content
