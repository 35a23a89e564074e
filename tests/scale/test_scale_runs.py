"""Runs in chunks: the same bits however cut, whole files only, and going on where one stopped."""

from __future__ import annotations

import builtins
import dataclasses
import errno
import json
import os
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pandas as pd
import pytest

from scenariokit.errors import InfeasibleError, RangeError, ScenarioFileError, ScenarioKitError
from scenariokit.scale import CHUNK, Chunk, Grid, chunk_values, read, run, runs, save_grid, store
from scenariokit.scale.store import is_done, make_part, open_folder, stated_in
from scenariokit.uncertainty import Uncertain, Uncertainty, ensemble, uniform, usual_uncertainty

pytest.importorskip("pyarrow")

GRID = Grid(
    ("medium_bag", "wedge_pots", "paper_wrap"), planting_months=(4, 9), draws=300, seed=5,
    outcomes=("yield_per_area", "cost_per_kilogram", "margin_per_area"),
)  # fmt: skip


def bits(frame):
    """Return a table in one order, with its numbers as they are."""
    return frame.sort_values(["planting_month", "method", "draw"]).reset_index(drop=True)


def parts(folder):
    return sorted(folder.glob("part-*.parquet"))


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    run(GRID, folder, chunk=1000)
    return folder


# -- the numbers ---------------------------------------------------------------------


def test_run_holds_the_draws_of_an_ensemble_to_the_bit(whole):
    scenarios = GRID.scenarios(GRID.cells()[1])
    expected = ensemble(scenarios, usual_uncertainty(scenarios), 300, 5, GRID.outcomes)
    found = read(whole, planting_months=[9])
    for number, method in enumerate(GRID.methods):
        rows = found[found["method"] == method].sort_values("draw")
        for name, column in (("margin_per_area", "margin_per_area_money_per_m2"),
                             ("cost_per_kilogram", "cost_per_kilogram_money_per_kg")):  # fmt: skip
            np.testing.assert_array_equal(rows[column], expected.floats(name)[number])


@pytest.mark.parametrize("chunk", [1, 37, 128, 299])
def test_run_in_chunks_equals_the_whole_to_the_bit(whole, tmp_path, chunk):
    if chunk == 1:  # six hundred files: a few draws do
        grid = dataclasses.replace(GRID, draws=5)
        run(grid, tmp_path, chunk=1)
        expected = read(whole).query("draw < 5")
    else:
        run(GRID, tmp_path, chunk=chunk)
        expected = read(whole)
    pd.testing.assert_frame_equal(bits(read(tmp_path)), bits(expected), check_exact=True)


def test_chunk_values_over_the_end_of_a_set_of_draws_are_those_of_the_whole():
    """Draws come in sets of 65,536, and blocks of 12,288 do not divide them."""
    grid = dataclasses.replace(GRID, methods=("wedge_pots",), draws=70_000)
    cell = grid.cells()[0]
    all_ = chunk_values(grid, Chunk(cell, 0, 70_000))
    for start, stop in ((65_530, 65_545), (12_287, 12_290), (69_999, 70_000)):
        for name, rows in chunk_values(grid, Chunk(cell, start, stop)).items():
            np.testing.assert_array_equal(rows, all_[name][:, start:stop])


def test_run_cells_share_their_draws(tmp_path):
    """What differs between price lists is the lists: yields are the same, draw by draw."""
    grid = dataclasses.replace(GRID, price_lists=("tern_hollow", "dunmarrow"))
    run(grid, tmp_path)
    found = read(tmp_path, ["yield_per_area"], planting_months=[4])
    here, there = (
        found[found["price_list"] == one]["yield_per_area_kg_per_m2"].to_numpy()
        for one in grid.price_lists
    )
    np.testing.assert_array_equal(here, there)


# -- going on ------------------------------------------------------------------------


def test_run_again_makes_nothing_and_tells_the_same(whole):
    told = []
    again = run(GRID, whole, chunk=1000, progress=lambda done, total: told.append((done, total)))
    assert (again.parts, again.made, again.notes) == (2, 0, ())
    assert told == []


