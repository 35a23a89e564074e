import datetime
import io
import zipfile

import openpyxl
import pytest

from scenariokit.catalog import sources
from scenariokit.catalog.tables import read_table, write_csv
from scenariokit.errors import RecordError

FIELDS = {
    "fields": [
        {"name": "id", "constraints": {"required": True}},
        {"name": "mass", "type": "quantity", "unit": "kg"},
        {"name": "plants", "type": "integer"},
        {"name": "day"},
    ]
}


def refused(source, **options):
    with pytest.raises(RecordError) as caught:
        read_table(source, FIELDS, **options)
    return str(caught.value)


def workbook(rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_read_grid_path_is_read_and_named(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("id,mass [kg]\na,x\n", encoding="utf-8")
    for source in (path, str(path)):
        assert read_table(source, FIELDS).problems[0].file == "mine.csv"


def test_read_grid_missing_path_is_refused(tmp_path):
    assert "no such file" in refused(tmp_path / "none.csv")
    assert "no such file" in refused(tmp_path)
    assert "no such file" in refused("none.csv")
    assert "cannot be opened" in refused("x" * 5000)


def test_read_grid_unreadable_path_says_why(tmp_path, monkeypatch):
    path = tmp_path / "mine.csv"
    path.write_text("id\n", encoding="utf-8")

    def deny(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "read_bytes", deny)
    assert "Permission denied" in refused(path)


def test_read_grid_other_type_is_refused():
    assert "cannot be read from a int" in refused(5)


@pytest.mark.parametrize("source", ["", "  \n ", b"", b"\xef\xbb\xbf", ",,\n,\n"])
def test_read_grid_empty_file_is_refused(source):
    assert "is empty" in refused(source, name="mine.csv")


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_read_grid_other_encoding_says_how_to_save(encoding):
    message = refused("id,mass [kg]\nGemüse,1\n".encode(encoding))
    assert "UTF-8" in message
    assert message.count("\n") == 0


def test_read_grid_latin_1_names_the_row():
    assert "row 2" in refused("id,mass [kg]\nGemüse,1\n".encode("latin-1"))


def test_read_grid_text_with_zero_characters_is_refused():
    assert "binary" in refused("id\n\x00\n")


def test_read_grid_old_excel_is_refused():
    assert "XLS" in refused(b"\xd0\xcf\x11\xe0" + bytes(100))


@pytest.mark.parametrize("kind", [bytes, bytearray, memoryview])
def test_read_grid_fifty_megabytes_state_size_and_limit(kind):
    message = refused(kind(b"a,b\n" * 12_500_000))
    assert "50.0 MB" in message
    assert "5 MB or less" in message


def test_read_grid_large_path_is_not_opened(tmp_path):
    path = tmp_path / "big.csv"
    with path.open("wb") as out:
        out.truncate(sources.MAX_BYTES + 1)
    assert "big.csv: file: has 5.0 MB" in refused(path)


def test_read_grid_too_many_rows_or_columns_are_refused():
    assert "too many rows" in refused("id\n" + "a\n" * (sources.MAX_ROWS + 1))
    assert "too many columns" in refused("id\n" + "a," * sources.MAX_COLUMNS + "a\n")
    assert len(read_table("id\n" + "a\n" * sources.MAX_ROWS, FIELDS).rows) == sources.MAX_ROWS


def test_read_grid_open_quotation_mark_is_refused():
    assert "quotation mark" in refused('id,mass [kg]\n"a,1\nb,2\n')


def test_read_grid_heading_with_units_decides_the_separator():
    table = read_table("id;mass [kg];day\na;1;b, c, d, e\n", FIELDS)
    assert table.rows[0]["day"] == "b, c, d, e"


def test_read_grid_xlsx_round_trip_keeps_values():
    day = datetime.datetime(2026, 4, 3)
    content = workbook(
        [["id", "mass [kg]", "plants", "day"], ["a", 1.5, 3, day], [], [7, "2 lb", None, "+x"]]
    )
    table = read_table(content, FIELDS, decimal=",")
    first, second = table.rows
    assert (first["mass"], first["plants"], first["day"]) == (1.5, 3, "2026-04-03")
    assert (second["id"], second["_row"], second["plants"]) == ("7", 4, None)
    assert second["day"] == "+x"
    again = read_table(write_csv(table.rows, FIELDS), FIELDS)
    assert [row["mass"] for row in again.rows] == [row["mass"] for row in table.rows]


def test_read_grid_xlsx_whole_float_in_text_column_is_plain():
    assert read_table(workbook([["id"], [7.0]]), FIELDS).rows[0]["id"] == "7"


def test_read_grid_xlsx_wrong_kinds_of_cell_are_bad_rows():
    content = workbook(
        [["id", "mass [kg]"], ["a", datetime.datetime(2026, 5, 1)], ["b", True], ["c", "=1+1"]]
    )
    reasons = [problem.reason for problem in read_table(content, FIELDS).problems]
    assert "date" in reasons[0]
    assert "true or false" in reasons[1]
    assert "formula without a stored result" in reasons[2]


def test_read_grid_zip_bomb_is_refused():
    out = io.BytesIO(workbook([["id"], ["a"]]))
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("xl/worksheets/sheet9.xml", bytes(sources.MAX_UNPACKED_BYTES))
    assert len(out.getvalue()) < sources.MAX_BYTES
    assert "unpack to 50 MB" in refused(out.getvalue())


def test_read_grid_far_cell_in_xlsx_is_refused():
    book = openpyxl.Workbook()
    book.active["A1"] = "id"
    book.active["XFD2"] = "far"
    book.active.cell(2, sources.MAX_COLUMNS + 1, "far")
    out = io.BytesIO()
    book.save(out)
    assert "too many columns" in refused(out.getvalue())


def test_read_grid_other_archive_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("mimetype", "other")
    assert "not an XLSX workbook" in refused(out.getvalue())


def test_read_grid_damaged_xlsx_is_refused():
    assert "damaged" in refused(b"PK\x03\x04 no archive")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("xl/workbook.xml", "<broken")
    assert "cannot be read as XLSX" in refused(out.getvalue())
