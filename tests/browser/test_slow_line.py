"""The board over a line of 1 Mbit/s: how much is sent, and how soon something is to be seen."""

from __future__ import annotations

import asyncio
import threading
import time
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import pytest
from open_page import give_up

pytestmark = pytest.mark.browser

BYTES_PER_SECOND = 1_000_000 / 8
LATENCY_SECONDS = 0.075
"""In each direction: 150 ms for a question and its answer."""
MOST_BYTES = 2_000_000
PIECE = 4096
PATIENCE_MS = 180_000
DRAWN = "figure.sk-figure[data-updates]"


@dataclass
class SlowLine:
    """A line to a server: every connection shares its width, as on a telephone.

    The browser's own emulation counts what comes through a socket after it was
    unpacked; here it is bytes on the wire that are slowed down and counted.
    """

    port: int
    received: int = 0
    sent: int = 0
    address: int = 0
    width: float = BYTES_PER_SECOND
    free_at: float = 0.0
    ready: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        """Carry connections until the process ends."""
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        server = await asyncio.start_server(self._connection, "127.0.0.1", 0)
        self.address = server.sockets[0].getsockname()[1]
        self.ready.set()
        await server.serve_forever()

    async def _connection(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self.port)
        await asyncio.gather(
            self._carry(reader, far_writer, True), self._carry(far_reader, writer, False)
        )

    async def _carry(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, up: bool
    ) -> None:
        """Pass bytes on, each after its time on the line."""
        waiting: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue(maxsize=256)
        passing = asyncio.create_task(self._deliver(waiting, writer))
        try:
            while data := await reader.read(PIECE):
                now = time.monotonic()
                if up:
                    self.sent += len(data)
                    due = now
                else:
                    self.received += len(data)
                    self.free_at = due = max(now, self.free_at) + len(data) / self.width
                    await asyncio.sleep(max(0.0, due - now))
                await waiting.put((due + LATENCY_SECONDS, data))
        except ConnectionError:
            pass  # the browser has left; the other end is closed below
        await waiting.put((0.0, b""))
        await passing

    async def _deliver(
        self, waiting: asyncio.Queue[tuple[float, bytes]], writer: asyncio.StreamWriter
    ) -> None:
        try:
            while True:
                due, data = await waiting.get()
                if not data:
                    break
                await asyncio.sleep(max(0.0, due - time.monotonic()))
                writer.write(data)
                await writer.drain()
        finally:
            writer.close()


@pytest.fixture
def line(served: Any) -> SlowLine:
    """A slow line to the board, whose first kernel has been started before."""
    made = SlowLine(urlsplit(served(None)).port or 0)
    threading.Thread(target=made.run, daemon=True).start()
    if not made.ready.wait(10):
        give_up("the slow line could not be laid")
    return made


def test_board_over_a_slow_line_is_under_two_megabytes_and_soon_usable(
    chromium: Any, line: SlowLine
) -> None:
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(PATIENCE_MS)
    try:
        page = context.new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        board = f"http://127.0.0.1:{line.address}/board"
        begun = time.monotonic()
        page.goto(board, wait_until="commit", timeout=PATIENCE_MS)
        page.wait_for_function("document.getElementById('loading_text')?.textContent.length > 0")
        told = time.monotonic() - begun
        page.wait_for_selector(DRAWN)
        drawn, first = time.monotonic() - begun, line.received
        print(
            f"\nwords after {told:.1f} s; chart after {drawn:.1f} s; {first / 1e6:.3f} MB received"
        )
        assert first < MOST_BYTES
        # Nearly all of the time is the line's: what is sent is not sent one after the other.
        assert drawn < 2.5 * first / BYTES_PER_SECOND + 30

        slider = page.locator("[id='sk-common-prices-labour_price-slider']")
        before = page.locator(".sk-says").first.inner_text()
        at, begun = line.received, time.monotonic()
        slider.press("End")
        page.wait_for_function(
            "before => document.querySelector('.sk-says').innerText !== before", arg=before
        )
        answered = time.monotonic() - begun
        print(f"a slider answered after {answered:.1f} s with {(line.received - at) / 1e3:.0f} kB")
        assert line.received - at < 100_000

        again = line.received
        page.goto(board, wait_until="commit", timeout=PATIENCE_MS)
        page.wait_for_selector(DRAWN)
        second = line.received - again
        print(f"a second visit: {second / 1e6:.3f} MB")
        assert second < 0.3 * first
        assert errors == []
    finally:
        context.close()
