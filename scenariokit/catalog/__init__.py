"""The catalogue: growing methods, crops, media, salts, supplies, sites and prices.

Every row has a source and says how far that source was followed. Values are
plain floats in the unit that `field_unit` gives. Invented rows say so.

Examples
--------
>>> from scenariokit import catalog
>>> catalog.methods()["medium_bag"].label
'Sub-irrigated medium bag'
>>> catalog.methods()["medium_bag"].yields["potato"]
(4.9, 6.6, 8.1)
"""

from __future__ import annotations

from scenariokit.catalog.entries import (
    ANY_METHOD,
    Entries,
    Entry,
    field_unit,
    items_of,
    labour_shares,
    load,
    single_mixes,
)
from scenariokit.catalog.fields import Field, Schema, schema
from scenariokit.catalog.own import Merged, with_own_media, with_own_methods
from scenariokit.catalog.own_feed import (
    OwnRows,
    read_targets,
    read_water,
    with_own_fertilisers,
)
from scenariokit.catalog.prices import (
    PriceList,
    PriceRow,
    exchange_rates,
    price_list,
    price_lists,
    read_prices,
    template,
)
from scenariokit.catalog.tables import Table, read_table, write_csv, write_template

__all__ = [
    "ANY_METHOD",
    "Entries",
    "Entry",
    "Field",
    "Merged",
    "OwnRows",
    "PriceList",
    "PriceRow",
    "Schema",
    "Table",
    "acids",
    "crops",
    "exchange_rates",
    "field_unit",
    "items",
    "items_of",
    "labour_shares",
    "load",
    "media",
    "methods",
    "mixes",
    "price_list",
    "price_lists",
    "read_prices",
    "read_table",
    "read_targets",
    "read_water",
    "recipes",
    "salts",
    "schema",
    "sheets",
    "single_mixes",
    "sites",
    "supplies",
    "targets",
    "template",
    "waters",
    "with_own_fertilisers",
    "with_own_media",
    "with_own_methods",
    "write_csv",
    "write_template",
]


def methods() -> Entries:
    """Return the growing methods, with ``supplies`` and ``yields`` joined to each."""
    return load("methods")


def crops() -> Entries:
    """Return the crops."""
    return load("crops")


def media() -> Entries:
    """Return the growing media."""
    return load("media")


def mixes() -> Entries:
    """Return the mixes with their ``components``, and each medium as a mix of itself alone."""
    return load("mixes")


def sheets() -> Entries:
    """Return the wicking sheets."""
    return load("sheets")


def salts() -> Entries:
    """Return the fertiliser salts."""
    return load("salts")


def recipes() -> Entries:
    """Return the nutrient solutions, with ``salts`` in g/L at full strength."""
    return load("recipes")


def targets() -> Entries:
    """Return the sets of target concentrations, with ``bands`` in mg/L by element."""
    return load("targets")


def supplies() -> Entries:
    """Return equipment, consumables, mulch, water, labour and produce."""
    return load("supplies")


def sites() -> Entries:
    """Return the sites, with twelve rows of ``climate`` each."""
    return load("sites")


def acids() -> Entries:
    """Return the acids for lowering alkalinity, as they are sold."""
    return load("acids")


def waters() -> Entries:
    """Return invented source waters, for demonstration."""
    return load("waters")


def items() -> Entries:
    """Return everything that has a price, with its label, kind and pricing unit."""
    return load("items")
