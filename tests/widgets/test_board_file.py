"""A board survives a file whole, and a bad file changes nothing and is named field by field."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_files import HARVEST, methods_file, prices_file

from scenariokit import catalog
from scenariokit.errors import RecordError, ScenarioFileError
from scenariokit.scenario import OUTCOMES
from scenariokit.units import quantity
from scenariokit.widgets.board_file import read_board
from scenariokit.widgets.board_state import BoardState


def moved():
    """A board after many changes."""
    state = BoardState()
    state.load_methods(methods_file({}, {"crop": "kale", "yield_high": 4.1}), "mine.csv")
    state.load_prices(
        prices_file("dunmarrow", factor=1 / 3, leave_out=("water", "labour")), "prices.csv"
    )
    state.load_harvest(
        f"{HARVEST}a,wedge_pots,potato,3,10\nb,wedge_pots,potato,3,11\nc,wedge_pots,potato,3,\n"
        "d,paper_wrap,potato,1,2\ne,my_bag,kale,1,2.2\n".encode(),
        "harvest.csv",
    )
    state.pick_site("dunmarrow")
    state.set_values({"feed.ec": quantity(1 / 7, "dS/m"), "tank.area": quantity(43, "ft^2")})
    state.set_values({"harvest.typical": quantity(1.1, "lb/ft^2")}, method="my_bag")
    state.choose(["wedge_pots", "my_bag", "paper_wrap"])
    state.focus, state.system = "my_bag", "us"
    state.show_currency("EUR", 0.9)
    return state


def reopened(state):
    again = BoardState()
    again.load(state.save().encode(), "board.json")
    return again


def numbers(state):
    return {
        (found.scenario.method.id, name): found[name].magnitude
        for found in state.compute()
        for name in OUTCOMES
    }


# -- round trip ----------------------------------------------------------------------------


@pytest.mark.parametrize("make", [BoardState, moved], ids=["fresh", "moved"])
def test_save_load_is_exact(make):
    state = make()
    again = reopened(state)
    assert again.save() == state.save()
    np.testing.assert_equal(numbers(again), numbers(state))


@settings(max_examples=20, deadline=None)
@given(st.floats(0.1, 5), st.floats(0.01, 50), st.floats(1e-3, 1e3))
def test_save_load_keeps_any_slider_exactly(ec, harvest, rate):
    state = BoardState()
    state.set_values({"feed.ec": quantity(ec, "dS/m")})
    state.set_values({"harvest.typical": quantity(min(harvest, 40), "kg/m^2")}, method="paper_wrap")
    state.show_currency("USD", rate)
    again = reopened(state)
    assert again.save() == state.save()
    assert again.scenarios["paper_wrap"].feed.ec.magnitude == state.focused.feed.ec.magnitude
    assert again.rate == rate


@pytest.mark.parametrize("crop", sorted(catalog.crops()))
def test_save_load_works_for_every_crop(crop):
    state = BoardState(crop=crop)
    assert reopened(state).save() == state.save()


def test_load_own_prices_are_the_lists_in_use_again():
    state = moved()
    again = reopened(state)
    assert again.own_prices is not None
    assert again.prices == state.prices
    assert set(again.prices.missing) == {"labour", "water"}
    assert catalog.template(again.prices) == catalog.template(state.prices)
    again.reset()
    for one in again.scenarios.values():
        assert one.prices.unit_prices == state.focused.prices.unit_prices


def test_load_shipped_prices_replace_an_own_list():
    state = moved()
    state.load(BoardState().save().encode(), "board.json")
    assert state.own_prices is None
    assert state.prices is catalog.price_list("tern_hollow")
    assert state.own_harvest == {}
    assert set(state.methods) == set(catalog.methods())


def test_load_own_methods_and_harvest_survive_reset_and_crops():
    again = reopened(moved())
    again.reset()
    assert again.scenarios["my_bag"].harvest.typical.magnitude == pytest.approx(3)
    assert again.scenarios["wedge_pots"].harvest.basis == "2 plots weighed"
    assert again.own_harvest["wedge_pots", "potato"].unharvested == 1
    again.pick_crop("kale")
    assert again.scenarios["my_bag"].harvest.basis == "1 plot weighed"
    again.pick_crop("potato")
    assert "my_bag" in again.scenarios
    assert len(again.compute()) == len(again.chosen)


def test_load_then_the_same_methods_are_taken():
    """Own methods are known after loading, so that a second file cannot shadow them."""
    with pytest.raises(RecordError, match="is taken"):
        reopened(moved()).load_methods(methods_file({}), "mine.csv")


def test_load_takes_a_byte_order_mark():
    state = BoardState()
    state.load(b"\xef\xbb\xbf" + moved().save().encode(), "board.json")
    assert state.save() == moved().save()


# -- bad files -----------------------------------------------------------------------------


def refused(document, words):
    """Check that a document is refused with these words and a board stays as it was."""
    state = moved()
    before = state.save()
    content = document if isinstance(document, bytes) else json.dumps(document).encode()
    with pytest.raises(ScenarioFileError, match=words) as caught:
        state.load(content, "mine.json")
    assert str(caught.value).startswith("mine.json")
    assert state.save() == before


@pytest.fixture(scope="module")
def text():
    return moved().save()


@pytest.fixture
def document(text):
    return json.loads(text)


@pytest.mark.parametrize(
    "content",
    [b"", b"[1, 2", b"null", b"[]", b'"text"', b"\xff\xfe\x00", b"[" * 5000, b"{}",
     b'{"format": "scenariokit/scenario", "version": 1}'],
)  # fmt: skip
def test_load_no_board_is_refused(content):
    refused(content, "JSON|saved board")


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("version", 4, "version 4.*reads up to 3; install a newer"),
        ("version", 0, "whole number"),
        ("version", True, "whole number"),
        ("version", "1", "whole number"),
        ("colour", "red", "unknown field colour"),
        ("view.colour", "red", "unknown field view.colour"),
        ("own.seeds", None, "unknown field own.seeds"),
        ("feed.seeds", None, "feed: unknown field seeds"),
        ("view", [], "view is empty"),
        ("scenarios", [], "scenarios is empty"),
        ("scenarios", {}, "scenarios is empty"),
        ("view.crop", "rice", "view.crop = 'rice'; allowed: .*potato"),
        ("view.crop", "kale", "scenario 1: crop.id = 'potato'; allowed: kale"),
        ("view.site", "atlantis", "view.site"),
        ("view.site", "tern_hollow", "scenario 1: site.id"),
        ("view.price_list", "none", "view.price_list"),
        ("view.system", "imperial", "view.system = 'imperial'; allowed: metric, us"),
        ("view.focus", "medium_bag", "view.focus = 'medium_bag'; allowed: wedge_pots, paper_wrap, my_bag"),
        ("view.focus", ["wedge_pots"], "view.focus"),
        ("view.chosen", [], "view.chosen"),
        ("view.chosen", "wedge_pots", "view.chosen"),
        ("view.chosen", ["raft"], "view.chosen"),
        ("view.chosen", [{}], "view.chosen"),
        ("view.chosen", ["my_bag", "my_bag"], "each once"),
        ("view.currency", "euro", "three capital letters"),
        ("view.currency", 7, "three capital letters"),
        ("view.rate", 0, "view.rate = '0'; allowed: a number above zero"),
        ("view.rate", True, "view.rate"),
        ("view.rate", "1.1", "view.rate"),
        ("view.rate", float("inf"), "view.rate"),
        ("view.rate", float("nan"), "view.rate"),
        ("view.currency", "USD", "1, because the prices are in USD already"),
        ("own.prices", None, "scenario 1: prices.id = 'own'"),
        ("own.prices", "cheap", "own.prices"),
        ("own.prices.label", 3, "label and currency"),
        ("own.prices.missing", ["gold"], "own.prices: missing"),
        ("own.prices.table", "/etc/passwd", "own.prices"),
        ("own.prices.table", "item,package_size,price,currency\nwater,1 m^3,1,USD\n", "no price for"),
        ("own.prices.table", 5, "the text of a table"),
        ("own.methods", None, "own.harvest: .*my_bag"),
        ("own.methods", "id,label\nx,y\n", "own.methods"),
        ("own.harvest", "plot,method\n", "own.harvest"),
        ("own.harvest", f"{HARVEST}a,raft,potato,1,2\n", "own.harvest.*raft"),
        ("own.harvest", f"{HARVEST}a,paper_wrap,potato,1,900\n", "own.harvest"),
        ("scenarios.0.format", "other", "scenario 1: is not a scenario"),
        ("scenarios.0.version", 4, "scenario 1: is of version 4"),
        ("scenarios.0.scenario.tank.area", "4 litre", "scenario 1: .*area"),
        ("scenarios.0.scenario.colour", "red", "scenario 1: .*colour"),
        ("scenarios.0.scenario.method.level.high", "90 cm", "scenario 1: .*above the rim"),
        ("scenarios.0.scenario.feed.ec", {"values": [1.0, 2.0], "unit": "dS/m"}, "no ensemble"),
        ("scenarios.0.scenario.site.rain", "50 mm", "twelve numbers"),
        ("scenarios.0.scenario.prices.currency", "EUR", "scenario 1: prices.currency"),
        ("scenarios.0.scenario.prices.unit_prices", {}, "a scenario lacks"),
        ("scenarios.0.scenario.crop.removal", {}, "a scenario lacks"),
        ("scenarios.0.scenario.site.planting_month", 77, "evaluated|month"),
    ],
)  # fmt: skip
def test_load_bad_field_is_named(document, path, value, words):
    *way, last = path.split(".")
    here = document
    for name in way:
        here = here[int(name)] if isinstance(here, list) else here[name]
    here[last] = value
    refused(document, words)


@pytest.mark.parametrize(
    "path",
    [
        "view",
        "own",
        "feed",
        "scenarios",
        "view.rate",
        "view.focus",
        "own.harvest",
        "own.prices.table",
    ],
)
def test_load_missing_field_is_named(document, path):
    *way, last = path.split(".")
    here = document
    for name in way:
        here = here[name]
    del here[last]
    refused(document, f"{last} is missing")


def test_load_method_twice_is_refused(document):
    document["scenarios"].append(document["scenarios"][0])
    refused(document, "two scenarios")


@settings(max_examples=50, deadline=None)
@given(st.text(max_size=200))
def test_read_board_any_text_gives_one_kind_of_error(text):
    with pytest.raises(ScenarioFileError):
        read_board(text.encode("utf-8", "surrogatepass"), "mine.json")
