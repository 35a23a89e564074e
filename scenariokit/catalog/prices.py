"""Price lists: one currency, every item, and a person's own prices over a base."""

from __future__ import annotations

import dataclasses
import difflib
import functools
import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pint

from scenariokit import units
from scenariokit.catalog import checks
from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.entries import Entries, Entry, load, shipped_table
from scenariokit.catalog.sources import Source
from scenariokit.catalog.tables import Table, read_table, write_csv
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr

SHIPPED = {
    "tern_hollow": "Tern Hollow growers' club",
    "dunmarrow": "Dunmarrow school garden",
}
"""The invented price lists by id, with their owners, who are invented too."""


@dataclass(frozen=True)
class PriceRow:
    """What one item costs.

    Parameters
    ----------
    item : str
        The item.
    package_price : float
        Price of one package, in the currency of the list.
    package_size : float
        Size of the package in `pricing_unit`.
    pricing_unit : str
        L, m^2, kg, m^3, hour or piece.
    expansion, fill_factor : float
        Loose volume per labelled volume, and volume in place per loose volume,
        of a growing medium; 1 for anything else.
    source, status, note : str
        Where the price comes from.
    freight : float
        What it costs to bring one package here, in the currency of the list.
    """

    item: str
    package_price: float
    package_size: float
    pricing_unit: str
    expansion: float = 1.0
    fill_factor: float = 1.0
    source: str = ""
    status: str = ""
    note: str = ""
    freight: float = 0.0

    @property
    def unit_price(self) -> float:
        """Price of one pricing unit; for a growing medium, of one litre in place.

        ``unit_price = (package_price + freight) / (package_size * expansion * fill_factor)``
        """
        here = self.package_price + self.freight
        return here / (self.package_size * self.expansion * self.fill_factor)

    @property
    def figures(self) -> tuple[float, float, float, float, float]:
        """The numbers of the row."""
        size, expansion, fill = self.package_size, self.expansion, self.fill_factor
        return self.package_price, self.freight, size, expansion, fill


@dataclass(frozen=True)
class PriceList:
    """Prices of items in one currency.

    Parameters
    ----------
    id, label : str
        Its name, and what a person reads.
    currency : str
        Three capital letters.
    prices : mapping
        `PriceRow` by item.
    missing : tuple of str
        Items that the person's file did not price: taken from the base list,
        or without a price if there was none.
    """

    id: str
    label: str
    currency: str
    prices: Mapping[str, PriceRow]
    missing: tuple[str, ...] = ()

    def unit_price(self, item: str) -> float:
        """Return the price of one pricing unit of `item`.

        Raises
        ------
        RecordError
            If the list does not price it.
        """
        if item not in self.prices:
            problem = Problem(
                "item",
                item,
                tr("has no price in {label}", label=self.label),
                _near(item, self.prices),
            )
            raise RecordError([problem])
        return self.prices[item].unit_price


def _near(item: str, known: Iterable[str]) -> str:
    """Return the names closest to `item`, or all of them if none is close."""
    names = sorted(known)
    close = difflib.get_close_matches(item, names, n=3)
    return " or ".join(close) if close else ", ".join(names)


def price_lists() -> dict[str, PriceList]:
    """Return the shipped price lists by id; their prices are invented."""
    return {name: price_list(name) for name in SHIPPED}


@functools.cache
def price_list(id: str) -> PriceList:
    """Return the shipped price list called `id`.

    Raises
    ------
    KeyError
        If there is none; the message lists them.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> round(catalog.price_list("tern_hollow").unit_price("white_peat"), 4)
    0.1197
    """
    if id not in SHIPPED:
        raise KeyError(f"no price list is called {id!r}; known: {', '.join(SHIPPED)}")
    table = shipped_table(f"prices_{id}", "prices")
    currency = table.rows[0]["currency"]
    found, problems = _price_rows(table, load("items"), currency, table.name)
    if problems:
        raise RecordError(problems, table.name)
    return PriceList(id, f"{SHIPPED[id]} ({currency}, invented)", currency, Entry(found))


def exchange_rates() -> dict[tuple[str, str], Entry]:
    """Return the shipped exchange rates; they are invented, and nothing uses them unasked."""
    return {
        (row["from"], row["to"]): Entry({key: row[key] for key in row if key != "_row"})
        for row in shipped_table("exchange_rates").rows
    }


def read_prices(
    source: Source,
    *,
    currency: str | None = None,
    base: PriceList | None = None,
    rate: float | None = None,
    decimal: Decimal = ".",
    name: str = "",
    items: Entries | None = None,
) -> tuple[PriceList, list[Problem]]:
    """Read a person's price list, laid over a base list.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``prices``; `template` makes one.
    currency : str, optional
        Currency of the list; the most frequent one of the file if left out.
    base : PriceList, optional
        Prices for the items that the file leaves out.
    rate : float, optional
        How much of the list's currency one unit of the base's currency buys.
    decimal : {'.', ','}, optional
        The decimal sign of the file.
    name : str, optional
        The file's name for messages.
    items : mapping, optional
        The items that may be priced; the shipped ones if left out.

    Returns
    -------
    PriceList
        Its ``missing`` names the items that the file did not price.
    list of Problem
        What was wrong with the rows that were not used.

    Raises
    ------
    RecordError
        If no row can be read, no currency is stated, or the base is in another
        currency and no rate is given.
    """
    known = load("items") if items is None else items
    table = read_table(source, "prices", name=name, decimal=decimal)
    used = currency or _usual_currency(table)
    factor = _base_factor(used, base, rate)
    found, problems = _price_rows(table, known, used, table.name)
    older = {
        item: dataclasses.replace(
            row,
            package_price=row.package_price * factor,
            freight=row.freight * factor,
            source=row.source
            if factor == 1
            else tr("{source}; converted at {factor:g}", source=row.source, factor=factor),
        )
        for item, row in (base.prices if base else {}).items()
    }
    for item, row in found.items():
        if not row.source and item in older and row.figures == older[item].figures:
            found[item] = older[item]
        elif not row.source:
            found[item] = dataclasses.replace(row, source=table.name)
    missing = tuple(item for item in known if item not in found)
    label = name or table.name
    merged = PriceList("own", label, used, Entry({**older, **found}), missing)
    return merged, [*table.problems, *problems]


