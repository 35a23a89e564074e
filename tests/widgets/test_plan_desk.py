"""The planner at the level of its traits: what a person moves, what then stands on the page."""

from __future__ import annotations

import json
import logging
import warnings
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.trials.records import read_records
from scenariokit.widgets import plan_desk
from scenariokit.widgets.chart_view import parameter_names, source_names
from scenariokit.widgets.field_panel import text_field
from scenariokit.widgets.plan_desk import FAULT, NO_PLAN, PlanDesk, open_planner
from scenariokit.widgets.plan_state import PlanState

STATE = PlanState("2027-04-20")


@pytest.fixture
def desk():
    return PlanDesk(STATE)


def move(panel, **values):
    """Move controls, as the page does it: the whole mapping is sent anew."""
    panel.values = {**panel.values, **values}


def views(desk):
    return [desk.map, *desk.curves.values()]


def sent(desk):
    """Everything that the page shows, as text."""
    return {
        "charts": [json.dumps(view.datasets, sort_keys=True) for view in views(desk)],
        "words": [one.value for one in (desk.says, desk.limits, desk.budget, desk.status)],
        "values": [dict(desk.picks.values), dict(desk.controls.values)],
    }


def download(saver):
    """Press a button as the page does; return what it sends back."""
    answers = []
    saver.send = lambda content, buffers=None: answers.append((content, buffers))
    saver._received(saver, {"kind": "want", "view": "v1"}, [])
    ((content, buffers),) = answers
    return content, bytes(buffers[0]) if buffers else b""


def arrive(picker, name, content):
    picker._handle_custom_msg({"kind": "file", "name": name}, [memoryview(content)])


def keys(panel):
    return [field["key"] for field in panel.fields]


# -- what is shown -------------------------------------------------------------------------


def test_planner_opens_with_a_plan_that_fits(desk):
    assert desk.plan.enough
    assert desk.status.value == ""
    assert "With 5 replicates a difference of 25 %" in desk.says.value
    assert desk.says.value.count("<li data-spoken>") == 1
    assert "No difference found does not mean" in desk.limits.value
    assert "Sub-irrigated medium bag" in desk.budget.value
    assert len(desk.map.datasets["plots"]) == 20
    assert "drawn from seed 1" in desk.map.heading


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("design", ["blocks", "randomised", "latin_square"])
def test_planner_charts_get_what_they_name(system, design):
    desk = PlanDesk(
        replace(STATE, system=system, design=design, varieties=("a", "b"), tank_count=64)
    )
    for view in views(desk):
        assert set(view.datasets) == set(source_names(view.spec)), view.heading
        assert set(view.signals) == set(parameter_names(view.spec)), view.heading
        assert all(len(row) == len(view.table_columns) for row in view.table_rows)
        assert view.table_rows
        assert view.description


def test_planner_map_is_drawn_to_scale(desk):
    assert desk.map.aspect == pytest.approx(
        desk.map.signals["height_cm"] / desk.map.signals["width_cm"]
    )
    plot = desk.map.datasets["plots"][0]
    assert (plot["x2"] - plot["x"], plot["y2"] - plot["y"]) == pytest.approx((120, 60))


def test_planner_us_units_reach_map_budget_and_sliders(desk):
    move(desk.picks, system="us", price_list="dunmarrow")
    assert "(ft)" in json.dumps(desk.map.spec)
    assert "ft²" in desk.budget.value
    assert "USD" in desk.budget.value
    assert "m²" not in desk.budget.value.replace("ft²", "")
    units = {field["key"]: field["unit"] for field in desk.controls.fields}
    assert units["tank_length"] == units["walkway"] == "in"
    assert desk.controls.values["tank_length"] == pytest.approx(120 / 2.54)
    assert len(desk.map.datasets["plots"]) == 20


# -- moving ------------------------------------------------------------------------------------


def test_planner_smaller_difference_takes_more_plots(desk):
    move(desk.controls, difference=0.22)
    assert desk.plan.replicates == desk.plan.needed == 6
    assert len(desk.map.datasets["plots"]) == 24
    move(desk.controls, difference=0.1)
    assert not desk.plan.enough
    assert "would take" in desk.says.value


@pytest.mark.parametrize(("key", "value"), [("cv", 0.2), ("power", 0.95), ("alpha", 0.01)])
def test_planner_every_share_moves_the_answer(desk, key, value):
    before = desk.says.value
    move(desk.controls, **{key: value})
    assert desk.says.value != before
    assert desk.controls.errors == {}


