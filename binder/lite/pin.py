"""Renew what a page with Python in the browser is built from: the lock's extract and the pins.

The browser's Python and its compiled packages come as one release with a lock file. This keeps
the part of the lock that scenariokit needs, finds with pip which packages the lock lacks, and
writes down for each of those a wheel of pure Python with its hash.

Run it from the root of the repository: ``python3 binder/lite/pin.py``. Needs npm, pip and the
package ``packaging``.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import tarfile
import tempfile
import tomllib
import venv
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name, parse_wheel_filename

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
RELEASE = "314.0.6"
"""The release that the kernel in tools.in asks for."""
EXTRACT, WHEELS = HERE / "pyodide_lock_extract.json", HERE / "wheels.txt"
TOOLS = HERE / "tools.txt"
ALSO = ("segno",)
"""Of the extras, what works in a browser."""
KERNEL = ("ipykernel", "piplite", "widgetsnbextension")
"""What the kernel brings in itself, in the browser's form."""
HOW = "python3 binder/lite/pin.py"


def full_lock(folder: Path) -> bytes:
    """Return the lock file of the release, from its package."""
    command = ["npm", "pack", f"pyodide@{RELEASE}", "--silent", "--ignore-scripts"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)
    with tarfile.open(folder / f"pyodide-{RELEASE}.tgz") as packed:
        handle = packed.extractfile("package/pyodide-lock.json")
        assert handle is not None
        return handle.read()


def wanted() -> list[str]:
    """Return the requirements of an installation for the browser."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [line for lines in project["optional-dependencies"].values() for line in lines]
    return [*project["dependencies"], *(one for one in extras if Requirement(one).name in ALSO)]


def resolved(lines: Iterable[str], lock: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return what pip would install beside the lock's versions, by name."""
    pinned = folder / "constraints.txt"
    pinned.write_text(
        "".join(f"{one['name']}=={one['version']}\n" for one in lock["packages"].values())
    )
    python = ".".join(lock["info"]["python"].split(".")[:2])
    command = [
        sys.executable, "-m", "pip", "install", "-q", "--dry-run", "--ignore-installed",
        "--report", "-", "--target", str(folder / "none"), "--python-version", python,
        "--platform", "manylinux_2_28_x86_64", "--platform", "manylinux_2_17_x86_64",
        "--only-binary", ":all:", "-c", str(pinned), *lines,
    ]  # fmt: skip
    said = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
    return {
        canonicalize_name(one["metadata"]["name"]): one["metadata"]
        for one in json.loads(said)["install"]
    }


def needs(line: str, python: str) -> Requirement | None:
    """Return a requirement if it holds in a browser."""
    found = Requirement(line)
    where = {"sys_platform": "emscripten", "platform_system": "Emscripten", "extra": "",
             "python_version": python, "python_full_version": f"{python}.0"}  # fmt: skip
    return found if found.marker is None or found.marker.evaluate(where) else None


def split(lines: Iterable[str], lock: Mapping[str, Any], found: Mapping[str, Any]) -> tuple[
    set[str], set[str]
]:  # fmt: skip
    """Return which packages the lock has, with all that they need, and which it lacks."""
    python = ".".join(lock["info"]["python"].split(".")[:2])
    has: set[str] = set()
    lacks: set[str] = set()
    left = [canonicalize_name(Requirement(line).name) for line in lines]
    while left:
        name = left.pop()
        if name in has | lacks or name in KERNEL:
            continue
        if name in lock["packages"]:
            has.add(name)
            left += [canonicalize_name(one) for one in lock["packages"][name]["depends"]]
            continue
        lacks.add(name)
        for line in found[name].get("requires_dist", []):
            need = needs(line, python)
            left += [canonicalize_name(need.name)] if need else []
    return has, lacks


def pins(names: Iterable[str], found: Mapping[str, Any], folder: Path) -> list[str]:
    """Download the wheels of pure Python; return a pin with its hash for each."""
    into = folder / "wheels"
    exact = [f"{name}=={found[name]['version']}" for name in sorted(names)]
    # A platform that no package has: wheels of pure Python alone are left.
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--dest", str(into),
               "--only-binary", ":all:", "--platform", "none", "--python-version", "3.14",
               *exact]  # fmt: skip
    subprocess.run(command, check=True)
    lines = []
    for wheel in sorted(into.glob("*.whl")):
        name, version, _, tags = parse_wheel_filename(wheel.name)
        if any(tag.platform != "any" for tag in tags):
            sys.exit(f"{wheel.name} is not a wheel of pure Python")
        digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
        lines.append(f"{name}=={version} --hash=sha256:{digest}")
    return lines


def pin_tools(folder: Path) -> None:
    """Write down what builds the site, with the hashes of every file that a machine may choose."""
    venv.create(folder / "tools", with_pip=True)
    programs = folder / "tools" / "bin"
    subprocess.run([programs / "python", "-m", "pip", "install", "-q", "uv"], check=True)
    # Widgets' pages and their Python must be of one version, so the pins above hold here too.
    command = [programs / "uv", "pip", "compile", "--universal", "--python-version", "3.11",
               "--generate-hashes", "--no-annotate", "--no-header", "-c", WHEELS,
               HERE / "tools.in"]  # fmt: skip
    said = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
    head = f"# Made by {HOW} from tools.in; do not edit.\n"
    TOOLS.write_text(head + said, encoding="utf-8")


def main() -> None:
    """Fetch the lock, resolve, write the three files."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        raw = full_lock(folder)
        lock = json.loads(raw)
        lines = wanted()
        found = resolved(lines, lock, folder)
        has, lacks = split(lines, lock, found)
        pinned = pins(lacks, found, folder)
    extract = {
        "release": RELEASE,
        "origin": f"pyodide-lock.json of the npm package pyodide {RELEASE}",
        "sha256_of_the_full_lock": hashlib.sha256(raw).hexdigest(),
        "how_to_renew": HOW,
        "python": lock["info"]["python"],
        "abi": lock["info"]["abi_version"],
        "packages": {
            name: {key: lock["packages"][name][key] for key in ("version", "file_name", "depends")}
            for name in sorted(has)
        },
    }
    EXTRACT.write_text(json.dumps(extract, indent=2) + "\n", encoding="utf-8")
    head = (f"# Pure Python that release {RELEASE} of the browser's Python lacks.\n"
            f"# Made by {HOW}; do not edit.\n")  # fmt: skip
    WHEELS.write_text(head + "\n".join(pinned) + "\n", encoding="utf-8")
    with tempfile.TemporaryDirectory() as made:
        pin_tools(Path(made))
    print(f"{EXTRACT.name}: {len(has)} packages; {WHEELS.name}: {len(pinned)}")


if __name__ == "__main__":
    main()
