"""The drawing code as text: where it comes from, and the module that a page is given."""

from __future__ import annotations

import functools
import json
import re
from pathlib import Path

from scenariokit.widgets.page_code import STATIC, fetching_module

VENDOR = Path(__file__).parent / "vendor"
_SOURCE_MAP = re.compile(r"^//# sourceMappingURL=.*$", re.MULTILINE)


@functools.cache
def vendored() -> tuple[dict[str, str], ...]:
    """Return the record of each vendored library, in the order in which they need each other."""
    record = json.loads((VENDOR / "VENDORED.json").read_text(encoding="utf-8"))
    return tuple(record["libraries"])


@functools.cache
def engine_key() -> str:
    """Return the name under which a page keeps the drawing code; it changes with a version."""
    versions = ",".join(f"{row['name']}-{row['version']}" for row in vendored())
    return f"scenariokit.engine.{versions}"


def library_sources() -> list[tuple[str, str]]:
    """Return name and script of each vendored library, in the order of `vendored`."""
    return [
        (row["name"], _SOURCE_MAP.sub("", (VENDOR / row["file"]).read_text(encoding="utf-8")))
        for row in vendored()
    ]


def library_licences() -> str:
    """Return the licences of the vendored libraries and of what they are built from."""
    record = json.loads((VENDOR / "VENDORED.json").read_text(encoding="utf-8"))
    names = [row["licence_file"] for row in (*record["libraries"], record["bundled"])]
    return "\n\n".join((VENDOR / name).read_text(encoding="utf-8") for name in names)


@functools.cache
def engine_source() -> str:
    """Return the module that evaluates the vendored libraries, each in a scope of its own."""
    parts = [
        f"[{json.dumps(name)}, function (exports, module, require, define) {{\n{script}\n}}],"
        for name, script in library_sources()
    ]
    frame = (STATIC / "engine.js").read_text(encoding="utf-8")
    return _gate() + frame.replace("/*__SOURCES__*/", "\n".join(parts))


def _gate() -> str:
    """Return what `engine_source` and `engine_import` begin with."""
    gate = (STATIC / "engine_gate.js").read_text(encoding="utf-8")
    return gate.replace("__ENGINE_KEY__", engine_key())


def engine_import(address: str) -> str:
    """Return a module that has a page fetch the drawing code from an address of its own server.

    Parameters
    ----------
    address : str
        Where `engine_source` is served, from the root of the server on.
    """
    return _gate() + fetching_module("engine_import.js", address)
