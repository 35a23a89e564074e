"""Build the site, open it in chromium cut off from the network, and run a notebook in it.

The browser's Python itself comes from its npm package, and the packages of pure Python that its
lock names from the package index, at the lock's versions. Its compiled packages (NumPy, pandas,
SciPy and a few more) are published elsewhere. Without them this checks that the page starts, that
the site hands out scenariokit with every dependency, that the browser asks for exactly the
compiled packages of the lock and for nothing outside, and that what needs no compiled package
works. With ``--browser-python FOLDER``, an unpacked full distribution of the pinned release, it
runs the board itself.

Run it from the root of the repository with a Python that has playwright and packaging:
``python3 binder/lite/check.py``. Needs npm and chromium.
"""

from __future__ import annotations

import argparse
import functools
import hashlib
import http.server
import json
import shutil
import subprocess
import sys
import tarfile
import tempfile
import threading
import urllib.parse
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from build import build
from packaging.utils import parse_wheel_filename
from playwright.sync_api import Page, sync_playwright

HERE = Path(__file__).resolve().parent
EXTRACT = json.loads((HERE / "pyodide_lock_extract.json").read_text(encoding="utf-8"))
STARTS_WITH = ("micropip", "jedi", "parso", "setuptools", "pyparsing")
"""What the kernel loads beside scenariokit's dependencies."""
COMPILED = {
    row["file_name"]
    for row in EXTRACT["packages"].values()
    if not row["file_name"].endswith("-none-any.whl")
}
CODE = """import compileall, importlib.util, piplite, sys
await piplite.install("scenariokit")
home = importlib.util.find_spec("scenariokit").submodule_search_locations[0]
compiles = compileall.compile_dir(home, quiet=1)
import anywidget, babel, ipywidgets, openpyxl, pint, scenariokit.errors
from scenariokit.language import number_text
print("CHECKED", sys.platform, sys.version.split()[0], bool(compiles), number_text(1234.5, ",.1f"))
"""
SAID = f"CHECKED emscripten {EXTRACT['python']} True 1,234.5"


def partial_distribution(into: Path) -> None:
    """Put together what can be had without the compiled packages."""
    command = ["npm", "pack", f"pyodide@{EXTRACT['release']}", "--silent", "--ignore-scripts"]
    subprocess.run(command, cwd=into.parent, check=True, capture_output=True)
    with tarfile.open(into.parent / f"pyodide-{EXTRACT['release']}.tgz") as packed:
        packed.extractall(into.parent, filter="data")
    (into.parent / "package").rename(into)
    place = into / "pyodide-lock.json"
    lock = json.loads(place.read_text(encoding="utf-8"))
    rows = lock["packages"]
    pure = [name for name in {*EXTRACT["packages"], *STARTS_WITH}
            if rows[name]["file_name"].endswith("-none-any.whl")]  # fmt: skip
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--dest", str(into),
               "--only-binary", ":all:", "--platform", "none", "--python-version", "3.14",
               *(f"{name}=={rows[name]['version']}" for name in sorted(pure))]  # fmt: skip
    subprocess.run(command, check=True)
    for wheel in into.glob("*.whl"):
        row = rows[parse_wheel_filename(wheel.name)[0]]
        row["file_name"] = wheel.name
        row["sha256"] = hashlib.sha256(wheel.read_bytes()).hexdigest()
    place.write_text(json.dumps(lock), encoding="utf-8")


class Quiet(http.server.SimpleHTTPRequestHandler):
    """A file server that prints nothing."""

    def log_message(self, *_words: Any) -> None:
        """Say nothing."""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve a folder on this machine; yield its address."""
    handler = functools.partial(Quiet, directory=str(folder))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()


def say(problems: list[str], holds: bool, words: str) -> None:
    """Print what was checked, and keep it if it does not hold."""
    print(f"{'yes' if holds else 'NO '} {words}", flush=True)
    problems += [] if holds else [words]


def without_compiled(page: Page, here: str, problems: list[str]) -> None:
    """Run in the page what needs no compiled package."""
    asked: set[str] = set()
    page.on("request", lambda one: asked.add(one.url.split("?")[0].rsplit("/", 1)[-1]))
    page.goto(f"{here}repl/index.html?kernel=python&execute=1&code={urllib.parse.quote(CODE)}")
    page.wait_for_selector(".jp-OutputArea-output", timeout=180_000)
    page.wait_for_function(
        "() => [...document.querySelectorAll('.jp-OutputArea-output')]"
        ".some(one => /CHECKED|Error/.test(one.textContent))", timeout=180_000
    )  # fmt: skip
    said = " ".join(page.locator(".jp-OutputArea-output").all_inner_texts())
    say(problems, SAID in said, f"the browser's Python runs what needs no compiled package: {SAID}")
    if SAID not in said:
        print(said[-2000:])
    wheels = {name for name in asked if name.endswith("wasm32.whl")}
    say(problems, wheels == COMPILED, f"it asks for these compiled packages: {sorted(wheels)}")


def whole_board(page: Page, here: str, problems: list[str]) -> None:
    """Run the board's notebook."""
    page.goto(f"{here}notebooks/index.html?path=notebooks/00_board.ipynb")
    page.wait_for_selector(".jp-Notebook", timeout=60_000)
    page.click("text=Run")
    page.click("text=Run All Cells")
    page.wait_for_selector(".jp-OutputArea-output canvas, .jp-OutputArea-output svg.marks",
                           timeout=300_000)  # fmt: skip
    said = " ".join(page.locator(".jp-OutputArea-output").all_inner_texts())
    say(problems, "Traceback" not in said, "the board's notebook runs and draws")


def main(arguments: Sequence[str] | None = None) -> int:
    """Build, serve, open, look."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--browser-python", type=Path, help="an unpacked full distribution")
    given = parser.parse_args(arguments)
    problems: list[str] = []
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        distribution = given.browser_python or work / "distribution"
        if given.browser_python is None:
            partial_distribution(distribution)
        build(work / "site", distribution)
        chromium = shutil.which("chromium") or shutil.which("google-chrome")
        with served(work / "site") as here, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            context = browser.new_context()
            outside: list[str] = []
            # A service worker's requests pass here too; nothing but this machine answers.
            context.route(
                lambda address: not address.startswith((here, "data:", "blob:")),
                lambda route: (outside.append(route.request.url), route.abort()),
            )
            run = whole_board if given.browser_python else without_compiled
            run(context.new_page(), here, problems)
            say(problems, not outside, f"nothing is asked of the outside {outside or ''}")
            browser.close()
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
