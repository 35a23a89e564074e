"""A language in which every translated text stands in brackets, and what of a page does not."""

from __future__ import annotations

import csv
import functools
import html
import json
import re
import string
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pytest

from scenariokit.glossary import PARAMETERS
from scenariokit.language import language_as, languages, month_name, texts
from scenariokit.widgets.chart_view import _specification
from scenariokit.wording import collected
from scenariokit.wording.collecting import TABLES

OPEN, CLOSE = "⟦", "⟧"
_INNERMOST = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
_TAG = re.compile(
    r"<(style|script|svg)\b.*?</\1>|<!doctype[^>]*>|<!--.*?-->|<[^>]*>", re.DOTALL | re.IGNORECASE
)
_SVG_TEXT = re.compile(r"<(?:text|title|desc|tspan)\b[^>]*>([^<]*)")
_SPOKEN = re.compile(r"""(?:aria-label|title|alt|placeholder|content)=(["'])(.*?)\1""", re.DOTALL)
_COLOUR = re.compile(r"^#[0-9a-f]{3,8}$")
_PLACE = re.compile(r"\{[a-z_]*\}")
_WORD = re.compile(r"[A-Za-zÀ-ÿ]{3,}")
_NUMBER = re.compile(r"\d")

UNITS = {
    "cwt", "acre", "gal", "mol", "mmol", "meq", "kPa", "day", "hour", "min", "max", "EUR", "USD",
    "money", "plants", "mph", "quart", "ppm", "mg", "degC", "degF",
}  # fmt: skip
"""Symbols of units and currencies, and unit names that stand in files."""
NAMES = {*languages().values(), *map(month_name, range(1, 13))}
"""Each language is called as it calls itself; months are named by the Unicode consortium's tables."""
CITED = (
    "US CPSC document 5006 on bucket drownings", "Commission Recommendation (EU) 2022/561",
    "Novella et al. 2008; Calori et al. 2017; FAO Irrigation and Drainage Paper 61",
)  # fmt: skip
"""What cautions cite."""


@functools.cache
def _known() -> frozenset[str]:
    """Return every text that the catalogues are made of."""
    lessons = Path(__file__).parent.parent.parent / "notebooks"
    return frozenset(text for one in collected(lessons) for text in (one.message, one.plural))


class _Brackets:
    """A catalogue that has every text; what fills a placeholder stands outside its brackets."""

    def gettext(self, message: str) -> str:
        if message not in _known():
            return message
        try:
            parts = list(string.Formatter().parse(message))
        except ValueError:  # a text with a brace of its own, which nothing fills in
            return _bracket(message)
        said = []
        for literal, name, pattern, _ in parts:
            said.append(_bracket(literal.replace("{", "{{").replace("}", "}}")))
            if name is not None:
                said.append(f"{{{name}:{pattern}}}" if pattern else f"{{{name}}}")
        return "".join(said)

    def ngettext(self, one: str, many: str, count: int) -> str:
        return self.gettext(one if count == 1 else many)


def _bracket(text: str) -> str:
    """Put each piece between tags in brackets."""
    pieces = re.split(r"(<[^>]*>)", text)
    return "".join(
        f"{OPEN}{one}{CLOSE}" if one.strip() and not one.startswith("<") else one for one in pieces
    )


@contextmanager
def bracketed(patch: pytest.MonkeyPatch) -> Iterator[None]:
    """Put every text that is looked up in brackets."""
    patch.setattr(texts, "_catalogue", lambda _code: _Brackets())
    # Charts are kept by language, which here is not what it is elsewhere.
    _specification.cache_clear()
    with language_as("en_GB"):  # not plain English, which is not looked up
        yield
    _specification.cache_clear()


