import csv
import io
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.catalog.fields import Schema, from_json, schema
from scenariokit.catalog.tables import Table, read_table, write_csv, write_template
from scenariokit.errors import RecordError

FIELDS = {
    "name": "harvest",
    "fields": [
        {"name": "id", "constraints": {"required": True, "pattern": "[a-z0-9_]+"}},
        {
            "name": "mass", "type": "quantity", "unit": "kg", "us_unit": "lb",
            "constraints": {"required": True, "minimum": 0, "maximum": 100},
        },
        {"name": "share", "type": "number", "constraints": {"minimum": 0, "maximum": 1}},
        {"name": "plants", "type": "integer"},
        {"name": "kept", "type": "boolean"},
        {"name": "kind", "constraints": {"enum": ["tuber", "leaf"]}},
        {"name": "warmth", "type": "quantity", "unit": "degC", "us_unit": "degF"},
        {"name": "note"},
    ],
    "primaryKey": "id",
    "missingValues": ["", "NA"],
}  # fmt: skip


def read(text, **options):
    return read_table(text, FIELDS, **options)


def only_problem(text, **options):
    table = read(text, **options)
    assert len(table.problems) == 1, table.problems
    return table.problems[0]


def refused(source, **options):
    with pytest.raises(RecordError) as caught:
        read_table(source, FIELDS, **options)
    return str(caught.value)


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_read_table_any_separator_reads_the_rows(sign):
    text = "id,mass [kg],share\na,1.5,0.25\nb,2,0.5\n".replace(",", sign)
    table = read(text)
    assert [row["mass"] for row in table.rows] == [1.5, 2.0]
    assert [row["_row"] for row in table.rows] == [2, 3]
    assert table.problems == []
    assert table.columns == ("id", "mass", "share")


def test_read_table_absent_optional_columns_are_blank():
    row = read("id,mass [kg]\na,1\n").rows[0]
    assert row["note"] == ""
    assert row["share"] is None
    assert set(row) == {"_row", *(field["name"] for field in FIELDS["fields"])}


def test_read_table_byte_order_mark_is_taken_off():
    table = read_table("\ufeffid,mass [kg]\na,1\n".encode(), FIELDS)
    assert table.rows[0]["id"] == "a"
    assert read("\ufeffid,mass [kg]\na,1\n").rows[0]["id"] == "a"


def test_read_table_decimal_comma_needs_declaring():
    problem = only_problem("id;mass [kg]\na;1,5\n")
    assert "decimal=','" in problem.allowed
    assert problem.row == 2
    table = read("id;mass [kg]\na;1,5\n", decimal=",")
    assert table.rows[0]["mass"] == 1.5


def test_read_table_point_under_decimal_comma_is_ambiguous():
    assert "ambiguous" in only_problem("id;mass [kg]\na;1.5\n", decimal=",").reason


def test_read_table_unknown_decimal_sign_is_refused():
    assert "decimal" in refused("id,mass [kg]\na,1\n", decimal="'")


def test_read_table_units_of_heading_and_cell_are_converted():
    # 1 lb = 0.45359237 kg exactly (international pound of 1959).
    table = read("id,mass [lb],warmth [degF]\na,10,68\nb,2 kg,20 degC\nc,100 g,\n")
    assert [row["mass"] for row in table.rows] == pytest.approx([4.5359237, 2.0, 0.1], rel=1e-12)
    assert [row["warmth"] for row in table.rows[:2]] == pytest.approx([20, 20], abs=1e-9)


@pytest.mark.parametrize("unit", ["m2", "m^2", "m²", "ft2", "ft^2", "cm2"])
def test_read_table_ways_to_write_an_area_are_known(unit):
    fields = {"fields": [{"name": "area", "type": "quantity", "unit": "m^2"}]}
    assert read_table(f"area [{unit}]\n3\n", fields).rows[0]["area"] > 0


def test_read_table_bare_number_names_the_expected_unit():
    problem = only_problem("id,mass\na,5\n")
    assert problem.kind == "unit"
    assert "kg" in problem.reason
    assert problem.value == "5"


def test_read_table_wrong_dimension_in_heading_is_refused():
    assert "another dimension" in refused("id,mass [L]\na,5\n")
    assert "not known" in refused("id,mass [stuff]\na,5\n")
    assert "not a unit" in refused("id,mass [__import__('os')!]\na,5\n")
    assert "takes no unit" in refused("id,mass [kg],note [kg]\na,5,x\n")


def test_read_table_wrong_dimension_in_cell_is_a_bad_row():
    table = read("id,mass [kg]\na,5 L\nb,5 blub\nc,1\n")
    assert [problem.row for problem in table.problems] == [2, 3]
    assert [row["id"] for row in table.rows] == ["c"]


