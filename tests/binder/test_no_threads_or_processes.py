"""What a browser's Python lacks is not needed: no thread, process or socket."""

from __future__ import annotations

import subprocess
import sys
import textwrap
import threading
from typing import NoReturn

import pytest

from scenariokit.widgets import board_closer, open_board

AS_IN_A_BROWSER = """
import sys
sys.platform = "emscripten"
for lacking in ("_posixsubprocess", "_multiprocessing", "_curses", "termios", "pwd",
                "dask", "distributed", "psutil", "pyarrow", "voila", "zmq"):
    sys.modules[lacking] = None
import socket, subprocess, threading, types, _thread
# The kernel of a page brings a stand-in that tells its version and little else.
sys.modules["ipykernel"] = types.ModuleType("ipykernel")
sys.modules["ipykernel"].version_info = (6, 18, 0)

def no_thread(*_given, **_named):
    raise RuntimeError("can't start new thread")

def no_process(*_given, **_named):
    raise OSError(138, "emscripten does not support processes.")

def no_socket(*_given, **_named):
    raise OSError(138, "no sockets")

threading.Thread.start = no_thread
_thread.start_new_thread = threading._start_new_thread = no_thread
subprocess.Popen.__init__ = no_process
socket.socket.connect = socket.socket.bind = no_socket
"""


def as_in_a_browser(code: str) -> subprocess.CompletedProcess[str]:
    """Run code in a fresh interpreter that lacks what a browser's lacks."""
    script = AS_IN_A_BROWSER + textwrap.dedent(code)
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)


def test_what_is_taken_away_is_missed() -> None:
    tries = """
    for does in (lambda: threading.Thread(target=print).start(), lambda: subprocess.run(["true"]),
                 lambda: socket.create_connection(("127.0.0.1", 9))):
        try:
            does()
        except (RuntimeError, OSError) as error:
            print(type(error).__name__, error)
    """
    run = as_in_a_browser(tries)
    assert run.stdout.count("\n") == 3, run.stderr
    assert "can't start new thread" in run.stdout


def test_scenarios_are_compared_and_drawn_without_them() -> None:
    run = as_in_a_browser("""
    from scenariokit.scenario import compare, scenario_for
    from scenariokit.uncertainty import ensemble, usual_uncertainty
    options = [scenario_for(name) for name in ("medium_bag", "paper_wrap")]
    print(len(compare(options).evaluations))
    print(ensemble(options, usual_uncertainty(options), 256, 1, ("cost_per_kilogram",)).outcomes.keys())
    """)
    assert run.stdout.split() == ["2", "dict_keys(['cost_per_kilogram'])"], run.stderr


def test_every_view_of_the_board_opens_without_them() -> None:
    run = as_in_a_browser("""
    from scenariokit.widgets import open_board
    board = open_board()
    for name in board.views.views:
        board.views.open_view(name)
        assert board.views.open == name
        assert "sk-caution" not in board.status.value, board.status.value
    print(*board.views.views)
    """)
    assert run.stdout.split() == ["methods", "choice", "water", "feed"], run.stderr


def test_a_closer_look_without_threads_is_taken_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_thread(_self: threading.Thread) -> NoReturn:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", no_thread)
    monkeypatch.setattr(board_closer, "CLOSER_DRAWS", 2**10)
    monkeypatch.setattr(board_closer, "SHARE_DRAWS", 2**7)
    board = open_board()
    board.views.open_view("choice")
    closer = board.choice.closer
    closer.look()
    assert "What would change" in closer.result.value
    assert not closer.running
    assert not closer.start.disabled
    assert closer.stop.disabled
