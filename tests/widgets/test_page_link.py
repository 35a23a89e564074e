"""The link and the store of a page, with a simulated page."""

from __future__ import annotations

import logging
import re

import pytest
from own_files import prices_file

from scenariokit.errors import ScenarioKitError
from scenariokit.language import language_as, use_language
from scenariokit.units import quantity
from scenariokit.widgets import open_board
from scenariokit.widgets.board_page import MOST_LEFT
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.page_link import PageLink
from scenariokit.widgets.page_store import PageStore

HERE = "http://127.0.0.1:8866/?token=secret"


def answers_of(widget, monkeypatch):
    """Return the list to which every message that `widget` sends is added."""
    sent = []
    monkeypatch.setattr(widget, "send", lambda content, buffers=None: sent.append(content))
    return sent


def say(widget, **content):
    """Do what a page does when it sends a message."""
    widget._handle_custom_msg(content, [])


def asked_for(page, base=HERE, own_page=True):
    """Return what the kernel answers to a press on the button."""
    sent = []
    page.link.send = sent.append
    say(page.link, kind="want", view="v", base=base, own_page=own_page)
    return sent[-1]


def payload_of(board):
    return asked_for(board.page)["address"].split("#board=")[1]


def arrive(board, payload="", language=""):
    say(board.page.link, kind="address", board=payload, language=language)


def words(board):
    return re.sub("<[^>]+>", "", board.status.value)


def area(board):
    return board.state.focused.tank.area.m_as("m^2")


def with_area(number):
    board = open_board()
    board.state.set_values({"tank.area": quantity(number, "m^2")})
    board.rebuild()
    return board


@pytest.fixture(autouse=True)
def english():
    use_language("en")
    yield
    use_language("en")


# -- the two widgets alone -----------------------------------------------------------------


def test_page_link_answers_the_view_that_asked(monkeypatch):
    link = PageLink(lambda base, own: (f"{base}!{own}", "So long."), lambda board, code: None)
    sent = answers_of(link, monkeypatch)
    say(link, kind="want", view="a", base="http://x.example/", own_page=False)
    assert sent == [
        {"view": "a", "kind": "link", "address": "http://x.example/!False", "text": "So long."}
    ]


def test_page_link_error_of_ours_is_said_and_a_fault_is_logged(monkeypatch, caplog):
    def make(base, own):
        raise ScenarioKitError("too long") if own else ZeroDivisionError

    link = PageLink(make, lambda board, code: None)
    sent = answers_of(link, monkeypatch)
    say(link, kind="want", view="a", base="x", own_page=True)
    with caplog.at_level(logging.ERROR):
        say(link, kind="want", view="a", base="x", own_page=False)
    assert [one["kind"] for one in sent] == ["refused", "refused"]
    assert sent[0]["text"] == "too long"
    assert "fault in this program" in sent[1]["text"]
    assert "ZeroDivisionError" in caplog.text


def test_page_link_hands_on_what_the_address_holds_and_nothing_else():
    got = []
    link = PageLink(lambda base, own: ("", ""), lambda *found: got.append(found))
    say(link, kind="address", board="1.a", language="es")
    say(link, kind="address")
    say(link, kind="other", board="1.b")
    assert got == [("1.a", "es"), ("", "")]


def test_page_store_asks_nothing_while_nobody_keeps(monkeypatch):
    store = PageStore(lambda: "text", lambda text: None)
    sent = answers_of(store, monkeypatch)
    store.touched()
    say(store, kind="keeping", view="a", on=True)
    say(store, kind="keeping", view="b", on=True)
    say(store, kind="keeping", view="a", on=False)
    assert store.keeping
    store.touched()
    say(store, kind="keeping", view="b", on=False)
    store.touched()
    assert sent == [{"kind": "touched"}]


def test_page_store_gives_its_content_and_opens_what_was_kept(monkeypatch):
    got = []
    store = PageStore(lambda: "text", got.append)
    sent = answers_of(store, monkeypatch)
    say(store, kind="want", view="a")
    say(store, kind="open", view="a", text="kept")
    assert sent == [
        {"view": "a", "kind": "content", "text": "text"},
        {"view": "a", "kind": "opened"},
    ]
    assert got == ["kept"]


