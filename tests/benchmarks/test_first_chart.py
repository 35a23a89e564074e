"""How long a person waits for the first chart: the board beside a bare slider with four charts.

Both are made ahead, as boards of a room are. Run with
``python -m pytest -o addopts= -s tests/benchmarks/test_first_chart.py``.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

import psutil
import pytest
from test_slider_to_pixels import PLAIN

pytestmark = pytest.mark.browser

OPENINGS = 4
WAIT_MS = 90_000
WAIT_SECONDS = 180
DRAWN = "() => [...document.querySelectorAll('figure')].some(one => +one.dataset.updates > 0)"


def processor_seconds(process_id: int) -> float:
    """Return what a server and its kernels have worked so far."""
    server = psutil.Process(process_id)
    times = [one.cpu_times() for one in (server, *server.children(recursive=True))]
    return sum(one.user + one.system for one in times)


def wait_until_idle(process_id: int) -> None:
    """Wait until a server has made what it makes ahead."""
    end = time.monotonic() + WAIT_SECONDS
    before, quiet = -1.0, 0
    while quiet < 3:
        assert time.monotonic() < end, "the server does not come to rest"
        time.sleep(1)
        now = processor_seconds(process_id)
        quiet = quiet + 1 if now - before < 0.1 else 0
        before = now


@pytest.fixture
def addresses(notebook_of: Callable[..., Path]) -> Iterator[dict[str, str]]:
    """Servers that have made all the boards ahead that will be opened."""
    from scenariokit.serve import BoardServer

    with ExitStack() as stack:
        found = {}
        for name, notebook in (("bare", notebook_of("bare", PLAIN)), ("board", None)):
            server = BoardServer(notebook, port=0)
            number = OPENINGS + 1
            server.limits = replace(server.limits, people=number + 1, ready=number)
            stack.enter_context(server)
            wait_until_idle(server.process_id)
            found[name] = server.url
        yield found


def seconds_to_first_chart(chromium: Any, address: str) -> float:
    """Return the time from asking for a page to its first chart, with an empty cache."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    begin = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_function(DRAWN, timeout=WAIT_MS)
    taken = time.perf_counter() - begin
    page.goto("about:blank")  # the page says goodbye, and its board is given back
    context.close()
    return taken


def test_first_chart_of_the_board_and_of_a_bare_page(
    chromium: Any, addresses: dict[str, str]
) -> None:
    times: dict[str, list[float]] = {name: [] for name in addresses}
    for round_number in range(OPENINGS + 1):
        for name, address in addresses.items():
            taken = seconds_to_first_chart(chromium, address)
            if round_number:  # the first opening also loads the servers' own code
                times[name].append(taken)
            time.sleep(1)  # the kernel of the page before ends meanwhile
    medians = {name: statistics.median(found) for name, found in times.items()}
    ratio = medians["board"] / medians["bare"]
    print(
        f"\nfirst chart: bare page {medians['bare']:.2f} s, board {medians['board']:.2f} s, "
        f"{ratio:.2f} times"
    )
    assert ratio > 0
