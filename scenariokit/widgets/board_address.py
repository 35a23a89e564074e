"""The address that opens a board: this page's, another one's, or that of what starts a page."""

from __future__ import annotations

import re
from urllib.parse import SplitResult, parse_qsl, urlencode, urlsplit, urlunsplit

from scenariokit.errors import ScenarioFileError, shorten
from scenariokit.language import tr

BOARD, LANGUAGE, TOKEN, INNER = "board", "language", "token", "urlpath"
BOARD_PATH = "voila/render/notebooks/00_board.ipynb"
"""Where the board is below the address of a hosted room."""
MOST_IN_QUERY = 8_000
"""Characters of an address that a server must read: common practice, no published source."""
_LAUNCHER = re.compile(r"/v2/[^/]+/")
_SESSION = re.compile(r"/(hub/)?user(-redirect)?/")
_SAFE = "/:"


def link_address(base: str, payload: str, *, own_page: bool = False) -> str:
    """Return the address that opens a board.

    A page keeps the board behind ``#``, which never reaches its server. What
    starts a page for a person (it has ``urlpath`` or ``/v2/`` in its address)
    loses that part, and so does a hub that asks who is there: for them the
    board stands in the query.

    Parameters
    ----------
    base : str
        Address of the page, or of what starts it.
    payload : str
        What `board_link.link_payload` made.
    own_page : bool
        Whether `base` is where the person is: their language then stays out of it.

    Returns
    -------
    str
        It holds no token and no password.

    Raises
    ------
    ScenarioFileError
        If `base` is no web address, or a server could not read one so long.

    Examples
    --------
    >>> link_address("http://room.example:8866/?token=secret", "1.abc")
    'http://room.example:8866/#board=1.abc'
    >>> link_address("https://start.example/v2/gh/a/b/main?urlpath=voila%2Frender%2Fx.ipynb", "1.a")
    'https://start.example/v2/gh/a/b/main?urlpath=voila/render/x.ipynb%3Fboard%3D1.a'
    """
    parts = _web_address(base)
    dropped = {TOKEN, BOARD, LANGUAGE} if own_page else {TOKEN, BOARD}
    query = _query(parts.query, dropped)
    board = (BOARD, payload)
    inner = dict(query).get(INNER, "")
    fragment = ""
    if inner or _LAUNCHER.search(parts.path):
        within = urlsplit(inner or BOARD_PATH)
        asked = urlencode([*_query(within.query, dropped), board], safe=_SAFE)
        query = [one for one in query if one[0] != INNER]
        query.append((INNER, urlunsplit(within._replace(query=asked, fragment=""))))
    elif _SESSION.search(parts.path):
        query.append(board)
    else:
        fragment = urlencode([board])
    found = urlunsplit((parts.scheme, parts.netloc, parts.path or "/",
                        urlencode(query, safe=_SAFE), fragment))  # fmt: skip
    if not fragment and len(found) > MOST_IN_QUERY:
        raise ScenarioFileError(
            tr(
                "This address would have {length:,} characters, and servers take about {most:,}; "
                "save the board as a file and send that instead.",
                length=len(found),
                most=MOST_IN_QUERY,
            )
        )
    return found


def in_own_session(base: str) -> bool:
    """Return whether an address leads into one person's own session on a hub."""
    return re.search(r"/user/[^/]+/", base) is not None


def _web_address(base: str) -> SplitResult:
    """Return the parts of an address, without anyone's name and password."""
    try:
        parts = urlsplit(base.strip())
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
        parts = urlsplit("")
    if parts.scheme not in ("http", "https") or not host:
        raise ScenarioFileError(
            tr(
                "{address} is no web address; it must begin with https:// or http:// and name a "
                "computer.",
                address=repr(shorten(base)),
            )
        )
    shown = f"[{host}]" if ":" in host else host
    return parts._replace(netloc=shown if port is None else f"{shown}:{port}")


def _query(text: str, dropped: set[str]) -> list[tuple[str, str]]:
    return [one for one in parse_qsl(text, keep_blank_values=True) if one[0] not in dropped]
