"""The two sockets of a page: the channels of its kernel, and news of its board."""

from __future__ import annotations

import json
from typing import Any

from tornado.ioloop import PeriodicCallback
from tornado.websocket import WebSocketClosedError, WebSocketHandler
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from scenariokit.serve.boards import Board, Boards
from scenariokit.serve.guard import Guarded, Refused, person_of
from scenariokit.serve.kernels import ALLOWED_MESSAGES

PROTOCOL = "v1.kernel.websocket.jupyter.org"
MOST_PARTS = 64
PING_SECONDS = 30.0
"""How often a page is asked whether it is there, and how long it has for the answer."""
BEAT_SECONDS = 5.0
"""How often a page is told that all is well; one that hears nothing takes its line for lost."""
POLICY = 1008
"""Code of a socket that is closed because of what was sent (RFC 6455, section 7.4.1)."""


def header_of(message: str | bytes, protocol: str | None) -> tuple[str, dict[str, Any]]:
    """Return channel and header of a message of a page.

    Raises
    ------
    ValueError
        If it is not of the protocol.
    """
    if protocol != PROTOCOL:
        if isinstance(message, bytes):
            count = int.from_bytes(message[:4], "big")
            if not 1 <= count <= MOST_PARTS:
                raise ValueError("parts")
            start = int.from_bytes(message[4:8], "big")
            end = int.from_bytes(message[8:12], "big") if count > 1 else len(message)
            message = message[start:end].decode("utf-8")
        whole = json.loads(message)
        return str(whole["channel"]), dict(whole["header"])
    if isinstance(message, str):
        raise ValueError("text")
    count = int.from_bytes(message[:8], "little")
    if not 5 <= count <= MOST_PARTS:
        raise ValueError("parts")
    marks = [int.from_bytes(message[8 * i : 8 * (i + 1)], "little") for i in range(1, count + 1)]
    if marks != sorted(marks) or marks[-1] > len(message):
        raise ValueError("marks")
    channel = message[marks[0] : marks[1]].decode("utf-8")
    return channel, dict(json.loads(message[marks[1] : marks[2]]))


def is_allowed(message: str | bytes, protocol: str | None) -> bool:
    """Return whether a page may send this to its kernel: talk of widgets, and no code."""
    try:
        channel, header = header_of(message, protocol)
        kind = header["msg_type"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return False
    return channel in ("shell", "control") and kind in ALLOWED_MESSAGES


class KernelChannels(VoilaKernelWebsocketHandler):  # type: ignore[misc]
    """The channels between a page and its kernel; nothing goes through but talk of widgets."""

    board: Board | None = None

    async def prepare(self, *arguments: Any, **named: Any) -> None:
        """Let in only the page that the kernel was made for."""
        Guarded.check_host_and_origin(self)
        await super().prepare(*arguments, **named)
        boards: Boards = self.settings["boards"]
        board = boards.given.get(self.path_kwargs.get("kernel_id", ""))
        if board is None or board.person != person_of(self):
            raise Refused(404, "kernel")
        self.board = board

    @property
    def admission(self) -> Any:
        """What is asked of those who come."""
        return self.settings["admission"]

    # Jupyter counts a page as lost if its first answer comes a moment after the next
    # question; Tornado, which has the same settings in seconds, counts from the question on.
    @property
    def ping_interval(self) -> float:
        """Seconds between two questions whether the page is there."""
        return PING_SECONDS

    @property
    def ping_timeout(self) -> float:
        """Seconds that a page has for its answer."""
        return PING_SECONDS

    async def open(self, kernel_id: str) -> None:
        """Begin; without the questions that Jupyter asks besides."""
        del kernel_id
        # A move is answered by a dozen small messages: none waits until the one before is confirmed.
        self.set_nodelay(True)
        if self.board is not None:
            self.board.add(self)
        connected = self.connection.connect()
        if connected is not None:
            await connected

    def on_message(self, ws_message: str | bytes) -> Any:
        """Pass on what is allowed; whoever sends anything else is cut off."""
        if not is_allowed(ws_message, self.selected_subprotocol):
            self.log.warning("A page sent what pages do not send; its socket was closed.")
            self.close(POLICY, "not allowed")
            return None
        if self.board is not None:
            self.board.use()
        return super().on_message(ws_message)

    def on_close(self) -> None:
        """End."""
        if self.board is not None:
            self.board.drop(self)
        if getattr(self, "connection", None) is not None:
            super().on_close()


class News(Guarded, WebSocketHandler):
    """Tells a page what becomes of its board, and in between that it is still there."""

    board: Board | None = None
    beat: PeriodicCallback | None = None

    def check_origin(self, origin: str) -> bool:
        """Accept: `prepare` has looked at it already."""
        del origin
        return True

    def get_compression_options(self) -> None:
        """Send as it is; these are single words."""

    def open(self, kernel_id: str) -> None:
        """Tell how it stands, and listen on if it lives."""
        boards: Boards = self.settings["boards"]
        board = boards.given.get(kernel_id)
        mine = board is not None and board.person == person_of(self)
        self.tell(boards.state_of(kernel_id) if mine or board is None else "back")
        if mine and board is not None:
            self.board = board
            board.ears.add(self)
            self.beat = PeriodicCallback(
                lambda: self.tell(boards.state_of(kernel_id)), BEAT_SECONDS * 1000, jitter=0.2
            )
            self.beat.start()

    def tell(self, state: str) -> None:
        """Say what has become of the board."""
        try:
            self.write_message(json.dumps({"state": state}))
        except WebSocketClosedError:
            self.on_close()

    def on_message(self, message: str | bytes) -> None:
        """Hear nothing."""

    def on_close(self) -> None:
        """Forget this page."""
        if self.beat is not None:
            self.beat.stop()
        if self.board is not None:
            self.board.ears.discard(self)
