"""What a planned trial can and cannot find, and what it takes, in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.charts.plot_map import letter
from scenariokit.errors import InfeasibleError
from scenariokit.trials.planning.aim import (
    TrialAim,
    chance_of_finding,
    plots_behind,
    replicates_for_aim,
    smallest_interaction,
)
from scenariokit.trials.planning.budget import TreatmentBudget, TrialBudget
from scenariokit.trials.planning.proposal import TrialPlan
from scenariokit.trials.unreplicated import USUAL_VARIATION

PAIRS = {
    "treatment": "two methods",
    "variety": "two varieties",
    "combination": "two combinations of method and variety",
}
DESIGNS = {
    "randomised": "Plots drawn freely",
    "blocks": "Randomised blocks",
    "latin_square": "Latin square",
    "split_plot": "Split plot: whole tanks get the method, their sections the variety",
}
FEW_PLANTS = 10
"""Plants of a plot below which its weight depends much on single plants."""
FEW_PLANTS_SOURCE = (
    "10 to 14 plants were enough in a study of plot size for potato, figshare 5792262, abstract"
)
MOST_NAMED = 6
"""Empty sections that are named; more are counted."""
NO_BLAME = "No difference found does not mean that there is none: look at the interval."
ONE_PLACE = (
    "One place and one season: how the methods do elsewhere, or in another summer, it does not say."
)
DRAW_ONCE = (
    "Draw once and plant what was drawn: who draws until the map pleases no longer draws by lot."
)
SHARED_LEVEL = (
    "Sections without walls that part the water have one level and one solution: only methods that "
    "want the same level can stand in one tank."
)


def percent(share: float) -> str:
    """Return a share of the mean as a person reads it."""
    shown = round(100 * share, 6)
    if shown * 2 == round(shown * 2):
        return f"{shown:g} %"
    return f"{shown:.0f} %" if shown >= 9.95 else f"{shown:.2g} %"


def of_hundred(chance: float) -> str:
    """Return a chance as so many of a hundred such trials."""
    count = round(100 * chance)
    if count >= 100:
        return "more than 99 of 100 such trials"
    if count < 1:
        return "fewer than 1 of 100 such trials"
    return f"{count} of 100 such trials"


def counted(number: int, word: str) -> str:
    """Return a number with its word, in the plural where it must be."""
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def plan_sentences(plan: TrialPlan) -> list[str]:
    """Return what a planned trial finds, how many plots that takes and how it was drawn.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    """
    aim, pair = plan.aim, PAIRS[str(plan.aim.compare)]
    replicates, plots = counted(plan.counted, "replicate"), len(plan.layout.plots)
    if plan.power is None or plan.smallest is None or plan.half_width is None:
        said = [
            f"Too few plots count ({replicates}): no difference in this trial can be told from chance."
        ]
    else:
        said = [
            f"With {replicates} a difference of {percent(aim.difference)} between {pair} is found "
            f"in {of_hundred(plan.power)}.",
            *_size_sentences(plan),
            f"The difference will be known to about ± {percent(plan.half_width)} of the mean yield "
            f"({100 * (1 - aim.alpha):g} % interval).",
        ]
        behind = plots_behind(aim, plan.counted)
        if behind != plan.counted:
            said.append(f"Behind each of the compared means stand {behind} plots.")
    used = len({plot.tank for plot in plan.layout.plots})
    said.append(
        f"{DESIGNS[aim.design]}: {counted(plots, 'plot')} in {used} of "
        f"{counted(len(plan.layout.tanks), 'tank')}. Seed {plan.layout.seed} draws the same map "
        "again."
    )
    return said


def _size_sentences(plan: TrialPlan) -> list[str]:
    """Return whether the plan is large enough, and what it does find if it is not."""
    aim, combinations = plan.aim, len(plan.aim.pairs)
    wanted = of_hundred(aim.power).replace(" such trials", "")
    room = f"your tanks hold {plan.room} ({counted(plan.room * combinations, 'plot')})"
    smallest = f"found in {wanted} is {percent(plan.smallest or 0)}"
    if plan.counted < plan.replicates and plan.needed is not None:
        return [
            f"{wanted} take {counted(plan.needed, 'replicate')} that count, and here "
            f"{plan.counted} of {plan.replicates} do. The smallest difference {smallest}."
        ]
    if plan.enough:
        needed = f"{wanted} take {counted(plan.needed or 0, 'replicate')}"
        return [f"{needed}, and {room}. The smallest difference {smallest}."]
    if plan.needed is None:
        takes = "More than 10,000 replicates would be needed"
    else:
        takes = (
            f"{wanted} would take {counted(plan.needed, 'replicate')} "
            f"({counted(plan.needed * combinations, 'plot')})"
        )
    return [f"{takes}; {room}. The smallest difference {smallest}: ask for that, or find room."]


def plan_limits(plan: TrialPlan) -> list[str]:
    """Return what a planned trial cannot show, and what to mind before planting.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    """
    said = [*_water_limits(plan)]
    if plan.power is not None:
        said += _number_limits(plan)
    said += _plant_limits(plan)
    return [*said, NO_BLAME, ONE_PLACE, DRAW_ONCE, *_empty(plan)]


def _empty(plan: TrialPlan) -> list[str]:
    """Return what stays empty: by name if it is little, else counted."""
    count = sum(area.kind == "empty" for area in plan.map.areas)
    if count > MOST_NAMED:
        return [f"{counted(count, 'section')} stay empty."]
    return [note for note in plan.layout.notes if note.startswith("Empty")]


def _water_limits(plan: TrialPlan) -> list[str]:
    """Return what shared water does to replicates and to methods."""
    said = []
    if plan.counted < plan.replicates:
        said.append(
            f"Of {plan.replicates} replicates only {plan.counted} count: plots treated alike that "
            "drink from one reservoir are one plot. Part the water with walls, or give each tank no "
            "more sections than there are things to compare."
        )
    shared = any(tank.sections > 1 and not tank.watertight for tank in plan.layout.tanks)
    if shared and len(plan.aim.treatments) > 1 and plan.aim.design != "split_plot":
        said.append(SHARED_LEVEL)
    return said


def _number_limits(plan: TrialPlan) -> list[str]:
    """Return how the chance falls with smaller differences, unlike plots and many pairs."""
    aim, count = plan.aim, plan.counted
    half = chance_of_finding(aim, count, difference=aim.difference / 2)
    said = [
        f"A difference half as large, {percent(aim.difference / 2)}, is found in {of_hundred(half)}."
    ]
    unlike = max(USUAL_VARIATION)
    if aim.cv < unlike:
        chance = chance_of_finding(aim, count, cv=unlike)
        said.append(
            f"The CV of {aim.cv:.2f} is a guess. Should it be {unlike:.2f}, as in some trials with "
            f"small plots, {percent(aim.difference)} is found in {of_hundred(chance)}."
        )
    if aim.questions > 1:
        said.append(
            f"This counts for one pair, named before planting. {_every_pair(aim)} Else what differs "
            "most by chance is taken for a finding."
        )
    between = smallest_interaction(aim, count)
    if between is not None and aim.compare != "combination":
        said.append(
            "Whether a method suits one variety better than another is seen less sharply: only from "
            f"a difference of differences of {percent(between)} on."
        )
    return said


def _every_pair(aim: TrialAim) -> str:
    """Return how many replicates all pairs together would take."""
    risk = aim.alpha / aim.questions
    text = f"All {aim.questions} pairs at a shared risk of {aim.alpha:g} ({risk:.2g} each)"
    try:
        return f"{text} would take {counted(replicates_for_aim(aim, alpha=risk), 'replicate')}."
    except InfeasibleError:
        return f"{text} would take more than 10,000 replicates."


def _plant_limits(plan: TrialPlan) -> list[str]:
    """Return a caution where plots hold few plants."""
    if plan.budget is None:
        return []
    least = min(row.plants // row.plots for row in plan.budget.treatments)
    if least >= FEW_PLANTS:
        return []
    return [
        f"Plots of {counted(least, 'plant')} depend much on single plants, so expect a larger CV "
        f"({FEW_PLANTS_SOURCE})."
    ]


def budget_table(plan: TrialPlan, names: Mapping[str, str], showing: Showing) -> str:
    """Return what a planned trial takes as an HTML table, a row for each method.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    names : mapping
        What a person calls each treatment.
    showing : Showing
        Units and currency of the reader.
    """
    budget = plan.budget
    if budget is None:
        return "<p>What the methods need was not stated, so there is no budget.</p>"
    several = len(plan.aim.treatments) > 1
    letters = {name: letter(number) for number, name in enumerate(plan.aim.treatments)}
    by_name = {row.treatment: row for row in budget.treatments}
    rows = [
        _row([f"{letters[name]} – {names.get(name, name)}" if several else names.get(name, name),
              *_cells(by_name[name], showing)])
        for name in plan.aim.treatments
    ]  # fmt: skip
    if several:
        rows.append(_row(["All", *_total_cells(budget, showing)]))
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in _heads(showing))
    return (
        '<div class="sk-scroll" tabindex="0" role="region" aria-label="What the trial takes">'
        f'<table class="sk-table"><thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _row(cells: Sequence[str]) -> str:
    head, *rest = cells
    numbers = "".join(f"<td>{escape(cell)}</td>" for cell in rest)
    return f'<tr><th scope="row">{escape(head)}</th>{numbers}</tr>'


def _units(showing: Showing) -> tuple[str, str]:
    """Return the units of area and of growing medium."""
    return ("ft^2", "US_dry_quart") if showing.system == "us" else ("m^2", "L")


def _heads(showing: Showing) -> list[str]:
    area, volume = (units.unit_label(unit) for unit in _units(showing))
    return [
        "Method", "Plots", "Plants", f"Tank area ({area})", f"Growing medium ({volume})",
        f"Cost of one crop ({showing.currency})",
    ]  # fmt: skip


def _cells(row: TreatmentBudget, showing: Showing) -> list[str]:
    area, volume = _units(showing)
    return [
        str(row.plots),
        f"{row.plants:,}",
        _number(row.area, area, 2),
        _number(row.medium, volume, 0),
        _money(row.cost, showing),
    ]


def _total_cells(budget: TrialBudget, showing: Showing) -> list[str]:
    area, volume = _units(showing)
    return [
        str(budget.plots),
        f"{budget.plants:,}",
        _number(budget.plot_area, area, 2),
        _number(budget.medium, volume, 0),
        _money(budget.cost, showing),
    ]


def _number(value: Any, unit: str, digits: int) -> str:
    if value is None:
        return "–"
    return f"{float(value.m_as(units.unit_of(unit))):,.{digits}f}"


def _money(value: Any, showing: Showing) -> str:
    if value is None:
        return "–"
    return f"{float(value.m_as(units.unit_of('money'))) * showing.rate:,.2f}"


def budget_sentences(plan: TrialPlan, showing: Showing) -> list[str]:
    """Return ground, tanks and what the cost does and does not count.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    showing : Showing
        Units and currency of the reader.
    """
    budget = plan.budget
    if budget is None:
        return []
    unit, _ = _units(showing)
    area, label = f"{_number(budget.tank_area, unit, 1)}", units.unit_label(unit)
    said = [
        f"The tanks have {area} {label} of water surface, and with the ways around them they take "
        f"{_number(budget.ground, unit, 1)} {label} of ground."
    ]
    if budget.cost is not None:
        said.append(
            f"One crop of all plots costs {_money(budget.cost, showing)} {showing.currency}: plots "
            "only, equipment for its share of a life; time to weigh and write comes on top."
        )
    return said
