"""Where two methods are equal in an outcome, or one meets a target, as one number moves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal, NamedTuple

import numpy as np

from scenariokit import units
from scenariokit.decide.break_even_found import BreakEven, Crossing, Nearest, Stretch
from scenariokit.decide.crossings import (
    ABOVE,
    BELOW,
    EQUAL,
    UNDEFINED,
    Border,
    Function,
    Piece,
    Sections,
    sections,
)
from scenariokit.decide.over_range import (
    Reach,
    ends_of,
    has,
    label_of,
    outcome_named,
    outcome_over,
    parameter_at,
    reach,
    refuse_draws,
    sign_of,
    stated,
    why_undefined,
)
from scenariokit.decide.to_win import Turn, turns
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import number_text, tr
from scenariokit.parameters import Parameter
from scenariokit.scenario import OUTCOMES, Scenario
from scenariokit.uncertainty.placing import one_crop_and_currency
from scenariokit.units import QuantityLike

__all__ = [
    "GRID",
    "TARGET",
    "BreakEven",
    "Crossing",
    "Nearest",
    "Stretch",
    "Turn",
    "break_even",
    "break_even_to",
    "turns",
]

GRID = 129
"""Values of the parameter at which the two outcomes are given for a chart."""
TARGET = "target"
"""Stands for the id of the other method where one is compared with a target."""


def break_even(
    one: Scenario,
    other: Scenario,
    path: str,
    name: str = "cost_per_usable_kilogram",
    low: QuantityLike | None = None,
    high: QuantityLike | None = None,
    only: str = "",
) -> BreakEven:
    """Return where two methods are equal in an outcome, over the range of one parameter.

    Parameters
    ----------
    one, other : Scenario
        The two methods, of one crop and currency.
    path : str
        Path of the parameter. It moves in both that have it.
    name : str
        The outcome.
    low, high : quantity, optional
        Ends of the range; if left out those of the parameter's slider, and
        beyond it as far as the parameter stands now.
    only : str
        Id of the one method in which it moves; both if left out.

    Raises
    ------
    ArgumentError
        If neither has the path, it holds several values, an end has the wrong
        unit or lies outside its range, or there is no such outcome.
    InfeasibleError
        If crops or currencies differ, both are the same method, or `only` is
        neither of the two.

    Notes
    -----
    The range is looked at in 201 places at equal steps, in one vectorised pass
    for each method, and more closely where the two come near each other; each
    crossing is pinned down to the last digits by Brent's method. Two crossings
    within one step, far from where they come near each other at the places
    looked at, can be missed. Where neither side of an outcome is better, the
    higher one is named.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> found = break_even(scenario_for("medium_bag"), scenario_for("perforated_tray"),
    ...                    "prices.medium_factor", "cost_per_kilogram")
    >>> [(crossing.below, crossing.above) for crossing in found.crossings]
    [('medium_bag', 'perforated_tray')]
    """
    one_crop_and_currency([one, other])
    refuse_draws([one, other])
    outcome_named(name)
    ids = (one.method.id, other.method.id)
    if only not in ("", *ids):
        raise InfeasibleError(f"only={only!r} is neither of the two methods, {' and '.join(ids)}")
    first_moves, second_moves = (only in ("", method) for method in ids)
    moving = [one] * first_moves + [other] * second_moves
    described = parameter_at(moving, path)
    here = [stated(scenario, path) for scenario in moving if has(scenario, path)]
    a, b = ends_of(described, low, high, here)
    race = _Race(
        ids,
        (tr(one.method.label), tr(other.method.label)),
        lambda at: outcome_over(one, {path if first_moves else "": at}, name),
        lambda at: outcome_over(other, {path if second_moves else "": at}, name),
        lambda at: next(
            filter(None, (why_undefined(scenario, {path: at}, name) for scenario in (one, other))),
            "",
        ),
    )
    asked = _Asked(path, name, described, a, b, reach(moving, path, a, b))
    return _found(race, asked, (one, other))


def break_even_to(
    one: Scenario,
    path: str,
    name: str,
    target: QuantityLike,
    low: QuantityLike | None = None,
    high: QuantityLike | None = None,
) -> BreakEven:
    """Return where an outcome of one method meets a target, over the range of one parameter.

    Parameters
    ----------
    one : Scenario
        The method.
    path : str
        Path of the parameter.
    name : str
        The outcome.
    target : quantity
        The value it is to meet. Where cost is to equal price, ask where the
        margin is ``"0 money/m^2"``: then price may be what moves.
    low, high : quantity, optional
        As in `break_even`.

    Returns
    -------
    BreakEven
        Its `other` is ``"target"``: below and above a crossing the method is
        named where it does better than the target.

    Raises
    ------
    ArgumentError
        As `break_even`, and if the target has the wrong unit or is no finite number.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> found = break_even_to(scenario_for("medium_bag"), "prices.produce_price",
    ...                       "margin_per_area", "0 money/m^2")
    >>> [(crossing.below, crossing.above) for crossing in found.crossings]
    [('target', 'medium_bag')]
    """
    refuse_draws([one])
    goal = _target(name, target)
    described = parameter_at([one], path)
    a, b = ends_of(described, low, high, [stated(one, path)])
    unit = units.unit_label(OUTCOMES[name].unit, one.prices.currency)
    race = _Race(
        (one.method.id, TARGET),
        (tr(one.method.label), f"{number_text(goal, 'g')} {unit}".rstrip()),
        lambda at: outcome_over(one, {path: at}, name),
        lambda at: np.full(len(at), goal),
        lambda at: why_undefined(one, {path: at}, name),
    )
    asked = _Asked(path, name, described, a, b, reach([one], path, a, b))
    return _found(race, asked, (one,))


def _target(name: str, target: QuantityLike) -> float:
    """Return a target as a plain number in the outcome's unit."""
    import pint

    unit = outcome_named(name).unit
    try:
        found = np.asarray(units.magnitude(units.quantity(target), unit), dtype=float)
    except (pint.DimensionalityError, pint.UndefinedUnitError, ValueError) as error:
        problem = Problem("target", f"{target}", f"is no {OUTCOMES[name].label.lower()} ({error})",
                          f"a quantity in {unit or 'no unit'}", kind="unit")  # fmt: skip
        raise argument_error([problem], "break_even_to") from error
    if found.ndim or not np.isfinite(found):
        problem = Problem("target", f"{target}", "is no single finite number", kind="range")
        raise argument_error([problem], "break_even_to")
    return float(found)


