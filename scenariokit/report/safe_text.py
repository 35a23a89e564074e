"""Text that a person may have written, made harmless for the file that it goes into."""

from __future__ import annotations

import json
import re
from typing import Any

_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
_TURNS = re.compile("[\u202a-\u202e\u2066-\u2069]")
"""Signs that turn the direction of reading, so that a name can look like another."""
_SURROGATES = re.compile("[\ud800-\udfff]")
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
LONGEST_CELL = 32_000
"""Signs of a cell; spreadsheets hold 32,767."""
LONGEST_NAME = 120


def one_line(text: str) -> str:
    r"""Return `text` on one line, without signs that control or turn what is shown.

    Examples
    --------
    >>> one_line("two\nlines\x07")
    'two lines'
    """
    flat = " ".join(text.replace("\t", " ").replace("\r", "\n").split("\n"))
    return without_controls(flat).strip()


def without_controls(text: str) -> str:
    """Return `text` with only such signs as XML can hold, and none that turn what is shown."""
    return _SURROGATES.sub("", _TURNS.sub("", _CONTROLS.sub("", text)))


def short_name(text: str, longest: int = LONGEST_NAME) -> str:
    """Return `text` on one line of at most `longest` signs, for a heading."""
    flat = one_line(text)
    return flat if len(flat) <= longest else f"{flat[: longest - 1].rstrip()}…"


def begins_formula(text: str) -> bool:
    """Return whether a spreadsheet would take `text` for a formula.

    Examples
    --------
    >>> begins_formula("=1+1"), begins_formula(" @SUM(A1)"), begins_formula("pots")
    (True, True, False)
    """
    return text[:1] in _FORMULA_SIGNS or text.lstrip()[:1] in _FORMULA_SIGNS


def css_string(text: str) -> str:
    """Return `text` as a string of a style sheet, with its quotation marks.

    Every sign but letters, digits and spaces is written as a number, so that none can
    end the string, the rule or the element that holds the sheet.
    """
    made = "".join(
        sign if (sign.isalnum() and sign.isascii()) or sign == " " else f"\\{ord(sign):06x} "
        for sign in one_line(text)
    )
    return f'"{made}"'


def script_json(value: Any) -> str:
    """Return `value` as JSON that can stand inside an HTML script element.

    Examples
    --------
    >>> "</script>" in script_json({"name": "</script><script>"})
    False
    """
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def file_stem(text: str) -> str:
    """Return `text` as a file name without ending: ASCII letters, digits and underscores.

    Examples
    --------
    >>> file_stem("../pots & bags")
    'pots_bags'
    """
    return re.sub(r"[^A-Za-z0-9]+", "_", text).strip("_")[:60] or "scenario"