def citations() -> list[str]:
    """Return the sources that stay as they were read: bibliographic, with a year or a number."""
    rows = [*CITED, *(row.source for row in PARAMETERS.values())]
    for path in sorted(TABLES.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as text:
            rows += [row["source"] for row in csv.DictReader(text)]
    return sorted({one for one in rows if _NUMBER.search(one)}, key=len, reverse=True)


def bare_words(text: str, allowed: Iterable[str] = ()) -> list[str]:
    """Return the words of a text that stand outside all brackets and are not allowed there."""
    spoken = " ".join(said for _, said in _SPOKEN.findall(text))
    drawn = " ".join(_SVG_TEXT.findall(text))
    plain = html.unescape(f"{_TAG.sub(' ', text)} {spoken} {drawn}")
    before = None
    while before != plain:
        before, plain = plain, _INNERMOST.sub(" ", plain)
    if not _WORD.search(_PLACE.sub(" ", plain)):
        return []
    for one in (*allowed, *NAMES):
        plain = plain.replace(one, " ")
    return [word for word in _WORD.findall(_PLACE.sub(" ", plain)) if word not in UNITS]


def bare(widget: Any, allowed: Iterable[str] = ()) -> list[tuple[str, list[str], str]]:
    """Return place, words and text of what a widget shows outside the catalogues."""
    allowed = list(allowed)
    found: dict[str, tuple[str, list[str], str]] = {}
    for place, text in shown_texts(widget):
        if text not in found and (words := bare_words(text, allowed)):
            found[text] = (place, words, text[:200])
    return list(found.values())


def shown_texts(widget: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Yield the place and text of everything that a widget shows."""
    place = f"{place}/{type(widget).__name__}"
    if isinstance(widget, widgets.Box):
        for number, child in enumerate(widget.children):
            yield from shown_texts(child, f"{place}[{number}]")
    for name in SHOWN_TRAITS:
        text = getattr(widget, name, "")
        if isinstance(text, str):
            yield f"{place}.{name}", text
    for name in ("fields", "words", "spec", "table_columns", "table_rows", "errors"):
        yield from _inside(getattr(widget, name, None), f"{place}.{name}", name)
    spec = getattr(widget, "spec", None) or {}
    yield from _rows(getattr(widget, "datasets", None) or {}, _drawn(spec), f"{place}.datasets")


SHOWN_TRAITS = (
    "value", "description", "label", "help", "heading", "tooltip", "placeholder", "message",
    "page_title",
)  # fmt: skip
SHOWN_KEYS = {
    "label", "help", "topic", "unit", "title", "description", "text", "labels", "part", "element",
    "words", "name_shown", "note", "errors",
}  # fmt: skip
CHANNELS = {
    "text", "tooltip", "x", "y", "color", "fill", "shape", "row", "column", "description", "stroke",
}  # fmt: skip
_QUOTED = re.compile(r"'([^']*)'")


def _inside(value: Any, place: str, key: str) -> Iterator[tuple[str, str]]:
    """Yield the texts inside a trait that holds lists and dictionaries."""
    if isinstance(value, dict):
        for name, inner in value.items():
            kept = key in ("words", "errors") and name != "lang"
            yield from _inside(inner, f"{place}.{name}", key if kept else name)
    elif isinstance(value, list | tuple):
        if key == "options":
            for option in value:
                yield f"{place}[]", str(option[1])
            return
        for inner in value:
            yield from _inside(inner, place, key)
    elif isinstance(value, str) and key == "labelExpr":
        for one in _QUOTED.findall(value):
            yield place, one
    elif isinstance(value, str) and (key in SHOWN_KEYS or "table" in place):
        yield place, value


def _drawn(spec: Any, channel: str = "") -> set[str]:
    """Return the columns of a chart that are written out: as labels, ticks, legends or hints."""
    found: set[str] = set()
    if isinstance(spec, list):
        return found.union(*(_drawn(one, channel) for one in spec))
    if not isinstance(spec, dict):
        return found
    if channel and isinstance(spec.get("field"), str):
        silent = any(name in spec and spec[name] is None for name in ("axis", "legend"))
        if channel in ("text", "tooltip", "description") or not silent:
            found.add(spec["field"])
    for name, inner in spec.items():
        found |= _drawn(inner, name if name in CHANNELS else channel if name == "condition" else "")
    return found


def _rows(datasets: dict[str, Any], columns: set[str], place: str) -> Iterator[tuple[str, str]]:
    for name, rows in datasets.items():
        for row in rows:
            for column, value in row.items():
                if isinstance(value, str) and column in columns and not _COLOUR.match(value):
                    yield f"{place}.{name}.{column}", value


def demo_words() -> list[str]:
    """Return what the invented files of the demonstration say: data, which nobody translates."""
    from scenariokit.trials.demo import demo_files
    from scenariokit.trials.demo_rooms import demo_rooms

    found: set[str] = set()
    for name, content in [*demo_files(), *demo_rooms()]:
        rows = list(csv.reader(content.decode("utf-8-sig").splitlines()))
        found |= {name, name.removesuffix(".csv"), *(cell for row in rows for cell in row)}
    return sorted((one for one in found if _WORD.search(one)), key=len, reverse=True)


def column_names() -> set[str]:
    """Return the words of columns of files, which are names and stay as they are."""
    from scenariokit.wording.collecting import PACKAGE

    found: set[str] = set()
    for path in PACKAGE.rglob("*.json"):
        document = json.loads(path.read_text("utf-8"))
        rows = document.get("fields", []) if isinstance(document, dict) else []
        found |= {word for row in rows for word in _WORD.findall(row["name"])}
    return found
