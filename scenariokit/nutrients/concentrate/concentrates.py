"""Stock concentrates from a recipe: what goes into which, and whether it stays dissolved."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scenariokit.catalog.entries import Entry
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.fertilisers import Fertiliser, content_of, shelf
from scenariokit.nutrients.concentrate.compatibility import checked_amounts, is_micronutrient
from scenariokit.nutrients.concentrate.placing import (
    LETTERS,
    Checked,
    Part,
    Parts,
    Setup,
    arranged,
    checked_part,
    noted,
    refusals,
)
from scenariokit.nutrients.concentrate.stock_labels import making_lines
from scenariokit.nutrients.concentrate.stock_plan import (
    CAUTIONS,
    SolubilityCheck,
    Stock,
    StockPlan,
    in_sentence,
)
from scenariokit.quantities import Expect, with_unit
from scenariokit.units import QuantityLike

GREATEST_DILUTION = 10_000


def plan_stocks(
    rates: Mapping[str, QuantityLike],
    fertilisers: Mapping[str, Fertiliser] | None = None,
    *,
    dilution: QuantityLike = 100,
    volume: QuantityLike = "10 L",
    stocks: int = 2,
    coldest: QuantityLike = "10 degC",
    margin: QuantityLike = 0.7,
    assign: Mapping[str, str] | None = None,
) -> StockPlan:
    """Return stocks for a recipe: strength = rate x F, weighed = strength x volume.

    A is the calcium stock, with chelated iron; B the sulfate and phosphate
    stock, with all that may go into either, micronutrients among it. If B then
    came too near to saturation, half of each main salt that may go into either
    (potassium nitrate, ...) goes into A. With three stocks the micronutrients
    stand apart in C; chelated iron stays in A.

    Parameters
    ----------
    rates : mapping of str to quantity
        Fertiliser id to grams in each litre of ready solution [g/L], scalars.
    fertilisers : mapping of str to Fertiliser, optional
        Each by its id; the shipped salts if left out.
    dilution : float, optional
        F, total parts for one part of each stock: 100 means 1 L of each stock
        in 100 L in all; see `dilution_from_ratio`.
    volume : quantity, optional
        Volume to make of each stock [L].
    stocks : int, optional
        1, 2 or 3. One alone serves only recipes that bear it.
    coldest : quantity, optional
        Coldest temperature of the store [degC], 0 to 25.
    margin : float, optional
        Share of a salt's solubility that a stock may hold, up to 1.
    assign : mapping of str to str, optional
        Fertiliser id to the letter of its stock, against the rules above.

    Returns
    -------
    StockPlan

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If a value cannot be used, a fertiliser or letter is unknown, or
        nothing is to be dissolved.
    InfeasibleError
        If a stock would hold what settles, or a salt would not stay dissolved:
        which, its strength and limit, and the greatest dilution that works.

    Notes
    -----
    Limits are those of each salt alone in the water that a litre of stock
    holds (`solubility`, `stock_water`), and the estimate of `common_ion_shares`
    for salts that several form together. Salts whose solubility is not known
    are named in the notes. Placing by rule and the margin of 0.7 are common
    practice, no published source.

    Warnings
    --------
    Acids go into no stock here; they are listed in ``apart`` and go into the
    tank last, acid into water, never water into acid. Concentrates harm if
    drunk and burn eyes: label them and lock them away from children.

    Examples
    --------
    >>> plan = plan_stocks({"calcium_nitrate": "1.18 g/L", "potassium_nitrate": "0.5 g/L"})
    >>> [f"{stock.letter}: {stock.name}" for stock in plan.stocks]
    ['A: calcium stock', 'B: stock of potassium nitrate']
    >>> f"{plan.stock('A').grams['calcium_nitrate']:.0f~P}"
    '1180 g'
    """
    setup, grams, more = _read(
        "plan_stocks", (rates, fertilisers), (stocks, coldest, margin, assign),
        {"dilution": (dilution, "dilution"),
         "volume": (volume, Expect("solution_volume", above_zero=True))},
    )  # fmt: skip
    factor, made = more["dilution"], more["volume"]
    if factor < stocks:
        raise InfeasibleError(
            tr(
                "plan_stocks: at a dilution of {dilution:g} the {stocks} stocks alone are more than "
                "the solution wanted",
                dilution=factor,
                stocks=stocks,
            )
        )
    acids = {name: rate for name, rate in grams.items() if _is_acid(setup, name)}
    parts = arranged(_concentrated(grams, setup, factor), setup)
    refused = refusals(parts, setup)
    if refused:
        raise InfeasibleError(
            tr(
                "plan_stocks: {refusals}. {way_out}",
                refusals=". ".join(refused),
                way_out=_way_out(grams, setup),
            )
        )
    found = tuple(_stock(letter, part, setup, made) for letter, part in parts.items() if part)
    return StockPlan(
        stocks=found,
        dilution=factor,
        volume=with_unit(made, "L"),
        coldest=with_unit(setup.coldest, "degC"),
        margin=setup.margin,
        rates=_quantities(grams, "g/L"),
        apart=_quantities(acids, "g/L"),
        fertilisers=Entry({name: setup.fertilisers[name] for name in grams}),
        notes=_notes(parts, setup, acids),
        cautions=tuple(tr(caution) for caution in CAUTIONS),
    )


def most_concentrated(
    rates: Mapping[str, QuantityLike],
    fertilisers: Mapping[str, Fertiliser] | None = None,
    *,
    stocks: int = 2,
    coldest: QuantityLike = "10 degC",
    margin: QuantityLike = 0.7,
    assign: Mapping[str, str] | None = None,
) -> int:
    """Return the greatest whole dilution at which `plan_stocks` succeeds, up to 10,000.

    Parameters
    ----------
    rates, fertilisers, stocks, coldest, margin, assign
        As for `plan_stocks`.

    Returns
    -------
    int
        F, total parts for one part of each stock.

    Raises
    ------
    UnitError, RangeError, ArgumentError
        As `plan_stocks`.
    InfeasibleError
        If no dilution works.

    Warnings
    --------
    The stronger the stock, the more a spill or a swallow does: local rules and
    the makers' safety data sheets decide.

    Examples
    --------
    >>> most_concentrated({"potassium_nitrate": "1 g/L"}, coldest="10 degC", margin=0.7)
    278
    """
    setup, grams, _ = _read(
        "most_concentrated", (rates, fertilisers), (stocks, coldest, margin, assign), {}
    )
    greatest = _greatest(grams, setup)
    if greatest is None:
        refused = refusals(arranged(_concentrated(grams, setup, stocks), setup), setup)
        raise InfeasibleError(
            tr("most_concentrated: no dilution works: {refusals}", refusals=". ".join(refused))
        )
    return greatest


def _read(
    subject: str,
    recipe: tuple[Any, Mapping[str, Fertiliser] | None],
    rules: tuple[Any, Any, Any, Mapping[str, str] | None],
    others: dict[str, tuple[Any, str | Expect]],
) -> tuple[Setup, dict[str, float], dict[str, float]]:
    """Return the rules of placing, plain rates above zero, and the other plain arguments."""
    rates, given = recipe
    stocks, coldest, margin, assign = rules
    shelved = shelf() if given is None else given
    grams, more = checked_amounts(
        subject, "rates", rates, shelved,
        {"coldest": (coldest, "store_temperature"),
         "margin": (margin, Expect("solubility_margin", above_zero=True)), **others},
    )  # fmt: skip
    problems = [*_stocks_problems(stocks), *_assign_problems(assign, grams, stocks, shelved)]
    kept = {name: rate for name, rate in grams.items() if rate > 0}
    if not any(shelved[name].kind != "acid" for name in kept):
        problems.append(Problem("rates", str(grams), tr("hold nothing to dissolve, acids aside")))
    if problems:
        raise argument_error(problems, subject)
    setup = Setup(shelved, stocks, more.pop("coldest"), more.pop("margin"), dict(assign or {}))
    return setup, kept, more


def _stocks_problems(stocks: Any) -> list[Problem]:
    if not isinstance(stocks, bool) and stocks in (1, 2, 3):
        return []
    return [
        Problem("stocks", str(stocks), tr("is not a number of stocks"), tr("1, 2 or 3"), "stocks=2")
    ]


def _assign_problems(
    assign: Any, rates: Mapping[str, float], stocks: Any, fertilisers: Mapping[str, Fertiliser]
) -> list[Problem]:
    """Return what cannot be true of a person's own placing."""
    if assign is None:
        return []
    if not isinstance(assign, Mapping):
        example = 'assign={"potassium_nitrate": "A"}'
        return [Problem("assign", str(assign), tr("must map fertilisers to letters"), "", example)]
    letters = LETTERS[:stocks] if stocks in (1, 2, 3) else LETTERS
    found = []
    for name, letter in assign.items():
        field = f"assign[{name}]"
        if name not in rates:
            found.append(Problem(field, str(letter), tr("is not in the recipe"), ", ".join(rates)))
        elif fertilisers[name].kind == "acid":
            found.append(Problem(field, str(letter), tr("is an acid, which goes into no stock")))
        if letter not in letters:
            reason = tr("is not a stock of this plan")
            found.append(Problem(field, str(letter), reason, ", ".join(letters)))
    return found