def _usual_currency(table: Table) -> str:
    """Return the currency that most rows state."""
    stated = Counter(row["currency"] for row in table.rows if row["currency"])
    if not stated:
        reason = tr("no row states one")
        problem = Problem("currency", "", reason, tr("three capital letters"), "EUR", table.name)
        raise RecordError([*table.problems, problem], table.name)
    return str(stated.most_common(1)[0][0])


def _base_factor(currency: str, base: PriceList | None, rate: float | None) -> float:
    """Return what turns the base's prices into `currency`; never guess it."""
    if base is None or base.currency == currency:
        return 1.0
    if rate is None or not math.isfinite(rate) or rate <= 0:
        problem = Problem(
            "rate",
            "" if rate is None else f"{rate:g}",
            tr(
                "the list is in {currency} and its base in {currency2}; state how many {currency} "
                "one {currency2} buys",
                currency=currency,
                currency2=base.currency,
            ),
            tr("a number above zero"),
            "rate=1.1",
        )
        raise RecordError([problem])
    return float(rate)


def _price_rows(
    table: Table, known: Entries, currency: str, file: str
) -> tuple[dict[str, PriceRow], list[Problem]]:
    """Return the usable rows by item, and what is wrong with the others."""
    rows, problems = checks.sort_rows(
        table.rows, file, lambda row: _row_problems(row, known, currency)
    )
    return {row["item"]: _price_row(row, known[row["item"]]) for row in rows}, problems


def _price_row(row: checks.Values, item: Entry) -> PriceRow:
    return PriceRow(
        item=row["item"],
        package_price=row["price"],
        package_size=_size(row["package_size"], item.pricing_unit),
        pricing_unit=item.pricing_unit,
        expansion=row["expansion"] or 1.0,
        fill_factor=row["fill_factor"] or 1.0,
        source=row["source"],
        status=row["status"] or "own",
        note=row["note"],
        freight=row["freight"] or 0.0,
    )


def _size(package: Any, unit: str) -> float:
    """Return the size of a package in the unit in which its item is priced."""
    if unit == "piece":
        if str(package.units) != "count":
            raise pint.DimensionalityError(package.units, "piece")
        return float(package.m)
    return float(units.magnitude(package, unit))


def _row_problems(row: checks.Values, known: Entries, currency: str) -> list[Problem]:
    """Return what is wrong with one row of a price list."""
    name = row["item"]
    if name not in known:
        return [Problem("item", name, tr("is not an item"), _near(name, known))]
    item, found = known[name], []
    if row["currency"] and row["currency"] != currency:
        reason = tr("another currency than the rest of the list; one list has one currency")
        found.append(Problem("currency", row["currency"], reason, currency))
    package = row["package_size"]
    example = f"10 {item.pricing_unit}"
    try:
        size = _size(package, item.pricing_unit)
    except pint.DimensionalityError:
        reason = tr(
            "{label} is priced by {pricing_unit}", label=item.label, pricing_unit=item.pricing_unit
        )
        allowed = tr("{pricing_unit} or a unit like it", pricing_unit=item.pricing_unit)
        found.append(Problem("package_size", f"{package:~}", reason, allowed, example, kind="unit"))
    else:
        if size <= 0:
            found.append(
                Problem(
                    "package_size", f"{package:~}", tr("must be more than zero"), example=example
                )
            )
    return found + _volume_problems(row, item)


def _volume_problems(row: checks.Values, item: Entry) -> list[Problem]:
    """Return what is wrong with expansion and fill factor."""
    if item.kind == "medium":
        if row["fill_factor"] is not None:
            return []
        reason = tr("is missing: filling and watering settle a growing medium")
        return [Problem("fill_factor", "", reason, "0.05 to 1.5", "0.8")]
    return [
        Problem(
            name, f"{row[name]:g}", tr("only a growing medium swells or settles"), tr("blank or 1")
        )
        for name in ("expansion", "fill_factor")
        if row[name] not in (None, 1.0)
    ]


def template(base: PriceList, *, sources: bool = False) -> str:
    """Return `base` as CSV text, ready to be edited and read back by `read_prices`.

    Parameters
    ----------
    base : PriceList
        The list to begin from.
    sources : bool
        Fill in source and status too, to keep the list as it is. Otherwise they
        are blank, for the editor to fill: a row left as it was keeps those of
        the base.
    """
    rows = []
    for row in base.prices.values():
        medium = row.item in load("media") or (row.expansion, row.fill_factor) != (1.0, 1.0)
        rows.append(
            {
                "item": row.item,
                "package_size": f"{row.package_size!r} {row.pricing_unit}",
                "price": row.package_price,
                "freight": row.freight or None,
                "currency": base.currency,
                "expansion": row.expansion if medium else None,
                "fill_factor": row.fill_factor if medium else None,
                "note": row.note,
                **({"source": row.source, "status": row.status} if sources else {}),
            }
        )
    return write_csv(rows, "prices")
