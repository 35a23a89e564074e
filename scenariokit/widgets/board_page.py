"""The board's page: a link to the board, the board that a link holds, the board kept in a browser."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from scenariokit.errors import ScenarioKitError
from scenariokit.language import LanguageError, language, tr
from scenariokit.widgets.board_address import in_own_session, link_address
from scenariokit.widgets.board_file_choice import BoardSettings, PageSettings
from scenariokit.widgets.board_link import MOST_IN_LINK, link_payload, read_link_payload
from scenariokit.widgets.page_link import PageLink
from scenariokit.widgets.page_store import PageStore

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

MOST_KEPT = 2_000_000
"""Characters kept in a browser, which takes about five million for all of an address."""
MOST_LEFT = 20
"""Boards to which the back button leads."""


class BoardPage:
    """Links and storage of one board.

    Parameters
    ----------
    board : Board
        Which.

    Attributes
    ----------
    widgets : list of Widget
        The controls, in their order.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.link = PageLink(self._make_link, self._arrived)
        self.store = PageStore(lambda: self._payload(MOST_KEPT), self._go_on)
        self.widgets: list[widgets.Widget] = [self.link, self.store]
        self._at = ""
        self._code = ""
        self._left: dict[str, str] = {}

    def touched(self) -> None:
        """Note that the board changed."""
        self.store.touched()

    # -- the whole board -------------------------------------------------------------

    def document(self) -> str:
        """Return the board as one JSON text, with how its page stands."""
        board = self.board
        page = PageSettings(board.views.open, language())
        return board.state.save(BoardSettings(board.choice_state.settings(), page))

    def open_document(self, content: bytes, name: str) -> None:
        """Take over a board that `document` wrote, and show it; its language is forced on nobody.

        Raises
        ------
        ScenarioFileError
            If it cannot be read whole; then nothing changes.
        """
        board = self.board
        settings = board.state.load(content, name)
        board.choice_state.take(settings.choice)
        if settings.page.view in board.views.views:
            with board.quietly():
                board.views.put(settings.page.view)
        board.rebuild()
        self.touched()

    def _payload(self, most: int) -> str:
        return link_payload(self.document(), most)

    # -- a link out ------------------------------------------------------------------

    def _make_link(self, base: str, own_page: bool) -> tuple[str, str]:
        """Return a link to the board as it stands, and what to say of it."""
        address = link_address(base, self._payload(MOST_IN_LINK), own_page=own_page)
        text = tr(
            "It has {length:,} characters and holds the whole board, with tables of your own: "
            "send it only to people who may see them.",
            length=len(address),
        )
        if in_own_session(base):
            more = tr(
                "This address leads into your own session on a hub. Others need the address that "
                "starts one: choose another address above."
            )
            text = f"{text} {more}"
        return address, text

    # -- a link in -------------------------------------------------------------------

    def _arrived(self, payload: str, code: str) -> None:
        """Follow the address of the page: to another language, another board, or one left before."""
        self.board.guarded(lambda _change: self._follow(payload, code))(None)

    def _follow(self, payload: str, code: str) -> None:
        unknown = self._speak(code)
        told = "" if payload == self._at else self._turn_to(payload)
        if told or unknown:
            lines = "".join(f"<p>{escape(line)}</p>" for line in (told, unknown) if line)
            self.board.say(lines, good=not unknown)

    def _speak(self, code: str) -> str:
        """Speak the language that the address newly asks for; return what is wrong with it."""
        if code == self._code:
            return ""
        self._code = code
        try:
            if code:
                self.board.set_language(code[:40])
        except LanguageError as error:
            return str(error)
        return ""

    def _turn_to(self, payload: str) -> str:
        """Open the board of an address, or the one that was left there; return what to say."""
        left = self._payload(MOST_KEPT)
        told = ""
        if payload in self._left:
            self._open(self._left[payload], tr("The board from before"), MOST_KEPT)
            told = tr("This is the board that you had here before.")
        elif payload:
            self._open(payload, tr("The link"), MOST_IN_LINK)
            told = tr("The board in the link is open.")
        self._left[self._at] = left
        for oldest in list(self._left)[:-MOST_LEFT]:
            del self._left[oldest]
        self._at = payload
        return told

    def _open(self, payload: str, name: str, most: int) -> None:
        text = read_link_payload(payload, name, most)
        self.open_document(text.encode("utf-8"), name)

    # -- a kept board ----------------------------------------------------------------

    def _go_on(self, payload: str) -> None:
        """Open the board that was kept in the browser."""
        try:
            self._open(payload, tr("The kept board"), MOST_KEPT)
        except ScenarioKitError as error:
            self.board.say(escape(str(error)))
            raise
        self.board.say(f"<p>{escape(tr('Your kept board is open.'))}</p>", good=True)
