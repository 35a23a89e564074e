"""What the numbers recommend, in plain words: who, how sure, what would change it, what is unknown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.decide import (
    LEANING_WORDS,
    Advice,
    Breach,
    BreakEven,
    DriverShare,
    DriverValue,
    Standing,
    TrialValue,
    Turn,
    Weighing,
    best_trial,
)
from scenariokit.economics import PartialBudget
from scenariokit.parameters import Parameter
from scenariokit.report.sentences import _join
from scenariokit.scenario import OUTCOMES, Comparison, shown
from scenariokit.uncertainty import Ensemble, Uncertainty

NEAR = 0.02
"""How near, as a share of a slider's range, a change of the best method is called close by."""


def said(value: Any, name: str, showing: Showing) -> str:
    """Return a quantity of an outcome's dimension as this person reads it, with its unit."""
    number = float(shown(value, OUTCOMES[name], showing.system, showing.rate))
    if math.isnan(number):
        return "no value"
    digits = OUTCOMES[name].digits
    while 0 < abs(number) < 10 ** (1 - digits) and digits < 4:
        digits += 1
    return f"{number:,.{digits}f} {showing.unit(name)}".strip().replace("-", "−")


def in_hundred(share: float) -> str:
    """Return a share of draws as a count of a hundred, without claiming certainty.

    Examples
    --------
    >>> in_hundred(0.514), in_hundred(0.9996), in_hundred(0.0)
    ('51 of 100', 'more than 99 of 100', 'none')
    """
    if share <= 0:
        return "none"
    if share >= 1:
        return "all"
    if share < 0.01:
        return "fewer than 1 of 100"
    if share > 0.99:
        return "more than 99 of 100"
    return f"{100 * share:.0f} of 100"


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
        f"{one.label}: no value in {in_hundred(one.undefined)} draws, so it is not put in order."
        for one in advice.standings
        if one.within and one.undefined > 0
    ]
    if advice.grade == "none":
        return [*lines, "No method is left: loosen a limit, or compare others."]
    first = advice.standing(advice.chosen)
    what = OUTCOMES[advice.objective]
    direction = "most" if what.better == "higher" else "least"
    mean = said(first.mean, advice.objective, showing)
    ends = f"{said(first.low, advice.objective, showing)} to {said(first.high, advice.objective, showing)}"
    lines.append(
        f"By {what.label.lower()} ({direction} is best), over {advice.draws:,} draws: "
        f"{first.label} comes first with {mean} on average; nine in ten draws lie from {ends}."
    )
    if advice.leaning != "average":
        lines.append(f"The order goes by {LEANING_WORDS[advice.leaning]}.")
    if advice.grade == "alone":
        alone = "It is the only one left, so nothing is said about which is better."
        return [*lines, alone, *_limits_line(advice, showing)]
    return [
        *lines, *_beside(advice, first, showing), *_front_line(advice),
        *_limits_line(advice, showing),
    ]  # fmt: skip


def _limits_line(advice: Advice, showing: Showing) -> list[str]:
    """Say what the limits cost, if they rule out what would come first."""
    price = advice.price_of_limits
    if price is None:
        return []
    label = advice.standing(price.method).label
    lead = said(price.lead, advice.objective, showing)
    return [f"Without what must hold, {label} would come first, ahead by {lead}."]


def _ruled_out(one: Standing, showing: Showing) -> str:
    reasons = [_breach_words(breach, showing) for breach in one.breaches]
    reasons += [f"it needs {_join(list(lack.needs)).lower()}" for lack in one.lacks]
    return f"Ruled out: {one.label}: {_join(reasons)}."


def _breach_words(breach: Breach, showing: Showing) -> str:
    described = breach.limit.parameter
    unit = described.shown_unit(showing.system)
    rate = showing.rate if "money" in unit else 1.0
    value, allowed = (
        float(part.m_as(units.unit_of(unit))) * rate for part in (breach.value, breach.allowed)
    )
    label = units.unit_label(unit, showing.currency)
    text = f"{breach.limit.label.lower()} {allowed:.4g} {label}, and it has {value:.4g}"
    if 0 < breach.share < 1:
        text += f" (broken in {in_hundred(breach.share)} draws)"
    return text


def _beside(advice: Advice, first: Standing, showing: Showing) -> list[str]:
    """Say how the first stands beside the second, and what a wrong choice would cost."""
    second = advice.standing(advice.runner_up)
    name = advice.objective
    low, middle, high = (said(part, name, showing) for part in advice.gap)
    verdict = {
        "clear": "That is clear.",
        "likely": "That is likely, not sure.",
        "open": "That is open: these numbers do not tell the two apart.",
    }[advice.grade]
    if advice.seldom_better:
        verdict += " The first wins by more than it loses by, which is why it stands first."
    lines = [
        f"Next: {second.label}, with {said(second.mean, name, showing)}. Drawn side by side, the "
        f"first is better in {in_hundred(advice.beats)} draws; the difference is {middle} at the "
        f"middle, {low} to {high} in nine of ten. {verdict}"
    ]
    if advice.dominance:
        lines.append(_dominance_words(advice.dominance, first, second))
    lines.append(
        f"{first.label} is the best of all in {in_hundred(first.best)} draws. Where another is, it "
        f"falls short by {said(first.regret, name, showing)} on average over all draws: that is "
        "the price of choosing without knowing, and the most that finding out could be worth."
    )
    return lines


