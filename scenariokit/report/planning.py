"""What a planned trial can and cannot find, and what it takes, in plain words."""

from __future__ import annotations

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, number_text, tr, tr_n
from scenariokit.trials.planning.aim import (
    TrialAim,
    chance_of_finding,
    plots_behind,
    replicates_for_aim,
    smallest_interaction,
)
from scenariokit.trials.planning.proposal import TrialPlan
from scenariokit.trials.unreplicated import USUAL_VARIATION

PAIRS = {
    "treatment": mark("two methods"),
    "variety": mark("two varieties"),
    "combination": mark("two combinations of method and variety"),
}
DESIGNS = {
    "randomised": mark("Plots drawn freely"),
    "blocks": mark("Randomised blocks"),
    "latin_square": mark("Latin square"),
    "split_plot": mark("Split plot: whole tanks get the method, their sections the variety"),
}
FEW_PLANTS = 10
"""Plants of a plot below which its weight depends much on single plants."""
FEW_PLANTS_SOURCE = mark(
    "10 to 14 plants were enough in a study of plot size for potato, figshare 5792262, abstract"
)
MOST_NAMED = 6
"""Empty sections that are named; more are counted."""
NO_BLAME = mark("No difference found does not mean that there is none: look at the interval.")
ONE_PLACE = mark(
    "One place and one season: how the methods do elsewhere, or in another summer, it does not say."
)
DRAW_ONCE = mark(
    "Draw once and plant what was drawn: who draws until the map pleases no longer draws by lot."
)
SHARED_LEVEL = mark(
    "Sections without walls that part the water have one level and one solution: only methods that "
    "want the same level can stand in one tank."
)


def percent(share: float) -> str:
    """Return a share of the mean as a person reads it."""
    shown = round(100 * share, 6)
    if shown * 2 == round(shown * 2):
        return f"{number_text(shown, 'g')} %"
    return f"{number_text(shown, '.0f' if shown >= 9.95 else '.2g')} %"


def of_hundred(chance: float) -> str:
    """Return a chance as so many of a hundred such trials."""
    count = round(100 * chance)
    if count >= 100:
        return tr("more than 99 of 100 such trials")
    if count < 1:
        return tr("fewer than 1 of 100 such trials")
    return tr("{count} of 100 such trials", count=count)


def _often(chance: float) -> str:
    """Return a chance as so many of a hundred."""
    count = round(100 * chance)
    if count >= 100:
        return tr("more than 99 of 100")
    return tr("{count} of 100", count=count) if count >= 1 else tr("fewer than 1 of 100")


def plots_text(number: int) -> str:
    """Return a number of plots in words."""
    return tr_n("{count:,} plot", "{count:,} plots", number)


def _replicates_text(number: int) -> str:
    return tr_n("{count:,} replicate", "{count:,} replicates", number)


def plan_sentences(plan: TrialPlan) -> list[str]:
    """Return what a planned trial finds, how many plots that takes and how it was drawn.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    """
    if plan.power is None or plan.smallest is None or plan.half_width is None:
        said = [
            tr(
                "Too few plots count ({replicates}): no difference in this trial can be told from "
                "chance.",
                replicates=_replicates_text(plan.counted),
            )
        ]
    else:
        said = _found_sentences(plan, plan.power, plan.half_width)
    used = len({plot.tank for plot in plan.layout.plots})
    said.append(
        tr(
            "{design}: {plots} in {used} of {tanks}. Seed {seed} draws the same map again.",
            design=tr(DESIGNS[plan.aim.design]),
            plots=plots_text(len(plan.layout.plots)),
            used=used,
            tanks=tr_n("{count:,} tank", "{count:,} tanks", len(plan.layout.tanks)),
            seed=plan.layout.seed,
        )
    )
    return said


def _found_sentences(plan: TrialPlan, power: float, half_width: float) -> list[str]:
    """Return what a planned trial finds, and how exactly."""
    aim = plan.aim
    said = [
        tr(
            "With {replicates} a difference of {size} between {pair} is found in {often}.",
            replicates=_replicates_text(plan.counted),
            size=percent(aim.difference),
            pair=tr(PAIRS[str(aim.compare)]),
            often=of_hundred(power),
        ),
        _size_sentence(plan),
        tr(
            "The difference will be known to about ± {size} of the mean yield ({confidence:g} % "
            "interval).",
            size=percent(half_width),
            confidence=100 * (1 - aim.alpha),
        ),
    ]
    behind = plots_behind(aim, plan.counted)
    if behind != plan.counted:
        said.append(
            tr_n(
                "Behind each of the compared means stands {count} plot.",
                "Behind each of the compared means stand {count} plots.",
                behind,
            )
        )
    return said


