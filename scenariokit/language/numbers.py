"""Numbers, dates and lists as they are written in the language in use."""

from __future__ import annotations

import datetime
import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from scenariokit.language.choosing import ENGLISH, language, language_as

if TYPE_CHECKING:
    from babel import Locale


@functools.cache
def _locale(code: str) -> Locale:
    from babel import Locale

    return Locale.parse(code)


@functools.cache
def _signs(code: str) -> tuple[str, str]:
    if code == ENGLISH:
        return ".", ","
    symbols = _locale(code).number_symbols["latn"]
    return symbols["decimal"], symbols["group"]


def signs() -> tuple[str, str]:
    """Return the decimal sign and the sign between thousands (Unicode CLDR, through Babel)."""
    return _signs(language())


@functools.cache
def _exchange(code: str) -> dict[int, str]:
    decimal, group = _signs(code)
    return str.maketrans({".": decimal, ",": group})


def number_text(value: Any, pattern: str = "") -> str:
    """Return a number as text, with the signs of the language in use.

    Parameters
    ----------
    value : float or int
        The number.
    pattern : str
        Python's format specification, for example ``".2f"`` or ``",.0f"``.

    Examples
    --------
    >>> from scenariokit.language import language_as
    >>> number_text(1234.5, ",.2f")
    '1,234.50'
    >>> with language_as("es"):
    ...     number_text(1234.5, ",.2f")
    '1.234,50'
    """
    text = format(value, pattern)
    code = language()
    if code == ENGLISH:
        return text
    said = text.translate(_exchange(code))
    return f"{said[:-1]}\N{NO-BREAK SPACE}%" if said.endswith("%") else said


def date_text(date: datetime.date) -> str:
    """Return a date as it is written in the language in use.

    Examples
    --------
    >>> import datetime
    >>> date_text(datetime.date(2026, 5, 3))
    'May 3, 2026'
    """
    from babel.dates import format_date

    return format_date(date, format="long", locale=_locale(language()))


@functools.cache
def _written(code: str) -> tuple[str, ...]:
    with language_as(code):
        return (code.split("_")[0], *signs(), date_text(datetime.date(2026, 3, 4)))


def written_alike(code: str, other: str) -> bool:
    """Return whether pages in two languages read alike: the same words, signs and dates.

    Examples
    --------
    >>> written_alike("en", "en_US"), written_alike("es", "es_MX")
    (True, False)

    Raises
    ------
    LanguageError
        If there is no catalogue for one of them.
    """
    return code == other or _written(code) == _written(other)


def month_name(month: int) -> str:
    """Return the name of a month, 1 to 12, as it stands alone.

    Examples
    --------
    >>> month_name(5)
    'May'
    """
    return _month(month, "wide", language())


def month_short(month: int) -> str:
    """Return the short name of a month, 1 to 12, as it stands alone."""
    return _month(month, "abbreviated", language())


@functools.cache
def _month(month: int, width: str, code: str) -> str:
    from babel.dates import get_month_names

    return str(get_month_names(width, "stand-alone", _locale(code))[month])  # type: ignore[arg-type]


def list_text(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> list_text(["pots", "trays", "bags"])
    'pots, trays and bags'
    """
    from scenariokit.language.texts import tr

    if len(words) < 2:
        return "".join(words)
    between = "; " if any("," in word for word in words) else ", "
    return tr("{words} and {last}", words=between.join(words[:-1]), last=words[-1])
