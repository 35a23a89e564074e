"""The boards of a server: made ahead, handed out in turn, ended when they are not needed."""

from __future__ import annotations

import asyncio
import logging
import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Protocol

from scenariokit.language import written_alike
from scenariokit.serve.limits import Limits, free_bytes
from scenariokit.serve.offers import Offer

log = logging.getLogger(__name__)
TRIES = 3
REMEMBERED = 500
"""Of how many ended boards it is kept why they ended."""
PATIENCE_SECONDS = 2.0
"""How long somebody waits at a full room: a page that is loaded again gives its board back late."""


class BoardFull(Exception):  # noqa: N818 - not an error of a program
    """Nobody more is let in; says for which reason: people, memory or stopping."""


class BoardFailed(Exception):  # noqa: N818
    """A board could not be made."""


class Told(Protocol):
    """A page's ear for what happens to its board."""

    def tell(self, state: str) -> None:
        """Say it."""


class Maker(Protocol):
    """What starts a kernel and makes its page, and ends it."""

    async def make(self, offer: Offer, language: str) -> tuple[str, str]:
        """Return the id of a kernel and the rest of its page."""

    async def end(self, kernel_id: str) -> None:
        """End a kernel."""


@dataclass(eq=False)
class Board:
    """One kernel and what was shown by it."""

    kernel_id: str
    offer: Offer
    language: str
    rest: str
    person: str = ""
    sockets: set[Any] = field(default_factory=set)
    ears: set[Told] = field(default_factory=set)
    used_at: float = 0.0
    away_since: float = 0.0

    def use(self) -> None:
        """Note that the page has just said something."""
        self.used_at = time.monotonic()

    def add(self, socket: Any) -> None:
        """Note that a page is there."""
        self.sockets.add(socket)
        self.use()

    def drop(self, socket: Any) -> None:
        """Note that a page has gone."""
        self.sockets.discard(socket)
        if not self.sockets:
            self.away_since = time.monotonic()


@dataclass(eq=False)
class Ticket:
    """A place in the row."""

    offer: Offer
    person: str
    language: str
    board: asyncio.Future[Board]

    def suited_by(self, offer: Offer, language: str) -> bool:
        """Return whether a board is what is waited for, in a language that reads as the wished."""
        return self.offer is offer and written_alike(self.language, language)


