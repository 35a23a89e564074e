"""The controls of the board: the bar above it, and the sliders of a scenario's quantities."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenariokit import catalog
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.field_panel import choice_field, many_field, number_field, range_field
from scenariokit.widgets.wording import language_field, language_value

CURRENCIES = sorted({code for pair in catalog.exchange_rates() for code in pair})
_LEVEL_LABELS = {
    "method.level.high": mark("Held or refill depth"),
    "method.level.start": mark("Depth at the start"),
    "method.level.low": mark("Lowest depth that still feeds the roots"),
    "harvest.typical": mark("Usual yield"),
}


def toolbar_fields(state: BoardState) -> list[dict[str, Any]]:
    """Return the controls above the board."""
    crops = [(key, tr(catalog.crops()[key]["label"])) for key in state.crops()]
    lists = [(key, tr(one.label)) for key, one in catalog.price_lists().items()]
    if state.own_prices is not None:
        lists.append(("own", tr("{prices} (yours)", prices=state.own_prices.label)))
    shown = sorted({*CURRENCIES, state.prices.currency, state.currency})
    fields = [
        many_field("chosen", tr("Methods to compare"), state.available(),
                   help=tr("Two to eight are easy to read. A method that you add in a file appears here.")),
        choice_field("focus", tr("Method to adjust"), state.chosen_labels(),
                     help=tr("A click on a method in a chart opens it too, and marks it in all charts.")),
        choice_field("crop", tr("Crop"), crops),
        choice_field("site", tr("Place"), [(k, tr(r["label"])) for k, r in catalog.sites().items()],
                     help=tr("Invented places with twelve months of weather.")),
        choice_field("price_list", tr("Price list"), lists, help=tr("Invented lists, or your own file.")),
        choice_field("system", tr("Units"), [("metric", tr("metric")), ("us", tr("US customary"))]),
        choice_field("currency", tr("Money shown in"), [(code, code) for code in shown]),
        language_field(),
    ]  # fmt: skip
    if state.currency != state.prices.currency:
        label = tr("{shown} for one {listed}", shown=state.currency, listed=state.prices.currency)
        fields.append(
            number_field(
                "rate", label, "", help=tr("Your own exchange rate; the first one is invented.")
            )
        )
    return fields


def toolbar_values(state: BoardState) -> dict[str, Any]:
    """Return what stands in the controls above the board."""
    return {
        "chosen": list(state.chosen), "focus": state.focus, "crop": state.crop,
        "site": state.site, "system": state.system, "currency": state.currency,
        "price_list": "own" if state.own_prices is not None else state.price_list,
        "rate": state.rate, "language": language_value(),
    }  # fmt: skip


def path_fields(paths: Sequence[tuple[str, str, str]], state: BoardState) -> list[dict[str, Any]]:
    """Return a slider for each path, given with its parameter and topic."""
    return [
        range_field(path, parameter(name), system=state.system, currency=state.prices.currency,
                    topic=tr(topic), label=tr(_LEVEL_LABELS.get(path, "")))
        for path, name, topic in paths
    ]  # fmt: skip
