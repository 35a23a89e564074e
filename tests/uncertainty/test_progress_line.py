"""The line that shows how far a long computation is."""

from __future__ import annotations

import io

import pytest

from scenariokit.uncertainty import ProgressLine, Stopped


def shown(times, steps):
    clock, stream = iter(times), io.StringIO()
    with ProgressLine("draws", stream=stream, clock=lambda: next(clock)) as line:
        for done, total in steps:
            line(done, total)
    return stream.getvalue()


def test_progress_line_short_computation_shows_nothing():
    assert shown([0, 0, 0.4, 0.9], [(1, 2), (2, 2)]) == ""


def test_progress_line_is_drawn_over_itself_after_a_second():
    text = shown([0, 0, 0.5, 1.5], [(1, 4), (2, 4), (4, 4)])
    lines = text.split("\r")
    assert lines[0] == ""
    assert lines[1] == f"[{'#' * 20}{'.' * 20}] 2 of 4 draws"
    assert lines[2] == f"[{'#' * 40}] 4 of 4 draws\n"


def test_progress_line_of_nothing_is_empty():
    assert "." * 40 in shown([0, 0, 5], [(0, 0)])


def test_progress_line_ends_its_line_when_stopped():
    stream = io.StringIO()

    def broken_off():
        with ProgressLine(stream=stream, patience=0) as line:
            line(1, 2)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert stream.getvalue().endswith("\n")


def test_progress_line_goes_to_standard_error(capsys):
    with ProgressLine(patience=0) as line:
        line(1, 2)
    assert "1 of 2 draws" in capsys.readouterr().err


def test_stopped_is_one_of_our_errors():
    with pytest.raises(Stopped, match="by a person"):
        raise Stopped("by a person")
