"""The check of what the project stands on: it fails on a hole, and never claims what it did not do."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
SCRIPT = ROOT / ".ci" / "supply_chain.py"

pytestmark = pytest.mark.skipif(not SCRIPT.is_file(), reason="not a whole checkout")


@pytest.fixture
def chain() -> ModuleType:
    spec = importlib.util.spec_from_file_location("supply_chain", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def answering(
    monkeypatch: pytest.MonkeyPatch, audit: str, licences: list[Any] | None = None
) -> None:
    """Let the two tools say these things instead of being run."""

    def run(command: list[str], **_options: Any) -> subprocess.CompletedProcess[str]:
        said = audit if "pip_audit" in command else json.dumps(licences or [])
        return subprocess.CompletedProcess(command, 0, said, "Max retries exceeded (host)\n")

    monkeypatch.setattr(subprocess, "run", run)


def rows(*found: dict[str, Any]) -> str:
    return json.dumps({"dependencies": list(found)})


KNOWN = {"name": "one", "version": "1", "vulns": []}
HOLE = {"name": "two", "version": "2", "vulns": [{"id": "X-1", "fix_versions": ["3"]}]}
SKIPPED = {"name": "three", "skip_reason": "Dependency not found"}
OURS = {"name": "scenariokit", "skip_reason": "Dependency not found"}


def test_main_with_a_known_hole_fails_and_names_it(chain, monkeypatch, capsys):
    answering(monkeypatch, rows(KNOWN, HOLE, SKIPPED))
    assert chain.main() == 1
    said = capsys.readouterr().out
    assert "two 2: X-1, mended in 3" in said
    assert "not audited, unknown to the service: three" in said


def test_main_without_holes_passes_and_counts_what_was_audited(chain, monkeypatch, capsys):
    answering(monkeypatch, rows(KNOWN, OURS))
    assert chain.main() == 0
    assert "1 packages audited, 0 known holes" in capsys.readouterr().out


@pytest.mark.parametrize("said", [rows(SKIPPED, OURS), "", "{}"])
def test_main_without_the_service_says_that_nothing_was_audited(chain, monkeypatch, capsys, said):
    answering(monkeypatch, said)
    assert chain.main() == 0
    out = capsys.readouterr().out
    assert out.count("NOT AUDITED") == 2
    assert "packages audited" not in out


@pytest.mark.parametrize("licence", ["GPL-3.0-only", "UNKNOWN", "MIT AND GPL-3.0-only", ""])
def test_main_with_a_licence_that_is_not_allowed_fails(chain, monkeypatch, capsys, licence):
    answering(monkeypatch, rows(KNOWN), [{"Name": "odd", "Version": "9", "License": licence}])
    assert chain.main() == 1
    assert f"odd 9: {licence} is not in licences.txt" in capsys.readouterr().out


@pytest.mark.parametrize("licence", ["MIT", "MIT; BSD License", "GPL-3.0-only OR MIT"])
def test_main_with_an_allowed_licence_passes(chain, monkeypatch, licence):
    answering(monkeypatch, rows(KNOWN), [{"Name": "fine", "Version": "9", "License": licence}])
    assert chain.main() == 0


def test_licences_read_by_hand_are_allowed_ones(chain):
    among, read = chain.allowed()
    assert set(read.values()) <= among
    assert "MIT" in among


def test_what_the_ends_leave_out_is_there_and_has_a_reason():
    lines = (ROOT / ".ci" / "not_at_the_ends.txt").read_text(encoding="utf-8").splitlines()
    left_out = [line for line in lines if not line.startswith("#")]
    assert left_out
    for line in left_out:
        path, seconds, unit, reason = line.split(maxsplit=3)
        assert (ROOT / path).exists(), path
        assert float(seconds) > 0
        assert unit == "s:"
        assert reason


def test_bandit_is_told_to_skip_only_what_ruff_asks_a_reason_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["tool"]["bandit"] == {"skips": ["B104"]}
    assert "S" in project["tool"]["ruff"]["lint"]["select"]