class Boards:
    """All boards.

    Parameters
    ----------
    maker : Maker
        Starts and ends kernels.
    limits : Limits
        What is allowed.
    offers : sequence of Offer
        What can be had; the first one is kept ready in numbers.
    refills : bool
        Whether boards are made ahead again once those of the beginning are gone.
    free : callable
        Returns how much memory is free, in bytes.
    language : str
        What the first boards are made in; later ones are made ahead in what
        was asked for last, since the next person of a room mostly speaks it too.
    """

    def __init__(
        self,
        maker: Maker,
        limits: Limits,
        offers: Iterable[Offer],
        refills: bool = True,
        free: Callable[[], int] = free_bytes,
        language: str = "en",
    ) -> None:
        self.limits = limits
        self.stopping = False
        self._begun = False
        self.given: dict[str, Board] = {}
        self.ended: dict[str, str] = {}
        self._maker = maker
        self._free = free
        self._refills = refills
        self._wanted = {offer: min(limits.ready, 1) for offer in offers}
        first = next(iter(self._wanted))
        self._wanted[first] = limits.ready
        self._languages = dict.fromkeys(self._wanted, language)
        self._resting: set[Offer] = set()
        self.ready: dict[Offer, deque[Board]] = {offer: deque() for offer in self._wanted}
        self._row: deque[Ticket] = deque()
        self._making: list[tuple[Offer, str]] = []
        self._failures = dict.fromkeys(self._wanted, 0)
        self._tasks: set[asyncio.Task[None]] = set()

    # -- how full it is ----------------------------------------------------------------

    @property
    def people(self) -> int:
        """How many boards are given out or waited for."""
        return len(self.given) + len(self._row)

    @property
    def kernels(self) -> int:
        """How many kernels there are, those in the making included."""
        ready = sum(len(boards) for boards in self.ready.values())
        return len(self.given) + ready + len(self._making)

    def has_memory(self, more: int = 1) -> bool:
        """Return whether the computer can bear so many more boards."""
        each = self.limits.expected_bytes
        return self._free() - more * each >= self.limits.kept_free_bytes

    def why_full(self, offer: Offer | None = None) -> str:
        """Return why nobody more is let in, or an empty text."""
        if self.stopping:
            return "stopping"
        if self.people >= self.limits.people:
            return "people"
        if not (offer and self.ready[offer]) and not self.has_memory(1 + len(self._row)):
            return "memory"
        return ""

    # -- the row -----------------------------------------------------------------------

    async def ask(self, offer: Offer, person: str, language: str) -> Ticket:
        """Return a place in the row.

        Raises
        ------
        BoardFull
            If nobody more is let in.
        """
        end = time.monotonic() + PATIENCE_SECONDS
        while why := self.why_full(offer):
            if why == "people":
                await self._make_room(person)
            if self.why_full(offer) and (why == "stopping" or time.monotonic() > end):
                raise BoardFull(why)
            await asyncio.sleep(0.1)
        ticket = Ticket(offer, person, language, asyncio.get_running_loop().create_future())
        self._languages[offer] = language
        self._row.append(ticket)
        self.go_on()
        return ticket

    async def _make_room(self, person: str) -> None:
        """End the board that can best be spared, if one can: this person's own, or one long away."""
        now = time.monotonic()
        away = sorted(
            (board for board in self.given.values() if not board.sockets and board.away_since),
            key=lambda board: (board.person != person, board.away_since),
        )
        for board in away[:1]:
            if board.person == person or now - board.away_since > self.limits.contested_seconds:
                await self.end(board.kernel_id, "away")

    def place(self, ticket: Ticket) -> int:
        """Return the place in the row, counted from 1; 0 for one who waits no more."""
        return self._row.index(ticket) + 1 if ticket in self._row else 0

    def leave(self, ticket: Ticket) -> None:
        """Give a place in the row up; a board already handed over goes to the next one."""
        if ticket in self._row:
            self._row.remove(ticket)
        elif ticket.board.done() and not ticket.board.cancelled() and not ticket.board.exception():
            board = ticket.board.result()
            if self.given.pop(board.kernel_id, None):
                board.person = ""
                self.ready[board.offer].append(board)
        self.go_on()

    def begin(self) -> None:
        """Make boards from now on; until then those who come wait in the row."""
        self._begun = True
        self.go_on()

    def go_on(self) -> None:
        """Hand out what is ready and make what is missing."""
        for ticket in list(self._row):
            if board := self._fitting(ticket):
                self.ready[ticket.offer].remove(board)
                self._hand_over(ticket, board)
        while self._begun and len(self._making) < self.limits.starts:
            if self.stopping:
                return
            wanted = self._next_wanted()
            if wanted is None:
                return
            self._making.append(wanted)
            self._keep(asyncio.ensure_future(self._make(*wanted)))

    def _fitting(self, ticket: Ticket) -> Board | None:
        """Return a ready board for somebody, if there is one.

        Where no memory is left for another one, a board in another language is
        better than none: its language can be chosen on the page.
        """
        ready = self.ready[ticket.offer]
        suited = next(
            (board for board in ready if ticket.suited_by(board.offer, board.language)), None
        )
        if suited is None and ready and not self.has_memory():
            return ready[0]
        return suited

    def _hand_over(self, ticket: Ticket, board: Board) -> None:
        self._row.remove(ticket)
        board.person = ticket.person
        board.use()
        board.away_since = board.used_at  # until its page says that it is there
        self.given[board.kernel_id] = board
        if not ticket.board.done():
            ticket.board.set_result(board)

    def _next_wanted(self) -> tuple[Offer, str] | None:
        """Return what to make next, and in which language."""
        if not self.has_memory(1 + len(self._making)):
            return None
        coming = list(self._making)
        for ticket in self._row:
            fit = next((one for one in coming if ticket.suited_by(*one)), None)
            if fit:
                coming.remove(fit)
            elif self.kernels < self.limits.people or self._spare_ready():
                return ticket.offer, ticket.language
            else:
                return None
        for offer, number in self._wanted.items():
            there = len(self.ready[offer]) + sum(one is offer for one, _ in self._making)
            if there < number and offer not in self._resting and self.kernels < self.limits.people:
                return offer, self._languages[offer]
        return None

    def _spare_ready(self) -> bool:
        """End a ready board that nobody in the row can be given, so that another may be made."""
        for boards in self.ready.values():
            if boards:
                self._keep(asyncio.ensure_future(self._maker.end(boards.pop().kernel_id)))
                return True
        return False

    async def _make(self, offer: Offer, language: str) -> None:
        """Make one board and hand it to whoever comes first."""
        try:
            kernel_id, rest = await self._maker.make(offer, language)
        except Exception:  # the one guard around what a notebook and a kernel may do
            log.exception("making %s", offer.name)
            self._failures[offer] += 1
            if self._failures[offer] >= TRIES:
                self._give_up(offer)
        else:
            self._failures[offer] = 0
            if self.stopping:
                await self._maker.end(kernel_id)
            else:
                self._resting.discard(offer)
                self.ready[offer].append(Board(kernel_id, offer, language, rest))
                if not self._refills:
                    self._wanted[offer] = max(0, self._wanted[offer] - 1)
        finally:
            self._making.remove((offer, language))
            self.go_on()

    def _give_up(self, offer: Offer) -> None:
        """Tell everybody in the row that it cannot be had; make none ahead until one comes off."""
        self._failures[offer] = 0
        self._resting.add(offer)
        for ticket in [one for one in self._row if one.offer is offer]:
            self._row.remove(ticket)
            if not ticket.board.done():
                ticket.board.set_exception(BoardFailed(offer.name))

    def _keep(self, task: asyncio.Future[Any]) -> None:
        """Hold on to a task until it is done."""
        self._tasks.add(task)  # type: ignore[arg-type]
        task.add_done_callback(self._tasks.discard)

    # -- the end -----------------------------------------------------------------------

    async def close(self) -> None:
        """Make and end nothing more; what is under way is called off and waited for."""
        self.stopping = True
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def end(self, kernel_id: str, why: str) -> None:
        """End a board and tell its page why."""
        board = self.given.pop(kernel_id, None)
        if board is None:
            return
        self.ended[kernel_id] = why
        while len(self.ended) > REMEMBERED:
            self.ended.pop(next(iter(self.ended)))
        for ear in list(board.ears):
            ear.tell(why)
        await self._maker.end(kernel_id)
        self.go_on()

    async def drop_ready(self, kernel_id: str) -> None:
        """Put a ready board away that is of no use any more."""
        for boards in self.ready.values():
            for board in [one for one in boards if one.kernel_id == kernel_id]:
                boards.remove(board)
        await self._maker.end(kernel_id)
        self.go_on()

    def state_of(self, kernel_id: str) -> str:
        """Return what became of a board, for its page."""
        if kernel_id in self.given:
            return "stopping" if self.stopping else "running"
        return self.ended.get(kernel_id, "back")

    def refuse_more(self) -> int:
        """Let nobody in from now on and tell every page; return how many pages listen."""
        self.stopping = True
        listening = 0
        for board in self.given.values():
            for ear in list(board.ears):
                ear.tell("stopping")
                listening += 1
        for ticket in list(self._row):
            self._row.remove(ticket)
            if not ticket.board.done():
                ticket.board.set_exception(BoardFull("stopping"))
        return listening
