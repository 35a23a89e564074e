"""The process that kernels are forked from."""

from __future__ import annotations

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
