"""What is to be solved, as plain numbers: fertilisers by columns, aims and limits by rows."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import ArgumentError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.contents import CONTENT, checked_content, with_total_nitrogen
from scenariokit.nutrients.composition.fertilisers import Fertiliser, shelf
from scenariokit.nutrients.recipe.targets import FloatBand
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import QuantityLike

TRACES = frozenset({"Fe", "Mn", "Zn", "B", "Cu", "Mo"})
"""Micronutrients."""

_PLACE = {key: number for number, key in enumerate(CONTENT)}
_MG_PER_G = 1000.0
_TRACE_SALT = 0.01
"""Share from which a product counts as made for a micronutrient."""
SUBJECT = "solve"


@dataclass(frozen=True)
class Limits:
    """What a recipe must keep to, whatever the targets say.

    Parameters
    ----------
    ammonium_share : float or None
        Largest share of ammonium nitrogen in all nitrogen, ``"15 %"`` or 0.15
        (common practice, no published source). None lifts the limit.
    sodium, chloride : quantity or None
        Highest concentration with what the water brings [mg/L].

    Warnings
    --------
    Much ammonium harms roots, the more in warm water with little air: lift the
    limit only with a reason.
    """

    ammonium_share: QuantityLike | None = "15 %"
    sodium: QuantityLike | None = None
    chloride: QuantityLike | None = None


@dataclass(frozen=True)
class FloatLimits:
    """Limits as plain numbers: a share, and ceilings [mg/L] by content key."""

    ammonium_share: float | None
    ceilings: Mapping[str, float]


@dataclass(frozen=True)
class Task:
    """A recipe to find, scaled so that every number is near 1.

    A x is what rates x [g/L] bring, divided by the target; columns are divided
    by their length, so that trace salts are solved as exactly as the others.

    Parameters
    ----------
    names : tuple of str
        Fertilisers that bring something aimed at and may be used, sorted.
    elements : tuple of str
        Content keys aimed at, with a target above 0.
    aims, limits : array
        Rows over the content keys: share of each target, and of each limit.
    matrix, bounds : array
        The same rows over the scaled columns.
    topped : array
        `matrix` as it counts towards `high`: trace salts count nothing where
        the water alone is above the band.
    wanted, low, high, room : array
        Right-hand sides, less what the water brings.
    broken : array
        Which limits the water alone is above.
    lengths : array
        By which the columns were divided.
    burden : array
        Milligrams of sodium and chloride, and grams, of each scaled column.
    """

    names: tuple[str, ...]
    elements: tuple[str, ...]
    aims: Any
    limits: Any
    matrix: Any
    topped: Any
    bounds: Any
    wanted: Any
    low: Any
    high: Any
    room: Any
    broken: Any
    lengths: Any
    burden: Any


def content_columns(fertilisers: Iterable[Fertiliser]) -> Any:
    """Return mg/L of every content key (rows) that 1 g/L of each fertiliser brings."""
    found = np.array([[one.shares.get(key, 0.0) for key in CONTENT] for one in fertilisers])
    return _MG_PER_G * found.T


def make_task(
    bands: Mapping[str, FloatBand],
    fertilisers: Mapping[str, Fertiliser],
    water: Mapping[str, float],
    limits: FloatLimits,
    tolerance: float,
) -> Task:
    """Return the recipe to find as arrays."""
    brought = np.array([water.get(key, 0.0) for key in CONTENT])
    elements = tuple(key for key, band in bands.items() if band.target > 0)
    scale = np.array([bands[key].target for key in elements])
    aims = _picked(elements) / scale[:, None]
    already = aims @ brought
    ends = np.array([band_ends(bands[key], tolerance) for key in elements]).T / scale - already
    names = tuple(sorted(fertilisers))
    shelf = [fertilisers[name] for name in names]
    columns = content_columns(shelf)
    raw = aims @ columns
    lengths = np.sqrt((raw**2).sum(axis=0))
    limit_rows, caps = _limit_rows(bands, limits, water)
    room = caps - limit_rows @ brought
    # A share of ammonium that the water is above can still be kept by adding nitrate.
    broken = (room < 0) & (limit_rows >= 0).all(axis=1)
    bounds = without_traces(limit_rows, broken, shelf)
    barred = ((bounds > 0) & ((room <= 0) & (limit_rows >= 0).all(axis=1))[:, None]).any(axis=0)
    foreign = [has_foreign_trace(one, bands) for one in shelf]
    kept = (lengths > 0) & ~barred & ~np.array(foreign)
    bounds = bounds[:, kept] / lengths[kept]
    sizes = np.sqrt((bounds**2).sum(axis=1))
    sizes[sizes == 0] = 1.0  # nothing on the shelf touches this limit
    return Task(
        names=tuple(name for name, keep in zip(names, kept, strict=True) if keep),
        elements=elements,
        aims=aims,
        limits=limit_rows / sizes[:, None],
        matrix=raw[:, kept] / lengths[kept],
        topped=without_traces(aims, ends[1] < 0, shelf)[:, kept] / lengths[kept],
        bounds=bounds / sizes[:, None],
        wanted=1 - already,
        low=ends[0],
        # Where the water alone is above the band or limit, what is left to do is to add none.
        high=np.maximum(ends[1], 0.0),
        room=np.where(broken, 0.0, room) / sizes,
        broken=broken,
        lengths=lengths[kept],
        burden=(1 + columns[[_PLACE["Na"], _PLACE["Cl"]]].sum(axis=0))[kept] / lengths[kept],
    )


def without_traces(rows: Any, broken: Any, fertilisers: Iterable[Fertiliser]) -> Any:
    """Return rows over fertilisers, trace salts counting nothing in the rows that are broken.

    Water with too much sodium or sulfate is no reason to do without iron or
    zinc, whose salts bring a milligram or two more of it.
    """
    shelf = list(fertilisers)
    found = rows @ content_columns(shelf)
    traces = [not TRACES.isdisjoint(one.shares) for one in shelf]
    found[np.ix_(broken, traces)] = 0.0
    return found


def has_foreign_trace(fertiliser: Fertiliser, bands: Mapping[str, FloatBand]) -> bool:
    """Return whether a product is rich in a micronutrient that nothing is said about.

    Copper sulfate is no source of sulfur: without a target or ceiling for copper
    nothing would hold it back.
    """
    return any(
        fertiliser.shares.get(trace, 0.0) > _TRACE_SALT for trace in TRACES if trace not in bands
    )


def band_ends(band: FloatBand, tolerance: float) -> tuple[float, float]:
    """Return low and high of a band, those left open by the tolerance around the target."""
    low = band.target * (1 - tolerance) if band.low is None else band.low
    high = band.target * (1 + tolerance) if band.high is None else band.high
    return low, high


def _limit_rows(
    bands: Mapping[str, FloatBand], limits: FloatLimits, water: Mapping[str, float]
) -> tuple[Any, Any]:
    """Return rows over the content keys, and what each may come to at most, in mg/L."""
    caps = {key: band.high or 0.0 for key, band in bands.items() if band.target == 0}
    for key, cap in limits.ceilings.items():
        caps[key] = min(cap, caps.get(key, cap))
    rows, most = _picked(caps), np.array(list(caps.values()))
    share = limits.ammonium_share
    if share is None:
        return rows, most
    row = _picked(["N_ammonium"])
    nitrogen = max(bands["N"].target if "N" in bands else 0.0, water.get("N", 0.0))
    ammonium = water.get("N_ammonium", 0.0)
    if ammonium > share * nitrogen:
        # More nitrate than is aimed at is no cure: add no ammonium.
        return np.vstack([rows, row]), np.append(most, share * nitrogen)
    return np.vstack([rows, row - share * _picked(["N"])]), np.append(most, 0.0)


def _picked(keys: Iterable[str]) -> Any:
    """Return rows over the content keys that each pick one of them."""
    places = [_PLACE[key] for key in keys]
    return np.eye(len(CONTENT))[places]


# -- what a person gives ---------------------------------------------------------------------


def read_fertilisers(given: Any) -> tuple[dict[str, Fertiliser], list[Problem]]:
    """Return fertilisers by id, from a mapping or from ids of the catalogue."""
    example = 'fertilisers=["calcium_nitrate", "potassium_nitrate"]'
    if isinstance(given, str) or not isinstance(given, Iterable):
        reason = tr("must be fertilisers by id, or a list of ids of catalogue salts")
        return {}, [Problem("fertilisers", str(given), reason, example=example)]
    if not isinstance(given, Mapping):
        try:
            given = shelf(given)
        except ArgumentError as error:
            return {}, list(error.problems)
    if not given:
        return {}, [Problem("fertilisers", "", tr("is empty: nothing to make a solution from"), "",
                            example)]  # fmt: skip
    return dict(given), [
        Problem(f"fertilisers[{name}]", str(one), tr("is no Fertiliser"), example=example)
        for name, one in given.items()
        if not isinstance(one, Fertiliser)
    ]


def read_water(given: Any) -> tuple[dict[str, float], list[Problem]]:
    """Return what the water brings in mg/L, total nitrogen filled in from its forms."""
    if given is None:
        return {}, []
    try:
        found = checked_content(getattr(given, "concentrations", given), SUBJECT, "water")
    except ArgumentError as error:
        return {}, list(error.problems)
    return with_total_nitrogen(found), _array_problems(found, "water")


def read_prices(
    given: Mapping[str, Any] | None, names: Iterable[str]
) -> tuple[dict[str, float] | None, list[Problem]]:
    """Return the price of a kilogram of each fertiliser; plain numbers are money/kg."""
    if given is None:
        return None, []
    if not isinstance(given, Mapping):
        example = 'prices={"potassium_nitrate": "2 money/kg"}'
        return None, [Problem("prices", str(given), tr("must map ids to prices"), example=example)]
    wanted = list(names)
    problems = [
        Problem(f"prices[{name}]", "", tr("is missing"), tr("a price for each fertiliser on the shelf"),
                f'prices={{"{name}": "2 money/kg"}}')
        for name in wanted
        if name not in given
    ]  # fmt: skip
    priced = {
        f"prices[{name}]": (_as_price(given[name]), "fertiliser_price")
        for name in wanted
        if name in given
    }
    try:
        found = checked_floats(SUBJECT, priced)
    except ArgumentError as error:
        return None, [*problems, *error.problems]
    problems += _array_problems(found, "")
    return {name: found[f"prices[{name}]"] for name in wanted if name in given}, problems


def _as_price(value: Any) -> Any:
    plain = isinstance(value, int | float | np.number) and not isinstance(value, bool)
    return with_unit(float(value), "money/kg") if plain else value


def read_limits(
    limits: Limits | None, tolerance: QuantityLike
) -> tuple[FloatLimits, float, list[Problem]]:
    """Return limits and tolerance as plain numbers."""
    limits = Limits() if limits is None else limits
    if not isinstance(limits, Limits):
        example = 'limits=Limits(ammonium_share="15 %", sodium="50 mg/L")'
        problem = Problem("limits", str(limits), tr("is no Limits"), example=example)
        return FloatLimits(None, {}), 0.0, [problem]
    given = {
        "tolerance": (tolerance, "target_tolerance"),
        "limits.ammonium_share": (limits.ammonium_share, "ammonium_share"),
        "limits.sodium": (limits.sodium, "concentration"),
        "limits.chloride": (limits.chloride, "concentration"),
    }
    kept = {key: pair for key, pair in given.items() if pair[0] is not None or key == "tolerance"}
    try:
        found = checked_floats(SUBJECT, kept)
    except ArgumentError as error:
        return FloatLimits(None, {}), 0.0, list(error.problems)
    ceilings = {
        element: found[key]
        for element, key in (("Na", "limits.sodium"), ("Cl", "limits.chloride"))
        if key in found
    }
    plain = FloatLimits(found.get("limits.ammonium_share"), ceilings)
    return plain, found["tolerance"], _array_problems(found, "")


def _array_problems(found: Mapping[str, Any], field: str) -> list[Problem]:
    return [
        Problem(
            f"{field}[{key}]" if field else key, str(value), tr("must be one value, not an array")
        )
        for key, value in found.items()
        if np.ndim(value) > 0
    ]


def raise_problems(problems: list[Problem]) -> None:
    """Raise one error that lists all `problems`, if there are any."""
    if problems:
        raise argument_error(problems, SUBJECT)


@functools.cache
def catalogue() -> dict[str, Fertiliser]:
    """Return the shipped salts, which may be named as a help."""
    return shelf()
