"""Files on the wall: each checked by itself, none lost, none that stops the others."""

from __future__ import annotations

import io
import logging
import os
import zipfile

import pytest

from scenariokit import catalog
from scenariokit.errors import RecordError
from scenariokit.trials import harvest_schema
from scenariokit.trials.demo_rooms import demo_rooms
from scenariokit.trials.records import record_template, record_workbook
from scenariokit.widgets import results_wall_state
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.results_wall_state import WallState, read_wall_file

ROW = {
    "study_id": "Herons", "plot_id": "1", "rep": "1", "treatment": "medium_bag",
    "genotype": "early", "planting_date": "2026-05-01", "plot_area": 2.0, "ttwp": 8.0,
}  # fmt: skip
HOSTILE = "<img src=x onerror=alert(1)>"
BAG = catalog.methods()["medium_bag"]["label"]


def text(*plots, **changes):
    rows = [{**ROW, "plot_id": str(n), "ttwp": value} for n, value in enumerate(plots, 1)]
    return record_template([{**row, **changes} for row in rows])


def put(folder, **files):
    for name, content in files.items():
        (folder / f"{name}.csv").write_text(content, encoding="utf-8")


def harvest(*values, method="medium_bag"):
    rows = [
        {
            "plot": str(n),
            "method": method,
            "crop": "potato",
            "tank_area": 2.0,
            "harvest_mass": value,
        }
        for n, value in enumerate(values, 1)
    ]
    return catalog.write_csv(rows, harvest_schema())


def board_with(*values):
    state = BoardState()
    state.load_harvest(harvest(*values).encode(), "mine.csv")
    return state.save()


def problems(one):
    return " ".join(str(problem) for problem in one.problems)


@pytest.fixture
def wall(tmp_path):
    return WallState(tmp_path)


def test_wall_state_takes_a_new_file_at_the_next_look(wall, tmp_path):
    assert wall.look()
    assert not wall.look()
    put(tmp_path, a=text(8.0, 9.0))
    assert wall.look()
    assert wall.found.rooms == ("Herons",)
    assert wall.plots == 2
    assert not wall.look()


def test_wall_state_a_half_written_file_is_read_again_when_it_is_whole(wall, tmp_path):
    whole = text(8.0, 9.0)
    put(tmp_path, a=whole[:100])
    wall.look()
    assert wall.files[0].rows == ()
    put(tmp_path, a=whole)
    assert wall.look()
    assert wall.plots == 2


def test_wall_state_removed_file_leaves_the_wall(wall, tmp_path):
    put(tmp_path, a=text(8.0), b=text(7.0, study_id="Reds"))
    wall.look()
    os.unlink(tmp_path / "a.csv")
    assert wall.look()
    assert wall.found.rooms == ("Reds",)


def test_wall_state_bad_files_are_listed_and_stop_nobody(wall, tmp_path):
    put(tmp_path, good=text(8.0, 9.0), words="hello,world\n1,2\n", empty="",
        commas=text(8.0, 9.0).replace("8", '"8,5"', 1))  # fmt: skip
    (tmp_path / "old.xlsx").write_bytes(b"\xd0\xcf\x11\xe0 old")
    (tmp_path / "broken.json").write_text("{")
    (tmp_path / "latin.csv").write_bytes("Größe".encode("latin-1"))
    (tmp_path / "my_study.csv").write_text("field,value\n")
    wall.look()
    found = {one.name: one for one in wall.files}
    assert wall.plots >= 2
    for name in ("words.csv", "empty.csv", "old.xlsx", "broken.json", "latin.csv", "my_study.csv"):
        assert found[name].rows == ()
        assert found[name].problems, name
    assert "the column is missing" in problems(found["words.csv"])
    assert "sheet of a study" in problems(found["my_study.csv"])


