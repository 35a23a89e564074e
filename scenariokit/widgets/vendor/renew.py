"""Fetch other versions of the drawing libraries and write them down again.

Run ``python -m scenariokit.widgets.vendor.renew vega=6.4.0 vega-lite=6.4.3 vega-embed=7.3.0``.
Needs npm; nothing else in scenariokit does.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import shutil
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

VENDOR = Path(__file__).parent
RECORD = VENDOR / "VENDORED.json"
LIBRARIES = ("vega", "vega-lite", "vega-embed")
BUNDLED = "LICENSE-bundled.txt"
"""Licences of what the libraries themselves are built from."""
HOW_TO_RENEW = (
    "python -m scenariokit.widgets.vendor.renew vega=VERSION vega-lite=VERSION vega-embed=VERSION,"
    " then run tests/widgets/test_vendor.py and tests/browser"
)


def sha256(content: bytes) -> str:
    """Return the SHA-256 of `content` in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def npm_command() -> str:
    """Return where npm is."""
    npm = shutil.which("npm")
    if npm is None:
        raise FileNotFoundError("npm is not installed; it is needed only to renew these files")
    return npm


def fetch(name: str, version: str, folder: Path) -> Path:
    """Download one published package into `folder` and return the archive."""
    command = [npm_command(), "pack", f"{name}@{version}", "--silent", "--ignore-scripts"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)  # noqa: S603
    return folder / f"{name}-{version}.tgz"


def member(archive: Path, path: str) -> bytes:
    """Return one file of a package archive."""
    with tarfile.open(archive) as packed:
        handle = packed.extractfile(f"package/{path}")
        if handle is None:
            raise FileNotFoundError(f"{archive.name} has no file {path}")
        return handle.read()


def entry(name: str, version: str, archive: Path) -> dict[str, str]:
    """Write script and licence of one package; return its row of the record."""
    script = member(archive, f"build/{name}.min.js")
    licence = member(archive, "LICENSE")
    about = json.loads(member(archive, "package.json"))
    file, licence_file = f"{name}-{version}.min.js", f"LICENSE-{name}.txt"
    (VENDOR / file).write_bytes(script)
    (VENDOR / licence_file).write_bytes(licence)
    return {
        "name": name,
        "version": version,
        "file": file,
        "sha256": sha256(script),
        "licence": about["license"],
        "licence_file": licence_file,
        "licence_sha256": sha256(licence),
    }


def install(versions: Mapping[str, str], folder: Path) -> Path:
    """Install the libraries with all they need into `folder`; return where the packages are."""
    command = [npm_command(), "install", "--prefix", str(folder), "--ignore-scripts", "--no-audit",
               "--no-fund", *(f"{name}@{versions[name]}" for name in LIBRARIES)]  # fmt: skip
    subprocess.run(command, cwd=folder, check=True, capture_output=True)  # noqa: S603
    return folder / "node_modules"


def bundled(packages: Path) -> tuple[str, list[str]]:
    """Return the licences of the packages in a folder as one text, and their names.

    A package without a licence file is listed with the licence that it states.
    """
    parts, names = [], []
    for about_file in sorted(
        {*packages.glob("*/package.json"), *packages.glob("@*/*/package.json")}
    ):
        about = json.loads(about_file.read_text(encoding="utf-8"))
        if about["name"] in LIBRARIES:
            continue
        names.append(f"{about['name']} {about['version']} ({about.get('license', 'not stated')})")
        texts = sorted(about_file.parent.glob("LICEN[CS]E*"))
        text = texts[0].read_text(encoding="utf-8") if texts else "(no licence file)"
        parts.append(f"{names[-1]}\n\n{text.strip()}\n")
    return f"\n{'-' * 78}\n".join(parts), names


def write_record(rows: Sequence[Mapping[str, str]], names: Sequence[str]) -> None:
    """Write ``VENDORED.json``."""
    record = {
        "how_to_renew": HOW_TO_RENEW,
        "libraries": list(rows),
        "bundled": {"licence_file": BUNDLED, "packages": list(names)},
    }
    RECORD.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")


def renew(versions: Mapping[str, str]) -> None:
    """Replace all vendored files by these versions; the old ones stay if a download fails."""
    old = [path for path in VENDOR.glob("*.min.js")]
    with tempfile.TemporaryDirectory() as folder:
        archives = {name: fetch(name, versions[name], Path(folder)) for name in LIBRARIES}
        text, names = bundled(install(versions, Path(folder)))
        rows = [entry(name, versions[name], archives[name]) for name in LIBRARIES]
    (VENDOR / BUNDLED).write_text(text, encoding="utf-8")
    for path in old:
        if path.name not in {row["file"] for row in rows}:
            path.unlink()
    write_record(rows, names)


def main(arguments: Sequence[str] | None = None) -> int:
    """Read ``name=version`` arguments and renew."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("version", nargs="+", help="name=version, once for each library")
    pairs = [text.partition("=") for text in parser.parse_args(arguments).version]
    versions = {name: version for name, _, version in pairs if version}
    missing = [name for name in LIBRARIES if name not in versions]
    if missing:
        parser.error(f"give a version for {', '.join(missing)}")
    renew(versions)
    return 0


if __name__ == "__main__":
    sys.exit(main())