def test_read_table_ratio_accepts_percent():
    assert read("id,mass [kg],share\na,1,25 %\n").rows[0]["share"] == pytest.approx(0.25)
    assert read("id,mass [kg],share [%]\na,1,25\n").rows[0]["share"] == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("cells", "field", "reason"),
    [
        ("a b,1,,,,,", "id", "form"),
        (",1,,,,,", "id", "missing"),
        ("a,NA,,,,,", "mass", "missing"),
        ("a,-1,,,,,", "mass", "below"),
        ("a,101,,,,,", "mass", "above"),
        ("a,1e300 Mg,,,,,", "mass", "above"),
        ("a,1e400,,,,,", "mass", "not a finite"),
        ("a,1e308 Gg,,,,,", "mass", "not a finite"),
        ("a,nan,,,,,", "mass", "not a number"),
        ("a,1.2.3,,,,,", "mass", "not a number"),
        ("a,x,,,,,", "mass", "not a number"),
        ("a,1,2,,,,", "share", "above"),
        ("a,1,,2.5,,,", "plants", "whole"),
        ("a,1,,,perhaps,,", "kept", "neither"),
        ("a,1,,,,root,", "kind", "allowed words"),
    ],
)
def test_read_table_broken_rule_lists_row_column_and_value(cells, field, reason):
    heading = "id,mass [kg],share,plants,kept,kind,note\n"
    table = read(f"{heading}{cells}\ngood,1,0.5,3,yes,leaf,fine\n")
    (problem,) = table.problems
    assert problem.field == field
    assert reason in problem.reason
    assert problem.row == 2
    assert problem.file == "table"
    (row,) = table.rows
    assert (row["plants"], row["kept"], row["kind"]) == (3, True, "leaf")


def test_read_table_two_faults_in_a_row_are_both_listed():
    table = read("id,mass [kg],share\nA,200,3\n")
    assert [problem.field for problem in table.problems] == ["id", "mass", "share"]


def test_read_table_unicode_minus_is_a_minus():
    assert read("id,mass [kg],warmth [degC]\na,1,\u22123\n").rows[0]["warmth"] == -3


def test_read_table_repeated_key_names_the_first_row():
    assert "repeats row 2" in only_problem("id,mass [kg]\na,1\na,2\n").reason


def test_read_table_missing_required_column_lists_those_found():
    message = refused("id,weight [kg]\na,1\n")
    assert "mass: the column is missing" in message
    assert "id, weight" in message


def test_read_table_unknown_column_is_named_and_rows_are_used():
    table = read("id,mass [kg],shares\na,1,0.5\n")
    assert len(table.rows) == 1
    (problem,) = table.problems
    assert problem.field == "shares"
    assert "did you mean share?" in problem.reason
    assert "note" in problem.allowed
    assert problem.row == 1


def test_read_table_blank_heading_is_a_problem():
    assert only_problem("id,,mass [kg]\na,x,1\n").field == "(blank heading)"


def test_read_table_duplicate_heading_is_refused():
    assert "twice" in refused("id,mass [kg],Mass [lb]\na,1,2\n")


def test_read_table_row_longer_than_heading_is_a_bad_row():
    table = read("id,mass [kg]\na,1,5\nb,2,,\n", decimal=",")
    assert [row["id"] for row in table.rows] == ["b"]
    assert "3 cells, the heading 2" in table.problems[0].reason
    assert "semicolon" in table.problems[0].allowed
    assert "semicolon" not in only_problem("id,mass [kg]\na,1,5\n").allowed


def test_read_table_blank_rows_are_skipped_but_counted():
    table = read("\n\nid,mass [kg]\n\n , \na,1\n")
    assert [row["_row"] for row in table.rows] == [6]


def test_read_table_line_break_in_a_cell_keeps_spreadsheet_rows():
    table = read('id,mass [kg],note\na,1,"two\nlines"\nb,-2,\n')
    assert table.rows[0]["note"] == "two\nlines"
    assert table.problems[0].row == 3


def test_read_table_heading_only_is_refused():
    assert "no rows" in refused("id,mass [kg]\n")


@pytest.mark.parametrize("text", ["=1+2", "+4", "@SUM(A1)", "-x", "=cmd|' /C calc'!A0"])
def test_read_table_formula_in_text_stays_text(text):
    out = io.StringIO()
    csv.writer(out).writerows([["id", "mass [kg]", "note"], ["a", "1", text]])
    assert read(out.getvalue()).rows[0]["note"] == text


def test_require_with_problems_raises_them_all():
    table = read("id,mass [kg]\na,-1\nb,-2\n", name="mine.csv")
    with pytest.raises(RecordError, match=r"mine\.csv") as caught:
        table.require()
    assert len(caught.value.problems) == 2


def test_require_without_problems_gives_the_table():
    table = read("id,mass [kg]\na,1\n")
    assert table.require() is table


