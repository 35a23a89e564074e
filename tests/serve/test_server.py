"""Serving a page: ports, words and a clean end."""

from __future__ import annotations

import http.client
import importlib.util
import os
import signal
import socket
import subprocess
import sys
import time
import webbrowser
from pathlib import Path
from typing import Any

import nbformat
import pytest

from scenariokit import cli
from scenariokit.serve import BOARD_NOTEBOOK, BoardServer, ServeError, page_server, server


@pytest.fixture
def notebook(tmp_path: Path) -> Path:
    """A notebook that says hello."""
    book = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell("print('hel' + 'lo')")],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    )
    path = tmp_path / "greeting.ipynb"
    nbformat.write(book, path)
    return path


def test_free_port_in_use_gives_another() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        other = server.free_port("127.0.0.1", port)
    assert other not in (0, port)


def test_free_port_foreign_address_is_refused() -> None:
    with pytest.raises(ServeError, match=r"Nothing can listen on 192\.0\.2\.1"):
        server.free_port("192.0.2.1", 8866)


def test_board_server_loopback_needs_no_token_and_elsewhere_has_one() -> None:
    assert BoardServer(port=0).token == ""
    open_to_all = BoardServer(host="0.0.0.0", port=0)  # noqa: S104 - only described, never started
    assert len(open_to_all.token) > 16
    assert open_to_all.url.endswith(f"/?token={open_to_all.token}")


def test_board_server_missing_notebook_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ServeError, match="no notebook"):
        BoardServer(tmp_path / "none.ipynb")


def test_serve_without_voila_says_how_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == "voila" else find(name)
    )
    assert cli.main(["serve", "--no-browser"]) == 2
    words = capsys.readouterr().err
    assert 'pip install "scenariokit[app]"' in words
    assert words.count("\n") == 1


def test_board_notebook_is_two_cells_without_output() -> None:
    book = nbformat.read(BOARD_NOTEBOOK, as_version=4)
    assert [cell.source for cell in book.cells] == [
        "from scenariokit.widgets.board import open_board",
        "open_board()",
    ]
    assert all(cell.outputs == [] for cell in book.cells)


def test_configuration_names_only_what_the_page_needs() -> None:
    asked: dict[str, Any] = {"host": "127.0.0.1", "port": 5, "token": ""}
    config = page_server.configuration(asked)
    assert config.Voila.ip == "127.0.0.1"
    assert config.VoilaConfiguration.strip_sources is True
    assert "anywidget" in config.VoilaConfiguration.extension_allowlist


def test_open_page_without_browser_says_no(monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> None:
        raise webbrowser.Error("none")

    monkeypatch.setattr(webbrowser, "get", none)
    assert server.open_page("http://127.0.0.1/") is False
    monkeypatch.setattr(webbrowser, "get", lambda: webbrowser.GenericBrowser("w3m"))
    assert server.open_page("http://127.0.0.1/") is False


def fetch(host: str, port: int, path: str) -> str:
    connection = http.client.HTTPConnection(host, port, timeout=60)
    connection.request("GET", path)
    text = connection.getresponse().read().decode()
    connection.close()
    return text


def kernels_of(parent: int) -> list[int]:
    """Return the process ids of the kernels below a process."""
    found = []
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            command = (entry / "cmdline").read_bytes()
            above = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
        except (FileNotFoundError, ProcessLookupError):
            continue
        if above == parent:
            found += [int(entry.name)] if b"ipykernel_launcher" in command else []
            found += kernels_of(int(entry.name))
    return found


def is_alive(process: int) -> bool:
    """Return whether a process still runs."""
    stat = Path(f"/proc/{process}/stat")
    return stat.exists() and stat.read_text().rpartition(")")[2].split()[0] != "Z"


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_serve_stopped_ends_kernels_without_traceback(notebook: Path, end: int) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "scenariokit.cli", "serve", "--no-browser", "--port", "0",
         "--notebook", str(notebook)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONWARNINGS": "ignore"},
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "Starting the comparison board ...\n"
    line = process.stdout.readline()
    assert line.startswith("Open http://127.0.0.1:")
    assert line.endswith(" ; stop with Ctrl+C\n")
    page = fetch("127.0.0.1", int(line.split("/ ")[0].rpartition(":")[2]), "/")
    assert "hello" in page
    assert "hel' + 'lo" not in page
    assert '<html lang="en">' in page
    assert "<title>greeting - scenariokit</title>" in page
    assert 'src="http' not in page
    assert 'href="http' not in page
    kernels = kernels_of(process.pid)
    assert len(kernels) == 1
    process.send_signal(end)
    if end == signal.SIGKILL:
        process.wait()  # nobody is left to end the kernel but its own parent
        process.stdout.close()
        assert process.stderr is not None
        process.stderr.close()
    else:
        out, err = process.communicate(timeout=40)
        assert process.returncode == 0
        assert out.endswith("Stopping ...\nStopped.\n")
        assert err == ""
    until = time.monotonic() + 20
    while any(is_alive(one) for one in kernels) and time.monotonic() < until:
        time.sleep(0.1)
    assert not any(is_alive(one) for one in kernels)
