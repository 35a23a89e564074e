"""How a nutrient solution is arrived at: an aim, what is on the shelf, and the water at hand."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import catalog, nutrients, units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients import (
    AcidDose,
    Fertiliser,
    Recipe,
    SourceWater,
    StrengthCurve,
    TargetSet,
)
from scenariokit.quantities import checked_floats
from scenariokit.scenario.build import PURE_WATER, choose, plain_content
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.shown_labels import WORKED_OUT
from scenariokit.scenario.strength import curve_of

DEFAULT_SHELF = (
    "calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate", "magnesium_sulfate",
    "potassium_sulfate", "iron_edta", "boric_acid", "manganese_sulfate", "zinc_sulfate",
    "copper_sulfate", "sodium_molybdate",
)  # fmt: skip
"""What is on the shelf until a person says otherwise; no ammonium, no chloride."""
PURE = "pure_water"
ACID_PH = 5.8
"""pH to which acid is given, in the middle of the usual window."""
MOST_TRIES = 25
EC_REACHED = 1e-4
"""Share of the wanted EC within which a recipe counts as having it."""


@dataclass(frozen=True)
class FeedPlan:
    """What a person picks: an aim and how to get there.

    Parameters
    ----------
    aim : str
        Id of a target set.
    solved : bool
        Whether the grams are worked out from the shelf and the water; if not,
        they are those of the published recipe of the same id.
    shelf : tuple of str
        Ids of the fertilisers at hand; not looked at for a published recipe.
    cheapest : bool
        Worked out for the least cost within the bands, not for the closest fit.
    water : str
        Id of the source water.
    acid : str
        Id of the acid that takes away its alkalinity; empty for none.
    """

    aim: str = "hoagland_1"
    solved: bool = False
    shelf: tuple[str, ...] = DEFAULT_SHELF
    cheapest: bool = False
    water: str = PURE
    acid: str = ""


@dataclass(frozen=True)
class FeedStore:
    """All that can be picked from: the catalogue's, and a person's own.

    Parameters
    ----------
    fertilisers, waters, targets : mapping
        By id.
    """

    fertilisers: Mapping[str, Fertiliser]
    waters: Mapping[str, SourceWater]
    targets: Mapping[str, TargetSet]


@dataclass(frozen=True)
class PlannedFeed:
    """A nutrient solution that was arrived at.

    Parameters
    ----------
    plan : FeedPlan
        What was picked.
    label : str
        What a person reads.
    rates : dict
        Fertiliser id to g/L.
    fertilisers : dict
        Those in `rates`.
    content : dict
        Element to mg/L that they bring.
    water : SourceWater
        What they are dissolved in.
    water_content : dict
        Element, and HCO3, to mg/L in that water, acid counted.
    targets : TargetSet
        What was aimed at, at full strength.
    share : float
        Strength that was worked out, relative to `targets`; 1 for a published recipe.
    recipe : Recipe or None
        How the solver got there, for one that was worked out.
    """

    plan: FeedPlan
    label: str
    rates: dict[str, float]
    fertilisers: dict[str, Fertiliser]
    content: dict[str, float]
    water: SourceWater
    water_content: dict[str, float]
    targets: TargetSet
    share: float
    recipe: Recipe | None


def shipped_store() -> FeedStore:
    """Return the catalogue's fertilisers, waters and target sets."""
    return FeedStore(
        fertilisers=nutrients.shelf(),
        waters={
            PURE: SourceWater(PURE, PURE_WATER, {}, status="computed"),
            **{key: nutrients.water_from_row(row) for key, row in catalog.waters().items()},
        },
        targets={key: nutrients.target_set(key) for key in catalog.targets()},
    )


def plan_feed(
    plan: FeedPlan,
    ec: Any,
    store: FeedStore | None = None,
    prices: Mapping[str, float] | None = None,
) -> PlannedFeed:
    """Return the grams of each fertiliser for a plan.

    Parameters
    ----------
    plan : FeedPlan
        What was picked.
    ec : quantity
        EC that the solution shall have; a recipe that is worked out aims at the
        strength that has it, so that what the water brings counts in full.
    store : FeedStore, optional
        What there is to pick from; the catalogue if left out.
    prices : mapping, optional
        Money for a kilogram of each fertiliser, for the cheapest recipe.

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If the EC of a recipe that is worked out is no single EC.
    InfeasibleError
        If something picked does not exist, no recipe meets the bands, the
        shelf cannot reach the EC, or the cheapest is wanted and a price is missing.

    Examples
    --------
    >>> from scenariokit.scenario import FeedPlan, plan_feed
    >>> found = plan_feed(FeedPlan(), "1.6 dS/m")
    >>> f"{found.rates['potassium_nitrate']:.3f} g/L"
    '0.506 g/L'
    """
    store = store or shipped_store()
    water = choose(store.waters, plan.water, mark("source water"))
    targets = choose(store.targets, plan.aim, mark("target set"))
    if plan.acid:
        choose(catalog.acids(), plan.acid, mark("acid"))
    in_water = treated_content(water, plan.acid)
    if not plan.solved:
        row = choose(catalog.recipes(), plan.aim, mark("published recipe"))
        rates = {key: float(rate) for key, rate in row["salts"].items()}
        used = {key: choose(store.fertilisers, key, mark("fertiliser")) for key in rates}
        content = plain_content(rates, used)
        made = (row["label"], rates, used, content)
        return PlannedFeed(plan, *made, water, in_water, targets, 1.0, None)
    shelf = {key: choose(store.fertilisers, key, mark("fertiliser")) for key in plan.shelf}
    if not shelf:
        raise InfeasibleError(tr("nothing is on the shelf; tick the fertilisers that you have"))
    share, recipe = _solved(plan, shelf, in_water, targets, (ec, prices))
    rates = {key: float(rate.m_as("g/L")) for key, rate in recipe.rates.items() if rate.m > 0}
    used = {key: shelf[key] for key in rates}
    content = plain_content(rates, used)
    label = targets.label + WORKED_OUT
    made = (label, rates, used, content)
    return PlannedFeed(plan, *made, water, in_water, targets, share, recipe)


