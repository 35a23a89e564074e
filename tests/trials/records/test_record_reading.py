"""Plot records from files: rows kept, rows refused, rows flagged."""

from __future__ import annotations

import datetime
import io

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials.records import Study, read_records, record_template, with_study

HEADING = (
    "study_id,plot_id,rep,treatment,genotype,planting_date,harvest_date,"
    "plot_area [m^2],ttwp [kg],mtwp [kg],nomtwp [kg],ntp,nph,tntp,nmtp,reservoir\n"
)
GOOD = {
    "study_id": "S", "plot_id": "1", "rep": "1", "treatment": "pots", "genotype": "early",
    "planting_date": "2026-05-01", "harvest_date": "2026-09-01", "plot_area": "2", "ttwp": "8",
    "mtwp": "6", "nomtwp": "2", "ntp": "10", "nph": "9", "tntp": "80", "nmtp": "50",
    "reservoir": "",
}  # fmt: skip


def line(**changes):
    return ",".join({**GOOD, **changes}.values()) + "\n"


def read(*lines, heading=HEADING, **options):
    return read_records(heading + "".join(lines), name="trial.csv", **options)


def only(records):
    assert len(records.problems) == 1, records.problems
    return records.problems[0]


def test_read_records_good_row_has_floats_dates_and_whole_numbers():
    records = read(line())
    row = records.rows[0]
    assert (row["ttwp"], row["plot_area"], row["ntp"], row["_row"]) == (8.0, 2.0, 10, 2)
    assert isinstance(row["ntp"], int)
    assert row["planting_date"] == datetime.date(2026, 5, 1)
    assert (row["note"], row["medium_volume"], row["block"]) == ("", None, "")
    assert (records.problems, records.flags, records.study) == ((), (), None)
    assert records.plots.yields.tolist() == [4.0]


def test_read_records_heading_in_pounds_is_converted():
    heading = HEADING.replace("[kg]", "[lb]")
    row = read(line(), heading=heading).rows[0]
    assert row["ttwp"] == pytest.approx(8 * 0.45359237, rel=1e-12)


def test_read_records_area_in_square_feet_gives_the_same_yield():
    feet = read(line(plot_area=repr(2 / 0.3048**2)), heading=HEADING.replace("m^2", "ft^2"))
    assert feet.plots.yields == pytest.approx([4.0], rel=1e-12)


def test_read_records_declared_units_serve_headings_without_one():
    heading = HEADING.replace("ttwp [kg]", "ttwp").replace("mtwp [kg]", "mtwp", 1)
    records = read(
        line(mtwp=""), line(plot_id="2", ttwp="8 kg"), heading=heading, units={"ttwp": "lb"}
    )
    assert records.rows[0]["ttwp"] == pytest.approx(8 * 0.45359237)
    assert only(records).field == "mtwp"  # a bare number in a column that was not declared


def test_read_records_unit_in_the_heading_wins_over_the_declared_one():
    records = read(line(), units={"ttwp": "lb"})
    assert records.rows[0]["ttwp"] == pytest.approx(8.0, rel=1e-12)


def test_read_records_declared_units_leave_blank_blank():
    records = read(line(ttwp="", mtwp="", nomtwp=""), units={"ttwp": "lb"})
    assert records.rows[0]["ttwp"] is None


def test_read_records_bare_number_is_refused_with_its_place():
    problem = only(read(line(), heading=HEADING.replace("ttwp [kg]", "ttwp")))
    assert (problem.row, problem.field, problem.value, problem.kind) == (2, "ttwp", "8", "unit")


