"""A person's own tables in the file of a board: prices, methods, growing media, harvest weights."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from scenariokit import catalog
from scenariokit.errors import RecordError, ScenarioFileError
from scenariokit.language import tr
from scenariokit.scenario import harvest_from_plots, method_from
from scenariokit.trials import MethodYield, harvest_schema, read_harvest, yield_by_method
from scenariokit.widgets.board_file_checks import check_names, refuse


def _table_in(text: Any, place: str, read: Callable[[bytes], Any]) -> Any:
    """Return what `read` makes of the text of a table; bytes, so that none is taken for a path."""
    if not isinstance(text, str):
        refuse(place, text, tr("the text of a table, or null"))
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


def prices_part(prices: catalog.PriceList | None) -> dict[str, Any] | None:
    """Return a price list as plain JSON types, its rows as the text of a table."""
    if prices is None:
        return None
    return {
        "label": prices.label,
        "currency": prices.currency,
        "missing": list(prices.missing),
        "table": catalog.template(prices, sources=True),
    }


def read_own_prices(part: Any, media: Mapping[str, Any], place: str) -> catalog.PriceList | None:
    """Return a person's own price list, every item of the catalogue priced."""
    if part is None:
        return None
    if not isinstance(part, dict):
        refuse(place, part, tr("a price list, or null"))
    check_names(part, ("label", "currency", "missing", "table"), "", place)
    label, currency, missing = part["label"], part["currency"], part["missing"]
    if not isinstance(label, str) or not isinstance(currency, str):
        raise ScenarioFileError(tr("{place}: label and currency must be text", place=place))
    items = catalog.items_of(media)
    if not isinstance(missing, list) or any(item not in items for item in map(str, missing)):
        refuse(f"{place}: missing", missing, tr("names of items"))
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
        raise ScenarioFileError(
            tr("{place}: has no price for {items}", place=place, items=", ".join(lacking))
        )
    own: catalog.PriceList = replace(found, label=label, missing=tuple(missing))
    return own


def methods_table(methods: Mapping[str, Any]) -> str | None:
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


def media_table(media: Mapping[str, Any]) -> str | None:
    """Return the growing media that are not the catalogue's as a table."""
    rows = [medium for key, medium in media.items() if key not in catalog.media()]
    return catalog.write_csv(rows, "own_media") if rows else None


def read_own_media(text: Any, place: str) -> dict[str, Any]:
    """Return the catalogue's growing media and a person's own."""
    if text is None:
        return dict(catalog.media())
    merged = _table_in(text, place, lambda content: catalog.with_own_media(content, name="table"))
    _whole(merged.problems, place)
    return dict(merged.entries)


def read_own_methods(text: Any, media: Mapping[str, Any], place: str) -> dict[str, Any]:
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


def harvest_table(harvest: Mapping[tuple[str, str], MethodYield]) -> str | None:
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


def read_own_harvest(
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
