"""Which language is in use, and which there are."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from scenariokit.environment import LANGUAGE_VARIABLE

CATALOGUES = Path(__file__).parent / "catalogues"
ENGLISH = "en"
DOMAIN = "scenariokit"

_CODE = re.compile(r"^[A-Za-z]{2,3}([-_][A-Za-z0-9]{2,8})*$")


class LanguageError(LookupError):
    """There is no catalogue for a language."""


def _known(code: str) -> str:
    """Return the code of the catalogue that serves `code`, or an empty text."""
    if not _CODE.match(code):
        return ""
    base = re.split("[-_]", code)[0].lower()
    return base if base in languages() else ""


def languages() -> dict[str, str]:
    """Return the code of each language and its own name for itself.

    Returns
    -------
    dict
        English first, then one entry for each folder of the catalogues.

    Examples
    --------
    >>> languages()["es"]
    'español'
    """
    found = {ENGLISH: "English"}
    for folder in sorted(CATALOGUES.iterdir()):
        name = folder / "NAME"
        if name.is_file():
            found[folder.name] = name.read_text("utf-8").strip()
    return found


class _Chosen:
    """The language of this process; a person's page has a process of its own."""

    def __init__(self) -> None:
        wanted = os.environ.get(LANGUAGE_VARIABLE, "")
        self.code = wanted.replace("-", "_") if _known(wanted) else ENGLISH


_chosen = _Chosen()
_within: ContextVar[str] = ContextVar("scenariokit_language", default="")


def language() -> str:
    """Return the code of the language in use, with its territory if one was asked for."""
    return _within.get() or _chosen.code


def use_language(code: str) -> None:
    """Use a language from now on, everywhere in this process.

    Parameters
    ----------
    code : str
        For example ``"es"``; with a territory, ``"es_MX"``, numbers and dates
        are written as they are there.

    Raises
    ------
    LanguageError
        If there is no catalogue for it.
    """
    _chosen.code = _checked(code)


@contextmanager
def language_as(code: str) -> Iterator[None]:
    """Use a language inside a ``with`` block, in this thread or task only.

    Raises
    ------
    LanguageError
        If there is no catalogue for it.
    """
    token = _within.set(_checked(code))
    try:
        yield
    finally:
        _within.reset(token)


def _checked(code: str) -> str:
    if not _known(code):
        known = ", ".join(languages())
        raise LanguageError(f"language = {code[:20]!r}: there is no catalogue; those are: {known}")
    return code.replace("-", "_")


def best_language(accepted: str) -> str:
    """Return the language that a browser's Accept-Language header asks for first.

    Parameters
    ----------
    accepted : str
        The header, for example ``"pt-BR,pt;q=0.9,en;q=0.5"`` (RFC 9110, section 12.5.4).

    Returns
    -------
    str
        A code that `use_language` takes; English where none of them is at hand.

    Examples
    --------
    >>> best_language("de;q=0.9, fr-CA;q=0.8, en;q=0.2")
    'fr_CA'
    """
    wanted = []
    for order, part in enumerate(accepted[:500].split(",")):
        code, _, quality = part.strip().partition(";q=")
        try:
            weight = float(quality or 1)
        except ValueError:
            weight = 0.0
        if weight > 0 and _known(code.strip()):
            wanted.append((-weight, order, code.strip().replace("-", "_")))
    return min(wanted)[2] if wanted else ENGLISH
