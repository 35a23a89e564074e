"""What can go wrong in a room, as a person at the page meets it: it is said, and nothing is lost."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from open_page import TOKEN, OpenPage, watch

pytestmark = pytest.mark.browser

PATIENCE_MS = 120_000
AREA = "[id='sk-common-tank-area']"
SLIDER = "[id='sk-common-prices-labour_price-slider']"
TRADEOFF = ".sk-view-methods > .sk-charts > :nth-child(1)"
BAR = "#scenariokit-status:not([hidden])"
OFFER = ".sk-store-offer"
KEPT = "scenariokit.board.1"
NOTE_SOCKETS = """
  window.noted = [];
  const Plain = window.WebSocket;
  window.WebSocket = class extends Plain {
    constructor(...given) { super(...given); window.noted.push(this); }
  };
"""


@dataclass
class Line:
    """A line to a server that can be cut and mended, as when a device leaves its network."""

    port: int
    whole: bool = True
    silent: bool = False
    _ends: list[socket.socket] = field(default_factory=list)
    _held: list[socket.socket] = field(default_factory=list)
    _door: socket.socket = field(default_factory=lambda: socket.create_server(("127.0.0.1", 0)))

    def __post_init__(self) -> None:
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def address(self) -> str:
        """Where the near end is."""
        return f"http://127.0.0.1:{self._door.getsockname()[1]}/"

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:  # closed at the end of the test
                return
            if not self.whole:
                near.close()
                continue
            if self.silent:  # it is neither answered nor refused
                self._held.append(near)
                continue
            far = socket.create_connection(("127.0.0.1", self.port))
            self._ends += [near, far]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):  # cut, or one side has left
            while data := one.recv(65536):
                if not self.silent:
                    other.sendall(data)
        with suppress(OSError):
            other.shutdown(socket.SHUT_RDWR)  # the thread of the other direction then ends, too
        one.close()

    def cut(self) -> None:
        """Drop every connection and take no new one."""
        self.whole = False
        for end in self._ends:
            with suppress(OSError):  # it may have closed by itself
                end.shutdown(socket.SHUT_RDWR)
        self._ends.clear()
        while self._held:
            self._held.pop().close()

    def mend(self) -> None:
        """Take connections again; those of before are of no use any more."""
        self.cut()
        self.whole, self.silent = True, False

    def close(self) -> None:
        """End."""
        self.cut()
        self._door.shutdown(socket.SHUT_RDWR)  # closing alone would leave the thread waiting
        self._door.close()


@dataclass
class Disk:
    """A tiny disk that can be filled up."""

    folder: Path

    def fill(self) -> None:
        """Leave no byte."""
        with (self.folder / "full").open("wb", buffering=0) as file, suppress(OSError):
            for size in (65536, 1):
                while file.write(b"x" * size) == size:
                    continue
        assert shutil.disk_usage(self.folder).free == 0

    def empty(self) -> None:
        """Make room again."""
        (self.folder / "full").unlink()


@pytest.fixture
def tiny_disk(tmp_path: Path) -> Iterator[Disk]:
    """A disk of 1 MB."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        pytest.skip("mounting a tiny disk takes Linux and its root")
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip(f"a tiny disk cannot be mounted here: {done.stderr.strip()}")
    try:
        yield Disk(folder)
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def ready(page: Any) -> None:
    """Wait until the first chart is drawn and the controls are there."""
    page.wait_for_selector(f"{TRADEOFF} figure[data-updates]")
    page.wait_for_selector(AREA)
    page.wait_for_selector(SLIDER)


def move_slider(opened: OpenPage, key: str = "ArrowRight") -> None:
    """Move a slider by keyboard and wait for the chart that follows from it."""
    opened.after_update(TRADEOFF, lambda: opened.page.locator(SLIDER).press(key))


def catch_up(opened: OpenPage, drawn: int) -> None:
    """Wait until the line is back, and the chart is newer than it was after `drawn` updates."""
    begun = time.monotonic()
    opened.page.wait_for_selector(BAR, state="detached")
    print(f"\nback after {time.monotonic() - begun:.1f} s")
    opened.wait_for_update(TRADEOFF, drawn)


