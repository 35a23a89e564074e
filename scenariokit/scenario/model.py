"""What a scenario is made of: frozen, checked, every number with its unit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.scenario.leaves import Checked, leaf, plain

Regime = Literal["constant", "falling", "falling-then-held", "hand-filled", "none"]
Use = Literal["per_crop", "equipment"]


@dataclass(frozen=True)
class Container(Checked):
    """How plants are held: one container, to scale.

    `length`, `width` and `height` are outer measures; for a round one both
    `length` and `width` are the diameter. `base_height` is the height of its
    underside above the tank floor.
    """

    shape: Literal["box", "round", "tray", "sheet", "ridge"]
    length: Any = leaf("container_size")
    width: Any = leaf("container_size")
    height: Any = leaf("container_size")
    plants: Any = leaf("plants")
    base_height: Any = leaf("depth")
    medium_height: Any = leaf("depth")

    def floor_area(self) -> Any:
        """Return the area that the container covers, in m²."""
        area = plain(self.length) * plain(self.width) / 1e4
        return area * (np.pi / 4 if self.shape == "round" else 1.0)


@dataclass(frozen=True)
class Medium(Checked):
    """The growing medium of one plant, and how long it serves."""

    mix: str
    label: str
    components: tuple[tuple[str, float], ...]
    volume_per_plant: Any = leaf("volume_per_plant")
    mixing_loss: Any = leaf("mixing_loss")
    crops_per_filling: Any = leaf("crops_per_filling")
    top_up_fraction: Any = leaf("top_up_fraction")


@dataclass(frozen=True)
class Sheet(Checked):
    """A wicking sheet, priced by area."""

    item: str
    label: str
    area_per_area: Any = leaf("sheet_area_per_area")
    crops_per_sheet: Any = leaf("crops_per_filling")


@dataclass(frozen=True)
class Level(Checked):
    """The water level: how it is kept, and between which depths.

    `low` is the least depth at which roots or wick still reach water. A float
    valve holds `high`, from planting on or once a falling level has come down
    to it; a falling level begins at `start`. A tank filled by hand is filled
    up to `high` every `fill_interval` days.
    """

    regime: Regime
    low: Any = leaf("depth")
    high: Any = leaf("depth")
    start: Any = leaf("depth")
    rim: Any = leaf("depth")
    displaced_fraction: Any = leaf("displaced_fraction")
    open_fraction: Any = leaf("open_fraction")
    fill_interval: Any = leaf("fill_interval")

    @property
    def held(self) -> bool:
        """Whether a float valve holds the level at some time."""
        return self.regime in ("constant", "falling-then-held")

    @property
    def fullest(self) -> Any:
        """The deepest the water ever stands."""
        return self.start if self.regime.startswith("falling") else self.high


@dataclass(frozen=True)
class Supply(Checked):
    """Something that the method consumes or stands on, for each m² of tank."""

    item: str
    label: str
    use: Use
    quantity_per_area: Any = leaf("supply_per_area")
    service_life: Any = leaf("service_life")
    salvage_fraction: Any = leaf("salvage_fraction")


@dataclass(frozen=True)
class Labour(Checked):
    """Hours of work for one plant and one crop, task by task."""

    filling: Any = leaf("labour_filling")
    planting: Any = leaf("labour_planting")
    tending: Any = leaf("labour_tending")
    lifting: Any = leaf("labour_lifting")
    cleaning: Any = leaf("labour_cleaning")

    @property
    def total(self) -> Any:
        """All tasks together, in hours for a plant."""
        return self.filling + self.planting + self.tending + self.lifting + self.cleaning

    def hours(self) -> Any:
        """Return all tasks together as a plain number or array."""
        tasks = (self.filling, self.planting, self.tending, self.lifting, self.cleaning)
        return sum(plain(task) for task in tasks)


@dataclass(frozen=True)
class Method(Checked):
    """A growing method: how a plant is held, how water reaches it, what is consumed."""

    id: str
    label: str
    summary: str
    status: str
    container: Container
    medium: Medium | None
    sheet: Sheet | None
    level: Level
    supplies: tuple[Supply, ...]
    labour: Labour
    plants_per_area: Any = leaf("plants_per_area")

    def __post_init__(self) -> None:
        """Check the leaves, then that the pieces fit into each other."""
        super().__post_init__()
        check_geometry(self)


@dataclass(frozen=True)
class Crop(Checked):
    """A crop: its seasons, its water, its salt tolerance and what it carries away."""

    id: str
    label: str
    planting_item: str
    """What is planted, as an item of the price list."""
    removal: dict[str, float]
    """Grams of each element in a kilogram of fresh produce."""
    uptake: dict[str, float]
    """Grams of each element that the whole plant takes up for a kilogram of fresh produce."""
    planting_per_plant: Any = leaf("planting_per_plant")
    days_initial: Any = leaf("duration")
    days_development: Any = leaf("duration")
    days_mid: Any = leaf("duration")
    days_late: Any = leaf("duration")
    kc_initial: Any = leaf("crop_coefficient")
    kc_mid: Any = leaf("crop_coefficient")
    kc_end: Any = leaf("crop_coefficient")
    canopy_height: Any = leaf("canopy_height")
    salinity_threshold: Any = leaf("salinity_threshold")
    salinity_slope: Any = leaf("salinity_slope")
    marketable_share: Any = leaf("marketable_share")
    loss_share: Any = leaf("loss_share")

    def __post_init__(self) -> None:
        """Check the leaves, then that the whole plant takes up what its produce holds."""
        super().__post_init__()
        problems = [
            Problem(f"uptake.{name}", f"{grams:g} g/kg", tr("is less than the produce holds"),
                    tr("{grams:g} g/kg or more", grams=self.removal[name]), kind="range")
            for name, grams in self.uptake.items()
            if grams < self.removal.get(name, 0.0) * (1 - 1e-9)
        ]  # fmt: skip
        if problems:
            raise argument_error(problems, "Crop")


@dataclass(frozen=True)
class Harvest(Checked):
    """The yield expected of this method and crop, and what that rests on.

    `low` and `high` bound the typical yield. Where only one plot was weighed
    no interval exists: then all three are equal and `interval` is False.
    """

    basis: str
    status: str
    interval: bool
    low: Any = leaf("yield_per_area")
    typical: Any = leaf("yield_per_area")
    high: Any = leaf("yield_per_area")

    def ends_at(self, typical: Any) -> dict[str, Any]:
        """Return both ends by path in a scenario, in proportion to another usual yield.

        `typical` is a quantity, or plain numbers in kg/m². Where no yield is
        stated there is no proportion, and both ends are `typical`.
        """
        usual = _worst(plain(self.typical))
        return {
            f"harvest.{end}": typical * (plain(getattr(self, end)) / usual if usual else 1.0)
            for end in ("low", "high")
        }


@dataclass(frozen=True)
class Site(Checked):
    """A place: its months, and how this season differs from them."""

    id: str
    label: str
    status: str
    planting_month: int
    reference_evapotranspiration: Any = leaf("reference_evapotranspiration")
    """Twelve monthly means, January first, on the last axis."""
    rain: Any = leaf("monthly_rain")
    """Twelve monthly sums, January first, on the last axis."""
    mean_temperature: Any = leaf("air_temperature")
    """Twelve monthly means, January first, on the last axis."""
    latitude: Any = leaf("latitude")
    elevation: Any = leaf("elevation")
    rain_share: Any = leaf("rain_share")
    climate_factor: Any = leaf("climate_factor")


@dataclass(frozen=True)
class Tank(Checked):
    """The tank that a person has or plans."""

    area: Any = leaf("tank_area")
    reserve_days: Any = leaf("reserve_days")


@dataclass(frozen=True)
class Feed(Checked):
    """The nutrient solution: a recipe in a water, its strength by EC, and the stocks."""

    recipe: str
    label: str
    salts: dict[str, float]
    """Grams of each fertiliser in a litre at full strength."""
    content: dict[str, float]
    """Milligrams of each element that the fertilisers bring into a litre at full strength."""
    water: str
    """Label of the source water."""
    water_content: dict[str, float]
    """Milligrams of each element, and of HCO3, in a litre of the source water."""
    ec: Any = leaf("electrical_conductivity")
    dilution: Any = leaf("dilution")
    top_up_strength: Any = leaf("top_up_strength")
    uptake_factor: Any = leaf("uptake_factor")


@dataclass(frozen=True)
class Prices(Checked):
    """Unit prices in one currency, and how money and seasons are counted."""

    id: str
    label: str
    currency: str
    unit_prices: dict[str, float]
    """Price of each item in place, for one of its pricing units."""
    assumed: tuple[str, ...]
    """Items that a person's own list lacks, so that the base list's price stands."""
    medium_factor: Any = leaf("price_factor")
    labour_price: Any = leaf("labour_price")
    water_price: Any = leaf("water_price")
    produce_price: Any = leaf("produce_price")
    interest_rate: Any = leaf("interest_rate")
    crops_per_year: Any = leaf("crops_per_year")


@dataclass(frozen=True)
class Scenario(Checked):
    """One method, for one crop, at one place, with one price list."""

    name: str
    method: Method
    crop: Crop
    harvest: Harvest
    site: Site
    tank: Tank
    feed: Feed
    prices: Prices
    notes: str = field(default="")


def check_geometry(method: Method) -> None:
    """Refuse a method whose pieces do not fit into each other.

    Raises
    ------
    InfeasibleError
        If containers do not fit their footprint, the medium does not fit its
        container, or a level lies above the rim or out of order. Each fault
        is named with its numbers, all in one message.
    """
    faults = [*_container_faults(method), *_level_faults(method)]
    if faults:
        raise InfeasibleError(f"{tr(method.label)} ({method.id}): " + "; ".join(faults))


def _worst(value: Any) -> float:
    return float(np.max(value))


def _container_faults(method: Method) -> list[str]:
    """Return what does not fit about container, footprint and medium."""
    box, faults = method.container, []
    covered = box.floor_area() * plain(method.plants_per_area) / plain(box.plants)
    if _worst(covered) > 1 + 1e-9 and box.shape != "ridge":
        faults.append(
            tr(
                "the pots do not fit their footprint: at {plants:g} plants/m² they cover {covered:.2f} "
                "m² of each m² of tank; lower plants_per_area or the container's length and width",
                plants=_worst(plain(method.plants_per_area)),
                covered=_worst(covered),
            )
        )
    if _worst(plain(box.medium_height) - plain(box.height)) > 1e-9:
        faults.append(
            tr(
                "medium_height ({medium:g} cm) is more than the container's height ({container:g} cm)",
                medium=_worst(plain(box.medium_height)),
                container=_worst(plain(box.height)),
            )
        )
    if method.medium is not None and box.shape != "ridge":
        held = plain(method.medium.volume_per_plant) * plain(box.plants)
        room = box.floor_area() * plain(box.height) * 10
        if _worst(held - room) > 1e-6:
            faults.append(
                tr(
                    "volume_per_plant: {held:.2f} L of growing medium do not fit into a container of "
                    "{room:.2f} L",
                    held=_worst(held),
                    room=_worst(room),
                )
            )
    return faults


def _level_faults(method: Method) -> list[str]:
    """Return which levels are above the rim or out of order."""
    level = method.level
    faults: list[str] = []
    if level.regime == "none":
        return faults
    for name in ("low", "high", "start"):
        if _worst(plain(getattr(level, name)) - plain(level.rim)) > 1e-9:
            faults.append(
                tr(
                    "level {level} ({depth:g} cm) lies above the rim ({rim:g} cm)",
                    level=name,
                    depth=_worst(plain(getattr(level, name))),
                    rim=_worst(plain(level.rim)),
                )
            )
    if _worst(plain(level.low) - plain(level.high)) > 1e-9:
        faults.append(tr("level low lies above level high"))
    if level.regime.startswith("falling") and _worst(plain(level.high) - plain(level.start)) > 1e-9:
        faults.append(tr("level high lies above level start, so it could not fall"))
    return faults
