"""The nutrient solution in the file of a board: what was picked, and a person's own tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Any

from scenariokit import catalog, units
from scenariokit.errors import ScenarioFileError, ScenarioKitError
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.scenario import FeedPlan, MixingRoom
from scenariokit.widgets.board_feed import KEYS, FeedState, table_text
from scenariokit.widgets.board_file_checks import check_names, refuse

ROOM = {"stock_volume": ("solution_volume", "L"), "coldest": ("water_temperature", "degC")}
STOCKS = (2, 3)


def feed_part(feed: FeedState) -> dict[str, Any]:
    """Return a board's nutrient solution as plain JSON types."""
    room = {name: f"{units.quantity(getattr(feed.room, name), unit).m!r} {unit}"
            for name, (_, unit) in ROOM.items()}  # fmt: skip
    return {
        "plan": {**asdict(feed.plan), "shelf": list(feed.plan.shelf)},
        "room": {"stocks": feed.room.stocks, **room},
        "own": {table: table_text(rows, table) for table, rows in feed.own.items()},
    }


def read_feed(part: Any, place: str) -> FeedState:
    """Return the nutrient solution that `feed_part` wrote.

    Raises
    ------
    ScenarioFileError
        If it cannot be read whole; the message names the field at fault.
    """
    _names(part, ("plan", "room", "own"), place)
    feed = FeedState(room=_room(part["room"], f"{place}.room"))
    _names(part["own"], tuple(KEYS), f"{place}.own")
    for table, text in part["own"].items():
        feed = _with_table(feed, table, text, f"{place}.own.{table}")
    return replace(feed, plan=_plan(part["plan"], feed, f"{place}.plan"))


def _names(part: Any, names: tuple[str, ...], place: str) -> None:
    """Refuse a part that is no mapping, or has a field too many or too few."""
    if not isinstance(part, dict):
        refuse(place, part, tr("a mapping"))
    check_names(part, names, "", place)


def _room(part: Any, place: str) -> MixingRoom:
    _names(part, ("stocks", *ROOM), place)
    if type(part["stocks"]) is not int or part["stocks"] not in STOCKS:
        refuse(f"{place}.stocks", part["stocks"], tr("2 or 3"))
    for name in ROOM:
        if not isinstance(part[name], str):
            refuse(f"{place}.{name}", part[name], tr("a number with its unit, as text"))
    try:
        checked_floats(
            place, {name: (part[name], described) for name, (described, _) in ROOM.items()}
        )
    except ScenarioKitError as error:
        raise ScenarioFileError(str(error)) from error
    return MixingRoom(part["stocks"], part["stock_volume"], part["coldest"])


def _with_table(feed: FeedState, table: str, text: Any, place: str) -> FeedState:
    if text is None:
        return feed
    if not isinstance(text, str):
        refuse(place, text, tr("the text of a table, or null"))
    try:
        grown, problems, _ = feed.with_table(table, text.encode("utf-8"), "table")
    except ScenarioKitError as error:
        raise ScenarioFileError(f"{place}: {error}") from error
    if problems:
        raise ScenarioFileError(f"{place}: {problems[0]}")
    return grown


def _plan(part: Any, feed: FeedState, place: str) -> FeedPlan:
    _names(part, ("aim", "solved", "shelf", "cheapest", "water", "acid"), place)
    for name in ("solved", "cheapest"):
        if not isinstance(part[name], bool):
            refuse(f"{place}.{name}", part[name], tr("true or false"))
    _known(part["aim"], feed.store.targets, f"{place}.aim")
    _known(part["water"], feed.store.waters, f"{place}.water")
    _known(part["acid"], ("", *catalog.acids()), f"{place}.acid")
    if not isinstance(part["shelf"], list):
        refuse(f"{place}.shelf", part["shelf"], tr("a list of fertilisers"))
    for key in part["shelf"]:
        _known(key, feed.store.fertilisers, f"{place}.shelf")
    return FeedPlan(**{**part, "shelf": tuple(part["shelf"])})


def _known(value: Any, known: Iterable[str], place: str) -> None:
    names = tuple(known)
    if not isinstance(value, str) or value not in names:
        refuse(place, value, ", ".join(name or tr("nothing") for name in names))
