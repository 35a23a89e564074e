"""Many files as one table."""

from __future__ import annotations

import csv
import gc
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials.pooling import pool, sources
from scenariokit.trials.records import read_records, record_template, record_workbook

ROW = {
    "study_id": "S", "plot_id": "1", "rep": "1", "treatment": "pots", "genotype": "early",
    "planting_date": "2026-05-01", "plot_area": 2.0, "ttwp": 8.0,
}  # fmt: skip


def text(*plots, **changes):
    return record_template([{**ROW, "plot_id": plot, **changes} for plot in plots])


def given_files(**contents):
    return [(f"{name}.csv", content.encode()) for name, content in contents.items()]


def write(folder, **contents):
    for name, content in contents.items():
        path = folder / f"{name}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content, encoding="utf-8")
    return folder


def messages(pooled):
    return [str(problem) for problem in pooled.problems()]


def test_pool_folder_gives_one_table_with_places(tmp_path):
    write(tmp_path, b=text("3"), a=text("1", "2"))
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "c.XLSX").write_bytes(record_workbook([{**ROW, "plot_id": "4"}]))
    (tmp_path / "notes.txt").write_text("not a table")
    (tmp_path / ".hidden.csv").write_text("x")
    (tmp_path / "~$b.xlsx").write_text("lock")
    pooled = pool(tmp_path)
    places = [(row["plot_id"], row["_file"], row["_row"]) for row in pooled.rows()]
    assert places == [("1", "a.csv", 2), ("2", "a.csv", 3), ("3", "b.csv", 2),
                      ("4", "deep/c.XLSX", 2)]  # fmt: skip
    first = next(pooled.rows())
    assert first["_hash"] == sources.content_hash(text("1", "2").encode())
    assert first["planting_date"].isoformat() == "2026-05-01"
    assert (pooled.row_count, pooled.refused_count, messages(pooled)) == (4, 0, [])
    assert pooled.notes == (
        "plots pooled: 4; rows refused: 0; files of which nothing was used: 0 of 3",
    )


def test_pool_plots_are_those_of_the_files_read_singly():
    files = given_files(a=text("1", "2"), b=text("3", ttwp=None), c=text("1", study_id="T"))
    pooled = pool(files)
    plots = pooled.plots()
    single = [read_records(content) for _, content in files]
    assert plots.known().yields.tolist() == [
        value for one in single for value in one.plots.known().yields
    ]
    assert plots.plot_ids == ("S/1", "S/2", "S/3", "T/1")
    assert plots.notes[0] == pooled.notes[-1]


def test_pool_occupied_area_is_asked_for_with_the_file():
    pooled = pool(given_files(a=text("1")))
    with pytest.raises(RecordError, match=r"a\.csv, row 2: occupied_area"):
        pooled.plots(per="occupied")


def test_pool_reservoir_shared_across_files_counts_once():
    files = given_files(a=text("1", reservoir="T"), b=text("2", reservoir="T"))
    assert len(pool(files).plots()) == 1


def test_pool_same_plot_in_two_files_is_refused_with_both_places():
    pooled = pool(given_files(a=text("1", "2"), b=text("3", "2", ttwp=9.0)))
    assert messages(pooled) == [
        "b.csv, row 3: study_id, plot_id = S, 2: stands in a.csv, row 3 too; that one was kept; "
        "allowed: each plot in one file"
    ]
    assert [(file.rows, file.refused, file.problems) for file in pooled.files] == [
        (2, 0, 0),
        (1, 1, 1),
    ]
    assert [row["ttwp"] for row in pooled.rows()] == [8.0, 8.0, 9.0]


def test_pool_same_content_under_another_name_is_told_once():
    pooled = pool(given_files(a=text("1", "2"), b=text("1", "2")))
    assert messages(pooled) == [
        "b.csv: file: has the same content as a.csv and was not used; allowed: each file once"
    ]
    assert pooled.row_count == 2


def test_pool_other_declared_unit_is_converted():
    pounds = text("2").replace("ttwp [kg]", "ttwp [lb]")
    pooled = pool(given_files(a=text("1"), b=pounds))
    assert [row["ttwp"] for row in pooled.rows()] == [8.0, pytest.approx(8 * 0.45359237)]


