"""The nutrient solution in a board's file: kept whole, read from older files, refused by field."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_files import FERTILISERS, TARGETS, WATER

from scenariokit import catalog
from scenariokit.errors import ScenarioFileError
from scenariokit.scenario import FeedPlan, MixingRoom
from scenariokit.units import quantity
from scenariokit.widgets import board_feed
from scenariokit.widgets.board_feed import FeedState
from scenariokit.widgets.board_file import BOARD_VERSION
from scenariokit.widgets.board_file_feed import feed_part, read_feed
from scenariokit.widgets.board_state import BoardState

TEXTS = {
    board_feed.FERTILISERS: FERTILISERS,
    board_feed.WATER: WATER,
    board_feed.TARGETS: TARGETS,
}
FULL_EC = "2.166 dS/m"
"""What a file of version 1 said of the published recipe, where the ions are asked now."""


def own_feed():
    """A solution worked out with tables of a person's own, and stocks to match."""
    feed = FeedState()
    for table, text in TEXTS.items():
        feed, problems, _ = feed.with_table(table, text.encode(), "mine.csv")
        assert problems == ()
    plan = FeedPlan("ours", True, feed.plan.shelf, False, "well", "nitric_60")
    room = MixingRoom(3, quantity(1 / 7, "L"), quantity(11.3, "degC"))
    return FeedState(plan=plan, room=room, own=feed.own)


def own_board():
    state = BoardState()
    state.set_values({"feed.ec": quantity(1.7, "dS/m")})
    state.take_feed(own_feed())
    return state


def reopened(state):
    again = BoardState()
    again.load(state.save().encode(), "board.json")
    return again


@pytest.fixture(scope="module")
def text():
    return own_board().save()


@pytest.fixture
def document(text):
    return json.loads(text)


# -- round trip ----------------------------------------------------------------------------


@pytest.mark.parametrize("make", [FeedState, own_feed], ids=["fresh", "own"])
def test_read_feed_gives_what_feed_part_wrote(make):
    feed = make()
    part = json.loads(json.dumps(feed_part(feed), allow_nan=False))
    again = read_feed(part, "feed")
    assert again.plan == feed.plan
    assert feed_part(again) == part
    assert set(again.store.fertilisers) == set(feed.store.fertilisers)
    assert again.store.waters == feed.store.waters
    assert again.store.targets == feed.store.targets


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(sorted(catalog.targets())),
    st.booleans(),
    st.lists(st.sampled_from(sorted(catalog.salts())), unique=True),
    st.sampled_from(["", *sorted(catalog.acids())]),
    st.sampled_from([2, 3]),
    st.floats(0.01, 1e5),
    st.floats(0, 25),
)
def test_read_feed_keeps_any_plan_and_room_exactly(
    aim, cheapest, shelf, acid, stocks, volume, cold
):
    plan = FeedPlan(aim, True, tuple(shelf), cheapest, "hard_tap", acid)
    room = MixingRoom(stocks, quantity(volume, "L"), quantity(cold, "degC"))
    part = json.loads(json.dumps(feed_part(FeedState(plan=plan, room=room))))
    again = read_feed(part, "feed")
    assert again.plan == plan
    assert again.room.stocks == stocks
    assert quantity(again.room.stock_volume, "L").m == volume
    assert quantity(again.room.coldest, "degC").m == cold
    assert feed_part(again) == part


def test_save_load_with_own_tables_is_exact():
    state = own_board()
    again = reopened(state)
    assert again.save() == state.save()
    assert again.planned.rates == state.planned.rates
    assert again.feed.own == state.feed.own
    assert again.focused.prices.unit_prices == state.focused.prices.unit_prices
    for one, other in zip(again.compute(), state.compute(), strict=True):
        assert one["cost_nutrients"] == other["cost_nutrients"]


def test_load_own_tables_are_there_to_pick_again():
    again = reopened(own_board())
    again.reset()
    assert again.feed.plan == FeedPlan()
    assert {"our_calcium", "our_potash"} <= set(again.feed.store.fertilisers)
    assert again.feed.store.waters["well"].alkalinity == pytest.approx(200.2, abs=0.1)
    again.load_feed_table(board_feed.WATER, WATER.replace("Our", "My").encode(), "mine.csv")
    assert again.feed.store.waters["well"].label == "My well"


def test_load_shipped_board_drops_own_tables():
    state = own_board()
    state.load(BoardState().save().encode(), "board.json")
    assert state.save() == BoardState().save()
    assert "well" not in state.feed.store.waters


# -- version 1 -----------------------------------------------------------------------------


