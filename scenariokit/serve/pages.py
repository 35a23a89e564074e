"""The page of a board: streamed, so that it can say how long the row is."""

from __future__ import annotations

import asyncio
import secrets
from contextlib import suppress
from typing import Any

from tornado.iostream import StreamClosedError

from scenariokit.language import language_as, tr
from scenariokit.serve.boards import BoardFailed, BoardFull, Boards, Ticket
from scenariokit.serve.guard import COOKIE_DAYS, Guarded, Refused, person_of
from scenariokit.serve.offers import Offer
from scenariokit.serve.plain_pages import plain_page
from scenariokit.serve.rendering import PageMaker

ASK_AGAIN_SECONDS = 20
TELL_SECONDS = 1.0
KEEP_ALIVE_SECONDS = 8


class PersonalPage(Guarded):
    """A page for somebody: lets in by token, and gives each browser a name."""

    admits_without_cookie = True

    def prepare(self) -> None:
        """Let in by cookie or token; put what the token gave into a cookie."""
        super().prepare()
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Cache-Control", "no-store")
        self.set_header("Vary", "Accept-Language, Cookie")
        self.person = person_of(self)
        given = self.request.query_arguments.get("token", [b""])[-1].decode("ascii", "replace")
        allowed = not self.admission.token or self.admission.is_token(given)
        if not self.person and allowed:
            self.person = secrets.token_urlsafe(16)
        elif not self.person or (given and not allowed):
            raise Refused(403, "token")
        self.set_signed_cookie(
            self.admission.cookie_name, self.person, expires_days=COOKIE_DAYS,
            httponly=True, samesite="Lax",
        )  # fmt: skip

    @property
    def boards(self) -> Boards:
        """All boards."""
        boards: Boards = self.settings["boards"]
        return boards

    def say_full(self, why: str) -> None:
        """Answer that nobody more is let in, with a page that asks again by itself."""
        self.set_status(503)
        self.set_header("Retry-After", str(ASK_AGAIN_SECONDS))
        with language_as(self.language):
            self.finish(full_page(why, self.boards.limits.people))


def full_page(why: str, people: int) -> str:
    """Return the page for one who finds no place, in the language in use."""
    again = tr("This page asks again by itself every {seconds} seconds.", seconds=ASK_AGAIN_SECONDS)
    if why == "stopping":
        return plain_page(
            tr("The server is stopping"), [tr("Nobody more is let in."), again], ASK_AGAIN_SECONDS
        )
    reason = tr(
        "This room takes {people} boards at one time, and all of them are in use.", people=people
    )
    if why == "memory":
        reason = tr("This computer has no memory left for one more board.")
    wait = tr(
        "Somebody has to close a board first. You may also look on together with your neighbour."
    )
    return plain_page(tr("The room is full"), [reason, wait, again], ASK_AGAIN_SECONDS)


class BoardPage(PersonalPage):
    """One page of one offer."""

    ticket: Ticket | None = None

    def initialize(self, offer: Offer, maker: PageMaker) -> None:
        """Take over what is shown."""
        self.offer = offer
        self.maker = maker

    async def get(self) -> None:
        """Send the head at once, the place in the row while waiting, then the board."""
        language = self.language
        try:
            self.ticket = ticket = await self.boards.ask(self.offer, self.person, language)
        except BoardFull as full:
            self.say_full(str(full))
            return
        try:
            self.write(self.maker.head(language))
            await self.flush()
            await self._wait(ticket)
            board = ticket.board.result()
        except (StreamClosedError, asyncio.CancelledError):
            self.boards.leave(ticket)
            return
        except (BoardFull, BoardFailed) as error:
            state = "stopping" if isinstance(error, BoardFull) else "failed"
            with suppress(StreamClosedError):  # whoever waited has gone; nobody is left to tell
                await self.finish(f'<script>scenariokitFrame.say("{state}")</script></body></html>')
            return
        self.ticket = None
        try:
            self.write(board.rest)
            board.rest = ""
            await self.finish()
        except StreamClosedError:
            await self.boards.end(board.kernel_id, "left")

    async def _wait(self, ticket: Ticket) -> None:
        """Wait for the board, and tell the place in the row whenever it has changed."""
        told, quiet = 0, 0.0
        while True:
            with suppress(TimeoutError):
                await asyncio.wait_for(asyncio.shield(ticket.board), TELL_SECONDS)
            if ticket.board.done():
                return
            place = self.boards.place(ticket)
            quiet += TELL_SECONDS
            if place != told or quiet >= KEEP_ALIVE_SECONDS:
                told, quiet = place, 0.0
                self.write(f"<script>scenariokitFrame.place({place})</script>\n")
                await self.flush()

    def on_connection_close(self) -> None:
        """Give the place up if the person has gone."""
        if self.ticket is not None and not self.ticket.board.done():
            self.ticket.board.cancel()


class KernelModel(Guarded):
    """Answers a page that asks whether its kernel is still there."""

    async def get(self, kernel_id: str) -> None:
        """Answer the owner; for anybody else there is no such kernel."""
        boards: Boards = self.settings["boards"]
        board = boards.given.get(kernel_id)
        kernels: Any = self.settings["kernel_manager"]
        known = board is not None and board.person == person_of(self)
        if not known or not await kernels.is_running(kernel_id):
            self.set_status(404)
            self.finish({"message": "no such kernel"})
            return
        self.finish({"id": kernel_id, "name": "python3", "execution_state": "idle"})


class Leave(Guarded):
    """Takes the goodbye of a page."""

    async def post(self, kernel_id: str) -> None:
        """End the board of a page that was closed or loaded anew."""
        boards: Boards = self.settings["boards"]
        board = boards.given.get(kernel_id)
        if board is not None and board.person == person_of(self):
            await boards.end(kernel_id, "left")
        self.set_status(204)


class Unheard(Guarded):
    """Takes what a page of Voila says before it is closed: that may yet be called off."""

    def post(self, _kernel_id: str) -> None:
        """Do nothing; the goodbye comes to `Leave`."""
        self.set_status(204)
