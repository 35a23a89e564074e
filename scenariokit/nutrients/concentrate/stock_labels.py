"""Words for stock concentrates: how to make them up, and the label on the container."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import list_text, mark, number_text, signs, tr
from scenariokit.nutrients.composition.fertilisers import Fertiliser
from scenariokit.nutrients.concentrate.stock_plan import Stock, StockPlan, in_sentence
from scenariokit.parameters import UnitSystem
from scenariokit.quantities import with_unit

WIDTH = 76

_FIRST_AID = (
    mark(
        "In the eyes: rinse with much clean water for several minutes, take out contact "
        "lenses, go on rinsing, see a doctor."
    ),
    mark(
        "Swallowed: rinse the mouth, do not make the person vomit, call the poison centre or "
        "the local emergency number at once. Show this label and the safety data sheets."
    ),
    mark("On the skin: take off wet clothes, wash with much water."),
)
_KEEP = mark(
    "KEEP LOCKED AWAY FROM CHILDREN. Not to drink. Never in a food or drink bottle. Keep "
    "dark, free of frost, and away from fuel, acids and bleach. Goggles and gloves when "
    "pouring."
)


def making_lines(
    letter: str,
    part: Mapping[str, float],
    volume: float,
    fertilisers: Mapping[str, Fertiliser],
    system: UnitSystem = "metric",
) -> tuple[str, ...]:
    """Return how to make up a stock, line by line, in the order of `part`.

    Parameters
    ----------
    letter : str
        Of the stock.
    part : mapping of str to float
        Fertiliser id to its strength [g/L], as they are dissolved.
    volume : float
        Volume to make [L].
    fertilisers : mapping of str to Fertiliser
        For their labels.
    system : {'metric', 'us'}
        Units to write in.

    Returns
    -------
    tuple of str

    Notes
    -----
    Two thirds of warm water first, less where salts take much room; one salt
    after the other, each clear before the next: common practice, no published
    source.

    Examples
    --------
    >>> from scenariokit.nutrients.composition.fertilisers import shelf
    >>> lines = making_lines("A", {"calcium_nitrate": 118.0}, 10, shelf())
    >>> lines[1]
    '2. Stir in 1180 g of calcium nitrate tetrahydrate until all is clear.'
    """
    # Salts take up to half a litre a kilogram: leave room to rinse in the last of them.
    first = volume * min(2 / 3, 0.9 * (1 - sum(part.values()) / 2000))
    warm = tr("86 to 104 °F") if system == "us" else tr("30 to 40 °C")
    lines = [
        tr(
            "Fill {water} of warm water, {warmth}, into a clean container.",
            water=_litres(first, system),
            warmth=warm,
        )
    ]
    lines += [
        tr(
            "Stir in {mass} of {salt} until all is clear.",
            mass=mass_text(strength * volume, system),
            salt=in_sentence(tr(fertilisers[name].label)),
        )
        for name, strength in part.items()
    ]
    lines.append(
        tr(
            "Let it cool, top up with water to the {volume} mark, and stir.",
            volume=_litres(volume, system),
        )
    )
    lines.append(
        tr("Close it and put on the label: stock {letter}, what it holds, the date.", letter=letter)
    )
    return tuple(f"{number}. {line}" for number, line in enumerate(lines, start=1))


def _litres(volume: float, system: UnitSystem) -> str:
    """Return litres to read, as gallons on request."""
    if system == "us":
        return f"{number_text(with_unit(volume, 'L').m_as('gal'), '.3g')} gal"
    return f"{number_text(volume, '.3g')} L"


def mass_text(grams: float, system: UnitSystem = "metric") -> str:
    """Return a mass to read: mg, g or kg by its size; ounces from a gram up on request.

    Examples
    --------
    >>> mass_text(0.0277), mass_text(505.51), mass_text(12000)
    ('27.7 mg', '505.5 g', '12 kg')
    >>> mass_text(505.51, "us"), mass_text(0.0277, "us")
    ('17.83 oz', '27.7 mg')
    """
    if system == "us" and grams >= 1:
        return f"{_digits(with_unit(grams, 'g').m_as('oz'))} oz"
    if grams < 0.1:
        return f"{_digits(1000 * grams)} mg"
    return f"{_digits(grams)} g" if grams < 10_000 else f"{_digits(grams / 1000)} kg"


def _digits(value: float) -> str:
    """Return a number with four significant digits and no exponent."""
    text = np.format_float_positional(value, 4, unique=False, fractional=False, trim="-")
    return text.replace(".", signs()[0])


def stock_label(
    stock: Stock, plan: StockPlan, *, made_on: datetime.date, system: UnitSystem = "metric"
) -> str:
    """Return the label of a stock as text to print, lines under 78 signs.

    Parameters
    ----------
    stock : Stock
        One of the plan.
    plan : StockPlan
        For the dilution and the names and cautions of its fertilisers.
    made_on : date
        When it was made up.
    system : {'metric', 'us'}, optional
        Grams and litres, or avoirdupois ounces and US gallons.

    Returns
    -------
    str
        What it holds, how it is used, what never to do, hazards, first aid.

    Raises
    ------
    ArgumentError
        If the stock is not in the plan, `made_on` is no date, or the system is
        unknown.

    Warnings
    --------
    The hazard words are those of the dry salts and the first aid is general,
    from memory: the makers' safety data sheets and local rules decide. A child
    must never be left with this container.

    Examples
    --------
    >>> import datetime
    >>> from scenariokit.nutrients.concentrate.concentrates import plan_stocks
    >>> plan = plan_stocks({"calcium_nitrate": "1.18 g/L", "potassium_nitrate": "0.5 g/L"})
    >>> label = stock_label(plan.stock("A"), plan, made_on=datetime.date(2026, 3, 1))
    >>> print(label.splitlines()[1])
    STOCK A: CALCIUM STOCK
    """
    problems = _label_problems(stock, plan, made_on, system)
    if problems:
        raise argument_error(problems, "stock_label")
    rule = "=" * WIDTH
    blocks = [
        tr("STOCK {letter}: {name}", letter=stock.letter, name=stock.name.upper()),
        tr(
            "Plant food concentrate. Made on {date}. Volume made: {volume}.",
            date=made_on.isoformat(),
            volume=_volume(plan.volume, system),
        ),
        *_holds(stock, plan, system),
        _use(plan, system),
        _apart(stock, plan),
        *_hazards(stock, plan),
        *(
            tr("FIRST AID. {first_aid}", first_aid=tr(text)) if n == 0 else tr(text)
            for n, text in enumerate(_FIRST_AID)
        ),
        tr(_KEEP),
    ]
    lines = [line for block in blocks for line in _wrapped(block)]
    return "\n".join([rule, *lines, rule]) + "\n"


def _label_problems(stock: Any, plan: Any, made_on: Any, system: Any) -> list[Problem]:
    found = []
    if stock not in plan.stocks:
        letters = ", ".join(row.letter for row in plan.stocks)
        found.append(Problem("stock", getattr(stock, "letter", str(stock)), tr("is not in the plan"),
                             letters))  # fmt: skip
    if not isinstance(made_on, datetime.date):
        found.append(Problem("made_on", str(made_on), tr("is no date"), tr("a datetime.date"),
                             "made_on=datetime.date(2026, 3, 1)"))  # fmt: skip
    if system not in ("metric", "us"):
        found.append(Problem("system", str(system), tr("is not known"), "'metric', 'us'"))
    return found


def _wrapped(text: str) -> list[str]:
    """Return one block as lines; a list item keeps its indent."""
    indent = "    " if text.startswith("  ") else ""
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=True)


def _volume(volume: Any, system: UnitSystem) -> str:
    unit, name = ("gal", "US gal") if system == "us" else ("L", "L")
    return f"{_digits(volume.m_as(unit))} {name}"


def _holds(stock: Stock, plan: StockPlan, system: UnitSystem) -> Iterable[str]:
    """Yield a heading and one line for each fertiliser."""
    yield tr("Each US gallon holds:") if system == "us" else tr("Each litre holds:")
    for name, strength in stock.grams_per_litre.items():
        grams = strength.m_as("g/gal" if system == "us" else "g/L")
        yield f"  {mass_text(grams, system)}  {tr(plan.fertilisers[name].label)}"


def _use(plan: StockPlan, system: UnitSystem) -> str:
    factor = plan.dilution
    if system == "us":
        return tr(
            "USE: 1 part in {parts:g} parts in all, that is {dose} US fl oz in each US gallon of "
            "ready solution, for the full strength. This volume makes {volume}.",
            parts=factor,
            dose=_digits(128 / factor),
            volume=_volume(plan.serves, system),
        )
    return tr(
        "USE: 1 part in {parts:g} parts in all, that is {dose} mL in each litre of ready "
        "solution, for the full strength. This volume makes {volume}.",
        parts=factor,
        dose=_digits(1000 / factor),
        volume=_volume(plan.serves, system),
    )


def _apart(stock: Stock, plan: StockPlan) -> str:
    """Return with which stocks it is used, and that they never meet undiluted."""
    others = [row.letter for row in plan.stocks if row.letter != stock.letter]
    if not others:
        return tr("DILUTE BEFORE USE. Never mix it undiluted with another concentrate.")
    return tr(
        "Use with the same amount of stock {letters}. NEVER MIX THE STOCKS UNDILUTED: they "
        "settle and the feed is lost. Water first, one stock, stir, then the next.",
        letters=list_text(others),
    )


def _hazards(stock: Stock, plan: StockPlan) -> Iterable[str]:
    """Yield the hazard words of each fertiliser."""
    yield tr("HAZARDS of what it is made of; read the safety data sheets:")
    for name in stock.grams_per_litre:
        fertiliser = plan.fertilisers[name]
        words = tr(fertiliser.hazard) or tr("not stated here: see the maker's safety data sheet")
        yield f"  {tr(fertiliser.label)}: {words}"