def test_wall_state_zip_bomb_is_refused_unopened(wall, tmp_path):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "x")
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 60_000_000)
    assert len(packed.getvalue()) < 100_000
    (tmp_path / "bomb.xlsx").write_bytes(packed.getvalue())
    put(tmp_path, good=text(8.0))
    wall.look()
    bomb = next(one for one in wall.files if one.name == "bomb.xlsx")
    assert "would unpack to 60 MB" in problems(bomb)
    assert wall.plots == 1


def test_wall_state_too_large_a_file_is_not_read(wall, tmp_path):
    (tmp_path / "huge.csv").write_bytes(b"x" * 5_000_001)
    wall.look()
    assert "5.0 MB" in problems(wall.files[0])


def test_wall_state_workbook_and_other_units_count(wall, tmp_path):
    (tmp_path / "a.xlsx").write_bytes(record_workbook([ROW]))
    (tmp_path / "b.csv").write_text(
        record_template([{**ROW, "study_id": "Reds"}], system="us"), encoding="utf-8"
    )
    wall.look()
    means = [room.mean.m for one in wall.found.methods for room in one.rooms]
    assert means == pytest.approx([4.0, 4.0])


def test_wall_state_two_groups_of_one_name_are_two_rooms(wall, tmp_path):
    put(tmp_path, a=text(8.0, 9.0), b=text(4.0, 5.0))
    wall.look()
    assert wall.found.rooms == ("Herons", "Herons (2)")
    assert wall.plots == 4
    second = wall.files[1]
    assert "shown as Herons (2)" in str(second.flags[-1])


def test_wall_state_two_files_of_one_room_with_other_plots_are_one_room(wall, tmp_path):
    more = record_template([{**ROW, "plot_id": "9"}])
    put(tmp_path, a=text(8.0, 9.0), b=more)
    wall.look()
    assert wall.found.rooms == ("Herons",)
    assert wall.plots == 3


def test_wall_state_one_file_handed_in_twice_counts_once(wall, tmp_path):
    put(tmp_path, a=text(8.0, 9.0), b=text(8.0, 9.0))
    wall.look()
    assert wall.plots == 2
    assert "same content as a.csv" in problems(wall.files[1])


def test_wall_state_names_of_plots_that_join_alike_do_not_clash(wall, tmp_path):
    first = record_template([{**ROW, "study_id": "a/b", "plot_id": "c"}])
    second = record_template([{**ROW, "study_id": "a", "plot_id": "b/c", "ttwp": 9.0}])
    put(tmp_path, one=first, two=second)
    wall.look()
    assert wall.plots == 2


def test_wall_state_saved_board_and_harvest_sheet_become_rooms(wall, tmp_path):
    (tmp_path / "Table 3.json").write_text(board_with(8.0, 9.0, 10.0), encoding="utf-8")
    (tmp_path / "Reds wall-0123456789ab.csv").write_text(harvest(7.0, 8.0), encoding="utf-8")
    wall.look()
    (bag,) = wall.found.methods
    assert bag.method == BAG
    means = {room.room: room.mean.m for room in bag.rooms}
    assert means == pytest.approx({"Table 3": 4.5, "Reds": 3.75})
    assert all(room.low is not None for room in bag.rooms)


def test_wall_state_board_without_own_weights_says_so(wall, tmp_path):
    (tmp_path / "plain.json").write_text(BoardState().save(), encoding="utf-8")
    wall.look()
    assert "no harvest weights of its own" in problems(wall.files[0])


def test_wall_state_methods_by_label_or_id_are_one(wall, tmp_path):
    put(tmp_path, a=text(8.0), b=text(9.0, study_id="Reds", treatment=BAG.upper()),
        c=text(9.0, study_id="Blues", treatment="our own"))  # fmt: skip
    wall.look()
    counts = {one.method: len(one.rooms) for one in wall.found.methods}
    assert counts == {BAG: 2, "our own": 1}


