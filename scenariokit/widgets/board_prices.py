"""A person's own price list on the board, and what stands in for what it lacks."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from scenariokit import catalog
from scenariokit.catalog.cells import Decimal
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr


def own_prices(
    content: bytes,
    name: str,
    decimal: Decimal,
    first: catalog.PriceList,
    items: Mapping[str, Any],
) -> tuple[catalog.PriceList, list[Problem]]:
    """Return a person's price list with every item priced, and its bad rows.

    Parameters
    ----------
    content : bytes
        The file.
    name, decimal : str
        Its name for messages, and its decimal sign.
    first : PriceList
        The shipped list in use: it stands in for what the file lacks, if it is
        in the same currency; else another shipped list in that currency does.
    items : mapping
        What may be priced.

    Raises
    ------
    RecordError
        If no row can be used, or something lacks and no shipped list is in the
        file's currency.
    """
    alone, _ = catalog.read_prices(content, decimal=decimal, name=name, items=items)
    base = _stand_in(alone, first, name)
    own, problems = catalog.read_prices(
        content, currency=alone.currency, base=base, decimal=decimal, name=name, items=items
    )
    if set(own.missing) >= set(own.prices):
        raise RecordError(problems, tr("{name}: no row can be used", name=name))
    return own, problems


def _stand_in(
    alone: catalog.PriceList, first: catalog.PriceList, name: str
) -> catalog.PriceList | None:
    """Return a list in the same currency that stands in for what a person's list lacks."""
    listed = [first, *catalog.price_lists().values()]
    for one in listed:
        if one.currency == alone.currency:
            return one
    if alone.missing:
        known = sorted({one.currency for one in listed})
        either = functools.reduce(
            lambda one, other: tr("{one} or {other}", one=one, other=other), known
        )
        problem = Problem(
            "currency",
            alone.currency,
            tr(
                "no shipped list is in it, so nothing can stand in for the {count} items that your "
                "list lacks: {names}",
                count=len(alone.missing),
                names=", ".join(alone.missing),
            ),
            tr("{currencies}, or a list with every item", currencies=either),
            file=name,
        )
        raise RecordError([problem])
    return None