def test_pool_file_without_unit_is_refused_as_a_whole():
    bare = text("2", "3").replace("ttwp [kg]", "ttwp")
    pooled = pool(given_files(a=text("1"), b=bare, c=text("4")))
    assert [row["plot_id"] for row in pooled.rows()] == ["1", "4"]
    (problem,) = pooled.problems()
    assert (problem.file, problem.field) == ("b.csv", "ttwp")
    assert "without a unit; the file was not pooled" in problem.reason
    declared = pool(given_files(a=text("1"), b=bare), units={"ttwp": "kg"})
    assert declared.row_count == 3


def test_pool_file_with_two_units_in_a_column_is_refused_as_a_whole():
    mixed = text("2", "3").replace(",8,", ",8 lb,", 1)
    pooled = pool(given_files(a=text("1"), b=mixed))
    (problem,) = pooled.problems()
    assert (problem.field, problem.value) == ("ttwp", "lb, kg")
    assert pooled.row_count == 1


def test_pool_bad_files_never_stop_the_rest(tmp_path):
    write(tmp_path, a=text("1"), b="", c="nothing\nelse\n", e=text("2", "3", plot_area=0.0))
    (tmp_path / "d.xlsx").write_bytes(b"PK\x03\x04broken")
    (tmp_path / "f.csv").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "g.csv").write_bytes(b"x" * (sources.MAX_BYTES + 1))
    (tmp_path / "h.csv").write_text(text("4"))
    paths = sorted(path for path in tmp_path.iterdir())
    pooled = pool([*paths, tmp_path / "gone.csv", tmp_path])
    assert [row["plot_id"] for row in pooled.rows()] == ["1", "4"]
    failed = {problem.file.rpartition("/")[2] for problem in pooled.problems()}
    assert failed == {"b.csv", "c.csv", "d.xlsx", "e.csv", "f.csv", "g.csv", "gone.csv",
                      tmp_path.name}  # fmt: skip
    assert pooled.refused_count == 2
    by_name = {file.name.rpartition("/")[2]: file for file in pooled.files}
    assert (by_name["gone.csv"].hash, by_name["g.csv"].hash) == ("", "")


def test_pool_unknown_column_is_told_but_its_rows_are_taken():
    extra = text("1").splitlines()
    pooled = pool(given_files(a=f"{extra[0]},skin\n{extra[1]},rough\n"))
    assert (pooled.row_count, pooled.refused_count) == (1, 0)
    assert "skin" in messages(pooled)[0]


def test_pool_flags_are_kept_apart():
    pooled = pool(given_files(a=text("1", ttwp=90.0)))
    assert messages(pooled) == []
    (flag,) = pooled.flags()
    assert "above the largest recorded" in flag.reason


def test_pool_text_like_a_formula_comes_back_as_it_was():
    pooled = pool(given_files(a=text("=1+1", note="-2 degrees", treatment="@home")))
    row = next(pooled.rows())
    assert (row["plot_id"], row["note"], row["treatment"]) == ("=1+1", "-2 degrees", "@home")
    with pooled.plots_path.open(newline="", encoding="utf-8") as handle:
        line = next(csv.DictReader(handle))
    assert line["plot_id"] == "'=1+1"


def test_pool_studies_are_read_beside_the_records():
    good = "key,value\nstudy_id,S\ntitle,Pots\ncountry,NZ\nplanting,2026-05-01\nlicence,CC0\n"
    files = given_files(
        a=text("1"), a_study=good, b_study=good, c_study=good.replace("study_id,S\n", ""),
        d_study="key,value\ntitle,x\n",
    )  # fmt: skip
    pooled = pool(files)
    assert pooled.studies["S"].licence == "CC0"
    assert pooled.row_count == 1
    found = [(one.file, one.field) for one in pooled.study_problems]
    assert found == [("b_study.csv", "study_id"), ("c_study.csv", "study_id"),
                     ("d_study.csv", "country"), ("d_study.csv", "planting"),
                     ("d_study.csv", "licence")]  # fmt: skip


def test_pool_decimal_comma_is_passed_on():
    comma = text("1", ttwp=8.5).replace(",", ";").replace(".", ",")
    assert next(pool(given_files(a=comma), decimal=",").rows())["ttwp"] == 8.5


@pytest.mark.parametrize(
    ("source", "options", "words"),
    [
        ([], {}, "there are none"),
        ("nowhere at all", {}, "is no folder"),
        ([("a", b""), ("a", b"")], {}, "names two files"),
        ([("a", b"")], {"workers": 0}, "1 or more"),
        ([("a", b"")], {"workers": "two"}, "1 or more"),
        ([("a", b"")], {"units": {"ttwp": "L"}}, "another dimension"),
    ],
)
def test_pool_impossible_request_raises(source, options, words):
    with pytest.raises(RecordError, match=words):
        pool(source, **options)


