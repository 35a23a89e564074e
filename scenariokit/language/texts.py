"""Texts out of the catalogue of the language in use."""

from __future__ import annotations

import functools
import gettext
import string
from collections.abc import Mapping, Sequence
from typing import Any

from scenariokit.language.choosing import CATALOGUES, DOMAIN, ENGLISH, language
from scenariokit.language.numbers import number_text


@functools.cache
def _catalogue(code: str) -> gettext.NullTranslations:
    """Return the catalogue of a language, read once."""
    if code == ENGLISH:
        return gettext.NullTranslations()
    base = code.split("_")[0]
    return gettext.translation(DOMAIN, CATALOGUES, languages=[base], fallback=base == ENGLISH)


class _Filler(string.Formatter):
    """Fills placeholders in; numbers get the signs of the language in use."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """Return one value as text."""
        if isinstance(value, int | float) and not isinstance(value, bool):
            return number_text(value, format_spec)
        return str(format(value, format_spec))

    def get_value(self, key: int | str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        """Return a value by its name; a text never has numbered placeholders."""
        return kwargs[str(key)]


_filler = _Filler()


def tr(message: str, /, **values: Any) -> str:
    """Return a text in the language in use.

    Parameters
    ----------
    message : str
        The English text; a literal, so that it is found for the catalogues.
        Placeholders are names in braces: ``"{count} plots"``.
    **values
        What stands for each placeholder. Numbers are written with the signs of
        the language, by the format behind the placeholder's name.

    Returns
    -------
    str
        The English text itself where the catalogue has none, as for a name that
        a person gave.

    Examples
    --------
    >>> tr("{low:.1f} to {high:.1f} kg", low=2, high=3.25)
    '2.0 to 3.2 kg'
    """
    code = language()
    if code == ENGLISH:
        return message.format(**values) if values else message
    found = _catalogue(code).gettext(message) if message else ""
    return _filler.vformat(found, (), values) if values else found


def tr_n(one: str, many: str, count: int, /, **values: Any) -> str:
    """Return a text that depends on a number, in the language in use.

    Parameters
    ----------
    one, many : str
        The English text for one and for any other number.
    count : int
        The number; it also stands for the placeholder ``{count}``.
    **values
        As for `tr`.

    Examples
    --------
    >>> tr_n("{count} plot", "{count} plots", 1), tr_n("{count} plot", "{count} plots", 0)
    ('1 plot', '0 plots')
    """
    code = language()
    if code == ENGLISH:
        return (one if count == 1 else many).format(count=count, **values)
    found = _catalogue(code).ngettext(one, many, count)
    return _filler.vformat(found, (), {"count": count, **values})


def mark(message: str, /) -> str:
    """Return a text unchanged, and have it found for the catalogues.

    For texts kept in a constant, which are shown later by ``tr(constant)``.
    """
    return message