class _Race(NamedTuple):
    """Two outcomes as functions of arrays of plain numbers."""

    ids: tuple[str, str]
    labels: tuple[str, str]
    first: Function
    second: Function
    why: Callable[[float], str]


class _Asked(NamedTuple):
    """What moves, between which plain numbers, and where it fits."""

    path: str
    name: str
    described: Parameter
    low: float
    high: float
    fits: Reach


def _found(race: _Race, asked: _Asked, scenarios: tuple[Scenario, ...]) -> BreakEven:
    """Return the break-even of two functions."""
    sign, fits, unit = sign_of(asked.name), asked.fits, asked.described.unit
    grid = np.linspace(asked.low, asked.high, GRID)
    inside = (grid >= fits.low) & (grid <= fits.high)
    curves = [np.full(GRID, np.nan), np.full(GRID, np.nan)]
    if inside.any():
        for curve, function in zip(curves, (race.first, race.second), strict=True):
            curve[inside] = function(grid[inside])
    size = max(float(np.max(np.abs(one), initial=0.0, where=~np.isnan(one))) for one in curves)
    told = Sections((), (), None)
    if fits.low < fits.high:

        def ahead(at: Any) -> Any:
            return sign * (race.first(at) - race.second(at))

        told = sections(ahead, fits.low, fits.high, size=size)
    changes, touches = _crossings(race, asked, told)
    stretches = tuple(_stretches(race, asked, told))
    kinds = {one.kind for one in stretches}
    winners = {one.better for one in stretches if one.kind == "better"}
    outcome_unit = OUTCOMES[asked.name].unit
    own = [
        units.quantity(stated(one, asked.path), unit) if has(one, asked.path) else None
        for one in scenarios
    ]
    nearest = None
    if told.nearest is not None:
        at, gap = told.nearest
        nearest = Nearest(units.quantity(at, unit), units.quantity(sign * gap, outcome_unit))
    return BreakEven(
        *race.ids, asked.path, asked.name, units.quantity(grid, unit),
        units.quantity(curves[0], outcome_unit), units.quantity(curves[1], outcome_unit),
        changes, winners.pop() if len(winners) == 1 and not changes else "",
        "equal" in kinds and "better" not in kinds, "undefined" in kinds, stretches, touches,
        nearest, (own[0], own[1] if len(own) > 1 else None),
        (*race.labels, label_of(asked.path, asked.described)), scenarios[0].prices.currency,
        asked.described,
    )  # fmt: skip