def test_run_broken_off_goes_on_where_it_stopped(whole, tmp_path):
    def stop(done, _total):
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(GRID, tmp_path, chunk=100, progress=stop)
    kept = {path: path.stat().st_mtime_ns for path in parts(tmp_path)}
    assert len(kept) == 3
    with pytest.raises(InfeasibleError, match="tern_hollow, month 9, tern_hollow is not finished"):
        read(tmp_path)
    assert len(read(tmp_path, planting_months=[4])) == 900
    told = []
    rest = run(GRID, tmp_path, progress=lambda done, total: told.append((done, total)))
    assert (rest.parts, rest.made) == (6, 3)
    assert told == [(4, 6), (5, 6), (6, 6)]
    assert {path: path.stat().st_mtime_ns for path in kept} == kept
    pd.testing.assert_frame_equal(bits(read(tmp_path)), bits(read(whole)), check_exact=True)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_sweep_command_interrupted_stops_cleanly(tmp_path):
    grid = tmp_path / "grid.json"
    grid.write_text(save_grid(dataclasses.replace(GRID, draws=200_000)))
    into = tmp_path / "out"
    command = [sys.executable, "-m", "scenariokit.cli", "sweep", str(grid), "--into", str(into)]
    process = subprocess.Popen(
        [*command, "--chunk", "1000"], stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    while len(parts(into)) < 3 and process.poll() is None:
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGINT)
    said = process.communicate(timeout=30)[1]
    assert process.returncode == 130
    assert "stopped; the same command goes on where it stopped" in said
    assert "Traceback" not in said
    assert not list(into.glob(".*"))
    for path in parts(into):
        _, cell, start, stop = path.stem.split("-")
        chunk = Chunk(GRID.cells()[int(cell)], int(start), int(stop))
        assert is_done(dataclasses.replace(GRID, draws=200_000), chunk, into) == "yes"


@pytest.mark.parametrize("damage", ["cut", "empty", "words", "foreign", "short"])
def test_run_damaged_file_is_put_aside_and_made_again(tmp_path, damage):
    run(GRID, tmp_path, chunk=150)
    victim = parts(tmp_path)[1]
    content = victim.read_bytes()
    if damage == "foreign":
        other = dataclasses.replace(GRID, seed=6)
        elsewhere = tmp_path / "elsewhere"
        elsewhere.mkdir()
        make_part(other, Chunk(GRID.cells()[0], 150, 300), elsewhere)
        victim.write_bytes((elsewhere / victim.name).read_bytes())
    elif damage == "short":
        import pyarrow.parquet as parquet

        parquet.write_table(parquet.read_table(victim).slice(0, 10), victim)
    else:
        victim.write_bytes({"cut": content[:-40], "empty": b"", "words": b"not a table"}[damage])
    with pytest.raises(ScenarioFileError, match=f"{victim.name}: .*run the grid into"):
        read(tmp_path)
    again = run(GRID, tmp_path, chunk=150)
    assert again.made == 1
    (note,) = again.notes
    assert victim.name in note
    assert "put aside" in note
    assert victim.read_bytes() == content
    assert victim.with_name(victim.name + ".damaged").exists()