def as_version_1(document):
    """Return a board as version 1 wrote it: one published recipe, pure water, no uptake."""
    later = ("feed", "choice", "page")
    old = {key: value for key, value in document.items() if key not in later}
    old["version"] = 1
    for one in old["scenarios"]:
        one["version"] = 1
        feed, crop = one["scenario"]["feed"], one["scenario"]["crop"]
        feed["full_ec"] = FULL_EC
        del feed["water"], feed["water_content"], crop["uptake"], crop["loss_share"]
        tasks = one["scenario"]["method"].pop("labour").values()
        hours = sum(float(task.split()[0]) for task in tasks)
        one["scenario"]["method"]["labour_per_plant"] = f"{hours!r} hour/plant"
    return old


def without_new_leaves(state):
    """Return a saved board without what came after version 1: tasks and losses in storage."""
    found = json.loads(state.save())
    for one in found["scenarios"]:
        del one["scenario"]["method"]["labour"], one["scenario"]["crop"]["loss_share"]
    return found


def test_load_version_1_is_the_published_recipe_in_pure_water():
    state = BoardState()
    state.set_values({"feed.ec": quantity(2.0, "dS/m"), "tank.area": quantity(7, "m^2")})
    old = as_version_1(json.loads(state.save()))
    assert FULL_EC in json.dumps(old)
    again = BoardState()
    again.load(json.dumps(old).encode(), "old.json")
    assert without_new_leaves(again) == without_new_leaves(state)
    assert {one.crop.loss_share.m for one in again.scenarios.values()} == {0.0}
    for key, one in state.scenarios.items():
        hours = again.scenarios[key].method.labour.hours()
        assert hours == pytest.approx(one.method.labour.hours(), rel=1e-12)
    assert again.feed.plan == FeedPlan()
    assert json.loads(again.save())["version"] == BOARD_VERSION == 3
    assert again.compute()


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("feed", "scenario 1: .*feed"),
        ("crop", "scenario 1: .*crop"),
        ("tank", "scenario 1: .*tank"),
    ],
)
def test_load_version_1_that_is_damaged_is_refused(part, words):
    old = as_version_1(json.loads(BoardState().save()))
    del old["scenarios"][0]["scenario"][part]
    refused(old, words)


# -- damaged fields ------------------------------------------------------------------------


def refused(document, words):
    """Check that a document is refused with these words and a board stays as it was."""
    state = own_board()
    before = state.save()
    with pytest.raises(ScenarioFileError, match=words) as caught:
        state.load(json.dumps(document).encode(), "mine.json")
    assert str(caught.value).startswith("mine.json")
    assert state.save() == before


def put(document, path, value):
    *way, last = path.split(".")
    here = document
    for name in way:
        here = here[name]
    here[last] = value


