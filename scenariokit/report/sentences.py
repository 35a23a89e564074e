"""What a comparison says, in plain sentences built from its numbers."""

from __future__ import annotations

import math

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.scenario import COST_PARTS, Comparison, Evaluation, part_label


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
    return found.scenario.method.label


def _amount(found: Evaluation, name: str, showing: Showing, digits: int = 2) -> str:
    value = showing.number(found, name)
    return "no value" if value is None else f"{value:.{digits}f} {showing.unit(name)}".strip()


def _span(found: Evaluation, name: str, showing: Showing) -> tuple[float, float]:
    """Return low and high of an outcome that has a range."""
    low, high = showing.number(found, f"{name}_low"), showing.number(found, f"{name}_high")
    return (-math.inf if low is None else low, math.inf if high is None else high)


def _cost(comparison: Comparison, showing: Showing) -> list[str]:
    """Say which method is cheapest, and whether the ranges can tell."""
    name = "cost_per_kilogram"
    valued = [row for row in comparison if showing.number(row, name) is not None]
    lost = [row for row in comparison if showing.number(row, name) is None]
    said = [f"{_label(row)}: the yield is zero, so there is no cost per kilogram." for row in lost]
    if not valued:
        return said
    ranked = sorted(valued, key=lambda row: showing.number(row, name) or 0.0)
    first = ranked[0]
    low, high = _span(first, name, showing)
    text = f"Cheapest at its usual yield: {_label(first)}, {_amount(first, name, showing)}"
    if math.isfinite(low) and math.isfinite(high) and first.scenario.harvest.interval:
        text += f" ({low:.2f} to {high:.2f} over the range of its yield)"
    said.append(f"{text}.")
    if len(ranked) > 1:
        said.append(_runner_up(first, ranked[1:], showing))
    return said


def _runner_up(first: Evaluation, others: list[Evaluation], showing: Showing) -> str:
    """Say which methods the ranges cannot tell from the cheapest."""
    name = "cost_per_kilogram"
    high = _span(first, name, showing)[1]
    close = [row for row in others if _span(row, name, showing)[0] <= high]
    second = others[0]
    mine, its = showing.number(first, name) or 0.0, showing.number(second, name) or 0.0
    saved = f"{100 * (1 - mine / its):.0f} %" if its > 0 else "nothing"
    text = f"Next: {_label(second)}, {_amount(second, name, showing)}; the first saves {saved}."
    if not first.scenario.harvest.interval:
        return f"{text} But the first rests on one plot: these numbers do not tell them apart."
    if close:
        everyone = len(close) == len(others) and len(others) > 1
        names = "all the others" if everyone else _join([_label(row) for row in close])
        return (
            f"{text} But the range of the first overlaps with that of {names}: these numbers do "
            "not tell them apart."
        )
    if not all(row.scenario.harvest.interval for row in others):
        return (
            f"{text} The range of the first overlaps with none of the others; some have no range."
        )
    return f"{text} The range of the first overlaps with none of the others."


def _yield(comparison: Comparison, showing: Showing) -> list[str]:
    """Say which method yields most, and what that would be on a field."""
    best = max(comparison, key=lambda row: showing.number(row, "yield_per_area") or 0.0)
    field = _amount(best, "field_equivalent", showing, 0)
    return [
        f"Highest yield: {_label(best)}, {_amount(best, 'yield_per_area', showing)} of tank; a "
        f"field with that yield everywhere would give {field}."
    ]


def _largest_part(comparison: Comparison, showing: Showing) -> list[str]:
    """Say what the money goes into."""
    parts: dict[str, list[str]] = {}
    for row in comparison:
        if showing.number(row, "cost_per_kilogram") in (None, 0.0):
            continue
        largest = max(COST_PARTS, key=lambda part: showing.number(row, f"cost_{part}") or 0.0)
        parts.setdefault(largest, []).append(_label(row))
    everyone = sum(len(names) for names in parts.values()) if len(parts) == 1 else 0
    return [
        f"Largest cost of {'every method' if everyone > 1 else _join(names)}: "
        f"{part_label(part).lower()}."
        for part, names in parts.items()
    ]


def _nutrients(comparison: Comparison) -> list[str]:
    """Say which nutrient the crop takes faster than it is fed."""
    short = []
    for row in comparison:
        for key, word in (("n", "nitrogen"), ("p", "phosphorus"), ("k", "potassium")):
            share = float(units.magnitude(row[f"{key}_share"], "percent"))
            if share > 100:
                short.append(f"{word} under {_label(row)} ({share:.0f} %)")
    if not short:
        return []
    return [
        f"The produce carries off more than is fed: {_join(short)}. Feed stronger or richer in it."
    ]


def _basis(comparison: Comparison) -> list[str]:
    """Say what the yields rest on."""
    invented = [_label(row) for row in comparison if row.scenario.harvest.status == "invented"]
    single = [_label(row) for row in comparison if not row.scenario.harvest.interval]
    said = []
    if len(invented) == len(comparison):
        said.append("All yields are invented examples: load your own harvest weights.")
    elif invented:
        said.append(f"Still with an invented yield: {_join(invented)}.")
    if single:
        said.append(
            f"One plot each, so no interval exists: {_join(single)}. One plot proves little."
        )
    return said


def _join(words: list[str]) -> str:
    """Return words as a list in a sentence."""
    if len(words) == 1:
        return words[0]
    between = "; " if any("," in word for word in words) else ", "
    return f"{between.join(words[:-1])} and {words[-1]}"
