"""Rooms that several tests use, and people who come into them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine, Iterator
from pathlib import Path
from typing import Any

import pytest
from room_client import TOKEN

from scenariokit.serve import BoardServer, RoomWish


@pytest.fixture(scope="session")
def room_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder for what the room puts down while it runs."""
    return tmp_path_factory.mktemp("room")


@pytest.fixture(scope="session")
def room(room_folder: Path) -> Iterator[BoardServer]:
    """A room without a token, whose kernels are forked."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TMPDIR", str(room_folder))
        with BoardServer(port=0, room=RoomWish(people=5, ready=1)) as server:
            yield server


@pytest.fixture(scope="session")
def locked_room() -> Iterator[BoardServer]:
    """A room with a token; no board is made in it."""
    wish = RoomWish(people=2, ready=0, token=TOKEN, forks=False)
    with BoardServer(port=0, room=wish) as server:
        yield server


@pytest.fixture
def run() -> Callable[[Coroutine[Any, Any, Any]], Any]:
    """Run a coroutine to its end."""
    return asyncio.run
