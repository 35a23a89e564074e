"""What every page needs and is fetched while its kernel is still being made."""

from __future__ import annotations

import functools
import gzip
import re
from collections.abc import Sequence
from pathlib import Path

from voila.paths import collect_static_paths

from scenariokit.serve.static_files import CACHE_NAMED, TYPES, FrameFile, Packed
from scenariokit.widgets.engine_source import engine_source, engine_tag

STATIC = "/voila/static/"
MAIN = "voila.js"
_CHUNK = re.compile(r"\be\((\d{1,6})\)")


def engine_address() -> str:
    """Return where the drawing code of charts is served."""
    return f"/room/engine/{engine_tag()}.js"


@functools.cache
def engine_file() -> Packed:
    """Return the drawing code as it is sent."""
    plain = engine_source().encode()
    return Packed(plain, gzip.compress(plain, 9, mtime=0), f'"{engine_tag()}"', TYPES[".js"])


class EngineFile(FrameFile):
    """Serves the drawing code of charts."""

    def initialize(self, roots: Sequence[Path] = ()) -> None:
        """Take nothing over: there is but one file."""

    def get(self, asked: str = "") -> None:
        """Send it."""
        del asked
        self.send(engine_file(), CACHE_NAMED)


def chunk_names(main: str) -> list[str]:
    """Return the files that the page's main script loads at once, in order.

    Parameters
    ----------
    main : str
        That script; pieces are named by number in it.

    Examples
    --------
    >>> chunk_names("Promise.all([r.e(8211),r.e(427)]).then(e=>x.e(8211))")
    ['8211.voila.js', '427.voila.js']
    """
    return [f"{number}.{MAIN}" for number in dict.fromkeys(_CHUNK.findall(main))]


@functools.cache
def early_links() -> str:
    """Return the links by which a page's head has its scripts fetched.

    Notes
    -----
    A page's scripts stand below what its kernel gives; without these links a
    slow line is idle until then, and busy for long after.
    """
    for root in collect_static_paths(["voila", "nbconvert"], "scenariokit"):
        folder = Path(root)
        if (folder / MAIN).is_file():
            names = chunk_names((folder / MAIN).read_text("utf-8"))
            files = [MAIN, *(name for name in names if (folder / name).is_file())]
            scripts = [f'<link rel="preload" as="script" href="{STATIC}{name}">' for name in files]
            return "\n".join([*scripts, f'<link rel="modulepreload" href="{engine_address()}">'])
    return ""
