"""A saved board packed tightly: what all its scenarios share is written once."""

from __future__ import annotations

import json
from typing import Any, NoReturn

from scenariokit.errors import ScenarioFileError
from scenariokit.language import tr

BOARD, KIND, SHARED, SCENARIOS = "board", "kind", "shared", "scenarios"
KIND_NAMES = ("format", "version")
MOST_UNPACKED = 4_000_000
"""Characters of a board that is unpacked; a usual one has some tens of thousands."""


def packed(text: str) -> str:
    """Return a board's JSON text packed, without whitespace.

    Parameters
    ----------
    text : str
        What `board_file.board_text` wrote.

    Notes
    -----
    The order of names is kept: sums over a mapping then give the same last digit.
    """
    document = json.loads(text)
    scenarios = document.pop(SCENARIOS)
    kind = {name: scenarios[0][name] for name in KIND_NAMES}
    bodies = [one["scenario"] for one in scenarios]
    first = bodies[0]
    shared = [
        name for name in first if all(name in one and one[name] == first[name] for one in bodies)
    ]
    packs = {
        KIND: kind,
        SHARED: {name: first[name] for name in shared},
        SCENARIOS: [
            {name: part for name, part in body.items() if name not in shared} for body in bodies
        ],
        BOARD: document,
    }
    return json.dumps(packs, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def unpacked(text: str, name: str) -> str:
    """Return the board's JSON text that `packed` was given, without whitespace.

    Parameters
    ----------
    text : str
        A packed board, from anywhere.
    name : str
        What it came from, for messages.

    Raises
    ------
    ScenarioFileError
        If it is no packed board, or would be too large; its contents are not checked.
    """
    try:
        packs = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ScenarioFileError(_no_board(name)) from error
    kinds = {KIND: dict, SHARED: dict, SCENARIOS: list, BOARD: dict}
    if not isinstance(packs, dict) or set(packs) != set(kinds):
        _refuse(name)
    if any(type(packs[key]) is not kind for key, kind in kinds.items()):
        _refuse(name)
    if any(type(one) is not dict for one in packs[SCENARIOS]) or SCENARIOS in packs[BOARD]:
        _refuse(name)
    repeated = len(_compact({**packs[KIND], **packs[SHARED]}))
    if repeated * len(packs[SCENARIOS]) + len(text) > MOST_UNPACKED:
        raise ScenarioFileError(
            tr(
                "{place} holds a board of more than {most:,} characters, which none has.",
                place=name,
                most=MOST_UNPACKED,
            )
        )
    scenarios = [{**packs[KIND], "scenario": {**packs[SHARED], **one}} for one in packs[SCENARIOS]]
    return _compact({**packs[BOARD], SCENARIOS: scenarios})


def _compact(part: Any) -> str:
    return json.dumps(part, separators=(",", ":"), ensure_ascii=False)


def _no_board(name: str) -> str:
    return tr("{place} arrived whole, but holds no board.", place=name)


def _refuse(name: str) -> NoReturn:
    raise ScenarioFileError(_no_board(name))
