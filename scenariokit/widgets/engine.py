"""The drawing code, sent to a page once and shared by all its charts."""

from __future__ import annotations

import functools
import json
import re
from pathlib import Path
from typing import Any

import anywidget
import traitlets

STATIC = Path(__file__).parent / "static"
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
    return frame.replace("__ENGINE_KEY__", engine_key()).replace(
        "/*__SOURCES__*/", "\n".join(parts)
    )


class ChartEngine(anywidget.AnyWidget):
    """Carries the drawing code to the page; has nothing to look at."""

    _esm = traitlets.Unicode().tag(sync=True)

    @traitlets.default("_esm")
    def _default_esm(self) -> str:
        return engine_source()


_engines: list[ChartEngine] = []


def chart_engine() -> ChartEngine:
    """Return the one engine of this kernel; made anew if it was closed.

    Notes
    -----
    It holds no state of any chart, so charts of several apps share it safely.
    """
    if not _engines or not _is_open(_engines[0]):
        _engines[:] = [ChartEngine()]
    return _engines[0]


def _is_open(widget: Any) -> bool:
    return getattr(widget, "comm", None) is not None