def test_wall_state_decimal_comma_is_declared_and_sent_files_keep_their_point(wall, tmp_path):
    comma = text(8.5).replace(",", ";").replace("8.5", "8,5").replace("2;", "2;")
    put(tmp_path, hand=comma)
    (tmp_path / "Reds wall-0123456789ab.csv").write_text(
        text(9.5, study_id="Reds"), encoding="utf-8"
    )
    wall.decimal = ","
    wall.look()
    means = {room.room: room.mean.m for one in wall.found.methods for room in one.rooms}
    assert means == pytest.approx({"Herons": 4.25, "Reds": 4.75})
    wall.decimal = "."
    assert wall.look()
    assert "Herons" not in wall.found.rooms


def test_wall_state_hostile_names_stay_text(wall, tmp_path):
    put(tmp_path, a=text(8.0, study_id=HOSTILE), b=text(9.0, study_id="=cmd|' /C calc'!A0"),
        c=text(7.0, study_id="\u202egnp.exe", treatment="=1+1"))  # fmt: skip
    wall.look()
    assert HOSTILE in wall.found.rooms
    assert "gnp.exe" in wall.found.rooms
    assert any(room.startswith("=cmd") for room in wall.found.rooms)
    table = wall.table()
    assert "'=cmd" in table
    assert "'=1+1" in table


def test_wall_state_more_files_than_it_reads_are_listed(wall, tmp_path, monkeypatch):
    monkeypatch.setattr(results_wall_state, "MAX_FILES", 2)
    put(tmp_path, a=text(8.0), b=text(9.0, study_id="Reds"), c=text(9.5, study_id="Blues"))
    wall.look()
    assert wall.plots == 2
    assert "one too many" in problems(wall.files[2])


def test_wall_state_fault_in_one_room_leaves_the_others(wall, tmp_path, monkeypatch, caplog):
    put(tmp_path, a=text(8.0), b=text(9.0, study_id="Reds"))
    real = results_wall_state.room_results

    def fragile(plots):
        if "Reds" in plots.levels("study"):
            raise ZeroDivisionError
        return real(plots)

    monkeypatch.setattr(results_wall_state, "room_results", fragile)
    with caplog.at_level(logging.ERROR):
        wall.look()
    assert wall.found.rooms == ("Herons",)
    assert "fault in this program" in problems(wall.files[1])
    assert "ZeroDivisionError" in caplog.text


def test_read_wall_file_fault_while_reading_is_told(monkeypatch, caplog):
    def broken(*_arguments):
        raise RuntimeError("odd")

    monkeypatch.setattr(results_wall_state, "read_chunk", broken)
    with caplog.at_level(logging.ERROR):
        found = read_wall_file("a.csv", text(8.0).encode())
    assert "fault in this program" in problems(found)


def test_wall_state_lost_folder_is_refused_and_what_is_known_stays(tmp_path):
    folder = tmp_path / "wall"
    folder.mkdir()
    put(folder, a=text(8.0))
    wall = WallState(folder)
    wall.look()
    os.unlink(folder / "a.csv")
    folder.rmdir()
    with pytest.raises(RecordError, match="cannot be looked into"):
        wall.look()
    assert wall.plots == 1


def test_wall_state_loaded_files_are_kept_in_the_folder(wall, tmp_path):
    good, bad = wall.add([("mine.csv", text(8.0).encode()), ("bad.csv", b"a,b\n1,2\n")])
    assert good.rows
    assert not bad.rows
    assert len(os.listdir(tmp_path)) == 1
    again = WallState(tmp_path)
    again.look()
    assert again.plots == 1


def test_wall_state_without_a_folder_keeps_loaded_files():
    wall = WallState()
    wall.look()
    wall.add([("mine.csv", text(8.0).encode())])
    assert wall.look()
    assert wall.plots == 1


def test_wall_state_shows_the_invented_class(wall, tmp_path):
    for name, content in demo_rooms():
        (tmp_path / name).write_bytes(content)
    wall.look()
    assert len(wall.found.rooms) == 8
    assert [one.replicated for one in wall.found.methods] == [5, 5, 5]
    assert sum(room.beyond for one in wall.found.methods for room in one.rooms) == 3
