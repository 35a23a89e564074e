"""What a nutrient solution says: in sentences, as tables, and as a sheet for the mixing room."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.cautions import USUAL_EC
from scenariokit.charts.frames import Showing
from scenariokit.charts.nutrients import element_name
from scenariokit.language import list_text, mark, number_text, tr
from scenariokit.nutrients import (
    AcidDose,
    PhWindow,
    Recipe,
    SourceWater,
    water_limits,
    water_problems,
)
from scenariokit.nutrients.concentrate.stock_labels import mass_text
from scenariokit.report.sentences import within_sentence
from scenariokit.scenario import (
    ACID_PH,
    ElementSupply,
    Mixing,
    PlannedFeed,
    Scenario,
    SolutionCheck,
)

SMALLEST_SUM = 0.01
EVEN = 0.02
"""Share by which charges may differ without a word."""
ALKALINE = 50.0
"""mg/L as CaCO3 above which a water is said to lift the pH; common practice, no published source."""
ACID = mark(
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
    text = f"{value:.{max(0, 2 - _exponent(value))}f}"
    places = len(text.partition(".")[2].rstrip("0"))
    return number_text(value, f",.{places}f")


def _degrees(value: Any, showing: Showing) -> str:
    celsius = float(value.m_as(units.unit_of("degC")))
    if showing.system == "us":
        return f"{number_text(celsius * 9 / 5 + 32, '.0f')} °F"
    return f"{number_text(celsius, '.0f')} °C"


def ec_gauge(scenario: Scenario, check: SolutionCheck) -> str:
    """Return the EC as one large number with the usual band beside it, as HTML."""
    ec = float(check.ec.m)
    band = f", {escape(_beside_usual(ec))}" if scenario.crop.id == "potato" else ""
    number = tr("EC <strong>{ec:.2f}</strong> dS/m at 25 °C", ec=ec)
    return f"<p class='sk-gauge'>{number}<span>{band}</span></p>"


def _beside_usual(ec: float) -> str:
    """Return how the EC stands beside the usual band."""
    low, high = USUAL_EC
    if low <= ec <= high:
        return tr("inside the usual {low:g} to {high:g} for potato", low=low, high=high)
    if ec > high:
        return tr("above the usual {low:g} to {high:g} for potato", low=low, high=high)
    return tr("below the usual {low:g} to {high:g} for potato", low=low, high=high)


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
    return [
        tr(
            "That is {percent:.0f} % of {targets}. The water alone has {ec:.2f} dS/m.",
            percent=100 * check.strength * planned.share,
            targets=tr(planned.targets.label),
            ec=float(check.water_ec.m),
        ),
        f"{_cold_words(check, showing)} {_rule_words(check)}",
        _charge_words(check),
    ]


def _cold_words(check: SolutionCheck, showing: Showing) -> str:
    return tr(
        "A meter that does not allow for temperature shows {ec:.2f} at {temperature}.",
        ec=float(check.cold_ec.m),
        temperature=_degrees(check.cold, showing),
    )


def _rule_words(check: SolutionCheck) -> str:
    """Return what a rule for the head says, and how far it is off."""
    rule, error = float(check.rule.rule.m), float(check.rule.error.m)
    if error < 0:
        return tr(
            "In your head, sum of the cations ÷ 10: {ec:.2f}, which is {percent:.0f} % too low.",
            ec=rule,
            percent=-100 * error,
        )
    return tr(
        "In your head, sum of the cations ÷ 10: {ec:.2f}, which is {percent:.0f} % too high.",
        ec=rule,
        percent=100 * error,
    )


def _charge_words(check: SolutionCheck) -> str:
    """Return whether the charges are even."""
    balance = check.balance
    cations, anions = float(balance.cations.m), float(balance.anions.m)
    apart = abs(float(balance.share.m))
    if apart < EVEN:
        return tr(
            "Charges: cations {cations:.1f}, anions {anions:.1f} meq/L.",
            cations=cations,
            anions=anions,
        )
    return tr(
        "Charges: cations {cations:.1f}, anions {anions:.1f} meq/L, {percent:.0f} % apart; this is "
        "reported, not forced away.",
        cations=cations,
        anions=anions,
        percent=100 * apart,
    )


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
    said.append(
        tr(
            "Keep pH between {low:g} and {high:g} ({source}).",
            low=ph.low,
            high=ph.high,
            source=tr(ph.source),
        )
    )
    if dose is None and water.alkalinity > ALKALINE:
        said.append(
            tr(
                "Its alkalinity of {alkalinity:.0f} mg/L as CaCO3 lifts the pH from day to day; "
                "pick an acid, or mix with rain water.",
                alkalinity=water.alkalinity,
            )
        )
    return said if dose is None else [*said, *acid_words(dose, showing)]


def acid_words(dose: AcidDose, showing: Showing) -> list[str]:
    """Return how much acid the water of the full tank takes, and its cautions."""
    label, ph = tr(dose.acid.label), ACID_PH
    if dose.volume.m <= 0:
        return [
            tr(
                "{acid}: none is needed, for this water has no more alkalinity than belongs to pH "
                "{ph:g}.",
                acid=label,
                ph=ph,
            )
        ]
    brings = ", ".join(
        tr(
            "{amount:.0f} mg/L of {element}",
            amount=float(value.m_as("mg/L")),
            element=within_sentence(element_name(key)),
        )
        for key, value in dose.adds.items()
        if key in ("N", "P", "S")
    )
    told = {"acid": label, "volume": litres(dose.volume, showing), "ph": ph}
    if brings:
        takes = tr(
            "{acid}: {volume} for the full tank takes its water to pH {ph:g}; it brings {elements}, "
            "which is counted.",
            elements=brings,
            **told,
        )
    else:
        takes = tr("{acid}: {volume} for the full tank takes its water to pH {ph:g}.", **told)
    give = tr(
        "Give it to the water before the stocks, and as much for each litre to the water of every "
        "top-up."
    )
    return [f"{takes} {give}", *dose.cautions]


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
    said = (
        [tr("Every element lies in its band.")] if not missed else [_missed(one) for one in missed]
    )
    if recipe is None:
        return said
    for element, salts in recipe.helpful.items():
        if salts:
            names = ", ".join(_labelled(labels, salts))
            name = within_sentence(element_name(element))
            said.append(tr("More {element} would come from: {salts}.", element=name, salts=names))
    for element, causes in recipe.over.items():
        names = ", ".join(_labelled(labels, causes))
        name = within_sentence(element_name(element))
        said.append(tr("Too much {element} comes from: {salts}.", element=name, salts=names))
    if not recipe.unique:
        names = ", ".join(_labelled(labels, recipe.free))
        said.append(
            tr(
                "These grams are not the only ones: {salts} can stand in for one another.",
                salts=names,
            )
        )
    return said


def _labelled(labels: Any, ids: Iterable[str]) -> list[str]:
    return [tr(str(labels.get(key, key))) for key in ids]


def _missed(one: ElementSupply) -> str:
    total = one.from_water + one.from_salts
    told = {
        "element": element_name(one.element),
        "total": total,
        "low": one.low,
        "high": one.high,
    }
    if total < one.low:
        return tr(
            "{element} is short of its band: {total:.3g} mg/L where {low:.3g} to {high:.3g} is "
            "allowed.",
            **told,
        )
    if one.from_water > one.high:
        return tr(
            "{element} is above its band: {total:.3g} mg/L where {low:.3g} to {high:.3g} is "
            "allowed; the water alone brings {water:.3g}.",
            water=one.from_water,
            **told,
        )
    return tr(
        "{element} is above its band: {total:.3g} mg/L where {low:.3g} to {high:.3g} is allowed.",
        **told,
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
    heads = [tr("Fertiliser"), tr("In a litre as made")]
    heads += [
        tr("In {volume} of stock {letter}", volume=volume, letter=stock.letter) for stock in stocks
    ]
    heads.append(
        tr("{currency} for 1000 L", currency=currency)
        if showing.system != "us"
        else tr("{currency} for 1000 gal", currency=currency)
    )
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
        cells.append(
            number_text(cost, ".2f")
            if cost >= SMALLEST_SUM
            else tr("under {amount:g}", amount=SMALLEST_SUM)
        )
        hazard = tr(planned.fertilisers[key].hazard)
        label = escape(tr(planned.fertilisers[key].label))
        note = f"<br><small>{escape(hazard)}</small>" if hazard else ""
        body = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        lines.append(f'<tr><th scope="row">{label}{note}</th>{body}</tr>')
    blank = "<td></td>" * (len(heads) - 2)
    lines.append(
        f'<tr><th scope="row">{escape(tr("Together"))}</th>{blank}'
        f"<td><b>{number_text(total, '.2f')}</b></td></tr>"
    )
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    return (
        '<div class="sk-scroll" tabindex="0" role="region" '
        f'aria-label="{escape(tr("Recipe and stocks"))}">'
        f'<table class="sk-table"><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )


def dose_sentences(mixing: Mixing, showing: Showing) -> list[str]:
    """Return how the tank is filled from the stocks."""
    letters = list_text([stock.letter for stock in mixing.stocks.stocks])
    less = 100 / (mixing.stocks.dilution + 1)
    return [
        tr(
            "For the full tank, {tank}: {each} of each stock ({letters}) and {water} of water. Most "
            "of the water first, one stock, stir, the next stock, stir, the rest of the water.",
            tank=litres(mixing.tank_volume, showing),
            each=litres(mixing.dose.each, showing),
            letters=letters,
            water=litres(mixing.dose.water, showing),
        ),
        tr(
            "1 : {dilution:g} means one part of stock in {dilution:g} parts in all; a doser that "
            "counts 1 + {dilution:g} gives {less:.2g} % less. {volume} of each stock make {served} "
            "of this solution.",
            dilution=mixing.stocks.dilution,
            less=less,
            volume=litres(mixing.stocks.volume, showing),
            served=litres(mixing.served, showing),
        ),
    ]
