"""The drawn map: every plot in its place, with its letter, and readable on its colour."""

from __future__ import annotations

import json

import pytest

from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import METHOD_COLOURS
from scenariokit.charts.plot_map import (
    TALLEST,
    TEXT_COLOURS,
    letter,
    map_chart,
    map_rows,
    map_signals,
    map_table,
    map_width,
    plot_codes,
    plot_groups,
    variety_key,
)
from scenariokit.trials.planning.aim import TrialAim
from scenariokit.trials.planning.proposal import propose
from scenariokit.trials.planning.tanks import equal_tanks
from scenariokit.widgets.chart_view import parameter_names, plain_rows, source_names

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.0)
FOUR, TWO = ["bag", "pots", "wick", "tray"], ["early", "late"]
NAMES = {"bag": "Medium bag"}
PLANS = {
    "single": propose(TrialAim(FOUR), equal_tanks(30, "120 cm", "60 cm"), seed=1),
    "factorial": propose(
        TrialAim(FOUR[:2], TWO), equal_tanks(8, "240 cm", "60 cm", sections=6), seed=1
    ),
    "varieties": propose(TrialAim(["bag"], TWO), equal_tanks(12, "1 m", "1 m"), seed=1),
    "split": propose(
        TrialAim(FOUR[:2], TWO, design="split_plot"),
        equal_tanks(8, "2 m", "1 m", sections=2), seed=1,
    ),
}  # fmt: skip
every = pytest.mark.parametrize("plan", [*PLANS.values()], ids=list(PLANS))


@pytest.mark.parametrize(("number", "text"), [(0, "A"), (25, "Z"), (26, "AA"), (53, "BB")])
def test_letter_goes_on_after_z(number, text):
    assert letter(number) == text


def test_plot_codes_are_letters_with_a_number_for_the_variety():
    assert list(plot_codes(TrialAim(FOUR)).values()) == list("ABCD")
    assert list(plot_codes(TrialAim(FOUR, ["early"])).values()) == list("ABCD")
    assert plot_codes(TrialAim(FOUR[:2], TWO)) == {
        ("bag", "early"): "A1", ("bag", "late"): "A2",
        ("pots", "early"): "B1", ("pots", "late"): "B2",
    }  # fmt: skip
    assert plot_codes(TrialAim(["bag"], TWO)) == {("bag", "early"): "A", ("bag", "late"): "B"}


def test_plot_groups_are_named_as_people_call_them():
    assert plot_groups(TrialAim(FOUR[:2], TWO), NAMES) == ["A  Medium bag", "B  pots"]
    assert plot_groups(TrialAim(["bag"], TWO), NAMES) == ["A  early", "B  late"]


def test_variety_key_says_what_the_numbers_are():
    assert variety_key(TrialAim(FOUR, TWO)) == "1  early, 2  late"
    assert variety_key(TrialAim(FOUR, ["early"])) == variety_key(TrialAim(["bag"], TWO)) == ""


@every
def test_map_rows_have_every_plot_in_its_rectangle(plan):
    rows = {row["plot"]: row for row in map_rows(plan, NAMES)["plots"]}
    areas = {area.label: area for area in plan.map.areas if area.kind == "plot"}
    codes, groups = plot_codes(plan.aim), plot_groups(plan.aim, NAMES)
    assert set(rows) == set(areas) == {plot.plot_id for plot in plan.layout.plots}
    for plot in plan.layout.plots:
        row, area = rows[plot.plot_id], areas[plot.plot_id]
        assert (row["x"], row["y"]) == (area.x, area.y)
        assert row["x2"] - row["x"] == pytest.approx(area.width)
        assert row["y2"] - row["y"] == pytest.approx(area.height)
        assert row["x"] < row["x_middle"] < row["x2"]
        assert row["code"] == codes[plot.treatment, plot.variety]
        assert row["group"].split("  ")[0] == row["code"][0]
        assert row["group"] in groups
        assert row["treatment"] == NAMES.get(plot.treatment, plot.treatment)
        assert plot.tank in row["place"]


