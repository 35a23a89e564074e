"""Every number that a scenario is made of, with what it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import catalog, units
from scenariokit.charts.frames import Showing
from scenariokit.charts.nutrients import element_name
from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, month_name, tr
from scenariokit.parameters import Parameter
from scenariokit.scenario import Comparison, Scenario, scenario_for, value_at
from scenariokit.scenario.leaves import leaves
from scenariokit.scenario.shown_labels import basis_text

OWN_FILE = mark("your own file")
SET_BY_HAND = mark("set by hand; the catalogue has another value")
DEFAULT = "default"
OWN, SET = "own", "set"
MONTHS = 12
_USUAL = ("feed.", "tank.", "site.climate_factor", "method.level.fill_interval",
          "prices.medium_factor", "prices.interest_rate", "prices.crops_per_year")  # fmt: skip
"""Inputs whose usual value comes with their description, not from a table."""


_LABELS = {
    "method.container.length": mark("Container: length"),
    "method.container.width": mark("Container: width"),
    "method.container.height": mark("Container: height"),
    "method.container.plants": mark("Plants in a container"),
    "method.container.base_height": mark("Underside of the container above the floor"),
    "method.container.medium_height": mark("Growing medium: height in the container"),
    "method.sheet.crops_per_sheet": mark("Crops that a sheet serves"),
    "method.level.low": mark("Lowest depth that still feeds the roots"),
    "method.level.high": mark("Held or refill depth"),
    "method.level.start": mark("Depth at the start"),
    "method.level.rim": mark("Height of the rim"),
    "crop.days_initial": mark("Days of the first stage"),
    "crop.days_development": mark("Days while leaves close"),
    "crop.days_mid": mark("Days in full leaf"),
    "crop.days_late": mark("Days while leaves die back"),
    "crop.kc_initial": mark("Crop coefficient, first stage"),
    "crop.kc_mid": mark("Crop coefficient, in full leaf"),
    "crop.kc_end": mark("Crop coefficient, at the end"),
    "harvest.low": mark("Yield, low"),
    "harvest.typical": mark("Usual yield"),
    "harvest.high": mark("Yield, high"),
}
"""What a person reads where several inputs share one description."""


@dataclass(frozen=True)
class Rest:
    """What a number rests on.

    Parameters
    ----------
    source : str
        Where it comes from.
    status : str
        How far that was followed: as in the catalogue, or ``own`` (a person's
        file), ``set`` (by hand), ``default`` (the usual value).
    """

    source: str
    status: str


@dataclass(frozen=True)
class InputLine:
    """One number of a scenario.

    Parameters
    ----------
    path, label : str
        Where it stands in a scenario, and what a person reads.
    value : float
        In `unit`.
    unit : str
        As a person reads it.
    rest : Rest
        What it rests on.
    """

    path: str
    label: str
    value: float
    unit: str
    rest: Rest


def input_lines(scenario: Scenario, showing: Showing) -> list[InputLine]:
    """Return every number of a scenario in the units of the reader.

    Money stands in the currency of the price list, at no rate.

    Parameters
    ----------
    scenario : Scenario
        One, no ensemble.
    showing : Showing
        Units of the reader.

    Raises
    ------
    InfeasibleError
        If an input is an ensemble.
    """
    base = _catalogued(scenario)
    found = []
    for path, described, quantity in leaves(scenario):
        rest = _rest(scenario, base, path, described, quantity)
        unit = described.shown_unit(showing.system)
        label = units.unit_label(unit, scenario.prices.currency)
        numbers = np.atleast_1d(units.magnitude(quantity, unit))
        if numbers.shape not in ((1,), (MONTHS,)):
            raise InfeasibleError(
                f"{path} holds {numbers.size} values; a list of inputs holds one number for each, "
                "so give a scenario that is no ensemble"
            )
        monthly = len(numbers) == MONTHS
        for month, value in enumerate(numbers, start=1):
            name = tr(_LABELS.get(path, described.label))
            if monthly:
                name = tr("{input}, {month}", input=name, month=month_name(month))
            place = f"{path}.{month}" if monthly else path
            found.append(InputLine(place, name, float(value), label, rest))
    return [*found, *_more_lines(scenario)]


def shared_lines(
    comparison: Comparison, showing: Showing
) -> list[tuple[InputLine, tuple[str, ...]]]:
    """Return the inputs of all scenarios, those that are alike once, with the methods they hold for.

    The names are empty where an input holds for every method.
    """
    holders: dict[InputLine, list[str]] = {}
    for found in comparison:
        for line in input_lines(found.scenario, showing):
            holders.setdefault(line, []).append(tr(found.scenario.method.label))
    everyone = len(comparison)
    return [
        (line, () if len(names) == everyone > 1 else tuple(names))
        for line, names in holders.items()
    ]


# -- what a number rests on --------------------------------------------------------------


def _catalogued(scenario: Scenario) -> Scenario | None:
    """Return the same scenario at the catalogue's values, if all its parts are the catalogue's."""
    method, crop = scenario.method.id, scenario.crop.id
    known = (
        method in catalog.methods()
        and crop in catalog.crops()
        and crop in catalog.methods()[method]["yields"]
        and scenario.site.id in catalog.sites()
    )
    if not known:
        return None
    prices = scenario.prices.id if scenario.prices.id in catalog.price_lists() else "tern_hollow"
    return scenario_for(method, crop, scenario.site.id, prices)


def _rest(
    scenario: Scenario, base: Scenario | None, path: str, described: Parameter, quantity: Any
) -> Rest:
    """Return what one input rests on, noticing what was changed by hand."""
    rest = _table_rest(scenario, path, described)
    if rest.status in (OWN, "trial") or base is None:
        return rest
    try:
        usual = value_at(base, path)
    except KeyError:  # a part that the catalogue's method does not have
        return Rest(tr(OWN_FILE), OWN)
    same = np.shape(usual.m) == np.shape(quantity.m) and np.allclose(
        usual.m, quantity.m, rtol=1e-9, atol=0
    )
    return rest if same else Rest(tr(SET_BY_HAND), SET)


def _table_rest(scenario: Scenario, path: str, described: Parameter) -> Rest:
    """Return source and status of the table that an input comes from."""
    method = scenario.method
    if path.startswith(_USUAL):
        return Rest(tr(described.source), DEFAULT)
    if path.startswith("harvest."):
        return Rest(basis_text(scenario.harvest.basis), scenario.harvest.status)
    if path.startswith("prices."):
        return _price_rest(scenario, _PRICED[path].format(crop=scenario.crop.id))
    if path.startswith("crop."):
        return _row_rest(catalog.crops(), scenario.crop.id, scenario.crop.label)
    if path.startswith("site."):
        if scenario.site.status == OWN:
            return Rest(tr(OWN_FILE), OWN)
        return _row_rest(catalog.sites(), scenario.site.id, scenario.site.label)
    if path.startswith("method.sheet.crops") and method.sheet:
        return _row_rest(catalog.sheets(), method.sheet.item, method.sheet.label)
    if path == "method.medium.mixing_loss" and method.medium:
        return _row_rest(catalog.mixes(), method.medium.mix, method.medium.label)
    return _row_rest(catalog.methods(), method.id, method.label)


_PRICED = {
    "prices.labour_price": "labour",
    "prices.water_price": "water",
    "prices.produce_price": "produce_{crop}",
}


def _row_rest(rows: Any, id: str, label: str) -> Rest:
    """Return source and status of a row of the catalogue; another of that name is a person's own."""
    if id not in rows or rows[id]["label"] != label:
        return Rest(tr(OWN_FILE), OWN)
    return Rest(tr(str(rows[id]["source"])), str(rows[id]["status"]))


