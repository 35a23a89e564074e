"""Texts: filled in, translated, and safe with what a person gives."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.language import language_as, languages, mark, tr, tr_n


def test_tr_without_values_leaves_braces_alone() -> None:
    assert tr("{kept}") == "{kept}"


def test_tr_of_an_unknown_text_is_that_text_in_every_language() -> None:
    for code in languages():
        with language_as(code):
            assert tr("My bag {of} 100 % dreams") == "My bag {of} 100 % dreams"
            assert tr("") == ""


def test_tr_writes_numbers_with_the_signs_of_the_language() -> None:
    text = "no such text {a:.2f} {b:,} {c} {d:g}"
    with language_as("es"):
        filled = tr(text, a=np.float64(1.5), b=1234567, c=0.25, d=True)
    assert filled == "no such text 1,50 1.234.567 0,25 1"


def test_tr_of_a_value_never_reads_into_it() -> None:
    for code in ("en", "es"):
        with language_as(code):
            assert tr("a name: {name}", name="{0.__class__}").endswith("{0.__class__}")


def test_tr_with_a_name_missing_is_an_error_in_every_language() -> None:
    for code in ("en", "fr"):
        with language_as(code), pytest.raises(KeyError, match="name"):
            tr("a name: {name}", other=1)


def test_tr_n_follows_the_rule_of_each_language() -> None:
    one, many = "{count} problem", "{count} problems"
    assert [tr_n(one, many, count) for count in (0, 1, 2)] == [
        "0 problems",
        "1 problem",
        "2 problems",
    ]
    with language_as("fr"):  # zero is singular in French
        assert tr_n(one, many, 0).split()[1] == tr_n(one, many, 1).split()[1]
        assert tr_n(one, many, 2) != tr_n(one, many, 1).replace("1", "2")


def test_mark_changes_nothing() -> None:
    assert mark("Usual yield") == "Usual yield"
