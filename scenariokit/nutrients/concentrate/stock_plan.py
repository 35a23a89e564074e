"""What a plan of stock concentrates is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from scenariokit.language import mark
from scenariokit.nutrients.composition.fertilisers import Fertiliser
from scenariokit.units import Quantity

CAUTIONS = (
    mark(
        "Never mix the stocks undiluted: gypsum and calcium phosphate drop out and the feed "
        "is lost. Give each one to the water apart, and stir between."
    ),
    mark(
        "Concentrates harm if drunk and burn eyes: label them, keep them locked away from "
        "children, never in a food bottle."
    ),
    mark(
        "Nitrates feed a fire: keep the dry salts from straw, paper, fuel and acids. Local "
        "rules and the makers' safety data sheets decide."
    ),
)
"""What stands beside every plan."""


def in_sentence(label: str) -> str:
    """Return a label as it stands within a sentence.

    Examples
    --------
    >>> in_sentence("Iron EDTA, sodium salt trihydrate"), in_sentence("KNO3")
    ('iron EDTA, sodium salt trihydrate', 'KNO3')
    """
    return label[:1].lower() + label[1:] if label[1:2].islower() else label


@dataclass(frozen=True)
class SolubilityCheck:
    """Whether one salt stays dissolved in a stock.

    Parameters
    ----------
    salt : str
        Id of the fertiliser, or of the salt that common ions may form.
    strength : quantity
        How much of it a litre of stock holds [g/L]; for a salt formed by common
        ions the strength that alone would be as near to saturation.
    limit : quantity or None
        What a litre of stock can hold [g/L] at the coldest; None if not known.
    held_share : float or None
        Strength / limit.
    ok : bool or None
        Within the margin; for a salt formed by common ions, below saturation,
        for that estimate is a cautious one. None if the limit is not known.
    together : bool
        Whether ions of several fertilisers are counted together.
    """

    salt: str
    strength: Quantity
    limit: Quantity | None
    held_share: float | None
    ok: bool | None
    together: bool = False


@dataclass(frozen=True)
class Stock:
    """One concentrate.

    Parameters
    ----------
    name, letter : str
        Such as ``"calcium stock"`` and ``"A"``.
    grams_per_litre : mapping of str to quantity
        Fertiliser id to its strength [g/L].
    grams : mapping of str to quantity
        Fertiliser id to what to weigh for the volume made [g].
    content : mapping of str to quantity
        Content of the concentrate [mg/L].
    checks : tuple of SolubilityCheck
        One for each fertiliser, and one for each salt that common ions bring
        beyond the margin.
    order : tuple of str
        How to make it up, line by line.
    """

    name: str
    letter: str
    grams_per_litre: Mapping[str, Quantity]
    grams: Mapping[str, Quantity]
    content: Mapping[str, Quantity]
    checks: tuple[SolubilityCheck, ...]
    order: tuple[str, ...]


@dataclass(frozen=True)
class StockPlan:
    """Which fertiliser goes into which stock, and how much of it.

    Parameters
    ----------
    stocks : tuple of Stock
        Those that hold something.
    dilution : float
        F, total parts for one part of each stock.
    volume : quantity
        Volume made of each stock [L].
    coldest : quantity
        Coldest temperature of the store [degC].
    margin : float
        Share of solubility that a stock may hold.
    rates : mapping of str to quantity
        The recipe [g/L of ready solution].
    apart : mapping of str to quantity
        Acids [g/L of ready solution]: they go into no stock.
    fertilisers : mapping of str to Fertiliser
        Those of the recipe.
    notes, cautions : tuple of str
        What to keep an eye on; what can hurt.
    """

    stocks: tuple[Stock, ...]
    dilution: float
    volume: Quantity
    coldest: Quantity
    margin: float
    rates: Mapping[str, Quantity]
    apart: Mapping[str, Quantity]
    fertilisers: Mapping[str, Fertiliser]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def serves(self) -> Quantity:
        """Ready solution that the stocks make [L]."""
        return self.volume * self.dilution

    def stock(self, letter: str) -> Stock:
        """Return the stock with a letter; KeyError if there is none."""
        found = {stock.letter: stock for stock in self.stocks}
        if letter not in found:
            raise KeyError(f"no stock {letter!r} in this plan; there is {', '.join(found)}")
        return found[letter]
