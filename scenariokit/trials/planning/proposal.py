"""A planned trial whole: replicates, what fits the tanks, layout, map, budget, limits."""

from __future__ import annotations

import functools
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr, tr_n
from scenariokit.quantities import checked_floats
from scenariokit.trials.planning.aim import (
    TrialAim,
    chance_of_finding,
    half_interval,
    replicates_for_aim,
    smallest_difference,
)
from scenariokit.trials.planning.budget import TrialBudget, trial_budget
from scenariokit.trials.planning.designs import (
    block_layout,
    latin_square_layout,
    randomised_layout,
)
from scenariokit.trials.planning.layout import Cell, Layout
from scenariokit.trials.planning.needs import Needs
from scenariokit.trials.planning.placing import placed
from scenariokit.trials.planning.plot_map import PlotMap, plot_map
from scenariokit.trials.planning.split_and_augmented import split_plot_layout
from scenariokit.trials.planning.tanks import Tank, distinct_tanks
from scenariokit.units import QuantityLike

MOST_SECTIONS = 5_000
"""Beyond this nobody plants a trial, and drawing one takes long."""

_CELL = Cell("", 1, 1, "", "")

Wanted: TypeAlias = int | Literal["needed", "room"]
"""Replicates: as many as the difference needs, as many as there is room for, or a number."""


@dataclass(frozen=True)
class TrialPlan:
    """A trial as it could be planted.

    Parameters
    ----------
    aim : TrialAim
        What it is to find out.
    needed : int or None
        Replicates that the wanted difference needs; None if more than 10,000.
    room : int
        Most replicates that the tanks hold.
    replicates : int
        Replicates of this plan.
    counted : int
        Replicates that count: plots treated alike on one reservoir are one plot.
    layout : Layout
        Which plot stands where.
    map : PlotMap
        The same to scale.
    budget : TrialBudget or None
        What it takes; None if the needs were not stated.
    power : float or None
        Chance of finding the wanted difference; None if too few plots count for
        any difference to be told from chance.
    smallest : float or None
        Smallest difference found with the wanted power, as a share of the mean.
    half_width : float or None
        Half the width of the interval of a difference, as a share of the mean.
    """

    aim: TrialAim
    needed: int | None
    room: int
    replicates: int
    counted: int
    layout: Layout
    map: PlotMap
    budget: TrialBudget | None
    power: float | None
    smallest: float | None
    half_width: float | None

    @property
    def enough(self) -> bool:
        """Whether the plan finds the wanted difference with the wanted power."""
        return self.power is not None and self.power >= self.aim.power


def propose(
    aim: TrialAim,
    tanks: Iterable[Tank],
    *,
    seed: int,
    replicates: Wanted = "needed",
    needs: Needs | None = None,
    walkway: QuantityLike = "60 cm",
) -> TrialPlan:
    """Return a trial that answers a question in the tanks that there are.

    Parameters
    ----------
    aim : TrialAim
        What it is to find out.
    tanks : iterable of Tank
        The tanks in the order in which one walks past.
    seed : int
        What the layout is drawn from, 0 or more.
    replicates : int or {'needed', 'room'}
        How many; as many as the wanted difference needs, fewer if the tanks do
        not hold them; or as many as the tanks hold.
    needs : PlotNeeds or mapping of str to PlotNeeds, optional
        What a square metre needs, one for all or by treatment, for the budget.
    walkway : quantity
        Width of the way between tanks and around them all.

    Returns
    -------
    TrialPlan

    Raises
    ------
    ArgumentError
        If a number, a size or a name cannot be.
    InfeasibleError
        If the tanks do not hold the fewest plots with which a difference can be
        told from chance, or the replicates asked for; the message says what
        would do.

    Examples
    --------
    >>> from scenariokit.trials.planning.aim import TrialAim
    >>> from scenariokit.trials.planning.proposal import propose
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> aim = TrialAim(["bag", "pots", "wick", "tray"], difference=0.25)
    >>> plan = propose(aim, equal_tanks(16, "120 cm", "60 cm"), seed=1)
    >>> plan.needed, plan.room, plan.replicates, plan.enough
    (5, 4, 4, False)
    >>> f"{plan.smallest:.0%}"
    '27%'
    """
    where = distinct_tanks(tanks)
    problems = _wanted_problems(replicates, aim)
    sections = sum(tank.sections for tank in where)
    if not 0 < sections <= MOST_SECTIONS:
        reason = tr("is no number of sections for one trial")
        allowed = tr("1 to {most} in all tanks", most=MOST_SECTIONS)
        problems.append(Problem("tanks", str(sections), reason, allowed, kind="range"))
    if problems:
        raise argument_error(problems, "propose")
    needed = _needed(aim)
    room = _room(aim, where)
    least = replicates if isinstance(replicates, int) else aim.first
    if room < least:
        raise InfeasibleError(_no_room(aim, where, least))
    chosen = _chosen(replicates, aim, needed, room)
    layout = drawn(aim, chosen, seed, where)
    counted = independent_replicates(layout)
    power, smallest, width = _limits(aim, counted)
    beside = _tanks_beside(layout, walkway)
    return TrialPlan(
        aim=aim,
        needed=needed,
        room=room,
        replicates=chosen,
        counted=counted,
        layout=layout,
        map=plot_map(layout, walkway=walkway, tanks_per_row=beside),
        budget=None
        if needs is None
        else trial_budget(layout, needs, walkway=walkway, tanks_per_row=beside),
        power=power,
        smallest=smallest,
        half_width=width,
    )


