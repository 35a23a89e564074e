"""Looks after the boards of a server: which one died, grew too large or is not used."""

from __future__ import annotations

import asyncio
import logging
import time
from typing import Any

from scenariokit.serve.boards import Boards

log = logging.getLogger(__name__)
LOOK_SECONDS = 2.0
FIRST_SECONDS = 120.0
"""A page that was never seen, although its board was handed over, has failed by then."""


def resident_bytes(process: int) -> int:
    """Return the memory of a process that is in use; 0 if it has ended."""
    import psutil

    try:
        return int(psutil.Process(process).memory_info().rss)
    except psutil.NoSuchProcess:
        return 0


class Watch:
    """Looks at every board again and again.

    Parameters
    ----------
    boards : Boards
        The boards.
    kernels : RoomKernels
        Their kernels.
    """

    def __init__(self, boards: Boards, kernels: Any) -> None:
        self._boards = boards
        self._kernels = kernels

    async def run(self) -> None:
        """Look until cancelled."""
        while True:
            await asyncio.sleep(LOOK_SECONDS)
            try:
                await self.look()
            except Exception:  # the one guard: a fault in looking must not end the looking
                log.exception("looking after the boards")

    async def look(self) -> None:
        """Look once."""
        for kernel_id in list(self._boards.given):
            why = await self._why_end(kernel_id)
            if why:
                await self._boards.end(kernel_id, why)
        for boards in self._boards.ready.values():
            for board in list(boards):
                if not await self._kernels.is_running(board.kernel_id):
                    await self._boards.drop_ready(board.kernel_id)
        self._boards.go_on()

    async def _why_end(self, kernel_id: str) -> str:
        """Return why a board has to end, or an empty text."""
        board, limits = self._boards.given[kernel_id], self._boards.limits
        if not await self._kernels.is_running(kernel_id):
            return "died"
        if resident_bytes(self._kernels.process_of(kernel_id)) > limits.board_bytes:
            return "memory"
        now = time.monotonic()
        if not board.sockets:
            never_seen = board.away_since == board.used_at
            patience = (
                min(FIRST_SECONDS, limits.away_seconds) if never_seen else limits.away_seconds
            )
            return "away" if now - board.away_since > patience else ""
        return "idle" if now - board.used_at > limits.idle_seconds else ""