def _price_rest(scenario: Scenario, item: str) -> Rest:
    lists = catalog.price_lists()
    if scenario.prices.id not in lists or item not in lists[scenario.prices.id].prices:
        return Rest(tr(OWN_FILE), OWN)
    row = lists[scenario.prices.id].prices[item]
    return Rest(tr(row.source), row.status)


# -- numbers that are no leaves ----------------------------------------------------------


def _more_lines(scenario: Scenario) -> Iterator[InputLine]:
    """Yield contents, recipe and prices in use."""
    crop, feed = scenario.crop, scenario.feed
    crop_rest = _row_rest(catalog.crops(), crop.id, crop.label)
    for part, amounts, text in (
        ("removal", crop.removal, mark("{element} in the produce")),
        ("uptake", crop.uptake, mark("{element} taken up by the whole plant")),
    ):
        for element, grams in amounts.items():
            label = tr(text, element=element_name(element))
            yield InputLine(f"crop.{part}.{element}", label, float(grams), "g/kg", crop_rest)
    made = _recipe_rest(scenario)
    for salt, rate in feed.salts.items():
        label = tr("{salt} at full strength", salt=_salt_label(salt))
        yield InputLine(f"feed.salts.{salt}", label, float(rate), "g/L", made)
    yield from _supply_lines(scenario)
    water = Rest(tr("source water: {water}", water=tr(feed.water)), "")
    for element, amount in feed.water_content.items():
        label = tr("{element} in the source water", element=element_name(element))
        yield InputLine(f"feed.water_content.{element}", label, float(amount), "mg/L", water)
    yield from _price_lines(scenario)


