"""Filling by hand: when, how much, and the level from which a season can be begun."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import number_text, tr, tr_n
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.reservoir.measured import plain
from scenariokit.reservoir.records import Season
from scenariokit.reservoir.regimes import Flows
from scenariokit.reservoir.tank import Tank
from scenariokit.units import Floats, Quantity, QuantityLike


class Fill(NamedTuple):
    """A filling by hand, in the morning of a day, of the whole tank."""

    day: int
    litres: Any
    depth_before: Any
    depth_after: Any


def refill_calendar(season: Season, member: tuple[int, ...] | int | None = None) -> list[Fill]:
    """Return the fillings by hand of a season, one row each.

    Parameters
    ----------
    season : Season
        As `simulate` gave it.
    member : int or tuple of int, optional
        Which member of an ensemble; needed if there are several.

    Returns
    -------
    list of Fill
        Day, litres for the whole tank [L], level before and after [cm].

    Raises
    ------
    InfeasibleError
        If the season is an ensemble and no member, or not one member, is named.

    Examples
    --------
    >>> from scenariokit.reservoir import Flows, HandFilled, Tank, refill_calendar, simulate
    >>> flows = Flows("5 mm/day", days=21)
    >>> season = simulate(Tank("15 cm", area="2 m^2"), HandFilled("10 cm", every=7), flows)
    >>> first, second = refill_calendar(season)
    >>> first.day, f"{first.litres:.0f~P}", f"{first.depth_before:.1f~P}"
    (8, '70 l', '6.5 cm')
    """
    volume, filled, drained = (
        _of_member(part, member) for part in (season.volume, season.water.hand_fill,
                                              season.water.drained)
    )  # fmt: skip
    before = volume[:-1] - drained
    tank = season.tank
    shape = season.volume.magnitude.shape[1:]
    area = 1.0 if tank.area is None else _pick(plain(tank.area), shape, member)
    days = np.flatnonzero(filled > 0)
    levels = [_levels(tank, part, shape, member) for part in (before, before + filled)]
    return [
        Fill(
            int(day) + 1,
            with_unit(float(filled[day] * area), "L"),
            with_unit(float(levels[0][day]), "cm"),
            with_unit(float(levels[1][day]), "cm"),
        )
        for day in days
    ]


def refill_lines(calendar: Sequence[Fill]) -> list[str]:
    r"""Return a refill calendar as lines to print and hang up beside the tank.

    Parameters
    ----------
    calendar : sequence of Fill
        As `refill_calendar` gives it.

    Returns
    -------
    list of str
        A heading, one line for each filling, and the sum; columns are aligned.

    Examples
    --------
    >>> from scenariokit.reservoir import Flows, HandFilled, Tank, refill_calendar, refill_lines
    >>> from scenariokit.reservoir import simulate
    >>> flows = Flows("5 mm/day", days=21)
    >>> season = simulate(Tank("15 cm"), HandFilled("10 cm", every=7), flows)
    >>> print("\n".join(refill_lines(refill_calendar(season))))
    day    litres  from cm   to cm
      8      35.0      6.5    10.0
     15      35.0      6.5    10.0
    2 fillings, 70.0 L in all
    """
    heads = (tr("day"), tr("litres"), tr("from cm"), tr("to cm"))
    gaps, usual = (0, 1, 1, 1), (3, 10, 9, 8)
    widths = [
        max(width, len(head) + gap) for width, head, gap in zip(usual, heads, gaps, strict=True)
    ]
    lines = [_columns(heads, widths)]
    total = 0.0
    for fill in calendar:
        litres, low, high = (
            fill.litres.m_as("L"),
            fill.depth_before.m_as("cm"),
            fill.depth_after.m_as("cm"),
        )
        total += litres
        cells = (str(fill.day), *(number_text(one, ".1f") for one in (litres, low, high)))
        lines.append(_columns(cells, widths))
    count = len(calendar)
    in_all = tr_n(
        "{count} filling, {total:.1f} L in all", "{count} fillings, {total:.1f} L in all", count,
        total=total,
    )  # fmt: skip
    return [*lines, in_all]


def _columns(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Return cells in a line, each at the right end of its column."""
    return "".join(f"{cell:>{width}}" for cell, width in zip(cells, widths, strict=True))


def plan_fills(
    tank: Tank, flows: Flows, level_high: QuantityLike, level_low: QuantityLike
) -> tuple[int, ...]:
    """Return the fewest days on which a tank must be filled so that it stays above a level.

    Parameters
    ----------
    tank : Tank
        One tank, no ensemble.
    flows : Flows
        One season. Rain is left out, so that the plan holds in a dry one too.
    level_high, level_low : quantity
        Level to which it is filled in the morning, and below which it must not
        fall [cm].

    Returns
    -------
    tuple of int
        Days, for the `days` of `HandFilled`; the day after planting is day 1.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If a single day uses more than lies between the levels, if a level lies
        above the rim, or if an ensemble is given.

    Examples
    --------
    >>> from scenariokit.reservoir import Flows, Tank, plan_fills
    >>> plan_fills(Tank("15 cm"), Flows("8 mm/day", days=20), "10 cm", "5 cm")
    (7, 13, 19)
    """
    given = {"level_high": (level_high, "depth"), "level_low": (level_low, "depth")}
    found = checked_floats("plan_fills", given)
    use = _daily_use(flows)
    if tank.shape or use.ndim > 1 or any(np.ndim(part) for part in found.values()):
        raise InfeasibleError("plan_fills: plans one tank at a time; choose a member")
    tank.below_rim("level_high", found["level_high"])
    full, least = (float(tank.litres(found[name])) for name in ("level_high", "level_low"))
    if np.max(use) > full - least:
        raise InfeasibleError(
            tr(
                "plan_fills: {use:g} L/m² are used on one day and only {full:g} L/m² lie between the "
                "levels; fill higher, or let a float valve hold the level",
                use=np.max(use),
                full=full - least,
            )
        )
    days, left = [], full
    for number, used in enumerate(use, start=1):
        # Rounding must not add a filling on a day that ends exactly at the low level.
        if left - used < least - 1e-9:
            days.append(number)
            left = full
        left -= used
    return tuple(days)


