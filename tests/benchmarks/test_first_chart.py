"""How long a person waits for the first chart: the board beside a bare slider with four charts.

Run with ``python -m pytest -o addopts= -s tests/benchmarks/test_first_chart.py``.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from test_slider_to_pixels import PLAIN

pytestmark = pytest.mark.browser

OPENINGS = 5
DRAWN = "() => [...document.querySelectorAll('figure')].some(one => +one.dataset.updates > 0)"


def seconds_to_first_chart(voila_page: Any, notebook: Path | None) -> float:
    """Return the time from asking for a page to its first chart, with an empty cache."""
    begin = time.perf_counter()
    opened = voila_page(notebook)
    opened.page.wait_for_function(DRAWN, timeout=90_000)
    taken = time.perf_counter() - begin
    opened.page.close()
    return taken


def test_first_chart_of_the_board_and_of_a_bare_page(
    voila_page: Callable[..., Any], notebook_of: Callable[..., Path]
) -> None:
    bare = notebook_of("bare", PLAIN)
    times: dict[str, list[float]] = {"bare": [], "board": []}
    for round_number in range(OPENINGS + 1):
        for name, notebook in (("bare", bare), ("board", None)):
            taken = seconds_to_first_chart(voila_page, notebook)
            if round_number:  # the first opening also loads the servers' own code
                times[name].append(taken)
            time.sleep(3)  # the next board is made ahead meanwhile, for both alike
    medians = {name: statistics.median(found) for name, found in times.items()}
    ratio = medians["board"] / medians["bare"]
    print(
        f"\nfirst chart: bare page {medians['bare']:.2f} s, board {medians['board']:.2f} s, "
        f"{ratio:.2f} times"
    )
    assert ratio > 0
