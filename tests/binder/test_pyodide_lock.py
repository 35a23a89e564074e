"""The ranges of this project admit what the browser's Python comes with, and the rest is pinned."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[2]
LITE = ROOT / "binder" / "lite"
LOCK = json.loads((LITE / "pyodide_lock_extract.json").read_text(encoding="utf-8"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
BASE = [Requirement(line) for line in PROJECT["dependencies"]]
KERNEL_BRINGS = {"ipykernel", "piplite", "widgetsnbextension"}
BROWSER = {
    "sys_platform": "emscripten",
    "platform_system": "Emscripten",
    "python_version": ".".join(LOCK["python"].split(".")[:2]),
    "python_full_version": LOCK["python"],
    "extra": "",
}


def pinned() -> dict[str, tuple[str, str]]:
    """Return version and hash of each pinned wheel, by name."""
    lines = (LITE / "wheels.txt").read_text(encoding="utf-8").splitlines()
    found = [re.fullmatch(r"([a-z0-9-]+)==(\S+) --hash=sha256:([0-9a-f]{64})", line)
             for line in lines if not line.startswith("#")]  # fmt: skip
    return {one[1]: (one[2], one[3]) for one in found if one}


PINS = pinned()


def holding(lines: list[str]) -> Iterator[Requirement]:
    """Yield the requirements that hold in a browser."""
    for line in lines:
        need = Requirement(line)
        if need.marker is None or need.marker.evaluate(BROWSER):
            yield need


def version_in_browser(name: str) -> str | None:
    """Return the version of a package that a page gets."""
    if name in LOCK["packages"]:
        return str(LOCK["packages"][name]["version"])
    return PINS[name][0] if name in PINS else None


def test_requires_python_admits_the_python_of_the_browser() -> None:
    assert Version(LOCK["python"]) in SpecifierSet(PROJECT["requires-python"])


@pytest.mark.parametrize("need", BASE, ids=lambda need: need.name)
def test_range_of_a_dependency_admits_the_version_of_the_browser(need: Requirement) -> None:
    version = version_in_browser(canonicalize_name(need.name))
    assert version is not None, f"{need.name} is neither in the lock nor pinned"
    assert need.specifier.contains(version), f"{need} does not admit {version}"


def test_every_dependency_of_a_dependency_is_in_the_lock_or_pinned() -> None:
    left, seen = [canonicalize_name(need.name) for need in BASE], set()
    while left:
        name = left.pop()
        if name in seen | KERNEL_BRINGS:
            continue
        seen.add(name)
        assert version_in_browser(name), (
            f"{name}: not in the lock, not pinned; {LOCK['how_to_renew']}"
        )
        if name in LOCK["packages"]:
            left += [canonicalize_name(one) for one in LOCK["packages"][name]["depends"]]
            continue
        needs = importlib.metadata.requires(name) or []
        left += [canonicalize_name(need.name) for need in holding(needs)]
    assert {"pint", "anywidget", "traitlets", "numpy", "rpds-py"} <= seen


@pytest.mark.parametrize("name", sorted(PINS))
def test_pinned_wheel_gets_along_with_what_the_browser_has(name: str) -> None:
    if importlib.metadata.version(name) != PINS[name][0]:
        pytest.skip(f"{name} {PINS[name][0]} is not installed here, so what it needs is not known")
    for need in holding(importlib.metadata.requires(name) or []):
        version = version_in_browser(canonicalize_name(need.name))
        if canonicalize_name(need.name) not in KERNEL_BRINGS:
            assert version is not None
            assert need.specifier.contains(version), (
                f"{name} needs {need}, the browser has {version}"
            )


def test_lock_extract_says_where_it_is_from() -> None:
    assert LOCK["release"] in LOCK["origin"]
    assert len(LOCK["sha256_of_the_full_lock"]) == len(hashlib.sha256().hexdigest())
    assert (ROOT / LOCK["how_to_renew"].split()[-1]).is_file()
    assert LOCK["python"].startswith("3.")


def test_pins_leave_nothing_to_chance() -> None:
    lines = (LITE / "wheels.txt").read_text(encoding="utf-8").splitlines()
    assert len(PINS) == sum(not line.startswith("#") for line in lines)
    assert not PINS.keys() & LOCK["packages"].keys()
    tools = (LITE / "tools.txt").read_text(encoding="utf-8")
    kept = re.findall(r"^([a-z0-9][\w.-]*)==", tools, flags=re.MULTILINE)
    assert {"jupyterlite-core", "jupyterlite-pyodide-kernel", "anywidget"} <= set(kept)
    assert len(re.split(r"^(?=[a-z0-9])", tools, flags=re.MULTILINE)) - 1 == len(kept)
    assert all(
        "--hash=sha256:" in block for block in re.split(r"^(?=[a-z0-9])", tools, flags=re.M)[1:]
    )
