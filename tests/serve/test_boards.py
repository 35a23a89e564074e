"""The row, the boards kept ready, and what happens when it is full."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

from scenariokit.serve.boards import BoardFailed, BoardFull, Boards
from scenariokit.serve.limits import MEGABYTE, Limits
from scenariokit.serve.offers import Offer

BOARD = Offer("board", "Board", "", Path("board.ipynb"))
TRIAL = Offer("trial", "Trial", "", Path("trial.ipynb"))


class Kernels:
    """Makes boards of nothing, when it is told to."""

    def __init__(self, slow: bool = False) -> None:
        self.made: list[str] = []
        self.spoken: list[str] = []
        self.ended: list[str] = []
        self.at_once = self.most_at_once = 0
        self.go = asyncio.Event()
        self.broken = False
        if not slow:
            self.go.set()

    async def make(self, offer: Offer, language: str) -> tuple[str, str]:
        self.at_once += 1
        self.most_at_once = max(self.most_at_once, self.at_once)
        await self.go.wait()
        await asyncio.sleep(0)
        self.at_once -= 1
        if self.broken:
            raise RuntimeError("no kernel today")
        self.spoken.append(language)
        self.made.append(f"{offer.name}-{len(self.made)}")
        return self.made[-1], "rest"

    async def end(self, kernel_id: str) -> None:
        self.ended.append(kernel_id)


class Ear:
    def __init__(self) -> None:
        self.heard: list[str] = []

    def tell(self, state: str) -> None:
        self.heard.append(state)


def boards_of(
    kernels: Kernels, free: int | list[int] = 10**10, refills: bool = True, **more: Any
) -> Boards:
    asked = {"people": 3, "ready": 0, "starts": 2, **more}

    def free_now() -> int:
        return free if isinstance(free, int) else free[-1]

    boards = Boards(kernels, Limits(**asked), (BOARD, TRIAL), refills, free_now)
    boards.begin()
    return boards


async def settle() -> None:
    for _ in range(20):
        await asyncio.sleep(0)


def test_ask_gives_each_person_a_board_of_their_own() -> None:
    async def go() -> None:
        boards = boards_of(Kernels())
        tickets = [await boards.ask(BOARD, name, "en") for name in ("ann", "bob")]
        given = [await ticket.board for ticket in tickets]
        assert given[0].kernel_id != given[1].kernel_id
        assert [board.person for board in given] == ["ann", "bob"]
        assert boards.people == 2

    asyncio.run(go())


def test_ask_while_boards_are_made_counts_the_row_and_starts_few_at_once() -> None:
    async def go() -> None:
        kernels = Kernels(slow=True)
        boards = boards_of(kernels, people=8)
        tickets = [await boards.ask(BOARD, str(number), "en") for number in range(6)]
        await settle()
        assert [boards.place(ticket) for ticket in tickets] == [1, 2, 3, 4, 5, 6]
        kernels.go.set()
        await asyncio.gather(*(ticket.board for ticket in tickets))
        assert kernels.most_at_once == 2
        assert [boards.place(ticket) for ticket in tickets] == [0] * 6
        assert len(kernels.made) == 6

    asyncio.run(go())


def test_ask_at_a_full_room_is_refused_and_a_free_place_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("scenariokit.serve.boards.PATIENCE_SECONDS", 0.2)

    async def go() -> None:
        boards = boards_of(Kernels(), people=1)
        first = await (await boards.ask(BOARD, "ann", "en")).board
        first.add("socket")
        with pytest.raises(BoardFull, match="people"):
            await boards.ask(BOARD, "bob", "en")
        await boards.end(first.kernel_id, "left")
        assert (await (await boards.ask(BOARD, "bob", "en")).board).person == "bob"

    asyncio.run(go())


def test_ask_by_one_who_loads_the_page_anew_takes_their_own_place_in_a_full_room() -> None:
    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels, people=1)
        first = await (await boards.ask(BOARD, "ann", "en")).board
        first.add("socket")
        first.drop("socket")
        again = await (await boards.ask(BOARD, "ann", "en")).board
        assert again is not first
        assert kernels.ended == [first.kernel_id]

    asyncio.run(go())


def test_ask_without_memory_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scenariokit.serve.boards.PATIENCE_SECONDS", 0.1)

    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels, free=500 * MEGABYTE, ready=1)
        await settle()
        assert kernels.made == []
        with pytest.raises(BoardFull, match="memory"):
            await boards.ask(BOARD, "ann", "en")

    asyncio.run(go())


def test_ready_boards_are_made_again_and_only_if_asked_for() -> None:
    async def go(refills: bool) -> int:
        kernels = Kernels()
        boards = boards_of(kernels, refills=refills, ready=1, people=8)
        await settle()
        assert len(boards.ready[BOARD]) == 1
        await boards.ask(BOARD, "ann", "en")
        await settle()
        return len(boards.ready[BOARD])

    assert asyncio.run(go(True)) == 1
    assert asyncio.run(go(False)) == 0


def test_ask_for_another_offer_in_a_crowded_room_ends_a_ready_board() -> None:
    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels, people=1, ready=1)
        await settle()
        given = await (await boards.ask(TRIAL, "ann", "en")).board
        assert given.offer is TRIAL
        await settle()
        assert kernels.ended == ["board-0"]

    asyncio.run(go())


def test_ready_board_is_given_to_whoever_reads_its_language_and_others_get_their_own() -> None:
    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels, ready=1, people=8)
        await settle()
        spanish = await (await boards.ask(BOARD, "eva", "es_MX")).board
        assert (spanish.language, spanish.kernel_id) == ("es_MX", "board-2")
        english = await (await boards.ask(BOARD, "ann", "en_US")).board
        assert (english.language, english.kernel_id) == ("en", "board-0")

    asyncio.run(go())


def test_boards_made_ahead_speak_what_was_asked_for_last() -> None:
    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels, ready=1, people=8)
        await settle()
        for name in ("ann", "eva", "ida"):
            await (await boards.ask(BOARD, name, "en" if name == "ann" else "pt_BR")).board
            await settle()
        assert kernels.spoken[0] == "en"
        assert [board.language for board in boards.ready[BOARD]] in (["en"], ["pt_BR"])
        await (await boards.ask(BOARD, "bob", "en")).board
        await settle()
        assert kernels.spoken[-1] == "en"

    asyncio.run(go())


def test_ask_without_memory_for_a_board_of_ones_own_language_gets_one_that_is_ready() -> None:
    async def go() -> None:
        kernels, free = Kernels(), [10**10]
        boards = boards_of(kernels, free=free, ready=1, people=8)
        await settle()
        free.append(500 * MEGABYTE)
        board = await (await boards.ask(BOARD, "eva", "es")).board
        assert board.language == "en"

    asyncio.run(go())


def test_ask_for_another_language_in_a_crowded_room_ends_a_ready_board() -> None:
    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels, people=1, ready=1)
        await settle()
        given = await (await boards.ask(BOARD, "eva", "es")).board
        await settle()
        assert (given.language, kernels.ended) == ("es", ["board-0"])

    asyncio.run(go())


def test_make_that_fails_again_and_again_tells_the_row() -> None:
    async def go() -> None:
        kernels = Kernels()
        kernels.broken = True
        boards = boards_of(kernels)
        ticket = await boards.ask(BOARD, "ann", "en")
        with pytest.raises(BoardFailed):
            await ticket.board
        assert boards.people == 0
        kernels.broken = False
        assert await (await boards.ask(BOARD, "ann", "en")).board

    asyncio.run(go())


def test_boards_are_made_ahead_again_once_one_has_come_off() -> None:
    async def go() -> None:
        kernels = Kernels()
        kernels.broken = True
        boards = boards_of(kernels, ready=1)
        await settle()
        kernels.broken = False
        await settle()
        assert kernels.made == []
        await (await boards.ask(BOARD, "ann", "en")).board
        await settle()
        assert len(boards.ready[BOARD]) == 1

    asyncio.run(go())


def test_leave_the_row_gives_the_place_to_the_next() -> None:
    async def go() -> None:
        kernels = Kernels(slow=True)
        boards = boards_of(kernels)
        first, second = [await boards.ask(BOARD, name, "en") for name in ("ann", "bob")]
        boards.leave(first)
        assert boards.place(second) == 1
        kernels.go.set()
        assert (await second.board).person == "bob"
        assert boards.people == 1

    asyncio.run(go())


def test_end_tells_the_page_why_and_remembers_it() -> None:
    async def go() -> None:
        boards = boards_of(Kernels())
        board = await (await boards.ask(BOARD, "ann", "en")).board
        ear = Ear()
        board.ears.add(ear)
        assert boards.state_of(board.kernel_id) == "running"
        await boards.end(board.kernel_id, "memory")
        assert ear.heard == ["memory"]
        assert boards.state_of(board.kernel_id) == "memory"
        assert boards.state_of("of another server") == "back"

    asyncio.run(go())


def test_refuse_more_tells_pages_and_the_row() -> None:
    async def go() -> None:
        kernels = Kernels()
        boards = boards_of(kernels)
        board = await (await boards.ask(BOARD, "ann", "en")).board
        ear = Ear()
        board.ears.add(ear)
        kernels.go.clear()
        waiting = await boards.ask(BOARD, "bob", "en")
        assert boards.refuse_more() == 1
        assert ear.heard == ["stopping"]
        with pytest.raises(BoardFull):
            await waiting.board
        with pytest.raises(BoardFull, match="stopping"):
            await boards.ask(BOARD, "cid", "en")
        await boards.close()
        assert len(kernels.made) == 1

    asyncio.run(go())