def test_run_two_at_once_into_one_folder_are_harmless(whole, tmp_path):
    failed = []

    def work():
        try:
            run(GRID, tmp_path, chunk=40)
        except ScenarioKitError as error:
            failed.append(error)

    threads = [threading.Thread(target=work) for _ in range(3)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert failed == []
    assert sorted(path.name for path in tmp_path.iterdir() if "part" not in path.name) == [
        "grid.json"
    ]
    pd.testing.assert_frame_equal(bits(read(tmp_path)), bits(read(whole)), check_exact=True)


def test_open_folder_at_the_same_moment_keeps_what_was_first(tmp_path, monkeypatch):
    """Two runs see an empty folder; the grid of one stands, and the other is told."""
    linked = os.link

    def slow(source, target):
        monkeypatch.setattr(os, "link", linked)
        open_folder(tmp_path, dataclasses.replace(GRID, seed=6), 70)
        linked(source, target)

    monkeypatch.setattr(os, "link", slow)
    with pytest.raises(InfeasibleError, match="another grid, of other seed"):
        open_folder(tmp_path, GRID, 50)
    assert stated_in(tmp_path).grid.seed == 6
    assert sorted(path.name for path in tmp_path.iterdir()) == ["grid.json"]


def test_open_folder_where_files_have_one_name_only(tmp_path, monkeypatch):
    def none(*_names):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", none)
    open_folder(tmp_path, GRID, 50)
    assert stated_in(tmp_path).chunk == 50


def test_is_done_of_a_file_that_another_run_puts_aside_meanwhile(tmp_path, monkeypatch):
    chunk = Chunk(GRID.cells()[0], 0, 300)
    (tmp_path / f"{chunk.name}.parquet").write_bytes(b"damaged")

    def gone(grid, chunk, path):
        path.unlink()
        return "is of another run"

    monkeypatch.setattr(store, "fault_of", gone)
    assert is_done(GRID, chunk, tmp_path) == "no"


def test_is_done_of_a_file_that_cannot_be_put_aside(tmp_path):
    chunk = Chunk(GRID.cells()[0], 0, 300)
    (tmp_path / f"{chunk.name}.parquet").write_bytes(b"damaged")
    aside = tmp_path / f"{chunk.name}.parquet.damaged"
    aside.mkdir()
    (aside / "full").touch()
    with pytest.raises(ScenarioFileError, match="cannot be read"):
        is_done(GRID, chunk, tmp_path)


def test_open_folder_removes_what_killed_runs_left_but_not_what_may_be_written(tmp_path):
    old, new = tmp_path / ".part-1.parquet.ab.writing", tmp_path / ".part-2.parquet.cd.writing"
    other = tmp_path / ".mine"
    for path in (old, new, other):
        path.touch()
    for path in (old, other):
        os.utime(path, (1.0, 1.0))
    run(GRID, tmp_path)
    assert sorted(path.name for path in tmp_path.glob(".*")) == [".mine", new.name]


def test_open_folder_leftover_that_vanishes_is_no_fault(tmp_path, monkeypatch):
    class Gone:
        def stat(self):
            raise FileNotFoundError

    monkeypatch.setattr(store.Path, "glob", lambda *_: [Gone()])
    assert open_folder(tmp_path, GRID) == tmp_path


# -- what is refused -----------------------------------------------------------------


def test_run_refuses_a_folder_of_another_grid_or_cut(tmp_path):
    run(GRID, tmp_path, chunk=150)
    other = dataclasses.replace(GRID, seed=6, draws=301)
    with pytest.raises(InfeasibleError, match="another grid, of other draws, seed; take"):
        run(other, tmp_path, chunk=150)
    with pytest.raises(InfeasibleError, match="begun with 150 draws in a chunk, not 100"):
        run(GRID, tmp_path, chunk=100)
    assert len(parts(tmp_path)) == 4


def test_run_refuses_a_folder_begun_by_another_scenariokit(tmp_path):
    run(GRID, tmp_path)
    document = json.loads((tmp_path / "grid.json").read_text())
    document["run"]["catalogue"] = "0123456789ab"
    (tmp_path / "grid.json").write_text(json.dumps(document))
    with pytest.raises(InfeasibleError, match="catalogue 0123456789ab and this is scenariokit"):
        run(GRID, tmp_path)


@pytest.mark.parametrize("beside", [{}, {"run": {"chunk": 0}}, {"run": 5}])
def test_run_refuses_a_folder_that_does_not_say_how_it_was_cut(tmp_path, beside):
    (tmp_path / "grid.json").write_text(save_grid(GRID, **beside))
    with pytest.raises(ScenarioFileError, match="how it was cut into chunks"):
        run(GRID, tmp_path)


@pytest.mark.parametrize("chunk", [0, -1, 2.5, True])
def test_run_chunk_that_is_none_is_refused_before_anything_is_written(tmp_path, chunk):
    with pytest.raises(RangeError, match=f"chunk = {chunk}"):
        run(GRID, tmp_path / "new", chunk=chunk)
    assert not (tmp_path / "new").exists()


def test_run_uncertainty_that_does_not_fit_is_refused_before_anything_is_written(tmp_path):
    wrong = Uncertainty((Uncertain("prices.labour_price", uniform("1 kg", "2 kg")),))
    with pytest.raises(ScenarioKitError, match=r"prices\.labour_price"):
        run(dataclasses.replace(GRID, uncertainty=wrong), tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_run_folder_that_cannot_be_is_said(tmp_path):
    blocked = tmp_path / "taken"
    blocked.write_text("a file")
    with pytest.raises(ScenarioFileError, match="taken"):
        run(GRID, blocked / "deeper")


def test_run_full_disk_is_said_and_leaves_the_whole_files(whole, tmp_path, monkeypatch):
    synced, count = os.fsync, []

    def full(descriptor):
        count.append(descriptor)
        if len(count) > 3:  # the grid and two chunks
            raise OSError(errno.ENOSPC, "No space left on device")
        synced(descriptor)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ScenarioFileError, match="No space left on device"):
        run(GRID, tmp_path, chunk=100)
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".writing"] == []
    assert len(parts(tmp_path)) == 2
    monkeypatch.setattr(os, "fsync", synced)
    assert run(GRID, tmp_path).made == 4
    pd.testing.assert_frame_equal(bits(read(tmp_path)), bits(read(whole)), check_exact=True)