def _crossings(
    race: _Race, asked: _Asked, told: Sections
) -> tuple[tuple[Crossing, ...], tuple[Crossing, ...]]:
    """Return where the better one changes, and where both meet without that."""
    changes, touches = [], []
    before, since = EQUAL, None
    for number, piece in enumerate(told.pieces):
        border = told.borders[number - 1] if number else None
        if border is not None and border.kind == "touches":
            sides = (told.pieces[number - 1].sign, piece.sign)
            touches.append(_crossing(race, asked, border, sides))
        if piece.sign == UNDEFINED:
            before, since = EQUAL, None
        elif piece.sign == EQUAL:
            since = since or border  # both may be equal along a stretch before the better changes
        else:
            if before == -piece.sign:
                place = since or border
                assert place is not None  # noqa: S101 - two pieces have a border
                changes.append(_crossing(race, asked, place, (before, piece.sign)))
            before, since = piece.sign, None
    return tuple(changes), tuple(touches)


_KINDS: dict[str, Literal["equal", "jump", "touch"]] = {
    "crosses": "equal",
    "edge": "equal",
    "jumps": "jump",
    "touches": "touch",
}


def _crossing(race: _Race, asked: _Asked, border: Border, sides: tuple[int, int]) -> Crossing:
    outcome = float(np.asarray(race.first(np.array([border.at])))[0])
    below, above = (_better(race, sign) for sign in sides)
    return Crossing(
        units.quantity(border.at, asked.described.unit), _KINDS[border.kind], below, above,
        units.quantity(outcome, OUTCOMES[asked.name].unit),
    )  # fmt: skip


def _better(race: _Race, sign: int) -> str:
    return {ABOVE: race.ids[0], BELOW: race.ids[1]}.get(sign, "")


def _stretches(race: _Race, asked: _Asked, told: Sections) -> Iterator[Stretch]:
    """Yield the whole range, part by part."""
    fits, unit = asked.fits, asked.described.unit

    def stretch(piece: Piece, reason: str) -> Stretch:
        kind: Literal["better", "equal", "undefined"] = "better"
        if piece.sign in (EQUAL, UNDEFINED):
            kind = "equal" if piece.sign == EQUAL else "undefined"
        low, high = (units.quantity(end, unit) for end in (piece.low, piece.high))
        return Stretch(low, high, _better(race, piece.sign), kind, reason)

    if not fits.low < fits.high:
        yield stretch(Piece(asked.low, asked.high, UNDEFINED), fits.below or fits.above)
        return
    if fits.low > asked.low:
        yield stretch(Piece(asked.low, fits.low, UNDEFINED), fits.below)
    for piece in told.pieces:
        if piece.low < piece.high or piece.sign == UNDEFINED:
            why = race.why((piece.low + piece.high) / 2) if piece.sign == UNDEFINED else ""
            yield stretch(piece, why)
    if fits.high < asked.high:
        yield stretch(Piece(fits.high, asked.high, UNDEFINED), fits.above)
