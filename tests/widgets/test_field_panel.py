"""A control is made from the glossary alone, in the reader's units."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scenariokit import units
from scenariokit.glossary import PARAMETERS, parameter
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.widgets.field_panel import (
    FieldPanel,
    attempts,
    changed,
    choice_field,
    digits_for,
    from_shown,
    many_field,
    number_field,
    range_field,
    to_shown,
)

SYSTEMS = ("metric", "us")
RAW = (
    "US_dry_quart",
    "metric_ton",
    "floz",
    "hectare",
    "money",
    "^",
    "*",
    "_",
    "degC",
    "degF",
    "inch",
    "percent",
    "crop/",
)
every = pytest.mark.parametrize("name", sorted(PARAMETERS))
systems = pytest.mark.parametrize("system", SYSTEMS)


def field(name, system):
    return range_field(name, parameter(name), system=system, currency="EUR")


@systems
@every
def test_range_field_slider_has_a_way_to_go(name, system):
    made = field(name, system)
    assert made["low"] < made["high"]
    assert made["step"] > 0
    assert 3 <= (made["high"] - made["low"]) / made["step"] <= 3000
    assert made["label"] == parameter(name).label


@systems
@every
def test_range_field_default_lies_on_the_slider(name, system):
    made, described = field(name, system), parameter(name)
    shown = to_shown(described.default, described, system)
    assert made["low"] <= shown <= made["high"] * (1 + 1e-12)


@every
def test_range_field_metric_slider_reaches_the_default_in_whole_steps(name):
    """What a person reads first, a person can come back to."""
    made, described = field(name, "metric"), parameter(name)
    steps = (described.default - made["low"]) / made["step"]
    assert steps == pytest.approx(round(steps), abs=1e-6)


@systems
@every
def test_range_field_every_end_is_accepted(name, system):
    """Neither the ends of the slider nor those of the box lead to a refusal."""
    made, described = field(name, system), parameter(name)
    for end in ("low", "high", "minimum", "maximum"):
        if made[end] is not None:
            _, problem = to_floats(name, from_shown(made[end], described, system), described)
            assert problem is None, (end, made[end])


@systems
@every
def test_range_field_digits_show_every_step(name, system):
    made = field(name, system)
    digits = made["digits"]
    assert round(made["step"], digits) == pytest.approx(made["step"], rel=1e-9)
    assert round(made["low"], digits) == pytest.approx(made["low"], abs=1e-12)
    assert round(made["high"], digits) == pytest.approx(made["high"], abs=1e-12)
    # Pores of a wick are counted in millionths of a square millimetre; no slider shows them.
    assert digits <= 6 or name == "permeability"


@systems
@every
def test_range_field_unit_is_written_as_people_write_it(name, system):
    shown = field(name, system)["unit"]
    assert not [raw for raw in RAW if raw in shown], shown


@systems
@every
def test_range_field_help_has_meaning_and_source(name, system):
    described = parameter(name)
    assert field(name, system)["help"] == f"{described.help}\nSource: {described.source}."


@pytest.mark.parametrize(
    ("name", "low", "high", "step"),
    [
        ("yield_per_area", 0.04, 2.46, 0.02),  # 0.2 to 12 kg/m² are 0.041 to 2.458 lb/ft²
        ("water_temperature", 32, 104, 1),  # 0 to 40 °C; half a kelvin is 0.9 °F, not 32.9
        ("depth", 0, 15.8, 0.2),  # 0 to 40 cm are 15.75 inch
    ],
)
def test_range_field_us_units_keep_the_range(name, low, high, step):
    made = field(name, "us")
    assert (made["low"], made["high"], made["step"]) == pytest.approx((low, high, step))


def test_range_field_low_end_never_falls_below_what_is_allowed():
    made = field("package_volume", "us")
    assert made["low"] > 0


@settings(max_examples=200)
@given(st.sampled_from(sorted(PARAMETERS)), st.sampled_from(SYSTEMS), st.floats(0, 1))
def test_to_shown_from_shown_round_trip(name, system, share):
    described = parameter(name)
    low, high, _ = described.slider
    value = low + share * (high - low)
    back = from_shown(to_shown(value, described, system), described, system)
    assert back.m_as(units.unit_of(described.unit)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@settings(max_examples=100)
@given(st.sampled_from(sorted(PARAMETERS)), st.floats(0, 1))
def test_to_shown_metric_is_the_number_itself(name, share):
    described = parameter(name)
    assert to_shown(share, described, "metric") == share


@settings(max_examples=100)
@given(st.floats(1e-4, 1e3), st.floats(1e-3, 10), st.floats(5, 500))
def test_range_field_any_parameter_has_a_round_step(low, step, count):
    assume(low > 1e-3)
    described = Parameter(
        "a", "a", "A", "cm", 0, None, (low, low + count * step, step), low, "", "", "", "inch"
    )
    for system in SYSTEMS:
        made = range_field("a", described, system=system)
        digit = f"{made['step']:e}".split("e")[0].rstrip("0").rstrip(".")
        assert digit in ("1", "2", "5")
        assert made["low"] < made["high"]


@pytest.mark.parametrize(
    ("step", "digits"), [(10, 0), (1, 0), (0.5, 1), (0.05, 2), (0.005, 3), (20, 0), (2e-5, 5)]
)
def test_digits_for_a_step(step, digits):
    assert digits_for(step) == digits


def test_other_fields_have_what_the_page_reads():
    options = [("a", "A"), ("b", "B")]
    for made in (choice_field("k", "K", options), many_field("k", "K", options)):
        assert made["options"] == [["a", "A"], ["b", "B"]]
    assert many_field("k", "K", options)["kind"] == "many"
    assert number_field("k", "K", "cm")["minimum"] == 0
    shared = {"kind", "key", "label", "topic", "help", "unit"}
    for made in (choice_field("k", "K", options), number_field("k", "K", ""), field("depth", "us")):
        assert shared <= set(made)


def test_changed_names_what_differs():
    assert changed({"a": 1, "b": 2}, {"a": 1, "b": 3, "c": 4}) == {"b": 3, "c": 4}
    assert changed({"a": 1}, {"a": 1}) == {}


def test_attempts_try_what_waits_again_and_then_what_moved_alone():
    values = {"a": 1, "b": 2, "c": 3}
    assert attempts({}, {"b": "no"}, values) == []
    assert attempts({"a": 1}, {}, values) == [{"a": 1}]
    assert attempts({"a": 1}, {"a": "no"}, values) == [{"a": 1}]
    assert attempts({"a": 1}, {"b": "no", "gone": "no"}, values) == [{"b": 2, "a": 1}, {"a": 1}]


def test_panels_do_not_share_what_they_show():
    one, other = FieldPanel(), FieldPanel()
    one.values = {"a": 1}
    one.errors = {"a": "no"}
    assert (other.values, other.errors, other.fields) == ({}, {}, [])


def test_panel_hears_each_move_once_and_tells_which():
    panel = FieldPanel(values={"a": 1, "b": 2})
    told = []
    panel.observe(lambda change: told.append(changed(change["old"], change["new"])), "values")
    panel.hear([(1, "a", 5)])
    panel.hear([(1, "a", 5), (2, "b", 7)])
    panel.hear([(1, "a", 5)])
    assert told == [{"a": 5}, {"b": 7}]
    assert (panel.heard, panel.values) == (2, {"a": 5, "b": 7})


def test_panel_move_does_not_undo_what_was_set_meanwhile():
    panel = FieldPanel(values={"shown": ["one", "two"], "open": "one"})

    def follow(change):
        if panel.values["open"] not in panel.values["shown"]:
            panel.values = {**panel.values, "open": panel.values["shown"][0]}

    panel.observe(follow, "values")
    panel.hear([(1, "shown", ["two"])])
    panel.hear([(2, "shown", ["two", "three"])])
    assert panel.values == {"shown": ["two", "three"], "open": "two"}


def test_panel_answers_again_where_its_answer_did_not_arrive(monkeypatch):
    panel = FieldPanel(values={"a": 1})
    panel.hear([(1, "a", 5)])
    told = []
    monkeypatch.setattr(panel, "send_state", lambda key=None: told.append(key))
    panel.hear([(1, "a", 5)])
    assert told[0] == ["heard", "values"]
    assert panel.values == {"a": 5}


def test_panel_takes_the_message_of_a_page():
    panel = FieldPanel(values={"a": 1})
    panel._handle_custom_msg({"moved": [[1, "a", 2.5]]}, [])
    assert panel.values == {"a": 2.5}
