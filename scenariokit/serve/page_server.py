"""The process that shows boards as pages; it ends when its input closes.

Started by `scenariokit.serve.server.BoardServer`, which writes one line of JSON
to its standard input and keeps that open as long as the pages are wanted. So the
kernels end with their parent, however it ends.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
import threading
from pathlib import Path
from typing import Any

JUPYTER_DIR = Path(__file__).parent / "jupyter"
PAGE_PARTS = (
    "anywidget",
    "@jupyter-widgets/jupyterlab-manager",
    "@voila-dashboards/widgets-manager7",
    "@voila-dashboards/widgets-manager8",
)
"""All that the page loads; other extensions of this Jupyter stay out of it."""


def configuration(asked: dict[str, Any]) -> Any:
    """Return the server's settings for what was asked."""
    from traitlets.config import Config

    config = Config()
    config.Voila.ip = asked["host"]
    config.Voila.port = asked["port"]
    config.Voila.port_retries = 0
    config.Voila.open_browser = False
    config.Voila.log_level = "WARN"
    config.VoilaConfiguration.template = "scenariokit"
    config.VoilaConfiguration.resources = {"scenariokit_frame": True}
    config.VoilaConfiguration.allow_template_override = "NO"
    config.VoilaConfiguration.allow_theme_override = "NO"
    config.VoilaConfiguration.strip_sources = True
    config.VoilaConfiguration.show_tracebacks = False
    config.VoilaConfiguration.extension_allowlist = list(PAGE_PARTS)
    return config


def stop_when_closed(loop: asyncio.AbstractEventLoop, stop: Any) -> None:
    """Call `stop` in `loop` once standard input ends."""
    while sys.stdin.buffer.read(1):
        pass
    loop.call_soon_threadsafe(stop)


async def run(asked: dict[str, Any]) -> None:
    """Serve until standard input closes."""
    from scenariokit.serve.room import Room

    room = Room(asked, configuration(asked))
    wanted = asyncio.Event()
    loop = asyncio.get_running_loop()
    threading.Thread(target=stop_when_closed, args=(loop, wanted.set), daemon=True).start()
    try:
        await room.open()
        await wanted.wait()
        await room.say_goodbye()
    finally:
        await room.close()


def main() -> None:
    """Serve until standard input closes."""
    asked = json.loads(sys.stdin.readline())
    paths = [str(JUPYTER_DIR), os.environ.get("JUPYTER_PATH", "")]
    os.environ["JUPYTER_PATH"] = os.pathsep.join(path for path in paths if path)
    asyncio.run(run(asked))


if __name__ == "__main__":
    main()
