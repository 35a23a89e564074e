"""A saved plan opens again and draws the same map, or says what is wrong with it."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, RecordError
from scenariokit.trials.planning.aim import TrialAim
from scenariokit.trials.planning.plan_document import (
    MAX_BYTES,
    UNNAMED,
    PlanRequest,
    plan_text,
    read_plan,
)
from scenariokit.trials.planning.tanks import Tank, equal_tanks

TANKS = equal_tanks(16, "1.2 m", "60 cm")
REQUEST = PlanRequest("spring", "2027-04-20", TrialAim(["bag", "pots"], ["early"]), TANKS, 0)


def text_of(request=REQUEST):
    return plan_text(request, request.plan().layout)


def changed(*path, value=None, drop=False):
    """Return the text with one value changed or dropped."""
    document = json.loads(text_of())
    part = document
    for key in path[:-1]:
        part = part[key]
    if drop:
        del part[path[-1]]
    else:
        part[path[-1]] = value
    return json.dumps(document)


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=9)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(NAMES, min_size=2, max_size=3, unique=True),
    st.lists(NAMES.filter(lambda name: name != "NA"), max_size=2, unique=True),
    st.sampled_from(["randomised", "blocks", "latin_square"]),
    st.integers(0, 2**70),
    st.floats(1, 1e4),
    st.sampled_from(["needed", "room", 6]),
)
def test_plan_text_reads_back_exactly(methods, varieties, design, seed, side, replicates):
    tanks = [
        Tank("one", f"{side!r} cm", "31 inch", 30, reservoir="barrel"),
        Tank("zwei", "2 m", "1 m", 12, watertight=True),
    ]
    aim = TrialAim(methods, varieties, design, cv=0.1 + 0.2, power=0.85)
    request = PlanRequest(
        "x", datetime.date(2027, 4, 20), aim, tuple(tanks), seed, replicates, "12.3 inch",
        {"system": "us", "own": None},
    )  # fmt: skip
    if replicates == 6 and 6 % aim.step:
        return
    text = text_of(request)
    assert read_plan(text) == request
    assert read_plan(text.encode("utf-8")).plan().layout == request.plan().layout


def test_plan_text_has_units_and_the_plots_it_draws():
    document = json.loads(text_of())
    assert (document["format"], document["version"]) == ("scenariokit/trial-plan", 1)
    assert document["tanks"][0]["length"] == "120.0 cm"
    assert document["walkway"] == "60.0 cm"
    layout = REQUEST.plan().layout
    assert [row[0] for row in document["plots"]] == [plot.plot_id for plot in layout.plots]


def test_plan_request_details_name_the_variety_where_the_trial_does_not():
    assert REQUEST.details().variety == ""
    plain = replace(REQUEST, aim=TrialAim(["bag", "pots"]))
    assert plain.details().variety == UNNAMED


@pytest.mark.parametrize(
    "wrong", [{"study_id": ""}, {"planting_date": "soon"}, {"walkway": "60"}, {"walkway": "-1 cm"}]
)
def test_plan_request_that_cannot_be_is_refused(wrong):
    with pytest.raises(ArgumentError, match=next(iter(wrong))):
        replace(REQUEST, **wrong)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not a JSON text"),
        ("{", "not a JSON text"),
        (b"\xff\xfe\x00", "not a JSON text"),
        ("[" * 100_000, "not a JSON text"),
        (" " * (MAX_BYTES + 1), "longer than"),
        ("[]", "not a planned trial"),
        ('{"format": "scenariokit/comparison"}', "not a planned trial"),
        (changed("version", value=2), "newer scenariokit"),
        (changed("version", value=True), "version"),
        (changed("seed", value=float("nan")), "NaN"),
        (changed("seed", drop=True), "seed: is missing"),
        (changed("colour", value=1), "colour: is not known"),
        (changed("aim", "cv", drop=True), "aim.cv: is missing"),
        (changed("aim", value=[]), "aim"),
        (changed("view", value=[]), "view"),
        (changed("tanks", value={}), "is not a list"),
        (changed("tanks", 0, "depth", value=1), r"tanks\[1\].depth: is not known"),
        (changed("tanks", 3, value="T4"), r"tanks\[4\]"),
        (changed("tanks", value=[]), "no number of sections"),
        (changed("tanks", 0, "length", value="120"), "no unit"),
        (changed("tanks", 0, "length", value="1 m/"), "plan"),
        (changed("tanks", 0, "length", value="1 fathomless"), "plan"),
        (changed("tanks", 0, "sections", value=10**9), "no number of sections"),
        (changed("aim", "treatments", value=["bag", ["pots"]]), "plan"),
        (changed("aim", "treatments", value="bag"), "not a list of names"),
        (changed("aim", "treatments", value=3), "another kind"),
        (changed("aim", "design", value="rows"), "design"),
        (changed("aim", "cv", value=12), "above the allowed range"),
        (changed("planting_date", value="1.5.2027"), "planting_date"),
        (changed("replicates", value=99), "plots"),
        (changed("seed", value=-1), "seed"),
    ],
)
def test_read_plan_that_cannot_be_read_is_refused_in_words(text, words):
    with pytest.raises(RecordError, match=words) as caught:
        read_plan(text, name="mine.json")
    assert "mine.json" in str(caught.value)


@pytest.mark.parametrize(
    "text",
    [
        changed("seed", value=1),
        changed("plots", 0, 3, value="pots and pans"),
        changed("plots", value=[]),
        changed("plots", drop=True),
        changed("aim", "difference", value=0.5),
    ],
)
def test_read_plan_that_draws_other_plots_than_it_lists_is_refused(text):
    with pytest.raises(RecordError, match="not those that the seed draws"):
        read_plan(text)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_read_plan_damaged_text_is_read_or_refused_and_nothing_else(data):
    text = text_of()
    at = data.draw(st.integers(0, len(text) - 1))
    piece = data.draw(st.sampled_from(["", "0", "-", "[]", "null", "1e999", '"', "}", "é", "NaN"]))
    length = data.draw(st.integers(0, 12))
    try:
        found = read_plan(text[:at] + piece + text[at + length :])
    except RecordError:
        return
    assert found.plan().layout.plots
