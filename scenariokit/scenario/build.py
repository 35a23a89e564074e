"""Scenarios from the catalogue, or from a person's own rows beside it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scenariokit import catalog, nutrients, units
from scenariokit.errors import InfeasibleError
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.scenario.model import (
    Container,
    Crop,
    Feed,
    Harvest,
    Labour,
    Level,
    Medium,
    Method,
    Prices,
    Scenario,
    Sheet,
    Site,
    Supply,
    Tank,
)
from scenariokit.scenario.shown_labels import catalogue_basis, weighed_basis
from scenariokit.trials.harvest import MethodYield

DEFAULT_SITE = "tern_hollow"
DEFAULT_RECIPE = "hoagland_1"
FILL_INTERVAL = 2
"""Days between fillings by hand; common practice, no published source."""
UPTAKE_FACTOR = 0.85
"""Strength that roots take in, relative to the solution; illustrative, from memory."""
PURE_WATER = mark("pure water")
USUAL_EC = 1.6
"""dS/m; common practice, no published source: 1.5 to 2."""


def quantity_of(name: str, value: Any) -> Any:
    """Return `value`, given in the unit of the parameter called `name`, as a quantity."""
    return units.quantity(value, parameter(name).unit)


def choose(rows: Mapping[str, Any], name: str, what: str) -> Any:
    """Return the row called `name`, or say which names there are.

    Raises
    ------
    InfeasibleError
        If there is none of that name.
    """
    if name not in rows:
        raise InfeasibleError(
            tr(
                "unknown {what} {name!r}; known: {known}",
                what=tr(what),
                name=name,
                known=", ".join(sorted(rows)),
            )
        )
    return rows[name]


def method_from(row: Mapping[str, Any], mixes: Mapping[str, Any] | None = None) -> Method:
    """Return a method from a row of the catalogue.

    Parameters
    ----------
    row : mapping
        The row.
    mixes : mapping, optional
        The mixes that it may name; the catalogue's if left out.

    Raises
    ------
    InfeasibleError
        If its pieces do not fit into each other.
    """
    return Method(
        id=row["id"],
        label=row["label"],
        summary=row["summary"],
        status=row["status"],
        container=Container(
            shape=row["container_shape"],
            length=quantity_of("container_size", row["container_length"]),
            width=quantity_of("container_size", row["container_width"]),
            height=quantity_of("container_size", row["container_height"]),
            plants=row["plants_per_container"],
            base_height=quantity_of("depth", row["base_height"]),
            medium_height=quantity_of("depth", row["medium_height"]),
        ),
        medium=_medium_from(row, catalog.mixes() if mixes is None else mixes),
        sheet=_sheet_from(row),
        level=Level(
            regime=row["level_regime"],
            low=quantity_of("depth", row["level_low"]),
            high=quantity_of("depth", row["level_high"]),
            start=quantity_of("depth", row["level_start"]),
            rim=quantity_of("depth", row["rim_height"]),
            displaced_fraction=row["displaced_fraction"],
            open_fraction=row["open_fraction"],
            fill_interval=quantity_of("fill_interval", FILL_INTERVAL),
        ),
        supplies=tuple(_supply_from(item) for item in row["supplies"]),
        plants_per_area=quantity_of("plants_per_area", row["plants_per_area"]),
        labour=labour_from(row["labour_per_plant"], row["labour_shares"]),
    )


def labour_from(hours: float, shares: Mapping[str, float]) -> Labour:
    """Return hours for a plant split among tasks by their shares."""
    return Labour(
        **{task: quantity_of(f"labour_{task}", hours * share) for task, share in shares.items()}
    )


def _medium_from(row: Mapping[str, Any], mixes: Mapping[str, Any]) -> Medium | None:
    if not row["mix"]:
        return None
    mix = choose(mixes, row["mix"], mark("mix"))
    return Medium(
        mix=mix["id"],
        label=mix["label"],
        components=tuple(mix["components"]),
        volume_per_plant=quantity_of("volume_per_plant", row["volume_per_plant"]),
        mixing_loss=mix["mixing_loss"],
        crops_per_filling=row["crops_per_filling"],
        top_up_fraction=row["top_up_fraction"],
    )


def _sheet_from(row: Mapping[str, Any]) -> Sheet | None:
    if not row["sheet"]:
        return None
    sheet = choose(catalog.sheets(), row["sheet"], mark("sheet"))
    return Sheet(
        item=sheet["id"],
        label=sheet["label"],
        area_per_area=row["sheet_area_per_area"],
        crops_per_sheet=sheet["crops_per_sheet"],
    )


def _supply_from(row: Mapping[str, Any]) -> Supply:
    item = choose(catalog.supplies(), row["item"], mark("supply"))
    return Supply(
        item=row["item"],
        label=item["label"],
        use=row["use"],
        quantity_per_area=row["quantity_per_area"],
        service_life=quantity_of("service_life", item["service_life"] or 1.0),
        salvage_fraction=item["salvage_fraction"] or 0.0,
    )


def crop_from(row: Mapping[str, Any]) -> Crop:
    """Return a crop from a row of the catalogue, with basal coefficients for a covered tank."""
    return Crop(
        id=row["id"],
        label=row["label"],
        planting_item=row["planting_item"],
        planting_per_plant=row["planting_amount_per_plant"],
        removal={
            element: row[f"removal_{element}"] for element in ("N", "P", "K", "Ca", "Mg", "S")
        },
        uptake=dict(row["uptake"]),
        **{
            name: quantity_of("duration", row[name])
            for name in ("days_initial", "days_development", "days_mid", "days_late")
        },
        kc_initial=row["kcb_initial"],
        kc_mid=row["kcb_mid"],
        kc_end=row["kcb_end"],
        canopy_height=quantity_of("canopy_height", row["canopy_height"]),
        salinity_threshold=quantity_of("salinity_threshold", row["salinity_threshold"]),
        salinity_slope=quantity_of("salinity_slope", row["salinity_slope"]),
        marketable_share=row["marketable_share"],
        loss_share=row["loss_share"],
    )


def harvest_from(row: Mapping[str, Any], crop: str) -> Harvest:
    """Return the yield that the catalogue gives for a method and a crop.

    Raises
    ------
    InfeasibleError
        If the catalogue has no yield for that crop under that method.
    """
    if crop not in row["yields"]:
        known = ", ".join(sorted(row["yields"])) or tr("none")
        raise InfeasibleError(
            tr(
                "no yield of {crop!r} is given for the method {method!r}; crops given: {known}",
                crop=crop,
                method=row["id"],
                known=known,
            )
        )
    low, typical, high = row["yields"][crop]
    return Harvest(
        basis=catalogue_basis(row["status"]),
        status=row["status"],
        interval=True,
        low=quantity_of("yield_per_area", low),
        typical=quantity_of("yield_per_area", typical),
        high=quantity_of("yield_per_area", high),
    )


def site_from(row: Mapping[str, Any]) -> Site:
    """Return a site from a row of the catalogue."""
    months = sorted(row["climate"], key=lambda month: month["month"])
    return Site(
        id=row["id"],
        label=row["label"],
        status=row["status"],
        planting_month=int(row["planting_month"]),
        reference_evapotranspiration=quantity_of(
            "reference_evapotranspiration",
            [month["reference_evapotranspiration"] for month in months],
        ),
        rain=quantity_of("monthly_rain", [month["rain"] for month in months]),
        mean_temperature=quantity_of(
            "air_temperature", [month["mean_temperature"] for month in months]
        ),
        latitude=quantity_of("latitude", row["latitude"]),
        elevation=quantity_of("elevation", row["elevation"]),
        rain_share=row["rain_share"],
        climate_factor=1.0,
    )


def plain_content(
    rates: Mapping[str, float], fertilisers: Mapping[str, nutrients.Fertiliser]
) -> dict[str, float]:
    """Return what fertilisers bring, in mg/L, from rates in g/L, as floats of Python."""
    found = nutrients.content_of.floats(rates, fertilisers)
    return {name: float(value) for name, value in found.items()}


def feed_from(row: Mapping[str, Any], ec: float = USUAL_EC) -> Feed:
    """Return a feed from a recipe of the catalogue in pure water, at an EC in dS/m."""
    salts = dict(row["salts"])
    return Feed(
        recipe=row["id"],
        label=row["label"],
        salts=salts,
        content=plain_content(salts, nutrients.shelf(salts)),
        water=PURE_WATER,
        water_content={},
        ec=quantity_of("electrical_conductivity", ec),
        dilution=100,
        top_up_strength=1.0,
        uptake_factor=UPTAKE_FACTOR,
    )


def prices_from(prices: catalog.PriceList, crop: str = "potato") -> Prices:
    """Return what a scenario of one crop needs of a price list."""
    unit_prices = {item: row.unit_price for item, row in prices.prices.items()}
    return Prices(
        id=prices.id,
        label=prices.label,
        currency=prices.currency,
        unit_prices=unit_prices,
        assumed=tuple(prices.missing),
        medium_factor=1.0,
        labour_price=quantity_of("labour_price", unit_prices["labour"]),
        water_price=quantity_of("water_price", unit_prices["water"]),
        produce_price=quantity_of("produce_price", unit_prices[f"produce_{crop}"]),
        interest_rate=0.06,
        crops_per_year=quantity_of("crops_per_year", 2),
    )


def scenario_for(
    method: str,
    crop: str = "potato",
    site: str = DEFAULT_SITE,
    prices: str | catalog.PriceList = DEFAULT_SITE,
    *,
    methods: Mapping[str, Any] | None = None,
    mixes: Mapping[str, Any] | None = None,
) -> Scenario:
    """Return the scenario of one method, with the catalogue's usual values.

    Parameters
    ----------
    method, crop, site : str
        Ids in the catalogue.
    prices : str or PriceList
        Id of a shipped price list, or a person's own.
    methods : mapping, optional
        The methods to choose from, if a person has added some.
    mixes : mapping, optional
        The mixes that methods may name, if a person has added growing media.

    Raises
    ------
    InfeasibleError
        If an id is unknown (the message lists those there are), no yield is
        known for that crop under that method, or something has no price.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> scenario_for("medium_bag").prices.currency
    'EUR'
    """
    row = choose(methods if methods is not None else catalog.methods(), method, mark("method"))
    place = choose(catalog.sites(), site, mark("site"))
    listed = prices if isinstance(prices, catalog.PriceList) else catalog.price_list(prices)
    made = Scenario(
        name=row["label"],
        method=method_from(row, mixes),
        crop=crop_from(choose(catalog.crops(), crop, mark("crop"))),
        harvest=harvest_from(row, crop),
        site=site_from(place),
        tank=Tank(area=quantity_of("tank_area", 4), reserve_days=quantity_of("reserve_days", 7)),
        feed=feed_from(catalog.recipes()[DEFAULT_RECIPE]),
        prices=prices_from(listed, crop),
    )
    check_priced(made)
    return made


def check_priced(scenario: Scenario) -> None:
    """Refuse a scenario that uses something without a price.

    Raises
    ------
    InfeasibleError
        If its price list lacks an item; the message names item and list.
    """
    method, priced = scenario.method, scenario.prices.unit_prices
    used = [item for item, _ in method.medium.components] if method.medium else []
    used += [method.sheet.item] if method.sheet else []
    used += [supply.item for supply in method.supplies]
    used += [scenario.crop.planting_item, *scenario.feed.salts]
    missing = [item for item in used if item not in priced]
    if missing:
        raise InfeasibleError(
            tr(
                "{method} ({id}) uses {items}, which {prices} does not price; add a row for it to "
                "your price list",
                method=tr(method.label),
                id=method.id,
                items=", ".join(missing),
                prices=tr(scenario.prices.label),
            )
        )


def harvest_from_plots(found: MethodYield) -> Harvest:
    """Return the yield that weighed plots give, with its interval if there is one."""
    return Harvest(
        basis=weighed_basis(found.plots),
        status="trial",
        interval=found.low is not None,
        low=found.mean if found.low is None else found.low,
        typical=found.mean,
        high=found.mean if found.high is None else found.high,
    )
