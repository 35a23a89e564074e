"""Boards of every version ever written open; what the choice view and the page add is kept."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_files import prices_file

from scenariokit.decide import LIMITS
from scenariokit.errors import ScenarioFileError
from scenariokit.widgets import open_board
from scenariokit.widgets.board_file import BOARD_VERSION, MIGRATIONS, read_board
from scenariokit.widgets.board_file_checks import SCHEMA, board_schema
from scenariokit.widgets.board_file_choice import (
    AXES,
    DRAWS_ALLOWED,
    LEANINGS_KEPT,
    BoardSettings,
    ChoiceSettings,
    PageSettings,
    choice_part,
    page_part,
    read_choice,
    read_page,
    usual_weights,
)
from scenariokit.widgets.board_schema import build_board_schema, write_board_schema
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.choice_state import LEANINGS, SHARED_PATHS, ChoiceState

BOARDS = Path(__file__).parent / "boards"
CHOSEN = ["medium_bag", "wedge_pots", "paper_wrap"]
COSTS = {
    1: {"medium_bag": 2.624376, "wedge_pots": 3.261066, "paper_wrap": 4.132593},
    2: {"medium_bag": 2.543698, "wedge_pots": 3.144659, "paper_wrap": 3.911555},
}
"""What these files said (money/kg) when they were written, by the program of that day."""


def tried(read, *given):
    """Return what `read` gives and what it refuses; of these one is nothing."""
    try:
        return read(*given), ""
    except ScenarioFileError as error:
        return None, str(error)


def told():
    """Settings of which none is the usual one."""
    choice = ChoiceSettings(
        limits={"least_yield": 3.0, "most_labour": 1 / 3},
        lacking=("no_medium", "medium:white_peat"),
        objective="water_per_yield",
        leaning="cautious",
        front=("labour_per_area", "investment_per_area"),
        rival="paper_wrap",
        turning="crop.marketable_share",
        mapped=("feed.ec", "site.rain_share"),
        weights={**usual_weights(), "labour_per_area": 8.25, "yield_per_area": 0.0},
        draws=512,
    )
    return BoardSettings(choice, PageSettings("choice", "pt-BR"))


@pytest.fixture
def document():
    return json.loads(BoardState().save(told()))


# -- older versions ------------------------------------------------------------------------


@pytest.mark.parametrize("version", sorted(COSTS))
def test_load_each_older_version_gives_the_numbers_of_its_day(version):
    state = BoardState()
    content = (BOARDS / f"board_version_{version}.json").read_bytes()
    assert json.loads(content)["version"] == version
    assert state.load(content, "old.json") == BoardSettings()
    costs = {
        found.scenario.method.id: found["cost_per_usable_kilogram"].magnitude
        for found in state.compute()
    }
    assert costs == pytest.approx(COSTS[version], abs=5e-7)
    again = json.loads(state.save())
    assert again["version"] == BOARD_VERSION
    state.load(json.dumps(again).encode(), "new.json")
    assert json.loads(state.save()) == again


def test_migrations_reach_from_every_version_to_the_next():
    assert sorted(MIGRATIONS) == list(range(1, BOARD_VERSION))
    assert all((BOARDS / f"board_version_{version}.json").is_file() for version in MIGRATIONS)


@pytest.mark.parametrize("version", sorted(COSTS))
def test_load_older_version_that_says_more_than_it_could_is_kept_or_refused(version):
    document = json.loads((BOARDS / f"board_version_{version}.json").read_text("utf-8"))
    document["colour"] = "red"
    with pytest.raises(ScenarioFileError, match="unknown field colour"):
        BoardState().load(json.dumps(document).encode(), "old.json")


# -- settings there and back ---------------------------------------------------------------


def test_save_load_keeps_all_settings():
    assert BoardState().load(BoardState().save(told()).encode(), "board.json") == told()


def test_save_without_settings_keeps_the_usual_ones():
    assert BoardState().load(BoardState().save().encode(), "board.json") == BoardSettings()


def test_choice_state_gives_and_takes_its_settings():
    state = ChoiceState(BoardState())
    assert state.settings() == ChoiceSettings()
    state.take(told().choice)
    assert state.settings() == told().choice
    state.limits["most_load"] = 1.0
    state.weights["labour_per_area"] = 1.0
    assert "most_load" not in told().choice.limits
    assert state.settings().weights["labour_per_area"] == 1.0


def test_choice_state_take_drops_what_its_methods_have_not():
    board = BoardState()
    board.choose(["medium_bag", "wedge_pots"])
    state = ChoiceState(board)
    state.take(told().choice)
    assert state.rival == ""


def test_choice_state_draws_as_many_as_it_is_told():
    state = ChoiceState(BoardState())
    state.take(told().choice)
    assert state.draw().draws == 512


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.sampled_from(sorted(LIMITS)), st.floats(0, 1e6)),
    st.dictionaries(st.sampled_from(sorted(usual_weights())), st.floats(0.001, 10)),
    st.sampled_from(LEANINGS_KEPT),
    st.integers(*DRAWS_ALLOWED),
)
def test_read_choice_gives_what_choice_part_wrote(limits, weights, leaning, draws):
    choice = ChoiceSettings(
        limits=limits, weights={**usual_weights(), **weights}, leaning=leaning, draws=draws
    )
    part = json.loads(json.dumps(choice_part(choice)))
    assert read_choice(part, CHOSEN, {}, "choice") == choice


def test_read_choice_takes_a_criterion_that_came_later_at_its_usual_weight():
    part = choice_part(ChoiceSettings())
    del part["weights"]["labour_per_area"]
    assert read_choice(part, CHOSEN, {}, "choice") == ChoiceSettings()


# -- what is refused, and named ------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("choice", [], "choice"),
        ("choice.colour", 1, "choice.*colour"),
        ("choice.objective", "profit", "choice.objective = 'profit'; allowed: margin_per_area"),
        ("choice.objective", ["margin_per_area"], "choice.objective"),
        ("choice.leaning", "weighted", "choice.leaning"),
        ("choice.rival", "raft", "choice.rival = 'raft'; allowed: nothing, medium_bag"),
        ("choice.turning", "__class__", "choice.turning"),
        ("choice.mapped", ["feed.ec", "feed.ec"], "choice.mapped"),
        ("choice.mapped", ["feed.ec"], "choice.mapped"),
        ("choice.mapped", ["feed.ec", "tank.area"], "choice.mapped = 'tank.area'"),
        ("choice.front", ["yield_per_area", "colour"], "choice.front = 'colour'"),
        ("choice.front", "yield_per_area", "choice.front"),
        ("choice.lacking", ["medium:gold"], "choice.lacking = 'medium:gold'"),
        ("choice.lacking", ["no_medium", "no_medium"], "choice.lacking"),
        ("choice.lacking", "no_medium", "choice.lacking"),
        ("choice.limits", {"most_gold": 1}, "choice.limits = 'most_gold'"),
        ("choice.limits", {"least_yield": -1}, "choice.limits.least_yield"),
        ("choice.limits", {"least_yield": 1e12}, "least_yield = .*from 0 to 1e"),
        ("choice.limits", {"least_yield": True}, "choice.limits.least_yield"),
        ("choice.limits", {"least_yield": "3"}, "choice.limits.least_yield"),
        ("choice.limits", [], "choice.limits"),
        ("choice.weights", {"labour_per_area": 11}, "choice.weights.labour_per_area"),
        ("choice.weights", {"colour": 1}, "choice.weights = 'colour'"),
        ("choice.weights", dict.fromkeys(usual_weights(), 0), "choice.weights.*at least one above 0"),
        ("choice.draws", 10, "choice.draws"),
        ("choice.draws", 10**9, "choice.draws"),
        ("choice.draws", 512.5, "choice.draws"),
        ("choice.draws", True, "choice.draws"),
        ("page", None, "page"),
        ("page.colour", 1, "page.*colour"),
        ("page.view", "<script>", "page.view"),
        ("page.view", 1, "page.view"),
        ("page.language", "../../x", "page.language"),
        ("page.language", "e" * 90, "page.language"),
        ("own.prices", {"label": "x" * 300, "currency": "EUR", "missing": [], "table": ""}, "own.prices"),
        ("view.rate", float("nan"), "finite"),
        ("view.crop", "\ud800", "JSON"),
    ],
)  # fmt: skip
def test_load_bad_setting_is_named_and_changes_nothing(document, path, value, words):
    *way, last = path.split(".")
    here = document
    for name in way:
        here = here[name]
    here[last] = value
    state = BoardState()
    before = state.save()
    with pytest.raises(ScenarioFileError, match=words) as caught:
        state.load(json.dumps(document).encode(), "mine.json")
    assert str(caught.value).startswith("mine.json")
    assert state.save() == before


@pytest.mark.parametrize("path", ["choice", "page", "choice.draws", "choice.weights", "page.view"])
def test_load_missing_setting_is_named(document, path):
    *way, last = path.split(".")
    here = document
    for name in way:
        here = here[name]
    del here[last]
    with pytest.raises(ScenarioFileError, match=f"field {last} is missing"):
        read_board(json.dumps(document).encode(), "mine.json")


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from(sorted(choice_part(ChoiceSettings()))),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
        max_leaves=6,
    ),
)
def test_read_choice_any_damage_is_a_setting_or_one_kind_of_error(name, value):
    part = {**choice_part(ChoiceSettings()), name: value}
    read, refused = tried(read_choice, part, CHOSEN, {}, "choice")
    if refused:
        assert refused.startswith("choice")
    else:
        assert name in ("limits", "lacking", "weights", "rival", "draws")
        assert choice_part(read)[name] == value or name == "weights"


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40), st.text(max_size=40))
def test_read_page_any_text_is_a_page_or_one_kind_of_error(view, language):
    part = {"view": view, "language": language}
    read, refused = tried(read_page, part, "page")
    if refused:
        assert refused.startswith("page")
    else:
        assert page_part(read) == part


# -- one list of names ---------------------------------------------------------------------


def test_names_in_the_file_are_those_of_the_choice_view():
    assert tuple(LEANINGS) == LEANINGS_KEPT
    picks = {one["key"]: one for one in open_board(view="choice").choice.picks.fields}
    assert tuple(name for name, _ in picks["x"]["options"]) == AXES
    shared = [path for path, _ in SHARED_PATHS]
    for path in shared:
        other = next(one for one in shared if one != path)
        part = choice_part(ChoiceSettings(mapped=(path, other)))
        assert read_choice(part, CHOSEN, {}, "choice").mapped == (path, other)
    state = ChoiceState(BoardState())
    for path, _, _ in state.turning_paths():
        part = choice_part(ChoiceSettings(turning=path))
        assert read_choice(part, CHOSEN, {}, "choice").turning == path


# -- the schema ----------------------------------------------------------------------------


def test_board_schema_shipped_is_what_the_code_makes(tmp_path):
    assert board_schema() == build_board_schema()
    jsonschema.Draft202012Validator.check_schema(board_schema())
    write_board_schema(tmp_path / SCHEMA)
    assert json.loads((tmp_path / SCHEMA).read_text("utf-8")) == board_schema()


@pytest.mark.parametrize("crop", ["potato", "kale"])
def test_board_schema_takes_every_board_that_is_saved(crop):
    jsonschema.validate(json.loads(BoardState(crop=crop).save(told())), board_schema())


def test_load_names_what_only_the_schema_forbids():
    state = BoardState()
    state.load_prices(prices_file(), "prices.csv")
    document = json.loads(state.save())
    document["own"]["prices"]["label"] = "x" * 300
    with pytest.raises(ScenarioFileError, match=r"^mine.json: own\.prices: "):
        read_board(json.dumps(document).encode(), "mine.json")
