"""Sentences on interactions, built from the numbers."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from scenariokit.errors import Problem, argument_error
from scenariokit.language import number_text, tr, tr_n
from scenariokit.quantities import checked_floats
from scenariokit.trials.analysis.anova import Analysis
from scenariokit.trials.analysis.comparisons import usable_means
from scenariokit.trials.analysis.means import MeanSet, t_point, variance
from scenariokit.trials.plots import factor_text


@dataclass(frozen=True)
class _Gap:
    """The difference of two levels of one factor under one level of another."""

    value: float
    half: float

    @property
    def shown(self) -> bool:
        return abs(self.value) > self.half

    @property
    def size(self) -> str:
        return f"{number_text(abs(self.value), '.2g')} kg/m²"


@dataclass(frozen=True)
class _Reversal:
    """Two levels that change places between two levels of the other factor."""

    pair: tuple[str, str]
    places: tuple[str, str]
    gaps: tuple[_Gap, _Gap]

    @property
    def depth(self) -> float:
        return min(abs(gap.value) for gap in self.gaps)


def interaction_words(
    analysis: Analysis,
    source: str,
    *,
    under: str | None = None,
    confidence: float = 0.95,
    most: int = 3,
) -> tuple[str, ...]:
    """Return sentences that say whether one factor's differences depend on another.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str
        An interaction of two factors, such as ``"method:variety"``.
    under : str, optional
        The factor that sets the conditions, "under method A"; the first of the two if
        left out. Levels of the other are compared.
    confidence : float
        A difference is called shown if its interval, pair by pair, leaves out zero; the
        interaction if p is below 1 - confidence.
    most : int
        Most reversals told, the deepest first; what is left untold is counted.

    Returns
    -------
    tuple of str
        First whether the interaction is shown, then the reversals.

    Raises
    ------
    RangeError
        If `source` is no interaction of two factors, `under` none of them, `most` is
        negative, or `confidence` lies outside its range.
    InfeasibleError
        If the plots give fewer than two means, or no error.

    Notes
    -----
    A reversal whose differences are not both shown may be chance; the sentence says so.
    Each is looked at alone: among many pairs some reverse by chance.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import completely_randomised
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable(
    ...     [4.0, 4.2, 5.9, 6.1, 6.0, 5.8, 4.1, 3.9],
    ...     {"method": tuple("AAAABBBB"), "variety": ("1", "1", "2", "2") * 2},
    ... )
    >>> found = analyse(plots, completely_randomised("method", "variety"))
    >>> for sentence in interaction_words(found, "method:variety"):
    ...     print(sentence)
    The differences of variety depend on method (F = 361.00, p < 0.001).
    Under method B variety 2 yields 1.9 kg/m² less than variety 1, although under method A it yields 1.9 kg/m² more; both differences are shown.
    """
    given = {"confidence": (confidence, "confidence")}
    level = float(checked_floats("interaction_words", given)["confidence"])
    condition, compared = _factors(analysis, source, under, most)
    found = usable_means(analysis, source, "interaction_words")
    first = _verdict(analysis, source, condition, compared, level)
    reversals = _reversals(analysis, found, condition, compared, level)
    if not reversals:
        same = tr(
            "Every {condition} ranks the levels of {compared} alike, as far as they are known.",
            condition=factor_text(condition),
            compared=factor_text(compared),
        )
        return (first, same)
    told = [_told(one, condition, compared) for one in reversals[:most]]
    left = len(reversals) - len(told)
    rest = (
        [
            tr_n(
                "{count} more such reversal is not told here.",
                "{count} more such reversals are not told here.",
                left,
            )
        ]
        if left
        else []
    )
    return (first, *told, *rest)


def _factors(analysis: Analysis, source: str, under: str | None, most: int) -> tuple[str, str]:
    term = analysis.term(source)
    condition = term[0] if under is None else under
    problems = []
    if len(term) != 2:
        problems.append(
            Problem("source", source, tr("is no interaction of two factors"), kind="range")
        )
    elif condition not in term:
        problems.append(
            Problem("under", condition, tr("is not in it"), ", ".join(term), kind="range")
        )
    if most < 0:
        problems.append(
            Problem("most", str(most), tr("is negative"), tr("0 or more"), kind="range")
        )
    if problems:
        raise argument_error(problems, "interaction_words")
    return condition, term[1] if condition == term[0] else term[0]


def _verdict(analysis: Analysis, source: str, condition: str, compared: str, level: float) -> str:
    row = next((row for row in analysis.rows if row.source == source), None)
    if row is None or row.f is None or row.p is None:
        return tr(
            "These plots cannot tell whether the differences of {compared} depend on {condition}.",
            compared=factor_text(compared),
            condition=factor_text(condition),
        )
    chance = (
        f"p < {number_text(0.001, '.3f')}" if row.p < 0.001 else f"p = {number_text(row.p, '.3f')}"
    )
    numbers = f"(F = {number_text(row.f, '.2f')}, {chance})"
    if row.p < 1 - level:
        return tr(
            "The differences of {compared} depend on {condition} {numbers}.",
            compared=factor_text(compared),
            condition=factor_text(condition),
            numbers=numbers,
        )
    return tr(
        "That the differences of {compared} depend on {condition} is not shown {numbers}.",
        compared=factor_text(compared),
        condition=factor_text(condition),
        numbers=numbers,
    )


def _reversals(
    analysis: Analysis, found: MeanSet, condition: str, compared: str, level: float
) -> list[_Reversal]:
    """Return the pairs that change places, the deepest first."""
    factors = analysis.term(
        ":".join(t for t in analysis.design.treatments if t in (condition, compared))
    )
    ahead = factors[0] == condition
    place = {cell: i for i, cell in enumerate(found.cells)}
    plots = analysis.model.plots

    def gap(where: str, pair: tuple[str, str]) -> _Gap | None:
        cells = [(where, one) if ahead else (one, where) for one in pair]
        if any(cell not in place for cell in cells):
            return None
        i, j = (place[cell] for cell in cells)
        parts = (part[i, i] + part[j, j] - 2 * part[i, j] for part in (found.within, found.between))
        square, df = variance(analysis, *parts)
        return _Gap(
            float(found.values[i] - found.values[j]), float(t_point(level, df) * square**0.5)
        )

    reversals = []
    for pair in itertools.combinations(plots.levels(compared), 2):
        gaps = {where: gap(where, pair) for where in plots.levels(condition)}
        for one, two in itertools.combinations(gaps, 2):
            a, b = gaps[one], gaps[two]
            if a is not None and b is not None and a.value * b.value < 0:
                reversals.append(_Reversal(pair, (one, two), (a, b)))
    return sorted(reversals, key=lambda reversal: -reversal.depth)


def _told(reversal: _Reversal, condition: str, compared: str) -> str:
    """Return a reversal as a sentence, from the view of the second level of the pair."""
    first, second = reversal.pair
    # A positive difference means that the second level is behind there.
    behind, ahead = (0, 1) if reversal.gaps[0].value > 0 else (1, 0)
    shown = [gap.shown for gap in reversal.gaps]
    if all(shown):
        verdict = tr("both differences are shown")
    elif any(shown):
        only = reversal.places[shown.index(True)]
        verdict = tr(
            "only the difference under {condition} {only} is shown",
            condition=factor_text(condition),
            only=only,
        )
    else:
        verdict = tr("neither difference is shown, so this may be chance")
    return tr(
        "Under {condition} {where} {compared} {second} yields {less} less than {compared} "
        "{first}, although under {condition} {elsewhere} it yields {more} more; {verdict}.",
        condition=factor_text(condition),
        where=reversal.places[behind],
        compared=factor_text(compared),
        second=second,
        less=reversal.gaps[behind].size,
        first=first,
        elsewhere=reversal.places[ahead],
        more=reversal.gaps[ahead].size,
        verdict=verdict,
    )
