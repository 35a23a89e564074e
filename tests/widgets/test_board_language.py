"""Another language on the board and the desks: every text changes, nothing else does."""

from __future__ import annotations

import gettext
import re

import ipywidgets as widgets
import pytest

from scenariokit.language import LanguageError, language, languages, texts, tr, use_language
from scenariokit.widgets.board import Board
from scenariokit.widgets.chart_view import ChartView, _specification
from scenariokit.widgets.field_panel import FieldPanel
from scenariokit.widgets.plan_desk import PlanDesk
from scenariokit.widgets.plan_state import PlanState
from scenariokit.widgets.trial_desk import TrialDesk
from scenariokit.widgets.worded import Worded

VIEWS = ("methods", "choice", "water", "feed")
PLACES = {"children", "layout", "style", "engine", "engine_key", "comm", "tabbable", "tooltip"}


class Marking(gettext.NullTranslations):
    """A language in which every text is its English one between two marks."""

    def gettext(self, message: str) -> str:
        return f"«{message}»"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return f"«{msgid1 if n == 1 else msgid2}»"


@pytest.fixture(autouse=True)
def marking(monkeypatch):
    found = Marking()
    monkeypatch.setattr(texts, "_catalogue", lambda _code: found)
    # Charts are kept by language, which here is not what it is elsewhere.
    _specification.cache_clear()
    yield
    _specification.cache_clear()
    use_language("en")


def every(root, *, hidden=True):
    """Return a widget and all below it, those out of sight too or not."""
    if not hidden and root.layout.display == "none":
        return []
    below = getattr(root, "children", ())
    return [root, *(one for child in below for one in every(child, hidden=hidden))]


def shown(root):
    """Return what a page knows of every widget in sight, in the order of the page."""
    return [
        {key: value for key, value in one.get_state().items()
         if key not in PLACES and not key.startswith("_")}
        for one in every(root, hidden=False)
    ]  # fmt: skip


def opened(board):
    """Return what each view of a board shows once it is looked at; end with the first one."""
    found = {}
    for view in (*VIEWS, VIEWS[0]):
        board.views.open_view(view)
        found[view] = shown(board.widget)
    return found


def used(board):
    """Move something in every view."""
    board.common.values = {**board.common.values, "feed.ec": 2.4}
    board.views.open_view("choice")
    board.choice.limits.values = {**board.choice.limits.values, "ticked": ["most_medium"]}
    board.choice.picks.values = {**board.choice.picks.values, "leaning": "cautious"}
    board.views.open_view("water")
    board.water.what_if.values = {**board.water.what_if.values, "day": 44}
    board.views.open_view("feed")
    board.nutrients.meter.values = {**board.nutrients.meter.values, "ec_now": 1.35}
    board.views.open_view("methods")


def panel_texts(root):
    """Return every label, topic, help and option of all panels."""
    found = []
    for panel in every(root, hidden=False):
        for field in panel.fields if isinstance(panel, FieldPanel) else ():
            options = [] if field["key"] == "language" else field.get("options", [])
            words = (field["label"], field["topic"], field["help"], *(one for _, one in options))
            found += [word for word in words if re.search("[a-z]{2}", word)]
    return found


def chart_texts(root):
    """Return the heading, description and titles of all charts."""
    found = []

    def titles(part):
        if isinstance(part, dict):
            for key, value in part.items():
                if key in ("title", "description") and isinstance(value, str):
                    found.append(value)
                titles(value)
        elif isinstance(part, list):
            for one in part:
                titles(one)

    for view in every(root, hidden=False):
        if isinstance(view, ChartView):
            found.append(view.heading)
            titles(view.spec)
    return [word for word in found if re.search("[a-z]{3}", word)]


def test_board_set_language_and_back_leaves_english_as_before():
    board = Board()
    used(board)
    before = opened(board)
    board.set_language("es")
    between = opened(board)
    board.set_language("en")
    after = opened(board)
    for view in VIEWS:
        assert between[view] != before[view]
        assert len(after[view]) == len(before[view])
        for one, other in zip(before[view], after[view], strict=True):
            assert other == one
    assert any("«" in text for one in between["methods"] for text in map(str, one.values()))