def drawn(aim: TrialAim, replicates: int, seed: int, tanks: Sequence[Tank]) -> Layout:
    """Return the layout that a seed draws for an aim.

    Raises
    ------
    InfeasibleError
        If the plots do not fit the tanks.
    """
    if aim.design == "split_plot":
        return split_plot_layout(
            aim.treatments, aim.varieties, replicates, seed=seed, tanks=tanks
        )  # fmt: skip
    if aim.design == "latin_square":
        return latin_square_layout(
            aim.treatments, seed=seed, varieties=aim.varieties,
            squares=replicates // len(aim.pairs), tanks=tanks,
        )  # fmt: skip
    draw = block_layout if aim.design == "blocks" else randomised_layout
    return draw(aim.treatments, replicates, seed=seed, varieties=aim.varieties, tanks=tanks)


def _tanks_beside(layout: Layout, walkway: QuantityLike) -> int:
    """Return how many tanks stand side by side on the map.

    As many as a block or row of the design takes, if each has two tanks or more
    of its own; else so many that the ground is about as long as it is wide.
    """
    rows: dict[int, set[str]] = {}
    for plot in layout.plots:
        rows.setdefault(plot.row, set()).add(plot.tank)
    sizes = {len(tanks) for tanks in rows.values()}
    own = sum(len(tanks) for tanks in rows.values()) == len(set().union(*rows.values()))
    if own and len(sizes) == 1 and len(rows) > 1 and sizes != {1}:
        return sizes.pop()
    way = float(checked_floats("propose", {"walkway": (walkway, "walkway")})["walkway"])
    first = layout.tanks[0]
    across, down = (float(side.m_as("cm")) + way for side in (first.length, first.width))
    return max(1, round(math.sqrt(len(layout.tanks) * down / across)))


def independent_replicates(layout: Layout) -> int:
    """Return the fewest independent plots that any treatment has in any variety.

    Plots of one treatment and variety that drink from one reservoir share its
    faults, so they are one plot.

    References
    ----------
    Hurlbert 1984, "Pseudoreplication and the design of ecological field
    experiments", Ecological Monographs 54:187.
    """
    units = {
        (plot.treatment, plot.variety, layout.tank_of(plot).reservoir_of(plot.section))
        for plot in layout.plots
    }
    return min(Counter((treatment, variety) for treatment, variety, _ in units).values())


def _wanted_problems(replicates: object, aim: TrialAim) -> list[Problem]:
    """Return what is wrong with the replicates asked for."""
    if replicates in ("needed", "room"):
        return []
    whole = isinstance(replicates, int) and not isinstance(replicates, bool)
    if whole and replicates >= aim.first and not replicates % aim.step:  # type: ignore[operator]
        return []
    allowed = ", ".join(str(aim.first + number * aim.step) for number in range(3))
    reason = tr("is not a possible number of replicates here")
    return [
        Problem("replicates", repr(replicates), reason, tr("{allowed} ..., 'needed' or 'room'", allowed=allowed),
                kind="range")
    ]  # fmt: skip


def _needed(aim: TrialAim) -> int | None:
    try:
        return replicates_for_aim(aim)
    except InfeasibleError:
        return None


def _fits(aim: TrialAim, replicates: int, tanks: Sequence[Tank]) -> bool:
    """Return whether the tanks hold that many replicates; nothing is drawn."""
    split = aim.design == "split_plot"
    size = len(aim.varieties) if split else len(aim.pairs)
    groups = [[_CELL] * size] * (replicates * len(aim.treatments) if split else replicates)
    if aim.design == "randomised":
        groups = [[_CELL]] * (replicates * size)
    try:
        placed(groups, tanks, apart=split)
    except InfeasibleError:
        return False
    return True


