"""What can go wrong in a room, as a person at the page meets it: it is said, and nothing is lost."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from conftest import OpenPage, give_up, watch

pytestmark = pytest.mark.browser

PATIENCE_MS = 120_000
AREA = "[id='sk-common-tank-area']"
SLIDER = "[id='sk-common-prices-labour_price-slider']"
TRADEOFF = ".sk-view-methods > .sk-charts > :nth-child(1)"
BAR = "#scenariokit-status:not([hidden])"
OFFER = ".sk-store-offer"
KEPT = "scenariokit.board.1"
TOKEN = "openSesame42"  # noqa: S105 - of a room that lives as long as the test
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
    _ends: list[socket.socket] = field(default_factory=list)
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
            far = socket.create_connection(("127.0.0.1", self.port))
            self._ends += [near, far]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):  # cut, or one side has left
            while data := one.recv(65536):
                other.sendall(data)
        with suppress(OSError):
            other.shutdown(socket.SHUT_RDWR)

    def cut(self) -> None:
        """Drop every connection and take no new one."""
        self.whole = False
        for end in self._ends:
            with suppress(OSError):  # it may have closed by itself
                end.shutdown(socket.SHUT_RDWR)
        self._ends.clear()

    def close(self) -> None:
        """End."""
        self.cut()
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


def set_area(opened: OpenPage, value: int) -> None:
    """Enter an area and wait for the chart that follows from it."""

    def enter() -> None:
        opened.page.locator(AREA).fill(str(value))
        opened.page.locator(AREA).press("Enter")

    opened.after_update(TRADEOFF, enter)


def move_slider(opened: OpenPage, key: str = "ArrowRight") -> None:
    """Move a slider by keyboard and wait for the chart that follows from it."""
    opened.after_update(TRADEOFF, lambda: opened.page.locator(SLIDER).press(key))


def keep(opened: OpenPage, area: int) -> None:
    """Tick that the board be kept, change it, and wait until it is kept as it now is."""
    page = opened.page
    page.get_by_role("checkbox", name="Keep this board in this browser").check()
    page.wait_for_function("key => localStorage.getItem(key) !== null", arg=KEPT)
    before = page.evaluate("key => localStorage.getItem(key)", KEPT)
    set_area(opened, area)
    page.wait_for_function(
        "([key, before]) => localStorage.getItem(key) !== before", arg=[KEPT, before]
    )


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


def kernel_process(page: Any, server: int) -> int:
    """Return the process of the kernel of a page, by the file that its command line names."""
    kernel = page.evaluate(
        "JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId"
    )
    return process_of_kernel(kernel, server)


# -- the kernel ------------------------------------------------------------------------------


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="finds kernels under /proc")
def test_killed_kernel_is_told_to_its_page_only_and_the_kept_board_is_offered(
    visit: Callable[..., OpenPage], room: Any
) -> None:
    pass