def test_board_set_language_changes_no_state_and_no_value():
    board = Board()
    used(board)
    opened(board)
    panels = [one for one in every(board.widget) if isinstance(one, FieldPanel)]

    def values():
        found = [dict(one.values) for one in panels]
        return [{key: one for key, one in row.items() if key != "language"} for row in found]

    saved, moved, choice = board.state.save(), values(), board.choice.state.settings()
    board.set_language("fr")
    opened(board)
    assert board.state.save() == saved
    assert board.choice.state.settings() == choice
    assert values() == moved


def test_board_language_picked_in_the_toolbar_is_used():
    board = Board()
    (field,) = [one for one in board.toolbar.fields if one["key"] == "language"]
    assert field["options"] == [[code, name, code] for code, name in languages().items()]
    assert board.toolbar.values["language"] == "en"
    board.toolbar.values = {**board.toolbar.values, "language": "pt"}
    assert language() == "pt"
    assert board.toolbar.values["language"] == "pt"
    labels = {one["key"]: one["label"] for one in board.toolbar.fields}
    assert labels["crop"] == "«Crop»"
    assert not board.status.value


def test_board_set_language_leaves_no_english_in_controls_and_charts():
    board = Board()
    board.set_language("es")
    for view in VIEWS:
        board.views.open_view(view)
        assert [word for word in panel_texts(board.widget) if "«" not in word] == []
        assert [word for word in chart_texts(board.widget) if "«" not in word] == []
    buttons = [one for one in every(board.widget) if isinstance(one, widgets.Button)]
    assert buttons
    assert all(one.description.startswith("«") for one in buttons)


def test_board_set_language_tells_the_page_in_words():
    board = Board()
    board.set_language("es_MX")
    worded = [one for one in every(board.widget) if isinstance(one, Worded)]
    assert len(worded) > 30
    for one in worded:
        assert one.words["lang"] == "es-MX"
        assert {key: tr(text) for key, text in one.WORDS.items()}.items() <= one.words.items()
    assert board.toolbar.page_of == "sk-board"
    assert board.toolbar.page_title == "«Which growing method, at your prices?»"
    assert board.toolbar.values["language"] == "es"


def test_board_set_language_without_a_catalogue_refuses_and_changes_nothing():
    board = Board()
    opened(board)
    before = opened(board)
    with pytest.raises(LanguageError, match="xx"):
        board.set_language("xx")
    assert language() == "en"
    assert opened(board) == before


@pytest.mark.parametrize("source", ["trial", "single", "pool"])
def test_trial_desk_set_language_and_back_leaves_english_as_before(source):
    desk = TrialDesk()
    desk.state.pick_source(source)
    desk.state.pick(control=desk.state.levels()[1])
    desk.rebuild()
    before, choices = shown(desk.widget), desk.state.choices
    desk.set_language("es")
    assert desk.state.choices.control == f"«{choices.control}»"
    own = {*desk.state.varieties(), *desk.state.studies()}
    assert {word for word in panel_texts(desk.widget) if "«" not in word} <= own
    assert [word for word in chart_texts(desk.widget) if "«" not in word] == []
    assert shown(desk.widget) != before
    desk.set_language("en")
    assert desk.state.choices == choices
    assert shown(desk.widget) == before


def test_plan_desk_set_language_and_back_leaves_english_as_before():
    desk = PlanDesk(PlanState(planting_date="2026-03-01"))
    desk.controls.values = {**desk.controls.values, "difference": 0.3}
    before, state = shown(desk.widget), desk.state
    desk.picks.values = {**desk.picks.values, "language": "fr"}
    assert language() == "fr"
    assert [word for word in panel_texts(desk.widget) if "«" not in word] == []
    assert [word for word in chart_texts(desk.widget) if "«" not in word] == []
    assert desk.state == state
    desk.picks.values = {**desk.picks.values, "language": "en"}
    assert desk.state == state
    assert shown(desk.widget) == before
