"""How many people a room takes, and what each may use."""

from __future__ import annotations

import os
from dataclasses import dataclass

from scenariokit.errors import ScenarioKitError

MEGABYTE = 1_000_000
KEPT_FREE_MB = 700
"""Memory that is left to the rest of the computer (our choice)."""
BOARD_MB = 100
"""What one more board takes where kernels are forked (measured: about 70 to 90)."""
ALONE_MB = 190
"""What one more board takes where each kernel is started by itself (measured: about 165)."""
MOST_MB = 800
"""No single board may take more (our choice; about five times what one takes at rest)."""
MOST_PEOPLE = 60
"""More than this is not tried by default on one computer (our choice)."""
MINUTE = 60.0


class RoomError(ScenarioKitError, ValueError):
    """A room cannot be set up as asked."""


@dataclass(frozen=True)
class Limits:
    """What a server allows.

    Parameters
    ----------
    people : int
        Boards at one time.
    ready : int
        Boards kept ready for those who come next.
    starts : int
        Boards that are made at the same time.
    board_bytes : int
        Resident memory at which a board is ended.
    kept_free_bytes, expected_bytes : int
        Memory that must stay free on the computer, and what one more board is
        expected to take; without that nobody else is let in.
    away_seconds : float
        A board whose page is out of reach for so long is ended.
    contested_seconds : float
        The same where the room is full and somebody waits.
    idle_seconds : float
        A board whose page is there, but not used, is ended after this time.
    farewell_seconds : float
        How long pages have for saving once the server is told to stop.
    """

    people: int
    ready: int
    starts: int
    board_bytes: int = MOST_MB * MEGABYTE
    kept_free_bytes: int = KEPT_FREE_MB * MEGABYTE
    expected_bytes: int = BOARD_MB * MEGABYTE
    away_seconds: float = 15 * MINUTE
    contested_seconds: float = 1 * MINUTE
    idle_seconds: float = 180 * MINUTE
    farewell_seconds: float = 10.0


def free_bytes() -> int:
    """Return how much memory this computer could still give."""
    import psutil

    return int(psutil.virtual_memory().available)


def people_for(free: int, each: int) -> int:
    """Return how many boards of `each` bytes fit into `free` bytes.

    Examples
    --------
    >>> people_for(5_000_000_000, 100_000_000)
    43
    """
    return max(1, min(MOST_PEOPLE, (free - KEPT_FREE_MB * MEGABYTE) // each))


def limits_for_one() -> Limits:
    """Return the limits of a server for the person at this computer."""
    return Limits(
        people=12, ready=1, starts=2, expected_bytes=ALONE_MB * MEGABYTE, farewell_seconds=0.5,
        idle_seconds=24 * 60 * MINUTE,
    )  # fmt: skip


def limits_for_room(people: int | None, ready: int | None, forks: bool) -> Limits:
    """Return the limits of a room, worked out from this computer where nothing is asked.

    Parameters
    ----------
    people, ready : int, optional
        Boards at one time, and boards kept ready.
    forks : bool
        Whether kernels are forked from a warm process.

    Raises
    ------
    RoomError
        If a number asked for makes no sense.
    """
    each = (BOARD_MB if forks else ALONE_MB) * MEGABYTE
    most = people_for(free_bytes(), each) if people is None else people
    if not 1 <= most <= 500:
        raise RoomError(f"people = {most}: from 1 to 500 can be let in, for example 40")
    kept = min(most, 6 if forks else 3) if ready is None else ready
    if not 0 <= kept <= most:
        raise RoomError(f"ready = {kept}: from 0 to the number of people ({most}), for example 6")
    cores = os.cpu_count() or 1
    return Limits(people=most, ready=kept, starts=max(1, min(4, cores)), expected_bytes=each)