def test_planner_varieties_one_on_each_line(desk):
    move(desk.picks, varieties="early white\n\n  late red \n")
    assert desk.state.varieties == ("early white", "late red")
    options = {field["key"]: field.get("options") for field in desk.picks.fields}
    assert [value for value, _ in options["compare"]] == ["treatment", "variety", "combination"]
    assert {row["code"] for row in desk.map.datasets["plots"]} == {
        letter + number for letter in "ABCD" for number in "12"
    }
    move(desk.picks, compare="variety")
    assert "between two varieties" in desk.says.value


def test_planner_names_of_varieties_are_escaped_on_the_page(desk):
    move(desk.picks, chosen=["medium_bag"], varieties="<script>1</script>\nb")
    assert desk.plan is not None
    for part in (desk.says, desk.limits, desk.budget, desk.status):
        assert "<script>" not in part.value


def test_planner_draw_again_takes_the_next_seed(desk):
    before = desk.map.datasets["plots"]
    desk.draw.click()
    assert desk.state.seed == desk.controls.values["seed"] == 2
    assert desk.map.datasets["plots"] != before
    move(desk.controls, seed=1.0)
    assert desk.map.datasets["plots"] == before


def test_planner_own_cost_brings_its_slider(desk):
    assert "own_cost" not in keys(desk.controls)
    move(desk.controls, cost="own")
    assert "own_cost" in keys(desk.controls)
    move(desk.controls, own_cost=2.0)
    assert "28.80" in desk.budget.value  # 20 plots of 0.72 m²
    move(desk.controls, cost="list")
    assert "own_cost" not in keys(desk.controls)
    assert "28.80" not in desk.budget.value


def test_planner_chart_is_drawn_anew_only_for_other_groups_or_units(desk):
    spec = desk.map.spec
    move(desk.controls, cv=0.2)
    desk.draw.click()
    assert desk.map.spec is spec
    move(desk.picks, chosen=["medium_bag", "wedge_pots"])
    assert desk.map.spec != spec


# -- what cannot be ------------------------------------------------------------------------------


def test_planner_that_does_not_fit_says_what_would_and_shows_no_old_plan(desk):
    move(desk.controls, tank_count=6.0)
    assert desk.plan is None
    assert "8 tanks like the last one" in desk.status.value
    assert desk.says.value == desk.limits.value == desk.budget.value == ""
    assert all(view.layout.display == "none" for view in views(desk))
    assert desk.controls.errors == {}
    move(desk.controls, tank_count=8.0)
    assert desk.status.value == ""
    assert desk.plan.replicates == 2
    assert not any(view.layout.display == "none" for view in views(desk))


def test_planner_files_are_refused_while_nothing_fits(desk):
    move(desk.controls, tank_count=6.0)
    for saver in desk.savers:
        content, _ = download(saver)
        assert (content["kind"], content["text"]) == ("refused", NO_PLAN)


def test_planner_plot_too_small_for_a_plant_is_said(desk):
    move(desk.controls, tank_length=5.0, tank_width=5.0)
    assert "no room for a plant" in desk.status.value
    assert "needs:" not in desk.status.value


@pytest.mark.parametrize(
    ("panel", "values", "words"),
    [
        ("controls", {"seed": 1.5}, "is not a seed"),
        ("controls", {"tank_count": 2.5}, "number of tanks"),
        ("controls", {"tank_count": 5000}, "above the allowed range"),
        ("controls", {"study_id": ""}, "is not a name"),
        ("controls", {"planting_date": ""}, "possible date"),
        ("controls", {"cv": 40}, "above the allowed range"),
        ("picks", {"chosen": []}, "1 or more"),
        ("picks", {"chosen": ["wedge_pots"]}, "nothing to compare"),
        ("picks", {"varieties": "a\na"}, "stands twice"),
        ("picks", {"design": "split_plot"}, "a split plot needs two or more"),
    ],
)
def test_planner_refuses_beside_the_control_and_keeps_its_plan(desk, panel, values, words):
    before = sent(desk)
    move(getattr(desk, panel), **values)
    (key,) = values
    assert words in getattr(desk, panel).errors[key]
    assert "TrialAim" not in getattr(desk, panel).errors[key]
    assert desk.state == STATE
    assert sent(desk)["words"][:3] == before["words"][:3]


def test_planner_refused_value_is_tried_again_with_the_next_one(desk):
    move(desk.picks, design="split_plot")
    assert "design" in desk.picks.errors
    move(desk.picks, varieties="a\nb")
    assert desk.state.design == "split_plot"
    assert desk.picks.errors == {}
    assert desk.picks.values["design"] == "split_plot"
    assert "Possible: tanks of 2 sections" in desk.status.value
    move(desk.controls, tank_sections=2.0)
    assert desk.plan.layout.design == "split_plot"


