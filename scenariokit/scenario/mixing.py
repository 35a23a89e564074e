"""From a feed to the mixing room: stocks, what goes into the tank, and next week's correction."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scenariokit import nutrients, reservoir, units
from scenariokit.errors import InfeasibleError
from scenariokit.language import language, mark, tr
from scenariokit.nutrients import (
    Band,
    CationRule,
    ChargeBalance,
    Correction,
    Fertiliser,
    StockPlan,
    TankDose,
    TargetSet,
)
from scenariokit.nutrients.composition.species import ions_of_floats
from scenariokit.quantities import checked_floats
from scenariokit.scenario.build import choose
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.strength import (
    feed_curve,
    feed_strength,
    solution_content,
    water_ec,
)

TOLERANCE = 0.05
"""Share by which an element may miss its target where no band is stated, as in `solve`."""
METER_COLD = 15.0
"""degC at which the reading of a meter without compensation is told."""
LEAST_STRENGTH = 1e-6
"""Strength below which a solution is its water, to rounding."""
SLACK = 1e-3
"""Share of a band's end that is let pass: a recipe has its EC, and so its strength, only nearly."""
COLDEST = 10.0
"""degC of the store on its coldest night, until a person says otherwise."""


@dataclass(frozen=True)
class MixingRoom:
    """How stocks are made and kept.

    Parameters
    ----------
    stocks : int
        2, or 3 with the micronutrients apart.
    stock_volume : quantity
        Of each stock [L].
    coldest : quantity
        Coldest temperature of the store [degC].
    """

    stocks: int = 2
    stock_volume: Any = "10 L"
    coldest: Any = f"{COLDEST:g} degC"


@dataclass(frozen=True)
class Mixing:
    """What is weighed and poured.

    Parameters
    ----------
    stocks : StockPlan
        Grams of each fertiliser in each stock.
    strength : float
        Of the solution, relative to the recipe.
    tank_volume : quantity
        Solution in the full tank, what stands in it taken off [L].
    dose : TankDose
        Of each stock, and of water, for the full tank [L].
    served : quantity
        Solution of this strength that the stocks make [L].
    """

    stocks: StockPlan
    strength: float
    tank_volume: Any
    dose: TankDose
    served: Any


def fullest_volume(scenario: Scenario) -> Any:
    """Return the free water in the full tank, as a quantity.

    Raises
    ------
    InfeasibleError
        If the method has no tank.
    """
    return volume_at(scenario, scenario.method.level.fullest)


def volume_at(scenario: Scenario, depth: Any) -> Any:
    """Return the free water in the tank at a depth, what stands in it taken off.

    Raises
    ------
    InfeasibleError
        If the method has no tank, or the depth lies above its rim.
    """
    level = scenario.method.level
    if level.regime == "none":
        raise InfeasibleError(tr("{method} has no tank to fill", method=tr(scenario.method.label)))
    centimetres = checked_floats("volume_at", {"depth": (depth, "depth")})["depth"]
    if centimetres > plain(level.rim):
        raise InfeasibleError(
            tr(
                "{depth:g} cm of water is above the rim of the tank, {rim:g} cm",
                depth=centimetres,
                rim=plain(level.rim),
            )
        )
    return reservoir.volume(
        scenario.tank.area, units.quantity(centimetres, "cm"), level.displaced_fraction
    )


@functools.lru_cache(maxsize=32)
def _stock_plan(
    salts: tuple[tuple[str, float], ...],
    used: tuple[Fertiliser, ...],
    dilution: float,
    room: MixingRoom,
    written_in: str,
) -> StockPlan:
    """Return the stocks of a recipe, kept from the last time: most sliders do not touch them.

    A plan holds texts, so that one is kept for each language.
    """
    return nutrients.plan_stocks(
        {key: units.quantity(rate, "g/L") for key, rate in salts},
        {one.id: one for one in used},
        dilution=dilution, volume=room.stock_volume, stocks=room.stocks, coldest=room.coldest,
    )  # fmt: skip


