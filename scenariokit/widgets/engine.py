"""The drawing code, sent to a page once and shared by all its charts."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from scenariokit.widgets.engine_source import (
    engine_import,
    engine_key,
    engine_source,
    library_licences,
    library_sources,
    vendored,
)
from scenariokit.widgets.page_code import ENGINE, code_address

__all__ = [
    "ChartEngine",
    "chart_engine",
    "engine_key",
    "engine_source",
    "library_licences",
    "library_sources",
    "vendored",
]


class ChartEngine(anywidget.AnyWidget):
    """Carries the drawing code to the page; has nothing to look at."""

    _esm = traitlets.Unicode().tag(sync=True)

    @traitlets.default("_esm")
    def _default_esm(self) -> str:
        address = code_address(ENGINE)
        return engine_import(address) if address else engine_source()


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