def keep(opened: OpenPage, area: int) -> None:
    """Enter an area, tick that the board be kept, and wait until it is."""
    page = opened.page
    page.locator(AREA).fill(str(area))
    page.locator(AREA).press("Enter")
    move_slider(opened)  # the kernel answers in turn: once this is drawn, it has the area
    page.get_by_role("checkbox", name="Keep this board in this browser").check()
    page.wait_for_function("key => localStorage.getItem(key) !== null", arg=KEPT)


def go_on_with_kept(page: Any, area: int) -> None:
    """Accept the offer of the kept board and wait until it is there."""
    page.locator(OFFER).wait_for(state="visible")
    assert "Go on with your board from" in page.locator(OFFER).inner_text()
    page.get_by_role("button", name="Go on").click()
    page.wait_for_function(
        "([where, area]) => document.querySelector(where)?.value === area", arg=[AREA, str(area)]
    )


def load_again(page: Any) -> None:
    """Press the button of the bar and wait for the new board."""
    page.get_by_role("button", name="Load the page again").click()
    page.wait_for_function("() => !document.querySelector('#scenariokit-status:not([hidden])')")
    ready(page)


def kernel_id(page: Any) -> str:
    """Return the id of the kernel of a page."""
    return str(
        page.evaluate(
            "JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId"
        )
    )


def kernels_of(process: int) -> list[int]:
    """Return the processes of the forked kernels of a server."""

    def below(parent: int) -> list[int]:
        listed = Path(f"/proc/{parent}/task/{parent}/children")
        return [int(one) for one in listed.read_text().split()] if listed.exists() else []

    return [kernel for child in below(process) for kernel in below(child)]


def bar(page: Any, state: str) -> str:
    """Wait until the bar tells of a state; return its words."""
    page.wait_for_selector(f"{BAR}[data-state={state}]")
    return str(page.inner_text(BAR))


# -- the kernel, the line, the server --------------------------------------------------------


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="finds kernels under /proc")
def test_killed_kernel_is_told_and_the_kept_board_is_offered_after_the_reload(
    visit: Callable[..., OpenPage], room: Any
) -> None:
    opened = visit("board?language=en")
    page = opened.page
    ready(page)
    keep(opened, 9)
    before = kernel_id(page)
    for process in kernels_of(room.process_id):
        os.kill(process, signal.SIGKILL)
    assert "ended by a fault" in bar(page, "died")
    opened.screenshot("room_kernel_died")
    load_again(page)
    assert kernel_id(page) != before
    go_on_with_kept(page, 9)
    move_slider(opened)
    assert page.locator(BAR).count() == 0
    assert opened.outside_requests == []


def test_dropped_line_is_told_and_what_was_moved_meanwhile_arrives_when_it_is_back(
    visit: Callable[..., OpenPage], room: Any
) -> None:
    line = Line(room.port)
    try:
        opened = visit("board?language=en", line.address)
        page = opened.page
        ready(page)
        before, drawn = kernel_id(page), opened.updates(TRADEOFF)
        line.cut()
        page.context.set_offline(True)
        assert "connection is lost" in bar(page, "lost")
        page.locator(SLIDER).press("ArrowRight")
        page.wait_for_timeout(4_000)
        assert opened.updates(TRADEOFF) == drawn
        line.whole = True
        page.context.set_offline(False)
        catch_up(opened, drawn)
        move_slider(opened)
        assert kernel_id(page) == before
        page.goto("about:blank")
    finally:
        line.close()


def test_line_that_falls_silent_is_told_and_what_it_swallowed_arrives_when_it_is_back(
    visit: Callable[..., OpenPage], room: Any
) -> None:
    line = Line(room.port)
    try:
        opened = visit("board?language=en", line.address)
        page = opened.page
        ready(page)
        before, drawn = kernel_id(page), opened.updates(TRADEOFF)
        line.silent = True
        page.locator(SLIDER).press("ArrowRight")
        moved = page.locator(SLIDER).input_value()
        assert "connection is lost" in bar(page, "lost")
        assert opened.updates(TRADEOFF) == drawn
        line.mend()
        catch_up(opened, drawn)
        assert page.locator(SLIDER).input_value() == moved
        move_slider(opened)
        assert kernel_id(page) == before
        page.goto("about:blank")
    finally:
        line.close()


