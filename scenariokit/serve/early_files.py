"""What every page needs and is fetched while its kernel is still being made."""

from __future__ import annotations

import functools
import gzip
import json
import re
from collections.abc import Sequence
from pathlib import Path

import tornado.web
from voila.paths import collect_static_paths

from scenariokit.serve.static_files import CACHE_NAMED, TYPES, FrameFile, Packed
from scenariokit.widgets.engine_source import engine_source
from scenariokit.widgets.page_code import ENGINE, WIDGET_CODE, code_tag

STATIC = "/voila/static/"
CODE = "/room/code/"
MAIN = "voila.js"
_CHUNK = re.compile(r"\be\((\d{1,6})\)")


@functools.cache
def _codes() -> dict[str, tuple[str, Packed]]:
    """Return address and file of the page code of all widgets, by name; the drawing code first."""
    texts = {ENGINE: engine_source(), **{one.name: one.whole_text for one in WIDGET_CODE}}
    made = {}
    for name, text in texts.items():
        plain, tag = text.encode(), code_tag(text)
        zipped = gzip.compress(plain, 9, mtime=0)
        made[name] = f"{CODE}{name}-{tag}.js", Packed(plain, zipped, f'"{tag}"', TYPES[".js"])
    return made


@functools.cache
def code_files() -> dict[str, Packed]:
    """Return the page code of all widgets as it is sent, by address; the drawing code first."""
    return dict(_codes().values())


@functools.cache
def code_addresses() -> str:
    """Return where page code is served, as a kernel is told it."""
    return json.dumps({name: address for name, (address, _) in _codes().items()})


class CodeFile(FrameFile):
    """Serves the page code of widgets."""

    def initialize(self, roots: Sequence[Path] = ()) -> None:
        """Take nothing over: the files are known."""

    def get(self, asked: str) -> None:
        """Send one."""
        file = code_files().get(CODE + asked)
        if file is None:
            raise tornado.web.HTTPError(404)
        self.send(file, CACHE_NAMED)


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
            modules = [f'<link rel="modulepreload" href="{one}">' for one in code_files()]
            return "\n".join([*scripts, *modules])
    return ""
