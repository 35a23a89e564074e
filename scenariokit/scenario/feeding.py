"""The elements of a scenario's tank through its season: given, taken up, left, and their EC."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import reservoir
from scenariokit.nutrients.balance.leftover import (
    AGRONOMIC_RATE,
    NitrateLeft,
    dilution_to_drinking_water,
    soil_area_for,
)
from scenariokit.nutrients.balance.removal import nitrate_from_nitrogen
from scenariokit.quantities import with_unit
from scenariokit.scenario.crop_demand import UPTAKE, SeasonDemand, season_demand
from scenariokit.scenario.division import divided
from scenariokit.scenario.ion_series import KEPT, ion_series, mixed, nitrate_share, tracers
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.season import SALT, salt_solute, season_with
from scenariokit.scenario.strength import solution_content

_ROUNDING = 1e-9
"""Share of a season's demand below which a lack is rounding."""


@dataclass(frozen=True)
class ElementSeason:
    """One element through a season, by tank area.

    First filling and top-up together are what is taken up, left in the tank,
    or washed over the rim by rain.

    Parameters
    ----------
    wanted : quantity
        What whole plants would take up for the yield [g/m²].
    first_filling, topped_up : quantity
        Given at planting, and later [g/m²]; of both, what the water itself brings too.
    taken_up, washed_out, left : quantity
        In the plants, over the rim, and in the tank at harvest [g/m²].
    in_produce, in_leaves_and_roots : quantity
        Parts of what was taken up [g/m²]. Where less was taken up than wanted,
        each has its share of the lack.
    concentration : quantity
        At planting and at the end of each day [mg/L]; NaN where the tank is dry.
    short_from : quantity
        First day on which plants find less than they would take up; infinite
        if there is none [day].
    supply_ratio : quantity
        Given ÷ wanted; infinite where none is wanted.
    given_per_kilogram : quantity
        Given for each kilogram of produce [g/kg]; NaN without a yield.
    taken_up_per_litre : quantity
        Taken up with each litre transpired [mg/L].
    """

    wanted: Any
    first_filling: Any
    topped_up: Any
    taken_up: Any
    washed_out: Any
    left: Any
    in_produce: Any
    in_leaves_and_roots: Any
    concentration: Any
    short_from: Any
    supply_ratio: Any
    given_per_kilogram: Any
    taken_up_per_litre: Any

    @property
    def runs_out_on(self) -> int | None:
        """First day on which it is short, or None; of an ensemble the earliest."""
        first = float(np.min(plain(self.short_from)))
        return int(first) if np.isfinite(first) else None

    def closure(self) -> Any:
        """Return what is unaccounted for, as a share of what was given."""
        given = plain(self.first_filling) + plain(self.topped_up)
        gone = plain(self.taken_up) + plain(self.washed_out) + plain(self.left)
        return np.abs(given - gone) / np.where(given > 0, given, 1.0)


@dataclass(frozen=True)
class FeedSeason:
    """The solution of one scenario through its season, element by element.

    Parameters
    ----------
    scenario : Scenario
        What was followed.
    season : scenariokit.reservoir.Season
        The balance day by day; beside the elements it follows what of a litre
        came with the first filling and what with the top-up, and the single
        salt of `tank_season`.
    elements : dict of str to ElementSeason
        N, P, K, Ca, Mg and S.
    others : dict of str to quantity
        Na, Cl and HCO3 as far as the solution holds them [mg/L], by days.
    ec : quantity
        EC of these ions at planting and at the end of each day [dS/m]; NaN
        where the tank is dry or the solution stronger than the model of EC covers.
    alkalinity : quantity
        What roots have given off so that charges stay balanced [mmol/L of
        charge], by days: bicarbonate where above zero, acid where below.
    first_short : str or None
        The element that runs out first; if none does, the one of which least
        is given for what is wanted; None without a yield.
    leftover_volume : quantity
        Solution left at harvest [L/m²].
    nitrate : NitrateLeft
        Nitrate in it: nitrogen and nitrate [g/m²], fold of dilution, soil that
        can use it [m² for each m² of tank], and a caution.
    """

    scenario: Scenario
    season: reservoir.Season
    elements: dict[str, ElementSeason]
    others: dict[str, Any]
    ec: Any
    alkalinity: Any
    first_short: str | None
    leftover_volume: Any
    nitrate: NitrateLeft

    @property
    def day(self) -> Any:
        """0 at planting, then the end of each day, as a quantity."""
        return self.season.day

    @property
    def litres_left(self) -> Any:
        """Solution left in the whole tank at harvest, as a quantity."""
        litres = plain(self.leftover_volume) * plain(self.scenario.tank.area)
        return with_unit(litres, "L")

    @property
    def runs_out(self) -> bool:
        """Whether any element is short on any day, in any member of an ensemble."""
        return any(found.runs_out_on is not None for found in self.elements.values())

    def closure(self) -> dict[str, Any]:
        """Return for water and each element what is unaccounted for, as a share of what came."""
        found = {name: one.closure() for name, one in self.elements.items()}
        return {"water": self.season.totals.closure()["water"], **found}