def falling_sizing(tank: Tank, flows: Flows, level_low: QuantityLike) -> Quantity:
    """Return the level at planting from which an unrefilled tank never falls below another.

    The free water at the start is that at the low level plus the greatest sum
    of use less rain up to any day.

    Parameters
    ----------
    tank : Tank
        What stands in the water, by height.
    flows : Flows
        The season. Rain counts as kept: what would run over the rim does not.
    level_low : quantity
        Lowest level allowed [cm].

    Returns
    -------
    quantity
        Level at planting [cm], of the shape of the ensemble.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the level would lie above the rim.

    Notes
    -----
    For the same share displaced at all depths and no rain it is `starting_depth`.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> from scenariokit.reservoir import Flows, Tank, falling_sizing
    >>> pots = Tank("40 cm", quantity([0, 10], "cm"), [0.5, 0.0])
    >>> f"{falling_sizing(pots, Flows('5 mm/day', days=30), '4 cm').m_as('cm'):.0f} cm"
    '22 cm'
    """
    found = checked_floats("falling_sizing", {"level_low": (level_low, "depth")})
    rain = _by_days(flows.rain, int(flows.days or 0))
    use = _daily_use(flows)
    axes = max(use.ndim, rain.ndim)
    use, rain = (
        part.reshape(len(part), *(1,) * (axes - part.ndim), *part.shape[1:]) for part in (use, rain)
    )
    need = np.maximum(np.cumsum(use - rain, axis=0).max(axis=0), 0)
    depth = tank.centimetres(tank.litres(found["level_low"]) + need)
    tank.below_rim("falling_sizing", depth)
    return with_unit(np.asarray(depth)[()], "cm")


def _by_days(value: Any, days: int) -> Floats:
    array = plain(value)
    array = array if array.ndim else array[np.newaxis]
    return np.broadcast_to(array, (days, *array.shape[1:]))


def _daily_use(flows: Flows) -> Floats:
    """Return what is taken on each day [L/m²], days first."""
    days = int(flows.days or 0)
    factor = np.ones(()) if flows.demand_factor is None else plain(flows.demand_factor)
    parts = [_by_days(getattr(flows, name), days) for name in ("transpiration", "evaporation")]
    scaled = [_aligned(part, factor.ndim) * factor for part in parts]
    fixed = [_by_days(getattr(flows, name), days) for name in ("leak", "discharge")]
    drained = np.array(_by_days(flows.drained, days))
    if flows.drained_on is not None:
        kept = np.isin(np.arange(1, days + 1), list(flows.drained_on))
        drained[~kept] = 0
    axes = max(part.ndim for part in (*scaled, *fixed, drained)) - 1
    total: Floats = np.zeros(())
    for part in (*scaled, *fixed, drained):
        total = total + _aligned(part, axes)
    return total


def _aligned(part: Floats, axes: int) -> Floats:
    """Return `part` with its day first and at least `axes` axes of members."""
    missing = max(axes - (part.ndim - 1), 0)
    return part.reshape(len(part), *(1,) * missing, *part.shape[1:])


def _of_member(part: Quantity, member: tuple[int, ...] | int | None) -> Floats:
    values = part.magnitude
    return _pick_last(values, values.shape[1:], member)


def _pick_last(
    values: Floats, shape: tuple[int, ...], member: tuple[int, ...] | int | None
) -> Floats:
    place = () if member is None else (member if isinstance(member, tuple) else (member,))
    if len(place) != len(shape):
        raise InfeasibleError(
            tr(
                "refill_calendar: the ensemble has the shape {shape}; name one member, for example "
                "member={tuple}",
                shape=shape,
                tuple=tuple(0 for _ in shape),
            )
        )
    return values[(slice(None), *place)]


def _pick(value: Floats, shape: tuple[int, ...], member: tuple[int, ...] | int | None) -> float:
    whole = np.broadcast_to(value, shape)[np.newaxis]
    return float(_pick_last(whole, shape, member)[0])


def _levels(
    tank: Tank, volume: Floats, shape: tuple[int, ...], member: tuple[int, ...] | int | None
) -> Floats:
    """Return the levels of one member's volumes, whose tank may be its own."""
    spread = np.broadcast_to(volume.reshape(-1, *(1,) * len(shape)), (len(volume), *shape))
    return _pick_last(tank.centimetres(spread), shape, member)
