"""The choice view and the open view in the file of a board."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from scenariokit.decide import LACKS, LIMITS, OBJECTIVES, usual_criteria
from scenariokit.decide.leaning import Leaning
from scenariokit.decide.limits import LimitKind
from scenariokit.language import tr
from scenariokit.widgets.board_file_checks import check_names, refuse
from scenariokit.widgets.board_paths import COMMON_PATHS, METHOD_PATHS

LEANINGS_KEPT: tuple[Leaning, ...] = ("average", "cautious", "regret")
"""Rules by which methods may be put in order."""
AXES = (*OBJECTIVES, "labour_per_area", "medium_volume_per_area", "investment_per_area")
"""Outcomes that may stand on an axis of the front."""
NO_TURN = ("tank.area", "tank.reserve_days", "feed.dilution", "feed.uptake_factor")
"""Numbers that move no outcome by which methods are put in order."""
FRONT = ("yield_per_area", "margin_per_area")
MAP = ("prices.medium_factor", "prices.labour_price")
MEDIUM = "medium:"
"""What stands before the id of a growing medium that cannot be had."""
DRAWS = 2048
DRAWS_ALLOWED = (256, 16_384)
"""Fewest and most draws of a saved board: more would hold up every slider of who opens it."""
USUAL_WEIGHT = 5.0
MOST_WEIGHT = 10.0
VIEW_NAME, LANGUAGE_CODE = r"[a-z_]{1,30}", r"([A-Za-z]{2,3}([-_][A-Za-z0-9]{2,8}){0,3})?"


def usual_weights() -> dict[str, float]:
    """Return how much each criterion counts as long as nobody says otherwise."""
    return {one.name: USUAL_WEIGHT for one in usual_criteria()}


@dataclass(frozen=True)
class ChoiceSettings:
    """What is set in the choice view; each as in `choice_state.ChoiceState`.

    Parameters
    ----------
    limits, weights : dict
        Number of each limit that is set, in its own unit; how much each criterion counts.
    lacking, front, mapped : tuple of str
        What cannot be had; outcomes on the axes of the front; paths on those of the map.
    objective, leaning, rival, turning : str
        What methods are put in order by, and how; the method beside the one in
        focus; the path whose crossing is drawn.
    draws : int
        How many draws are taken.
    """

    limits: dict[str, float] = field(default_factory=dict)
    lacking: tuple[str, ...] = ()
    objective: str = OBJECTIVES[0]
    leaning: Leaning = "average"
    front: tuple[str, str] = FRONT
    rival: str = ""
    turning: str = "prices.medium_factor"
    mapped: tuple[str, str] = MAP
    weights: dict[str, float] = field(default_factory=usual_weights)
    draws: int = DRAWS


@dataclass(frozen=True)
class PageSettings:
    """How the page stood when the board was saved; hints, which whoever opens it need not follow.

    Parameters
    ----------
    view : str
        The view that was open.
    language : str
        The language in which it was shown.
    """

    view: str = ""
    language: str = ""


@dataclass(frozen=True)
class BoardSettings:
    """All of a saved board that moves no number of its methods.

    Parameters
    ----------
    choice : ChoiceSettings
        What is set in the choice view.
    page : PageSettings
        How the page stood.
    """

    choice: ChoiceSettings = field(default_factory=ChoiceSettings)
    page: PageSettings = field(default_factory=PageSettings)


def choice_part(choice: ChoiceSettings) -> dict[str, Any]:
    """Return the choice view's settings as plain JSON types."""
    found = asdict(choice)
    return {key: list(one) if isinstance(one, tuple) else one for key, one in found.items()}


def page_part(page: PageSettings) -> dict[str, Any]:
    """Return how the page stood as plain JSON types."""
    return asdict(page)


def read_page(part: Any, place: str) -> PageSettings:
    """Return what `page_part` wrote.

    Raises
    ------
    ScenarioFileError
        If it cannot be read whole; the message names the field at fault.
    """
    _mapping(part, ("view", "language"), place)
    for key, pattern in (("view", rf"({VIEW_NAME})?"), ("language", LANGUAGE_CODE)):
        if not isinstance(part[key], str) or not re.fullmatch(pattern, part[key]):
            refuse(f"{place}.{key}", part[key], tr("a short name, or nothing"))
    return PageSettings(**part)


