"""The planner's state: what it asks, what it needs, what its files hold."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.errors import ArgumentError, RecordError
from scenariokit.scenario import evaluate, scenario_for
from scenariokit.trials.planning.aim import TrialAim
from scenariokit.trials.planning.plan_document import PlanRequest, plan_text
from scenariokit.trials.planning.tanks import Tank, equal_tanks
from scenariokit.trials.records import read_records
from scenariokit.widgets.plan_fields import (
    control_fields,
    control_values,
    pick_fields,
    pick_values,
    taken_over,
)
from scenariokit.widgets.plan_state import PlanFiles, PlanState, opened_plan, today

STATE = PlanState("2027-04-20")


def files_of(state):
    needs = state.needs({})
    return PlanFiles(state, state.request().plan(needs), needs)


def test_state_offers_methods_with_a_tank_that_grow_potatoes():
    keys = [key for key, _ in STATE.available()]
    assert set(STATE.chosen) < set(keys)
    assert "field_soil" not in keys
    assert "deep_litre" not in keys
    assert all(key in catalog.methods() for key in keys)


def test_state_first_plan_fits_and_is_enough():
    plan = STATE.request().plan(STATE.needs({}))
    assert plan.enough
    assert plan.counted == plan.replicates
    assert plan.budget.cost.m_as("money") > 0


def test_needs_are_those_of_the_scenarios_and_are_kept():
    known = {}
    needs = STATE.needs(known)
    cost = evaluate(scenario_for("wedge_pots"))["cost_per_area"]
    assert needs["wedge_pots"].cost_per_area.m_as("money/m^2") == cost.m_as("money/m^2")
    assert set(known) == {(method, "tern_hollow") for method in STATE.chosen}
    known["wedge_pots", "tern_hollow"] = known["medium_bag", "tern_hollow"]
    assert STATE.needs(known)["wedge_pots"] is known["medium_bag", "tern_hollow"]


def test_needs_own_cost_stands_for_every_method():
    needs = replace(STATE, own_cost=quantity("7 money/m^2")).needs({})
    assert {one.cost_per_area.m_as("money/m^2") for one in needs.values()} == {7.0}
    assert len({one.plants_per_area for one in needs.values()}) > 1


@pytest.mark.parametrize(
    ("chosen", "varieties", "possible"),
    [
        (("medium_bag", "wedge_pots"), ("a",), ["treatment"]),
        (("medium_bag",), ("a", "b"), ["variety"]),
        (("medium_bag", "wedge_pots"), ("a", "b"), ["treatment", "variety", "combination"]),
        (("medium_bag",), ("a",), []),
    ],
)
def test_comparable_is_what_there_are_two_of(chosen, varieties, possible):
    state = replace(STATE, chosen=chosen, varieties=varieties)
    assert state.comparable == possible
    assert state.compared == ("treatment" if "treatment" in possible else None)


@pytest.mark.parametrize(
    "wrong",
    [{"tank_count": 0}, {"tank_sections": 2.5}, {"tank_count": 2000}, {"cv": 2.0}, {"chosen": ()},
     {"study_id": " "}, {"planting_date": ""}, {"walkway": "-1 cm"},
     {"chosen": ("medium_bag",), "varieties": ()}],
)  # fmt: skip
def test_changed_to_what_cannot_be_is_refused(wrong):
    with pytest.raises(ArgumentError):
        STATE.changed(**wrong)
    assert STATE.changed(seed=5).seed == 5


# -- controls ----------------------------------------------------------------------------------


STATES = st.builds(
    PlanState,
    st.dates(datetime.date(1900, 1, 1), datetime.date(2199, 12, 31)).map(str),
    chosen=st.sampled_from([("medium_bag", "wedge_pots"), ("medium_bag", "perforated_tray")]),
    varieties=st.sampled_from([("a",), ("a", "b"), ("early <white>", "late, \"red\"", "x")]),
    design=st.sampled_from(["blocks", "randomised"]),
    replicates=st.sampled_from(["needed", "room", 4]),
    cv=st.floats(0.05, 0.4),
    tank_count=st.integers(24, 40),
    tank_sections=st.integers(1, 3),
    tank_length=st.floats(60, 300).map(lambda side: quantity(side, "cm")),
    walkway=st.sampled_from([quantity("0 cm"), quantity("2 ft")]),
    watertight=st.booleans(),
    seed=st.integers(0, 2**60),
    system=st.sampled_from(["metric", "us"]),
    price_list=st.sampled_from(["tern_hollow", "dunmarrow"]),
    own_cost=st.sampled_from([None, quantity("3.25 money/m^2")]),
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(STATES)
def test_saved_plan_opens_to_the_same_plan(state):
    found = opened_plan(files_of(state).document().encode(), "plan.json", STATE)
    assert found.request() == state.request()
    assert (found.system, found.price_list) == (state.system, state.price_list)
    assert files_of(found).book() == files_of(state).book()


@settings(max_examples=40, deadline=None)
@given(STATES)
def test_controls_shown_and_taken_over_change_nothing(state):
    shown = {**pick_values(state), **control_values(state)}
    fields = [*pick_fields(state), *control_fields(state)]
    assert {one["key"] for one in fields} == set(shown)
    shown.pop("cost")
    shown.pop("compare")
    shown.pop("language")
    again = replace(state, **taken_over(shown, state))
    for name in ("tank_length", "tank_width", "walkway"):
        here, there = (quantity(getattr(one, name)).m_as("cm") for one in (state, again))
        assert there == pytest.approx(here, rel=1e-12)
    if state.own_cost is not None:
        assert again.own_cost.m_as("money/m^2") == pytest.approx(3.25)
    kept = {name: getattr(state, name) for name in ("tank_length", "tank_width", "walkway",
                                                    "own_cost")}  # fmt: skip
    assert replace(again, **kept) == state


def test_pick_fields_offer_an_opened_number_of_replicates():
    options = {one["key"]: one.get("options") for one in pick_fields(replace(STATE, replicates=17))}
    assert ["17", "17"] in options["replicates"]
    bare = replace(STATE, chosen=("medium_bag",))
    assert pick_values(bare)["compare"] == "treatment"


@pytest.mark.parametrize(
    ("moved", "found"),
    [
        ({"chosen": ["wedge_pots", "medium_bag", "nobody"]},
         {"chosen": ("medium_bag", "wedge_pots")}),
        ({"varieties": " a \n\n b\n"}, {"varieties": ("a", "b")}),
        ({"replicates": "6"}, {"replicates": 6}),
        ({"replicates": "room"}, {"replicates": "room"}),
        ({"watertight": "yes"}, {"watertight": True}),
        ({"seed": 3.0, "tank_count": 7.0}, {"seed": 3, "tank_count": 7}),
        ({"seed": 3.5}, {"seed": 3.5}),
        ({"cost": "list"}, {"own_cost": None}),
        ({"cost": "own"}, {"own_cost": quantity("10 money/m^2")}),
        ({"tank_length": 2.0}, {"tank_length": quantity("2 cm")}),
    ],
)  # fmt: skip
def test_taken_over_sets_the_state(moved, found):
    assert taken_over(moved, STATE) == found


def test_taken_over_us_units():
    us = replace(STATE, system="us")
    found = taken_over({"tank_length": 10.0, "own_cost": 1.0}, us)
    assert found["tank_length"].m_as("cm") == pytest.approx(25.4)
    assert found["own_cost"].m_as("money/m^2") == pytest.approx(10.7639104, rel=1e-7)


# -- files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["metric", "us"])
def test_field_books_read_back_with_plants_and_medium(system):
    files = files_of(replace(STATE, system=system))
    for content in (files.book(), files.workbook()):
        records = read_records(content, name="book")
        assert records.problems == ()
        assert {row["treatment"] for row in records.rows} == set(STATE.chosen)
        bag = next(row for row in records.rows if row["treatment"] == "medium_bag")
        assert bag["plot_area"] == pytest.approx(0.72)
        assert (bag["ntp"], bag["genotype"]) == (12, "early white")
        assert bag["medium_volume"] == pytest.approx(12 * 2.4)
    unit = "lb" if system == "us" else "kg"
    assert f"ttwp [{unit}]" in files.book().splitlines()[0]
    assert f"ttwp [{unit}]" in files.sheet()


def test_sheet_names_study_and_seed():
    assert files_of(STATE).sheet().startswith("Study next trial, planted 2027-04-20.")


def text_of(aim=None, tanks=None, view=None):
    usual = {"system": "us", "price_list": "tern_hollow", "own_cost": None}
    request = PlanRequest(
        "s", "2027-04-20", aim or TrialAim(["medium_bag", "wedge_pots"]),
        tanks or equal_tanks(20, "1 m", "1 m"), 0, view=usual if view is None else view,
    )  # fmt: skip
    return plan_text(request, request.plan().layout).encode()


def test_opened_plan_without_variety():
    found = opened_plan(text_of(), "p.json", STATE)
    assert found.varieties == ()
    assert "not named" in files_of(found).book()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (text_of(TrialAim(["medium_bag", "straw"])), "straw: is not a method known here"),
        (text_of(TrialAim(["medium_bag", "field_soil"])), "field_soil"),
        (text_of(tanks=(*equal_tanks(11, "1 m", "1 m"), Tank("big", "2 m", "2 m"))), "one size"),
        (text_of(view={}), "system"),
        (text_of(view={"system": "si", "price_list": "none", "own_cost": -1}), "3 problems"),
        (text_of(view={"system": "us", "price_list": "tern_hollow", "own_cost": True}), "own_cost"),
        (text_of(view={"system": "us", "price_list": "tern_hollow", "own_cost": None, "x": 1}),
         "x: is not known"),
        (b"{}", "not a planned trial"),
    ],
)  # fmt: skip
def test_opened_plan_that_this_page_cannot_show_is_refused(text, words):
    with pytest.raises(RecordError, match=words):
        opened_plan(text, "p.json", STATE)


def test_today_is_a_day():
    assert PlanState(today()).request().planting_date.isoformat() == today()
