"""What the comparison board knows: plain state, no widget in it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from scenariokit import catalog
from scenariokit.charts.frames import Showing
from scenariokit.errors import InfeasibleError, ScenarioFileError
from scenariokit.language import tr
from scenariokit.parameters import UnitSystem
from scenariokit.scenario import (
    Comparison,
    PlannedFeed,
    Scenario,
    compare,
    feed_strength,
    harvest_from_plots,
    prices_from,
    scenario_for,
    site_from,
    value_at,
    with_values,
)
from scenariokit.scenario.build import check_priced, choose
from scenariokit.trials import MethodYield
from scenariokit.widgets.board_feed import FeedState
from scenariokit.widgets.board_file import MOST_METHODS, VIEW, SavedBoard, board_text, read_board
from scenariokit.widgets.board_file_choice import BoardSettings
from scenariokit.widgets.board_loading import OwnFiles
from scenariokit.widgets.board_paths import COMMON_PATHS

DEFAULT_METHODS = (
    "medium_bag",
    "wedge_pots",
    "sheet_wick_tray",
    "perforated_tray",
    "paper_wrap",
    "suspended_pot",
)


@dataclass
class BoardState(OwnFiles):
    """Everything that a board shows, and every change that a person can make.

    Each change either happens whole or raises one clear error and changes nothing.

    Parameters
    ----------
    crop, site, price_list : str
        What was picked.
    chosen : list of str
        Methods shown, in order.
    focus : str
        The method whose own sliders and numbers are open.
    system : {'metric', 'us'}
        Units shown.
    currency, rate : str, float
        Currency shown, and how much of it one unit of the list's currency is.
    feed : FeedState
        How the nutrient solution of every method is arrived at.
    planned : PlannedFeed
        What that came to.
    """

    crop: str = "potato"
    site: str = "tern_hollow"
    price_list: str = "tern_hollow"
    chosen: list[str] = field(default_factory=lambda: list(DEFAULT_METHODS))
    focus: str = ""
    system: UnitSystem = "metric"
    currency: str = ""
    rate: float = 1.0
    methods: dict[str, Any] = field(default_factory=lambda: dict(catalog.methods()))
    media: dict[str, Any] = field(default_factory=lambda: dict(catalog.media()))
    own_prices: catalog.PriceList | None = None
    own_harvest: dict[tuple[str, str], MethodYield] = field(default_factory=dict)
    feed: FeedState = field(default_factory=FeedState)
    scenarios: dict[str, Scenario] = field(default_factory=dict)
    planned: PlannedFeed = field(init=False)

    def __post_init__(self) -> None:
        """Build the scenarios of the first view."""
        if not self.scenarios:
            self.scenarios, self.planned = self._built(self.crop, self.site)
        if not any(key in self.scenarios for key in self.chosen):
            self.chosen = list(self.scenarios)
        self._keep_to(self.scenarios)
        self.planned = self.feed.planned(self.focused)
        self.currency = self.currency or self.prices.currency

    def _keep_to(self, scenarios: Mapping[str, Scenario]) -> None:
        """Show only methods that there are."""
        self.chosen = [key for key in self.chosen if key in scenarios][:MOST_METHODS]
        if self.focus not in self.chosen:
            self.focus = self.chosen[0]

    # -- what is shown ---------------------------------------------------------------

    @property
    def prices(self) -> catalog.PriceList:
        """The price list in use: a person's own, or the picked one."""
        return self.own_prices or catalog.price_list(self.price_list)

    @property
    def showing(self) -> Showing:
        """How numbers are read."""
        return Showing(self.system, self.currency, self.rate)

    @property
    def focused(self) -> Scenario:
        """The scenario whose own sliders are open."""
        return self.scenarios[self.focus]

    def chosen_labels(self) -> list[tuple[str, str]]:
        """Return id and label of each method shown."""
        return [(key, tr(self.scenarios[key].method.label)) for key in self.chosen]

    def available(self) -> list[tuple[str, str]]:
        """Return id and label of each method that grows the crop."""
        return [(key, tr(one.method.label)) for key, one in self.scenarios.items()]

    def compute(self) -> Comparison:
        """Evaluate every method shown."""
        return compare([self.scenarios[key] for key in self.chosen])

    # -- changes ---------------------------------------------------------------------

    def _built(self, crop: str, site: str) -> tuple[dict[str, Scenario], PlannedFeed]:
        """Return a scenario for every method that grows `crop`, and what they are fed with."""
        built = {
            key: self._begun(key, crop, site)
            for key, row in self.methods.items()
            if crop in row["yields"] or (key, crop) in self.own_harvest
        }
        if not built:
            raise InfeasibleError(
                tr("no method in the catalogue has a yield for {crop!r}", crop=crop)
            )
        return self._fed(built, self.feed)

    def _fed(
        self, scenarios: Mapping[str, Scenario], feed: FeedState
    ) -> tuple[dict[str, Scenario], PlannedFeed]:
        """Return scenarios that are all fed with one solution, and that solution.

        Raises
        ------
        InfeasibleError
            If it cannot be made, or the source water alone has more than the EC asked for.
        """
        first = scenarios.get(self.focus) or next(iter(scenarios.values()))
        planned = feed.planned(feed.priced(first))
        fed = {key: feed.fed(one, planned) for key, one in scenarios.items()}
        feed_strength(next(iter(fed.values())).feed)
        return fed, planned

    def take_feed(self, feed: FeedState) -> None:
        """Feed every method with another solution.

        Raises
        ------
        InfeasibleError
            If it cannot be made; then nothing changes.
        """
        self.scenarios, self.planned = self._fed(self.scenarios, feed)
        self.feed = feed

    def _begun(self, key: str, crop: str, site: str) -> Scenario:
        """Return the scenario of one method at the catalogue's values and a person's own yield."""
        row, found = self.methods[key], self.own_harvest.get((key, crop))
        if found is None:
            return scenario_for(
                key, crop, site, self.prices, methods=self.methods, mixes=self.mixes
            )
        harvest = harvest_from_plots(found)
        ends = tuple(end.magnitude for end in (harvest.low, harvest.typical, harvest.high))
        known = row.replace(yields=catalog.Entry({**row["yields"], crop: ends}))
        begun = scenario_for(key, crop, site, self.prices, methods={key: known}, mixes=self.mixes)
        return dataclasses.replace(begun, harvest=harvest)

    def set_values(self, changes: Mapping[str, Any], *, method: str | None = None) -> None:
        """Set quantities by path, for one method or, without `method`, for all.

        Moving the typical yield carries its range along in proportion.

        Raises
        ------
        ArgumentError
            If a value has the wrong unit or lies outside its range.
        InfeasibleError
            If the pieces of a method would no longer fit, or no solution of the EC can be made.
        """
        keys = [method] if method else list(self.scenarios)
        changed = {}
        for key in keys:
            scenario = self.scenarios[key]
            changed[key] = with_values(scenario, self._with_range(key, changes))
        if method is None and "feed.ec" in changes:
            if self.feed.plan.solved:
                changed, self.planned = self._fed(changed, self.feed)
            feed_strength(next(iter(changed.values())).feed)  # refuses what cannot be made
        self.scenarios = {**self.scenarios, **changed}

    def _with_range(self, key: str, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Return `changes` with the ends of the yield's range moved in proportion."""
        if "harvest.typical" not in changes:
            return dict(changes)
        path, scenario = "harvest.typical", self.scenarios[key]
        moved = value_at(with_values(scenario, {path: changes[path]}), path)
        harvest = scenario.harvest
        if harvest.typical.magnitude == 0:  # zero times anything would lose the range
            harvest = self._begun(key, self.crop, self.site).harvest
        return {**changes, **harvest.ends_at(moved)}

    def choose(self, methods: list[str]) -> None:
        """Show these methods, at least one and at most eight.

        Raises
        ------
        InfeasibleError
            If there are none or too many.
        """
        known = [key for key in self.scenarios if key in methods]
        if not known:
            raise InfeasibleError(tr("choose at least one method to show"))
        if len(known) > MOST_METHODS:
            raise InfeasibleError(
                tr("choose at most {most} methods; {ticked} are ticked",
                   most=MOST_METHODS, ticked=len(known))
            )  # fmt: skip
        self.chosen = known
        if self.focus not in known:
            self.focus = known[0]

    def adjust(self, method: str) -> None:
        """Bring a method into focus, to be adjusted.

        Raises
        ------
        InfeasibleError
            If it is not among those that are compared.
        """
        if method not in self.chosen:
            label = self.scenarios[method].method.label if method in self.scenarios else method
            raise InfeasibleError(
                tr("{method} is not compared at the moment: tick it first", method=tr(label))
            )
        self.focus = method

    def crops(self) -> list[str]:
        """Return the crops of which at least one method has a yield."""
        grown = {crop for row in self.methods.values() for crop in row["yields"]}
        grown |= {crop for _, crop in self.own_harvest}
        return [crop for crop in catalog.crops() if crop in grown]

    def pick_crop(self, crop: str) -> None:
        """Grow another crop: every method that can is shown, and begins from usual values.

        Raises
        ------
        InfeasibleError
            If no method has a yield for it.
        """
        self.scenarios, self.planned = self._built(crop, self.site)
        self.crop, self.chosen = crop, list(self.scenarios)
        self._keep_to(self.scenarios)

    def pick_site(self, site: str) -> None:
        """Move to another site, in its usual season and with its share of rain; no more changes.

        Raises
        ------
        InfeasibleError
            If there is no such site.
        """
        place = site_from(choose(catalog.sites(), site, "site"))
        self.scenarios = {
            key: dataclasses.replace(one, site=place) for key, one in self.scenarios.items()
        }
        self.site = site

    def pick_prices(self, name: str) -> None:
        """Take a shipped price list; a person's own list is put aside.

        Interest and crops a year are no prices and stay as they are.
        """
        self._set_prices(catalog.price_list(name))
        self.price_list, self.own_prices = name, None

    def _set_prices(self, prices: catalog.PriceList) -> None:
        made = prices_from(prices, self.crop)
        fresh = {
            key: dataclasses.replace(
                one,
                prices=dataclasses.replace(
                    made,
                    interest_rate=one.prices.interest_rate,
                    crops_per_year=one.prices.crops_per_year,
                ),
            )
            for key, one in self.scenarios.items()
        }
        fed, planned = self._fed(fresh, self.feed)
        for one in fed.values():
            check_priced(one)
        self.scenarios, self.planned = fed, planned
        self.currency, self.rate = prices.currency, 1.0

    def _add(self, fresh: Mapping[str, Scenario]) -> None:
        """Take over scenarios, and show new ones as far as there is room."""
        new = [key for key in fresh if key not in self.scenarios]
        common = [path for path, _, _ in COMMON_PATHS]
        alike = {path: value_at(self.focused, path) for path in common}
        joined = {
            key: dataclasses.replace(
                self.feed.priced(with_values(one, alike)),
                site=self.focused.site,
                feed=self.focused.feed,
            )
            for key, one in fresh.items()
        }
        self.scenarios = {**self.scenarios, **joined}
        self.chosen = [*self.chosen, *new][: max(MOST_METHODS, len(self.chosen))]

    def show_currency(self, currency: str, rate: float) -> None:
        """Show money in another currency at a stated rate.

        Raises
        ------
        InfeasibleError
            If the rate is not a positive number.
        """
        if not (rate > 0 and rate < float("inf")):
            raise InfeasibleError(
                tr("the exchange rate must be more than zero, not {rate:g}", rate=rate)
            )
        self.currency, self.rate = currency, 1.0 if currency == self.prices.currency else rate

    def reset(self) -> None:
        """Go back to the catalogue's values; own files stay loaded."""
        self.feed = FeedState(own=self.feed.own)
        self.scenarios, self.planned = self._built(self.crop, self.site)

    # -- files -----------------------------------------------------------------------

    def save(self, settings: BoardSettings | None = None) -> str:
        """Return the whole board as one JSON text, with how the page stands where that is given."""
        view = {name: getattr(self, name) for name in VIEW}
        own = (self.methods, self.media, self.own_prices, self.own_harvest, self.feed)
        return board_text(SavedBoard(view, self.scenarios, *own, settings or BoardSettings()))

    def load(self, content: bytes, name: str) -> BoardSettings:
        """Take over a board that `save` wrote, with the person's own tables in it.

        Returns
        -------
        BoardSettings
            How the page stood, for whoever shows it.

        Raises
        ------
        ScenarioFileError
            If it cannot be read whole; then nothing changes.
        """
        saved = read_board(content, name)
        focused = saved.scenarios[saved.view["focus"]]
        try:
            planned = saved.feed.planned(saved.feed.priced(focused))
            fed = {key: saved.feed.fed(one, planned) for key, one in saved.scenarios.items()}
            for one in fed.values():
                feed_strength(one.feed)
        except InfeasibleError as error:
            raise ScenarioFileError(f"{name}: feed: {error}") from error
        for key, value in saved.view.items():
            setattr(self, key, value)
        self.methods, self.media = saved.methods, saved.media
        self.own_prices, self.own_harvest = saved.own_prices, saved.own_harvest
        self.feed, self.planned = saved.feed, planned
        self.scenarios = fed
        return saved.settings
