"""What the numbers recommend, in plain words: who, how sure, what would change it, what is unknown."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.decide import (
    LEANING_WORDS,
    Advice,
    Breach,
    BreakEven,
    Standing,
    Turn,
    Weighing,
)
from scenariokit.language import list_text, mark, tr, tr_n
from scenariokit.parameters import Parameter
from scenariokit.report.choice_words import in_hundred, number_words, of_draws, said, shown_labels
from scenariokit.report.sentences import within_sentence
from scenariokit.scenario import OUTCOMES, Comparison
from scenariokit.uncertainty import Ensemble

NEAR = 0.02
"""How near, as a share of a slider's range, a change of the best method is called close by."""
VERDICTS = {
    "clear": mark("That is clear."),
    "likely": mark("That is likely, not sure."),
    "open": mark("That is open: these numbers do not tell the two apart."),
}
"""What each grade of an advice says."""


def advice_sentences(advice: Advice, showing: Showing) -> list[str]:
    """Return the recommendation in sentences: ruled out, first, how sure, and at what risk.

    Parameters
    ----------
    advice : Advice
        What the numbers recommend.
    showing : Showing
        Units and currency of the reader.
    """
    lines = [_ruled_out(one, showing) for one in advice.standings if not one.within]
    lines += [
        tr(
            "{method}: no value in {draws}, so it is not put in order.",
            method=tr(one.label),
            draws=of_draws(one.undefined),
        )
        for one in advice.standings
        if one.within and one.undefined > 0
    ]
    if advice.grade == "none":
        return [*lines, tr("No method is left: loosen a limit, or compare others.")]
    first = advice.standing(advice.chosen)
    lines.append(_first_words(advice, first, showing))
    if advice.leaning != "average":
        lines.append(tr("The order goes by {rule}.", rule=tr(LEANING_WORDS[advice.leaning])))
    if advice.grade == "alone":
        alone = tr("It is the only one left, so nothing is said about which is better.")
        return [*lines, alone, *_limits_line(advice, showing)]
    return [
        *lines, *_beside(advice, first, showing), *_front_line(advice),
        *_limits_line(advice, showing),
    ]  # fmt: skip


def _first_words(advice: Advice, first: Standing, showing: Showing) -> str:
    """Say which method comes first, in what and by how much."""
    what, name = OUTCOMES[advice.objective], advice.objective
    found = {
        "outcome": within_sentence(what.label),
        "draws": advice.draws,
        "method": tr(first.label),
        "mean": said(first.mean, name, showing),
        "low": said(first.low, name, showing),
        "high": said(first.high, name, showing),
    }
    if what.better == "higher":
        return tr(
            "By {outcome} (most is best), over {draws:,} draws: {method} comes first with {mean} on "
            "average; nine in ten draws lie from {low} to {high}.",
            **found,
        )
    return tr(
        "By {outcome} (least is best), over {draws:,} draws: {method} comes first with {mean} on "
        "average; nine in ten draws lie from {low} to {high}.",
        **found,
    )


def _limits_line(advice: Advice, showing: Showing) -> list[str]:
    """Say what the limits cost, if they rule out what would come first."""
    price = advice.price_of_limits
    if price is None:
        return []
    return [
        tr(
            "Without what must hold, {method} would come first, ahead by {lead}.",
            method=tr(advice.standing(price.method).label),
            lead=said(price.lead, advice.objective, showing),
        )
    ]


def _ruled_out(one: Standing, showing: Showing) -> str:
    reasons = [_breach_words(breach, showing) for breach in one.breaches]
    reasons += [
        tr("it needs {things}", things=list_text([within_sentence(need) for need in lack.needs]))
        for lack in one.lacks
    ]
    return tr("Ruled out: {method}: {reasons}.", method=tr(one.label), reasons=list_text(reasons))


