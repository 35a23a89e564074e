"""A whole board as one JSON text: what is shown, the scenarios, and a person's own tables."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NoReturn

import numpy as np

from scenariokit import catalog
from scenariokit.errors import ScenarioFileError
from scenariokit.language import tr
from scenariokit.scenario import Scenario, compare, leaves
from scenariokit.scenario import document as scenario_document
from scenariokit.trials import MethodYield
from scenariokit.widgets.board_feed import FeedState
from scenariokit.widgets.board_file_checks import check_finite, check_names, check_schema, refuse
from scenariokit.widgets.board_file_choice import (
    BoardSettings,
    ChoiceSettings,
    PageSettings,
    choice_part,
    page_part,
    read_choice,
    read_page,
)
from scenariokit.widgets.board_file_feed import feed_part, read_feed
from scenariokit.widgets.board_file_own import (
    harvest_table,
    media_table,
    methods_table,
    prices_part,
    read_own_harvest,
    read_own_media,
    read_own_methods,
    read_own_prices,
)

BOARD_FORMAT = "scenariokit/comparison"
BOARD_VERSION = 3
MOST_METHODS = 8
"""How many methods are shown at once; a ninth colour and shape could not be told apart."""

MONTHLY = ("site.reference_evapotranspiration", "site.rain", "site.mean_temperature")
"""Leaves that hold twelve numbers."""

VIEW = ("crop", "site", "price_list", "chosen", "focus", "system", "currency", "rate")
"""What was picked, by name."""
OWN = ("prices", "methods", "media", "harvest")
"""A person's own tables, by name."""
OUTER = ("format", "version", "view", "own", "feed", "choice", "page", "scenarios")
MOST_SCENARIOS = 200


def _to_version_2(document: dict[str, Any]) -> dict[str, Any]:
    """Return a board with its nutrient solution, before always one published recipe."""
    return {"feed": feed_part(FeedState()), **document}


def _to_version_3(document: dict[str, Any]) -> dict[str, Any]:
    """Return a board with the usual settings of the choice view, before kept nowhere."""
    usual = {"choice": choice_part(ChoiceSettings()), "page": page_part(PageSettings())}
    return {**usual, **document}


MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {
    1: _to_version_2,
    2: _to_version_3,
}
"""From each older version, the function that brings a board one version up."""


@dataclass(frozen=True)
class SavedBoard:
    """What a file of a board holds.

    Parameters
    ----------
    view : dict
        What was picked: the names in `VIEW`.
    scenarios : dict
        Scenario by the id of its method.
    methods, media : dict
        The catalogue's methods and growing media, and a person's own.
    own_prices : PriceList or None
        A person's own price list.
    own_harvest : dict
        A person's own yields by (method, crop).
    feed : FeedState
        How the nutrient solution is arrived at.
    settings : BoardSettings
        What is set in the choice view, and how the page stood.
    """

    view: dict[str, Any]
    scenarios: dict[str, Scenario]
    methods: dict[str, Any]
    media: dict[str, Any]
    own_prices: catalog.PriceList | None
    own_harvest: dict[tuple[str, str], MethodYield]
    feed: FeedState
    settings: BoardSettings = field(default_factory=BoardSettings)


