"""The cross-section is to scale: measures of the drawing are measures of the method."""

from __future__ import annotations

import itertools

import pytest

from scenariokit import catalog
from scenariokit.charts import section_chart, section_rows, section_size
from scenariokit.charts.frames import Showing
from scenariokit.charts.section import PARTS, SPROUT, WALL
from scenariokit.scenario import method_from, with_values

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.0)
METHODS = {key: method_from(row) for key, row in catalog.methods().items()}
TANKS = [key for key, one in METHODS.items() if one.level.regime != "none"]


def drawn(key, depth=4.0, showing=METRIC):
    return section_rows(METHODS[key], depth, showing)


def parts(rows, part):
    return [row for row in rows["boxes"] if row["part"] == part]


@pytest.mark.parametrize("key", METHODS)
def test_section_rows_containers_have_the_methods_measures(key):
    box = METHODS[key].container
    found = parts(drawn(key), "container")
    assert len(found) in (1, 2, 3)
    for row in found:
        assert row["x2"] - row["x"] == pytest.approx(box.length.m_as("cm"))
        assert row["y2"] - row["y"] == pytest.approx(box.height.m_as("cm"))
        assert row["y"] == box.base_height.m_as("cm")


@pytest.mark.parametrize("key", METHODS)
def test_section_rows_medium_stands_as_deep_as_stated(key):
    method = METHODS[key]
    found = parts(drawn(key), "growing medium")
    wanted = method.medium is not None or method.level.regime == "none"
    assert bool(found) == wanted
    for row in found:
        assert row["y"] == method.container.base_height.m_as("cm")
        assert row["y2"] - row["y"] == pytest.approx(method.container.medium_height.m_as("cm"))


@pytest.mark.parametrize("key", TANKS)
@pytest.mark.parametrize("depth", [0.0, 2.5, 5.0])
def test_section_rows_water_reaches_from_floor_to_depth(key, depth):
    (water,) = parts(drawn(key, depth), "water")
    width, _ = section_size(METHODS[key])
    assert (water["y"], water["y2"]) == (0, depth)
    assert (water["x"], water["x2"]) == (WALL, width - WALL)


@pytest.mark.parametrize("key", TANKS)
def test_section_rows_tank_walls_end_at_the_rim(key):
    floor, left, right = parts(drawn(key), "tank")
    rim = METHODS[key].level.rim.m_as("cm")
    assert floor["y2"] == 0
    assert left["y2"] == right["y2"] == rim


@pytest.mark.parametrize("key", TANKS)
def test_section_rows_containers_stand_as_far_apart_as_the_plants(key):
    """Area of a container's place: plants in it over plants per area."""
    method = METHODS[key]
    place = method.container.plants.m_as("plant") / method.plants_per_area.m_as("plant/m^2") * 1e4
    lefts = [row["x"] for row in parts(drawn(key), "container")]
    width, _ = section_size(method)
    pitch = (width - 2 * WALL) / len(lefts)
    assert pitch * method.container.width.m_as("cm") >= place * (1 - 1e-9)
    for one, following in itertools.pairwise(lefts):
        assert following - one == pytest.approx(pitch)


@pytest.mark.parametrize("key", METHODS)
def test_section_rows_everything_lies_inside_the_drawing(key):
    width, height = section_size(METHODS[key])
    rim = METHODS[key].level.rim.m_as("cm")
    rows = drawn(key, rim if key in TANKS else 0.0)
    for row in rows["boxes"]:
        assert 0 <= row["x"] <= row["x2"] <= width
        assert -WALL <= row["y"] <= row["y2"] <= height - WALL
    for row in [*rows["threads"], *rows["words"]]:
        assert 0 <= row["x"] <= width
        assert -WALL <= row["y"] <= height - WALL, row


@pytest.mark.parametrize("length", ["0.2 cm", "2 cm"])
def test_section_rows_narrow_container_is_not_turned_inside_out(length):
    narrow = with_values(
        METHODS["medium_bag"],
        {
            "container.length": length,
            "container.width": "90 cm",
            "medium.volume_per_plant": "0.01 L",
        },
    )
    for row in section_rows(narrow, 3.0, METRIC)["boxes"]:
        assert row["x"] < row["x2"]


@pytest.mark.parametrize("key", METHODS)
def test_section_rows_sheet_only_where_there_is_one(key):
    rows = drawn(key)["threads"]
    assert any(row["part"] == "sheet" for row in rows) == (METHODS[key].sheet is not None)
    assert {row["part"] for row in rows} <= set(PARTS)


@pytest.mark.parametrize("key", METHODS)
def test_section_rows_sprouts_stand_on_the_medium(key):
    box = METHODS[key].container
    soil = box.base_height.m_as("cm") + box.medium_height.m_as("cm")
    tops = [row["y"] for row in drawn(key)["threads"] if row["part"] == "plant"]
    assert max(tops) == pytest.approx(soil + SPROUT)


def test_section_rows_words_give_the_depth_in_the_readers_unit():
    assert drawn("wedge_pots", 5.08, METRIC)["words"][0]["text"] == "water 5.1 cm"
    assert drawn("wedge_pots", 5.08, US)["words"][0]["text"] == "water 2.0 in"


def test_section_rows_field_has_no_tank():
    rows = drawn("field_soil", 0.0)
    assert not parts(rows, "water")
    assert not parts(rows, "tank")
    assert rows["words"] == []


def test_section_chart_axes_span_the_same_centimetres_as_the_frame():
    """Across from 0 to width, up from under the floor: with height over width as shape, to scale."""
    spec = section_chart(METRIC).to_dict()
    encoding = spec["layer"][0]["encoding"]
    across, up = encoding["x"]["scale"], encoding["y"]["scale"]
    assert across["domainMin"] == 0
    assert across["domainMax"] == {"expr": "width_cm"}
    assert up["domainMin"] == -WALL
    assert up["domainMax"] == {"expr": f"height_cm - {WALL}"}
