"""The process that shows one notebook as a page; it ends when its input closes.

Started by `scenariokit.serve.server.BoardServer`, which writes one line of JSON
to its standard input and keeps that open as long as the page is wanted. So the
kernels end with their parent, however it ends.
"""

from __future__ import annotations

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
PING_MILLISECONDS = 30_000
"""How long a page may not answer; the usual 90 s is longer than the time between two pings."""
IDLE_SECONDS = 1800
"""A kernel whose page is gone without a goodbye ends after this time."""


def configuration(asked: dict[str, Any]) -> Any:
    """Return the server's settings for what was asked."""
    from traitlets.config import Config

    config = Config()
    config.Voila.ip = asked["host"]
    config.Voila.port = asked["port"]
    config.Voila.port_retries = 0
    config.Voila.open_browser = False
    config.Voila.log_level = "WARN"
    config.Voila.token = asked["token"]
    config.Voila.tornado_settings = {"ws_ping_timeout": PING_MILLISECONDS}
    config.VoilaConfiguration.template = "scenariokit"
    config.VoilaConfiguration.allow_template_override = "NO"
    config.VoilaConfiguration.allow_theme_override = "NO"
    config.VoilaConfiguration.strip_sources = True
    config.VoilaConfiguration.show_tracebacks = False
    config.VoilaConfiguration.extension_allowlist = list(PAGE_PARTS)
    config.MappingKernelManager.cull_idle_timeout = IDLE_SECONDS
    config.MappingKernelManager.cull_interval = 60
    return config


def stop_when_closed(loop: Any) -> None:
    """Stop `loop` once standard input ends."""
    while sys.stdin.buffer.read(1):
        pass
    loop.add_callback(loop.stop)


def main() -> None:
    """Serve until standard input closes."""
    asked = json.loads(sys.stdin.readline())
    paths = [str(JUPYTER_DIR), os.environ.get("JUPYTER_PATH", "")]
    os.environ["JUPYTER_PATH"] = os.pathsep.join(path for path in paths if path)
    import tornado.ioloop
    from voila.app import Voila

    app = Voila(config=configuration(asked), config_file_paths=[])
    app.initialize([asked["notebook"]])
    # The page shows what the notebook computes now, never its stored outputs: trust is no question.
    app.log.addFilter(lambda record: "is not trusted" not in record.getMessage())
    loop = tornado.ioloop.IOLoop.current()
    threading.Thread(target=stop_when_closed, args=(loop,), daemon=True).start()
    app.start()


if __name__ == "__main__":
    main()
