"""Every text of code, glossary, tables and lessons is in every language's catalogue."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenariokit.language import languages
from scenariokit.language.choosing import CATALOGUES
from scenariokit.wording import collected, compiled, problems_of, read_catalogue, renewed
from scenariokit.wording.collecting import PACKAGE
from scenariokit.wording.files import written

LESSONS = Path(__file__).parent.parent.parent / "notebooks"
OTHERS = [code for code in languages() if code != "en"]


@pytest.fixture(scope="module")
def texts() -> list[object]:
    return list(collected(LESSONS))


@pytest.mark.parametrize("code", OTHERS)
def test_catalogue_lacks_no_text_and_holds_none_too_many(code: str, texts: list) -> None:
    have = {one.id if isinstance(one.id, str) else one.id[0] for one in read_catalogue(code)} - {""}
    want = {one.message for one in texts}
    assert (sorted(want - have), sorted(have - want)) == ([], []), "renew the catalogues"


@pytest.mark.parametrize("code", OTHERS)
def test_catalogue_says_every_text_with_its_placeholders_and_tags(code: str) -> None:
    assert problems_of(read_catalogue(code)) == []


@pytest.mark.parametrize("code", OTHERS)
def test_files_of_a_catalogue_are_as_renewal_writes_them(code: str, texts: list) -> None:
    folder = CATALOGUES / code / "LC_MESSAGES"
    catalogue = renewed(code, texts)
    wanted = {"scenariokit.po": written(catalogue), "scenariokit.mo": compiled(catalogue)}
    # By name: to show where such files differ would take minutes.
    old = [name for name, content in wanted.items() if (folder / name).read_bytes() != content]
    assert old == [], "renew the catalogues"


@pytest.mark.parametrize("code", OTHERS)
def test_catalogue_is_a_translation_and_not_a_copy(code: str, texts: list) -> None:
    sentences = [
        one for one in read_catalogue(code) if isinstance(one.id, str) and one.id.count(" ") > 3
    ]
    alike = [one.id for one in sentences if one.string == one.id]
    assert len(sentences) > 500
    assert alike == []


def test_text_that_depends_on_a_number_says_one_otherwise_than_many(texts: list) -> None:
    counted = [one for one in texts if one.plural]
    assert len(counted) > 20
    assert [one.message for one in counted if one.message == one.plural] == []


def test_problems_are_found_in_a_bad_catalogue() -> None:
    catalogue = read_catalogue("es")
    catalogue.add("{count:.1f} plots of <b>oats</b>", "{count} parcelas de avena")
    catalogue.add("left open", "")
    catalogue.add("broken {brace}", "roto {brace")
    catalogue.add("edge", " borde")
    catalogue.add(("one {thing}", "many {thing}"), ("una {thing}", "muchas"))
    found = "\n".join(problems_of(catalogue))
    for words in ("has the placeholders", "has other HTML tags", "is missing", "expected '}'",
                  "begins or ends with a blank", "'one {thing}'"):  # fmt: skip
        assert words in found


def _calls() -> Iterator[tuple[str, ast.Call]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.is_relative_to(PACKAGE / "language"):
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            if node.func.id in ("tr", "tr_n", "mark"):
                yield f"{path.relative_to(PACKAGE)}:{node.lineno}", node


def test_no_text_is_glued_together_before_it_is_looked_up() -> None:
    glued = [
        place
        for place, call in _calls()
        if any(isinstance(one, ast.JoinedStr | ast.BinOp) for one in call.args)
    ]
    assert glued == []


def test_every_placeholder_of_a_text_is_given_its_value() -> None:
    from scenariokit.wording.checking import placeholders

    wrong = []
    for place, call in _calls():
        first = call.args[0]
        if not isinstance(first, ast.Constant) or any(one.arg is None for one in call.keywords):
            continue
        names = {name for name, _, _ in placeholders(first.value)} if call.keywords else set()
        given = {one.arg for one in call.keywords}
        if call.func.id == "tr_n":  # type: ignore[attr-defined]
            names -= {"count"}
        if call.func.id != "mark" and names != given:  # type: ignore[attr-defined]
            wrong.append((place, sorted(names ^ given)))
    assert wrong == []


def test_nothing_is_translated_while_modules_load() -> None:
    early = []
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        inside = {
            id(inner)
            for node in ast.walk(tree)
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            for part in (node.body if isinstance(node.body, list) else [node.body])
            for inner in ast.walk(part)
        }
        early += [
            f"{path.relative_to(PACKAGE)}:{node.lineno}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            if node.func.id in ("tr", "tr_n") and id(node) not in inside
        ]
    assert early == []