def test_run_without_pyarrow_says_how_to_install(tmp_path, monkeypatch):
    imported = builtins.__import__

    def missing(name, *arguments, **named):
        if name.startswith("pyarrow"):
            raise ImportError(name)
        return imported(name, *arguments, **named)

    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(InfeasibleError, match=r"scenariokit\[scale\]"):
        run(GRID, tmp_path / "new")


# -- the files -----------------------------------------------------------------------


def test_run_file_has_units_and_the_run_in_its_schema(whole):
    import pyarrow.parquet as parquet

    with parquet.ParquetFile(parts(whole)[1]) as file:
        schema, groups = file.schema_arrow, file.metadata.num_row_groups
    field = schema.field("margin_per_area_money_per_m2")
    assert field.metadata == {b"unit": b"money/m^2", b"outcome": b"margin_per_area"}
    assert json.loads(schema.metadata[b"scenariokit"]) == {
        "grid": GRID.digest, "seed": 5, "cell": 1, "start": 0, "stop": 300,
    }  # fmt: skip
    assert schema.metadata[b"version"]
    types = {name: str(schema.field(name).type) for name in schema.names}
    for name in ("method", "site", "price_list", "currency"):
        assert types[name].startswith("dictionary<values=string")
    assert (types["draw"], types["yield_per_area_kg_per_m2"]) == ("int64", "double")
    assert groups == len(GRID.methods)


def test_run_folder_says_how_it_was_begun(tmp_path):
    run(GRID, tmp_path)
    assert stated_in(tmp_path).grid == GRID
    assert stated_in(tmp_path).chunk == CHUNK


# -- work in batches, as workers get it ----------------------------------------------


def test_batches_hold_every_chunk_once_and_few_draws():
    cells = Grid(("wedge_pots",), planting_months=tuple(range(1, 13)), draws=100).cells()
    work = [Chunk(cell, 0, 100) for cell in cells]
    found = list(runs.batches(work, 350))
    assert [len(one) for one in found] == [3, 3, 3, 3]
    assert [chunk for one in found for chunk in one] == work
    assert [len(one) for one in runs.batches(work, 50)] == [1] * 12
    assert list(runs.batches([])) == []


def test_work_off_keeps_what_a_lost_worker_had_finished(tmp_path):
    open_folder(tmp_path, GRID, 150)
    batch = tuple(Chunk(GRID.cells()[0], start, start + 150) for start in (0, 150))
    make_part(GRID, batch[0], tmp_path)
    before = parts(tmp_path)[0].stat().st_mtime_ns
    names = runs.work_off(GRID, batch, str(tmp_path), runs.origin())
    assert names == [path.name for path in parts(tmp_path)]
    assert parts(tmp_path)[0].stat().st_mtime_ns == before


def test_work_off_refuses_a_folder_that_the_worker_does_not_share(tmp_path):
    batch = (Chunk(GRID.cells()[0], 0, 150),)
    with pytest.raises(InfeasibleError, match="a worker does not see the folder"):
        runs.work_off(GRID, batch, str(tmp_path), runs.origin())
    open_folder(tmp_path, dataclasses.replace(GRID, seed=7))
    with pytest.raises(InfeasibleError, match="another folder for a worker"):
        runs.work_off(GRID, batch, str(tmp_path), runs.origin())


def test_work_off_refuses_another_scenariokit(tmp_path):
    open_folder(tmp_path, GRID)
    other = dataclasses.replace(runs.origin(), version="9.9")
    with pytest.raises(InfeasibleError, match=r"this machine scenariokit 9\.9"):
        runs.work_off(GRID, (Chunk(GRID.cells()[0], 0, 150),), str(tmp_path), other)
