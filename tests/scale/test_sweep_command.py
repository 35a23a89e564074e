"""The command that works a grid file out."""

from __future__ import annotations

import argparse
import dataclasses
import io
import json

import pandas as pd
import pytest

from scenariokit import cli, scale
from scenariokit.scale import Grid, command, example_grid, fold, load_grid, save_grid, summarise

pytest.importorskip("pyarrow")

GRID = Grid(("medium_bag", "wedge_pots"), draws=64, outcomes=("yield_per_area", "cost_per_area"))


@pytest.fixture
def path(tmp_path):
    made = tmp_path / "grid.json"
    made.write_text(save_grid(GRID))
    return str(made)


def table(text):
    return pd.read_csv(io.StringIO(text))


def test_sweep_command_prints_an_example_with_notes_that_can_be_read(capsys):
    assert cli.main(["sweep", "--example"]) == 0
    said = capsys.readouterr().out
    assert load_grid(said) == example_grid()
    assert any("planting_months: 1 to 12" in note for note in json.loads(said)["notes"])


def test_sweep_command_example_note_of_an_input_is_a_good_one():
    """What the note tells people to write can be read."""
    document = json.loads(save_grid(GRID))
    document["grid"]["uncertainty"] = {"inputs": [
        {"path": "prices.produce_price", "relative": True,
         "spread": {"kind": "pert", "numbers": [0.6, 1, 1.5]}},
    ]}  # fmt: skip
    assert load_grid(json.dumps(document)).uncertainty is not None


def test_sweep_command_keeps_draws_sums_them_up_and_goes_on(path, tmp_path, capsys):
    into = str(tmp_path / "out")
    arguments = ["sweep", path, "--into", into, "--chunk", "40", "--summary", "yield_per_area"]
    assert cli.main(arguments) == 0
    said = capsys.readouterr()
    assert "2 files" in said.err
    pd.testing.assert_frame_equal(table(said.out), summarise(into, "yield_per_area"))
    assert cli.main(["sweep", path, "--into", into]) == 0
    assert capsys.readouterr().out == f"2 files in {into}, 0 of them made now\n"


def test_sweep_command_says_what_was_damaged(path, tmp_path, capsys):
    into = tmp_path / "out"
    cli.main(["sweep", path, "--into", str(into)])
    next(into.glob("part-*")).write_bytes(b"")
    assert cli.main(["sweep", path, "--into", str(into)]) == 0
    said = capsys.readouterr()
    assert "put aside" in said.err
    assert "1 of them made now" in said.out


def test_sweep_command_without_a_folder_prints_summaries_and_keeps_nothing(path, tmp_path, capsys):
    assert cli.main(["sweep", path, "--draws", "4096"]) == 0
    expected = fold(dataclasses.replace(GRID, draws=4096))
    pd.testing.assert_frame_equal(table(capsys.readouterr().out), expected)
    assert [one.name for one in tmp_path.iterdir()] == ["grid.json"]
    assert cli.main(["sweep", path, "--summary", "margin_per_area"]) == 0
    assert "margin_per_area_p50_money_per_m2" in capsys.readouterr().out


def test_sweep_command_hands_workers_and_address_on(path, monkeypatch, capsys):
    asked = []

    def noted(grid, *, progress, cluster):
        asked.append(cluster)
        return fold(grid)

    monkeypatch.setattr(scale, "fold", noted)
    cli.main(["sweep", path, "--workers", "2"])
    cli.main(["sweep", path, "--cluster", "tcp://127.0.0.1:8786"])
    cli.main(["sweep", path])
    assert asked == [2, "tcp://127.0.0.1:8786", None]
    assert capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "name a grid file"),
        (["none.json", "--into", "x"], "none.json"),
        (["GRID", "--draws", "0"], "draws = 0"),
        (["GRID", "--summary", "joy"], "outcomes = joy"),
        (["GRID", "--workers", "0"], "cluster = 0 is no number of processes"),
        (["GRID", "--workers", "1", "--cluster", "tcp://127.0.0.1:1"], "not both"),
    ],
)
def test_sweep_command_says_what_lacks(path, arguments, words, capsys):
    assert cli.main(["sweep", *(path if one == "GRID" else one for one in arguments)]) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(("into", "words"), [([], "stopped\n"), (["x"], "goes on where it")])
def test_sweep_command_stopped_says_so(path, tmp_path, monkeypatch, capsys, into, words):
    def stopped(*_arguments, **_named):
        raise KeyboardInterrupt

    monkeypatch.setattr(scale, "fold", stopped)
    monkeypatch.setattr(scale, "run", stopped)
    extra = ["--into", str(tmp_path / into[0])] if into else []
    assert cli.main(["sweep", path, *extra]) == 130
    assert words in capsys.readouterr().err


def test_add_arguments_knows_what_the_command_reads():
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    found = vars(parser.parse_args([]))
    assert set(found) == {
        "grid", "example", "into", "draws", "chunk", "workers", "cluster", "summary",
    }  # fmt: skip
