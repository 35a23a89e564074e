"""Read, renew and compile the catalogues of the languages."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from scenariokit.language.choosing import CATALOGUES, DOMAIN, ENGLISH, languages
from scenariokit.wording.collecting import CatalogueText, collected

if TYPE_CHECKING:
    from collections.abc import Iterable

NO_DAY = datetime(2026, 1, 1, tzinfo=UTC)
"""Stands for the days of a catalogue, so that two renewals are the same to the bit."""

HEADER = """\
# Texts of scenariokit in PROJECT_LANGUAGE.
# The English text is the key; {names} in braces are filled in and stay as they are.
"""


def _path(code: str, ending: str) -> Path:
    return CATALOGUES / code / "LC_MESSAGES" / f"{DOMAIN}.{ending}"


def read_catalogue(code: str) -> Catalog:
    """Return the catalogue of a language as its file has it; an empty one if there is none yet."""
    path = _path(code, "po")
    if not path.is_file():
        return Catalog(locale=code)
    with path.open("rb") as text:
        return read_po(text, locale=code)


def renewed(code: str, texts: Iterable[CatalogueText]) -> Catalog:
    """Return a language's catalogue with exactly these texts, each with what was said for it."""
    old = read_catalogue(code)
    new = Catalog(
        locale=code, project="scenariokit", version="", charset="utf-8", fuzzy=False,
        header_comment=HEADER.replace("PROJECT_LANGUAGE", languages().get(code, code)),
        copyright_holder="", msgid_bugs_address="", last_translator="", language_team="",
        creation_date=NO_DAY, revision_date=NO_DAY,
    )  # fmt: skip
    for text in texts:
        key = (text.message, text.plural) if text.plural else text.message
        known = old.get(text.message)
        said = known.string if known is not None and known.id == key else None
        new.add(key, said or "", locations=[(place, 1) for place in text.places])
    return new


def written(catalogue: Catalog) -> bytes:
    """Return a catalogue as the bytes of a PO file."""
    out = io.BytesIO()
    write_po(out, catalogue, width=98, include_lineno=False, omit_header=False)
    lines = out.getvalue().decode("utf-8").splitlines(keepends=True)
    # What changes with the day or the tool would make two renewals differ.
    moving = ('"POT-Creation-Date', '"PO-Revision-Date', '"Generated-By', '"Report-Msgid')
    return "".join(line for line in lines if not line.startswith(moving)).encode("utf-8")


def compiled(catalogue: Catalog) -> bytes:
    """Return a catalogue as the bytes of an MO file, which `gettext` reads."""
    out = io.BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()


def renew(lessons: Path | None = None) -> dict[str, int]:
    """Bring the files of every language up to date; return how many texts each lacks.

    Parameters
    ----------
    lessons : path, optional
        Folder of notebooks whose apps are given texts.
    """
    texts = collected(lessons)
    lacking = {}
    for code in languages():
        if code == ENGLISH:
            continue
        catalogue = renewed(code, texts)
        for ending, content in (("po", written(catalogue)), ("mo", compiled(catalogue))):
            path = _path(code, ending)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        lacking[code] = sum(not _said(one.string) for one in catalogue if one.id)
    return lacking


def _said(string: object) -> bool:
    return all(string) if isinstance(string, tuple | list) else bool(string)
