"""The sheet of a study."""

from __future__ import annotations

import datetime
import io

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials.records import read_study, study_template
from scenariokit.trials.records.study import coarse

SHEET = {
    "study_id": "S1", "title": "Pots, bags", "place": "Hill district", "country": "NZ",
    "latitude": "-41.2865", "longitude": "174.7762", "planting": "2026-09-20",
    "licence": "CC BY 4.0",
}  # fmt: skip


def sheet(**changes):
    rows = {**SHEET, **changes}
    return "key;value\n" + "".join(f"{key};{value}\n" for key, value in rows.items())


def test_read_study_gives_the_sheet_with_a_coarse_place():
    study = read_study(sheet())
    assert (study.title, study.place, study.country) == ("Pots, bags", "Hill district", "NZ")
    assert study.planting == datetime.date(2026, 9, 20)
    assert (study.latitude, study.longitude) == (-41.3, 174.8)
    assert study.notes == (
        "latitude was rounded to 0.1 degree",
        "longitude was rounded to 0.1 degree",
    )
    assert study.contact == ""


def test_read_study_exact_keeps_the_place():
    study = read_study(sheet(), exact=True)
    assert (study.latitude, study.notes) == (-41.2865, ())


def test_read_study_round_coordinates_need_no_note():
    study = read_study(sheet(latitude="-41.3", longitude="174.8 °"))
    assert (study.longitude, study.notes) == (174.8, ())


def test_read_study_coordinates_written_as_place_are_rounded_too():
    study = read_study(sheet(place="51.50735, -0.12776", latitude="", longitude=""))
    assert (study.place, study.latitude, study.longitude) == ("", 51.5, -0.1)


def test_read_study_no_coordinates_and_no_contact_is_enough():
    needed = {key: SHEET[key] for key in ("title", "country", "planting", "licence")}
    study = read_study("key,value\n" + "".join(f'{k},"{v}"\n' for k, v in needed.items()))
    assert (study.latitude, study.longitude, study.study_id) == (None, None, "")


def test_read_study_decimal_comma():
    study = read_study(sheet(latitude="-41,26", longitude=""), decimal=",")
    assert study.latitude == -41.3


def test_read_study_workbook():
    book = openpyxl.Workbook()
    book.active.append(["key", "value"])
    for key, value in SHEET.items():
        book.active.append([key, value])
    book.active["B8"] = datetime.date(2026, 9, 20)
    book.active["B6"] = -41.2865
    out = io.BytesIO()
    book.save(out)
    study = read_study(out.getvalue())
    assert (study.latitude, study.planting.isoformat()) == (-41.3, "2026-09-20")


def test_read_study_all_problems_at_once_with_their_rows():
    text = sheet(title="", latitude="91", longitude="far", planting="spring") + "owner;me\n"
    with pytest.raises(RecordError) as caught:
        read_study(text, name="study.csv")
    found = {(one.field, one.row) for one in caught.value.problems}
    assert found == {
        ("title", 3), ("latitude", 6), ("longitude", 7), ("planting", 8), ("owner", 10),
    }  # fmt: skip
    assert all(one.file == "study.csv" for one in caught.value.problems)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"latitude": "41 km"}, "has the unit 'km'"),
        ({"planting": ""}, "planting: is missing"),
        ({"licence": ""}, "on what terms"),
        ({"longitude": "180.5"}, "-180 to 180 degrees"),
    ],
)
def test_read_study_bad_value_raises(changes, words):
    with pytest.raises(RecordError, match=f"(?i){words}"):
        read_study(sheet(**changes))


def test_read_study_repeated_key_raises():
    with pytest.raises(RecordError, match="repeats row"):
        read_study(sheet() + "title;again\n")


def test_study_template_names_every_key_and_asks_for_nothing_personal():
    lines = study_template().splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == [
        "study_id", "title", "place", "country", "latitude", "longitude", "planting", "licence",
        "contact",
    ]  # fmt: skip
    assert "may stay blank" in lines[-1]


def test_study_template_filled_in_reads_back():
    filled = study_template()
    for key, value in SHEET.items():
        filled = filled.replace(f"\n{key},,", f'\n{key},"{value}",')
    assert read_study(filled).title == SHEET["title"]


@given(st.floats(-180, 180))
def test_coarse_is_within_half_a_tenth_and_stable(degrees):
    rounded = coarse(degrees)
    assert abs(rounded - degrees) <= 0.05 + 1e-9
    assert coarse(rounded) == rounded
    assert str(rounded) != "-0.0"
