"""A whole board as one JSON text: what is shown, the scenarios, and a person's own tables."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NoReturn

import numpy as np

from scenariokit import catalog
from scenariokit.errors import RecordError, ScenarioFileError
from scenariokit.scenario import Scenario, compare, harvest_from_plots, leaves, method_from
from scenariokit.scenario import document as scenario_document
from scenariokit.trials import MethodYield, harvest_schema, read_harvest, yield_by_method
from scenariokit.widgets.board_feed import FeedState
from scenariokit.widgets.board_file_feed import feed_part, read_feed

BOARD_FORMAT = "scenariokit/comparison"
BOARD_VERSION = 2
MOST_METHODS = 8
"""How many methods are shown at once; a ninth colour and shape could not be told apart."""

MONTHLY = ("site.reference_evapotranspiration", "site.rain", "site.mean_temperature")
"""Leaves that hold twelve numbers."""

VIEW = ("crop", "site", "price_list", "chosen", "focus", "system", "currency", "rate")
"""What was picked, by name."""


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
    """

    view: dict[str, Any]
    scenarios: dict[str, Scenario]
    methods: dict[str, Any]
    media: dict[str, Any]
    own_prices: catalog.PriceList | None
    own_harvest: dict[tuple[str, str], MethodYield]
    feed: FeedState


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
            "prices": _prices_part(saved.own_prices),
            "methods": _methods_table(saved.methods),
            "media": _media_table(saved.media),
            "harvest": _harvest_table(saved.own_harvest),
        },
        "feed": feed_part(saved.feed),
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
    media = _own_media(own["media"], f"{name}, own.media")
    prices = _own_prices(own["prices"], media, f"{name}, own.prices")
    methods = _own_methods(own["methods"], media, f"{name}, own.methods")
    harvest = _own_harvest(own["harvest"], methods, f"{name}, own.harvest")
    read = [
        scenario_document.from_document(one, f"{name}, scenario {number}")
        for number, one in enumerate(document["scenarios"], 1)
    ]
    scenarios = {one.method.id: one for one in read}
    if len(scenarios) < len(read):
        raise ScenarioFileError(f"{name}: two scenarios are of the same method")
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
    return SavedBoard(view, scenarios, methods, media, prices, harvest, feed)


def _document(content: bytes, name: str) -> dict[str, Any]:
    """Return the decoded document, its outer fields checked."""
    try:
        document = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise ScenarioFileError(f"{name}: is not a JSON document ({error})") from error
    if not isinstance(document, dict) or document.get("format") != BOARD_FORMAT:
        raise ScenarioFileError(
            f'{name}: is not a saved board (its "format" is not "{BOARD_FORMAT}")'
        )
    version = document.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise ScenarioFileError(f'{name}: "version" = {version!r} is not a whole number from 1 on')
    if version > BOARD_VERSION:
        raise ScenarioFileError(
            f"{name}: is of version {version}, and this scenariokit reads up to {BOARD_VERSION}; "
            "install a newer scenariokit to open it"
        )
    if version == 1 and "feed" not in document:  # before, all was one published recipe
        document = {**document, "feed": feed_part(FeedState())}
    outer = ("format", "version", "view", "own", "feed", "scenarios")
    _check_names(document, outer, "", name)
    for part, kind, names in (("view", dict, VIEW), ("own", dict, ("prices", "methods", "media", "harvest")),
                              ("scenarios", list, ())):  # fmt: skip
        if not isinstance(document[part], kind) or not document[part]:
            raise ScenarioFileError(f"{name}: {part} is empty or of the wrong kind")
        if names:
            _check_names(document[part], names, f"{part}.", name)
    return document


def _check_names(given: Mapping[str, Any], names: Sequence[str], prefix: str, name: str) -> None:
    """Refuse a part that has a field too many or too few."""
    unknown, missing = sorted(set(given) - set(names)), sorted(set(names) - set(given))
    if unknown:
        raise ScenarioFileError(f"{name}: unknown field {prefix}{unknown[0]}")
    if missing:
        raise ScenarioFileError(f"{name}: the field {prefix}{missing[0]} is missing")