def test_pool_temporary_folder_goes_with_the_result():
    pooled = pool(given_files(a=text("1")))
    folder = pooled.folder
    rows = pooled.rows()
    del pooled
    gc.collect()
    assert next(rows)["plot_id"] == "1"  # rows being read keep it
    del rows
    gc.collect()
    assert not folder.exists()


def test_pool_temporary_folder_goes_when_the_run_fails(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def stop(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pool(given_files(a=text("1")), progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_pool_progress_counts_to_the_total(monkeypatch):
    monkeypatch.setattr(sources, "CHUNK_FILES", 2)
    seen = []
    files = given_files(**{f"f{number}": text(str(number)) for number in range(5)})
    pool(files, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(2, 5), (4, 5), (5, 5)]


def test_pool_chunks_are_bounded_in_bytes(monkeypatch):
    monkeypatch.setattr(sources, "CHUNK_BYTES", 100)
    files = [sources.PoolFile(str(number), b"x" * 60) for number in range(3)]
    assert [len(group) for group in sources.chunks(files)] == [1, 1, 1]
    assert list(sources.chunks([])) == []


@pytest.mark.parametrize("chunk", [1, 3, 64])
def test_pool_result_does_not_depend_on_chunks(monkeypatch, chunk):
    monkeypatch.setattr(sources, "CHUNK_FILES", chunk)
    files = given_files(a=text("1", "2"), b=text("2", ttwp=-1.0), c=text("2"), d=text("3"))
    pooled = pool(files)
    assert [row["_file"] for row in pooled.rows()] == ["a.csv", "a.csv", "d.csv"]
    assert len(messages(pooled)) == 2


def test_pool_workers_give_the_same_table(monkeypatch, tmp_path):
    monkeypatch.setattr(sources, "CHUNK_FILES", 1)
    files = given_files(**{f"f{number}": text(str(number)) for number in range(7)}, bad="x")
    one, two = pool(files, resume=tmp_path / "one"), pool(files, resume=tmp_path / "two", workers=2)
    for name in ("plots.csv", "problems.csv", "journal.jsonl"):
        assert (two.folder / name).read_bytes() == (one.folder / name).read_bytes()


# Going on with a run that was broken off


def stop_after(count):
    def progress(done, total):
        if done >= count:
            raise KeyboardInterrupt

    return progress


def broken_off(files, folder, monkeypatch, count=2):
    monkeypatch.setattr(sources, "CHUNK_FILES", 1)
    with pytest.raises(KeyboardInterrupt):
        pool(files, resume=folder, progress=stop_after(count))


def numbered(count=4):
    return given_files(**{f"f{number}": text(str(number)) for number in range(count)}, z="bad")


def tables(folder):
    return [(folder / name).read_bytes() for name in ("plots.csv", "problems.csv")]


def test_pool_broken_off_is_gone_on_with(tmp_path, monkeypatch):
    whole = pool(numbered(), resume=tmp_path / "whole")
    broken_off(numbered(), tmp_path / "part", monkeypatch)
    done = []
    pooled = pool(numbered(), resume=tmp_path / "part", progress=lambda n, _: done.append(n))
    assert done == [3, 4, 5]
    assert tables(pooled.folder) == tables(whole.folder)
    assert pooled.files == whole.files


def test_pool_rows_beyond_the_journal_are_done_again(tmp_path, monkeypatch):
    whole = pool(numbered(), resume=tmp_path / "whole")
    broken_off(numbered(), tmp_path / "part", monkeypatch)
    with (tmp_path / "part" / "plots.csv").open("ab") as handle:
        handle.write(b"S,2,half a r")
    with (tmp_path / "part" / "journal.jsonl").open("ab") as handle:
        handle.write(b'{"files": [{"na')
    assert tables(pool(numbered(), resume=tmp_path / "part").folder) == tables(whole.folder)


@pytest.mark.parametrize("harm", ["plots", "problems", "journal", "line"])
def test_pool_harmed_tables_are_made_anew(tmp_path, monkeypatch, harm):
    whole = pool(numbered(), resume=tmp_path / "whole")
    broken_off(numbered(), tmp_path / "part", monkeypatch)
    if harm == "plots":
        (tmp_path / "part" / "plots.csv").write_bytes(b"cut")
    elif harm == "problems":
        (tmp_path / "part" / "problems.csv").unlink()
    elif harm == "line":
        with (tmp_path / "part" / "journal.jsonl").open("ab") as handle:
            handle.write(b"5\n")
    else:
        path = tmp_path / "part" / "journal.jsonl"
        path.write_bytes(path.read_bytes().splitlines(keepends=True)[0])
    assert tables(pool(numbered(), resume=tmp_path / "part").folder) == tables(whole.folder)


def test_pool_done_files_are_not_read_into_it_again(tmp_path):
    first = pool(numbered(), resume=tmp_path / "p")
    before = tables(first.folder)
    again = pool(numbered(), resume=tmp_path / "p")
    assert tables(again.folder) == before
    assert again.files == first.files


def test_pool_changed_file_makes_the_pool_begin_anew(tmp_path):
    pool(given_files(a=text("1"), b=text("2")), resume=tmp_path / "p")
    pooled = pool(given_files(a=text("1", ttwp=6.0), b=text("2")), resume=tmp_path / "p")
    assert [row["ttwp"] for row in pooled.rows()] == [6.0, 8.0]
    assert pooled.notes[0] == "a.csv changed since the last run: pooled anew"
    assert messages(pooled) == []


def test_pool_more_files_are_added_and_repeats_across_runs_refused(tmp_path):
    pool(given_files(a=text("1")), resume=tmp_path / "p")
    pooled = pool(given_files(b=text("2", "1"), c=text("1")), resume=tmp_path / "p")
    assert [row["plot_id"] for row in pooled.rows()] == ["1", "2"]
    assert [one.file for one in pooled.problems()] == ["b.csv", "c.csv"]
    assert pooled.notes[0] == "files of earlier runs that are still in the pool: 1"


def test_pool_file_that_stays_unreadable_is_told_once(tmp_path):
    gone = [*given_files(a=text("1")), tmp_path / "gone.csv"]
    pool(gone, resume=tmp_path / "p")
    pooled = pool(gone, resume=tmp_path / "p")
    assert len(messages(pooled)) == 1
    (tmp_path / "gone.csv").write_text(text("2"))
    pooled = pool(gone, resume=tmp_path / "p")
    assert (pooled.row_count, messages(pooled)) == (2, [])


def test_pool_folder_below_its_source_is_left_out(tmp_path):
    write(tmp_path, a=text("1"))
    pool(tmp_path, resume=tmp_path / "pooled")
    assert [file.name for file in pool(tmp_path, resume=tmp_path / "pooled").files] == ["a.csv"]


def test_pool_other_options_than_before_raise(tmp_path):
    pool(given_files(a=text("1")), resume=tmp_path)
    with pytest.raises(RecordError, match="other units"):
        pool(given_files(a=text("1")), resume=tmp_path, units={"ttwp": "lb"})


@pytest.mark.parametrize("name", ["plots.csv", "problems.csv", "journal.jsonl"])
def test_pool_never_writes_over_what_is_not_its_own(tmp_path, name):
    (tmp_path / name).write_text("mine\n")
    with pytest.raises(RecordError, match=r"already|not the journal"):
        pool(given_files(a=text("1")), resume=tmp_path)
    assert (tmp_path / name).read_text() == "mine\n"


def test_pool_journal_lines_are_json_with_hashes(tmp_path):
    pool(given_files(a=text("1")), resume=tmp_path)
    lines = [json.loads(line) for line in (tmp_path / "journal.jsonl").read_text().splitlines()]
    assert lines[0]["journal"] == 1
    assert lines[-1]["files"][0]["hash"] == sources.content_hash(text("1").encode())
    assert lines[-1]["plots.csv"] == (tmp_path / "plots.csv").stat().st_size


def test_pool_file_name_that_is_no_text_is_written(tmp_path):
    pooled = pool([("\udcff.csv", text("1").encode())])
    assert next(pooled.rows())["_file"] == "?.csv"


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.lists(
            st.tuples(st.sampled_from("12345"), st.sampled_from([8.0, 0.0, -1.0, None])), max_size=4
        ),
        min_size=1,
        max_size=4,
    )
)
def test_pool_takes_each_plot_once_and_loses_no_row(contents):
    files = [
        (
            f"{number}.csv",
            record_template([{**ROW, "plot_id": p, "ttwp": w, "note": str(number)} for p, w in rows])
            .encode(),
        )
        for number, rows in enumerate(contents)
    ]  # fmt: skip
    pooled = pool(files)
    kept = [row["plot_id"] for row in pooled.rows()]
    assert len(kept) == len(set(kept))
    assert pooled.row_count == len(kept)
    assert len(kept) + pooled.refused_count == sum(len(rows) for rows in contents)
