"""A language in which every translated text stands in brackets, and what of a page does not."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import ipywidgets as widgets
import pytest

from scenariokit.language import language_as, texts

OPEN, CLOSE = "⟦", "⟧"
_INNERMOST = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
_TAG = re.compile(r"<style>.*?</style>|<[^>]*>", re.DOTALL)
_SPOKEN = re.compile(r"""(?:aria-label|title|alt|placeholder)=["']([^"']*)["']""")
_WORD = re.compile(r"[A-Za-zÀ-ÿ]{3,}")


class _Brackets:
    """A catalogue that has every text."""

    def gettext(self, message: str) -> str:
        return f"{OPEN}{message}{CLOSE}" if message.strip() else message

    def ngettext(self, one: str, many: str, count: int) -> str:
        return self.gettext(one if count == 1 else many)


@contextmanager
def bracketed(patch: pytest.MonkeyPatch) -> Iterator[None]:
    """Put every text that is looked up in brackets."""
    patch.setattr(texts, "_catalogue", lambda _code: _Brackets())
    with language_as("en_GB"):  # not plain English, which is not looked up
        yield


def bare_words(text: str, allowed: Iterable[str] = ()) -> list[str]:
    """Return the words of a text that stand outside all brackets and are not allowed there."""
    spoken = " ".join(_SPOKEN.findall(text))
    plain = html.unescape(f"{_TAG.sub(' ', text)} {spoken}")
    before = None
    while before != plain:
        before, plain = plain, _INNERMOST.sub(" ", plain)
    for one in allowed:
        plain = plain.replace(one, " ")
    return [word for word in _WORD.findall(plain)]


def shown_texts(widget: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Yield the place and text of everything that a widget shows."""
    place = f"{place}/{type(widget).__name__}"
    if isinstance(widget, widgets.Box):
        for number, child in enumerate(widget.children):
            yield from shown_texts(child, f"{place}[{number}]")
    for name in ("value", "description", "label", "help", "heading", "tooltip", "placeholder"):
        text = getattr(widget, name, "")
        if isinstance(text, str):
            yield f"{place}.{name}", text
    for name in ("fields", "words", "spec", "table_columns", "table_rows", "datasets", "errors"):
        yield from _inside(getattr(widget, name, None), f"{place}.{name}", name)


SHOWN_KEYS = {
    "label", "help", "topic", "unit", "title", "description", "text", "labels", "part", "element",
    "words", "name_shown", "note",
}  # fmt: skip


def _inside(value: Any, place: str, key: str) -> Iterator[tuple[str, str]]:
    """Yield the texts inside a trait that holds lists and dictionaries."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _inside(inner, f"{place}.{name}", name if key != "words" else "words")
    elif isinstance(value, list | tuple):
        if key == "options":
            for option in value:
                yield f"{place}[]", str(option[1])
            return
        for inner in value:
            yield from _inside(inner, place, key)
    elif isinstance(value, str) and (key in SHOWN_KEYS or "table" in place or key == "errors"):
        yield place, value
