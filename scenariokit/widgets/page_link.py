"""A link that opens what stands on this page, and what the page's own address asks for."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, ClassVar

from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, tr
from scenariokit.widgets.page_code import PAGE_LINK
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded

MOST_ASKED = 4_000
"""Characters of an address that a person may give."""
log = logging.getLogger(__name__)


class PageLink(Worded, PageWidget):
    """A button that makes a link and copies it; it also tells what the page was opened with.

    Parameters
    ----------
    make : callable
        Gets an address and whether it is that of this page; returns the link
        and what to say of it.
    on_address : callable
        Gets the board and the language that the page's address holds, each
        empty if it holds none: when the page is shown, and when the address
        changes behind ``#``.
    """

    CODE = PAGE_LINK
    WORDS: ClassVar[dict[str, str]] = {
        "where": mark("The link leads to"),
        "here": mark("this page"),
        "there": mark("another address, for example one that starts a hosted room"),
        "target": mark("That address"),
        "target_help": mark(
            "Paste the address that opens or starts the board elsewhere. It is remembered in this "
            "browser only."
        ),
        "copy": mark("Copy a link to this board"),
        "help": mark(
            "The board itself is in the link: nothing is stored anywhere. The link carries no "
            "token; who opens it in a room must be able to enter that room."
        ),
        "made": mark("The link"),
        "preparing": mark("Preparing …"),
        "copied": mark("The link is copied."),
        "copy_yourself": mark("This page may not copy: the link is selected, so copy it yourself."),
        "no_answer": mark(
            "No answer came. The page may have lost its connection; reload it and try again."
        ),
        "not_remembered": mark("This browser does not let the page remember the address."),
    }

    def __init__(
        self,
        make: Callable[[str, bool], tuple[str, str]],
        on_address: Callable[[str, str], None],
        **traits: Any,
    ) -> None:
        super().__init__(**traits)
        self._make, self._on_address = make, on_address
        self.on_msg(self._received)

    def _received(self, _widget: Any, content: dict[str, Any], _buffers: list[Any]) -> None:
        """Answer the page."""
        if content.get("kind") == "address":
            self._on_address(str(content.get("board", "")), str(content.get("language", "")))
        elif content.get("kind") == "want":
            self.send({"view": content["view"], **self._answer(content)})

    def _answer(self, content: dict[str, Any]) -> dict[str, Any]:
        """Return the link, or what is wrong."""
        try:
            base, own_page = str(content["base"])[:MOST_ASKED], bool(content["own_page"])
            address, text = self._make(base, own_page)
        except ScenarioKitError as error:
            return {"kind": "refused", "text": str(error)}
        except Exception:  # the one guard around callbacks; the traceback goes to the log
            log.exception("making a link")
            text = tr("No link could be made, because of a fault in this program.")
            return {"kind": "refused", "text": text}
        return {"kind": "link", "address": address, "text": text}
