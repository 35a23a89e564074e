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
from dataclasses import asdict, dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

from scenariokit.errors import ScenarioKitError
from scenariokit.language import language, tr, tr_n
from scenariokit.serve.addresses import ANY, LOOPBACK, address_of, lan_address, other_addresses
from scenariokit.serve.limits import Limits, limits_for_one, limits_for_room

BOARD_NOTEBOOK = Path(__file__).parent / "board.ipynb"
DEFAULT_PORT = 8866
START_SECONDS = 90.0
STOP_SECONDS = 20.0
"""How long the process may take to end, on top of the time that pages have for saving."""
SHORTEST_TOKEN = 8


class ServeError(ScenarioKitError, RuntimeError):
    """The page cannot be served."""


@dataclass(frozen=True)
class RoomWish:
    """A room for many people, and what is wished for it.

    Parameters
    ----------
    people : int, optional
        Boards at one time; worked out from this computer's memory if left out.
    ready : int, optional
        Boards kept ready for those who come next.
    token : str
        The word in the link; a new one at each start if empty. With the same
        one, links and pages from before a new start stay good.
    forks : bool
        Whether kernels are forked from a process that has everything loaded,
        where the system allows it.
    """

    people: int | None = None
    ready: int | None = None
    token: str = ""
    forks: bool = True


class BoardServer:
    """A server of boards as pages, in a process of its own.

    Parameters
    ----------
    notebook : path, optional
        What to show; the comparison board if left out.
    host : str
        Address to listen on. Away from this computer's own address the page
        asks for a token, which `url` contains.
    port : int
        Wanted port; a free one is taken if it is in use, and for 0.
    room : RoomWish, optional
        Open a room for many people instead, with a lobby.

    Raises
    ------
    ServeError
        If there is no such notebook, the parts for serving are not installed,
        or the token is too short.

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
        room: RoomWish | None = None,
    ) -> None:
        self.notebook = Path(notebook or BOARD_NOTEBOOK).absolute()
        if not self.notebook.is_file():
            raise ServeError(tr("There is no notebook {path}.", path=self.notebook))
        if room is not None and notebook is not None:
            raise ServeError(
                tr("A room offers what scenariokit brings along; give either --room or --notebook.")
            )
        if importlib.util.find_spec("voila") is None:
            missing = tr("The parts that serve the board are missing; install them with:")
            raise ServeError(f'{missing}  pip install "scenariokit[app]"')
        self.host = host
        self.room = room
        self.limits: Limits = (
            limits_for_one()
            if room is None
            else limits_for_room(room.people, room.ready, room.forks and sys.platform == "linux")
        )
        self.token = _token(host, room)
        self.port = free_port(host, port)
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Address of the page, or of the lobby."""
        return address_of(self.host, self.port, self.token)

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
            "room": self.room is not None,
            "forks": self.room is not None and self.room.forks,
            "limits": asdict(self.limits),
            "language": language(),
            "address": self.url,
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
                raise ServeError(
                    tr("The server ended before it answered; its own message is above.")
                )
            if answers(self.host, self.port):
                return
            time.sleep(0.1)
        raise ServeError(
            tr("The server did not answer within {seconds:.0f} seconds.", seconds=START_SECONDS)
        )

    @property
    def running(self) -> bool:
        """Whether the process is alive."""
        return self._process is not None and self._process.poll() is None

    @property
    def process_id(self) -> int:
        """Number of the process; 0 if there is none."""
        return self._process.pid if self._process is not None else 0

    def stop(self) -> None:
        """End the server and all its kernels; does nothing if it has ended."""
        process, self._process = self._process, None
        if process is None:
            return
        if process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):  # it may have ended already
                process.stdin.close()
        try:
            process.wait(STOP_SECONDS + self.limits.farewell_seconds)
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


def _token(host: str, room: RoomWish | None) -> str:
    """Return the word that the link has to contain; empty where none is asked for."""
    asked = room.token if room is not None else ""
    if asked and (len(asked) < SHORTEST_TOKEN or not asked.isascii() or not asked.isalnum()):
        raise ServeError(
            tr(
                "token = {token}: letters a to z and digits, at least {count} of them",
                token=repr(asked[:20]),
                count=SHORTEST_TOKEN,
            )
        )
    if asked or host in LOOPBACK:
        return asked
    return secrets.token_urlsafe(16)


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
                    raise ServeError(
                        tr("Nothing can listen on {host}: {why}.", host=host, why=error.strerror)
                    ) from error
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
    room: RoomWish | None = None,
) -> int:
    """Serve until Ctrl+C or SIGTERM.

    Parameters
    ----------
    notebook, host, port, room
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
    say(tr("Starting the comparison board ...") if room is None else tr("Opening the room ..."))
    server = BoardServer(notebook, host, port, room)
    before = signal.signal(signal.SIGTERM, _interrupt)
    try:
        return _watch(server, port, browser, say)
    except KeyboardInterrupt:
        say("\n" + tr("Stopping ..."))
        return 0
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # a second Ctrl+C does not cut the end short
        server.stop()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGTERM, before)
        say(tr("Stopped."))


def _watch(server: BoardServer, wanted: int, browser: bool, say: Callable[[str], None]) -> int:
    """Start, tell and wait."""
    if wanted not in (0, server.port):
        say(
            tr(
                "Port {wanted} is in use; taking {taken} instead.",
                wanted=str(wanted),
                taken=str(server.port),
            )
        )
    server.start()
    for line in _about(server):
        say(line)
    say(tr("Open {address} ; stop with Ctrl+C", address=server.url))
    if browser and not open_page(server.url):
        say(tr("No browser was found here; open the address yourself."))
    while server.running:
        time.sleep(0.2)
    say(tr("The server ended by itself; its own message is above."))
    return 1


def _about(server: BoardServer) -> list[str]:
    """Return what the one who starts a server has to know, besides its address."""
    lines = []
    if server.room is not None:
        lines.append(
            tr_n(
                "The room takes {count} board at one time.",
                "The room takes {count} boards at one time.",
                server.limits.people,
            )
        )
        if server.host in LOOPBACK:
            lines.append(
                tr(
                    "Only this computer reaches it; with --host 0.0.0.0 others in your network do too."
                )
            )
    if server.token:
        lines.append(
            tr(
                "Anyone in your network who has this whole address can use the board, "
                "and what travels is not encrypted:"
            )
        )
    if server.host in ANY and (others := other_addresses(lan_address())):
        lines.append(
            tr(
                "If that address is not reached, try it with one of: {others}",
                others=", ".join(others),
            )
        )
    return lines


def _interrupt(_signal: int, _frame: Any) -> None:
    raise KeyboardInterrupt
