"""How many people fit."""

from __future__ import annotations

import pytest

from scenariokit.serve import limits
from scenariokit.serve.limits import MEGABYTE, RoomError, limits_for_room


def test_limits_for_room_follow_the_memory_of_the_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "free_bytes", lambda: 4700 * MEGABYTE)
    assert limits_for_room(None, None, forks=True).people == 40
    assert limits_for_room(None, None, forks=False).people == 21
    monkeypatch.setattr(limits, "free_bytes", lambda: 100 * MEGABYTE)
    tight = limits_for_room(None, None, forks=True)
    assert (tight.people, tight.ready) == (1, 1)
    monkeypatch.setattr(limits, "free_bytes", lambda: 10**12)
    assert limits_for_room(None, None, forks=True).people == limits.MOST_PEOPLE


@pytest.mark.parametrize(("people", "ready"), [(0, None), (501, None), (5, 6), (5, -1)])
def test_limits_for_room_senseless_numbers_are_refused(people: int, ready: int | None) -> None:
    with pytest.raises(RoomError, match="for example"):
        limits_for_room(people, ready, forks=True)
