"""A board kept in the browser of the person who wants that, and offered again on the next visit."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, ClassVar

import traitlets

from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, tr
from scenariokit.widgets.page_code import PAGE_STORE
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded

log = logging.getLogger(__name__)


class PageStore(Worded, PageWidget):
    """A check box, off at first; while it is on, what changed is kept in the browser.

    The page asks for the content when changes have stopped coming. Nothing is
    overwritten while what was kept before waits for an answer.

    Parameters
    ----------
    make : callable
        Returns what to keep.
    on_open : callable
        Gets what was kept, when the person wants to go on with it.
    place : str
        Under which name it is kept.
    """

    CODE = PAGE_STORE
    WORDS: ClassVar[dict[str, str]] = {
        "keep": mark("Keep this board in this browser"),
        "help": mark(
            "It stays on this device and goes nowhere else. Leave this off on a shared computer: "
            "whoever uses this browser could open it."
        ),
        "kept": mark("A board from {time} is kept."),
        "clear": mark("Clear the kept board"),
        "offer": mark("Go on with your board from {time}?"),
        "go_on": mark("Go on"),
        "afresh": mark("Start afresh"),
        "started": mark("From now on your changes are kept in this browser."),
        "waiting": mark("Choose first whether to go on with the kept board or to start afresh."),
        "stopped": mark("No more changes are kept. What is kept already stays until you clear it."),
        "cleared": mark("Nothing is kept in this browser any more."),
        "left": mark("The kept board stays until you clear it."),
        "replaced_soon": mark("Your next change takes the place of the kept board."),
        "opened": mark("Your board from {time} is open."),
        "elsewhere": mark("Another tab kept its board at {time}; that one is kept now."),
        "cleared_elsewhere": mark("The kept board was cleared in another tab."),
        "stopped_elsewhere": mark("Keeping was switched off in another tab."),
        "full": mark(
            "This browser has no room left for the board: it was not kept. Save it as a file."
        ),
        "blocked": mark(
            "This browser lets the page store nothing: the board was not kept. Save it as a file."
        ),
    }
    place = traitlets.Unicode("scenariokit.board.1").tag(sync=True)

    def __init__(
        self, make: Callable[[], str], on_open: Callable[[str], None], **traits: Any
    ) -> None:
        super().__init__(**traits)
        self._make, self._on_open = make, on_open
        self._keeping: set[str] = set()
        self.on_msg(self._received)

    @property
    def keeping(self) -> bool:
        """Whether a page keeps what changes."""
        return bool(self._keeping)

    def touched(self) -> None:
        """Note that something changed."""
        if self.keeping:
            self.send({"kind": "touched"})

    def _received(self, _widget: Any, content: dict[str, Any], _buffers: list[Any]) -> None:
        """Answer the page."""
        kind, view = content.get("kind"), str(content.get("view", ""))
        if kind == "keeping":
            (self._keeping.add if content.get("on") else self._keeping.discard)(view)
        elif kind == "want":
            self._answer(view, "content", lambda: {"text": self._make()})
        elif kind == "open":
            self._answer(view, "opened", lambda: self._opened(str(content.get("text", ""))))

    def _opened(self, text: str) -> dict[str, Any]:
        self._on_open(text)
        return {}

    def _answer(self, view: str, kind: str, task: Callable[[], dict[str, Any]]) -> None:
        """Do what the page asks for, and say what became of it."""
        try:
            answer = {"kind": kind, **task()}
        except ScenarioKitError as error:
            answer = {"kind": "refused", "text": str(error)}
        except Exception:  # the one guard around callbacks; the traceback goes to the log
            log.exception("keeping a board in the browser")
            text = tr("The board could not be kept or opened, because of a fault in this program.")
            answer = {"kind": "refused", "text": text}
        self.send({"view": view, **answer})
