"""Text of other people made harmless for cells, scripts, styles and file names."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit.report.safe_text import (
    begins_formula,
    css_string,
    file_stem,
    one_line,
    script_json,
    short_name,
    without_controls,
)


@given(st.text())
def test_one_line_any_text_has_no_break_and_no_sign_that_turns_reading(text):
    assert not re.search(
        "[\n\r\x00\x1f\u202a-\u202e\u2066-\u2069\u2028\ud800-\udfff]", one_line(text)
    )


@given(st.text(alphabet=st.characters(codec=None)))
def test_without_controls_any_text_can_stand_in_xml(text):
    made = without_controls(text)
    assert re.fullmatch("[\t\n -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]*", made)


@given(st.text(min_size=1))
def test_script_json_any_text_reads_back_and_cannot_end_its_element(text):
    made = script_json({"name": text})
    assert json.loads(made)["name"] == text
    assert not set("<>&\u2028\u2029") & set(made)


@given(st.text())
def test_css_string_any_text_holds_no_sign_that_ends_string_or_element(text):
    inner = css_string(text)[1:-1]
    assert re.fullmatch(r"([A-Za-z0-9 ]|\\[0-9a-f]{6} )*", inner)


def test_css_string_comma_and_space_keep_their_space():
    # A style sheet takes one space after a number away.
    assert css_string("a, b") == r'"a\00002c  b"'


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@a", "\t=1", "\ra", "  =1", "\n=1"])
def test_begins_formula_signs_of_formulas_are_found(text):
    assert begins_formula(text)


@pytest.mark.parametrize("text", ["", "pots", "1-2", "a=b"])
def test_begins_formula_other_text_is_let_be(text):
    assert not begins_formula(text)


def test_short_name_long_text_is_cut_with_a_sign():
    assert short_name("x" * 300) == "x" * 119 + "…"
    assert short_name("pots") == "pots"


@pytest.mark.parametrize("text", ["../../etc/passwd", "a\x00b", "…", "CON:<>|"])
def test_file_stem_any_text_is_a_plain_name(text):
    assert re.fullmatch(r"[A-Za-z0-9_]{1,60}", file_stem(text))