def test_write_template_headings_carry_units():
    assert write_template(FIELDS).startswith("id,mass [kg],share,plants")
    assert "mass [lb]" in write_template(FIELDS, system="us")


def test_write_csv_risky_text_gets_an_apostrophe():
    text = write_csv([{"id": "a", "mass": 1.0, "note": "=1+2"}], FIELDS)
    assert "'=1+2" in text
    assert read(text).rows[0]["note"] == "=1+2"


def test_write_template_us_units_read_back_the_same():
    rows = [{"id": "a", "mass": 3.3, "warmth": 18.0, "kept": False, "plants": 4}]
    text = write_template(FIELDS, rows, system="us")
    row = read(text).rows[0]
    assert row["mass"] == pytest.approx(3.3, rel=1e-12)
    assert row["warmth"] == pytest.approx(18, rel=1e-12)
    assert row["kept"] is False


def test_write_csv_quantity_of_any_unit_reads_back():
    fields = {"fields": [{"name": "size", "type": "quantity", "unit": "any"}]}
    table = read_table("size\n3.8 ft^3\n2 pieces\n10 m^2\n", fields).require()
    again = read_table(write_csv(table.rows, fields), fields).require()
    assert [row["size"] for row in again.rows] == [row["size"] for row in table.rows]
    assert read_table("size [L]\n5\n", fields).rows[0]["size"].m_as("m^3") == pytest.approx(5e-3)
    assert "bare number" in str(read_table("size\n5\n", fields).problems[0])


texts = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=20
).filter(lambda text: text.strip() == text and text not in ("", "NA"))


@settings(max_examples=50, deadline=None)
@given(
    note=st.one_of(texts, st.sampled_from("=+-@'").flatmap(lambda c: texts.map(lambda t: c + t))),
    mass=st.floats(0, 100),
    share=st.none() | st.floats(0, 1),
)
def test_write_csv_any_row_reads_back_identical(note, mass, share):
    row = {"id": "a", "mass": mass, "share": share, "note": note}
    found = read(write_csv([row], FIELDS)).require().rows[0]
    assert {key: found[key] for key in row} == row


def finds_only_tables(source):
    try:
        table = read_table(source, FIELDS)
    except RecordError as error:
        problems = error.problems
    else:
        problems = table.problems
        assert isinstance(table, Table)
        assert table.rows or problems
        assert all(math.isfinite(row["mass"]) for row in table.rows)
        return
    assert problems


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=400))
def test_read_table_random_bytes_give_a_table_or_a_record_error(content):
    finds_only_tables(content)
    finds_only_tables(b"id,mass [kg]\n" + content)
    finds_only_tables(b"PK\x03\x04" + content)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=100))
def test_read_table_random_text_gives_a_table_or_a_record_error(text):
    finds_only_tables(text)
    finds_only_tables(f"id,mass [kg],warmth\n{text}")
    finds_only_tables(f"id,mass [{text}],{text}\na,1,2\n")


@settings(max_examples=150, deadline=None)
@given(
    st.from_regex(r"[0-9]{1,3}(\.[0-9])? ?[a-zA-Z0-9_/*^() %.]{0,12}", fullmatch=True),
)
def test_read_table_random_units_give_a_table_or_a_record_error(cell):
    finds_only_tables(f"id,mass\na,{cell}\n")


def test_from_json_unknown_type_is_refused():
    with pytest.raises(ValueError, match="geopoint"):
        from_json({"fields": [{"name": "place", "type": "geopoint"}]})


def test_schema_unknown_name_lists_the_known():
    with pytest.raises(KeyError, match="method_yields"):
        schema("nothing")


def test_schema_field_unknown_name_lists_the_known():
    with pytest.raises(KeyError, match="volume_per_plant"):
        schema("methods").field("colour")
    assert isinstance(schema("methods"), Schema)


def test_field_allowed_says_the_range_in_words():
    rules = from_json(
        {
            "fields": [
                {"name": "a", "type": "number", "constraints": {"minimum": 1}},
                {"name": "b", "type": "quantity", "unit": "kg", "constraints": {"maximum": 2}},
                {"name": "c"},
            ]
        }
    )
    assert [field.allowed for field in rules.fields] == ["1 or more", "2 kg or less", ""]


def test_read_table_required_boolean_and_enum_show_an_example():
    fields = [
        {"name": "kept", "type": "boolean", "constraints": {"required": True}},
        {"name": "kind", "constraints": {"required": True, "enum": ["leaf"]}},
        {"name": "size", "type": "quantity", "unit": "any", "constraints": {"required": True}},
        {"name": "note"},
    ]
    table = read_table("kept,kind,size,note\n,,,x\n", {"fields": fields})
    assert [problem.example for problem in table.problems] == ["true", "leaf", "100 L"]