def _breach_words(breach: Breach, showing: Showing) -> str:
    described = breach.limit.parameter
    unit = described.shown_unit(showing.system)
    rate = showing.rate if "money" in unit else 1.0
    value, allowed = (
        float(part.m_as(units.unit_of(unit))) * rate for part in (breach.value, breach.allowed)
    )
    found = {
        "limit": within_sentence(breach.limit.label),
        "allowed": allowed,
        "unit": units.unit_label(unit, showing.currency),
        "value": value,
    }
    if 0 < breach.share < 1:
        return tr(
            "{limit} {allowed:.4g} {unit}, and it has {value:.4g} (broken in {draws})",
            draws=of_draws(breach.share),
            **found,
        )
    return tr("{limit} {allowed:.4g} {unit}, and it has {value:.4g}", **found)


def _beside(advice: Advice, first: Standing, showing: Showing) -> list[str]:
    """Say how the first stands beside the second, and what a wrong choice would cost."""
    second = advice.standing(advice.runner_up)
    name = advice.objective
    low, middle, high = (said(part, name, showing) for part in advice.gap)
    words = [
        tr(
            "Next: {method}, with {mean}. Drawn side by side, the first is better in {draws}; the "
            "difference is {middle} at the middle, {low} to {high} in nine of ten.",
            method=tr(second.label),
            mean=said(second.mean, name, showing),
            draws=of_draws(advice.beats),
            middle=middle,
            low=low,
            high=high,
        ),
        tr(VERDICTS[advice.grade]),
    ]
    if advice.seldom_better:
        words.append(tr("The first wins by more than it loses by, which is why it stands first."))
    lines = [" ".join(words)]
    if advice.dominance:
        lines.append(_dominance_words(advice.dominance, tr(first.label), tr(second.label)))
    lines.append(
        tr(
            "{method} is the best of all in {draws}. Where another is, it falls short by {regret} "
            "on average over all draws: that is the price of choosing without knowing, and the "
            "most that finding out could be worth.",
            method=tr(first.label),
            draws=of_draws(first.best),
            regret=said(first.regret, name, showing),
        )
    )
    return lines


def _dominance_words(order: str, first: str, second: str) -> str:
    if order == "first order":
        return tr(
            "At every level {first} has the better chance than {second}: nobody who wants more "
            "would choose the second.",
            first=first,
            second=second,
        )
    return tr(
        "Whoever shuns risk prefers {first} to {second} as well: it does no worse on average, and "
        "better where things go badly.",
        first=first,
        second=second,
    )


def _front_line(advice: Advice) -> list[str]:
    names = [tr(one.label) for one in advice.standings if one.on_front]
    both = list_text([within_sentence(OUTCOMES[name].label) for name in advice.criteria])
    beaten = [tr(one.label) for one in advice.standings if one.left and not one.on_front]
    if not beaten:
        return [tr("In {outcomes} together no method beats another in both.", outcomes=both)]
    if len(names) == 1:
        return [
            tr(
                "In {outcomes} together {method} is at least as good as every other, in both.",
                outcomes=both,
                method=names[0],
            )
        ]
    return [
        tr(
            "In {outcomes} together these are beaten in both by none: {methods}. Beaten in both: "
            "{beaten}.",
            outcomes=both,
            methods=list_text(names),
            beaten=list_text(beaten),
        )
    ]


def turn_sentences(turns: Sequence[Turn], labels: dict[str, str], showing: Showing) -> list[str]:
    """Return what would change the choice, the nearest first, and what would not.

    Parameters
    ----------
    turns : sequence of Turn
        Of the method chosen, or of another that is asked about.
    labels : dict
        What a person reads for each method.
    showing : Showing
        Units and currency of the reader.
    """
    lines, never = [], []
    for one in turns:
        if one.at is None:
            never.append(within_sentence(one.label))
            continue
        here, there = (number_words(value, one.unit, showing) for value in (one.stated, one.at))
        found = {
            "input": tr(one.label),
            "here": here,
            "there": there,
            "rival": tr(labels.get(one.rival, one.rival)),
        }
        if one.kind == "jump":
            text = tr(
                "{input}: it stands at {here}; at {there} this method and {rival} leap past each "
                "other.",
                **found,
            )
        else:
            text = tr(
                "{input}: it stands at {here}; at {there} this method and {rival} are equal.",
                **found,
            )
        lines.append(tr("Close by: {sentence}", sentence=text) if one.far <= NEAR else text)
    if never:
        lines.append(
            tr(
                "Alone and within their sliders, these change nothing: {inputs}.",
                inputs=list_text(never),
            )
        )
    return lines