def test_page_store_error_of_ours_is_said_and_a_fault_is_logged(monkeypatch, caplog):
    def refuse(text):
        raise ScenarioKitError("no board")

    store = PageStore(lambda: str(1 / 0), refuse)
    sent = answers_of(store, monkeypatch)
    say(store, kind="open", view="a", text="x")
    with caplog.at_level(logging.ERROR):
        say(store, kind="want", view="a")
    assert sent[0] == {"view": "a", "kind": "refused", "text": "no board"}
    assert sent[1]["kind"] == "refused"
    assert "ZeroDivisionError" in caplog.text


@pytest.mark.parametrize("kind", [PageLink, PageStore])
def test_page_has_every_word_that_its_code_uses(kind):
    code = kind.CODE.script_text
    used = set(re.findall(r'words\("(\w+)"', code))
    used |= {
        one for pair in re.findall(r'words\([^()]*\? "(\w+)" : "(\w+)"\)', code) for one in pair
    }
    if kind is PageLink:
        used |= {"here", "there"}
    assert used - {"lang"} == set(kind.WORDS)


# -- a link from one board to another ------------------------------------------------------


def test_board_link_opens_the_same_numbers_settings_and_view():
    board = with_area(6)
    board.choice.state.limits = {"least_yield": 3.0}
    board.choice.state.weights["labour_per_area"] = 9.0
    board.views.open_view("choice")
    other = open_board()
    arrive(other, payload_of(board))
    assert words(other) == "The board in the link is open."
    assert other.page.document() == board.page.document()
    assert other.views.open == "choice"
    assert other.choice.state.limits == {"least_yield": 3.0}
    assert other.choice.limits.values["least_yield"] == 3.0
    assert other.choice.weights.values["labour_per_area"] == 9.0
    assert other.common.values["tank.area"] == 6


def test_board_link_carries_no_token_and_says_how_long_it_is():
    answer = asked_for(open_board().page)
    assert "secret" not in answer["address"]
    assert f"It has {len(answer['address'])} characters" in answer["text"]


def test_board_link_to_a_session_of_ones_own_says_so():
    page = open_board().page
    session = asked_for(page, "https://hub.example/user/ada/voila/render/x.ipynb")
    assert "your own session" in session["text"]
    assert "your own session" not in asked_for(page)["text"]


def test_board_link_to_no_address_is_refused():
    answer = asked_for(open_board().page, "javascript:alert(1)", own_page=False)
    assert answer["kind"] == "refused"
    assert "no web address" in answer["text"]


def test_board_link_bad_one_is_said_and_the_board_stays():
    board = with_area(6)
    before = board.page.document()
    arrive(board, payload_of(with_area(9))[:-6])
    assert words(board) == "The link is incomplete: its end is missing. Copy the whole of it again."
    assert board.page.document() == before
    arrive(board, payload_of(with_area(9)))
    assert area(board) == 9


def test_board_link_same_address_again_changes_nothing():
    """A second view of the widget tells the address once more, after somebody worked on."""
    board = open_board()
    payload = payload_of(with_area(9))
    arrive(board, payload)
    board.state.set_values({"tank.area": quantity(3, "m^2")})
    arrive(board, payload)
    assert area(board) == 3


def test_board_link_back_and_forth_finds_each_board_as_it_was_left():
    board = open_board()
    arrive(board)
    board.state.set_values({"tank.area": quantity(3, "m^2")})
    one, two = payload_of(with_area(8)), payload_of(with_area(9))
    arrive(board, one)
    board.state.set_values({"tank.area": quantity(8.5, "m^2")})
    arrive(board, two)
    assert area(board) == 9
    arrive(board, one)
    assert area(board) == 8.5
    assert words(board) == "This is the board that you had here before."
    arrive(board)
    assert area(board) == 3
    arrive(board, two)
    assert area(board) == 9