def _refuse(place: str, value: Any, allowed: Any) -> NoReturn:
    words = allowed if isinstance(allowed, str) else ", ".join(allowed)
    raise ScenarioFileError(f"{place} = {str(value)[:60]!r}; allowed: {words}")


def _checked_view(view: dict[str, Any], scenarios: Mapping[str, Scenario], name: str) -> Any:
    """Return the view of a saved board, each field checked against what there is."""
    chosen, ids = view["chosen"], list(scenarios)
    if not isinstance(chosen, list) or not chosen or any(key not in ids for key in chosen):
        _refuse(f"{name}: view.chosen", chosen, ids)
    if len(set(chosen)) < len(chosen) or len(chosen) > MOST_METHODS:
        _refuse(f"{name}: view.chosen", chosen, f"at most {MOST_METHODS} methods, each once")
    allowed = {
        "crop": sorted(catalog.crops()),
        "site": sorted(catalog.sites()),
        "price_list": sorted(catalog.price_lists()),
        "focus": chosen,
        "system": ["metric", "us"],
    }
    for key, options in allowed.items():
        if view[key] not in options:
            _refuse(f"{name}: view.{key}", view[key], options)
    currency = view["currency"]
    if not isinstance(currency, str) or not re.fullmatch("[A-Z]{3}", currency):
        _refuse(f"{name}: view.currency", currency, "three capital letters")
    return {**view, "chosen": list(chosen)}


def _check_rate(view: Mapping[str, Any], currency: str, name: str) -> None:
    """Refuse a rate that is none, or one between a currency and itself."""
    rate = view["rate"]
    if isinstance(rate, bool) or not isinstance(rate, int | float):
        _refuse(f"{name}: view.rate", rate, "a number above zero")
    if not (math.isfinite(rate) and rate > 0):
        _refuse(f"{name}: view.rate", rate, "a number above zero")
    if view["currency"] == currency and rate != 1:
        _refuse(f"{name}: view.rate", rate, f"1, because the prices are in {currency} already")


def _check_scenario(one: Scenario, wanted: Mapping[str, list[str]], place: str) -> None:
    """Refuse a scenario that belongs to another board, or holds a whole ensemble."""
    for path, options in wanted.items():
        part, _, attribute = path.partition(".")
        found = getattr(getattr(one, part), attribute)
        if found not in options:
            _refuse(f"{place}: {path}", found, options)
    for path, _, value in leaves(one):
        monthly = path in MONTHLY
        shape = (12,) if monthly else ()
        if np.shape(value.magnitude) != shape:
            number = "twelve numbers" if monthly else "one number; a board shows no ensemble"
            _refuse(f"{place}: {path}", value.magnitude, number)


def _check_outcomes(read: Sequence[Scenario], name: str) -> None:
    """Refuse scenarios that cannot be evaluated, before anything of them is taken over."""
    try:
        compare(read)
    except KeyError as error:
        raise ScenarioFileError(f"{name}: a scenario lacks {error}") from error
    except (ArithmeticError, IndexError, ValueError) as error:
        raise ScenarioFileError(f"{name}: a scenario cannot be evaluated: {error}") from error


# -- a person's own tables -----------------------------------------------------------------


def _table_in(text: Any, place: str, read: Callable[[bytes], Any]) -> Any:
    """Return what `read` makes of the text of a table; bytes, so that none is taken for a path."""
    if not isinstance(text, str):
        _refuse(place, text, "the text of a table, or null")
    try:
        return read(text.encode("utf-8"))
    except RecordError as error:
        raise ScenarioFileError(f"{place}: {error}") from error


def _whole(problems: Sequence[Any], place: str) -> None:
    if problems:
        raise ScenarioFileError(f"{place}: {problems[0]}")


def _possible(rows: Iterable[Any], make: Callable[[Any], Any], place: str) -> None:
    """Refuse rows that can be read, but of which no part of a scenario can be made."""
    for row in rows:
        try:
            make(row)
        except ValueError as error:
            raise ScenarioFileError(f"{place}: {error}") from error


