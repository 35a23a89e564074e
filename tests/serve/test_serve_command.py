"""What ``scenariokit serve`` makes of its options."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from scenariokit import language as languages
from scenariokit.cli import main
from scenariokit.environment import WALL_VARIABLE
from scenariokit.serve import RoomWish, command
from scenariokit.serve.offers import OFFERS, WALL, offer_of, offers_of_a_room


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """The calls of `serve`, which are not carried out; what they leave behind is put back."""
    calls: list[Any] = []
    monkeypatch.setenv(WALL_VARIABLE, "")
    monkeypatch.setattr(command, "serve", lambda *given, **named: calls.append((given, named)) or 0)
    return calls


def test_serve_without_options_is_one_board_on_this_computer(served: list[Any]) -> None:
    assert main(["serve"]) == 0
    assert served == [((None, "127.0.0.1", 8866), {"browser": True, "room": None})]


def test_serve_room_carries_its_wishes_on(served: list[Any]) -> None:
    asked = ["--room", "--people", "12", "--ready", "3", "--token", "openSesame42", "--one-by-one"]
    assert main(["serve", *asked]) == 0
    assert served[0][1]["room"] == RoomWish(12, 3, "openSesame42", False)


@pytest.mark.parametrize("option", [["--people", "3"], ["--ready", "1"], ["--token", "abcdefgh12"],
                                    ["--one-by-one"], ["--wall", "."]])  # fmt: skip
def test_serve_options_of_a_room_need_one(
    served: list[Any], option: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["serve", *option]) == 2
    assert "add --room" in capsys.readouterr().err
    assert served == []


def test_serve_wall_names_its_folder_to_the_boards(served: list[Any], tmp_path: Path) -> None:
    assert main(["serve", "--room", "--wall", str(tmp_path)]) == 0
    assert os.environ[WALL_VARIABLE] == str(tmp_path)
    assert offers_of_a_room(str(tmp_path)) == (*OFFERS, WALL)
    assert offer_of(WALL.notebook) is WALL
    assert WALL.notebook.is_file()


def test_serve_wall_without_its_folder_is_refused_by_name(
    served: list[Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["serve", "--room", "--wall", str(tmp_path / "none")]) == 2
    assert "--wall: there is no folder" in capsys.readouterr().err
    assert (served, os.environ[WALL_VARIABLE]) == ([], "")


def test_room_without_a_wall_offers_none() -> None:
    assert offers_of_a_room("") == OFFERS


def test_serve_language_is_used_from_there_on(served: list[Any]) -> None:
    try:
        assert main(["serve", "--language", "pt"]) == 0
        assert languages.language() == "pt"
    finally:
        languages.use_language("en")
