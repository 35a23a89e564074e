"""The invented class."""

from __future__ import annotations

from scenariokit.trials.demo_rooms import GROUPS, METHODS, demo_rooms
from scenariokit.trials.records import read_records


def test_demo_rooms_read_back_and_are_always_the_same():
    files = demo_rooms()
    assert files == demo_rooms()
    read = {name: read_records(content, name=name) for name, content in files}
    assert sum(len(one.problems) for one in read.values()) == 0
    counts = {one.rows[0]["study_id"]: len(one.rows) for one in read.values()}
    assert counts == {"Ducklings": 6} | {group: plots * len(METHODS) for group, plots, _ in GROUPS}


def test_demo_rooms_one_file_is_absurd_and_says_so():
    name, content = demo_rooms()[-1]
    flags = read_records(content, name=name).flags
    assert len(flags) == 6
    assert all("largest recorded" in flag.reason for flag in flags)