def test_map_rows_tanks_name_their_block_and_empty_sections_are_there():
    rows = map_rows(PLANS["single"], {})
    assert len(rows["tanks"]) == 30
    assert rows["tanks"][0]["text"] == "T01, block 1"
    assert rows["tanks"][-1]["text"] == "T30"
    assert [row["what"] for row in rows["ground"]] == ["way", "empty", "empty"]
    assert rows["ground"][0]["x2"] == PLANS["single"].map.width
    several = propose(
        TrialAim(FOUR[:2]), equal_tanks(4, "2 m", "1 m", sections=4), seed=1
    )  # fmt: skip
    assert map_rows(several, {})["tanks"][0]["text"] == "T1"


def test_map_rows_split_plot_tank_is_all_of_one_method():
    rows = map_rows(PLANS["split"], {})["plots"]
    by_tank = {}
    for row in rows:
        by_tank.setdefault(row["place"].split(",")[0], set()).add(row["group"])
    assert all(len(groups) == 1 for groups in by_tank.values())


@every
def test_map_signals_words_fit_their_plots(plan):
    signals = map_signals(plan, 60.0)
    row = map_rows(plan, {})["plots"][0]
    wide, high = row["x2"] - row["x"], row["y2"] - row["y"]
    assert 0 < 2 * signals["text_cm"] <= high
    assert signals["text_cm"] * 0.85 * 0.6 * len(row["plot"]) <= wide
    assert signals["width_cm"] == map_width(plan) >= plan.map.width
    assert signals["height_cm"] / signals["width_cm"] <= TALLEST + 1e-9


@every
@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_map_chart_reads_what_it_is_given(plan, showing):
    spec = map_chart(plot_groups(plan.aim, NAMES), showing).to_dict()
    rows = map_rows(plan, NAMES)
    assert set(source_names(spec)) == set(rows)
    assert set(parameter_names(spec)) == set(map_signals(plan, 60.0))
    for name, part in rows.items():
        plain_rows(name, part)
        assert len(part) < 5000
    assert not spec.get("datasets")
    assert "to scale" in spec["description"]
    assert "http" not in json.dumps({key: one for key, one in spec.items() if key != "$schema"})


@pytest.mark.parametrize(("showing", "unit"), [(METRIC, "(m)"), (US, "(ft)")])
def test_map_chart_axes_have_their_units_and_the_first_row_on_top(showing, unit):
    text = json.dumps(map_chart(["A  x"], showing).to_dict(), ensure_ascii=False)
    assert f"From the left {unit}" in text
    assert f"From the first row {unit}" in text
    assert '"reverse": true' in text
    assert ("30.48" in text) == (unit == "(ft)")


def test_map_chart_has_a_colour_and_a_letter_for_each_group():
    groups = [f"{letter(number)}  m" for number in range(10)]
    spec = map_chart(groups, METRIC).to_dict()
    (colour,) = [
        layer["encoding"]["color"] for layer in spec["layer"]
        if layer["encoding"].get("color", {}).get("field") == "group"
    ]  # fmt: skip
    assert colour["scale"]["domain"] == groups
    assert colour["scale"]["range"][:8] == list(METHOD_COLOURS)
    assert any(layer["encoding"].get("text", {}).get("field") == "code" for layer in spec["layer"])


def test_map_table_has_the_plots_in_the_order_of_the_walk():
    head, *rows = map_table(PLANS["factorial"], NAMES)
    assert head == ["Plot", "Place", "Block", "Letter", "Treatment", "Variety"]
    assert [row[0] for row in rows] == [plot.plot_id for plot in PLANS["factorial"].layout.plots]
    assert all("section" in row[1] for row in rows)
    assert map_table(PLANS["single"], NAMES)[1][5] == "–"
    free = propose(
        TrialAim(FOUR, design="randomised"), equal_tanks(30, "1 m", "1 m"), seed=1
    )  # fmt: skip
    assert map_table(free, {})[1][2] == "–"


def luminance(colour):
    """Relative luminance of sRGB; WCAG 2.1, from memory."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(("colour", "ink"), [*zip(METHOD_COLOURS, TEXT_COLOURS, strict=True)])
def test_text_on_a_plot_stands_out_from_its_colour(colour, ink):
    """WCAG 2.1, success criterion 1.4.3: 4.5 : 1 for small text (from memory)."""
    low, high = sorted((luminance(colour), luminance(ink)))
    assert (high + 0.05) / (low + 0.05) >= 4.5
