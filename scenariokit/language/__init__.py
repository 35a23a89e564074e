"""Texts, numbers and dates in the language of the reader.

English is written in the code. ``tr`` looks a text up in the catalogue of the
language in use and only then fills its placeholders in, so a translator moves
them freely. A language is one folder in ``catalogues/``.
"""

from __future__ import annotations

from scenariokit.language.choosing import (
    LanguageError,
    best_language,
    language,
    language_as,
    languages,
    use_language,
)
from scenariokit.language.numbers import (
    date_text,
    list_text,
    month_name,
    month_short,
    number_text,
    signs,
    written_alike,
)
from scenariokit.language.texts import mark, tr, tr_n

__all__ = [
    "LanguageError",
    "best_language",
    "date_text",
    "language",
    "language_as",
    "languages",
    "list_text",
    "mark",
    "month_name",
    "month_short",
    "number_text",
    "signs",
    "tr",
    "tr_n",
    "use_language",
    "written_alike",
]