def _size_sentence(plan: TrialPlan) -> str:
    """Return whether the plan is large enough, and what it does find if it is not."""
    combinations = len(plan.aim.pairs)
    told = {"often": _often(plan.aim.power), "smallest": percent(plan.smallest or 0)}
    if plan.counted < plan.replicates and plan.needed is not None:
        return tr(
            "{often} take {replicates} that count, and here {counted} of {drawn} do. The smallest "
            "difference found in {often} is {smallest}.",
            replicates=_replicates_text(plan.needed),
            counted=plan.counted,
            drawn=plan.replicates,
            **told,
        )
    told |= {"room": f"{plan.room}", "room_plots": plots_text(plan.room * combinations)}
    if plan.enough:
        return tr(
            "{often} take {replicates}, and your tanks hold {room} ({room_plots}). The smallest "
            "difference found in {often} is {smallest}.",
            replicates=_replicates_text(plan.needed or 0),
            **told,
        )
    if plan.needed is None:
        return tr(
            "More than 10,000 replicates would be needed; your tanks hold {room} ({room_plots}). "
            "The smallest difference found in {often} is {smallest}: ask for that, or find room.",
            **told,
        )
    return tr(
        "{often} would take {replicates} ({plots}); your tanks hold {room} ({room_plots}). The "
        "smallest difference found in {often} is {smallest}: ask for that, or find room.",
        replicates=_replicates_text(plan.needed),
        plots=plots_text(plan.needed * combinations),
        **told,
    )


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
    return [*said, tr(NO_BLAME), tr(ONE_PLACE), tr(DRAW_ONCE), *_empty(plan)]


def _empty(plan: TrialPlan) -> list[str]:
    """Return what stays empty: by name if it is little, else counted."""
    count = sum(area.kind == "empty" for area in plan.map.areas)
    if count > MOST_NAMED:
        return [tr_n("{count:,} section stays empty.", "{count:,} sections stay empty.", count)]
    return list(plan.layout.notes[-1:]) if count else []  # which are empty is its last note


def _water_limits(plan: TrialPlan) -> list[str]:
    """Return what shared water does to replicates and to methods."""
    said = []
    if plan.counted < plan.replicates:
        said.append(
            tr(
                "Of {replicates} replicates only {counted} count: plots treated alike that drink "
                "from one reservoir are one plot. Part the water with walls, or give each tank no "
                "more sections than there are things to compare.",
                replicates=plan.replicates,
                counted=plan.counted,
            )
        )
    shared = any(tank.sections > 1 and not tank.watertight for tank in plan.layout.tanks)
    if shared and len(plan.aim.treatments) > 1 and plan.aim.design != "split_plot":
        said.append(tr(SHARED_LEVEL))
    return said


def _number_limits(plan: TrialPlan) -> list[str]:
    """Return how the chance falls with smaller differences, unlike plots and many pairs."""
    aim, count = plan.aim, plan.counted
    half = chance_of_finding(aim, count, difference=aim.difference / 2)
    said = [
        tr(
            "A difference half as large, {size}, is found in {often}.",
            size=percent(aim.difference / 2),
            often=of_hundred(half),
        )
    ]
    unlike = max(USUAL_VARIATION)
    if aim.cv < unlike:
        chance = chance_of_finding(aim, count, cv=unlike)
        said.append(
            tr(
                "The CV of {cv:.2f} is a guess. Should it be {unlike:.2f}, as in some trials with "
                "small plots, {size} is found in {often}.",
                cv=aim.cv,
                unlike=unlike,
                size=percent(aim.difference),
                often=of_hundred(chance),
            )
        )
    if aim.questions > 1:
        said.append(
            tr(
                "This counts for one pair, named before planting. {every_pair} Else what differs "
                "most by chance is taken for a finding.",
                every_pair=_every_pair(aim),
            )
        )
    between = smallest_interaction(aim, count)
    if between is not None and aim.compare != "combination":
        said.append(
            tr(
                "Whether a method suits one variety better than another is seen less sharply: only "
                "from a difference of differences of {size} on.",
                size=percent(between),
            )
        )
    return said


def _every_pair(aim: TrialAim) -> str:
    """Return how many replicates all pairs together would take."""
    risk = aim.alpha / aim.questions
    told = {"pairs": aim.questions, "risk": aim.alpha, "each": risk}
    try:
        needed = replicates_for_aim(aim, alpha=risk)
    except InfeasibleError:
        return tr(
            "All {pairs} pairs at a shared risk of {risk:g} ({each:.2g} each) would take more than "
            "10,000 replicates.",
            **told,
        )
    return tr(
        "All {pairs} pairs at a shared risk of {risk:g} ({each:.2g} each) would take {replicates}.",
        replicates=_replicates_text(needed),
        **told,
    )


def _plant_limits(plan: TrialPlan) -> list[str]:
    """Return a caution where plots hold few plants."""
    if plan.budget is None:
        return []
    least = min(row.plants // row.plots for row in plan.budget.treatments)
    if least >= FEW_PLANTS:
        return []
    return [
        tr_n(
            "Plots of {count} plant depend much on single plants, so expect a larger CV ({source}).",
            "Plots of {count} plants depend much on single plants, so expect a larger CV "
            "({source}).",
            least,
            source=tr(FEW_PLANTS_SOURCE),
        )
    ]
