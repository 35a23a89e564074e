"""What a comparison rests on: what was assumed, and what nobody has measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from scenariokit import catalog
from scenariokit.language import mark
from scenariokit.scenario import Scenario
from scenariokit.uncertainty import Ensemble

UnknownKind = Literal[
    "invented yield", "yield from memory", "one plot", "invented method", "invented site",
    "invented prices", "prices of another list", "crop from memory", "nothing uncertain",
]  # fmt: skip

UNKNOWN_WORDS: dict[UnknownKind, str] = {
    "invented yield": mark("the yield is an invented example: weigh your own harvests first"),
    "yield from memory": mark("the yield was written down from memory"),
    "one plot": mark(
        "the yield rests on one plot, without repetition: its spread had to be assumed"
    ),
    "invented method": mark("hours, supplies and measures of the method are invented examples"),
    "invented site": mark("the climate is an invented example"),
    "invented prices": mark("the prices are invented examples"),
    "prices of another list": mark("some prices are missing and were taken from another list"),
    "crop from memory": mark("some numbers of the crop were written down from memory"),
    "nothing uncertain": mark("no input is uncertain, so nothing is said about how sure this is"),
}
"""What each kind of gap means, in plain words."""


@dataclass(frozen=True)
class Unknown:
    """A gap in what is known.

    Parameters
    ----------
    kind : str
        One of `UNKNOWN_WORDS`.
    methods : tuple of str
        Ids of the methods that it touches; empty if it touches all alike.
    details : tuple of str
        What exactly, such as the items without a price.
    """

    kind: UnknownKind
    methods: tuple[str, ...] = ()
    details: tuple[str, ...] = ()


@dataclass(frozen=True)
class Basis:
    """What a comparison rests on. Make it by `basis_of`.

    Parameters
    ----------
    assumptions : tuple of str
        A line for each uncertain input: its spread, its cause, what it rests on.
    notes : tuple of str
        What was cut from spreads.
    unknowns : tuple of Unknown
        What nobody has measured, the worst first.
    draws, seed : int
        Of the draws.
    """

    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    unknowns: tuple[Unknown, ...]
    draws: int
    seed: int


def basis_of(found: Ensemble) -> Basis:
    """Return what was assumed in these draws, and what nobody has measured.

    Parameters
    ----------
    found : Ensemble
        The draws.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import ensemble, usual_uncertainty
    >>> both = [scenario_for("medium_bag"), scenario_for("wedge_pots")]
    >>> found = basis_of(ensemble(both, usual_uncertainty(both), draws=8))
    >>> found.unknowns[0].kind, found.unknowns[0].methods
    ('invented yield', ('medium_bag', 'wedge_pots'))
    """
    unknowns = unknowns_of(found.scenarios)
    if not found.uncertainty.inputs:
        unknowns = (Unknown("nothing uncertain"), *unknowns)
    return Basis(found.uncertainty.assumptions(), found.notes, unknowns, found.draws, found.seed)


def unknowns_of(scenarios: Sequence[Scenario]) -> tuple[Unknown, ...]:
    """Return what nobody has measured about these scenarios.

    Parameters
    ----------
    scenarios : sequence of Scenario
        What is compared.

    Notes
    -----
    It goes by the statuses that yields, methods, sites, crops and price lists
    carry. A number that a person has moved since keeps the status of its row.
    """
    found = []
    for kind, is_so in _OF_A_METHOD.items():
        methods = tuple(one.method.id for one in scenarios if is_so(one))
        if methods:
            found.append(Unknown(kind, methods))
    sites = {one.site.label for one in scenarios if one.site.status == "invented"}
    shipped = catalog.price_lists()
    lists = {one.prices.label for one in scenarios if one.prices.id in shipped}
    assumed = {item for one in scenarios for item in one.prices.assumed}
    crops = {one.crop.label for one in scenarios if _crop_status(one) == "memory"}
    shared: tuple[tuple[UnknownKind, set[str]], ...] = (
        ("invented site", sites),
        ("invented prices", lists),
        ("prices of another list", assumed),
        ("crop from memory", crops),
    )
    found += [Unknown(kind, (), tuple(sorted(details))) for kind, details in shared if details]
    return tuple(found)


_OF_A_METHOD: dict[UnknownKind, Callable[[Scenario], bool]] = {
    "invented yield": lambda one: one.harvest.status == "invented",
    "yield from memory": lambda one: one.harvest.status == "memory",
    "one plot": lambda one: not one.harvest.interval,
    "invented method": lambda one: one.method.status == "invented",
}


def _crop_status(scenario: Scenario) -> str:
    crops = catalog.crops()
    return str(crops[scenario.crop.id]["status"]) if scenario.crop.id in crops else ""
