"""Find what is wrong with a catalogue."""

from __future__ import annotations

import re
import string
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from babel.messages.catalog import Catalog, Message

_TAG = re.compile(r"</?[a-z][^>]*>")


def placeholders(text: str) -> Counter[tuple[str, str, str]]:
    """Return the placeholders of a text with their formats.

    Raises
    ------
    ValueError
        If a brace has no partner.
    """
    parsed = string.Formatter().parse(text)
    return Counter(
        (name, spec or "", conversion or "")
        for _, name, spec, conversion in parsed
        if name is not None
    )


def problems_of(catalogue: Catalog) -> list[str]:
    """Return what is wrong with a language's texts, one line each.

    A text must be there, keep every placeholder with its format and every HTML
    tag of the English one, and begin and end with a blank where that does.
    """
    return [
        f"{_first(one)[:80]!r}: {problem}"
        for one in catalogue
        if one.id
        for problem in _problems(one)
    ]


def _first(one: Message) -> str:
    return one.id if isinstance(one.id, str) else one.id[0]


def _problems(one: Message) -> Iterator[str]:
    if one.fuzzy:
        yield "is marked as a guess"
    said = (one.string,) if isinstance(one.string, str) else tuple(one.string or ("",))
    english = (one.id,) if isinstance(one.id, str) else tuple(one.id)
    for text in said:
        if not text:
            yield "is missing"
            continue
        yield from _differences(text, english[-1] if len(said) > 1 else english[0])


def _differences(text: str, english: str) -> Iterator[str]:
    try:
        theirs, ours = placeholders(text), placeholders(english)
    except ValueError as error:
        yield f"{error}"
        return
    if set(theirs) != set(ours):
        yield f"has the placeholders {sorted(theirs)}, the English text {sorted(ours)}"
    if Counter(_TAG.findall(text)) != Counter(_TAG.findall(english)):
        yield "has other HTML tags than the English text"
    if (text[0].isspace(), text[-1].isspace()) != (english[0].isspace(), english[-1].isspace()):
        yield "begins or ends with a blank where the English text does not, or the other way"