def test_board_link_keeps_no_more_boards_than_it_may():
    board = open_board()
    for number in range(MOST_LEFT + 3):
        board.page._left[f"old {number}"] = "1.x"
    arrive(board, payload_of(with_area(8)))
    assert len(board.page._left) == MOST_LEFT


def test_board_link_language_of_the_sender_is_not_forced():
    with language_as("es"):
        payload = payload_of(open_board())
    board = open_board()
    arrive(board, payload)
    assert words(board) == "The board in the link is open."
    assert '"language": "en"' in board.page.document()


def test_board_address_asks_for_a_language_once(monkeypatch):
    board, got = open_board(), []
    monkeypatch.setattr(board, "set_language", got.append)
    arrive(board, "", "es")
    arrive(board, "", "es")
    arrive(board, "", "")
    arrive(board, payload_of(with_area(8)), "fr")
    assert got == ["es", "fr"]
    assert area(board) == 8


def test_board_address_unknown_language_is_said_and_the_board_opens_all_the_same():
    board = open_board()
    arrive(board, payload_of(with_area(8)), "xx<script>")
    assert area(board) == 8
    assert "there is no catalogue" in words(board)
    assert "<script>" not in board.status.value


# -- a kept board --------------------------------------------------------------------------


def test_board_store_keeps_and_opens_the_board(monkeypatch):
    board = with_area(7)
    sent = answers_of(board.page.store, monkeypatch)
    say(board.page.store, kind="want", view="a")
    other = open_board()
    say(other.page.store, kind="open", view="a", text=sent[-1]["text"])
    assert words(other) == "Your kept board is open."
    assert other.page.document() == board.page.document()


def test_board_store_is_touched_by_every_kind_of_change(monkeypatch):
    board = open_board(view="choice")
    sent = answers_of(board.page.store, monkeypatch)
    say(board.page.store, kind="keeping", view="a", on=True)

    def picker(label):
        return next(one for one in board.files.widgets if label in getattr(one, "label", ""))

    changes = (
        lambda: board.common.set_trait("values", {**board.common.values, "tank.area": 9.0}),
        lambda: board.toolbar.set_trait("values", {**board.toolbar.values, "crop": "kale"}),
        lambda: board.choice.weights.set_trait(
            "values", {**board.choice.weights.values, "labour_per_area": 1.0}
        ),
        lambda: picker("my prices")._handle_custom_msg(
            {"kind": "file", "name": "p.csv"}, [prices_file()]
        ),
        lambda: board.files._load_board("b.json", BoardState().save().encode()),
        board.files.widgets[-1].click,
    )
    for change in changes:
        before = len(sent)
        change()
        assert len(sent) > before


def test_board_store_damaged_content_is_said_and_changes_nothing(monkeypatch):
    board = with_area(7)
    before = board.page.document()
    sent = answers_of(board.page.store, monkeypatch)
    say(board.page.store, kind="open", view="a", text="1.AAAA")
    assert sent[-1]["kind"] == "refused"
    assert words(board) == sent[-1]["text"]
    assert words(board).startswith("The kept board is incomplete")
    assert board.page.document() == before


# -- files ---------------------------------------------------------------------------------


def test_board_file_keeps_the_view_and_the_choice():
    board = open_board(view="water")
    board.choice.state.limits = {"most_load": 80.0}
    saver = next(one for one in board.files.widgets if getattr(one, "filename", "") == "board.json")
    content = saver._make().encode()
    other = open_board()
    other.files._load_board("board.json", content)
    assert other.views.open == "water"
    assert other.choice.state.limits == {"most_load": 80.0}
    shown = {name: box.layout.display for name, box in other.views._boxes.items()}
    assert [name for name, display in shown.items() if display is None] == ["water"]
    assert "board.json is open" in words(other)


def test_board_file_view_that_this_program_lacks_leaves_the_open_one():
    board = open_board(view="water")
    text = board.page.document().replace('"view": "water"', '"view": "balloon_ride"')
    board.page.open_document(text.encode(), "board.json")
    assert board.views.open == "water"