def _supply_lines(scenario: Scenario) -> Iterator[InputLine]:
    """Yield the shares of a mix, and how much of each supply stands on a square metre."""
    method = scenario.method
    rest = _row_rest(catalog.methods(), method.id, method.label)
    known = catalog.load("items")
    for item, share in method.medium.components if method.medium else ():
        name = tr(str(known[item]["label"])) if item in known else item
        label = tr("Share of the mix: {item}", item=name)
        yield InputLine(f"method.medium.{item}", label, float(share), "", rest)
    for supply in method.supplies:
        name, amount = tr(supply.label), float(supply.quantity_per_area.m)
        unit = known[supply.item]["pricing_unit"] if supply.item in known else ""
        label = tr("Amount: {item}", item=name)
        shown = units.unit_label(unit) if unit else ""
        yield InputLine(f"method.supplies.{supply.item}", label, amount, shown, rest)
        if supply.use == "equipment":
            years = float(supply.service_life.m)
            label = tr("Time that it serves: {item}", item=name)
            place = f"method.supplies.{supply.item}.life"
            yield InputLine(place, label, years, units.unit_label("year"), rest)


def _recipe_rest(scenario: Scenario) -> Rest:
    """Return the publication of a recipe, or that its grams were worked out here."""
    feed, recipes = scenario.feed, catalog.recipes()
    if feed.recipe in recipes and dict(recipes[feed.recipe]["salts"]) == feed.salts:
        return _row_rest(recipes, feed.recipe, str(recipes[feed.recipe]["label"]))
    return Rest(tr("worked out here from the fertilisers on the shelf"), "computed")


def _salt_label(salt: str) -> str:
    known = catalog.salts()
    return tr(str(known[salt]["label"])) if salt in known else salt


def _price_lines(scenario: Scenario) -> Iterator[InputLine]:
    """Yield the unit price of everything that a scenario uses."""
    method, prices = scenario.method, scenario.prices
    used = [item for item, _ in method.medium.components] if method.medium else []
    used += [method.sheet.item] if method.sheet else []
    used += [supply.item for supply in method.supplies]
    used += [scenario.crop.planting_item, *scenario.feed.salts]
    known = catalog.load("items")
    for item in dict.fromkeys(used):
        row = known.get(item)
        name = tr(str(row["label"])) if row is not None else item
        unit = "money" if row is None else f"money/{row['pricing_unit']}"
        label = tr("Price: {item}", item=name)
        rest = _price_rest(scenario, item)
        yield InputLine(
            f"prices.{item}", label, prices.unit_prices[item],
            units.unit_label(unit, prices.currency), rest,
        )  # fmt: skip


def methods_text(names: Sequence[str]) -> str:
    """Return the methods that an input holds for, in a few words."""
    return "; ".join(names) if names else tr("all methods")


def is_invented(comparison: Comparison) -> bool:
    """Return whether any number shown rests on invented demo data."""
    lists = catalog.price_lists()
    return any(
        "invented" in (found.scenario.harvest.status, found.scenario.site.status)
        or found.scenario.prices.id in lists
        for found in comparison
    )
