"""Scripts of pages hold no text of their own: what a person reads comes from Python."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenariokit.wording.collecting import PACKAGE

SCRIPTS = sorted(
    path for path in PACKAGE.rglob("*.js")
    if "vendor" not in path.parts and "node_modules" not in path.parts
)  # fmt: skip
ALLOWED = {
    # For whoever looks into a console, never on the page.
    "the clipboard is closed to this page",
    "charts load nothing, so not ",
    "use strict",
}
"""Parts of literals that are no text of a page."""
_COMMENT = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL)
_CALL = re.compile(
    r"(?:console\.\w+|new Error|querySelector(?:All)?|closest|matches|classList\.\w+)\($"
)
_WORD = re.compile(r"[A-Za-zÀ-ÿ]{2,}")


def literals(source: str) -> Iterator[tuple[str, str]]:
    """Yield each literal outside comments, with what stands before it on its line."""
    place, size = 0, len(source)
    while place < size:
        comment = _COMMENT.match(source, place)
        if comment:
            place = comment.end()
            continue
        sign = source[place]
        if sign == "/" and _regex_begins(source, place):
            place = _end_of_regex(source, place)
        elif sign in "'\"`":
            end = place + 1
            while end < size and source[end] != sign:
                end += 2 if source[end] == "\\" else 1
            yield source[place + 1 : end], source[source.rfind("\n", 0, place) + 1 : place]
            place = end + 1
        else:
            place += 1


def _regex_begins(source: str, place: int) -> bool:
    before = source[:place].rstrip()
    return bool(before) and before[-1] in "(,=:[!&|?{};" and source[place + 1] not in "/*"


def _end_of_regex(source: str, place: int) -> int:
    inside, place = False, place + 1
    while source[place] != "/" or inside:
        if source[place] == "\\":
            place += 1
        elif source[place] in "[]":
            inside = source[place] == "["
        place += 1
    return place + 1


def texts(source: str) -> list[str]:
    """Return the literals that read as text: words with a blank between, no selector, no class."""
    found = []
    for literal, before in literals(source):
        said = re.sub(r"\$\{[^}]*\}", "0", literal)
        if "<" in said:
            said = re.sub(r"<[^>]*>", " ", said)
        if _CALL.search(before.rstrip()) or any(one in literal for one in ALLOWED):
            continue
        if re.search(r"[.#\[=>{]", said) and not re.search(r"[a-z] [a-z]+ [a-z]", said):
            continue  # a selector, an address or a style
        if all("-" in word for word in said.split()):
            continue  # a list of classes or ids
        if len(_WORD.findall(said)) > 1 and " " in said.strip():
            found.append(literal)
    return found


def visible(source: str) -> list[str]:
    """Return the literals with a word that go straight to what a person sees or hears."""
    straight = re.compile(
        r"""(?:(?:textContent|innerText|title|alt|placeholder|ariaLabel)\s*=\s*|"""
        r"""["']?(?:aria-label|title|alt|placeholder)["']?\s*[:,]\s*|alert\()(["'`])([^"'`]*)\1"""
    )
    cleaned = _COMMENT.sub(" ", source)
    return [
        said for _, said in straight.findall(cleaned)
        if re.search(r"[A-Za-z]{2}", re.sub(r"\$\{[^}]*\}", "", said))
    ]  # fmt: skip


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_script_holds_no_text(path: Path) -> None:
    source = path.read_text("utf-8")
    assert texts(source) == []
    assert visible(source) == []


def test_scripts_are_found() -> None:
    names = {path.name for path in SCRIPTS}
    assert {"field_panel.js", "chart_view.js", "page_link.js", "standalone.js"} <= names


def test_text_in_a_script_is_found() -> None:
    source = """
    // A comment's text is none.
    const made = element("p", "sk-a sk-b", "The board is kept.");
    console.info("not for the page");
    const one = plot.querySelector("figure .sk-plot");
    const pattern = /it's "no" text/;
    button.setAttribute("aria-label", "Close"); status.textContent = `Saved ${name}`;
    """
    assert texts(source) == ["The board is kept."]
    assert visible(source) == ["Close", "Saved ${name}"]