def crossing_sentences(
    found: BreakEven, described: Parameter, labels: dict[str, str], showing: Showing
) -> list[str]:
    """Return where two methods are equal over the range of a parameter, or that they never are."""
    names = shown_labels(labels)
    told = {
        "one": names[found.one],
        "other": names[found.other],
        "outcome": within_sentence(OUTCOMES[found.name].label),
        "input": within_sentence(described.label),
    }
    if found.equal:
        return [
            tr("{one} and {other} are equal in {outcome} over the whole range of {input}.", **told)
        ]
    lines = []
    for crossing in found.crossings:
        unit = described.shown_unit(showing.system)
        sides = {
            "at": number_words(float(crossing.at.m_as(units.unit_of(unit))), unit, showing),
            "below": names[crossing.below],
            "above": names[crossing.above],
        }
        lines.append(_crossing_words(crossing.kind == "jump", {**told, **sides}))
    if found.always:
        lines.append(
            tr(
                "{one} and {other} are never equal in {outcome} within the slider's range of "
                "{input}: {best} is better throughout.",
                best=names[found.always],
                **told,
            )
        )
    if found.undefined:
        lines.append(tr("Some values of that range cannot be, and are left out of the picture."))
    return lines


def _crossing_words(jump: bool, told: dict[str, str]) -> str:
    if jump:
        return tr(
            "{one} and {other} leap past each other in {outcome} at {input} {at}: below it {below} "
            "is better, above it {above}.",
            **told,
        )
    return tr(
        "{one} and {other} are equal in {outcome} at {input} {at}: below it {below} is better, "
        "above it {above}.",
        **told,
    )


def weighing_sentences(found: Weighing, labels: Sequence[str]) -> list[str]:
    """Return who is first at these weights, and for which share of all weightings."""
    names = [tr(label) for label in labels]
    order = sorted(range(len(names)), key=lambda number: -found.total[number])
    first = order[0]
    if len(order) == 1:
        text = tr(
            "At these weights {method} comes first, with a worth of {worth:.2f} (0 is poor, 1 "
            "excellent, by the anchors beside the sliders).",
            method=names[first],
            worth=float(found.total[first]),
        )
    else:
        text = tr(
            "At these weights {method} comes first, with a worth of {worth:.2f} (0 is poor, 1 "
            "excellent, by the anchors beside the sliders), then {second} with {less:.2f}.",
            method=names[first],
            worth=float(found.total[first]),
            second=names[order[1]],
            less=float(found.total[order[1]]),
        )
    share = in_hundred(float(found.win_share[first]))
    lines = [
        text,
        tr(
            "Of all possible weightings, {method} wins for {share}.",
            method=names[first],
            share=share,
        ),
    ]
    never = [names[number] for number in range(len(names)) if found.never[number]]
    if never:
        lines.append(tr("For no weighting at all: {methods}.", methods=list_text(never)))
    return lines


def basis_sentences(comparison: Comparison, found: Ensemble) -> list[str]:
    """Return what is not known, and what the draws rest on."""
    lines = []
    invented = [one for one in comparison if one.scenario.harvest.status == "invented"]
    single = [one for one in comparison if not one.scenario.harvest.interval]
    if invented:
        lines.append(_invented_words(len(invented), len(comparison)))
    if single:
        lines.append(
            tr(
                "One plot each, so how sure the yield is had to be assumed: {methods}.",
                methods=list_text([tr(one.scenario.method.label) for one in single]),
            )
        )
    lines.append(
        tr(
            "Shared prices and seasons are drawn alike for all methods, so that differences are "
            "those of the methods. The same draws are used each time a slider moves."
        )
    )
    return lines + [f"{note}." for note in found.notes]


def _invented_words(count: int, methods: int) -> str:
    if count == methods:
        return tr("All yields are invented examples: load your own harvest weights first.")
    return tr_n(
        "{count} of the yields is an invented example: load your own harvest weights first.",
        "{count} of the yields are invented examples: load your own harvest weights first.",
        count,
    )
