"""What a comparison says, in plain sentences built from its numbers."""

from __future__ import annotations

import math

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.language import language, list_text, mark, number_text, tr
from scenariokit.scenario import COST_PARTS, Comparison, Evaluation, part_label

NUTRIENTS = (("n", mark("nitrogen")), ("p", mark("phosphorus")), ("k", mark("potassium")))
CAPITAL_NOUNS = ("de", "lb")
"""Languages that write nouns with capitals within a sentence as well."""


def within_sentence(label: str) -> str:
    """Return a label in the language in use as it is written within a sentence.

    Examples
    --------
    >>> within_sentence("Growing medium")
    'growing medium'
    """
    text = tr(label)
    if language().split("_")[0] in CAPITAL_NOUNS or text[:2].isupper():  # a short form: EC, pH
        return text
    return text[:1].lower() + text[1:]


def sentences(comparison: Comparison, showing: Showing) -> list[str]:
    """Return a few sentences that say what the numbers mean, and what they do not.

    Parameters
    ----------
    comparison : Comparison
        One or more evaluated scenarios.
    showing : Showing
        Units and currency of the reader.
    """
    found = [*_cost(comparison, showing), *_yield(comparison, showing)]
    found += [*_largest_part(comparison, showing), *_nutrients(comparison), *_basis(comparison)]
    return found


def _label(found: Evaluation) -> str:
    return tr(found.scenario.method.label)


def _amount(found: Evaluation, name: str, showing: Showing, digits: int = 2) -> str:
    value = showing.number(found, name)
    if value is None:
        return tr("no value")
    return f"{number_text(value, f'.{digits}f')} {showing.unit(name)}".strip()


def _span(found: Evaluation, name: str, showing: Showing) -> tuple[float, float]:
    """Return low and high of an outcome that has a range."""
    low, high = showing.number(found, f"{name}_low"), showing.number(found, f"{name}_high")
    return (-math.inf if low is None else low, math.inf if high is None else high)


def _cost(comparison: Comparison, showing: Showing) -> list[str]:
    """Say which method is cheapest, and whether the ranges can tell."""
    name = "cost_per_kilogram"
    valued = [row for row in comparison if showing.number(row, name) is not None]
    lost = [row for row in comparison if showing.number(row, name) is None]
    said = [
        tr("{method}: the yield is zero, so there is no cost per kilogram.", method=_label(row))
        for row in lost
    ]
    if not valued:
        return said
    ranked = sorted(valued, key=lambda row: showing.number(row, name) or 0.0)
    first = ranked[0]
    said.append(_cheapest(first, showing))
    if len(ranked) > 1:
        said.append(_runner_up(first, ranked[1:], showing))
    return said


def _cheapest(first: Evaluation, showing: Showing) -> str:
    """Say which method is cheapest, with the range of its cost if it has one."""
    name = "cost_per_kilogram"
    low, high = _span(first, name, showing)
    method, cost = _label(first), _amount(first, name, showing)
    if math.isfinite(low) and math.isfinite(high) and first.scenario.harvest.interval:
        return tr(
            "Cheapest at its usual yield: {method}, {cost} ({low:.2f} to {high:.2f} over the range "
            "of its yield).",
            method=method,
            cost=cost,
            low=low,
            high=high,
        )
    return tr("Cheapest at its usual yield: {method}, {cost}.", method=method, cost=cost)


def _runner_up(first: Evaluation, others: list[Evaluation], showing: Showing) -> str:
    """Say which methods the ranges cannot tell from the cheapest."""
    name = "cost_per_kilogram"
    high = _span(first, name, showing)[1]
    close = [row for row in others if _span(row, name, showing)[0] <= high]
    text = _next(first, others[0], showing)
    if not first.scenario.harvest.interval:
        return (
            f"{text} {tr('But the first rests on one plot: these numbers do not tell them apart.')}"
        )
    if close and len(close) == len(others) > 1:
        overlap = tr(
            "But the range of the first overlaps with that of all the others: these numbers do not "
            "tell them apart."
        )
    elif close:
        overlap = tr(
            "But the range of the first overlaps with that of {methods}: these numbers do not tell "
            "them apart.",
            methods=list_text([_label(row) for row in close]),
        )
    elif not all(row.scenario.harvest.interval for row in others):
        overlap = tr("The range of the first overlaps with none of the others; some have no range.")
    else:
        overlap = tr("The range of the first overlaps with none of the others.")
    return f"{text} {overlap}"


def _next(first: Evaluation, second: Evaluation, showing: Showing) -> str:
    """Say which method comes second, and what the first saves beside it."""
    name = "cost_per_kilogram"
    mine, its = showing.number(first, name) or 0.0, showing.number(second, name) or 0.0
    method, cost = _label(second), _amount(second, name, showing)
    if its <= 0:
        return tr("Next: {method}, {cost}; the first saves nothing.", method=method, cost=cost)
    return tr(
        "Next: {method}, {cost}; the first saves {percent:.0f} %.",
        method=method,
        cost=cost,
        percent=100 * (1 - mine / its),
    )


def _yield(comparison: Comparison, showing: Showing) -> list[str]:
    """Say which method yields most, and what that would be on a field."""
    best = max(comparison, key=lambda row: showing.number(row, "yield_per_area") or 0.0)
    return [
        tr(
            "Highest yield: {method}, {amount} of tank; a field with that yield everywhere would "
            "give {field}.",
            method=_label(best),
            amount=_amount(best, "yield_per_area", showing),
            field=_amount(best, "field_equivalent", showing, 0),
        )
    ]


def _largest_part(comparison: Comparison, showing: Showing) -> list[str]:
    """Say what the money goes into."""
    parts: dict[str, list[str]] = {}
    for row in comparison:
        if showing.number(row, "cost_per_kilogram") in (None, 0.0):
            continue
        largest = max(COST_PARTS, key=lambda part: showing.number(row, f"cost_{part}") or 0.0)
        parts.setdefault(largest, []).append(_label(row))
    if len(parts) == 1:
        ((part, names),) = parts.items()
        if len(names) > 1:
            label = within_sentence(part_label(part))
            return [tr("Largest cost of every method: {part}.", part=label)]
    return [
        tr(
            "Largest cost of {methods}: {part}.",
            methods=list_text(names),
            part=within_sentence(part_label(part)),
        )
        for part, names in parts.items()
    ]


def _nutrients(comparison: Comparison) -> list[str]:
    """Say which nutrient the crop takes faster than it is fed."""
    short = []
    for row in comparison:
        for key, word in NUTRIENTS:
            share = float(units.magnitude(row[f"{key}_share"], "percent"))
            if share > 100:
                short.append(
                    tr(
                        "{nutrient} under {method} ({percent:.0f} %)",
                        nutrient=tr(word),
                        method=_label(row),
                        percent=share,
                    )
                )
    if not short:
        return []
    return [
        tr(
            "The produce carries off more than is fed: {nutrients}. Feed stronger or richer in it.",
            nutrients=list_text(short),
        )
    ]


def _basis(comparison: Comparison) -> list[str]:
    """Say what the yields rest on."""
    invented = [_label(row) for row in comparison if row.scenario.harvest.status == "invented"]
    single = [_label(row) for row in comparison if not row.scenario.harvest.interval]
    said = []
    if len(invented) == len(comparison):
        said.append(tr("All yields are invented examples: load your own harvest weights."))
    elif invented:
        said.append(tr("Still with an invented yield: {methods}.", methods=list_text(invented)))
    if single:
        said.append(
            tr(
                "One plot each, so no interval exists: {methods}. One plot proves little.",
                methods=list_text(single),
            )
        )
    return said
