"""Start, watch and stop the page server, and say so in plain words."""

from __future__ import annotations

import contextlib
import http.client
import importlib.util
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

from scenariokit.errors import ScenarioKitError

BOARD_NOTEBOOK = Path(__file__).parent / "board.ipynb"
DEFAULT_PORT = 8866
LOOPBACK = ("127.0.0.1", "localhost", "::1")
START_SECONDS = 90.0
STOP_SECONDS = 20.0


class ServeError(ScenarioKitError, RuntimeError):
    """The page cannot be served."""


class BoardServer:
    """A server of one notebook as a page, in a process of its own.

    Parameters
    ----------
    notebook : path, optional
        What to show; the comparison board if left out.
    host : str
        Address to listen on. Away from this computer's own address the page
        asks for a token, which `url` contains.
    port : int
        Wanted port; a free one is taken if it is in use, and for 0.

    Raises
    ------
    ServeError
        If there is no such notebook, or the parts for serving are not installed.

    Examples
    --------
    >>> server = BoardServer(host="127.0.0.1", port=0)
    >>> server.url.startswith("http://127.0.0.1:")
    True
    """

    def __init__(
        self,
        notebook: str | Path | None = None,
        host: str = "127.0.0.1",
        port: int = DEFAULT_PORT,
    ) -> None:
        self.notebook = Path(notebook or BOARD_NOTEBOOK).absolute()
        if not self.notebook.is_file():
            raise ServeError(f"There is no notebook {self.notebook}.")
        if importlib.util.find_spec("voila") is None:
            raise ServeError(
                "The parts that serve the board are missing; install them with:  "
                'pip install "scenariokit[app]"'
            )
        self.host = host
        self.port = free_port(host, port)
        self.token = "" if host in LOOPBACK else secrets.token_urlsafe(16)
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Address of the page."""
        shown = f"[{self.host}]" if ":" in self.host else self.host
        if self.host in ("0.0.0.0", "::"):  # noqa: S104 - compared with, not bound to
            shown = socket.gethostname()
        tail = f"?token={self.token}" if self.token else ""
        return f"http://{shown}:{self.port}/{tail}"

    def start(self) -> None:
        """Start the process and wait until it answers.

        Raises
        ------
        ServeError
            If it ends early or does not answer in time.
        """
        apart: dict[str, Any] = {}
        if sys.platform == "win32":
            apart["creationflags"] = subprocess.CREATE_NEW_PROCESS_GROUP
        else:
            apart["start_new_session"] = True  # Ctrl+C reaches us alone; we then close its input
        self._process = subprocess.Popen(
            [sys.executable, "-m", "scenariokit.serve.page_server"],
            stdin=subprocess.PIPE,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
            **apart,
        )
        asked = {
            "notebook": str(self.notebook),
            "host": self.host,
            "port": self.port,
            "token": self.token,
        }
        try:
            self._write(json.dumps(asked).encode() + b"\n")
            self._wait_until_it_answers()
        except BaseException:
            self.stop()
            raise

    def _write(self, line: bytes) -> None:
        if self._process is not None and self._process.stdin is not None:
            self._process.stdin.write(line)
            self._process.stdin.flush()

    def _wait_until_it_answers(self) -> None:
        """Ask for a file of the page, which starts no kernel, until an answer comes."""
        end = time.monotonic() + START_SECONDS
        while time.monotonic() < end:
            if not self.running:
                raise ServeError("The server ended before it answered; its own message is above.")
            if answers(self.host, self.port):
                return
            time.sleep(0.1)
        raise ServeError(f"The server did not answer within {START_SECONDS:.0f} seconds.")

    @property
    def running(self) -> bool:
        """Whether the process is alive."""
        return self._process is not None and self._process.poll() is None

    def stop(self) -> None:
        """End the server and all its kernels; does nothing if it has ended."""
        process, self._process = self._process, None
        if process is None:
            return
        if process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):  # it may have ended already
                process.stdin.close()
        try:
            process.wait(STOP_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    def __enter__(self) -> BoardServer:
        """Start."""
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop."""
        self.stop()


def answers(host: str, port: int) -> bool:
    """Return whether an HTTP server answers at this address."""
    reach = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104
    connection = http.client.HTTPConnection(reach, port, timeout=5)
    try:
        connection.request("GET", "/voila/static/voila.js")
        connection.getresponse().read()
    except (OSError, http.client.HTTPException):
        return False
    else:
        return True
    finally:
        connection.close()


def free_port(host: str, wanted: int) -> int:
    """Return `wanted` if nothing listens there, else a free port."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for port in (wanted, 0):
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            if sys.platform != "win32":
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError as error:
                if port == 0:
                    raise ServeError(f"Nothing can listen on {host}: {error.strerror}.") from error
                continue
            return int(probe.getsockname()[1])
    raise AssertionError("unreachable: port 0 binds or raises")


def open_page(url: str) -> bool:
    """Open `url` in the person's browser; return whether there was one."""
    try:
        browser = webbrowser.get()
    except webbrowser.Error:
        return False
    if type(browser) is webbrowser.GenericBrowser:
        return False  # a browser inside this terminal, which would take it over
    return browser.open(url)


def print_line(text: str) -> None:
    """Print a line at once, also into a pipe."""
    print(text, flush=True)


def serve(
    notebook: str | Path | None = None,
    host: str = "127.0.0.1",
    port: int = DEFAULT_PORT,
    browser: bool = True,
    say: Callable[[str], None] = print_line,
) -> int:
    """Serve until Ctrl+C or SIGTERM.

    Parameters
    ----------
    notebook, host, port
        As for `BoardServer`.
    browser : bool
        Open the page in the person's browser.
    say : callable
        Gets each line for the person.

    Returns
    -------
    int
        0 after a wanted stop, 1 if the server ended by itself.

    Raises
    ------
    ServeError
        If it cannot be started.
    """
    say("Starting the comparison board ...")
    server = BoardServer(notebook, host, port)
    before = signal.signal(signal.SIGTERM, _interrupt)
    try:
        return _watch(server, port, browser, say)
    except KeyboardInterrupt:
        say("\nStopping ...")
        return 0
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # a second Ctrl+C does not cut the end short
        server.stop()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGTERM, before)
        say("Stopped.")


def _watch(server: BoardServer, wanted: int, browser: bool, say: Callable[[str], None]) -> int:
    """Start, tell and wait."""
    if wanted not in (0, server.port):
        say(f"Port {wanted} is in use; taking {server.port} instead.")
    server.start()
    if server.token:
        say("Anyone in your network who has this whole address can use the board:")
    say(f"Open {server.url} ; stop with Ctrl+C")
    if browser and not open_page(server.url):
        say("No browser was found here; open the address yourself.")
    while server.running:
        time.sleep(0.2)
    say("The server ended by itself; its own message is above.")
    return 1


def _interrupt(_signal: int, _frame: Any) -> None:
    raise KeyboardInterrupt