def test_read_records_blank_is_not_harvested_and_zero_is_nothing():
    blank = {"ttwp": "", "mtwp": "", "nomtwp": "", "tntp": "", "nmtp": ""}
    none = {"ttwp": "0", "mtwp": "0", "nomtwp": "0", "tntp": "0", "nmtp": "0"}
    records = read(line(**blank), line(plot_id="2", **none))
    assert [row["ttwp"] for row in records.rows] == [None, 0.0]
    assert records.plots.known().yields.tolist() == [0.0]
    assert not records.problems


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"plot_area": "0"}, "plot_area", "below the allowed range"),
        ({"plot_area": "2e6"}, "plot_area", "above the allowed range"),
        ({"plot_area": ""}, "plot_area", "is missing"),
        ({"treatment": " "}, "treatment", "is missing"),
        ({"treatment": "NA"}, "treatment", "is missing"),
        ({"ttwp": "-8", "mtwp": "", "nomtwp": ""}, "ttwp", "below the allowed range"),
        ({"ntp": "9.5"}, "ntp", "is not a whole number"),
        ({"ntp": "0", "nph": "0"}, "ntp", "below the allowed range"),
        ({"planting_date": "1.5.2026"}, "planting_date", "year-month-day"),
        ({"planting_date": ""}, "planting_date", "is missing"),
        ({"harvest_date": "2026-13-01"}, "harvest_date", "year-month-day"),
        ({"harvest_date": "2026-04-30"}, "harvest_date", "before the date of planting"),
        ({"planting_date": "0026-05-01"}, "planting_date", "below the allowed range"),
        ({"harvest_date": "2926-05-01"}, "harvest_date", "above the allowed range"),
        ({"mtwp": "9", "nomtwp": ""}, "mtwp", "more than ttwp"),
        ({"nomtwp": "9", "mtwp": ""}, "nomtwp", "more than ttwp"),
        ({"nmtp": "81"}, "nmtp", "more than tntp"),
        ({"nph": "11"}, "nph", "more than ntp"),
        ({"ttwp": ""}, "ttwp", "not harvested, though"),
        ({"plot_id": "p" * 101}, "plot_id", "101 characters"),
        ({"ttwp": "heavy"}, "ttwp", "is not a number"),
        ({"ttwp": "8 L"}, "ttwp", "another dimension"),
    ],
)
def test_read_records_bad_row_is_told_and_the_others_kept(changes, field, words):
    records = read(line(plot_id="first"), line(**changes), line(plot_id="last"))
    problem = only(records)
    assert (problem.file, problem.row, problem.field) == ("trial.csv", 3, field)
    assert words in problem.reason
    assert [row["plot_id"] for row in records.rows] == ["first", "last"]


def test_read_records_row_with_several_faults_tells_all_of_them():
    changes = {"plot_area": "0", "ntp": "1.5", "nph": "", "harvest_date": "soon", "rep": ""}
    records = read(line(**changes))
    assert [one.field for one in records.problems] == ["rep", "harvest_date", "plot_area", "ntp"]
    assert all(one.row == 2 for one in records.problems)


def test_read_records_message_names_value_with_unit_and_range():
    text = str(only(read(line(plot_area="0"))))
    assert text == (
        "trial.csv, row 2: plot_area = 0 m^2: is below the allowed range; "
        "allowed: 0.0001 to 100000 m^2"
    )
    text = str(only(read(line(harvest_date="1.9."))))
    assert text.endswith("a cell of text or date; for example 2026-05-01")
    text = str(only(read(line(planting_date="1899-12-31"))))
    assert text.endswith("allowed: 1900-01-01 to 2199-12-31")


def test_read_records_repeated_plot_names_the_first_row():
    records = read(line(), line(plot_id="2"), line(ttwp="9"))
    problem = only(records)
    assert (problem.row, problem.reason, problem.value) == (4, "repeats row 2", "S, 1")
    assert [row["ttwp"] for row in records.rows] == [8.0, 8.0]


def test_read_records_same_plot_name_in_another_study_is_another_plot():
    records = read(line(), line(study_id="T"))
    assert len(records.rows) == 2
    assert records.plots.plot_ids == ("S/1", "T/1")


def test_read_records_parts_equal_to_the_whole_in_pounds_are_not_refused():
    heading = HEADING.replace("mtwp [kg],nomtwp", "mtwp [g],nomtwp")
    records = read(line(ttwp="0.3", mtwp="300", nomtwp="0"), heading=heading)
    assert not records.problems


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"mtwp": "7", "nomtwp": "2"}, "ttwp", "less than mtwp and nomtwp together"),
        ({"ttwp": "0", "mtwp": "0", "nomtwp": "0"}, "ttwp", "zero though tubers were counted"),
        # Kunkel and Campbell 1987 (abstract): 124 t/ha from field plots, seen
        ({"ttwp": "24.9"}, "ttwp", "above the largest recorded"),
    ],
)
def test_read_records_doubtful_row_is_kept_and_flagged(changes, field, words):
    records = read(line(**changes))
    assert len(records.rows) == 1
    assert not records.problems
    assert [flag.field for flag in records.flags] == [field]
    assert words in records.flags[0].reason


def test_read_records_yield_at_the_field_record_is_not_flagged():
    assert read(line(ttwp="24.8")).flags == ()


def test_read_records_shared_reservoir_is_flagged_and_merged():
    records = read(
        line(reservoir="T1", plot_area="1", ttwp="6", mtwp="4"),
        line(plot_id="2", reservoir="T1", plot_area="3"),
        line(plot_id="3", reservoir="T2"),
    )
    assert [flag.row for flag in records.flags] == [2, 3]
    assert "not independent" in records.flags[0].reason
    assert records.plots.plot_ids == ("1+2", "3")
    assert records.plots.yields.tolist() == [3.5, 4.0]
    assert "plots 1, 2 of study S share reservoir T1" in records.plots.notes[1]