def test_stopped_server_is_told_and_the_kept_board_is_offered_by_the_new_one(
    chromium: Any,
) -> None:
    from scenariokit.serve import BoardServer, RoomWish

    wish = RoomWish(people=2, ready=0, token=TOKEN, forks=False)
    server = BoardServer(port=0, room=wish)
    server.limits = replace(server.limits, farewell_seconds=2)
    server.start()
    again: Any = None
    context = chromium.new_context()
    context.set_default_timeout(PATIENCE_MS)
    try:
        opened = OpenPage(context.new_page(), server.url)
        watch(context, opened)
        page = opened.page
        page.goto(server.url)
        page.goto(f"http://127.0.0.1:{server.port}/board?language=en")
        ready(page)
        keep(opened, 7)
        server.stop()
        assert "What you see stays" in bar(page, "stopped")
        again = BoardServer(port=server.port, room=wish)
        again.start()
        assert "The server is back" in bar(page, "back")
        load_again(page)
        go_on_with_kept(page, 7)
        assert opened.outside_requests == []
    finally:
        context.close()
        server.stop()
        if again is not None:
            again.stop()


def test_full_disk_stops_no_board_and_a_new_one_opens_or_is_refused_plainly(
    chromium: Any, tiny_disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    from scenariokit.serve import BoardServer, RoomWish

    monkeypatch.setenv("TMPDIR", str(tiny_disk.folder))
    monkeypatch.chdir(tiny_disk.folder)
    context = chromium.new_context()
    context.set_default_timeout(PATIENCE_MS)
    with BoardServer(port=0, room=RoomWish(people=4, ready=0)) as server:
        try:
            address = f"{server.url}board?language=en"
            first = OpenPage(context.new_page(), address)
            first.page.goto(address)
            ready(first.page)
            tiny_disk.fill()
            move_slider(first)
            second = OpenPage(context.new_page(), address)
            second.page.goto(address)
            second.page.wait_for_selector(f"{BAR}, {TRADEOFF} figure[data-updates]")
            if second.page.locator(BAR).count():
                assert "could not be made" in bar(second.page, "failed")
                second.screenshot("room_full_disk")
            move_slider(first, "ArrowLeft")
            assert first.page.locator(BAR).count() == 0
            assert server.running
            tiny_disk.empty()
            second.page.goto(address)
            ready(second.page)
            move_slider(second)
        finally:
            context.close()


# -- the page ----------------------------------------------------------------------------------


def test_two_tabs_have_boards_of_their_own_and_back_and_forward_lose_none_that_was_kept(
    visit: Callable[..., OpenPage],
) -> None:
    opened = visit("?language=en")
    page = opened.page
    page.get_by_role("link", name="Start: Comparison board").click()
    ready(page)
    address = opened.url.partition("?")[0] + "board?language=en"
    other = OpenPage(page.context.new_page(), address)
    other.page.goto(address)
    ready(other.page)
    before = kernel_id(page)
    assert before != kernel_id(other.page)
    untouched = other.page.locator(AREA).input_value()
    keep(opened, 11)
    move_slider(other)
    assert other.page.locator(AREA).input_value() == untouched
    page.go_back()
    page.wait_for_selector("#state")
    page.go_forward()
    ready(page)
    assert kernel_id(page) != before
    go_on_with_kept(page, 11)
    assert other.page.locator(BAR).count() == 0
    move_slider(other)


def test_message_that_is_too_large_closes_its_socket_only_and_is_told(
    visit: Callable[..., OpenPage],
) -> None:
    opened, other = visit(), visit("board?language=en")
    page = opened.page
    page.add_init_script(NOTE_SOCKETS)
    page.goto(opened.url + "board?language=en")
    ready(page)
    ready(other.page)
    for noise in (False, True):  # zeros are packed on their way, noise cannot be
        page.evaluate(
            """noise => {
              const large = new Uint8Array(8e6);
              for (let at = 0; noise && at < large.length; at += 65536)
                crypto.getRandomValues(large.subarray(at, at + 65536));
              window.used = window.noted.findLast((one) => one.url.includes("/channels"));
              window.used.send(large);
            }""",
            noise,
        )
        page.wait_for_function("window.used.readyState === WebSocket.CLOSED")
        assert "At most 5 MB" in bar(page, "large")
        opened.screenshot(f"room_too_large_{'noise' if noise else 'zeros'}")
        move_slider(opened)
        assert other.page.locator(BAR).count() == 0
        move_slider(other)
    page.wait_for_selector(BAR, state="detached")
