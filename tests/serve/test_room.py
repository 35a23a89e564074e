"""A room at work: what people get, what they cannot do, and how it ends."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from room_client import TOKEN, Person, children_of, command_of, kernels_below, message_parts, packed
from room_load import HARVEST, PICKER
from room_load import run as send_people
from tornado.httpclient import HTTPClientError, HTTPResponse
from tornado.websocket import WebSocketClosedError, WebSocketError

from scenariokit.catalog.tables import MAX_BYTES
from scenariokit.serve import BOARD_NOTEBOOK, BoardServer, RoomWish

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/smaps_rollup").exists(), reason="looks at processes under /proc"
)
Run = Callable[[Any], Any]
FOREIGN = "00000000-0000-4000-8000-000000000000"


def address(server: BoardServer) -> str:
    return f"http://127.0.0.1:{server.port}/"


def get(server: BoardServer, path: str, person: Person | None = None, **more: Any) -> HTTPResponse:
    somebody = person or Person(address(server))
    answer: HTTPResponse = asyncio.run(somebody.fetch(path, **more))
    return answer


def files_below(*folders: Path) -> set[Path]:
    """Return every file below some folders."""
    return {path for folder in folders for path in folder.rglob("*") if path.is_file()}


def test_room_two_people_have_boards_that_do_not_touch(room: BoardServer, run: Run) -> None:
    async def go() -> None:
        ann, bob = Person(address(room)), Person(address(room))
        await asyncio.gather(ann.open(), bob.open())
        assert ann.kernel != bob.kernel
        assert ann.cookie != bob.cookie
        panel = bob.model(prefix="sk-common")
        before = dict(bob.models[panel]["values"])
        await ann.move("prices.labour_price", 9.0)
        said = await ann.upload(PICKER, "ann_secret.csv", HARVEST)
        assert "ann_secret" in said
        await bob.load()
        assert bob.models[panel]["values"] == before
        assert "ann_secret" not in json.dumps(bob.models)
        assert (await bob.fetch(f"api/kernels/{ann.kernel}")).code == 404
        assert (await ann.fetch(f"api/kernels/{ann.kernel}")).code == 200
        for path in (f"api/kernels/{ann.kernel}/channels", f"room/news/{FOREIGN[:-1]}x"):
            with pytest.raises(HTTPClientError):
                await bob.socket_to(path, [])
        await bob.fetch(f"room/leave/{ann.kernel}", method="POST", body="")
        assert (await ann.fetch(f"api/kernels/{ann.kernel}")).code == 200
        await asyncio.gather(ann.leave(), bob.leave())
        assert (await ann.fetch(f"api/kernels/{ann.kernel}")).code == 404

    run(go())


def test_room_forked_boards_draw_different_random_numbers_and_ids(
    room: BoardServer, run: Run
) -> None:
    async def go() -> None:
        ann, bob = Person(address(room)), Person(address(room))
        await asyncio.gather(ann.open(), bob.open())
        assert not set(ann.models) & set(bob.models)
        await asyncio.gather(ann.leave(), bob.leave())

    run(go())


@pytest.mark.parametrize(
    ("kind", "channel"),
    [("execute_request", "shell"), ("execute_request", "control"), ("shutdown_request", "control")],
)
def test_room_code_by_a_raw_socket_is_never_run(
    room: BoardServer, run: Run, tmp_path: Path, kind: str, channel: str
) -> None:
    trace = tmp_path / "trace"
    code = {"code": f"open({str(trace)!r}, 'w')", "silent": False, "restart": False}

    async def go() -> None:
        ann = Person(address(room))
        await ann.open()
        assert ann.socket is not None
        _, parts = message_parts(kind, code, ann.session)
        await ann.socket.write_message(packed(channel, parts), binary=True)
        assert await ann.cut_off() == 1008
        await ann.connect()  # the board itself goes on
        await ann.load()
        await ann.leave()

    run(go())
    assert not trace.exists()


def test_room_message_beyond_the_limit_closes_the_socket_and_the_board_goes_on(
    room: BoardServer, run: Run
) -> None:
    async def go() -> None:
        ann = Person(address(room))
        await ann.open()
        assert ann.socket is not None
        said = await ann.upload(PICKER, "big.csv", os.urandom(MAX_BYTES + 10))
        assert "too large" in said
        with suppress(WebSocketClosedError):  # it may be cut off before all is sent
            large = os.urandom(MAX_BYTES * 2)
            await ann.send("comm_msg", {"comm_id": ann.model(label=PICKER), "data": {}}, (large,))
        assert await ann.cut_off() in (1009, None)  # None: the connection broke first
        await ann.connect()
        assert await ann.move("prices.labour_price", 5.0) > 0
        await ann.leave()

    run(go())


def test_room_short_break_of_the_connection_loses_nothing(room: BoardServer, run: Run) -> None:
    async def go() -> None:
        ann = Person(address(room))
        await ann.open()
        await ann.move("prices.labour_price", 7.25)
        await ann.hang_up()
        await asyncio.sleep(0.3)
        await ann.connect()
        assert await ann.hear() == "running"
        await ann.load()
        panel = ann.models[ann.model(prefix="sk-common")]
        assert panel["values"]["prices.labour_price"] == 7.25
        await ann.leave()

    run(go())


def test_room_nothing_of_a_person_is_written_to_disk(
    room: BoardServer, room_folder: Path, run: Run
) -> None:
    # Where kernels work, where the server keeps what it needs, and where IPython keeps a history.
    places = Path(BOARD_NOTEBOOK).parent, Path.home() / ".ipython"
    before = files_below(*places)

    async def go() -> None:
        ann = Person(address(room))
        await ann.open()
        await ann.upload(PICKER, "ann_secret.csv", HARVEST + b"wedge_pots,potato,7777,3\n")
        await ann.move("prices.labour_price", 3.125)
        new = files_below(*places) - before
        assert [path for path in new if path.suffix != ".pyc"] == []
        kept = files_below(room_folder)
        assert not any(path.suffix in {".sqlite", ".csv", ".log"} for path in kept)
        assert any(path.name.startswith("kernel-") for path in kept)
        for path in kept:
            content = path.read_bytes()
            assert not any(secret in content for secret in (b"7777", b"ann_secret", b"3.125"))
        await ann.leave()

    run(go())


def test_room_killed_kernel_is_told_to_its_page(room: BoardServer, run: Run) -> None:
    async def go() -> None:
        ann = Person(address(room))
        before = set(kernels_below(room.process_id))
        await ann.open()
        assert await ann.hear() == "running"
        for process in kernels_below(room.process_id):
            os.kill(process, signal.SIGKILL)
        assert before
        assert await ann.hear() == "died"
        await ann.hang_up()
        again = Person(address(room), cookie=ann.cookie)
        await again.open()
        assert again.kernel != ann.kernel
        await again.leave()

    run(go())


def test_room_takes_no_more_than_its_number_and_says_so(room: BoardServer, run: Run) -> None:
    async def go() -> None:
        people = [Person(address(room)) for _ in range(room.limits.people)]
        await asyncio.gather(*(one.open() for one in people))
        late = Person(address(room))
        answer = await late.fetch("board?language=en")
        assert answer.code == 503
        assert answer.headers["Retry-After"].isdigit()
        assert b"5 boards" in answer.body
        assert b'http-equiv="refresh"' in answer.body
        lobby = (await late.fetch("?language=en")).body
        assert b"all 5 boards are in use" in lobby
        await people[0].leave()
        await late.open()
        await asyncio.gather(*(one.leave() for one in (late, *people[1:])))

    run(go())


def test_room_people_come_move_reload_and_leave(room: BoardServer, run: Run) -> None:
    report = run(send_people(room, room.limits.people, minutes=0.15))
    assert report.failures == []
    assert len(report.ready) == room.limits.people
    assert report.moves
    assert report.kernels_left == 0


@pytest.mark.parametrize(
    "path",
    ["voila/files/../../etc/passwd", "voila/files/..%2f..%2f..%2fetc/passwd", "files/board.ipynb",
     "voila/static/../../../../etc/passwd", "voila/static/..%2f..%2f..%2fetc%2fpasswd",
     "voila/static/%2e%2e/%2e%2e/etc/passwd", "voila/static//etc/passwd", "voila/static/%00.js",
     "voila/labextensions/anywidget/../../../etc/passwd", "voila/templates/lab/static/../../x.js",
     "voila/render/board.ipynb", "voila/tree", "voila/api/contents", "api/contents", "api/kernels",
     "api/kernelspecs", "api/sessions", "api/terminals", "terminals/1", "api/status", "login",
     f"api/kernels/{FOREIGN}", f"voila/query/{FOREIGN}", f"voila/execution/{FOREIGN}",
     "board.ipynb", "voila/themes/x", "metrics", "api/config/x", "nbextensions/x", "%"],
)  # fmt: skip
def test_room_other_addresses_hold_nothing(room: BoardServer, path: str) -> None:
    answer = get(room, path)
    assert answer.code in (400, 403, 404)
    assert b"root:" not in answer.body
    assert b"Traceback" not in answer.body


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize("path", ["", "api/kernels", f"api/kernels/{FOREIGN}", "board"])
def test_room_other_methods_do_nothing(room: BoardServer, method: str, path: str) -> None:
    body = None if method == "DELETE" else "{}"
    assert get(room, path, method=method, body=body).code in (403, 404, 405)


@pytest.mark.parametrize(
    "query",
    ["language=%3Cscript%3E", "language=%ff%fe", "token=%ff", "template=../../etc", "theme=dark",
     "language=" + "e" * 5000, "language=es&language=%00", "kernel_name=bash", "cwd=/etc"],
)  # fmt: skip
def test_room_hostile_queries_change_nothing(room: BoardServer, query: str) -> None:
    answer = get(room, f"?{query}", headers={"Accept-Language": "en"})
    assert answer.code == 200
    assert b"<script" not in answer.body


def test_room_headers_keep_the_page_to_itself(room: BoardServer) -> None:
    headers = get(room, "").headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Frame-Options"] == "SAMEORIGIN"
    assert "default-src 'self'" in headers["Content-Security-Policy"]
    assert headers["Cache-Control"] == "no-store"
    assert "HttpOnly" in headers["Set-Cookie"]
    assert "SameSite=Lax" in headers["Set-Cookie"]


@pytest.mark.parametrize(
    "name", ["evil.example", "evil.example:8866", "a;b", "127.0.0.1.nip.example"]
)
def test_room_foreign_host_name_is_refused(room: BoardServer, name: str) -> None:
    assert get(room, "", headers={"Host": name}).code in (400, 403)


def test_room_foreign_origin_is_refused(room: BoardServer, run: Run) -> None:
    async def go() -> None:
        ann = Person(address(room))
        await ann.open()
        stranger = {"headers": {"Origin": "http://evil.example"}}
        leave = await ann.fetch(f"room/leave/{ann.kernel}", method="POST", body="", **stranger)
        assert leave.code == 403
        assert (await ann.fetch(f"api/kernels/{ann.kernel}")).code == 200
        await ann.leave()

    run(go())


def test_room_frame_files_come_zipped(room: BoardServer) -> None:
    plain = get(room, "voila/static/voila.js", decompress_response=False)
    zipped = get(
        room, "voila/static/voila.js", decompress_response=False,
        headers={"Accept-Encoding": "gzip"},
    )  # fmt: skip
    assert zipped.headers["Content-Encoding"] == "gzip"
    assert len(zipped.body) < len(plain.body) / 2
    again = get(room, "voila/static/voila.js", headers={"If-None-Match": plain.headers["Etag"]})
    assert again.code == 304


def test_locked_room_asks_for_its_token(locked_room: BoardServer) -> None:
    for path in ("", "board", "?token=wrong", "?token=%ff", "trial?token="):
        answer = get(locked_room, path, headers={"Accept-Language": "en"})
        assert answer.code == 403, path
        assert b"has a link of its own" in answer.body
    ann = Person(address(locked_room))
    assert get(locked_room, f"?token={TOKEN}", ann).code == 200
    assert get(locked_room, "", ann).code == 200
    assert get(locked_room, "?token=wrong", ann).code == 403
    assert TOKEN.encode() in get(locked_room, "", ann).body
    forged = Person(address(locked_room), cookie=ann.cookie[:-2] + "zz")
    assert get(locked_room, "", forged).code == 403


def test_locked_room_opens_no_socket_without_its_token(locked_room: BoardServer, run: Run) -> None:
    async def go() -> None:
        for path in (f"api/kernels/{FOREIGN}/channels", f"room/news/{FOREIGN}"):
            with pytest.raises((HTTPClientError, WebSocketError)) as caught:
                await Person(address(locked_room)).socket_to(path, [])
            assert caught.value.code in (403, 404)  # type: ignore[union-attr]

    run(go())


def test_room_one_by_one_works_and_a_stop_is_told_and_leaves_nothing(run: Run) -> None:
    server = BoardServer(port=0, room=RoomWish(people=2, ready=0, forks=False))
    server.start()
    process = server.process_id

    async def go() -> list[int]:
        ann = Person(address(server))
        await ann.open()
        assert await ann.hear() == "running"
        below = children_of(process)
        assert any("ipykernel_launcher" in command_of(one) for one in below)
        stopping = asyncio.get_running_loop().run_in_executor(None, server.stop)
        assert await ann.hear() == "stopping"
        late = await Person(address(server)).fetch("board")
        assert late.code == 503
        assert await ann.move("prices.labour_price", 6.0) > 0  # there is time to save
        await ann.leave()
        await stopping
        return below

    try:
        below = run(go())
    finally:
        server.stop()
    assert not [one for one in below if command_of(one)]


def test_room_killed_server_takes_its_kernels_along(run: Run) -> None:
    server = BoardServer(port=0, room=RoomWish(people=2, ready=0))
    server.start()
    process = server.process_id

    async def go() -> list[int]:
        ann = Person(address(server))
        await ann.open()
        await ann.hang_up()
        return [*children_of(process), *kernels_below(process)]

    try:
        below = run(go())
        os.kill(process, signal.SIGKILL)
    finally:
        server.stop()
    until = time.monotonic() + 20
    while any(command_of(one) for one in below) and time.monotonic() < until:
        time.sleep(0.1)
    assert len(below) >= 2
    assert not [one for one in below if command_of(one)]
