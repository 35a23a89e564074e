"""Files of the page frame."""

from __future__ import annotations

import gzip
import sys
from pathlib import Path

import pytest

from scenariokit.serve.static_files import found_below, packed, patient


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / "frame").mkdir()
    (tmp_path / "frame" / "voila.js").write_text("let one = 1;")
    (tmp_path / "frame" / "secret.py").write_text("x")
    (tmp_path / "outside.js").write_text("x")
    return tmp_path / "frame"


@pytest.mark.parametrize(
    "asked",
    ["../outside.js", "../../etc/passwd", "/etc/passwd", "secret.py", "none.js", "", ".", "a\0.js",
     "..\\outside.js", "x" * 5000 + ".js", "voila.js/", "voila.js/../../outside.js"],
)  # fmt: skip
def test_found_below_tricks_find_nothing(root: Path, asked: str) -> None:
    found = found_below([root], asked)
    assert found in (None, root / "voila.js")
    assert found is None or asked == "voila.js/"


def test_packed_is_read_once_and_zipped(root: Path) -> None:
    path = found_below([root], "voila.js")
    assert path is not None
    file = packed(path)
    assert gzip.decompress(file.zipped) == file.plain == b"let one = 1;"
    assert packed(path) is file
    assert file.kind == "text/javascript"


def test_patient_finds_its_places_in_the_installed_version() -> None:
    folder = Path(sys.prefix, "share", "jupyter", "labextensions", "@jupyter-widgets")
    changed = [
        path for path in folder.rglob("*.js") if patient(path.read_bytes()) != path.read_bytes()
    ]
    assert len(changed) == 1
    script = patient(changed[0].read_bytes())
    assert script.count(b"12e4") >= 2