def _dominance_words(order: str, first: Standing, second: Standing) -> str:
    if order == "first order":
        return (
            f"At every level {first.label} has the better chance than {second.label}: nobody who "
            "wants more would choose the second."
        )
    return (
        f"Whoever shuns risk prefers {first.label} to {second.label} as well: it does no worse on "
        "average, and better where things go badly."
    )


def _front_line(advice: Advice) -> list[str]:
    names = [one.label for one in advice.standings if one.on_front]
    both = _join([OUTCOMES[name].label.lower() for name in advice.criteria])
    beaten = [one.label for one in advice.standings if one.left and not one.on_front]
    if not beaten:
        return [f"In {both} together no method beats another in both."]
    if len(names) == 1:
        return [f"In {both} together {names[0]} is at least as good as every other, in both."]
    return [
        f"In {both} together these are beaten in both by none: {_join(names)}. "
        f"Beaten in both: {_join(beaten)}."
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
            never.append(one.label.lower())
            continue
        here, there = (number_words(value, one.unit, showing) for value in (one.stated, one.at))
        near = "Close by: " if one.far <= NEAR else ""
        way = "leap past each other" if one.kind == "jump" else "are equal"
        lines.append(
            f"{near}{one.label}: it stands at {here}; at {there} this method and "
            f"{labels.get(one.rival, one.rival)} {way}."
        )
    if never:
        lines.append(f"Alone and within their sliders, these change nothing: {_join(never)}.")
    return lines


def number_words(value: float, unit: str, showing: Showing) -> str:
    """Return a plain number of a parameter's unit as this person reads it."""
    rate = showing.rate if "money" in unit else 1.0
    return f"{value * rate:.3g} {units.unit_label(unit, showing.currency)}".strip()


def crossing_sentences(
    found: BreakEven, described: Parameter, labels: dict[str, str], showing: Showing
) -> list[str]:
    """Return where two methods are equal over the range of a parameter, or that they never are."""
    what, where = OUTCOMES[found.name].label.lower(), described.label.lower()
    one, other = labels[found.one], labels[found.other]
    if found.equal:
        return [f"{one} and {other} are equal in {what} over the whole range of {where}."]
    lines = []
    for crossing in found.crossings:
        unit = described.shown_unit(showing.system)
        at = number_words(float(crossing.at.m_as(units.unit_of(unit))), unit, showing)
        word = "leap past each other" if crossing.kind == "jump" else "are equal"
        lines.append(
            f"{one} and {other} {word} in {what} at {where} {at}: below it {labels[crossing.below]} "
            f"is better, above it {labels[crossing.above]}."
        )
    if found.always:
        lines.append(
            f"{one} and {other} are never equal in {what} within the slider's range of {where}: "
            f"{labels[found.always]} is better throughout."
        )
    if found.undefined:
        lines.append("Some values of that range cannot be, and are left out of the picture.")
    return lines


def weighing_sentences(found: Weighing, labels: Sequence[str]) -> list[str]:
    """Return who is first at these weights, and for which share of all weightings."""
    order = sorted(range(len(labels)), key=lambda number: -found.total[number])
    first = order[0]
    lines = [
        f"At these weights {labels[first]} comes first, with a worth of {found.total[first]:.2f} "
        "(0 is poor, 1 excellent, by the anchors beside the sliders)."
    ]
    if len(order) > 1:
        second = order[1]
        lines[0] = lines[0][:-1] + f", then {labels[second]} with {found.total[second]:.2f}."
    share = in_hundred(float(found.win_share[first]))
    lines.append(f"Of all possible weightings, {labels[first]} wins for {share}.")
    never = [labels[number] for number in range(len(labels)) if found.never[number]]
    if never:
        lines.append(f"For no weighting at all: {_join(never)}.")
    return lines


def basis_sentences(comparison: Comparison, found: Ensemble) -> list[str]:
    """Return what is not known, and what the draws rest on."""
    lines = []
    invented = [one for one in comparison if one.scenario.harvest.status == "invented"]
    single = [one for one in comparison if not one.scenario.harvest.interval]
    if invented:
        which = "All" if len(invented) == len(comparison) else f"{len(invented)} of the"
        lines.append(f"{which} yields are invented examples: load your own harvest weights first.")
    if single:
        names = _join([one.scenario.method.label for one in single])
        lines.append(f"One plot each, so how sure the yield is had to be assumed: {names}.")
    lines.append(
        "Shared prices and seasons are drawn alike for all methods, so that differences are those "
        "of the methods. The same draws are used each time a slider moves."
    )
    return lines + [f"{note}." for note in found.notes]


def assumption_table(uncertainty: Uncertainty) -> str:
    """Return what is taken as uncertain, how much, and what that rests on, as an HTML table."""
    causes = {one.name: one.label for one in uncertainty.causes}
    rows = "".join(
        f'<tr><th scope="row">{escape(one.label or one.path)}</th>'
        f"<td>{escape(('times what is stated: ' if one.relative else '') + one.spread.words())}</td>"
        f"<td>{escape(_cause_words(causes.get(one.cause, ''), one.strength))}</td>"
        f"<td>{escape(one.note)}</td></tr>"
        for one in uncertainty.inputs
    )
    return (
        '<details class="sk-fold"><summary>What is taken as uncertain, and how much</summary>'
        '<div class="sk-scroll" tabindex="0" role="region" aria-label="What is taken as uncertain">'
        '<table class="sk-table"><thead><tr><th scope="col">Input</th><th scope="col">Spread</th>'
        '<th scope="col">Moved by</th><th scope="col">Rests on</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></div></details>"
    )


def _cause_words(label: str, strength: float) -> str:
    return f"{label} (correlation {strength:g})".replace("-", "−") if label else "nothing else"


def budget_table(budget: PartialBudget, labels: dict[str, str], showing: Showing) -> str:
    """Return a partial budget as an HTML table, cheapest first, with its rates of return."""
    head = ("Method", "Adjusted yield", "Gross benefit", "Costs that vary", "Net benefit",
            "Rate of return")  # fmt: skip
    rows = ""
    for row in budget.rows:
        rate = f"beaten by {labels[row.beaten_by]}" if row.beaten_by else "–"
        if row.rate_of_return is not None:
            rate = f"{100 * row.rate_of_return:.0f} % over {labels[row.over]}"
        money = [
            said(part, "margin_per_area", showing)
            for part in (row.gross_benefit, row.cost_that_varies, row.net_benefit)
        ]
        cells = [said(row.adjusted_yield, "yield_per_area", showing), *money, rate]
        name = labels[row.name] + (" ←" if row.name == budget.recommended else "")
        rows += f'<tr><th scope="row">{escape(name)}</th>' + "".join(
            f"<td>{escape(cell)}</td>" for cell in cells
        )
        rows += "</tr>"
    heads = "".join(f'<th scope="col">{word}</th>' for word in head)
    return (
        '<div class="sk-scroll" tabindex="0" role="region" aria-label="Partial budget">'
        f'<table class="sk-table"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>'
        f"<p>Each step up must bring {100 * budget.least_return:.0f} % of what it costs more: the "
        f"arrow marks where that ends, at {escape(labels[budget.recommended])}. The highest net "
        f"benefit is that of {escape(labels[budget.highest])}. Adjusted yields are "
        "trial yields less a tenth (CIMMYT 1988, from memory).</p>"
    )


def learning_sentences(
    shares: Sequence[DriverShare],
    values: Sequence[DriverValue],
    trials: Sequence[TrialValue],
    name: str,
    showing: Showing,
) -> list[str]:
    """Return where the spread comes from, what is worth finding out, and whether a trial pays."""
    lines = []
    if shares:
        top = _join([f"{one.driver.lower()} ({100 * one.total:.0f} %)" for one in shares[:3]])
        lines.append(f"The spread of the difference between the first two comes mostly from {top}.")
    worth = [one for one in values if one.told][:3]  # the others may be noise of the draws
    if worth:
        listed = _join(
            [f"{one.driver.lower()} ({said(one.value, name, showing)})" for one in worth]
        )
        lines.append(f"Worth the most to find out before choosing: {listed}.")
    if trials:
        lines.append(_trial_words(trials, showing))
    return lines


def _trial_words(trials: Sequence[TrialValue], showing: Showing) -> str:
    best = best_trial(trials)
    if best is None:
        most = max(trials, key=lambda one: one.net.magnitude)
        return (
            f"One more trial does not pay: even {_plots(most.replicates)} of each method would be "
            f"worth {_money(most.worth, showing)} and cost {_money(most.cost, showing)}."
        )
    return (
        f"One more trial pays: with {_plots(best.replicates)} of each method it is worth "
        f"{_money(best.worth, showing)} and costs {_money(best.cost, showing)}."
    )


def _plots(count: int) -> str:
    return "one plot" if count == 1 else f"{count} plots"


def _money(value: Any, showing: Showing) -> str:
    return f"{float(value.magnitude) * showing.rate:,.0f} {showing.currency}"