HEADS = {table: text.splitlines()[0] + "\n" for table, text in TEXTS.items()}


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("feed", [], r"feed = '\[\]'; allowed: a mapping"),
        ("feed", None, "feed = 'None'; allowed: a mapping"),
        ("feed.colour", 1, "feed: unknown field colour"),
        ("feed.plan", "hoagland_1", "feed.plan = 'hoagland_1'; allowed: a mapping"),
        ("feed.plan.colour", 1, "feed.plan: unknown field colour"),
        ("feed.plan.aim", "hoagland_9", "feed.plan.aim = 'hoagland_9'; allowed: .*steiner.*ours"),
        ("feed.plan.aim", ["ours"], "feed.plan.aim"),
        ("feed.plan.aim", None, "feed.plan.aim"),
        ("feed.plan.solved", 1, "feed.plan.solved = '1'; allowed: true or false"),
        ("feed.plan.solved", "yes", "feed.plan.solved"),
        ("feed.plan.solved", False, "feed: .*published recipe"),
        ("feed.plan.shelf", "boric_acid", "feed.plan.shelf = 'boric_acid'; allowed: a list"),
        ("feed.plan.shelf", {}, "feed.plan.shelf"),
        ("feed.plan.shelf", ["moon_dust"], "feed.plan.shelf = 'moon_dust'; allowed: .*our_potash"),
        ("feed.plan.shelf", [["boric_acid"]], "feed.plan.shelf"),
        ("feed.plan.shelf", [], "feed: nothing is on the shelf"),
        ("feed.plan.cheapest", None, "feed.plan.cheapest"),
        ("feed.plan.water", "sea", "feed.plan.water = 'sea'; allowed: pure_water, .*well"),
        ("feed.plan.water", 3, "feed.plan.water"),
        ("feed.plan.water", "brackish_well", "feed: .*EC"),
        ("feed.plan.acid", "aqua_regia", "feed.plan.acid = 'aqua_regia'; allowed: nothing, nitric"),
        ("feed.plan.acid", None, "feed.plan.acid"),
        ("feed.room", 2, "feed.room"),
        ("feed.room.shelves", 2, "feed.room: unknown field shelves"),
        ("feed.room.stocks", 4, "feed.room.stocks = '4'; allowed: 2 or 3"),
        ("feed.room.stocks", True, "feed.room.stocks"),
        ("feed.room.stocks", "2", "feed.room.stocks"),
        ("feed.room.stocks", 2.0, "feed.room.stocks"),
        ("feed.room.stocks", [2], "feed.room.stocks"),
        ("feed.room.stock_volume", 10, "feed.room.stock_volume = '10'; allowed: a number with"),
        ("feed.room.stock_volume", "10 kg", "feed.room: stock_volume"),
        ("feed.room.stock_volume", "10", "feed.room: stock_volume.*unit"),
        ("feed.room.stock_volume", "-1 L", "feed.room: stock_volume"),
        ("feed.room.stock_volume", None, "feed.room.stock_volume"),
        ("feed.room.stock_volume", ["1 L"], "feed.room.stock_volume"),
        ("feed.room.coldest", "cold", "feed.room: coldest"),
        ("feed.room.coldest", "900 degC", "feed.room: coldest"),
        ("feed.room.coldest", "nan degC", "feed.room: coldest"),
        ("feed.own", None, "feed.own = 'None'; allowed: a mapping"),
        ("feed.own.seeds", None, "feed.own: unknown field seeds"),
        ("feed.own.own_water", 5, "feed.own.own_water = '5'; allowed: the text of a table"),
        ("feed.own.own_water", "", "feed.own.own_water"),
        ("feed.own.own_water", "/etc/passwd", "feed.own.own_water"),
        ("feed.own.own_water", HEADS["own_water"], "feed.own.own_water"),
        ("feed.own.own_water", WATER + "well,Our well,K,3,ppm\n", "feed.own.own_water: .*row 9"),
        ("feed.own.own_water", None, "feed.plan.water = 'well'"),
        ("feed.own.own_fertilisers", "id,label\nx,y\n", "feed.own.own_fertilisers"),
        ("feed.own.own_fertilisers", FERTILISERS.replace("KNO3", "Qq"), "own_fertilisers: .*row 3"),
        ("feed.own.own_fertilisers", None, "feed.plan.shelf = 'our_calcium'"),
        ("feed.own.own_fertilisers", FERTILISERS.replace(",1.2,", ",,"), "our_potash has no price"),
        ("feed.own.own_targets", TARGETS.replace(",150,", ",15,"), "feed.own.own_targets: .*row 2"),
        ("feed.own.own_targets", [], "feed.own.own_targets"),
        ("feed.own.own_targets", None, "feed.plan.aim = 'ours'"),
    ],
)  # fmt: skip
def test_load_damaged_feed_is_refused_and_named(document, path, value, words):
    put(document, path, value)
    refused(document, words)


@pytest.mark.parametrize(
    "path",
    [
        "feed", "feed.plan", "feed.room", "feed.own", "feed.plan.aim", "feed.plan.solved",
        "feed.plan.shelf", "feed.plan.cheapest", "feed.plan.water", "feed.plan.acid",
        "feed.room.stocks", "feed.room.stock_volume", "feed.room.coldest",
        "feed.own.own_water", "feed.own.own_fertilisers", "feed.own.own_targets",
    ],
)  # fmt: skip
def test_load_missing_part_of_the_feed_is_named(document, path):
    *way, last = path.split(".")
    here = document
    for name in way:
        here = here[name]
    del here[last]
    refused(document, f"{last} is missing")


def test_load_ec_below_that_of_the_water_is_refused_before_anything_changes():
    """The scenarios of the file hold together; only what their plan brings does not."""
    document = json.loads(BoardState().save())
    document["feed"]["plan"]["water"] = "brackish_well"
    refused(document, "feed: EC of 1.6 dS/m is below that of the water itself")


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["plan", "room", "own"]),
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats(allow_nan=False)
        | st.text(max_size=9),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
        max_leaves=6,
    ),
)
def test_read_feed_any_damage_gives_one_kind_of_error(name, value):
    part = {**feed_part(FeedState()), name: value}
    with pytest.raises(ScenarioFileError, match="feed"):
        read_feed(part, "feed")
