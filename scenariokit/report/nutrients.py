"""What a nutrient solution says: in sentences, as tables, and as a sheet for the mixing room."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.cautions import USUAL_EC
from scenariokit.charts.frames import Showing
from scenariokit.charts.nutrients import element_name
from scenariokit.errors import InfeasibleError
from scenariokit.nutrients import (
    AcidDose,
    PhWindow,
    Recipe,
    SourceWater,
    water_limits,
    water_problems,
)
from scenariokit.nutrients.concentrate.stock_labels import mass_text
from scenariokit.scenario import (
    ACID_PH,
    ElementSupply,
    Evaluation,
    FeedSeason,
    Mixing,
    PlannedFeed,
    Scenario,
    SolutionCheck,
    holding_strength,
)

SMALLEST_SUM = 0.01
EVEN = 0.02
"""Share by which charges may differ without a word."""
ALKALINE = 50.0
"""mg/L as CaCO3 above which a water is said to lift the pH; common practice, no published source."""
ACID = (
    "If pH must come down: acid INTO water, never water into acid, goggles and gloves, adults only, "
    "no metal, never near bleach; half the dose, stir, measure. The maker's safety data sheet and "
    "local rules decide."
)


def _exponent(value: float) -> int:
    return int(f"{value:.2e}".split("e")[1])


def litres(value: Any, showing: Showing) -> str:
    """Return a volume as this person measures it, with three digits that mean something."""
    if showing.system == "us":
        gallons = float(value.m_as(units.unit_of("gal")))
        if gallons >= 1:
            return f"{_three(gallons)} gal"
        return f"{_three(float(value.m_as(units.unit_of('floz'))))} fl oz"
    whole = float(value.m_as(units.unit_of("L")))
    return f"{_three(whole)} L" if whole >= 1 else f"{_three(1000 * whole)} mL"


def _three(value: float) -> str:
    """Return a number with three digits that mean something, and no zeros behind them."""
    if value <= 0:
        return "0"
    text = f"{value:,.{max(0, 2 - _exponent(value))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _degrees(value: Any, showing: Showing) -> str:
    celsius = float(value.m_as(units.unit_of("degC")))
    return f"{celsius * 9 / 5 + 32:.0f} °F" if showing.system == "us" else f"{celsius:.0f} °C"


def ec_gauge(scenario: Scenario, check: SolutionCheck) -> str:
    """Return the EC as one large number with the usual band beside it, as HTML."""
    low, high = USUAL_EC
    ec = float(check.ec.m)
    place = "inside" if low <= ec <= high else "above" if ec > high else "below"
    band = (
        f", {place} the usual {low:g} to {high:g} for potato"
        if scenario.crop.id == "potato"
        else ""
    )
    return f"<p class='sk-gauge'>EC <strong>{ec:.2f}</strong> dS/m at 25 °C<span>{band}</span></p>"


def strength_sentences(
    scenario: Scenario, check: SolutionCheck, planned: PlannedFeed, showing: Showing
) -> list[str]:
    """Return EC, strength and charge of the solution as it is made.

    Parameters
    ----------
    scenario : Scenario
        One, no ensemble.
    check : SolutionCheck
        Of its solution.
    planned : PlannedFeed
        How the solution was arrived at.
    showing : Showing
        Units of the reader.
    """
    balance, error = check.balance, float(check.rule.error.m)
    apart = abs(float(balance.share.m))
    said = "" if apart < EVEN else f", {100 * apart:.0f} % apart; this is reported, not forced away"
    return [
        f"That is {100 * check.strength * planned.share:.0f} % of {planned.targets.label}. The water "
        f"alone has {float(check.water_ec.m):.2f} dS/m.",
        f"A meter that does not allow for temperature shows {float(check.cold_ec.m):.2f} at "
        f"{_degrees(check.cold, showing)}. In your head, sum of the cations ÷ 10: "
        f"{float(check.rule.rule.m):.2f}, which is {100 * abs(error):.0f} % too "
        f"{'low' if error < 0 else 'high'}.",
        f"Charges: cations {float(balance.cations.m):.1f}, anions {float(balance.anions.m):.1f} "
        f"meq/L{said}.",
    ]


def water_words(
    water: SourceWater, dose: AcidDose | None, ph: PhWindow, showing: Showing
) -> list[str]:
    """Return what the source water does to the solution, and the acid that was picked.

    Parameters
    ----------
    water : SourceWater
        The water.
    dose : AcidDose or None
        Acid for the full tank, if one was picked.
    ph : PhWindow
        In which to keep the solution.
    showing : Showing
        Units of the reader.
    """
    said = [
        f"{finding.text.rstrip('.')}." for finding in (*water_problems(water), *water_limits(water))
    ]
    said.append(f"Keep pH between {ph.low:g} and {ph.high:g} ({ph.source}).")
    if dose is None and water.alkalinity > ALKALINE:
        said.append(
            f"Its alkalinity of {water.alkalinity:.0f} mg/L as CaCO3 lifts the pH from day to day; "
            "pick an acid, or mix with rain water."
        )
    return said if dose is None else [*said, *acid_words(dose, showing)]


def acid_words(dose: AcidDose, showing: Showing) -> list[str]:
    """Return how much acid the water of the full tank takes, and its cautions."""
    brings = ", ".join(
        f"{float(value.m_as('mg/L')):.0f} mg/L of {element_name(key).lower()}"
        for key, value in dose.adds.items()
        if key in ("N", "P", "S")
    )
    if dose.volume.m <= 0:
        return [
            f"{dose.acid.label}: none is needed, for this water has no more alkalinity than belongs "
            f"to pH {ACID_PH:g}."
        ]
    counted = f"; it brings {brings}, which is counted" if brings else ""
    return [
        f"{dose.acid.label}: {litres(dose.volume, showing)} for the full tank takes its water "
        f"to pH {ACID_PH:g}{counted}. Give it to the water before the stocks, and as much for each "
        "litre to the water of every top-up.",
        *dose.cautions,
    ]


def recipe_sentences(
    recipe: Recipe | None, supply: Sequence[ElementSupply], labels: Any
) -> list[str]:
    """Return what the recipe misses and why, what would help, and whether it could be otherwise.

    Parameters
    ----------
    recipe : Recipe or None
        How the solver got there; None for a published recipe.
    supply : sequence of ElementSupply
        The elements as made.
    labels : mapping
        Fertiliser id to its label.
    """
    missed = [one for one in supply if not one.inside]
    said = ["Every element lies in its band."] if not missed else [_missed(one) for one in missed]
    if recipe is None:
        return said
    for element, salts in recipe.helpful.items():
        if salts:
            names = ", ".join(_labelled(labels, salts))
            said.append(f"More {element_name(element).lower()} would come from: {names}.")
    for element, causes in recipe.over.items():
        names = ", ".join(_labelled(labels, causes))
        said.append(f"Too much {element_name(element).lower()} comes from: {names}.")
    if not recipe.unique:
        names = ", ".join(_labelled(labels, recipe.free))
        said.append(f"These grams are not the only ones: {names} can stand in for one another.")
    return said


def _labelled(labels: Any, ids: Iterable[str]) -> list[str]:
    return [str(labels.get(key, key)) for key in ids]


def _missed(one: ElementSupply) -> str:
    total = one.from_water + one.from_salts
    name = element_name(one.element)
    side = "short of" if total < one.low else "above"
    water = f"; the water alone brings {one.from_water:.3g}" if one.from_water > one.high else ""
    return (
        f"{name} is {side} its band: {total:.3g} mg/L where {one.low:.3g} to {one.high:.3g} is "
        f"allowed{water}."
    )


def recipe_table(
    scenario: Scenario, planned: PlannedFeed, mixing: Mixing | None, showing: Showing
) -> str:
    """Return fertilisers by grams in a litre, in each stock, and by what they cost, as HTML."""
    strength = 1.0 if mixing is None else mixing.strength
    stocks = () if mixing is None else mixing.stocks.stocks
    prices = scenario.prices.unit_prices
    currency, rate = showing.currency, showing.rate
    volume = "" if mixing is None else litres(mixing.stocks.volume, showing)
    heads = ["Fertiliser", "In a litre as made"]
    heads += [f"In {volume} of stock {stock.letter}" for stock in stocks]
    heads.append(f"{currency} for 1000 L" if showing.system != "us" else f"{currency} for 1000 gal")
    thousand = 1.0 if showing.system != "us" else 3.785411784
    lines, total = [], 0.0
    for key, gram in planned.rates.items():
        cost = gram * strength * prices[key] * thousand * rate
        total += cost
        cells = [mass_text(gram * strength)]
        cells += [
            mass_text(float(stock.grams[key].m_as("g"))) if key in stock.grams else "–"
            for stock in stocks
        ]
        cells.append(f"{cost:.2f}" if cost >= SMALLEST_SUM else f"under {SMALLEST_SUM:g}")
        hazard = planned.fertilisers[key].hazard
        label = escape(planned.fertilisers[key].label)
        note = f"<br><small>{escape(hazard)}</small>" if hazard else ""
        body = "".join(f"<td>{cell}</td>" for cell in cells)
        lines.append(f'<tr><th scope="row">{label}{note}</th>{body}</tr>')
    blank = "<td></td>" * (len(heads) - 2)
    lines.append(f'<tr><th scope="row">Together</th>{blank}<td><b>{total:.2f}</b></td></tr>')
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    return (
        '<div class="sk-scroll" tabindex="0" role="region" aria-label="Recipe and stocks">'
        f'<table class="sk-table"><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )


def dose_sentences(mixing: Mixing, showing: Showing) -> list[str]:
    """Return how the tank is filled from the stocks."""
    letters = " and ".join(stock.letter for stock in mixing.stocks.stocks)
    less = 100 / (mixing.stocks.dilution + 1)
    return [
        f"For the full tank, {litres(mixing.tank_volume, showing)}: "
        f"{litres(mixing.dose.each, showing)} of each stock ({letters}) and "
        f"{litres(mixing.dose.water, showing)} of water. Most of the water first, one stock, stir, "
        "the next stock, stir, the rest of the water.",
        f"1 : {mixing.stocks.dilution:g} means one part of stock in {mixing.stocks.dilution:g} parts "
        f"in all; a doser that counts 1 + {mixing.stocks.dilution:g} gives {less:.2g} % less. "
        f"{litres(mixing.stocks.volume, showing)} of each stock make "
        f"{litres(mixing.served, showing)} of this solution.",
    ]


def balance_sentences(season: FeedSeason, evaluation: Evaluation, showing: Showing) -> list[str]:
    """Return which element runs out, what holds the strength, what it costs and what is left."""
    said = []
    first = season.first_short
    if first is not None:
        found = season.elements[first]
        day, name, ratio = found.runs_out_on, element_name(first), float(found.supply_ratio.m)
        said.append(
            f"Nothing runs out; {name.lower()} is nearest to it: {ratio:.1f} times what whole "
            "plants take up for this yield is given."
            if day is None
            else f"{name} runs out first, on day {day}: {ratio:.2f} times what whole plants take up "
            "for this yield is given."
        )
    said += _strength_words(season)
    cost = showing.number(evaluation, "cost_nutrients")
    if cost is not None:
        said.append(f"Fertilisers cost {cost:.3f} {showing.unit('cost_nutrients')} of produce.")
    nitrate, feeds = season.nitrate, float(season.nitrate.soil_area.m)
    area = (
        "ft² of soil crops for each ft²"
        if showing.system == "us"
        else "m² of soil crops for each m²"
    )
    times = float(nitrate.dilution.m)
    left = (
        "At harvest the tank is dry, and its salts lie in it."
        if math.isnan(times)
        else f"At harvest {litres(season.litres_left, showing)} are left in the tank, {times:.0f} "
        "times as strong in nitrate as drinking water may be."
    )
    said.append(f"{left} Its nitrogen feeds {feeds:.1f} {area} of tank. {nitrate.caution}")
    return said


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
            f"If plants take up no more than this yield needs, the EC of the ions passes {high:g} "
            f"dS/m on day {beyond[0]}. The EC line above rests on a slider instead: that roots take "
            f"in {float(feed.uptake_factor.m):.2f} of the strength around them. Measure."
        )
    try:
        holding = holding_strength(season.scenario, season.season)
    except InfeasibleError:  # nothing is topped up, so there is nothing to advise
        return said
    needs = {name: float(one.m) for name, one in holding.elements.items() if one.m == one.m}
    ranked = sorted(needs, key=lambda name: -needs[name])
    listed = ", ".join(f"{element_name(name).lower()} {max(needs[name], 0):.2f}" for name in ranked)
    first = element_name(ranked[0]).lower()
    said.append(
        f"Strength of the top-up, relative to the first filling, that brings what the yield takes: "
        f"{listed}; all charges together {max(float(holding.total.m), 0):.2f}. The slider stands at "
        f"{top_up:.2f}. No one strength holds them all: weaker than its own, and {first} runs short; "
        f"stronger, and the others pile up. A recipe with more {first} beside them lets you top up "
        "weaker."
    )
    return said


def balance_table(season: FeedSeason, showing: Showing) -> str:
    """Return what is given, taken up and left of each element, as HTML, by tank area."""
    unit, label = ("oz/ft^2", "oz/ft²") if showing.system == "us" else ("g/m^2", "g/m²")
    digits = 3 if showing.system == "us" else 1
    per = ("oz/lb", "oz/lb") if showing.system == "us" else ("g/kg", "g/kg")

    def shown(value: Any) -> str:
        return f"{float(value.m_as(units.unit_of(unit))):.{digits}f}"

    heads = [
        "Element", f"First filling ({label})", f"Topped up ({label})", f"Taken up ({label})",
        f"In the produce ({label})", f"Left ({label})", "Given ÷ wanted",
        f"Given per produce ({per[1]})",
    ]  # fmt: skip
    lines = []
    for element, one in season.elements.items():
        given = float(one.given_per_kilogram.m_as(units.unit_of(per[0])))
        cells = [
            *(shown(part) for part in (one.first_filling, one.topped_up, one.taken_up,
                                       one.in_produce, one.left)),
            f"{float(one.supply_ratio.m):.2f}",
            f"{given:.{digits}f}" if given == given else "–",
        ]  # fmt: skip
        body = "".join(f"<td>{cell}</td>" for cell in cells)
        lines.append(f'<tr><th scope="row">{escape(element_name(element))}</th>{body}</tr>')
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    return (
        '<div class="sk-scroll" tabindex="0" role="region" aria-label="Balance of elements">'
        f'<table class="sk-table"><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )
