"""What the comparison board knows: plain state, no widget in it."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from scenariokit import catalog
from scenariokit.catalog.cells import Decimal
from scenariokit.charts.frames import Showing
from scenariokit.errors import InfeasibleError, Problem, RecordError, ScenarioFileError
from scenariokit.parameters import UnitSystem
from scenariokit.scenario import (
    Comparison,
    Scenario,
    compare,
    harvest_from_plots,
    prices_from,
    scenario_for,
    site_from,
    value_at,
    with_values,
)
from scenariokit.scenario import document as scenario_document
from scenariokit.trials import MethodYield, read_harvest, yield_by_method

BOARD_FORMAT = "scenariokit/comparison"
BOARD_VERSION = 1
MOST_METHODS = 8
DEFAULT_METHODS = (
    "medium_bag",
    "wedge_pots",
    "sheet_wick_tray",
    "perforated_tray",
    "paper_wrap",
    "suspended_pot",
)

COMMON_PATHS: tuple[tuple[str, str, str], ...] = (
    ("prices.medium_factor", "price_factor", "Prices"),
    ("prices.labour_price", "labour_price", "Prices"),
    ("prices.water_price", "water_price", "Prices"),
    ("prices.produce_price", "produce_price", "Prices"),
    ("prices.interest_rate", "interest_rate", "Prices"),
    ("prices.crops_per_year", "crops_per_year", "Prices"),
    ("site.climate_factor", "climate_factor", "Season and tank"),
    ("site.rain_share", "rain_share", "Season and tank"),
    ("tank.area", "tank_area", "Season and tank"),
    ("tank.reserve_days", "reserve_days", "Season and tank"),
    ("feed.ec", "electrical_conductivity", "Nutrient solution"),
    ("feed.dilution", "dilution", "Nutrient solution"),
    ("crop.marketable_share", "marketable_share", "Nutrient solution"),
)
"""Path, parameter and topic of what holds for every method."""

METHOD_PATHS: tuple[tuple[str, str, str], ...] = (
    ("harvest.typical", "yield_per_area", "Yield and plants"),
    ("method.plants_per_area", "plants_per_area", "Yield and plants"),
    ("method.labour_per_plant", "labour_per_plant", "Yield and plants"),
    ("method.medium.volume_per_plant", "volume_per_plant", "Growing medium"),
    ("method.medium.crops_per_filling", "crops_per_filling", "Growing medium"),
    ("method.medium.top_up_fraction", "top_up_fraction", "Growing medium"),
    ("method.sheet.area_per_area", "sheet_area_per_area", "Growing medium"),
    ("method.level.high", "depth", "Water level"),
    ("method.level.start", "depth", "Water level"),
    ("method.level.low", "depth", "Water level"),
    ("method.level.open_fraction", "open_fraction", "Water level"),
)
"""Path, parameter and topic of what belongs to one method."""


def paths_of(scenario: Scenario) -> list[tuple[str, str, str]]:
    """Return the method's own paths that this scenario has."""
    method = scenario.method
    held = method.level.regime == "constant"
    return [
        row
        for row in METHOD_PATHS
        if not (row[0].startswith("method.medium") and method.medium is None)
        and not (row[0].startswith("method.sheet") and method.sheet is None)
        and not (row[0].startswith("method.level") and method.level.regime == "none")
        and not (row[0] == "method.level.start" and held)
    ]


