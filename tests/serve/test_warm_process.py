"""The process that kernels are forked from."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

import pytest

from scenariokit.serve import warm_process
from scenariokit.serve.offers import OFFERS


def test_unfit_thread_is_named() -> None:
    wait = threading.Event()
    other = threading.Thread(target=wait.wait)
    other.start()
    try:
        assert "threads run" in warm_process.unfit()
    finally:
        wait.set()
        other.join()


def test_unfit_thread_of_a_library_is_seen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "1").touch()
    monkeypatch.setattr(warm_process, "THREADS_OF", tmp_path)
    monkeypatch.setattr(threading, "active_count", lambda: 1)
    assert warm_process.unfit() == ""
    (tmp_path / "2").touch()
    assert warm_process.unfit() == "2 threads of the system run"


def test_offers_notebooks_show_only_apps_and_are_warmed() -> None:
    import nbformat

    for offer in OFFERS:
        cells = nbformat.read(offer.notebook, as_version=4).cells
        function = offer.warmed_by[0].rpartition(":")[2]
        assert [cell.cell_type for cell in cells] == ["code", "code"]
        assert cells[1].source == f"{function}()"


TAKES = """
import mmap
import numpy as np
from scenariokit.serve.warm_process import limit_memory
limit_memory(300_000_000)
aside = mmap.mmap(-1, 8_000_000_000, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS, prot=0)
np.ones(20_000_000)
try:
    np.ones(60_000_000)
except MemoryError:
    print("set aside 8 GB, used 160 MB, was refused 480 MB")
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="boards are forked on Linux only")
def test_limit_memory_refuses_what_is_used_and_not_what_is_only_set_aside() -> None:
    done = subprocess.run([sys.executable, "-c", TAKES], capture_output=True, text=True, check=True)
    assert done.stdout == "set aside 8 GB, used 160 MB, was refused 480 MB\n"
