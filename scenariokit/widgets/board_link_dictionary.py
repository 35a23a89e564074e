"""How the dictionary of a new version of links is made; those in use are never made again."""

from __future__ import annotations

import json

from scenariokit import catalog
from scenariokit.widgets.board_packing import SHARED, packed
from scenariokit.widgets.board_state import BoardState

LONGEST = 32_500
"""Bytes; deflate looks no further back than 32,768."""


def make_dictionary() -> bytes:
    """Return phrases that boards of this program are likely to hold, the likeliest last.

    First other crops, places and price lists, then the board that everybody begins with,
    then its price list as a person who has prices of their own fills it in.
    """
    begun = packed(BoardState().save())
    other = []
    for crop in catalog.crops():
        if crop != BoardState.crop:
            shared = json.loads(packed(BoardState(crop=crop).save()))[SHARED]
            other.append(_phrase({"crop": shared["crop"]}))
    for place in sorted(set(catalog.sites()) - {BoardState.site}):
        state = BoardState(site=place)
        state.pick_prices(place)
        shared = json.loads(packed(state.save()))[SHARED]
        other.append(_phrase({name: shared[name] for name in ("site", "prices")}))
    prices = catalog.template(catalog.price_list(BoardState.price_list), sources=True)
    text = ("".join(other) + begun + _phrase(prices)).encode("utf-8")
    return text[-LONGEST:]


def _phrase(part: object) -> str:
    return json.dumps(part, separators=(",", ":"), ensure_ascii=False)