def read_choice(
    part: Any, chosen: Sequence[str], media: Mapping[str, Any], place: str
) -> ChoiceSettings:
    """Return what `choice_part` wrote.

    Parameters
    ----------
    part : object
        The decoded part of the document.
    chosen : sequence of str
        Ids of the methods compared.
    media : mapping
        Growing media by id.
    place : str
        Where it stands, for messages.

    Raises
    ------
    ScenarioFileError
        If it cannot be read whole; the message names the field at fault.
    """
    _mapping(part, [one.name for one in fields(ChoiceSettings)], place)
    lacks = [one.id for one in LACKS.values() if not one.names_things]
    shared = [path for path, _, _ in COMMON_PATHS if path not in NO_TURN]
    own = [path for path, _, _ in METHOD_PATHS]
    for key, options in (
        ("objective", OBJECTIVES), ("leaning", LEANINGS_KEPT), ("rival", ("", *chosen)),
        ("turning", (*shared, *own)),
    ):  # fmt: skip
        _one_of(part[key], options, f"{place}.{key}")
    _several(part["lacking"], (*lacks, *(f"{MEDIUM}{one}" for one in media)), f"{place}.lacking")
    _pair(part["front"], AXES, f"{place}.front")
    _pair(part["mapped"], shared, f"{place}.mapped")
    if part["mapped"][0] == part["mapped"][1]:
        refuse(f"{place}.mapped", part["mapped"], tr("two different ones"))
    _check_draws(part["draws"], f"{place}.draws")
    read: dict[str, Any] = {
        "limits": _limits(part["limits"], f"{place}.limits"),
        "weights": _weights(part["weights"], f"{place}.weights"),
        **{key: tuple(part[key]) for key in ("lacking", "front", "mapped")},
    }
    return ChoiceSettings(**{**part, **read})


def _mapping(part: Any, names: Sequence[str], place: str) -> None:
    if not isinstance(part, dict):
        refuse(place, part, tr("a mapping"))
    check_names(part, names, "", place)


def _one_of(value: Any, options: Sequence[str], place: str) -> None:
    if not isinstance(value, str) or value not in options:
        refuse(place, value, [one or tr("nothing") for one in options])


def _several(value: Any, options: Sequence[str], place: str) -> None:
    if not isinstance(value, list):
        refuse(place, value, tr("a list"))
    for one in value:
        _one_of(one, options, place)
    if len(set(value)) < len(value):
        refuse(place, value, tr("each once"))


def _pair(value: Any, options: Sequence[str], place: str) -> None:
    if not isinstance(value, list) or len(value) != 2:
        refuse(place, value, tr("a list of two"))
    for one in value:
        _one_of(one, options, place)


def _number(value: Any, most: float, place: str) -> float:
    """Return a number from 0 to `most`."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or not 0 <= value <= most:
        refuse(place, value, tr("a number from 0 to {most:g}", most=most))
    return float(value)


def _limits(part: Any, place: str) -> dict[str, float]:
    if not isinstance(part, dict):
        refuse(place, part, tr("a mapping"))
    for name in part:
        _one_of(name, tuple(LIMITS), place)
    return {
        name: _number(value, _most(LIMITS[name]), f"{place}.{name}") for name, value in part.items()
    }


def _most(limit: LimitKind) -> float:
    most = limit.parameter.maximum
    return math.inf if most is None else most


def _weights(part: Any, place: str) -> dict[str, float]:
    """Return the weight of each criterion; one that the file does not know yet has the usual one."""
    usual = usual_weights()
    if not isinstance(part, dict):
        refuse(place, part, tr("a mapping"))
    for name in part:
        _one_of(name, tuple(usual), place)
    found = {name: _number(value, MOST_WEIGHT, f"{place}.{name}") for name, value in part.items()}
    weights = {**usual, **found}
    if not sum(weights.values()):
        refuse(place, part, tr("at least one above 0"))
    return weights


def _check_draws(value: Any, place: str) -> None:
    fewest, most = DRAWS_ALLOWED
    if type(value) is not int or not fewest <= value <= most:
        words = tr("a whole number from {fewest} to {most}", fewest=fewest, most=most)
        refuse(place, value, words)
