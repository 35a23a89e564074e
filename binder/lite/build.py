"""Build a site of plain files on which the notebooks run in the visitor's browser.

No server of ours computes anything: the browser fetches a Python of its own (release and
packages in ``pyodide_lock_extract.json``), everything else lies in the site: scenariokit built
from this tree, the wheels of ``wheels.txt`` and the notebooks. Nothing is asked of a package
index.

Run it from the root of the repository: ``python3 binder/lite/build.py --into site``, then
``python3 -m http.server --directory site``. With ``--browser-python FOLDER`` a whole
distribution of the browser's Python is put into the site too, and it needs nothing from outside.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
import venv
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
KERNEL = "@jupyterlite/pyodide-kernel-extension:kernel"
FIRST_CELL = (
    "# In the browser only: fetch scenariokit from this site (up to a minute the first time).\n"
    "import piplite\n"
    "\n"
    'await piplite.install("scenariokit")'
)
SETTINGS_MARK = '<script id="jupyter-config-data" type="application/json" data-jupyter-lite-root=".">{}</script>'
"""The notebook pages look for this in the start page, or they stay empty."""
STYLE = (
    "body{font:1.1rem/1.5 system-ui,sans-serif;max-width:40rem;margin:2rem auto;padding:0 1rem;"
    "color:#1a1a1a;background:#fff}a{color:#0b4f8a}li{margin:.4rem 0}"
)


def environment(folder: Path) -> Path:
    """Make an environment with the pinned tools; return where its programs are."""
    venv.create(folder, with_pip=True)
    programs = folder / ("Scripts" if sys.platform == "win32" else "bin")
    run([programs / "python", "-m", "pip", "install", "-q", "--require-hashes", "-r",
         HERE / "tools.txt"])  # fmt: skip
    return programs


def run(command: Sequence[str | Path], where: Path = ROOT) -> None:
    """Run a command, or stop with its own message."""
    subprocess.run([str(word) for word in command], cwd=where, check=True)


def check_release(programs: Path) -> None:
    """Stop if the kernel asks for another release than the one the pins were made for."""
    code = "from jupyterlite_pyodide_kernel import constants; print(constants.PYODIDE_VERSION)"
    command = [str(programs / "python"), "-c", code]
    asked = subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()
    extract = json.loads((HERE / "pyodide_lock_extract.json").read_text(encoding="utf-8"))
    if asked != extract["release"]:
        sys.exit(f"the kernel asks for release {asked}, the pins are for {extract['release']}; "
                 f"put it into pin.py and run {extract['how_to_renew']}")  # fmt: skip


def gather_wheels(programs: Path, into: Path) -> None:
    """Put the pinned wheels, checked by their hashes, and our own into a folder."""
    python = programs / "python"
    # A platform that no package has: wheels of pure Python alone are left.
    run([python, "-m", "pip", "download", "-q", "--no-deps", "--require-hashes", "--dest", into,
         "--only-binary", ":all:", "--platform", "none", "--python-version", "3.14",
         "-r", HERE / "wheels.txt"])  # fmt: skip
    run([python, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "--wheel-dir",
         into, ROOT])  # fmt: skip


def with_first_cell(notebook: dict[str, Any]) -> dict[str, Any]:
    """Return a notebook that makes scenariokit available before its first line of code.

    >>> book = {"cells": [{"cell_type": "markdown"}, {"cell_type": "code"}]}
    >>> [cell["cell_type"] for cell in with_first_cell(book)["cells"]]
    ['markdown', 'code', 'code']
    """
    cells = notebook["cells"]
    code = [number for number, cell in enumerate(cells) if cell["cell_type"] == "code"]
    if not code:
        return notebook
    first = {"cell_type": "code", "id": "in-the-browser", "metadata": {}, "outputs": [],
             "execution_count": None, "source": FIRST_CELL}  # fmt: skip
    return {**notebook, "cells": [*cells[: code[0]], first, *cells[code[0] :]]}


def copy_notebooks(into: Path) -> list[Path]:
    """Copy the notebooks with their first cell, and their pictures."""
    into.mkdir(parents=True)
    books = sorted((ROOT / "notebooks").glob("*.ipynb"))
    for book in books:
        made = with_first_cell(json.loads(book.read_text(encoding="utf-8")))
        (into / book.name).write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    shutil.copytree(ROOT / "notebooks" / "pictures", into / "pictures")
    return books


def title(book: Path) -> str:
    """Return the heading of a notebook."""
    cells = json.loads(book.read_text(encoding="utf-8"))["cells"]
    found = re.search(r"^# (.+)$", "".join(cells[0]["source"]), flags=re.MULTILINE)
    if found is None:
        sys.exit(f"{book.name} has no heading in its first cell")
    return found[1]


def start_page(books: Sequence[Path]) -> str:
    """Return the page that a visitor opens first."""
    links = "\n".join(
        f'<li><a href="notebooks/index.html?path=notebooks/{book.name}">{escape(title(book))}</a>'
        for book in books
        if book.stem != "index"
    )
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width"><title>scenariokit</title>'
        f"{SETTINGS_MARK}<style>{STYLE}</style></head><body><main>\n<h1>scenariokit</h1>\n"
        "<p>Compare ways to grow potatoes, leafy and fruiting crops in shallow tanks without a "
        "pump. Everything is computed in your browser; what you type stays on this computer.</p>\n"
        "<p>Open a notebook and choose <b>Run</b>, <b>Run All Cells</b>. The first start fetches "
        "some tens of megabytes.</p>\n"
        f"<ul>\n{links}\n</ul>\n"
        "<p>Yields, prices and places that come with it are invented examples.</p>\n"
        "</main></body></html>\n"
    )


def build(into: Path, browser_python: Path | None) -> None:
    """Build the site into a folder."""
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        programs = environment(work / "tools")
        check_release(programs)
        gather_wheels(programs, work / "wheels")
        books = copy_notebooks(work / "contents" / "notebooks")
        lite = work / "lite"
        lite.mkdir()
        settings = {"litePluginSettings": {KERNEL: {"disablePyPIFallback": True}}}
        (lite / "jupyter-lite.json").write_text(
            json.dumps({"jupyter-lite-schema-version": 0, "jupyter-config-data": settings})
        )
        if browser_python:
            shutil.copytree(browser_python, lite / "static" / "pyodide")
        run([programs / "jupyter", "lite", "build", "--lite-dir", lite, "--contents",
             work / "contents", "--piplite-wheels", work / "wheels", "--apps", "lab", "--apps",
             "notebooks", "--apps", "tree", "--apps", "repl", "--no-sourcemaps", "--output-dir", into.resolve()], lite)  # fmt: skip
        (into / "index.html").write_text(start_page(books), encoding="utf-8")


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the arguments and build."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--into", type=Path, required=True, help="folder for the site; new")
    parser.add_argument("--browser-python", type=Path, help="an unpacked distribution to put in")
    given = parser.parse_args(arguments)
    if given.into.exists():
        parser.error(f"{given.into} is there already")
    build(given.into, given.browser_python)
    files = [path for path in given.into.rglob("*") if path.is_file()]
    size = sum(path.stat().st_size for path in files) / 1e6
    print(f"{given.into}: {len(files)} files, {size:.0f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
