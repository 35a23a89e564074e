"""What a season says of its elements: which runs out, what holds the strength, what is left."""

from __future__ import annotations

import math
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.cautions import USUAL_EC
from scenariokit.charts.frames import Showing
from scenariokit.charts.nutrients import element_name
from scenariokit.errors import InfeasibleError
from scenariokit.language import number_text, tr
from scenariokit.report.nutrients import litres
from scenariokit.report.sentences import within_sentence
from scenariokit.scenario import Evaluation, FeedSeason, holding_strength


def balance_sentences(season: FeedSeason, evaluation: Evaluation, showing: Showing) -> list[str]:
    """Return which element runs out, what holds the strength, what it costs and what is left."""
    said = []
    first = season.first_short
    if first is not None:
        found = season.elements[first]
        day, name, ratio = found.runs_out_on, element_name(first), float(found.supply_ratio.m)
        said.append(
            tr(
                "Nothing runs out; {element} is nearest to it: {ratio:.1f} times what whole plants "
                "take up for this yield is given.",
                element=within_sentence(name),
                ratio=ratio,
            )
            if day is None
            else tr(
                "{element} runs out first, on day {day}: {ratio:.2f} times what whole plants take "
                "up for this yield is given.",
                element=name,
                day=day,
                ratio=ratio,
            )
        )
    said += _strength_words(season)
    cost = showing.number(evaluation, "cost_nutrients")
    if cost is not None:
        said.append(
            tr(
                "Fertilisers cost {cost:.3f} {unit} of produce.",
                cost=cost,
                unit=showing.unit("cost_nutrients"),
            )
        )
    said.append(f"{_left_words(season, showing)} {tr(season.nitrate.caution)}")
    return said


def _left_words(season: FeedSeason, showing: Showing) -> str:
    """Return what is left in the tank at harvest, and how much soil it feeds."""
    nitrate = season.nitrate
    times, feeds = float(nitrate.dilution.m), float(nitrate.soil_area.m)
    left = (
        tr("At harvest the tank is dry, and its salts lie in it.")
        if math.isnan(times)
        else tr(
            "At harvest {volume} are left in the tank, {times:.0f} times as strong in nitrate as "
            "drinking water may be.",
            volume=litres(season.litres_left, showing),
            times=times,
        )
    )
    area = (
        tr("Its nitrogen feeds {area:.1f} ft² of soil crops for each ft² of tank.", area=feeds)
        if showing.system == "us"
        else tr("Its nitrogen feeds {area:.1f} m² of soil crops for each m² of tank.", area=feeds)
    )
    return f"{left} {area}"


def _strength_words(season: FeedSeason) -> list[str]:
    """Return whether the solution grows too strong or too weak, and what top-up would hold it."""
    feed, high = season.scenario.feed, USUAL_EC[1]
    top_up = float(feed.top_up_strength.m)
    said = []
    ec = season.ec.m_as(units.unit_of("dS/m"))
    # Without a number the solution is stronger than the model of EC covers, or the tank is dry.
    wet = [not math.isnan(held) for held in season.elements["N"].concentration.m]
    beyond = [day for day, value in enumerate(ec) if wet[day] and not value <= high]
    if beyond and ec[0] <= high:
        said.append(
            tr(
                "If plants take up no more than this yield needs, the EC of the ions passes "
                "{ec:g} dS/m on day {day}. The EC line above rests on a slider instead: that roots "
                "take in {share:.2f} of the strength around them. Measure.",
                ec=high,
                day=beyond[0],
                share=float(feed.uptake_factor.m),
            )
        )
    try:
        holding = holding_strength(season.scenario, season.season)
    except InfeasibleError:  # nothing is topped up, so there is nothing to advise
        return said
    needs = {name: float(one.m) for name, one in holding.elements.items() if one.m == one.m}
    ranked = sorted(needs, key=lambda name: -needs[name])
    listed = ", ".join(
        f"{within_sentence(element_name(name))} {number_text(max(needs[name], 0), '.2f')}"
        for name in ranked
    )
    said.append(
        tr(
            "Strength of the top-up, relative to the first filling, that brings what the yield "
            "takes: {elements}; all charges together {total:.2f}. The slider stands at "
            "{top_up:.2f}. No one strength holds them all: weaker than its own, and {first} runs "
            "short; stronger, and the others pile up. A recipe with more {first} beside them lets "
            "you top up weaker.",
            elements=listed,
            total=max(float(holding.total.m), 0),
            top_up=top_up,
            first=within_sentence(element_name(ranked[0])),
        )
    )
    return said


def balance_table(season: FeedSeason, showing: Showing) -> str:
    """Return what is given, taken up and left of each element, as HTML, by tank area."""
    unit, label = ("oz/ft^2", "oz/ft²") if showing.system == "us" else ("g/m^2", "g/m²")
    digits = 3 if showing.system == "us" else 1
    per = ("oz/lb", "oz/lb") if showing.system == "us" else ("g/kg", "g/kg")

    def shown(value: Any) -> str:
        return number_text(float(value.m_as(units.unit_of(unit))), f".{digits}f")

    heads = [
        tr("Element"), tr("First filling ({unit})", unit=label), tr("Topped up ({unit})", unit=label),
        tr("Taken up ({unit})", unit=label), tr("In the produce ({unit})", unit=label),
        tr("Left ({unit})", unit=label), tr("Given ÷ wanted"),
        tr("Given per produce ({unit})", unit=per[1]),
    ]  # fmt: skip
    lines = []
    for element, one in season.elements.items():
        given = float(one.given_per_kilogram.m_as(units.unit_of(per[0])))
        cells = [
            *(shown(part) for part in (one.first_filling, one.topped_up, one.taken_up,
                                       one.in_produce, one.left)),
            number_text(float(one.supply_ratio.m), ".2f"),
            number_text(given, f".{digits}f") if given == given else "–",
        ]  # fmt: skip
        body = "".join(f"<td>{cell}</td>" for cell in cells)
        lines.append(f'<tr><th scope="row">{escape(element_name(element))}</th>{body}</tr>')
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    return (
        '<div class="sk-scroll" tabindex="0" role="region" '
        f'aria-label="{escape(tr("Balance of elements"))}">'
        f'<table class="sk-table"><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )
