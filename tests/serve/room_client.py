"""Somebody at a board, without a browser: asks for a page and speaks with its kernel."""

from __future__ import annotations

import asyncio
import itertools
import json
import re
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from tornado.httpclient import HTTPRequest
from tornado.simple_httpclient import SimpleAsyncHTTPClient
from tornado.websocket import WebSocketClientConnection, websocket_connect

TOKEN = "openSesame42"  # noqa: S105 - of a room that lives as long as the tests
PROTOCOL = "v1.kernel.websocket.jupyter.org"
CONTROL_VERSION = "1.0.0"
"""Of the protocol by which a page asks for the state of all models."""
PATIENCE = 240.0
MOST_BYTES = 100_000_000


def packed(channel: str, parts: list[bytes]) -> bytes:
    """Return a message as it travels: count of marks, marks, channel, parts."""
    marks = [8 * (1 + 1 + len(parts) + 1)]
    for piece in (channel.encode(), *parts):
        marks.append(marks[-1] + len(piece))
    head = b"".join(mark.to_bytes(8, "little") for mark in (len(marks), *marks))
    return head + channel.encode() + b"".join(parts)


def unpacked(message: bytes) -> tuple[str, list[bytes]]:
    """Return channel and parts of a message."""
    count = int.from_bytes(message[:8], "little")
    marks = [int.from_bytes(message[8 * i : 8 * i + 8], "little") for i in range(1, count + 1)]
    pieces = [message[a:b] for a, b in itertools.pairwise(marks)]
    return pieces[0].decode(), pieces[1:]


def message_parts(kind: str, content: dict[str, Any], session: str) -> tuple[str, list[bytes]]:
    """Return the id and the parts of a new message."""
    header = {
        "msg_id": uuid.uuid4().hex, "msg_type": kind, "username": "", "session": session,
        "date": "2026-01-01T00:00:00Z", "version": "5.3",
    }  # fmt: skip
    texts = (header, {}, {"version": CONTROL_VERSION}, content)
    return header["msg_id"], [json.dumps(text).encode() for text in texts]


@dataclass
class Person:
    """Somebody with a browser of their own.

    Parameters
    ----------
    address : str
        Address of the server, with a slash at its end.
    page : str
        What is opened, for example ``"board"``.
    """

    address: str
    page: str = "board"
    cookie: str = ""
    kernel: str = ""
    html: str = ""
    models: dict[str, dict[str, Any]] = field(default_factory=dict)
    socket: WebSocketClientConnection | None = None
    news: WebSocketClientConnection | None = None
    session: str = field(default_factory=lambda: uuid.uuid4().hex)
    waiting: dict[str, asyncio.Queue[dict[str, Any]]] = field(default_factory=dict)
    _reading: asyncio.Task[None] | None = None
    serial: int = 0
    told: str = ""
    opened_seconds: float = 0.0
    ready_seconds: float = 0.0

    @property
    def headers(self) -> dict[str, str]:
        """Headers of a browser."""
        origin = self.address.rstrip("/")
        return {"Origin": origin} | ({"Cookie": self.cookie} if self.cookie else {})

    async def fetch(self, path: str, **more: Any) -> Any:
        """Return the answer to a request, whatever its status; keep the cookie."""
        client = SimpleAsyncHTTPClient(force_instance=True, max_body_size=MOST_BYTES)
        request = HTTPRequest(
            self.address + path,
            headers=self.headers | more.pop("headers", {}),
            request_timeout=PATIENCE, connect_timeout=PATIENCE, follow_redirects=False, **more,
        )  # fmt: skip
        answer = await client.fetch(request, raise_error=False)
        client.close()
        if answer.code == 599:
            raise ConnectionError(str(answer.error))
        for line in answer.headers.get_list("Set-Cookie"):
            self.cookie = line.partition(";")[0]
        return answer

    async def open(self) -> None:
        """Open the page and wait for a board of one's own, with charts that have rows."""
        start = time.perf_counter()
        answer = await self.fetch(self.page)
        self.html = answer.body.decode()
        assert answer.code == 200, (answer.code, self.html[-400:])
        found = re.search(r'"kernelId": "([0-9a-f-]{36})"', self.html)
        assert found, self.html[-1500:]
        self.kernel = found[1]
        self.opened_seconds = time.perf_counter() - start
        await self.connect()
        await self.load()
        self.ready_seconds = time.perf_counter() - start

    async def socket_to(self, path: str, protocols: list[str]) -> WebSocketClientConnection:
        """Return an open socket."""
        address = "ws" + (self.address + path).removeprefix("http")
        request = HTTPRequest(address, headers=self.headers, connect_timeout=PATIENCE)
        return await websocket_connect(
            request, subprotocols=protocols, max_message_size=MOST_BYTES, compression_options={}
        )

    async def connect(self) -> None:
        """Open both sockets of a page, in place of those there were."""
        await self.hang_up()
        where = f"api/kernels/{self.kernel}/channels?session_id={self.session}"
        self.socket = await self.socket_to(where, [PROTOCOL])
        self.told = "nothing yet"
        self.news = await self.socket_to(f"room/news/{self.kernel}", [])
        self._reading = asyncio.create_task(self._read())

    async def _read(self) -> None:
        assert self.socket is not None
        while (message := await self.socket.read_message()) is not None:
            if isinstance(message, bytes):
                self._heard(message)

    def _heard(self, message: bytes) -> None:
        """Take a message in: keep models up to date, and tell whoever waits for it."""
        channel, parts = unpacked(message)
        header, parent, _, content = (json.loads(part) for part in parts[:4])
        kind = header["msg_type"]
        data = content.get("data", {}) if isinstance(content, dict) else {}
        if kind == "comm_msg" and data.get("method") == "update":
            self.models.setdefault(content["comm_id"], {}).update(data["state"])
        told = {"channel": channel, "kind": kind, "content": content, "buffers": parts[4:]}
        queue = self.waiting.get(parent.get("msg_id", ""))
        if queue is not None:
            queue.put_nowait(told)

    async def send(
        self, kind: str, content: dict[str, Any], buffers: tuple[bytes, ...] = (),
        channel: str = "shell",
    ) -> asyncio.Queue[dict[str, Any]]:  # fmt: skip
        """Send a message; return where its consequences arrive."""
        assert self.socket is not None
        name, parts = message_parts(kind, content, self.session)
        queue: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self.waiting[name] = queue
        await self.socket.write_message(packed(channel, [*parts, *buffers]), binary=True)
        return queue

    async def load(self) -> None:
        """Ask for the state of every model, as a page does when it opens."""
        comm = uuid.uuid4().hex
        queue = await self.send(
            "comm_open", {"comm_id": comm, "target_name": "jupyter.widget.control", "data": {}}
        )
        await self.until_idle(queue)
        queue = await self.send("comm_msg", {"comm_id": comm, "data": {"method": "request_states"}})
        for told in await self.until_idle(queue):
            data = told["content"].get("data", {})
            if data.get("method") == "update_states":
                self.models = {key: one["state"] for key, one in data["states"].items()}
        assert any(self.has_rows(one) for one in self.models.values()), len(self.models)

    @staticmethod
    def has_rows(model: dict[str, Any]) -> bool:
        """Return whether a model is a chart that has something to draw."""
        return any(len(rows) > 0 for rows in model.get("datasets", {}).values())

    async def until_idle(self, queue: asyncio.Queue[dict[str, Any]]) -> list[dict[str, Any]]:
        """Return all that follows from a message, until the kernel says that it is done."""
        heard = []
        while True:
            told = await asyncio.wait_for(queue.get(), PATIENCE)
            heard.append(told)
            if told["kind"] == "status" and told["content"]["execution_state"] == "idle":
                return heard

    def model(self, **wanted: Any) -> str:
        """Return the id of the model with these values."""
        for key, state in self.models.items():
            if all(state.get(name) == value for name, value in wanted.items()):
                return key
        raise LookupError(f"no model with {wanted}")

    async def move(self, key: str, value: float, panel: str = "sk-common") -> float:
        """Move a slider; return the seconds until new rows for a chart had arrived."""
        comm = self.model(prefix=panel)
        self.serial += 1
        moved = [[self.serial, key, value]]
        start = time.perf_counter()
        told = {"method": "custom", "content": {"moved": moved}}
        queue = await self.send("comm_msg", {"comm_id": comm, "data": told})
        arrived = 0.0
        while True:
            told = await asyncio.wait_for(queue.get(), PATIENCE)
            data = told["content"].get("data", {})
            if not arrived and "datasets" in data.get("state", {}):
                arrived = time.perf_counter() - start
            if told["kind"] == "status" and told["content"]["execution_state"] == "idle":
                assert arrived, f"moving {key} to {value} changed no chart"
                return arrived

    async def upload(self, label: str, name: str, content: bytes) -> str:
        """Give a file to the control with this label; return what is said about it."""
        comm = self.model(label=label)
        data = {"method": "custom", "content": {"kind": "file", "name": name}}
        queue = await self.send("comm_msg", {"comm_id": comm, "data": data}, (content,))
        await self.until_idle(queue)
        return str(self.models[comm]["message"])

    async def hear(self) -> str:
        """Return the next news of the board that is not what was told last."""
        assert self.news is not None
        before = self.told
        while self.told == before:
            told = await asyncio.wait_for(self.news.read_message(), PATIENCE)
            self.told = "" if told is None else str(json.loads(told)["state"])
        return self.told

    async def cut_off(self) -> int | None:
        """Wait until the server closes the kernel's socket; return the code that it gave, if any."""
        assert self.socket is not None
        assert self._reading is not None
        await asyncio.wait_for(self._reading, 30)
        return self.socket.close_code

    async def hang_up(self) -> None:
        """Close the sockets without a word, and wait until they are closed."""
        for socket in (self.socket, self.news):
            if socket is not None:
                socket.close()
        if self._reading is not None:
            await self._reading
        while self.news is not None and await self.news.read_message() is not None:
            continue
        self.socket = self.news = self._reading = None

    async def leave(self) -> None:
        """Close the page."""
        await self.hang_up()
        await self.fetch(f"room/leave/{self.kernel}", method="POST", body="")


def processes_below(parent: int) -> list[int]:
    """Return the process ids of everything below a process."""
    above: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text()
            except (FileNotFoundError, ProcessLookupError):
                continue
            above.setdefault(int(stat.rpartition(")")[2].split()[1]), []).append(int(entry.name))
    found: list[int] = []
    todo = [parent]
    while todo:
        below = above.get(todo.pop(), [])
        found += below
        todo += below
    return found


def command_of(process: int) -> str:
    """Return the command line of a process; empty if it has ended."""
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    except (FileNotFoundError, ProcessLookupError):
        return ""


def kernels_below(parent: int) -> list[int]:
    """Return the process ids of the kernels of a server, forked or started by themselves."""
    found = []
    for one in processes_below(parent):
        command = command_of(one)
        forked = "warm_process" in command and one not in children_of(parent)
        if "ipykernel_launcher" in command or forked:
            found.append(one)
    return found


def children_of(parent: int) -> list[int]:
    """Return the process ids directly below a process."""
    listed = Path(f"/proc/{parent}/task/{parent}/children")
    return [int(one) for one in listed.read_text().split()] if listed.exists() else []


def proportional_bytes(process: int) -> int:
    """Return the memory of a process, what it shares divided among those that share it."""
    try:
        text = Path(f"/proc/{process}/smaps_rollup").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return 0
    found = re.search(r"^Pss:\s+(\d+) kB", text, re.MULTILINE)
    return int(found[1]) * 1024 if found else 0


def port_of(address: str) -> int:
    """Return the port of an address."""
    return int(urlsplit(address).port or 0)