def _room(aim: TrialAim, tanks: Sequence[Tank]) -> int:
    """Return the most replicates that the tanks hold, 0 if none."""
    most = sum(tank.sections for tank in tanks) // len(aim.pairs) // aim.step
    low, high = 0, most + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _fits(aim, middle * aim.step, tanks) else (low, middle)
    return low * aim.step


def _chosen(replicates: Wanted, aim: TrialAim, needed: int | None, room: int) -> int:
    if isinstance(replicates, int):
        return replicates
    if replicates == "room" or needed is None:
        return room
    return min(max(needed, aim.first), room)


def _limits(aim: TrialAim, counted: int) -> tuple[float | None, float | None, float | None]:
    """Return power, smallest difference and half width; None where too few plots count."""
    try:
        return (
            chance_of_finding(aim, counted),
            smallest_difference(aim, counted),
            half_interval(aim, counted),
        )
    except InfeasibleError:
        return None, None, None


def _no_room(aim: TrialAim, tanks: Sequence[Tank], least: int) -> str:
    """Return why the trial does not fit, and what would."""
    plots = least * len(aim.pairs)
    sections = sum(tank.sections for tank in tanks)
    said = [
        tr(
            "{treatments} with {replicates} replicates are {plots} plots, and you have {tanks} with "
            "{sections} in all",
            treatments=_count(
                len(aim.pairs), "combination" if len(aim.varieties) > 1 else "treatment"
            ),
            replicates=least,
            plots=plots,
            tanks=_count(len(tanks), "tank"),
            sections=_count(sections, "section"),
        )
    ]
    if aim.design == "split_plot":
        said.append(
            tr(
                "a split plot takes {tanks} tanks of {sections} sections",
                tanks=least * len(aim.treatments),
                sections=len(aim.varieties),
            )
        )
    elif sections >= plots:
        said.append(
            tr("each group of {plots} plots begins where it can stay whole", plots=len(aim.pairs))
        )
    possible = [
        tr("{tanks} like the last one", tanks=_count(more, "tank"))
        for more in _more_tanks(aim, tanks, least)
    ]
    if aim.design == "split_plot" and tanks[-1].sections < len(aim.varieties):
        possible.append(tr("tanks of {sections} sections", sections=len(aim.varieties)))
    if aim.design == "latin_square":
        possible.append(tr("blocks instead of a Latin square"))
    possible += _fewer(aim, tanks, least)
    reason = "; ".join(said)
    if not possible:
        return tr("{reason}.", reason=reason)
    return tr("{reason}. Possible: {ways}.", reason=reason, ways=functools.reduce(_or, possible))


def _or(first: str, second: str) -> str:
    return tr("{first}, or {second}", first=first, second=second)


def _count(number: int, word: str) -> str:
    """Return a number with its word."""
    if word == "tank":
        return tr_n("{count} tank", "{count} tanks", number)
    if word == "section":
        return tr_n("{count} section", "{count} sections", number)
    if word == "variety":
        return tr_n("{count} variety", "{count} varieties", number)
    if word == "combination":
        return tr_n("{count} combination", "{count} combinations", number)
    return tr_n("{count} treatment", "{count} treatments", number)


def _more_tanks(aim: TrialAim, tanks: Sequence[Tank], least: int) -> list[int]:
    """Return how many tanks would hold the plots, if more like the last one can."""
    last = tanks[-1]
    added = [
        Tank(f"{last.id} more {number}", last.length, last.width, last.sections)
        for number in range(least * len(aim.pairs))
    ]
    if not _fits(aim, least, [*tanks, *added]):
        return []
    low, high = 0, len(added)
    while high - low > 1:
        middle = (low + high) // 2
        fits = _fits(aim, least, [*tanks, *added[:middle]])
        low, high = (low, middle) if fits else (middle, high)
    return [len(tanks) + high]


def _fewer(aim: TrialAim, tanks: Sequence[Tank], least: int) -> list[str]:
    """Return how many treatments, or varieties, these tanks do hold."""
    found = []
    for field, word, names in (
        ("treatments", "treatment", aim.treatments),
        ("varieties", "variety", aim.varieties),
    ):
        fewest = 2 if aim.compare in (word, "combination") or aim.design == "split_plot" else 1
        for count in range(len(names) - 1, fewest - 1, -1):
            smaller = replace(aim, **{field: names[:count]})  # type: ignore[arg-type]
            if _fits(smaller, max(least, smaller.first), tanks):
                found.append(
                    tr("{fewer} instead of {all}", fewer=_count(count, word), all=len(names))
                )
                break
    return found
