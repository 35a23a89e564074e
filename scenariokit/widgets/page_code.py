"""The page code of widgets as text: sent with each widget, or had by a page from its own server."""

from __future__ import annotations

import functools
import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from scenariokit.environment import CODE_VARIABLE

STATIC = Path(__file__).parent / "static"
ENGINE = "engine"


@dataclass(frozen=True)
class PageCode:
    """Script and style of one kind of widget.

    Parameters
    ----------
    name : str
        What it is called in an address.
    style : str
        File of its style sheet; empty if it has none.
    """

    name: str
    style: str = ""

    @property
    def script_text(self) -> str:
        """The module."""
        return (STATIC / f"{self.name}.js").read_text(encoding="utf-8")

    @property
    def style_text(self) -> str:
        """The style sheet."""
        return (STATIC / self.style).read_text(encoding="utf-8") if self.style else ""

    @property
    def whole_text(self) -> str:
        """The module, which brings its style sheet along."""
        return self.script_text + style_script(self.style_text)


CHART_VIEW = PageCode("chart_view", "chart_view.css")
FIELD_PANEL = PageCode("field_panel", "field_panel.css")
FILE_PICKER = PageCode("file_picker", "files.css")
FILE_SAVER = PageCode("file_saver", "files.css")
PAGE_GUIDE = PageCode("page_guide", "page_guide.css")
PAGE_LINK = PageCode("page_link", "page_link.css")
PAGE_STORE = PageCode("page_store", "page_store.css")
PULSE = PageCode("pulse")
WIDGET_CODE = (
    CHART_VIEW, FIELD_PANEL, FILE_PICKER, FILE_SAVER, PAGE_GUIDE, PAGE_LINK, PAGE_STORE, PULSE,
)  # fmt: skip


def style_script(style: str) -> str:
    """Return the lines that add a style sheet to a page, for the end of a module."""
    if not style:
        return ""
    made = 'Object.assign(document.createElement("style"), { textContent: '
    return f"\ndocument.head.append({made}{json.dumps(style)} }}));\n"


def code_tag(text: str) -> str:
    """Return a word that changes whenever the code does."""
    return hashlib.sha256(text.encode()).hexdigest()[:20]


def code_address(name: str) -> str:
    """Return where this page's server has the code of that name; empty if it comes with widgets."""
    return _addresses(os.environ.get(CODE_VARIABLE, "")).get(name, "")


@functools.lru_cache(maxsize=4)
def _addresses(stated: str) -> dict[str, str]:
    return dict(json.loads(stated)) if stated else {}


def fetching_module(frame: str, address: str) -> str:
    """Return a module that has a page fetch code from an address of its own server.

    Parameters
    ----------
    frame : str
        File that says what is done with the code.
    address : str
        Where it is served, from the root of the server on.
    """
    fetch = (STATIC / "fetch_code.js").read_text(encoding="utf-8")
    fetch = fetch.replace('"__ADDRESS__"', json.dumps(address))
    return fetch + (STATIC / frame).read_text(encoding="utf-8")


@functools.lru_cache(maxsize=32)
def carried(code: PageCode, address: str) -> tuple[str, str]:
    """Return the module and the style sheet that a widget carries to its page.

    Parameters
    ----------
    code : PageCode
        Of which kind of widget.
    address : str
        Where the page's server has it; empty if it has not.
    """
    if address:
        return fetching_module("shared_code.js", address), ""
    return code.script_text, code.style_text
