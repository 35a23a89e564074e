"""Files of the page frame, packed once and kept in memory."""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
import os
import re
from dataclasses import dataclass
from pathlib import Path

import tornado.web

from scenariokit.serve.guard import Guarded

PACKED = {".js", ".css", ".svg", ".json", ".ttf", ".eot"}
TYPES = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml",
         ".json": "application/json", ".woff": "font/woff", ".woff2": "font/woff2"}  # fmt: skip
KEPT = {*PACKED, ".woff", ".woff2", ".png", ".gif", ".ico", ".map"}
LONGEST = 200
CACHE = "public, max-age=3600"
CACHE_NAMED = "public, max-age=31536000, immutable"
"""For a file whose address changes with what is in it."""


PATIENT = (
    (
        re.compile(rb"(Date\.now\(\)-\w+)<2e3(?=;\)\{.{0,160}widget model not found)", re.DOTALL),
        rb"\1<12e4",
    ),
    (re.compile(rb"(did not respond in time\"\)),4e3\b"), rb"\1,12e4"),
)
"""Where the widgets' own code gives a kernel 2 s and 4 s to tell its models.

Forty pages that begin together on two cores need longer, and a page that gave
up stays empty. Files of another version without these places go out as they are.
"""

FRUGAL = (
    re.compile(rb"(async typeset\((\w+)\)\{)(?=try\{await this\._ensureInitialized\()"),
    rb"\1if(!/[$\\\\]/.test(\2.textContent))return;",
)
"""Where the frame fetches what sets formulas, for text that has the signs of none, too.

That is an eighth of all that a page is sent.
"""


@dataclass(frozen=True)
class Packed:
    """A file as it is sent."""

    plain: bytes
    zipped: bytes
    tag: str
    kind: str


_packed: dict[Path, Packed] = {}


def patient(script: bytes) -> bytes:
    """Return a script of the page frame that waits for a busy kernel, and fetches no more than it needs.

    Examples
    --------
    >>> patient(b'reject("Control comm did not respond in time"),4e3)')
    b'reject("Control comm did not respond in time"),12e4)'
    """
    for place, instead in (*PATIENT, FRUGAL):
        script = place.sub(instead, script)
    return script


def packed(path: Path) -> Packed:
    """Return a file, read and packed the first time it is asked for."""
    found = _packed.get(path)
    if found is None:
        plain = patient(path.read_bytes()) if path.suffix == ".js" else path.read_bytes()
        zipped = gzip.compress(plain, 6, mtime=0) if path.suffix in PACKED else b""
        tag = f'"{hashlib.sha256(plain).hexdigest()[:24]}"'
        kind = TYPES.get(path.suffix) or mimetypes.guess_type(path.name)[0] or ""
        found = Packed(plain, zipped, tag, kind or "application/octet-stream")
        _packed[path] = found
    return found


def found_below(roots: list[Path], asked: str) -> Path | None:
    """Return the file that is asked for, if it lies below a root and is of a kind that is served.

    Parameters
    ----------
    roots : list of pathlib.Path
        Where to look, in turn; absolute.
    asked : str
        Path in the address, decoded.
    """
    if "\0" in asked or "\\" in asked or len(asked) > LONGEST:
        return None
    for root in roots:
        # Not resolved: an installation may hold links, and what they lead to is meant.
        path = Path(os.path.abspath(root / asked.lstrip("/")))
        if path.is_relative_to(root) and path.suffix in KEPT and path.is_file():
            return path
    return None


class FrameFile(Guarded):
    """Serves files of the page frame."""

    admits_without_cookie = True  # they are open to everybody anyway, and hold nothing of anyone

    def initialize(self, roots: list[Path]) -> None:
        """Take over where to look."""
        self.roots = roots

    def get(self, asked: str) -> None:
        """Send a file."""
        path = found_below(self.roots, asked)
        if path is None:
            raise tornado.web.HTTPError(404)
        self.send(packed(path), CACHE)

    def send(self, file: Packed, cache: str) -> None:
        """Send a file, packed where the browser takes that; nothing if it has it already."""
        self.set_header("Content-Type", file.kind)
        self.set_header("Cache-Control", cache)
        self.set_header("Etag", file.tag)
        self.set_header("Vary", "Accept-Encoding")
        if self.check_etag_header():
            self.set_status(304)
            return
        if file.zipped and "gzip" in self.request.headers.get("Accept-Encoding", ""):
            self.set_header("Content-Encoding", "gzip")
            self.finish(file.zipped)
        else:
            self.finish(file.plain)

    def compute_etag(self) -> None:
        """Leave the tag as it was set."""