def test_read_records_two_units_in_a_column_are_converted_and_flagged():
    records = read(line(ttwp="8 lb", mtwp="", nomtwp=""), line(plot_id="2"))
    assert records.rows[0]["ttwp"] == pytest.approx(8 * 0.45359237)
    assert [(flag.field, flag.value) for flag in records.flags] == [("ttwp", "lb, kg")]


def test_read_records_unknown_column_is_told_and_not_used():
    records = read(line().rstrip() + ",5\n", heading=HEADING.rstrip() + ",tuber_skin\n")
    assert len(records.rows) == 1
    assert (only(records).field, only(records).row) == ("tuber_skin", 1)


def test_read_records_heading_faults_come_all_at_once():
    heading = HEADING.replace("rep,", "").replace("ttwp [kg]", "ttwp [L]")
    with pytest.raises(RecordError) as caught:
        read(line(), heading=heading)
    assert [one.field for one in caught.value.problems] == ["ttwp", "rep"]


def test_read_records_missing_columns_are_listed():
    with pytest.raises(RecordError) as caught:
        read_records("study_id,plot id,rep\nS,1,1\n")
    missing = [one.field for one in caught.value.problems]
    assert missing == ["treatment", "genotype", "planting_date", "plot_area"]


@pytest.mark.parametrize("source", ["", "\n\n", b"\x00\x01", "nowhere.csv", HEADING, 5])
def test_read_records_no_table_raises(source):
    with pytest.raises(RecordError):
        read_records(source)


def test_read_records_decimal_comma_and_byte_order_mark():
    text = HEADING.replace(",", ";") + line(ttwp="8.5").replace(",", ";").replace(".", ",")
    records = read_records(("\ufeff" + text).encode(), decimal=",")
    assert records.rows[0]["ttwp"] == 8.5


def test_read_records_workbook_dates_and_numbers_are_taken(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(HEADING.strip().split(","))
    values = line().strip().split(",")
    values[5:7] = [datetime.datetime(2026, 5, 1), datetime.date(2026, 9, 1)]
    values[2], values[8] = 1, 8.25
    book.active.append(values)
    path = tmp_path / "trial.xlsx"
    book.save(path)
    row = read_records(path).rows[0]
    assert (row["planting_date"], row["harvest_date"]) == (
        datetime.date(2026, 5, 1),
        datetime.date(2026, 9, 1),
    )
    assert (row["rep"], row["ttwp"]) == ("1", 8.25)


def test_read_records_time_of_day_in_a_workbook_is_refused():
    book = openpyxl.Workbook()
    book.active.append(HEADING.strip().split(","))
    values = line().strip().split(",")
    values[5] = datetime.datetime(2026, 5, 1, 10, 30)
    book.active.append(values)
    out = io.BytesIO()
    book.save(out)
    assert only(read_records(out.getvalue())).value == "2026-05-01T10:30:00"


def test_read_records_levels_called_none_and_one_stay_levels():
    records = read(line(treatment="None"), line(plot_id="2", treatment="1"))
    assert records.plots.levels("method") == ("None", "1")


STUDY = Study("Pots and bags", "", "NZ", datetime.date(2026, 5, 1), "CC BY 4.0", study_id="T")


def test_read_records_other_study_than_that_of_the_sheet_is_flagged():
    records = read(line(), line(plot_id="2"), study=STUDY)
    assert records.study is STUDY
    assert [(flag.field, flag.value, flag.allowed) for flag in records.flags] == [
        ("study_id", "S", "T")
    ]
    nameless = Study(STUDY.title, "", "NZ", STUDY.planting, STUDY.licence)
    assert read(line(), study=nameless).flags == ()


def test_with_study_replaces_the_sheet_and_its_flags():
    records = with_study(read(line(ttwp="24.9"), study=STUDY), STUDY)
    assert [flag.field for flag in records.flags] == ["study_id", "ttwp"]
    same = Study(STUDY.title, "", "NZ", STUDY.planting, STUDY.licence, study_id="S")
    again = with_study(records, same)
    assert again.study is same
    assert [flag.field for flag in again.flags] == ["ttwp"]


masses = st.floats(0, 1e5, allow_subnormal=False) | st.none()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.text(st.characters(exclude_categories=["C"]), min_size=1, max_size=12)
            .map(str.strip)
            .filter(lambda text: text not in ("", "NA")),
            masses,
            st.floats(0.01, 1e4),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_record_template_reads_back_exactly(plots):
    rows = [
        {
            "study_id": "S", "plot_id": str(number), "rep": "1", "treatment": word,
            "genotype": "=early", "planting_date": datetime.date(2026, 5, 1), "plot_area": area,
            "ttwp": mass, "ntp": number + 1,
        }
        for number, (word, mass, area) in enumerate(plots)
    ]  # fmt: skip
    records = read_records(record_template(rows))
    assert records.problems == ()
    for given_row, back in zip(rows, records.rows, strict=True):
        assert {name: back[name] for name in given_row} == given_row
