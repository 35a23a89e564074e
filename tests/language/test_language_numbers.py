"""Numbers, dates and lists by language, against the Unicode CLDR data that Babel carries."""

from __future__ import annotations

import datetime

import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from scenariokit.language import (
    date_text,
    language_as,
    list_text,
    month_name,
    month_short,
    number_text,
    signs,
)


@pytest.mark.parametrize("code", ["en", "es", "es_MX", "fr", "fr_CA", "pt", "pt_PT"])
@given(value=st.floats(-1e9, 1e9).filter(lambda one: abs(one) >= 1e4 or abs(one) < 1e3))
def test_number_text_agrees_with_cldr(code: str, value: float) -> None:
    # Between 1,000 and 9,999 Spanish and European Portuguese leave the group sign out; ours is kept.
    exact = format(value, ".2f")
    from decimal import Decimal

    with language_as(code):
        wanted = format_decimal(Decimal(exact), format="#,##0.00", locale=code)
        assert number_text(value, ",.2f") == wanted


def test_number_text_without_grouping_only_changes_the_decimal_sign() -> None:
    with language_as("fr"):
        assert number_text(1234.5, ".2f") == "1234,50"
        assert number_text(0.00012, ".1e") == "1,2e-04"
        assert number_text(7) == "7"


def test_territory_decides_the_signs() -> None:
    with language_as("es"):
        assert signs() == (",", ".")
    with language_as("es_MX"):
        assert signs() == (".", ",")


def test_dates_and_months_are_words_of_the_language() -> None:
    day = datetime.date(2026, 5, 3)
    with language_as("es"):
        assert date_text(day) == "3 de mayo de 2026"
        assert (month_name(8), month_short(8)) == ("agosto", "ago")
    with language_as("fr"):
        assert date_text(day) == "3 mai 2026"
    with language_as("pt"):
        assert date_text(day) == "3 de maio de 2026"
    assert (month_name(1), month_short(12)) == ("January", "Dec")


@pytest.mark.parametrize(
    ("words", "wanted"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b, c", "d"], "a; b, c and d")],
)
def test_list_text_joins_for_a_sentence(words: list[str], wanted: str) -> None:
    assert list_text(words) == wanted
