"""Which language is in use, and what stands in for one that is not there."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest

from scenariokit import language as room
from scenariokit.language import LanguageError, best_language, language_as, languages, tr


def test_languages_begin_with_english_and_name_themselves() -> None:
    found = languages()
    assert next(iter(found)) == "en"
    assert found == {"en": "English", "es": "español", "fr": "français", "pt": "português"}


def test_use_language_changes_every_later_text() -> None:
    before = tr("Yield")
    room.use_language("es")
    try:
        assert room.language() == "es"
        assert tr("Yield") != before
    finally:
        room.use_language("en")
    assert tr("Yield") == before


@pytest.mark.parametrize("code", ["de", "", "../fr", "es/../fr", "e" * 99, "<b>"])
def test_use_language_of_none_we_have_is_refused_by_name(code: str) -> None:
    with pytest.raises(LanguageError, match="there is no catalogue; those are: en, es, fr, pt"):
        room.use_language(code)
    assert room.language() == "en"


def test_language_as_holds_in_its_own_thread_only() -> None:
    seen = []
    with language_as("fr"):
        other = threading.Thread(target=lambda: seen.append(room.language()))
        other.start()
        other.join()
        assert room.language() == "fr"
    assert (seen, room.language()) == (["en"], "en")


def test_language_as_ends_after_an_error() -> None:
    with pytest.raises(RuntimeError), language_as("pt"):
        raise RuntimeError
    assert room.language() == "en"


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        ("pt-BR,pt;q=0.9,en;q=0.5", "pt_BR"),
        ("de, fr;q=0.4, es;q=0.7", "es"),
        ("de", "en"),
        ("", "en"),
        ("fr;q=0, es;q=0.1", "es"),
        ("fr;q=rubbish", "en"),
        ("*", "en"),
        ("en-GB, fr", "en_GB"),
    ],
)
def test_best_language_follows_the_weights_of_the_header(header: str, wanted: str) -> None:
    assert best_language(header) == wanted


def test_variable_of_the_environment_sets_the_first_language() -> None:
    code = "from scenariokit.language import language; print(language())"
    for value, wanted in (("es-MX", "es_MX"), ("klingon", "en"), ("", "en")):
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True,
            env={"SCENARIOKIT_LANGUAGE": value},
        )  # fmt: skip
        assert done.stdout.strip() == wanted