def mixing_for(
    scenario: Scenario, fertilisers: Mapping[str, Fertiliser], room: MixingRoom | None = None
) -> Mixing:
    """Return the stocks of a scenario's feed, and their dose for the full tank.

    Parameters
    ----------
    scenario : Scenario
        With a tank; no ensemble.
    fertilisers : mapping
        Fertiliser by id, at least those in the feed.
    room : MixingRoom, optional
        How stocks are made and kept.

    Raises
    ------
    InfeasibleError
        If something would not dissolve or would settle out, if the stocks
        alone would be more than the tank, if there is no tank, or if a
        fertiliser of the feed is not among `fertilisers`.
    """
    room, feed = room or MixingRoom(), scenario.feed
    dilution = float(plain(feed.dilution))
    used = tuple(choose(fertilisers, key, mark("fertiliser")) for key in feed.salts)
    plan = _stock_plan(tuple(feed.salts.items()), used, dilution, room, language())
    strength = float(feed_strength(feed))
    if strength < LEAST_STRENGTH:
        raise InfeasibleError(
            tr("the EC asked for is that of the water alone: nothing is to be mixed")
        )
    volume = fullest_volume(scenario)
    dose = nutrients.tank_dose(plan, volume, strength=strength)
    made = checked_floats("mixing_for", {"stock_volume": (room.stock_volume, "solution_volume")})
    served = units.quantity(made["stock_volume"] * dilution / strength, "L")
    return Mixing(plan, strength, volume, dose, served)


@dataclass(frozen=True)
class SolutionCheck:
    """The solution as it is made, checked in several ways.

    Parameters
    ----------
    strength : float
        Relative to the feed's recipe.
    ec, water_ec : quantity
        Of the solution, and of the water alone, at 25 °C [dS/m].
    cold, cold_ec : quantity
        A temperature [degC], and what a meter that does not allow for it shows [dS/m].
    rule : CationRule
        Sum of the cations ÷ 10 beside the model.
    balance : ChargeBalance
        Charges of cations and anions.
    """

    strength: float
    ec: Any
    water_ec: Any
    cold: Any
    cold_ec: Any
    rule: CationRule
    balance: ChargeBalance


def solution_check(scenario: Scenario) -> SolutionCheck:
    """Return EC, rule of thumb and charge balance of a scenario's solution; no ensemble."""
    feed, cold = scenario.feed, units.quantity(METER_COLD, "degC")
    ions = {
        ion: units.quantity(amount, "mmol/L")
        for ion, amount in ions_of_floats(solution_content(feed)).items()
    }
    return SolutionCheck(
        strength=float(feed_strength(feed)),
        ec=feed.ec,
        water_ec=water_ec(feed),
        cold=cold,
        cold_ec=nutrients.ec_at(feed.ec, cold),
        rule=nutrients.cation_rule(ions),
        balance=nutrients.charge_balance(ions),
    )


@dataclass(frozen=True)
class ElementSupply:
    """One element in the solution as it is made, against what is aimed at.

    Parameters
    ----------
    element : str
        Symbol.
    from_water, from_salts : float
        mg/L.
    low, target, high : float
        mg/L at this strength.
    """

    element: str
    from_water: float
    from_salts: float
    low: float
    target: float
    high: float

    @property
    def inside(self) -> bool:
        """Whether the sum lies within the band, to rounding."""
        total = self.from_water + self.from_salts
        return self.low * (1 - SLACK) <= total <= self.high * (1 + SLACK)


def element_supply(
    scenario: Scenario, targets: TargetSet, share: float = 1.0
) -> tuple[ElementSupply, ...]:
    """Return each element that is aimed at in the solution as it is made.

    Parameters
    ----------
    scenario : Scenario
        No ensemble.
    targets : TargetSet
        What is aimed at, at full strength.
    share : float
        Strength of the feed's own salts relative to `targets`.
    """
    feed = scenario.feed
    strength = float(feed_strength(feed))
    scale = strength * share
    return tuple(
        ElementSupply(
            element,
            feed.water_content.get(element, 0.0),
            feed.content.get(element, 0.0) * strength,
            *(scale * end for end in _ends(band)),
        )
        for element, band in targets.bands.items()
    )


def _ends(band: Band) -> tuple[float, float, float]:
    """Return a band's ends and target in mg/L; an end that is not stated is the usual tolerance."""
    target = plain(band.target)
    low = target * (1 - TOLERANCE) if band.low is None else plain(band.low)
    high = target * (1 + TOLERANCE) if band.high is None else plain(band.high)
    return low, target, high


def correction_for(scenario: Scenario, ec_now: Any, depth_now: Any, stocks: int = 2) -> Correction:
    """Return what brings the tank back to the feed's EC, from what is in it now.

    Parameters
    ----------
    scenario : Scenario
        With a tank; no ensemble.
    ec_now : quantity
        What the meter shows, at 25 °C [dS/m].
    depth_now : quantity
        Depth of water now [cm].
    stocks : int
        Number of stocks.

    Raises
    ------
    InfeasibleError
        If the EC cannot be reached, the depth is above the rim, or there is no tank.
    """
    feed = scenario.feed
    volume = volume_at(scenario, depth_now)
    room = fullest_volume(scenario) - volume
    return nutrients.correct(
        volume, ec_now, feed.ec, curve=feed_curve(feed), dilution=feed.dilution, stocks=stocks,
        room=max(room, units.quantity(0.0, "L")),
    )  # fmt: skip
