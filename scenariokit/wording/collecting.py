"""Find every text that a person can meet: in the code, the glossary, the tables and the lessons."""

from __future__ import annotations

import ast
import csv
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGE = Path(__file__).parent.parent
TABLES = PACKAGE / "catalog" / "data"
SHOWN_COLUMNS = ("label", "summary", "hazard", "food_contact_note")
"""Columns of the shipped tables that are shown; sources and remarks stay as they were read."""

SHOWN_SOURCES = (
    "crops",
    "methods",
    "mixes",
    "prices_dunmarrow",
    "prices_tern_hollow",
    "sheets",
    "sites",
)
"""Tables of which a source that cites nothing, such as "from memory", is shown beside an input."""

SHOWN_SCHEMAS = (PACKAGE / "trials" / "records" / "plot_record.json",)
"""Descriptions of tables whose columns' titles are shown."""

KEYWORDS = ("tr", "mark", "tr_n")
LESSON_WORDS = ("answer", "title", "label", "heading")
"""Arguments of the lesson apps that are shown."""

_CITATION = re.compile(r"\d")


@dataclass(frozen=True)
class CatalogueText:
    """One text for the catalogues.

    Parameters
    ----------
    message : str
        The English text.
    plural : str
        The English text for many, or an empty text.
    places : tuple of str
        Files that say it, relative to the package or the lessons' folder.
    """

    message: str
    plural: str
    places: tuple[str, ...]


def collected(lessons: Path | None = None) -> list[CatalogueText]:
    """Return every text, each once, in the order of the places that say it.

    Parameters
    ----------
    lessons : path, optional
        Folder of notebooks whose apps are given texts.
    """
    found: dict[tuple[str, str], list[str]] = {}
    for message, plural, place in _all(lessons):
        if message.strip():
            places = found.setdefault((message, plural), [])
            if place not in places:
                places.append(place)
    plurals = {message for message, plural in found if plural}
    return [
        CatalogueText(message, plural, tuple(places))
        for (message, plural), places in found.items()
        if plural or message not in plurals
    ]


def _all(lessons: Path | None) -> Iterator[tuple[str, str, str]]:
    yield from _from_code()
    for text in _from_descriptions():
        yield text, "", "glossary"
    for path in SHOWN_SCHEMAS:
        for text in _from_schema(path):
            yield text, "", path.relative_to(PACKAGE).as_posix()
    for path in sorted(TABLES.glob("*.csv")):
        for text in _from_table(path):
            yield text, "", f"catalog/data/{path.name}"
    if lessons is not None:
        for path in sorted(lessons.glob("*.ipynb")):
            for text in _from_lesson(path):
                yield text, "", f"notebooks/{path.name}"


def _from_code() -> Iterator[tuple[str, str, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(PACKAGE).as_posix()
        # Babel's own reader sees no call inside an f-string or inside another call.
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                if node.func.id not in KEYWORDS:
                    continue
                said = [
                    one.value
                    for one in node.args[:2]
                    if isinstance(one, ast.Constant) and isinstance(one.value, str)
                ]
                if node.func.id == "tr_n" and len(said) == 2:
                    yield said[0], said[1], place
                elif node.func.id != "tr_n" and said:
                    yield said[0], "", place


def _from_descriptions() -> Iterator[str]:
    """Yield what the glossary says of parameters, the outcomes' words, and the price lists' names."""
    from scenariokit.catalog import price_lists
    from scenariokit.glossary import PARAMETERS
    from scenariokit.scenario import OUTCOMES

    for row in PARAMETERS.values():
        yield from (row.label, row.help, row.topic.capitalize())
        if not _CITATION.search(row.source):
            yield row.source
    for outcome in OUTCOMES.values():
        yield from (outcome.label, outcome.group, outcome.formula)
    for listed in price_lists().values():
        yield listed.label


def _from_table(path: Path) -> Iterator[str]:
    with path.open(encoding="utf-8", newline="") as text:
        for row in csv.DictReader(text):
            yield from (row[column] for column in SHOWN_COLUMNS if row.get(column))
            if path.stem in SHOWN_SOURCES and not _CITATION.search(row["source"]):
                yield row["source"]


def _from_schema(path: Path) -> Iterator[str]:
    for field in json.loads(path.read_text("utf-8"))["fields"]:
        yield from (field[name] for name in ("title", "description") if field.get(name))


def _from_lesson(path: Path) -> Iterator[str]:
    cells: Iterable[dict[str, object]] = json.loads(path.read_text("utf-8"))["cells"]
    for cell in cells:
        if cell["cell_type"] != "code":
            continue
        for node in ast.walk(ast.parse("".join(cell["source"]))):  # type: ignore[arg-type]
            if isinstance(node, ast.keyword) and node.arg in LESSON_WORDS:
                value = node.value
                if isinstance(value, ast.Constant) and isinstance(value.value, str):
                    yield value.value