def _is_acid(setup: Setup, name: str) -> bool:
    return setup.fertilisers[name].kind == "acid"


def _concentrated(grams: Mapping[str, float], setup: Setup, factor: float) -> Part:
    """Return the strength [g/L] of each fertiliser in its stocks together; acids left out."""
    return {name: rate * factor for name, rate in grams.items() if not _is_acid(setup, name)}


def _greatest(grams: Mapping[str, float], setup: Setup) -> int | None:
    """Return the greatest whole dilution that is not refused, or None."""

    def works(factor: int) -> bool:
        return not refusals(arranged(_concentrated(grams, setup, factor), setup), setup)

    low, high = setup.stocks, GREATEST_DILUTION
    if works(high):
        return high
    if not works(low):
        return None
    # What is refused at one dilution is refused at every greater one.
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if works(middle) else (low, middle)
    return low


def _way_out(grams: Mapping[str, float], setup: Setup) -> str:
    greatest = _greatest(grams, setup)
    if greatest is None:
        return tr("No dilution works with these stocks: use more of them, or other salts")
    return tr(
        "The greatest dilution that works is {greatest}, 1 part in {greatest} in all",
        greatest=greatest,
    )


def _quantities(values: Mapping[str, float], unit: str) -> Entry:
    return Entry({name: with_unit(value, unit) for name, value in values.items()})


