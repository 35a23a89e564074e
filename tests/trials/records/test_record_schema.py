"""The description of a plot record, and what is made from it."""

from __future__ import annotations

import datetime

import pytest

from scenariokit.errors import RecordError
from scenariokit.trials.records import record_document, record_schema
from scenariokit.trials.records.schema import frame_schema, iso_date, reading_schema
from scenariokit.units import unit_of

# Types and properties of a field in the Table Schema standard, of those used here.
TYPES = {"string", "number", "integer", "date"}
CONSTRAINTS = {"required", "minimum", "maximum", "maxLength"}

# Crop Ontology for potato, CO_330 (International Potato Center): ids as listed in a published
# copy of its trait table; status seen-2nd, not read at the ontology's own site.
CROP_ONTOLOGY = {
    "ntp": "CO_330:0000265",
    "nph": "CO_330:0000287",
    "tntp": "CO_330:0000304",
    "nmtp": "CO_330:0000293",
    "ttwp": "CO_330:0000317",
    "mtwp": "CO_330:0000308",
    "nomtwp": "CO_330:0000314",
}


def test_record_document_fields_are_described_in_terms_of_the_standard():
    for field in record_document()["fields"]:
        assert field["type"] in TYPES
        assert field["title"]
        assert field["description"].endswith(".")
        assert set(field.get("constraints", {})) <= CONSTRAINTS


def test_record_document_names_the_terms_of_the_crop_ontology():
    terms = {field["name"]: field.get("rdfType") for field in record_document()["fields"]}
    assert {name: terms[name] for name in CROP_ONTOLOGY} == CROP_ONTOLOGY
    assert terms["planting_date"] == "ICASA:planting_date"


def test_record_document_keys_and_missing_values_are_those_of_the_record():
    document = record_document()
    assert document["primaryKey"] == ["study_id", "plot_id"]
    assert document["missingValues"] == ["", "NA"]


def test_record_schema_numbers_with_a_unit_are_quantities():
    rules = record_schema()
    assert rules.field("ttwp").type == "quantity"
    assert rules.field("ntp").type == "integer"
    assert rules.field("planting_date").type == "string"
    for field in rules.fields:
        if field.unit:
            assert unit_of(field.unit).dimensionality == unit_of(field.us_unit).dimensionality


def test_reading_schema_declared_units_are_used_for_bare_numbers():
    field = reading_schema({"ttwp": "lb"}).field("ttwp")
    assert (field.type, field.unit, field.needs_unit) == ("number", "lb", False)
    assert reading_schema().field("mtwp").needs_unit


def test_reading_schema_impossible_units_raise_all_at_once():
    with pytest.raises(RecordError) as caught:
        reading_schema({"ttwp": "L", "note": "kg", "yeild": "kg", "mtwp": "lb", "nomtwp": "zzz"})
    assert [one.field for one in caught.value.problems] == ["ttwp", "note", "yeild", "nomtwp"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-05-01", datetime.date(2026, 5, 1)),
        ("2024-02-29", datetime.date(2024, 2, 29)),
        ("2026-02-29", None),
        ("20260501", None),
        ("2026-W18-5", None),
        ("2026-5-1", None),
        ("01.05.2026", None),
        ("2026-05-01T10:00:00", None),
        ("", None),
    ],
)
def test_iso_date_takes_year_month_day_only(text, expected):
    assert iso_date(text) == expected


def test_frame_schema_finds_key_limit_and_missing_value():
    pd = pytest.importorskip("pandas")
    errors = pytest.importorskip("pandera.errors")
    document = {
        "fields": [
            {"name": "plot", "type": "string", "constraints": {"required": True}},
            {"name": "area", "type": "number", "constraints": {"minimum": 0.1, "maximum": 9}},
            {"name": "count", "type": "integer"},
        ],
        "primaryKey": ["plot"],
    }
    frame = pd.DataFrame(
        {
            "file": ["f"] * 5,
            "plot": ["a", "a", None, "b", "c"],
            "area": [1.0, 0.0, 2.0, 10.0, None],
            "count": [1.0, 2.0, None, 2.5, 3.0],
        }
    )
    wide = [("no b", lambda table: table["plot"] != "b")]
    with pytest.raises(errors.SchemaErrors) as caught:
        frame_schema(document, wide).validate(frame, lazy=True)
    cases = caught.value.failure_cases
    found = {(str(check), int(index)) for check, index in zip(cases["check"], cases["index"])}  # noqa: B905
    assert found == {
        ("multiple_fields_uniqueness", 1), ("minimum", 1), ("not_nullable", 2), ("maximum", 3),
        ("whole", 3), ("no b", 3),
    }  # fmt: skip
