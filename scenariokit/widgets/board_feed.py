"""What a board knows of its nutrient solution: the plan, the mixing room, a person's own tables."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from scenariokit import catalog, nutrients
from scenariokit.catalog.cells import Decimal
from scenariokit.errors import InfeasibleError, Problem, ProblemsError, RecordError
from scenariokit.language import tr
from scenariokit.scenario import (
    FeedPlan,
    FeedStore,
    MixingRoom,
    PlannedFeed,
    Scenario,
    plan_feed,
    shipped_store,
    with_feed,
)

FERTILISERS, WATER, TARGETS = "own_fertilisers", "own_water", "own_targets"
KEYS = {FERTILISERS: "id", WATER: "water", TARGETS: "id"}
"""Tables that a person may bring, by the name of their schema, and the column that names a thing."""


@dataclass(frozen=True)
class FeedState:
    """The nutrient solution of a whole board; each change gives a new one.

    Parameters
    ----------
    plan : FeedPlan
        What was picked.
    room : MixingRoom
        How stocks are made and kept.
    own : dict
        Rows of a person's own tables, by the names in `KEYS`.
    """

    plan: FeedPlan = field(default_factory=FeedPlan)
    room: MixingRoom = field(default_factory=MixingRoom)
    own: dict[str, tuple[dict[str, Any], ...]] = field(
        default_factory=lambda: dict.fromkeys(KEYS, ())
    )

    store: FeedStore = field(init=False, compare=False)

    def __post_init__(self) -> None:
        """Join what is shipped with what the person brought."""
        object.__setattr__(self, "store", _store(self.own))

    def priced(self, scenario: Scenario) -> Scenario:
        """Return a scenario in whose price list the person's own products stand."""
        own = {
            row["id"]: float(row["price"])
            for row in self.own[FERTILISERS]
            if row["price"] is not None
        }
        if not own:
            return scenario
        listed = {**scenario.prices.unit_prices, **own}
        return replace(scenario, prices=replace(scenario.prices, unit_prices=listed))

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Own products without a price; no recipe may hold them, for its cost would not be known."""
        return tuple(row["id"] for row in self.own[FERTILISERS] if row["price"] is None)

    def planned(self, scenario: Scenario) -> PlannedFeed:
        """Return the solution for a scenario's EC and prices.

        Raises
        ------
        InfeasibleError
            If it cannot be made, or a product that it could use has no price.
        """
        prices = scenario.prices.unit_prices
        if self.plan.solved:
            # A price that an older table gave may still stand in the scenario.
            unpriced = self.unpriced
            bare = [key for key in self.plan.shelf if key not in prices or key in unpriced]
            if bare:
                raise InfeasibleError(
                    tr(
                        "{products} has no price; give one in your table of fertilisers, in the currency of the "
                        "price list",
                        products=", ".join(bare),
                    )
                )
        return plan_feed(self.plan, scenario.feed.ec, self.store, prices)

    def fed(self, scenario: Scenario, planned: PlannedFeed) -> Scenario:
        """Return a scenario that is fed with a planned solution, own products priced."""
        return with_feed(self.priced(scenario), planned)

    def with_table(
        self, table: str, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[FeedState, tuple[Problem, ...], tuple[str, ...]]:
        """Return the state with a person's table added, bad rows, and what was added.

        What is brought again replaces what had its name. Own products go onto the shelf,
        those without a price aside.

        Raises
        ------
        RecordError
            If nothing in the file can be used.
        """
        problems, made = _READERS[table](content, name, decimal)
        if not made:
            raise RecordError(problems, tr("{name}: no row can be used", name=name))
        key = KEYS[table]
        rows = catalog.read_table(content, table, name=name, decimal=decimal).rows
        spoilt = {problem.row for problem in problems}
        kept = [row for row in self.own[table] if row[key] not in made]
        kept += [row for row in rows if row[key] in made and row["_row"] not in spoilt]
        grown = replace(self, own={**self.own, table: tuple(kept)})
        if table == FERTILISERS:
            bare = grown.unpriced
            shelf = [key for key in (*grown.plan.shelf, *made) if key not in bare]
            grown = replace(grown, plan=replace(grown.plan, shelf=tuple(dict.fromkeys(shelf))))
        return grown, tuple(problems), tuple(made)


Made = tuple[tuple[Problem, ...], dict[str, Any]]


def _fertilisers(content: bytes, name: str, decimal: Decimal) -> Made:
    merged = nutrients.own_fertilisers(content, name=name, decimal=decimal)
    made = {key: nutrients.fertiliser_from_row(merged.entries[key]) for key in merged.own}
    return merged.problems, made


def _waters(content: bytes, name: str, decimal: Decimal) -> Made:
    found = catalog.read_water(content, name=name, decimal=decimal)

    def make(key: str, row: catalog.Entry) -> Any:
        return nutrients.water_from_rows(row.label, row.rows, id=key, file=name)

    return _each(found, make, name)


def _targets(content: bytes, name: str, decimal: Decimal) -> Made:
    found = nutrients.own_targets(content, name=name, decimal=decimal)

    def make(key: str, row: catalog.Entry) -> Any:
        bands = {
            element: tuple(
                None if band[end] is None else f"{band[end]!r} mg/L"
                for end in ("low", "target", "high")
            )
            for element, band in row.bands.items()
        }
        return nutrients.targets_from(bands, id=key, label=row.label)

    return _each(found, make, name)


def _each(found: catalog.OwnRows, make: Callable[[str, catalog.Entry], Any], name: str) -> Made:
    """Return what can be made of each thing in a file; one that cannot be leaves the others."""
    made, problems = {}, list(found.problems)
    for key, row in found.entries.items():
        try:
            made[key] = make(key, row)
        except ProblemsError as error:
            problems += [
                replace(one, field=f"{key}, {one.field}", file=name) for one in error.problems
            ]
    return tuple(problems), made


_READERS = {FERTILISERS: _fertilisers, WATER: _waters, TARGETS: _targets}


@functools.cache
def _shipped() -> FeedStore:
    return shipped_store()


def table_text(rows: tuple[dict[str, Any], ...], table: str) -> str | None:
    """Return a person's own table as CSV, or None if there is none."""
    return catalog.write_csv(rows, table) if rows else None


def _store(own: Mapping[str, tuple[dict[str, Any], ...]]) -> FeedStore:
    """Return all that can be picked; the person's own by what their tables say."""
    made = {}
    for table, read in _READERS.items():
        text = table_text(own[table], table)
        made[table] = {} if text is None else read(text.encode("utf-8"), "own table", ".")[1]
    shipped = _shipped()
    return FeedStore(
        fertilisers={**shipped.fertilisers, **made[FERTILISERS]},
        waters={**shipped.waters, **made[WATER]},
        targets={**shipped.targets, **made[TARGETS]},
    )