def board_text(saved: SavedBoard) -> str:
    """Return a board as JSON text.

    A person's own tables are kept as the CSV that `catalog.read_prices`,
    `catalog.with_own_methods` and `trials.read_harvest` take.
    """
    document = {
        "format": BOARD_FORMAT,
        "version": BOARD_VERSION,
        "view": {name: saved.view[name] for name in VIEW},
        "own": {
            "prices": prices_part(saved.own_prices),
            "methods": methods_table(saved.methods),
            "media": media_table(saved.media),
            "harvest": harvest_table(saved.own_harvest),
        },
        "feed": feed_part(saved.feed),
        "choice": choice_part(saved.settings.choice),
        "page": page_part(saved.settings.page),
        "scenarios": [scenario_document.to_document(one) for one in saved.scenarios.values()],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def read_board(content: bytes, name: str) -> SavedBoard:
    """Return the board that `board_text` wrote.

    Parameters
    ----------
    content : bytes
        The file.
    name : str
        Its name, for messages.

    Raises
    ------
    ScenarioFileError
        If it cannot be read whole; the message names the field at fault.
    """
    document = _document(content, name)
    own = document["own"]
    media = read_own_media(own["media"], f"{name}, own.media")
    prices = read_own_prices(own["prices"], media, f"{name}, own.prices")
    methods = read_own_methods(own["methods"], media, f"{name}, own.methods")
    harvest = read_own_harvest(own["harvest"], methods, f"{name}, own.harvest")
    read = [
        scenario_document.from_document(one, f"{name}, scenario {number}")
        for number, one in enumerate(document["scenarios"], 1)
    ]
    scenarios = {one.method.id: one for one in read}
    if len(scenarios) < len(read):
        _fail(tr("{place}: two scenarios are of the same method", place=name))
    view = _checked_view(document["view"], scenarios, name)
    wanted = {
        "method.id": sorted(methods),
        "crop.id": [view["crop"]],
        "site.id": [view["site"]],
        "prices.id": [prices.id if prices else view["price_list"]],
        "prices.currency": [(prices or catalog.price_list(view["price_list"])).currency],
    }
    for number, one in enumerate(read, 1):
        _check_scenario(one, wanted, f"{name}, scenario {number}")
    _check_rate(view, wanted["prices.currency"][0], name)
    _check_outcomes(read, name)
    feed = read_feed(document["feed"], f"{name}: feed")
    choice = read_choice(document["choice"], view["chosen"], media, f"{name}: choice")
    settings = BoardSettings(choice, read_page(document["page"], f"{name}: page"))
    check_schema(document, name)  # last, because the messages above say more
    return SavedBoard(view, scenarios, methods, media, prices, harvest, feed, settings)


def _fail(text: str) -> NoReturn:
    raise ScenarioFileError(text)


def _document(content: bytes, name: str) -> dict[str, Any]:
    """Return the decoded document in this version, its outer fields checked."""
    document = _decoded(content, name)
    version = document["version"]
    if type(version) is not int or version < 1:
        _fail(
            tr(
                '{place}: "version" = {value} is not a whole number from 1 on',
                place=name,
                value=repr(version)[:60],
            )
        )
    if version > BOARD_VERSION:
        _fail(
            tr(
                "{place}: is of version {version}, and this scenariokit reads up to {newest}; "
                "install a newer scenariokit to open it",
                place=name,
                version=str(version)[:20],
                newest=BOARD_VERSION,
            )
        )
    for older in range(version, BOARD_VERSION):
        document = {**MIGRATIONS[older](document), "version": older + 1}
    check_names(document, OUTER, "", name)
    for part, kind, names in (("view", dict, VIEW), ("own", dict, OWN), ("scenarios", list, ())):
        if not isinstance(document[part], kind) or not document[part]:
            _fail(tr("{place}: {part} is empty or of the wrong kind", place=name, part=part))
        if names:
            check_names(document[part], names, f"{part}.", name)
    if len(document["scenarios"]) > MOST_SCENARIOS:
        found = len(document["scenarios"])
        refuse(f"{name}: scenarios", found, tr("at most {most}", most=MOST_SCENARIOS))
    return document


def _decoded(content: bytes, name: str) -> dict[str, Any]:
    """Return a JSON document of our format, with no number or text that JSON cannot hold."""
    try:
        document = json.loads(content.decode("utf-8-sig"))
        json.dumps(document, ensure_ascii=False).encode("utf-8")  # half a surrogate pair is no text
        check_finite(document, name)
    except ScenarioFileError:
        raise
    except (ValueError, RecursionError) as error:
        reason = str(error)[:200]
        raise ScenarioFileError(
            tr("{place}: is not a JSON document ({reason})", place=name, reason=reason)
        ) from error
    if not isinstance(document, dict) or document.get("format") != BOARD_FORMAT:
        _fail(
            tr(
                '{place}: is not a saved board (its "format" is not "{format}")',
                place=name,
                format=BOARD_FORMAT,
            )
        )
    return {"version": None, **document}


def _checked_view(view: dict[str, Any], scenarios: Mapping[str, Scenario], name: str) -> Any:
    """Return the view of a saved board, each field checked against what there is."""
    chosen, ids = view["chosen"], list(scenarios)
    if not isinstance(chosen, list) or not chosen or any(key not in ids for key in chosen):
        refuse(f"{name}: view.chosen", chosen, ids)
    if len(set(chosen)) < len(chosen) or len(chosen) > MOST_METHODS:
        refuse(
            f"{name}: view.chosen",
            chosen,
            tr("at most {most} methods, each once", most=MOST_METHODS),
        )
    allowed = {
        "crop": sorted(catalog.crops()),
        "site": sorted(catalog.sites()),
        "price_list": sorted(catalog.price_lists()),
        "focus": chosen,
        "system": ["metric", "us"],
    }
    for key, options in allowed.items():
        if view[key] not in options:
            refuse(f"{name}: view.{key}", view[key], options)
    currency = view["currency"]
    if not isinstance(currency, str) or not re.fullmatch("[A-Z]{3}", currency):
        refuse(f"{name}: view.currency", currency, tr("three capital letters"))
    return {**view, "chosen": list(chosen)}


def _check_rate(view: Mapping[str, Any], currency: str, name: str) -> None:
    """Refuse a rate that is none, or one between a currency and itself."""
    rate = view["rate"]
    if isinstance(rate, bool) or not isinstance(rate, int | float):
        refuse(f"{name}: view.rate", rate, tr("a number above zero"))
    if not (math.isfinite(rate) and rate > 0):
        refuse(f"{name}: view.rate", rate, tr("a number above zero"))
    if view["currency"] == currency and rate != 1:
        refuse(
            f"{name}: view.rate",
            rate,
            tr("1, because the prices are in {currency} already", currency=currency),
        )


def _check_scenario(one: Scenario, wanted: Mapping[str, list[str]], place: str) -> None:
    """Refuse a scenario that belongs to another board, or holds a whole ensemble."""
    for path, options in wanted.items():
        part, _, attribute = path.partition(".")
        found = getattr(getattr(one, part), attribute)
        if found not in options:
            refuse(f"{place}: {path}", found, options)
    for path, _, value in leaves(one):
        monthly = path in MONTHLY
        shape = (12,) if monthly else ()
        if np.shape(value.magnitude) != shape:
            number = (
                tr("twelve numbers") if monthly else tr("one number; a board shows no ensemble")
            )
            refuse(f"{place}: {path}", value.magnitude, number)


def _check_outcomes(read: Sequence[Scenario], name: str) -> None:
    """Refuse scenarios that cannot be evaluated, before anything of them is taken over."""
    try:
        compare(read)
    except KeyError as error:
        lacking = tr("{place}: a scenario lacks {part}", place=name, part=str(error))
        raise ScenarioFileError(lacking) from error
    except (ArithmeticError, IndexError, ValueError) as error:
        raise ScenarioFileError(
            tr("{place}: a scenario cannot be evaluated: {reason}", place=name, reason=str(error))
        ) from error
