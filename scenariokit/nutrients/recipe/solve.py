"""The grams of each fertiliser that come nearest to a target, or meet it at least cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scenariokit.errors import ArgumentError, InfeasibleError, Problem
from scenariokit.language import tr
from scenariokit.nutrients.composition.contents import content_of
from scenariokit.nutrients.composition.fertilisers import Fertiliser
from scenariokit.nutrients.recipe import solve_numbers
from scenariokit.nutrients.recipe.solve_gaps import (
    Gap,
    causes_of,
    find_gaps,
    gap_words,
    helpful_salts,
)
from scenariokit.nutrients.recipe.solve_task import (
    SUBJECT,
    FloatLimits,
    Limits,
    Task,
    has_foreign_trace,
    make_task,
    raise_problems,
    read_fertilisers,
    read_limits,
    read_prices,
    read_water,
)
from scenariokit.nutrients.recipe.targets import (
    FloatBand,
    Targets,
    TargetSet,
    as_target_set,
    band_floats,
)
from scenariokit.quantities import with_unit
from scenariokit.units import Quantity, QuantityLike

How = Literal["closest", "cheapest"]
Reason = Literal["missing", "coupled", "excess", "water"]

_ROUNDING = 1e-6


@dataclass(frozen=True)
class Unmet:
    """One element outside its band.

    Parameters
    ----------
    element : str
        Content key.
    wanted, reached : quantity
        Target (or ceiling, where there is no target) and what the solution
        holds with its water [mg/L].
    short : quantity
        What is missing up to the nearer end of the band [mg/L]; below zero
        where there is too much.
    band : tuple of two quantities
        Lowest and highest that would do [mg/L].
    reason : {'missing', 'coupled', 'excess', 'water'}
        Too little, and nothing on the shelf brings it; too little, for more
        would bring too much of something else; too much; or the water alone
        already holds too much.
    """

    element: str
    wanted: Quantity
    reached: Quantity
    short: Quantity
    band: tuple[Quantity, Quantity]
    reason: Reason


@dataclass(frozen=True)
class Recipe:
    """How much of each fertiliser, and how near that comes.

    Parameters
    ----------
    rates : mapping of str to quantity
        Fertiliser to grams in a litre of ready solution [g/L]; exactly 0 for
        what is not needed.
    content : mapping of str to quantity
        Content key to concentration with the water's own [mg/L].
    from_water : mapping of str to quantity
        The part of `content` that the water brings [mg/L].
    targets : TargetSet
        What was aimed at.
    deviation : mapping of str to quantity
        Element to (reached - target) / target, a share.
    unmet : tuple of Unmet
        Elements outside their band.
    helpful : mapping of str to tuple of str
        For each element with too little, the salts of the catalogue that would
        bring more of it without spoiling more than they mend. A salt with a
        micronutrient is named for that micronutrient only.
    over : mapping of str to tuple of str
        For each element with too much, what brings it, most first; ``"water"``
        is the water.
    unique : bool
        Whether these are the only grams with this content (closest) or cost
        (cheapest).
    free : tuple of str
        Fertilisers whose grams could be exchanged for one another.
    left_out : tuple of str
        Fertilisers on the shelf that were not used because they are rich (over
        1 %) in a micronutrient for which there is neither target nor ceiling.
    cost : quantity or None
        Cost of the fertilisers [money/m³ of solution], if prices were given.
    how : {'closest', 'cheapest'}
        What was looked for.
    """

    rates: Mapping[str, Quantity]
    content: Mapping[str, Quantity]
    from_water: Mapping[str, Quantity]
    targets: TargetSet
    deviation: Mapping[str, Quantity]
    unmet: tuple[Unmet, ...]
    helpful: Mapping[str, tuple[str, ...]]
    over: Mapping[str, tuple[str, ...]]
    unique: bool
    free: tuple[str, ...]
    left_out: tuple[str, ...]
    cost: Quantity | None
    how: How

    @property
    def used(self) -> dict[str, Quantity]:
        """The rates that are more than zero."""
        return {name: rate for name, rate in self.rates.items() if rate.m > 0}


class NoRecipeError(InfeasibleError):
    """No mix of the fertilisers keeps every element in its band.

    `unmet`, `helpful` and `over` say, as in a `Recipe`, what is out of its band
    in the mix that comes nearest.
    """

    def __init__(
        self,
        message: str,
        unmet: tuple[Unmet, ...] = (),
        helpful: Mapping[str, tuple[str, ...]] | None = None,
        over: Mapping[str, tuple[str, ...]] | None = None,
    ) -> None:
        super().__init__(message)
        self.unmet = unmet
        self.helpful = dict(helpful or {})
        self.over = dict(over or {})


@dataclass(frozen=True)
class _Given:
    """What was asked, as plain numbers."""

    targets: TargetSet
    bands: Mapping[str, FloatBand]
    fertilisers: Mapping[str, Fertiliser]
    water: Mapping[str, float]
    prices: Mapping[str, float] | None
    limits: FloatLimits
    tolerance: float


def solve(
    targets: Targets,
    fertilisers: Any,
    water: Any = None,
    *,
    tolerance: QuantityLike = "5 %",
    prices: Mapping[str, Any] | None = None,
    limits: Limits | None = None,
) -> Recipe:
    r"""Return the grams of each fertiliser that make the solution aimed at.

    Without prices the closest: least of :math:`\sum_i ((w_i + a_i x - t_i) / t_i)^2`
    over x >= 0. With prices the cheapest: least :math:`c x` with
    :math:`l_i \le w_i + a_i x \le h_i`, x >= 0. Both keep to the limits.
    x are the rates [g/L], a what 1 g/L brings [mg/L], w what the water holds, t
    the target, l and h the band of element i [mg/L], c the prices [money/kg].

    Parameters
    ----------
    targets : TargetSet, str or mapping
        A set, the id of a shipped one, or what `targets_from` takes. A target
        of 0 is a ceiling that is kept like a limit.
    fertilisers : mapping or list of str
        `Fertiliser` by id, or ids of catalogue salts. Their order does not
        matter.
    water : mapping of str to quantity, or SourceWater, optional
        Content of the source water [mg/L]; it counts first. Without ``N`` the
        forms of nitrogen are added up. Pure water if left out.
    tolerance : float, optional
        How far from its target an element may lie where its band leaves a side
        open: ``"5 %"`` or 0.05.
    prices : mapping, optional
        Price of each fertiliser by id [money/kg]; plain numbers are money/kg.
        Prices of others are passed over.
    limits : Limits, optional
        Ammonium at most 15 % of the nitrogen if left out.

    Returns
    -------
    Recipe

    Raises
    ------
    ArgumentError
        With everything that is wrong with the arguments: an unknown salt or
        key, a value below zero or without unit, no target above zero, an empty
        shelf, a price that is missing.
    NoRecipeError
        With prices, if no mix keeps to every band; it says which elements
        cannot be met, by how much, and which salts would help.

    Notes
    -----
    Relative misfits count alike, so 1 % of molybdenum weighs as much as 1 % of
    nitrogen. Of several mixes that are equally close, the one with the least
    sodium and chloride and then the fewest grams is taken; `unique` is False
    then. Where the water alone holds more than a limit allows, the recipe adds
    none of it but what comes with micronutrients, and says so in `unmet`; so
    the cheapest recipe does for bands. A product rich in a micronutrient that
    has neither target nor ceiling is left out: else copper sulfate might be
    taken for its sulfur. Nitrogen of unknown form
    counts in ``N`` but not as ammonium. Whether the salts stay dissolved
    together is not looked at; neither is pH.

    Warnings
    --------
    A recipe is arithmetic, not advice: try it on a few plants first. Weigh
    micronutrients on a scale that shows them, with gloves and without dust;
    ten times too much copper or boron can kill plants. Nitrates feed fire: away
    from fuel, straw, paper and acids. The makers' safety data sheets and local
    rules decide.

    References
    ----------
    .. [1] Lawson, C.L. and Hanson, R.J. 1974. Solving least squares problems,
       chapter 23 (from memory).

    Examples
    --------
    >>> salts = ["calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate",
    ...          "magnesium_sulfate"]
    >>> aim = {"N": "210.1 mg/L", "P": "30.97 mg/L", "K": "234.6 mg/L", "Ca": "200.4 mg/L",
    ...        "Mg": "48.61 mg/L", "S": "64.12 mg/L"}
    >>> recipe = solve(aim, salts)
    >>> f"{recipe.rates['calcium_nitrate']:.3f~P}", recipe.unique
    ('1.181 g/l', True)
    """
    given = _read(targets, fertilisers, water, (tolerance, prices, limits))
    task = make_task(given.bands, given.fertilisers, given.water, given.limits, given.tolerance)
    if given.prices is None:
        found = solve_numbers.closest(task)
        swaps = solve_numbers.swaps_of_closest(task, found)
        found = solve_numbers.tidiest(task, found, swaps)
    else:
        cost = np.array([given.prices[name] for name in task.names]) / task.lengths
        found = solve_numbers.cheapest(task, cost) or _nearest_to_bands(given, task)
        swaps = solve_numbers.swaps_of_cheapest(task, found, cost)
    free = tuple(name for name, moves in zip(task.names, swaps, strict=True) if moves)
    return _recipe(given, task, found, free)


def _read(targets: Any, fertilisers: Any, water: Any, options: tuple[Any, Any, Any]) -> _Given:
    """Return what was asked as plain numbers, or raise one error with all that is wrong."""
    tolerance, prices, limits = options
    problems: list[Problem] = []
    chosen, bands = TargetSet("", "", {}), {}
    try:
        chosen = as_target_set(targets)
        bands = band_floats(chosen.bands, SUBJECT)
    except ArgumentError as error:
        problems += error.problems
    else:
        if all(band.target == 0 for band in bands.values()):
            problems.append(Problem("targets", ", ".join(bands), tr("has no target above zero")))
    shelf, more = read_fertilisers(fertilisers)
    problems += more
    brought, more = read_water(water)
    problems += more
    priced, more = read_prices(prices, shelf)
    problems += more
    kept, share, more = read_limits(limits, tolerance)
    raise_problems([*problems, *more])
    return _Given(chosen, bands, shelf, brought, priced, kept, share)


def _rates(given: _Given, task: Task, found: solve_numbers.Solution) -> dict[str, float]:
    rates = dict.fromkeys(given.fertilisers, 0.0)
    rates.update(zip(task.names, (found.amounts / task.lengths).tolist(), strict=True))
    return rates


def _recipe(
    given: _Given, task: Task, found: solve_numbers.Solution, free: tuple[str, ...]
) -> Recipe:
    rates = _rates(given, task, found)
    content = content_of.floats(rates, given.fertilisers, given.water)
    gaps = _gaps(given, content)
    cost = None
    if given.prices is not None:  # 1 g/L is 1 kg/m³
        total = sum(given.prices[name] * rate for name, rate in rates.items())
        cost = with_unit(total, "money/m^3")
    return Recipe(
        rates={name: with_unit(rate, "g/L") for name, rate in rates.items()},
        content={key: with_unit(float(value), "mg/L") for key, value in content.items()},
        from_water={key: with_unit(value, "mg/L") for key, value in given.water.items()},
        targets=given.targets,
        deviation={
            key: with_unit(float(content.get(key, 0.0)) / band.target - 1, "")
            for key, band in given.bands.items()
            if band.target > 0
        },
        unmet=tuple(_unmet(gap) for gap in gaps),
        helpful=_helpful(given, task, found, gaps),
        over=_over(given, rates, gaps),
        unique=not free,
        free=free,
        left_out=tuple(
            sorted(
                name
                for name, one in given.fertilisers.items()
                if has_foreign_trace(one, given.bands)
            )
        ),
        cost=cost,
        how="closest" if given.prices is None else "cheapest",
    )


def _gaps(given: _Given, content: Mapping[str, float]) -> list[Gap]:
    return find_gaps(
        given.bands, given.limits, given.tolerance, content, given.water,
        given.fertilisers.values(),
    )  # fmt: skip


def _helpful(
    given: _Given, task: Task, found: solve_numbers.Solution, gaps: list[Gap]
) -> dict[str, tuple[str, ...]]:
    short = [gap.element for gap in gaps if gap.short > 0]
    return helpful_salts(task, found, given.fertilisers, short) if short else {}


def _over(given: _Given, rates: Mapping[str, float], gaps: list[Gap]) -> dict[str, tuple[str, ...]]:
    return {
        gap.element: causes_of(gap.element, rates, given.fertilisers, given.water)
        for gap in gaps
        if gap.short < 0
    }


def _unmet(gap: Gap) -> Unmet:
    wanted, reached, short, low, high = (
        with_unit(float(part), "mg/L")
        for part in (gap.wanted, gap.reached, gap.short, gap.low, gap.high)
    )
    return Unmet(gap.element, wanted, reached, short, (low, high), gap.reason)


def _nearest_to_bands(given: _Given, task: Task) -> solve_numbers.Solution:
    """Return the mix nearest to the bands if only rounding parts it from them, else raise."""
    found, misfit = solve_numbers.least_misfit(task)
    if misfit < _ROUNDING:
        return found
    rates = _rates(given, task, found)
    gaps = _gaps(given, content_of.floats(rates, given.fertilisers, given.water))
    helpful, over = _helpful(given, task, found, gaps), _over(given, rates, gaps)
    raise NoRecipeError(
        tr(
            "{subject}: no mix of these fertilisers keeps every element in its band; at best {gaps}",
            subject=SUBJECT,
            gaps="; ".join(gap_words(gap, helpful, over) for gap in gaps),
        ),
        tuple(_unmet(gap) for gap in gaps),
        helpful,
        over,
    )