def _stock(letter: str, part: Part, setup: Setup, volume: float) -> Stock:
    """Return one stock with its weighing list, checks and make-up."""
    checks = checked_part(part, setup)
    part = _in_order(part, checks, setup)
    return Stock(
        name=_name(letter, part, setup),
        letter=letter,
        grams_per_litre=_quantities(part, "g/L"),
        grams=_quantities({name: value * volume for name, value in part.items()}, "g"),
        content=_quantities(content_of.floats(part, setup.fertilisers), "mg/L"),
        checks=tuple(_check(row) for row in checks),
        order=making_lines(letter, part, volume, setup.fertilisers),
    )


def _name(letter: str, part: Part, setup: Setup) -> str:
    """Return what to call a stock by what it holds."""
    main = [setup.fertilisers[name] for name in part]
    main = [fertiliser for fertiliser in main if not is_micronutrient(fertiliser)]
    if not main:
        return tr("micronutrient stock")
    kinds = {fertiliser.stock for fertiliser in main} - {"either"}
    if len(kinds) == 1:
        return tr("calcium stock") if "calcium" in kinds else tr("sulfate and phosphate stock")
    if kinds:
        return tr("mixed stock {letter}", letter=letter)
    return tr(
        "stock of {salts}",
        salts=", ".join(in_sentence(tr(fertiliser.label)) for fertiliser in main),
    )


def _in_order(part: Part, checks: list[Checked], setup: Setup) -> dict[str, float]:
    """Return a stock's salts as they are dissolved: nearest to its limit first, traces last.

    What hardly dissolves wants the warmest and freshest water.
    """
    shares = {row.salt: row.share or 0.0 for row in checks if not row.together}

    def place(name: str) -> tuple[bool, float]:
        return is_micronutrient(setup.fertilisers[name]), -shares[name]

    return {name: part[name] for name in sorted(part, key=place)}


def _check(row: Checked) -> SolubilityCheck:
    limit = None if row.limit is None else with_unit(row.limit, "g/L")
    strength = with_unit(row.strength, "g/L")
    return SolubilityCheck(row.salt, strength, limit, row.share, row.ok, row.together)


def _notes(parts: Parts, setup: Setup, acids: Mapping[str, float]) -> tuple[str, ...]:
    """Return what to keep an eye on, stock by stock, then acids."""
    found = noted(parts, setup)
    found += [
        tr(
            "{acid} goes into no stock: add it to the tank last, with care, acid into water, "
            "{rate:.3g} g of pure acid for each litre",
            acid=tr(setup.fertilisers[name].label),
            rate=rate,
        )
        for name, rate in acids.items()
    ]
    return tuple(found)
