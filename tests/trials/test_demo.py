"""The invented trials: they read without a fault but the one on purpose, and say what they are."""

from __future__ import annotations

import pytest

from scenariokit import catalog
from scenariokit.errors import RangeError
from scenariokit.trials.demo import DEMOS, POOL, demo_files, demo_records, demo_study
from scenariokit.trials.pooling import pool


@pytest.mark.parametrize("name", DEMOS)
def test_demo_records_every_row_says_that_it_is_invented(name):
    records = demo_records(name)
    assert records.rows
    assert all(row["note"].startswith("invented for demonstration") for row in records.rows)
    assert {row["treatment"] for row in records.rows} <= set(catalog.methods())


@pytest.mark.parametrize("name", DEMOS)
def test_demo_records_only_the_fault_on_purpose_is_found(name):
    records = demo_records(name)
    assert records.flags == ()
    expected = ["harvest_date"] if name == "moss_end" else []
    assert [problem.field for problem in records.problems] == expected


def test_demo_records_trial_is_three_blocks_of_four_methods_and_two_varieties():
    plots = demo_records().plots
    cells = set(zip(plots.column("block"), plots.column("method"), plots.column("variety"),
                    strict=True))  # fmt: skip
    assert len(plots) == len(cells) == 24
    assert len(plots.known()) == 23
    assert len(plots.levels("main")) == 24  # each tank has its own reservoir


def test_demo_records_single_has_one_plot_of_each_method():
    plots = demo_records("single").plots
    assert len(plots) == len(plots.levels("method")) == 4


def test_demo_study_says_that_it_is_invented_and_goes_with_the_trial():
    assert "Invented for demonstration" in demo_study().title
    assert demo_records().study == demo_study()
    assert demo_records("single").study is None


def test_demo_files_pool_converts_the_file_in_us_units():
    pooled = pool(demo_files())
    assert [file.name for file in pooled.files] == [DEMOS[name] for name in POOL]
    assert pooled.row_count == 52
    us = [row for row in pooled.rows() if row["study_id"] == "gull-reach-1"]
    assert us[0]["plot_area"] == pytest.approx(12 * 0.09290304)


@pytest.mark.parametrize("call", [demo_records, lambda name: demo_files((name,))])
def test_demo_unknown_name_lists_those_there_are(call):
    with pytest.raises(RangeError, match=r"nothing.*is no invented trial.*moss_end"):
        call("nothing")
