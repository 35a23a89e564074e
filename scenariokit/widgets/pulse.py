"""A pulse that comes from the page: it beats only while somebody looks."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

import traitlets

from scenariokit.widgets.page_code import PULSE
from scenariokit.widgets.page_widget import PageWidget

log = logging.getLogger(__name__)


class Pulse(PageWidget):
    """Calls a function every few seconds, as long as its page is open.

    Parameters
    ----------
    beat : callable
        Called at each beat. What it raises is traced in the log; the pulse goes on.
    seconds : float
        Time from an answer to the next beat.

    Notes
    -----
    The page asks and the kernel answers, so that beats never pile up, no thread
    touches a widget, and nothing runs once the page is closed.
    """

    CODE = PULSE
    seconds = traitlets.Float(4.0, min=0.1).tag(sync=True)

    def __init__(self, beat: Callable[[], None], **traits: Any) -> None:
        super().__init__(**traits)
        self._beat = beat
        self.on_msg(self._received)

    def _received(self, _widget: Any, content: dict[str, Any], _buffers: list[Any]) -> None:
        """Beat once, and answer whatever happens."""
        if content.get("kind") != "tick":
            return
        try:
            self._beat()
        except Exception:  # the one guard around callbacks; the traceback goes to the log
            log.exception("a beat of the page")
        finally:
            self.send({"kind": "tock"})
