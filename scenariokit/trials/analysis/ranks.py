"""Tests by ranks, for yields that no normal curve fits: Kruskal-Wallis and Friedman."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.analysis.comparisons import adjust, two_sided
from scenariokit.trials.analysis.letters import compact_letters
from scenariokit.trials.plots import FloatArray, PlotTable, factor_text

Adjustment = Literal["none", "bonferroni", "holm"]
ADJUSTMENTS: tuple[Adjustment, ...] = ("none", "bonferroni", "holm")


@dataclass(frozen=True)
class RankPair:
    """Two treatments side by side, by ranks.

    Parameters
    ----------
    first, second : str
        Their levels.
    difference : float
        First minus second: of mean ranks (Kruskal-Wallis) or of rank sums (Friedman).
    p : float
        Chance of so large a difference if they were alike.
    differs : bool
        Whether p lies below 1 - confidence.
    """

    first: str
    second: str
    difference: float
    p: float
    differs: bool


@dataclass(frozen=True)
class RankTest:
    """A test by ranks.

    Parameters
    ----------
    name : str
        ``"Kruskal-Wallis"`` or ``"Friedman"``.
    statistic : float
        H, or Friedman's chi-squared; allows for ties.
    df : int
        Degrees of freedom.
    p : float
        Chance of a larger one, by the chi-squared distribution.
    ranks : dict of str to float
        Level to its mean rank (Kruskal-Wallis) or rank sum (Friedman); the highest yield
        has the highest rank.
    pairs : tuple of RankPair
        Every pair.
    letters : dict of str to str
        Level to letters, the highest rank first.
    notes : tuple of str
        What a reader must know.
    """

    name: str
    statistic: float
    df: int
    p: float
    ranks: dict[str, float]
    pairs: tuple[RankPair, ...]
    letters: dict[str, str]
    notes: tuple[str, ...]


def kruskal_wallis(
    plots: PlotTable,
    factor: str,
    *,
    adjustment: Adjustment = "none",
    confidence: float = 0.95,
) -> RankTest:
    """Return the test by ranks of a completely randomised trial, with every pair.

    H = [Σ R²/n - N (N+1)²/4] / S²,  S² = [Σ r² - N (N+1)²/4] / (N - 1)

    r are the ranks of all N plots, ties sharing their mean; R and n the rank sum and
    the plots of a treatment. Two of the k treatments are compared by
    t = (R1/n1 - R2/n2) / √(S² (N - 1 - H)/(N - k) (1/n1 + 1/n2)) with N - k degrees of freedom.

    Parameters
    ----------
    plots : PlotTable
        The plots; those not harvested are left out, and a note says so.
    factor : str
        The factor compared.
    adjustment : {'none', 'bonferroni', 'holm'}
        Whether the pairs' chances allow for their number.
    confidence : float
        Of the statements on pairs.

    Returns
    -------
    RankTest

    Raises
    ------
    RangeError
        If the factor is not recorded or has one level only, or an option is not known.
    InfeasibleError
        If each treatment has one plot, or all yields are alike.

    Notes
    -----
    The chi-squared distribution is rough below five plots of each treatment.

    References
    ----------
    Kruskal and Wallis 1952, J. American Statistical Association 47:583; Conover 1999,
    Practical Nonparametric Statistics, 3rd edition, section 5.2 (pairs); from memory.

    Examples
    --------
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8], {"method": tuple("AAABBB")})
    >>> found = kruskal_wallis(plots, "method")
    >>> round(found.statistic, 3), found.ranks
    (3.857, {'A': 2.0, 'B': 5.0})
    """
    level = _options("kruskal_wallis", plots, (factor,), adjustment, confidence)
    known = plots.known()
    ranks = _ranks(known.yields)
    codes, names = known.codes(factor), known.levels(factor)
    counts = np.bincount(codes).astype(float)
    total, groups = len(known), len(names)
    if total == groups:
        raise InfeasibleError(
            tr(
                "kruskal_wallis: each {factor} has one plot, so that nothing shows by how much plots "
                "treated alike differ. Possible: two or more plots of some",
                factor=factor_text(factor),
            )
        )
    middle = total * (total + 1) ** 2 / 4
    spread = float((ranks**2).sum() - middle) / (total - 1)
    if spread < 1e-9:
        raise InfeasibleError(tr("kruskal_wallis: all yields are alike. Possible: nothing to rank"))
    means = np.bincount(codes, ranks) / counts
    h = float((counts * means**2).sum() - middle) / spread
    i, j = np.triu_indices(groups, 1)
    left = max(spread * (total - 1 - h) / (total - groups), 0.0)
    errors = np.sqrt(left * (1 / counts[i] + 1 / counts[j]))
    p = adjust(_pair_chances(means[i] - means[j], errors, total - groups), adjustment)
    notes = [*plots.notes, *_lost(plots)]
    if counts.min() < 5:
        notes.append(tr("The chance is rough: some treatments have fewer than five plots."))
    return _result(
        "Kruskal-Wallis", h, dict(zip(names, means.tolist(), strict=True)), p, level, notes
    )


def friedman(
    plots: PlotTable,
    factor: str,
    *,
    block: str = "block",
    adjustment: Adjustment = "none",
    confidence: float = 0.95,
) -> RankTest:
    """Return the test by ranks within blocks, with every pair.

    χ² = (k - 1) (Σ R² - b C) / (A - C),  A = Σ r²,  C = b k (k + 1)²/4

    r are the ranks within each of b blocks, ties sharing their mean; R are the rank sums of the k treatments. Two are compared by
    t = (R1 - R2) / √(2 (b A - Σ R²) / ((b - 1) (k - 1))) with (b - 1) (k - 1) degrees of freedom.

    Parameters
    ----------
    plots : PlotTable
        The plots, one of each treatment in each block. A block with a plot not harvested is
        left out whole, and a note says so.
    factor : str
        The factor compared.
    block : str
        The factor that groups like plots.
    adjustment : {'none', 'bonferroni', 'holm'}
        Whether the pairs' chances allow for their number.
    confidence : float
        Of the statements on pairs.

    Returns
    -------
    RankTest

    Raises
    ------
    RangeError
        If a factor is not recorded or has one level only, or an option is not known.
    InfeasibleError
        If a block has a treatment twice, fewer than two blocks are whole, or no block tells
        the treatments apart.

    References
    ----------
    Friedman 1937, J. American Statistical Association 32:675; Conover 1999, Practical
    Nonparametric Statistics, 3rd edition, section 5.8 (ties, pairs); from memory.

    Examples
    --------
    >>> plots = PlotTable(
    ...     [4.1, 4.4, 5.0, 5.6, 6.2, 6.0],
    ...     {"method": ("A", "A", "B", "B", "C", "C"), "block": ("1", "2") * 3},
    ... )
    >>> found = friedman(plots, "method")
    >>> found.statistic, found.ranks
    (4.0, {'A': 2.0, 'B': 4.0, 'C': 6.0})
    """
    level = _options("friedman", plots, (factor, block), adjustment, confidence)
    names = plots.levels(factor)
    square, left_out = _whole_blocks(plots, factor, block)
    blocks, k = square.shape
    ranks = np.array([_ranks(row) for row in square])
    sums = ranks.sum(axis=0)
    all_squares = float((ranks**2).sum())
    middle = blocks * k * (k + 1) ** 2 / 4
    if all_squares - middle < 1e-9:
        raise InfeasibleError(tr("friedman: within each block all yields are alike"))
    of_sums = float((sums**2).sum())
    statistic = (k - 1) * (of_sums - blocks * middle) / (all_squares - middle)
    df = (blocks - 1) * (k - 1)
    error = np.sqrt(max(2 * (blocks * all_squares - of_sums) / df, 0.0))
    i, j = np.triu_indices(k, 1)
    gaps = sums[i] - sums[j]
    p = adjust(_pair_chances(gaps, np.full(len(gaps), error), df), adjustment)
    notes = [*plots.notes]
    if left_out:
        notes.append(
            tr(
                "Blocks with a plot not harvested are left out: {blocks}.",
                blocks=", ".join(left_out),
            )
        )
    return _result(
        "Friedman", statistic, dict(zip(names, sums.tolist(), strict=True)), p, level, notes
    )


def _result(
    name: str,
    statistic: float,
    ranks: dict[str, float],
    p: FloatArray,
    level: float,
    notes: list[str],
) -> RankTest:
    from scipy.special import chdtrc

    pairs = tuple(
        RankPair(a, b, ranks[a] - ranks[b], float(one), bool(one < 1 - level))
        for (a, b), one in zip(itertools.combinations(ranks, 2), p, strict=True)
    )
    different = [(pair.first, pair.second) for pair in pairs if pair.differs]
    df = len(ranks) - 1
    return RankTest(
        name=name,
        statistic=statistic,
        df=df,
        p=float(chdtrc(df, statistic)),
        ranks=ranks,
        pairs=pairs,
        letters=compact_letters(ranks, different),
        notes=tuple(notes),
    )


def _ranks(values: FloatArray) -> FloatArray:
    from scipy.stats import rankdata

    found: FloatArray = rankdata(values)
    return found


def _pair_chances(gaps: FloatArray, errors: FloatArray, df: int) -> FloatArray:
    """Return the chance of each difference; without error a difference is certain."""
    sure = np.where(gaps == 0, 1.0, 0.0)
    safe = np.where(errors > 0, errors, 1.0)
    found: FloatArray = np.where(errors > 0, two_sided(gaps / safe, df), sure)
    return found


def _whole_blocks(plots: PlotTable, factor: str, block: str) -> tuple[FloatArray, list[str]]:
    """Return the yields, a row for each whole block, and the names of the other blocks."""
    names = plots.levels(factor)
    rows: dict[str, FloatArray] = {b: np.full(len(names), np.nan) for b in plots.levels(block)}
    seen = set()
    columns = zip(plots.column(block), plots.codes(factor), plots.yields, strict=True)
    for where, code, value in columns:
        if (where, code) in seen:
            raise InfeasibleError(
                tr(
                    "friedman: {block} {where} has {factor} {level} in more than one plot. Possible: "
                    "their mean as one plot, or analyse",
                    block=factor_text(block),
                    where=where,
                    factor=factor_text(factor),
                    level=names[code],
                )
            )
        seen.add((where, code))
        rows[where][code] = value
    whole = [name for name, row in rows.items() if not np.isnan(row).any()]
    if len(whole) < 2:
        raise InfeasibleError(
            tr(
                "friedman: {count} {block}s have every {factor} harvested and two or more are "
                "needed. Possible: analyse, which takes blocks with plots missing",
                count=len(whole),
                block=factor_text(block),
                factor=factor_text(factor),
            )
        )
    return np.array([rows[name] for name in whole]), [name for name in rows if name not in whole]


def _lost(plots: PlotTable) -> list[str]:
    lost = len(plots) - len(plots.known())
    return (
        [
            tr(
                "{lost} of {count} plots were not harvested and are left out.",
                lost=lost,
                count=len(plots),
            )
        ]
        if lost
        else []
    )


def _options(
    subject: str,
    plots: PlotTable,
    factors: tuple[str, ...],
    adjustment: str,
    confidence: float,
) -> float:
    """Return the confidence; refuse options and factors that cannot be used."""
    level = checked_floats(subject, {"confidence": (confidence, "confidence")})["confidence"]
    known = plots.known()
    problems = [
        Problem(factor, "", tr("is not recorded"), ", ".join(plots.factors), kind="range")
        for factor in factors
        if factor not in plots.factors
    ]
    if adjustment not in ADJUSTMENTS:
        allowed = ", ".join(ADJUSTMENTS)
        problems.append(
            Problem("adjustment", adjustment, tr("is not known"), allowed, kind="range")
        )
    problems += [
        Problem(
            factor, "", tr("has fewer than two levels harvested"), tr("two or more"), kind="range"
        )
        for factor in factors
        if factor in plots.factors and len(known.levels(factor)) < 2
    ]
    if problems:
        raise argument_error(problems, subject)
    return float(level)