@dataclass
class BoardState:
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
    own_prices: catalog.PriceList | None = None
    own_harvest: dict[tuple[str, str], MethodYield] = field(default_factory=dict)
    scenarios: dict[str, Scenario] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Build the scenarios of the first view."""
        if not self.scenarios:
            self.scenarios = self._built(self.crop, self.site)
        self.chosen = [key for key in self.chosen if key in self.scenarios]
        self.focus = self.focus or self.chosen[0]
        self.currency = self.currency or self.prices.currency

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
        return [(key, self.scenarios[key].method.label) for key in self.chosen]

    def available(self) -> list[tuple[str, str]]:
        """Return id and label of each method that grows the crop."""
        return [(key, one.method.label) for key, one in self.scenarios.items()]

    def compute(self) -> Comparison:
        """Evaluate every method shown."""
        return compare([self.scenarios[key] for key in self.chosen])

    # -- changes ---------------------------------------------------------------------

    def _built(self, crop: str, site: str) -> dict[str, Scenario]:
        """Return a scenario for every method that grows `crop`."""
        built = {
            key: scenario_for(key, crop, site, self.prices, methods=self.methods)
            for key, row in self.methods.items()
            if crop in row["yields"]
        }
        if not built:
            raise InfeasibleError(f"no method in the catalogue has a yield for {crop!r}")
        return {key: self._with_own_harvest(key, one) for key, one in built.items()}

    def _with_own_harvest(self, key: str, scenario: Scenario) -> Scenario:
        found = self.own_harvest.get((key, scenario.crop.id))
        if found is None:
            return scenario
        return dataclasses.replace(scenario, harvest=harvest_from_plots(found))

    def set_values(self, changes: Mapping[str, Any], *, method: str | None = None) -> None:
        """Set quantities by path, for one method or, without `method`, for all.

        Moving the typical yield carries its range along in proportion.

        Raises
        ------
        ArgumentError
            If a value has the wrong unit or lies outside its range.
        InfeasibleError
            If the pieces of a method would no longer fit.
        """
        keys = [method] if method else list(self.scenarios)
        changed = {}
        for key in keys:
            scenario = self.scenarios[key]
            changed[key] = with_values(scenario, _with_range(scenario, changes))
        self.scenarios = {**self.scenarios, **changed}

    def choose(self, methods: list[str]) -> None:
        """Show these methods, at least one and at most eight.

        Raises
        ------
        InfeasibleError
            If there are none or too many.
        """
        known = [key for key in self.scenarios if key in methods]
        if not known:
            raise InfeasibleError("choose at least one method to show")
        if len(known) > MOST_METHODS:
            raise InfeasibleError(f"choose at most {MOST_METHODS} methods; {len(known)} are ticked")
        self.chosen = known
        if self.focus not in known:
            self.focus = known[0]

    def pick_crop(self, crop: str) -> None:
        """Grow another crop: methods that cannot, leave; the rest begin from usual values."""
        scenarios = self._built(crop, self.site)
        self.crop, self.scenarios = crop, scenarios
        self.chosen = [key for key in self.chosen if key in scenarios] or list(scenarios)[
            :MOST_METHODS
        ]
        for key in scenarios:
            if len(self.chosen) < 2 and key not in self.chosen:
                self.chosen.append(key)
        if self.focus not in self.chosen:
            self.focus = self.chosen[0]

    def pick_site(self, site: str) -> None:
        """Move to another site; everything else stays as it is."""
        place = site_from(catalog.sites()[site])
        self.scenarios = {
            key: dataclasses.replace(one, site=place) for key, one in self.scenarios.items()
        }
        self.site = site

    def pick_prices(self, name: str) -> None:
        """Take a shipped price list; a person's own list is put aside."""
        self._set_prices(catalog.price_list(name))
        self.price_list, self.own_prices = name, None

    def _set_prices(self, prices: catalog.PriceList) -> None:
        made = prices_from(prices, self.crop)
        self.scenarios = {
            key: dataclasses.replace(one, prices=made) for key, one in self.scenarios.items()
        }
        self.currency, self.rate = prices.currency, 1.0

    def load_prices(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
        """Use a person's own price list; return bad rows and items that keep the base price.

        Raises
        ------
        RecordError
            If nothing in the file can be used; then nothing changes.
        """
        alone, _ = catalog.read_prices(content, decimal=decimal, name=name)
        base = self._base_for(alone, name)
        own, problems = catalog.read_prices(
            content, currency=alone.currency, base=base, decimal=decimal, name=name
        )
        if set(own.missing) >= set(own.prices):
            raise RecordError(problems, f"{name}: no row can be used")
        self._set_prices(own)
        self.own_prices = own
        return tuple(problems), tuple(own.missing)

    def _base_for(self, alone: catalog.PriceList, name: str) -> catalog.PriceList | None:
        """Return a list in the same currency that stands in for what a person's list lacks."""
        listed = [catalog.price_list(self.price_list), *catalog.price_lists().values()]
        for one in listed:
            if one.currency == alone.currency:
                return one
        if alone.missing:
            known = sorted({one.currency for one in listed})
            problem = Problem(
                "currency",
                alone.currency,
                f"no shipped list is in it, so nothing can stand in for the {len(alone.missing)} "
                f"items that your list lacks: {', '.join(alone.missing)}",
                f"{' or '.join(known)}, or a list with every item",
                file=name,
            )
            raise RecordError([problem])
        return None

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
            raise RecordError(found.problems, f"{name}: holds no plot with a weight")
        before = self.own_harvest
        self.own_harvest = {**before, **yields}
        try:
            self.scenarios = {
                key: self._with_own_harvest(key, one) if (key, one.crop.id) in yields else one
                for key, one in self.scenarios.items()
            }
        except ValueError:
            self.own_harvest = before
            raise
        return found.problems, yields

    def load_methods(
        self, content: bytes, name: str, decimal: Decimal = "."
    ) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
        """Add a person's own methods; return bad rows, and the ids of those added.

        Raises
        ------
        RecordError, InfeasibleError
            If no row can be used, or pieces do not fit; then nothing changes.
        """
        merged = catalog.with_own_methods(content, self.methods, name=name, decimal=decimal)
        if not merged.own:
            raise RecordError(merged.problems, f"{name}: no row can be used")
        methods = dict(merged.entries)
        fresh = {
            key: scenario_for(key, self.crop, self.site, self.prices, methods=methods)
            for key in merged.own
            if self.crop in methods[key]["yields"]
        }
        self.methods = methods
        self.scenarios = {**self.scenarios, **fresh}
        room = MOST_METHODS - len(self.chosen)
        self.chosen += [key for key in fresh if key not in self.chosen][:room]
        return merged.problems, merged.own

    def show_currency(self, currency: str, rate: float) -> None:
        """Show money in another currency at a stated rate.

        Raises
        ------
        InfeasibleError
            If the rate is not a positive number.
        """
        if not (rate > 0 and rate < float("inf")):
            raise InfeasibleError(f"the exchange rate must be more than zero, not {rate:g}")
        self.currency, self.rate = currency, 1.0 if currency == self.prices.currency else rate

    def reset(self) -> None:
        """Go back to the catalogue's values; own files stay loaded."""
        self.scenarios = self._built(self.crop, self.site)

    # -- files -----------------------------------------------------------------------

    def save(self) -> str:
        """Return the whole board as one JSON text."""
        document = {
            "format": BOARD_FORMAT,
            "version": BOARD_VERSION,
            "view": {
                "crop": self.crop, "site": self.site, "price_list": self.price_list,
                "chosen": self.chosen, "focus": self.focus, "system": self.system,
                "currency": self.currency, "rate": self.rate,
            },
            "scenarios": [scenario_document.to_document(one) for one in self.scenarios.values()],
        }  # fmt: skip
        return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"

    def load(self, content: bytes, name: str) -> None:
        """Take over a board that `save` wrote.

        Raises
        ------
        ScenarioFileError
            If it cannot be read whole; then nothing changes.
        """
        loaded = _read_board(content, name)
        for attribute in dataclasses.fields(loaded):
            if attribute.name not in ("methods", "own_prices", "own_harvest"):
                setattr(self, attribute.name, getattr(loaded, attribute.name))
        self.own_prices = None
        first = next(iter(self.scenarios.values())).prices
        shipped = catalog.price_list(self.price_list)
        if first.id != shipped.id:
            self.own_prices = dataclasses.replace(
                shipped, id=first.id, label=first.label, currency=first.currency
            )


def _with_range(scenario: Scenario, changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return `changes` with the ends of the yield's range moved in proportion."""
    found = dict(changes)
    typical = changes.get("harvest.typical")
    if typical is None:
        return found
    harvest = scenario.harvest
    usual = harvest.typical.magnitude
    moved = value_at(with_values(scenario, {"harvest.typical": typical}), "harvest.typical")
    for end in ("low", "high"):
        ratio = getattr(harvest, end).magnitude / usual if usual > 0 else 1.0
        found[f"harvest.{end}"] = moved * ratio
    return found


def _read_board(content: bytes, name: str) -> BoardState:
    """Return the state that a saved board holds."""
    try:
        document = json.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ScenarioFileError(f"{name}: is not a JSON document ({error})") from error
    if not isinstance(document, dict) or document.get("format") != BOARD_FORMAT:
        raise ScenarioFileError(
            f'{name}: is not a saved board (its "format" is not "{BOARD_FORMAT}")'
        )
    version = document.get("version")
    if not isinstance(version, int) or version < 1:
        raise ScenarioFileError(f'{name}: "version" = {version!r} is not a whole number from 1 on')
    if version > BOARD_VERSION:
        raise ScenarioFileError(
            f"{name}: is of version {version}, and this scenariokit reads up to {BOARD_VERSION}; "
            "install a newer scenariokit to open it"
        )
    unknown = set(document) - {"format", "version", "view", "scenarios"}
    view, listed = document.get("view"), document.get("scenarios")
    if unknown or not isinstance(view, dict) or not isinstance(listed, list) or not listed:
        wrong = f"unknown field {sorted(unknown)[0]!r}" if unknown else "view or scenarios missing"
        raise ScenarioFileError(f"{name}: {wrong}")
    read = [
        scenario_document.from_document(one, f"{name}, scenario {i}")
        for i, one in enumerate(listed, 1)
    ]
    return BoardState(
        scenarios={one.method.id: one for one in read}, **_checked_view(view, read, name)
    )


def _checked_view(view: dict[str, Any], scenarios: list[Scenario], name: str) -> dict[str, Any]:
    """Return the view of a saved board, each field checked against what there is."""
    ids = [one.method.id for one in scenarios]
    allowed: dict[str, Any] = {
        "crop": sorted({one.crop.id for one in scenarios}),
        "site": sorted(catalog.sites()),
        "price_list": sorted(catalog.price_lists()),
        "focus": ids,
        "system": ["metric", "us"],
    }
    for key, options in allowed.items():
        if view.get(key) not in options:
            raise ScenarioFileError(
                f"{name}: view.{key} = {view.get(key)!r}; allowed: {', '.join(options)}"
            )
    chosen = view.get("chosen")
    if not isinstance(chosen, list) or not chosen or any(key not in ids for key in chosen):
        raise ScenarioFileError(f"{name}: view.chosen = {chosen!r}; allowed: {', '.join(ids)}")
    rate = view.get("rate")
    if not isinstance(rate, int | float) or isinstance(rate, bool) or not rate > 0:
        raise ScenarioFileError(f"{name}: view.rate = {rate!r}; it must be a number above zero")
    extra = set(view) - {*allowed, "chosen", "currency", "rate"}
    if extra:
        raise ScenarioFileError(f"{name}: unknown field view.{sorted(extra)[0]}")
    return {**view, "chosen": list(chosen), "currency": str(view.get("currency", ""))[:12]}