def test_planner_refused_value_waits_while_other_controls_are_made_anew(desk):
    move(desk.picks, design="split_plot")
    move(desk.picks, system="us")
    assert desk.state.system == "us"
    assert desk.state.design == "blocks"
    assert desk.picks.values["design"] == "split_plot"
    assert "a split plot needs" in desk.picks.errors["design"]


def test_planner_fault_is_logged_and_said_plainly(desk, monkeypatch, caplog):
    monkeypatch.setattr(plan_desk, "plan_sentences", lambda plan: 1 / 0)
    with caplog.at_level(logging.ERROR):
        move(desk.controls, cv=0.2)
    assert FAULT in desk.status.value
    assert "ZeroDivisionError" in caplog.text


def test_planner_seed_that_cannot_be_drawn_from_is_said(desk):
    desk.state = replace(desk.state, seed=-2)
    desk.draw.click()
    assert "is not a seed" in desk.status.value


# -- files -----------------------------------------------------------------------------------


def test_planner_downloads_have_their_names_and_content(desk):
    found = {}
    for saver in desk.savers:
        content, body = download(saver)
        found[content["filename"]] = body
    assert set(found) == {
        "field_book.xlsx", "field_book.csv", "field_sheet.txt", "trial_plan.json",
    }  # fmt: skip
    for name in ("field_book.xlsx", "field_book.csv"):
        records = read_records(found[name], name=name)
        assert records.problems == ()
        assert [row["plot_id"] for row in records.rows] == [
            plot.plot_id for plot in desk.plan.layout.plots
        ]
    assert json.loads(found["trial_plan.json"])["seed"] == 1
    assert b"[_______]" in found["field_sheet.txt"]


def test_planner_saved_plan_opens_in_another_planner(desk):
    move(desk.picks, varieties="a\nb", system="us", replicates="2")
    move(desk.controls, cost="own")
    move(desk.controls, own_cost=0.5)
    move(desk.controls, seed=77.0, tank_count=30.0, difference=0.3)
    _, body = download(desk.savers[3])
    other = open_planner()
    arrive(other.picker, "mine.json", body)
    assert not other.picker.refused
    assert sent(other) == sent(desk)


def test_planner_damaged_plan_is_refused_and_nothing_changes(desk):
    before = sent(desk)
    _, body = download(desk.savers[3])
    arrive(desk.picker, "mine.json", body.replace(b'"seed": 1', b'"seed": 2'))
    assert desk.picker.refused
    assert "not those that the seed draws" in desk.picker.message
    assert sent(desk) == before


# -- own methods, two planners, every slider -------------------------------------------------------


def test_open_planner_takes_a_persons_own_methods():
    rows = dict(catalog.methods())
    rows["my_bag"] = rows["medium_bag"].replace(id="my_bag", label="My <bag>")
    desk = open_planner(methods=rows)
    move(desk.picks, chosen=["medium_bag", "my_bag"])
    assert desk.plan.aim.treatments == ("medium_bag", "my_bag")
    assert "My &lt;bag&gt;" in desk.budget.value


def test_two_planners_do_not_touch():
    one, other = PlanDesk(STATE), PlanDesk(STATE)
    before = sent(other)
    move(one.controls, cv=0.3, tank_count=48.0)
    move(one.picks, varieties="a\nb")
    one.draw.click()
    assert sent(other) == before
    assert one.picks.prefix != other.picks.prefix


@settings(max_examples=12, deadline=None)
@given(st.data())
def test_planner_any_slider_position_is_planned_or_refused_in_words(data):
    desk = PlanDesk(STATE)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for _ in range(2):
            slides = [field for field in desk.controls.fields if field["kind"] == "range"]
            field = data.draw(st.sampled_from(slides))
            share = data.draw(st.floats(0, 1))
            value = round(field["low"] + share * (field["high"] - field["low"]), field["digits"])
            move(desk.controls, **{field["key"]: value})
    assert FAULT not in desk.status.value
    assert (desk.plan is None) == bool(desk.status.value)


def test_planner_shows_itself_in_a_notebook(desk, monkeypatch):
    shown = []
    monkeypatch.setattr("IPython.display.display", shown.append)
    desk._ipython_display_()
    assert shown == [desk.widget]


def test_text_field_has_what_the_page_reads():
    made = text_field("k", "K", rows=3, help="Why", topic="T")
    assert (made["kind"], made["rows"], made["input"]) == ("text", 3, "text")
    assert text_field("k", "K", date=True)["input"] == "date"
    assert {"kind", "key", "label", "topic", "help", "unit"} <= set(made)
