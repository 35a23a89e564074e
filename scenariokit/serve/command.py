"""What can be asked of ``scenariokit serve``."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from scenariokit.environment import WALL_VARIABLE
from scenariokit.language import languages, tr, use_language
from scenariokit.serve.server import DEFAULT_PORT, RoomWish, ServeError, serve


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options to a parser."""
    parser.add_argument(
        "--port", type=int, default=DEFAULT_PORT, help=tr("port; a free one if it is in use")
    )
    parser.add_argument("--host", default="127.0.0.1", help=tr("address to listen on"))
    parser.add_argument("--notebook", help=tr("another notebook to show instead of the board"))
    parser.add_argument("--no-browser", action="store_true", help=tr("do not open a browser"))
    parser.add_argument(
        "--language", choices=tuple(languages()),
        help=tr("language where a browser asks for none that is known"),
    )  # fmt: skip
    room = parser.add_argument_group(tr("for a room of people"))
    room.add_argument(
        "--room", action="store_true",
        help=tr("open a lobby with a code to scan, and give everybody a board of their own"),
    )  # fmt: skip
    room.add_argument(
        "--people", type=int,
        help=tr("boards at one time; worked out from this computer's memory if left out"),
    )  # fmt: skip
    room.add_argument("--ready", type=int, help=tr("boards kept ready for those who come next"))
    room.add_argument(
        "--token", default="",
        help=tr("word in the link instead of a random one, so that links outlive a new start"),
    )  # fmt: skip
    room.add_argument(
        "--wall",
        help=tr("folder in which people's records are collected and shown on a results wall"),
    )
    room.add_argument(
        "--one-by-one", action="store_true",
        help=tr("start each board's process by itself: slower, and takes more memory"),
    )  # fmt: skip


def run_command(options: argparse.Namespace) -> int:
    """Serve as asked.

    Raises
    ------
    ServeError
        If options for a room are given without one, or the wall's folder is not there.
    """
    if options.language:
        use_language(options.language)
    asked = options.people, options.ready, options.token or None, options.wall
    if not options.room and (options.one_by_one or any(one is not None for one in asked)):
        raise ServeError(
            tr("--people, --ready, --token, --wall and --one-by-one are for a room; add --room.")
        )
    if options.wall:
        _name_wall(options.wall)
    room = RoomWish(*asked[:2], options.token, not options.one_by_one) if options.room else None
    return serve(
        options.notebook, options.host, options.port, browser=not options.no_browser, room=room
    )


def _name_wall(folder: str) -> None:
    """Tell this server's boards where the records for the wall go."""
    path = Path(folder).absolute()
    if not path.is_dir():
        raise ServeError(tr("--wall: there is no folder {folder}.", folder=path))
    os.environ[WALL_VARIABLE] = str(path)
