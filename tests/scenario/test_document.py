"""A scenario survives a file, and a bad file is named field by field."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ScenarioFileError
from scenariokit.scenario import document as scenario_document
from scenariokit.scenario import evaluate, leaves, load, save, scenario_for, schema, with_values
from scenariokit.scenario.document import build_schema, to_document, write_schema

METHODS = ("medium_bag", "sheet_wick_tray", "paper_wrap", "suspended_pot", "field_soil")


@pytest.fixture
def document():
    return to_document(scenario_for("medium_bag"))


@pytest.mark.parametrize("method", METHODS)
def test_save_load_gives_back_every_leaf_exactly(method):
    one = scenario_for(method)
    back = load(save(one))
    before = {path: value for path, _, value in leaves(one)}
    after = {path: value for path, _, value in leaves(back)}
    assert before.keys() == after.keys()
    for path, value in before.items():
        np.testing.assert_array_equal(value.magnitude, after[path].magnitude, err_msg=path)
    assert evaluate(one).cautions == evaluate(back).cautions


def test_save_load_keeps_arrays():
    one = with_values(scenario_for("wedge_pots"), {"feed.ec": quantity([1.0, 1.5], "dS/m")})
    np.testing.assert_array_equal(load(save(one)).feed.ec.m_as("dS/m"), [1.0, 1.5])


def test_shipped_schema_is_the_one_made_from_the_parts():
    assert schema() == build_schema()
    jsonschema.Draft202012Validator.check_schema(schema())


def test_write_schema_writes_the_shipped_text(tmp_path):
    write_schema(tmp_path / "schema.json")
    shipped = Path(scenario_document.__file__).with_name("scenario.schema.json")
    assert (tmp_path / "schema.json").read_text() == shipped.read_text()


def test_load_takes_bytes_with_a_byte_order_mark():
    text = save(scenario_for("paper_wrap"))
    assert load(b"\xef\xbb\xbf" + text.encode()).method.id == "paper_wrap"


def test_load_other_unit_of_the_right_dimension(document):
    document["scenario"]["tank"]["area"] = "43.0556417 ft^2"
    assert load(json.dumps(document)).tank.area.m_as("m^2") == pytest.approx(4.0)


def _set(document, path, value):
    here = document
    for name in path[:-1]:
        here = here[name]
    here[path[-1]] = value


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("scenario", "method", "colour"), "red", "colour"),
        (("scenario", "tank", "area"), "4 litre", "area = '4 litre'.*dimension"),
        (("scenario", "tank", "area"), "-4 m^2", "area = '-4 m\\^2'.*below"),
        (("scenario", "tank", "area"), "4,5 m^2", "decimal comma"),
        (("scenario", "tank", "area"), 4, "area: 4 is not valid"),
        (("scenario", "method", "level", "regime"), "bubbling", "bubbling"),
        (("scenario", "method", "level", "high"), "100 cm", "above the rim"),
        (("version",), 4, "version 4.*install a newer"),
        (("version",), 0, "whole number from 1"),
        (("version",), "one", "whole number"),
        (("format",), "other", "is not a scenario"),
    ],
)
def test_load_bad_field_is_named(document, path, value, words):
    _set(document, path, value)
    with pytest.raises(ScenarioFileError, match=words):
        load(json.dumps(document), "mine.json")


def test_load_missing_field_is_named(document):
    del document["scenario"]["tank"]["area"]
    with pytest.raises(ScenarioFileError, match=r"mine.json: scenario.tank: 'area' is a required"):
        load(json.dumps(document), "mine.json")


@pytest.mark.parametrize("text", ["", "[1, 2", "null", "[]", '"text"', b"\xff\xfe\x00", "[" * 5000])
def test_load_not_a_scenario_raises(text):
    with pytest.raises(ScenarioFileError):
        load(text)


def test_load_infinity_is_refused(document):
    document["scenario"]["feed"]["content"]["N"] = float("inf")
    with pytest.raises(ScenarioFileError, match="finite"):
        load(json.dumps(document))


def test_load_large_file_is_refused():
    with pytest.raises(ScenarioFileError, match="at most 1,000,000"):
        load("x" * 1_000_001)


def as_version_2(document):
    """Return a document as the second version wrote it: labour in one number, no loss."""
    scenario = document["scenario"]
    method = {**scenario["method"], "labour_per_plant": "0.04 hour/plant"}
    del method["labour"]
    crop = {key: value for key, value in scenario["crop"].items() if key != "loss_share"}
    return {**document, "version": 2, "scenario": {**scenario, "method": method, "crop": crop}}


def test_load_version_2_splits_the_labour_and_loses_nothing_in_storage(document):
    found = load(json.dumps(as_version_2(document)))
    assert found.method.labour.hours() == pytest.approx(0.04, rel=1e-12)
    assert found.method.labour.filling.m == pytest.approx(0.04 * 0.35)  # of the medium bag
    assert found.crop.loss_share.m == 0


def test_load_version_2_of_an_own_method_splits_arrays_by_the_usual_shares(document):
    old = as_version_2(document)
    old["scenario"]["method"]["id"] = "my_tank"
    hours = {"values": [0.04, 0.08], "unit": "hour/plant"}
    old["scenario"]["method"]["labour_per_plant"] = hours
    found = load(json.dumps(old)).method.labour
    np.testing.assert_allclose(found.hours(), [0.04, 0.08], rtol=1e-12)
    np.testing.assert_allclose(found.tending.m, [0.012, 0.024], rtol=1e-12)


@pytest.mark.parametrize("value", [None, [], "red", "x hour/plant"])
def test_load_version_2_that_is_not_whole_is_refused(document, value):
    old = as_version_2(document)
    old["scenario"]["method"]["labour_per_plant"] = value
    with pytest.raises(ScenarioFileError, match=r"mine.json: is not a whole scenario of version 2"):
        load(json.dumps(old), "mine.json")


def as_version_1(document):
    """Return a document as the first version wrote it: no source water, no uptake."""
    scenario = as_version_2(document)["scenario"]
    feed = {
        key: value
        for key, value in scenario["feed"].items()
        if key not in ("water", "water_content")
    }
    crop = {key: value for key, value in scenario["crop"].items() if key != "uptake"}
    old = {**scenario, "feed": {**feed, "full_ec": "2.166 dS/m"}, "crop": crop}
    return {**document, "version": 1, "scenario": old}


def test_load_version_1_is_migrated_to_pure_water_and_uptake(document):
    found = load(json.dumps(as_version_1(document)))
    assert (found.feed.water, found.feed.water_content) == ("pure water", {})
    assert found.crop.uptake == scenario_for("medium_bag").crop.uptake
    expected = json.loads(json.dumps(document))
    expected["scenario"]["crop"]["loss_share"] = "0.0"
    assert to_document(found)["scenario"]["crop"] == expected["scenario"]["crop"]
    assert to_document(found)["scenario"]["feed"] == expected["scenario"]["feed"]


def test_load_version_1_of_an_unknown_crop_takes_up_what_its_produce_holds(document):
    old = as_version_1(document)
    old["scenario"]["crop"] = {**old["scenario"]["crop"], "id": "yam", "removal": {"N": 2, "K": 3}}
    assert load(json.dumps(old)).crop.uptake == {"N": 2, "K": 3}


def test_load_version_1_with_rich_produce_takes_up_no_less(document):
    old = as_version_1(document)
    removal = {**old["scenario"]["crop"]["removal"], "K": 9.0}
    old["scenario"]["crop"] = {**old["scenario"]["crop"], "removal": removal}
    found = load(json.dumps(old)).crop.uptake
    assert found["K"] == 9.0
    assert found["N"] == 4.64


@pytest.mark.parametrize("part", ["feed", "crop"])
@pytest.mark.parametrize("value", [None, [], "red"])
def test_load_version_1_that_is_not_whole_is_refused(document, part, value):
    old = as_version_1(document)
    old["scenario"][part] = value
    with pytest.raises(ScenarioFileError, match=r"mine.json: is not a whole scenario of version 1"):
        load(json.dumps(old), "mine.json")


def test_load_version_1_without_a_scenario_is_refused(document):
    with pytest.raises(ScenarioFileError, match=r"not a whole scenario of version 1"):
        load(json.dumps({"format": document["format"], "version": 1}))


@settings(max_examples=50, deadline=None)
@given(st.text(max_size=200))
def test_load_any_text_gives_a_scenario_or_one_kind_of_error(text):
    with pytest.raises(ScenarioFileError):
        load(text)
