"""The ``scenariokit`` command."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scenariokit import __version__
from scenariokit.errors import ScenarioKitError


@dataclass(frozen=True)
class Command:
    """One sub-command.

    Parameters
    ----------
    name, help : str
        What is typed, and what it does in one line.
    add_arguments : callable
        Adds its arguments to a parser.
    run : callable
        Does it; returns the exit status.
    """

    name: str
    help: str
    add_arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def _serve_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=int, default=8866, help="port; a free one if it is in use")
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
    parser.add_argument("--notebook", help="another notebook to show instead of the board")
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser")


def _serve(options: argparse.Namespace) -> int:
    from scenariokit.serve import serve

    return serve(options.notebook, options.host, options.port, browser=not options.no_browser)


COMMANDS: tuple[Command, ...] = (
    Command("serve", "Open the comparison board in your browser.", _serve_arguments, _serve),
)


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    made = argparse.ArgumentParser(
        prog="scenariokit", description="Compare passive hydroponic growing methods."
    )
    made.add_argument("--version", action="version", version=f"scenariokit {__version__}")
    rooms = made.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in COMMANDS:
        inner = rooms.add_parser(command.name, help=command.help, description=command.help)
        command.add_arguments(inner)
        inner.set_defaults(run=command.run)
    return made


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; return the exit status."""
    options = parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except ScenarioKitError as error:
        print(f"scenariokit {options.command}: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