def treated_content(water: SourceWater, acid: str = "") -> dict[str, float]:
    """Return what a litre of a source water holds once acid has brought it to `ACID_PH`.

    Parameters
    ----------
    water : SourceWater
        The water.
    acid : str, optional
        Id of the acid; the water as it comes if left out.

    Returns
    -------
    dict
        Content keys to mg/L: bicarbonate as far as it is left, and what the
        acid brings.
    """
    content = dict(water.content)
    if not acid:
        return content
    dose = acid_dose(water, acid, units.quantity(1.0, "L"))
    content["HCO3"] = nutrients.bicarbonate_from_alkalinity.floats(dose.residual.m_as("mg/L"))
    for key, brought in dose.adds.items():
        content[key] = content.get(key, 0.0) + brought.m_as("mg/L")
    return content


def acid_dose(water: SourceWater, acid: str, volume: Any) -> AcidDose:
    """Return the acid for a volume of a source water, down to `ACID_PH`."""
    alkalinity = units.quantity(water.alkalinity, "mg/L")
    return nutrients.acid_for_alkalinity(alkalinity, volume, acid, target_ph=ACID_PH)


def _solved(
    plan: FeedPlan,
    shelf: dict[str, Fertiliser],
    water: dict[str, float],
    targets: TargetSet,
    wanted: tuple[Any, Mapping[str, float] | None],
) -> tuple[float, Recipe]:
    """Return the strength, relative to the targets, whose recipe has the EC, and that recipe."""
    ec, given = wanted
    wanted_ec = checked_floats("plan_feed", {"ec": (ec, "electrical_conductivity")})["ec"]
    if np.ndim(wanted_ec):
        problem = Problem("ec", str(ec), tr("must be one EC, not an array"), "", 'ec="1.6 dS/m"')
        raise argument_error([problem], "plan_feed")
    if wanted_ec <= 0:
        raise InfeasibleError(
            tr(
                "no recipe from this shelf and water has an EC of 0 dS/m: nothing would be dissolved"
            )
        )
    held = {key: units.quantity(value, "mg/L") for key, value in water.items()}

    def recipe_at(share: float, prices: Mapping[str, float] | None) -> tuple[Recipe, StrengthCurve]:
        aim = nutrients.scaled(targets, share)
        recipe = nutrients.solve(aim, shelf, held, prices=prices)
        rates = {key: plain(rate) for key, rate in recipe.rates.items()}
        return recipe, curve_of(nutrients.content_of.floats(rates, shelf), water)

    share, recipe = _at_ec(wanted_ec, lambda share: recipe_at(share, None), 1.0)
    if plan.cheapest:
        # From where the closest fit has the EC: bands far from there may not be possible at all.
        prices = {key: price for key, price in (given or {}).items() if key in shelf}
        bare = [key for key in shelf if key not in prices]
        if bare:
            raise InfeasibleError(
                tr(
                    "no cheapest recipe without a price of {fertilisers}",
                    fertilisers=", ".join(bare),
                )
            )
        share, recipe = _at_ec(wanted_ec, lambda share: recipe_at(share, prices), share)
    return share, recipe


def _at_ec(
    wanted_ec: float, recipe_at: Callable[[float], tuple[Recipe, StrengthCurve]], share: float
) -> tuple[float, Recipe]:
    """Return the strength whose recipe has an EC [dS/m], and that recipe; begins at `share`."""
    tried: list[tuple[float, float]] = []
    for _ in range(MOST_TRIES):
        recipe, curve = recipe_at(share)
        reached = float(curve.ec(1.0))
        if abs(reached - wanted_ec) <= EC_REACHED * wanted_ec:
            return share, recipe
        if reached <= curve.water_ec:
            raise InfeasibleError(tr("nothing on the shelf raises the EC towards this aim"))
        tried.append((share, reached - wanted_ec))
        share = _next_share(tried, share * float(curve.strength(wanted_ec)))
    raise InfeasibleError(
        tr(
            "no recipe from this shelf and water has an EC of {wanted:g} dS/m; the last try "
            "had {reached:.3g} dS/m",
            wanted=wanted_ec,
            reached=reached,
        )
    )


def _next_share(tried: list[tuple[float, float]], guess: float) -> float:
    """Return the strength to try next: by the secant of the last two, if it can be, else `guess`.

    What the water brings does not grow with strength, so that the guess alone creeps.
    """
    if len(tried) < 2:
        return guess
    (before, error_before), (last, error) = tried[-2:]
    if error == error_before:
        return guess
    found = last - error * (last - before) / (error - error_before)
    return found if 0.2 * last < found < 5 * last else guess


def with_feed(scenario: Scenario, planned: PlannedFeed) -> Scenario:
    """Return a scenario that is fed with a planned solution; EC, dilution and top-up stay."""
    feed = dataclasses.replace(
        scenario.feed,
        recipe=planned.plan.aim,
        label=planned.label,
        salts=dict(planned.rates),
        content=dict(planned.content),
        water=planned.water.label,
        water_content=dict(planned.water_content),
    )
    return dataclasses.replace(scenario, feed=feed)