def _prices_part(prices: catalog.PriceList | None) -> dict[str, Any] | None:
    if prices is None:
        return None
    return {
        "label": prices.label,
        "currency": prices.currency,
        "missing": list(prices.missing),
        "table": catalog.template(prices, sources=True),
    }


def _own_prices(part: Any, media: Mapping[str, Any], place: str) -> catalog.PriceList | None:
    """Return a person's own price list, every item of the catalogue priced."""
    if part is None:
        return None
    if not isinstance(part, dict):
        _refuse(place, part, "a price list, or null")
    _check_names(part, ("label", "currency", "missing", "table"), "", place)
    label, currency, missing = part["label"], part["currency"], part["missing"]
    if not isinstance(label, str) or not isinstance(currency, str):
        raise ScenarioFileError(f"{place}: label and currency must be text")
    items = catalog.items_of(media)
    if not isinstance(missing, list) or any(item not in items for item in map(str, missing)):
        _refuse(f"{place}: missing", missing, "names of items")
    found, problems = _table_in(
        part["table"],
        place,
        lambda content: catalog.read_prices(
            content, currency=currency, name=label or "my prices", items=items
        ),
    )
    _whole(problems, place)
    lacking = [item for item in found.missing if item in catalog.items()]
    if lacking:
        raise ScenarioFileError(f"{place}: has no price for {', '.join(lacking)}")
    own: catalog.PriceList = replace(found, label=label, missing=tuple(missing))
    return own


def _methods_table(methods: Mapping[str, Any]) -> str | None:
    """Return the methods that are not the catalogue's as a table, one row for each crop."""
    shipped = catalog.methods()
    rows = [
        {
            **method,
            "crop": crop,
            "yield_low": low,
            "yield_typical": typical,
            "yield_high": high,
            "supplies_like": next(
                (key for key, row in shipped.items() if row["supplies"] == method["supplies"]), ""
            ),
        }
        for key, method in methods.items()
        if key not in shipped
        for crop, (low, typical, high) in method["yields"].items()
    ]
    return catalog.write_csv(rows, "own_methods") if rows else None


def _media_table(media: Mapping[str, Any]) -> str | None:
    """Return the growing media that are not the catalogue's as a table."""
    rows = [medium for key, medium in media.items() if key not in catalog.media()]
    return catalog.write_csv(rows, "own_media") if rows else None


def _own_media(text: Any, place: str) -> dict[str, Any]:
    """Return the catalogue's growing media and a person's own."""
    if text is None:
        return dict(catalog.media())
    merged = _table_in(text, place, lambda content: catalog.with_own_media(content, name="table"))
    _whole(merged.problems, place)
    return dict(merged.entries)


def _own_methods(text: Any, media: Mapping[str, Any], place: str) -> dict[str, Any]:
    """Return the catalogue's methods and a person's own."""
    if text is None:
        return dict(catalog.methods())
    mixes = {**catalog.mixes(), **catalog.single_mixes(media)}
    merged = _table_in(
        text,
        place,
        lambda content: catalog.with_own_methods(content, mixes=mixes, name="table"),
    )
    _whole(merged.problems, place)
    own = [merged.entries[key] for key in merged.own]
    _possible(own, lambda row: method_from(row, mixes), place)
    return dict(merged.entries)


def _harvest_table(harvest: Mapping[tuple[str, str], MethodYield]) -> str | None:
    """Return weighed plots as a table, each as if it were of one square metre."""
    rows = [
        {
            "plot": f"{method} {crop} {number}",
            "method": method,
            "crop": crop,
            "tank_area": 1.0,
            "harvest_mass": mass,
        }
        for (method, crop), found in harvest.items()
        for number, mass in enumerate([*found.values, *[None] * found.unharvested], 1)
    ]
    return catalog.write_csv(rows, harvest_schema()) if rows else None


def _own_harvest(
    text: Any, methods: Mapping[str, Any], place: str
) -> dict[tuple[str, str], MethodYield]:
    """Return a person's own yields."""
    if text is None:
        return {}
    found = _table_in(
        text, place, lambda content: read_harvest(content, name="table", methods=methods)
    )
    _whole(found.problems, place)
    yields = yield_by_method(found)
    _possible(yields.values(), harvest_from_plots, place)
    return yields
