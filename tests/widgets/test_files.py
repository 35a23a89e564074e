"""The controls for files, with a simulated page."""

from __future__ import annotations

import logging
from typing import Any

import pytest

from scenariokit.errors import ScenarioKitError
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver


def answers_of(widget: Any, monkeypatch: pytest.MonkeyPatch) -> list[tuple[dict[str, Any], Any]]:
    """Return the list to which every message that `widget` sends is added."""
    sent: list[tuple[dict[str, Any], Any]] = []
    monkeypatch.setattr(
        widget, "send", lambda content, buffers=None: sent.append((content, buffers))
    )
    return sent


def arrive(picker: FilePicker, name: str, content: bytes) -> None:
    """Do what a page does when a file was chosen."""
    picker._handle_custom_msg({"kind": "file", "name": name}, [memoryview(content)])


def test_file_picker_file_reaches_the_reader_and_its_words_are_shown() -> None:
    picker = FilePicker(label="Prices")
    got: list[tuple[str, bytes]] = []

    def reader(name: str, content: bytes) -> str:
        got.append((name, content))
        return "Two prices were read."

    picker.on_file(reader)
    arrive(picker, "prices.csv", b"a,b")
    assert got == [("prices.csv", b"a,b")]
    assert (picker.message, picker.refused) == ("Two prices were read.", False)


def test_file_picker_same_file_twice_is_answered_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    picker = FilePicker()
    picker.on_file(lambda name, content: None)
    sent = answers_of(picker, monkeypatch)
    arrive(picker, "a.csv", b"12")
    arrive(picker, "a.csv", b"12")
    assert [content["text"] for content, _ in sent] == ["a.csv has arrived (2 bytes)."] * 2


def test_file_picker_error_of_ours_is_shown_as_refusal() -> None:
    picker = FilePicker()

    def reader(name: str, content: bytes) -> None:
        raise ScenarioKitError("row 3: price: not a number")

    picker.on_file(reader)
    arrive(picker, "a.csv", b"12")
    assert (picker.message, picker.refused) == ("row 3: price: not a number", True)


def test_file_picker_fault_is_logged_and_said_plainly(caplog: pytest.LogCaptureFixture) -> None:
    picker = FilePicker()
    picker.on_file(lambda name, content: str(1 / 0))
    with caplog.at_level(logging.ERROR):
        arrive(picker, "a.csv", b"12")
    assert picker.refused
    assert "fault in this program" in picker.message
    assert "ZeroDivisionError" in caplog.text


def test_file_picker_file_above_the_limit_never_reaches_the_reader() -> None:
    picker = FilePicker(max_bytes=3)
    got: list[bytes] = []
    picker.on_file(lambda name, content: got.append(content))
    arrive(picker, "a.csv", b"1234")
    arrive(picker, "b.csv", b"123")
    assert got == [b"123"]


def test_file_saver_press_answers_the_view_that_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    saver = FileSaver(lambda: "naïve", filename="a.csv", mime="text/csv")
    sent = answers_of(saver, monkeypatch)
    saver._handle_custom_msg({"kind": "want", "view": "7"}, [])
    saver._handle_custom_msg({"kind": "other"}, [])
    answer = {"kind": "content", "view": "7", "filename": "a.csv", "mime": "text/csv"}
    assert sent == [(answer, ["naïve".encode()])]


@pytest.mark.parametrize(
    ("error", "words"),
    [(ScenarioKitError("No method is chosen."), "No method is chosen."), (KeyError("x"), "fault")],
)
def test_file_saver_failing_content_is_refused_in_words(
    error: Exception, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def make() -> str:
        raise error

    saver = FileSaver(make)
    sent = answers_of(saver, monkeypatch)
    saver._handle_custom_msg({"kind": "want", "view": "1"}, [])
    ((answer, _),) = sent
    assert answer["kind"] == "refused"
    assert words in answer["text"]


def test_file_picker_several_files_reach_the_reader_together() -> None:
    picker = FilePicker(label="Records", multiple=True)
    got: list[list[tuple[str, bytes]]] = []

    def reader(files: list[tuple[str, bytes]]) -> str:
        got.append(files)
        return "Pooled."

    picker.on_files(reader)
    content = {"kind": "files", "names": ["a.csv", "b.csv"]}
    picker._handle_custom_msg(content, [memoryview(b"1"), memoryview(b"22")])
    assert got == [[("a.csv", b"1"), ("b.csv", b"22")]]
    assert (picker.message, picker.refused) == ("Pooled.", False)


def test_file_picker_several_files_too_large_together_are_refused() -> None:
    picker = FilePicker(multiple=True, max_bytes=3)
    picker.on_files(lambda files: pytest.fail("too large"))
    content = {"kind": "files", "names": ["a.csv", "b.csv"]}
    picker._handle_custom_msg(content, [memoryview(b"12"), memoryview(b"34")])
    assert picker.refused
    assert "2 files are too large together; at most 3 bytes" in picker.message
    picker._handle_custom_msg({"kind": "files", "names": ["a.csv"]}, [memoryview(b"1234")])
    assert "a.csv is too large" in picker.message


def test_file_picker_message_of_another_kind_is_left_alone() -> None:
    picker = FilePicker()
    picker.on_file(lambda name, content: pytest.fail("no file came"))
    picker._handle_custom_msg({"kind": "something else"}, [])
    assert picker.message == ""
