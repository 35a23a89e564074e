"""What a board takes from a person's files: prices, weights, weather, media, methods."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from scenariokit import catalog, climate
from scenariokit.catalog.cells import Decimal
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr
from scenariokit.scenario import (
    OwnWeather,
    Scenario,
    harvest_from_plots,
    scenario_for,
    site_with_weather,
)
from scenariokit.trials import (
    MethodYield,
    method_yields,
    read_harvest,
    read_records,
    summarise,
    summarise_studies,
    yield_by_method,
)
from scenariokit.widgets.board_feed import FeedState
from scenariokit.widgets.board_prices import own_prices


class OwnFiles:
    """The part of a board's state that reads files; each either happens whole or changes nothing."""

    if TYPE_CHECKING:
        crop: str
        site: str
        price_list: str
        methods: dict[str, Any]
        media: dict[str, Any]
        own_prices: catalog.PriceList | None
        own_harvest: dict[tuple[str, str], MethodYield]
        feed: FeedState
        scenarios: dict[str, Scenario]

        @property
        def prices(self) -> catalog.PriceList:
            """The price list in use."""

        @property
        def focused(self) -> Scenario:
            """The scenario whose own sliders are open."""

        def _begun(self, key: str, crop: str, site: str) -> Scenario: ...

        def _set_prices(self, prices: catalog.PriceList) -> None: ...

        def _add(self, fresh: Mapping[str, Scenario]) -> None: ...

        def take_feed(self, feed: FeedState) -> None:
            """Feed every method with another solution."""

    @property
    def mixes(self) -> dict[str, Any]:
        """The mixes that a method may name: the catalogue's, and a person's media alone."""
        return {**catalog.mixes(), **catalog.single_mixes(self.media)}

    def load_media(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
        """Add a person's own growing media; return bad rows, and the ids of those added.

        A price list may then price them, and a method of a person's own use them.

        Raises
        ------
        RecordError
            If no row can be used; then nothing changes.
        """
        merged = catalog.with_own_media(content, self.media, name=name, decimal=decimal)
        if not merged.own:
            raise RecordError(merged.problems, tr("{name}: no row can be used", name=name))
        self.media = dict(merged.entries)
        return merged.problems, merged.own

    def load_prices(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
        """Use a person's own price list; return bad rows and items that keep the base price.

        Raises
        ------
        RecordError
            If nothing in the file can be used; then nothing changes.
        """
        first = catalog.price_list(self.price_list)
        own, problems = own_prices(content, name, decimal, first, catalog.items_of(self.media))
        self._set_prices(own)
        self.own_prices = own
        return tuple(problems), tuple(own.missing)

    def load_harvest(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], dict[tuple[str, str], MethodYield]]:
        """Let a person's own harvest weights stand for the catalogue's yields.

        Raises
        ------
        RecordError
            If nothing in the file can be used; then nothing changes.
        """
        found = read_harvest(content, name=name, decimal=decimal, methods=self.methods)
        yields = yield_by_method(found)
        if not yields:
            raise RecordError(found.problems, tr("{name}: holds no plot with a weight", name=name))
        self._take_yields(yields)
        return found.problems, yields

    def load_trial(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], dict[tuple[str, str], MethodYield], tuple[str, ...]]:
        """Let the means of a trial, with their intervals, stand for the catalogue's yields.

        Returns
        -------
        problems, yields, unknown
            Bad rows; yield by method and crop; methods of the trial that the board
            does not know.

        Raises
        ------
        RecordError
            If no plot of a known method was harvested; then nothing changes.
        """
        records = read_records(content, name=name, decimal=decimal)
        if not len(records.plots.known()):
            raise RecordError(
                records.problems, tr("{name}: holds no plot with a weight", name=name)
            )
        several = len(records.plots.levels("study")) > 1
        found = (summarise_studies if several else summarise)(records.plots)
        means = method_yields(found, crop=self.crop, methods=self.methods)
        yields = {(key, self.crop): one for key, one in means.items() if key in self.methods}
        unknown = tuple(key for key in means if key not in self.methods)
        if not yields:
            problem = Problem("treatment", ", ".join(unknown), tr("is no method that this board knows"),
                              ", ".join(self.methods), file=name)  # fmt: skip
            raise RecordError([*records.problems, problem], name)
        self._take_yields(yields)
        return records.problems, yields, unknown

    def _take_yields(self, yields: Mapping[tuple[str, str], MethodYield]) -> None:
        """Let a person's own yields stand in every scenario that they are of."""
        for one in yields.values():
            harvest_from_plots(one)  # raises where a yield cannot be, of whichever crop
        before = self.own_harvest
        self.own_harvest = {**before, **yields}
        try:
            fresh = {
                method: self._with_own_harvest(method)
                for method, crop in yields
                if crop == self.crop
            }
        except ValueError:
            self.own_harvest = before
            raise
        self._add(fresh)

    def _with_own_harvest(self, method: str) -> Scenario:
        """Return the scenario as it stands, with the person's own yield."""
        if method not in self.scenarios:
            return self._begun(method, self.crop, self.site)
        harvest = harvest_from_plots(self.own_harvest[method, self.crop])
        return dataclasses.replace(self.scenarios[method], harvest=harvest)

    def load_weather(self, content: bytes, name: str, decimal: Decimal = ".") -> OwnWeather:
        """Let a person's own weather stand for that of the place, month by month.

        Raises
        ------
        RecordError
            If nothing in the file can be used; then nothing changes.
        """
        weather = climate.read_weather(content, name=name, decimal=decimal)
        own = site_with_weather(self.focused.site, weather)
        self.scenarios = {
            key: dataclasses.replace(one, site=own.site) for key, one in self.scenarios.items()
        }
        return own

    def load_methods(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
        """Add a person's own methods; return bad rows, and the ids of those added.

        Raises
        ------
        RecordError, InfeasibleError
            If no row can be used, or pieces do not fit; then nothing changes.
        """
        mixes = self.mixes
        merged = catalog.with_own_methods(
            content, self.methods, mixes=mixes, name=name, decimal=decimal
        )
        if not merged.own:
            raise RecordError(merged.problems, tr("{name}: no row can be used", name=name))
        methods = dict(merged.entries)
        fresh = {
            (key, crop): scenario_for(
                key, crop, self.site, self.prices, methods=methods, mixes=mixes
            )
            for key in merged.own
            for crop in methods[key]["yields"]
        }
        self.methods = methods
        self._add({key: one for (key, crop), one in fresh.items() if crop == self.crop})
        return merged.problems, merged.own

    def load_feed_table(
        self, table: str, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
        """Add a person's own fertilisers, water or targets; return bad rows, and what was added.

        Parameters
        ----------
        table : str
            Which: a name in `board_feed.KEYS`.

        Raises
        ------
        RecordError, ArgumentError
            If no row can be used; then nothing changes.
        InfeasibleError
            If the solution in use could no longer be made; then nothing changes.
        """
        grown, problems, added = self.feed.with_table(table, content, name, decimal)
        self.take_feed(grown)
        return problems, added
