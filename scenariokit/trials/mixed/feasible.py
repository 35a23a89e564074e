"""What a mixed model can be asked of the plots at hand."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, RecordError, argument_error
from scenariokit.language import mark, tr
from scenariokit.trials.mixed.gls import Products, products
from scenariokit.trials.mixed.matrices import FixedPart, Term, group_codes
from scenariokit.trials.mixed.reml import can_be_told_apart
from scenariokit.trials.plots import PlotTable, factor_text, factors_text

SUBJECT = "mixed_model"

SITES = ("study", "site", "season")
"""Factors that are taken as random by `random_terms`, in this order."""


NO_VARIATION = mark(
    "plots treated alike within a group gave exactly the same: there is no variation to "
    "judge differences by; check whether weights were copied or averaged"
)


def term_name(term: Term) -> str:
    """Return the factors of a term as a reader sees them."""
    return " × ".join(factor_text(factor) for factor in term)


def check_factors(
    plots: PlotTable, treatments: Term, random: tuple[Term, ...] | None, adjust: Term
) -> None:
    """Raise an error that lists every factor that cannot be used."""
    named = [*treatments, *adjust, *itertools.chain(*(random or ()))]
    known = ", ".join(plots.factors)
    missing = [
        Problem("factor", name, tr("is not recorded"), known)
        for name in dict.fromkeys(named)
        if name not in plots.factors
    ]
    if missing:
        raise RecordError(missing, SUBJECT)
    problems = []
    fixed = (*treatments, *adjust)
    if not treatments:
        problems.append(Problem("treatments", "", tr("is empty"), known, kind="range"))
    if not len(plots):
        raise InfeasibleError(tr("no plot was harvested: there is nothing to analyse"))
    for name in dict.fromkeys(fixed):
        if fixed.count(name) > 1:
            problems.append(Problem("factor", name, tr("is named twice as fixed"), kind="range"))
        if len(plots.levels(name)) < 2:
            reason = tr("has one level only among the harvested plots")
            problems.append(Problem("factor", name, reason, tr("two levels or more"), kind="range"))
    for term in random or ():
        if not term or len(set(term)) < len(term):
            problems.append(
                Problem(
                    "random", term_name(term), tr("is not a set of factors"), known, kind="range"
                )
            )
    if problems:
        raise argument_error(problems, SUBJECT)


def check_fixed(plots: PlotTable, part: FixedPart, fixed: Sequence[str]) -> None:
    """Raise if the fixed part has no unique solution, or leaves nothing over."""
    if np.linalg.matrix_rank(part.columns) < part.columns.shape[1]:
        raise InfeasibleError(
            tr(
                "the effects of {factors} cannot be told apart in these plots; leave one out, or add "
                "plots that combine their levels",
                factors=factors_text(fixed),
            )
        )
    if part.columns.shape[0] <= part.columns.shape[1]:
        raise InfeasibleError(
            tr(
                "{count} plots for {means} means: nothing is left to measure how much plots treated "
                "alike differ; repeat treatments, or leave out the interaction",
                count=len(plots),
                means=part.columns.shape[1],
            )
        )
    if products(plots.yields, part.columns, ()).rr <= 1e-20 * float(np.sum(plots.yields**2)):
        raise InfeasibleError(tr(NO_VARIATION))


def model_products(plots: PlotTable, part: FixedPart, terms: Sequence[Term]) -> Products:
    """Return the cross-products of the model with these random terms."""
    return products(plots.yields, part.columns, [group_codes(plots, term)[0] for term in terms])


def _left_over(given: Products) -> int:
    """Return the plots left after fixed and random terms, as degrees of freedom."""
    inner = given.zz - given.zq @ given.zq.T
    rank = int(np.linalg.matrix_rank(inner, tol=1e-9 * given.plots, hermitian=True))
    return given.plots - given.coefficients - rank


def check_random(given: Products, terms: Sequence[Term]) -> None:
    """Raise if a random term cannot be told from another, or nothing is left over."""
    if not terms:
        return
    apart = can_be_told_apart(given)
    wrong = [term_name(term) for term, good in zip(terms, apart, strict=True) if not good]
    if wrong:
        raise InfeasibleError(
            tr(
                "the variance of {terms} cannot be told from the others in these plots: its groups "
                "are those of another term, hold one plot each, or differ by treatment. Leave it out",
                terms=", ".join(wrong),
            )
        )
    if _left_over(given) < 1:
        raise InfeasibleError(
            tr(
                "fixed and random terms together leave no plot to measure how much plots treated "
                "alike differ; leave out a random term"
            )
        )
    inner = given.zz - given.zq @ given.zq.T
    explained = given.zr @ np.linalg.pinv(inner, rcond=1e-9, hermitian=True) @ given.zr
    if given.rr - float(explained) <= 1e-11 * given.rr:
        raise InfeasibleError(tr(NO_VARIATION))


def choose_random(
    plots: PlotTable, treatments: Sequence[str], part: FixedPart
) -> tuple[tuple[Term, ...], list[str]]:
    """Return the random terms that the plots allow, and a sentence for each left out."""
    sites = [name for name in SITES if name in plots.factors and name not in treatments]
    first: Term = tuple(sites[:1])
    wanted: list[Term] = [(name,) for name in sites]
    wanted += [(*first, name) for name in ("block", "main") if name in plots.factors]
    if "block" in plots.factors and "main" in plots.factors:
        wanted[-1] = (*first, "block", "main")
    if first:
        wanted += [(*first, name) for name in treatments]
        wanted += [(*first, *treatments)] if len(treatments) > 1 else []
    chosen: tuple[Term, ...] = ()
    left_out = []
    for term in wanted:
        given = model_products(plots, part, (*chosen, term))
        if can_be_told_apart(given)[-1] and _left_over(given) >= 1:
            chosen = (*chosen, term)
        else:
            left_out.append(
                tr(
                    "the variance of {term} cannot be told from the others in these plots and is "
                    "left out",
                    term=term_name(term),
                )
            )
    return chosen, left_out
