"""No text that a person meets is outside the catalogues: shown in a language of brackets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from pseudo_language import (
    bare,
    bare_words,
    bracketed,
    citations,
    column_names,
    demo_words,
    shown_texts,
)

from scenariokit.environment import WALL_VARIABLE

TESTS = (
    "Tukey",
    "Friedman",
    "Levene",
    "Shapiro",
    "Wilk",
    "Kruskal",
    "Wallis",
    "Nemenyi",
    "Dunnett",
)
"""Names of statistical tests, which are those of persons."""


@pytest.fixture(autouse=True)
def brackets(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with bracketed(monkeypatch):
        yield


def found_in(widget: Any) -> list[tuple[str, list[str], str]]:
    assert len(list(shown_texts(widget))) > 10  # else nothing was looked at
    return bare(widget, [*citations(), *demo_words(), *TESTS])


@pytest.mark.parametrize("view", ["methods", "choice", "water", "feed"])
def test_board_shows_no_text_outside_the_catalogues(view: str) -> None:
    from scenariokit.widgets import open_board

    assert found_in(open_board(view=view).widget) == []


@pytest.mark.parametrize(("method", "system"), [("wedge_pots", "us"), ("suspended_pot", "metric")])
def test_board_of_each_method_shows_no_text_outside_the_catalogues(
    method: str, system: str
) -> None:
    from scenariokit.widgets import open_board

    board = open_board()
    board.toolbar.values = {**board.toolbar.values, "focus": method, "system": system}
    assert board.state.focus == method
    for view in ("methods", "feed"):
        board.views.open_view(view)
        assert found_in(board.widget) == []


@pytest.mark.parametrize("source", ["trial", "single", "pool"])
def test_trial_desk_shows_no_text_outside_the_catalogues(source: str) -> None:
    from scenariokit.widgets import open_trial

    desk = open_trial()
    desk.toolbar.values = {**desk.toolbar.values, "source": source}
    assert desk.state.source == source
    assert found_in(desk.widget) == []


def test_planner_shows_no_text_outside_the_catalogues() -> None:
    from scenariokit.widgets import open_planner

    desk = open_planner()
    assert found_in(desk.widget) == []
    for design in ("randomised", "latin_square", "blocks"):
        desk.picks.values = {**desk.picks.values, "design": design}
        assert found_in(desk.widget) == []
    desk.picks.values = {**desk.picks.values, "varieties": "early white\nlate red"}
    assert found_in(desk.widget) == []
    desk.controls.values = {**desk.controls.values, "tank_count": 6}
    assert desk.status.value
    assert found_in(desk.widget) == []


def test_wall_with_and_without_rooms_shows_no_text_outside_the_catalogues(tmp_path: Any) -> None:
    from scenariokit.trials.demo_rooms import demo_rooms
    from scenariokit.widgets import open_wall

    wall = open_wall(tmp_path)
    assert found_in(wall.widget) == []
    for name, content in demo_rooms():
        (tmp_path / name).write_bytes(content)
    (tmp_path / "bad.csv").write_bytes(b"a,b\n1,2\n")
    wall.look(force=True)
    assert "Ducklings" in wall.files.value
    wall._load(demo_rooms()[:2])
    said = " ".join(one.stem for one in tmp_path.iterdir())  # what was kept has a name of its own
    names = {*column_names(), "csv", *re.findall(r"[A-Za-z]+", said)}
    assert [one for one in found_in(wall.widget) if not {*one[1]} <= names] == []


def test_wall_drop_shows_no_text_outside_the_catalogues(
    tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from scenariokit.trials.demo_rooms import demo_rooms
    from scenariokit.widgets import open_drop

    monkeypatch.delenv(WALL_VARIABLE, raising=False)
    assert bare(open_drop().widget) == []
    monkeypatch.setenv(WALL_VARIABLE, str(tmp_path))
    drop = open_drop()
    drop.send()
    assert bare(drop.widget) == []
    drop._choose(*demo_rooms()[0])
    drop.group.values = {"group": "12 34"}
    drop.send()
    drop.send()
    assert len(list(tmp_path.iterdir())) == 1
    assert bare(drop.widget) == []


@pytest.mark.parametrize("case", ["yield", "medium"])
def test_lesson_shows_no_text_outside_the_catalogues(case: str) -> None:
    from scenariokit import substrate, yields
    from scenariokit.widgets import explore

    app = {
        "yield": lambda: explore(yields.per_area, vary="area", answer="Yield",
                                 values={"mass": "12 kg", "area": "3 m^2"}),
        "medium": lambda: explore(substrate.mean_air_filled_porosity, vary="top",
                                  answer="Mean air-filled porosity",
                                  values={"bottom": "0 cm", "top": "20 cm"}),
    }[case]()  # fmt: skip
    assert found_in(app.widget) == []
    app.panel.values = {**app.panel.values, app.model.vary: -5.0}
    assert app.panel.errors
    names = {app.model.function.__name__, *app.model.values}  # what the message names: ids
    assert [
        one for one in found_in(app.widget) if not {*one[1]} <= {*"_".join(names).split("_")}
    ] == []


def test_serve_lobby_and_frame_show_no_text_outside_the_catalogues() -> None:
    from scenariokit.serve.lobby import lobby_html
    from scenariokit.serve.offers import OFFERS
    from scenariokit.serve.page_words import page_words

    for why in ("", "memory", "people", "stopping"):
        page = lobby_html(OFFERS, 3, 8, why, "http://10.0.0.1/#code")
        assert bare_words(page, ["width=device-width", "initial-scale", "http", "code",
                                 "English", "español", "français", "português"]) == []  # fmt: skip
    assert [text for text in page_words().values() if bare_words(text)] == []


def test_bare_words_are_found_where_they_stand() -> None:
    import ipywidgets as widgets

    from scenariokit.language import tr
    from scenariokit.widgets.field_panel import FieldPanel, choice_field

    panel = FieldPanel(
        prefix="x", fields=[choice_field("a", "Crop", [("id", "late"), ("b", tr("Yield"))])]
    )
    page = widgets.HTML(
        f"<p title='hint'>{tr('of {label}', label='potato')} <b>{tr('Yield')}</b></p>"
    )
    words = {word for _, said, _ in bare(widgets.VBox([panel, page])) for word in said}
    assert words == {"Crop", "late", "potato", "hint"}