def feed_season(scenario: Scenario) -> FeedSeason:
    """Return what becomes of each element in a scenario's tank through its season.

    Parameters
    ----------
    scenario : Scenario
        With a tank; its leaves may be arrays.

    Returns
    -------
    FeedSeason

    Raises
    ------
    InfeasibleError
        If the method has no tank, the EC cannot be had, or what the crop takes
        up is not known.

    Notes
    -----
    Plants take up each element at a constant concentration: what whole plants
    hold for the yield ÷ water transpired in the season. Where one runs out the
    yield would be lower than planned; it is not made so here. Sodium, chloride
    and bicarbonate stay behind. Nitrogen is nitrate and ammonium in the shares
    in which it came, though plants take ammonium first; nothing settles out and
    nothing is added for pH. Plants that take up more anions than cations give
    off bicarbonate: it counts in the EC, and `alkalinity` says how much acid
    would hold the pH. Of nitric acid that would bring nitrogen besides.

    Examples
    --------
    >>> from scenariokit.scenario import feed_season, scenario_for
    >>> found = feed_season(scenario_for("medium_bag"))
    >>> found.first_short, bool(max(found.closure().values()) < 1e-9)
    ('K', True)
    """
    demand = season_demand(scenario)
    feed = scenario.feed
    filling = solution_content(feed)
    top_up = solution_content(feed, plain(feed.top_up_strength))
    solutes = {
        name: reservoir.Solute(
            inflow=with_unit(top_up.get(name, 0.0), "mg/L"),
            uptake=with_unit(demand.concentration[name], "mg/L"),
            start=with_unit(filling.get(name, 0.0), "mg/L"),
        )
        for name in UPTAKE
    }
    season = season_with(scenario, {**solutes, **tracers(), SALT: salt_solute(scenario)})
    elements = {name: _element(name, scenario, season, demand) for name in UPTAKE}
    ions = ion_series(season, elements, filling, top_up)
    volume = season.totals.volume_at_harvest
    return FeedSeason(
        scenario=scenario,
        season=season,
        elements=elements,
        others={
            name: with_unit(mixed(season, filling.get(name, 0.0), top_up.get(name, 0.0)), "mg/L")
            for name in KEPT
            if np.any(filling.get(name, 0.0)) or np.any(top_up.get(name, 0.0))
        },
        ec=with_unit(ions.ec, "dS/m"),
        alkalinity=with_unit(ions.alkalinity, "mmol/L"),
        first_short=_first_short(elements),
        leftover_volume=volume,
        nitrate=_nitrate(elements["N"], nitrate_share(season, filling, top_up)),
    )


def _element(
    name: str, scenario: Scenario, season: reservoir.Season, demand: SeasonDemand
) -> ElementSeason:
    """Return the season of one element, its balance in g/m²."""
    crop, wanted, totals = scenario.crop, demand.wanted[name], season.totals
    parts = totals.solutes[name]
    first, topped, taken, over, left = (
        plain(part) / 1000
        for part in (totals.at_planting[name], parts.supplied, parts.uptake, parts.overflow,
                     totals.residual[name])
    )  # fmt: skip
    share = crop.removal[name] / crop.uptake[name] if crop.uptake[name] > 0 else 0.0
    drunk = plain(totals.water.transpiration)
    return ElementSeason(
        wanted=with_unit(wanted + np.zeros_like(first), "g/m^2"),
        first_filling=with_unit(first, "g/m^2"),
        topped_up=with_unit(topped, "g/m^2"),
        taken_up=with_unit(taken, "g/m^2"),
        washed_out=with_unit(over, "g/m^2"),
        left=with_unit(left, "g/m^2"),
        in_produce=with_unit(taken * share, "g/m^2"),
        in_leaves_and_roots=with_unit(taken * (1 - share), "g/m^2"),
        concentration=season.concentrations[name],
        short_from=with_unit(_first_lack(plain(season.solutes[name].unmet) / 1000, wanted), "day"),
        supply_ratio=with_unit(divided(first + topped, wanted, np.inf), ""),
        given_per_kilogram=with_unit(divided(first + topped, demand.harvest, np.nan), "g/kg"),
        taken_up_per_litre=with_unit(divided(1000 * taken, drunk, np.nan), "mg/L"),
    )


def _first_lack(unmet: Any, wanted: Any) -> Any:
    """Return the first day on which uptake is not met, infinite if it always is."""
    lack = unmet > _ROUNDING * wanted
    return np.where(lack.any(axis=0), lack.argmax(axis=0) + 1.0, np.inf)[()]


def _first_short(elements: dict[str, ElementSeason]) -> str | None:
    """Return the element that is short first, or the one with the least supply for its demand."""
    ranked = {
        name: (float(np.min(plain(one.short_from))), float(np.min(plain(one.supply_ratio))))
        for name, one in elements.items()
    }
    worst = min(ranked, key=lambda name: ranked[name])
    return worst if np.isfinite(ranked[worst][1]) else None


def _nitrate(nitrogen: ElementSeason, share: Any) -> NitrateLeft:
    """Return the nitrate that is left, by tank area; `share` of the nitrogen is nitrate."""
    left = plain(nitrogen.left) * share
    strength = plain(nitrogen.concentration)[-1] * share
    return NitrateLeft(
        nitrogen=with_unit(left, "g/m^2"),
        nitrate=with_unit(nitrate_from_nitrogen.floats(left), "g/m^2"),
        dilution=with_unit(dilution_to_drinking_water.floats(strength), ""),
        soil_area=with_unit(soil_area_for.floats(left, AGRONOMIC_RATE), ""),
    )
