"""Build the hosted set-up from the files beside this one, start it as a hub does, open the board.

Makes a new environment from requirements.txt, runs postBuild, starts the
server with a base path and a token, and opens the board's address. The body
must hold widgets: an answer of 200 alone proves nothing.

Run it from the root of the repository: ``python3 binder/check.py``.
"""

from __future__ import annotations

import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BASE = "/user/somebody/"
WIDGET = "application/vnd.jupyter.widget-view+json"


def main() -> int:
    """Build, start, open, stop."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        shutil.copytree(ROOT, home / "repo", ignore=shutil.ignore_patterns(".git", ".venv*"))
        environment = home / "env"
        print("making an environment from binder/requirements.txt", flush=True)
        venv.create(environment, with_pip=True)
        python = environment / "bin" / "python"
        run = {**os.environ, "PATH": f"{environment / 'bin'}{os.pathsep}{os.environ['PATH']}"}
        run.update(HOME=str(home), VIRTUAL_ENV=str(environment))
        pip = [python, "-m", "pip", "install", "-q", "-r", "binder/requirements.txt"]
        # pip reads a person's settings from the home folder, which a new machine has not.
        subprocess.run(pip, cwd=home / "repo", check=True, env={**run, "HOME": os.environ["HOME"]})
        print("running binder/postBuild", flush=True)
        subprocess.run(
            ["bash", "binder/postBuild"], cwd=home / "repo", check=True,
            env={**run, "HOME": os.environ["HOME"]},
        )  # fmt: skip
        print_sizes(environment)
        return serve_and_open(home / "repo", environment, run)


def print_sizes(environment: Path) -> None:
    """Print what the environment takes on disk, and its largest packages."""
    sizes: dict[str, int] = {}
    for path in environment.rglob("*"):
        if path.is_file() and not path.is_symlink():
            parts = path.relative_to(environment).parts
            at = parts.index("site-packages") + 1 if "site-packages" in parts else 0
            # What a wheel bundles beside a package counts as the package's.
            name = parts[at].removesuffix(".libs").split("-")[0] if at else "/".join(parts[:2])
            sizes[name] = sizes.get(name, 0) + path.stat().st_size
    largest = sorted(sizes.items(), key=lambda one: -one[1])[:12]
    print(f"the environment takes {sum(sizes.values()) / 1e6:.0f} MB; the largest parts in MB: "
          + ", ".join(f"{name} {size / 1e6:.0f}" for name, size in largest))  # fmt: skip


def serve_and_open(repo: Path, environment: Path, run: dict[str, str]) -> int:
    """Start the server as a hub does and open the board and the lessons."""
    token = secrets.token_hex(16)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        str(environment / "bin" / "jupyter"), "lab", "--no-browser", "--ip=127.0.0.1",
        f"--port={port}", f"--ServerApp.base_url={BASE}", f"--IdentityProvider.token={token}",
        "--ServerApp.allow_root=True",
    ]  # fmt: skip
    log = (repo / "server.log").open("w")
    begun = time.perf_counter()
    server = subprocess.Popen(command, cwd=repo, env=run, stdout=log, stderr=subprocess.STDOUT)
    try:
        here = f"http://127.0.0.1:{port}{BASE}"
        wait_for(f"{here}api/status?token={token}", server, repo)
        failed = 0
        for page in ("00_board", "01_yield"):
            started = time.perf_counter()
            address = f"{here}voila/render/notebooks/{page}.ipynb?token={token}"
            with urllib.request.urlopen(address, timeout=180) as answer:
                body = answer.read().decode("utf-8")
            found = body.count(WIDGET)
            outside = [word for word in ("cdn.jsdelivr", "cdnjs.", "unpkg.com") if word in body]
            failed += not found or bool(outside)
            took = time.perf_counter() - started
            whole = time.perf_counter() - begun
            print(
                f"{page}: {answer.status}, {found} widgets in the body, outside {outside}, {took:.1f} s;"
                f" {whole:.1f} s after the server's start (the board, idle machine: aim under 10)"
            )
        lab = urllib.request.urlopen(f"{here}lab?token={token}", timeout=60)
        print(f"JupyterLab: {lab.status}")
        if failed:
            print((repo / "server.log").read_text()[-4000:])
        return 1 if failed else 0
    finally:
        server.terminate()
        server.wait(timeout=30)
        log.close()


def wait_for(address: str, server: subprocess.Popen[bytes], repo: Path) -> None:
    """Wait until the server answers, or say what it printed."""
    for _ in range(120):
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return
        except (urllib.error.URLError, ConnectionError):
            if server.poll() is not None:
                break
            time.sleep(0.5)
    sys.exit(f"the server did not start:\n{(repo / 'server.log').read_text()[-4000:]}")


if __name__ == "__main__":
    sys.exit(main())
