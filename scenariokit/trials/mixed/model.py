"""A mixed model of plots from several studies: means, differences, variances."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.mixed import results
from scenariokit.trials.mixed.feasible import (
    SUBJECT,
    check_factors,
    check_fixed,
    check_random,
    choose_random,
    model_products,
    term_name,
)
from scenariokit.trials.mixed.gls import Estimates, estimates
from scenariokit.trials.mixed.matrices import (
    FixedPart,
    FloatArray,
    Term,
    averaging,
    contrasts,
    fixed_part,
    group_codes,
)
from scenariokit.trials.mixed.reml import Components, fit_components
from scenariokit.trials.plots import PlotTable, factors_text
from scenariokit.units import QuantityLike


@dataclass(frozen=True, eq=False)
class MixedAnalysis:
    """What a mixed model says of the treatments and of what varies.

    Parameters
    ----------
    treatments : tuple of str
        The treatment factors, fixed.
    interaction : bool
        Whether each combination of their levels has a mean of its own.
    random : tuple of tuple of str
        The random terms: one factor, or several whose combinations are groups.
    components : tuple of VarianceComponent
        One for each random term and, last, ``("plot",)`` for plots treated alike.
    effects : tuple of RandomEffect
        Best linear unbiased prediction of every group of every random term.
    tests : tuple of FixedTest
        Main effects and interactions; empty where combinations are missing.
    deviance : float
        −2 times the restricted log likelihood [of yields in kg/m²].
    plots : int
        Harvested plots that were used.
    notes : tuple of str
        How degrees of freedom were found, what came out at zero, what was left
        out.
    """

    treatments: tuple[str, ...]
    interaction: bool
    random: tuple[Term, ...]
    components: tuple[results.VarianceComponent, ...]
    effects: tuple[results.RandomEffect, ...]
    tests: tuple[results.FixedTest, ...]
    deviance: float
    plots: int
    notes: tuple[str, ...]
    _part: FixedPart = field(repr=False)
    _estimates: Estimates = field(repr=False)
    _confidence: float = field(repr=False)

    def means(self, *factors: str) -> tuple[results.TreatmentMean, ...]:
        """Return the mean of each level of `factors`, evenly over the other treatments.

        Parameters
        ----------
        *factors : str
            One or more of `treatments`; all of them if none is named.

        Returns
        -------
        tuple of TreatmentMean
            In the order in which the levels first occur among the plots.

        Raises
        ------
        ArgumentError
            If a factor is not one of `treatments`.
        InfeasibleError
            If a mean would need a combination that stood in no plot.
        """
        names, levels, rows = self._rows(factors)
        return results.treatment_means(self._estimates, names, levels, rows, self._confidence)

    def differences(self, *factors: str) -> tuple[results.TreatmentDifference, ...]:
        """Return the difference of each two levels of `factors`, with its own standard error.

        Parameters
        ----------
        *factors : str
            One or more of `treatments`; all of them if none is named.

        Returns
        -------
        tuple of TreatmentDifference
            First minus second, for each pair. Each p value stands for itself:
            with many pairs some are small by chance.

        Raises
        ------
        ArgumentError, InfeasibleError
            As for `means`.
        """
        names, levels, rows = self._rows(factors)
        return results.treatment_differences(self._estimates, names, levels, rows, self._confidence)

    def _rows(self, factors: Sequence[str]) -> tuple[Term, list[Term], FloatArray]:
        """Return the factors in order, their level combinations and the rows of coefficients."""
        chosen = tuple(factors) or self.treatments
        wrong = [name for name in chosen if name not in self.treatments]
        if wrong:
            allowed = ", ".join(self.treatments)
            raise argument_error(
                [
                    Problem("factors", name, tr("is not a treatment here"), allowed)
                    for name in wrong
                ],
                "means",
            )
        kept = [name in chosen for name in self.treatments]
        names = tuple(name for name in self.treatments if name in chosen)
        part = self._part
        levels = list(dict.fromkeys(tuple(itertools.compress(cell, kept)) for cell in part.cells))
        average = averaging(part, kept)
        if all(kept):
            average, levels = average[part.grown], list(itertools.compress(levels, part.grown))
        elif self.interaction and not part.grown.all():
            missing = list(itertools.compress(part.cells, ~part.grown))
            shown = "; ".join(" × ".join(cell) for cell in missing[:5])
            raise InfeasibleError(
                tr(
                    "no even mean over {factors}: {shown} stood in no plot. Ask for the means of all "
                    "combinations, or leave the interaction out",
                    factors=factors_text(self.treatments),
                    shown=shown,
                )
            )
        return names, levels, average @ part.means


def mixed_model(
    plots: PlotTable,
    treatments: Sequence[str] = ("method",),
    random: Sequence[str | Sequence[str]] | None = None,
    *,
    adjust: Sequence[str] = (),
    interaction: bool = True,
    confidence: QuantityLike = 0.95,
) -> MixedAnalysis:
    """Return the treatments' means and differences over several studies, sites or seasons.

    y = X b + Z u + e, with u ~ N(0, σ²(term)) for each random term and
    e ~ N(0, σ²) for plots treated alike. Variances by restricted maximum
    likelihood, b = (X'V⁻¹X)⁻¹ X'V⁻¹y with covariance (X'V⁻¹X)⁻¹.

    Parameters
    ----------
    plots : PlotTable
        Plots with their factors; those not harvested are left out and counted.
    treatments : sequence of str
        Treatment factors, fixed.
    random : sequence of str or of sequences of str, optional
        Random terms: a factor, or several whose combinations are the groups,
        such as ``("study", "block")`` for blocks within studies. If left out,
        `random_terms` chooses.
    adjust : sequence of str
        Factors whose main effects are fixed too and are taken out of the means.
    interaction : bool
        Give each combination of treatments a mean of its own.
    confidence : float
        Confidence of intervals, for example 0.95.

    Returns
    -------
    MixedAnalysis

    Raises
    ------
    RecordError
        If a factor is not recorded.
    ArgumentError
        If a factor is named twice, a treatment has one level only, or
        `confidence` lies outside its range.
    InfeasibleError
        If too few plots are left, if factors cannot be told apart, or if plots
        treated alike do not differ at all.

    Notes
    -----
    Valid for plots whose differences are about as large everywhere. Variance
    components are zero or more; one that comes out at zero is kept at zero and
    said to be so. Degrees of freedom are Satterthwaite's, from the expected
    information of the components that are not at zero; in balanced trials they
    and the standard errors are those of the analysis of variance. Few studies
    say little about the variance among studies, and standard errors take the
    estimated variances as known.

    References
    ----------
    Patterson and Thompson 1971, Biometrika 58:545, doi 10.1093/biomet/58.3.545.
    Satterthwaite 1946, Biometrics Bulletin 2:110, doi 10.2307/3002019.
    Fai and Cornelius 1996, Journal of Statistical Computation and Simulation
    54:363, doi 10.1080/00949659608811740 (degrees of freedom of F).
    Henderson 1975, Biometrics 31:423, doi 10.2307/2529430 (predictions).

    Examples
    --------
    >>> from scenariokit.trials.mixed import mixed_model
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable(
    ...     [4.1, 5.0, 3.2, 4.4, 5.1, 5.8],
    ...     {"method": ("A", "B") * 3, "study": ("1", "1", "2", "2", "3", "3")},
    ... )
    >>> one = mixed_model(plots).differences("method")[0]
    >>> print(f"{one.difference:.2f~P}, t = {one.difference / one.standard_error:.2f~P}")
    -0.93 kg/m², t = -6.42
    """
    level = checked_floats(SUBJECT, {"confidence": (confidence, "confidence")})["confidence"]
    terms = None if random is None else tuple(_term(one) for one in random)
    used = plots.known()
    check_factors(used, tuple(treatments), terms, tuple(adjust))
    part = fixed_part(used, treatments, adjust, interaction=interaction)
    check_fixed(used, part, (*treatments, *adjust))
    left_out: list[str] = []
    if terms is None:
        terms, left_out = choose_random(used, treatments, part)
    given = model_products(used, part, terms)
    check_random(given, terms)
    fitted = fit_components(given)
    found = estimates(given, fitted.solved, fitted.values, fitted.uncertainty)
    complete = bool(part.grown.all()) or not interaction
    return MixedAnalysis(
        treatments=tuple(treatments),
        interaction=interaction,
        random=terms,
        components=results.variance_components(terms, given, fitted),
        effects=results.random_effects(
            terms, [group_codes(used, term)[1] for term in terms], given, fitted
        ),
        tests=_tests(tuple(treatments), part, found, interaction) if complete else (),
        deviance=fitted.deviance,
        plots=len(used),
        notes=(
            *plots.notes,
            *_unharvested(len(plots) - len(used)),
            *left_out,
            *_notes(terms, fitted, complete),
        ),
        _part=part,
        _estimates=found,
        _confidence=level,
    )


def random_terms(plots: PlotTable, treatments: Sequence[str] = ("method",)) -> tuple[Term, ...]:
    """Return the random terms that the recorded factors of `plots` allow.

    Studies, sites and seasons; blocks, and main plots, within the first of
    them; and the treatments' differences from one study to the next. A term
    whose variance these plots cannot tell from another is left out.

    Parameters
    ----------
    plots : PlotTable
        Plots with their factors.
    treatments : sequence of str
        Treatment factors, fixed.

    Raises
    ------
    RecordError, ArgumentError, InfeasibleError
        As for `mixed_model`.

    Examples
    --------
    >>> from scenariokit.trials.mixed import random_terms
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable(
    ...     [4.1, 5.0, 4.4, 5.6, 3.2, 4.4, 3.1, 4.9],
    ...     {"method": ("A", "B") * 4, "study": ("1",) * 4 + ("2",) * 4},
    ... )
    >>> random_terms(plots)
    (('study',), ('study', 'method'))
    """
    used = plots.known()
    check_factors(used, tuple(treatments), None, ())
    part = fixed_part(used, treatments, interaction=True)
    check_fixed(used, part, treatments)
    return choose_random(used, treatments, part)[0]


def _term(given: str | Sequence[str]) -> Term:
    return (given,) if isinstance(given, str) else tuple(given)


def _tests(
    treatments: Term, part: FixedPart, found: Estimates, interaction: bool
) -> tuple[results.FixedTest, ...]:
    """Return the tests of main effects and, with interaction, of every interaction."""
    largest = len(treatments) if interaction else 1
    picks = [
        pick for size in range(1, largest + 1) for pick in itertools.combinations(treatments, size)
    ]
    return tuple(
        results.fixed_test(
            found, pick, contrasts(part, [name in pick for name in treatments]) @ part.means
        )
        for pick in picks
    )


def _unharvested(number: int) -> list[str]:
    return [tr("{count} plots were not harvested and are left out", count=number)] if number else []


def _notes(terms: Sequence[Term], fitted: Components, complete: bool) -> list[str]:
    zero = [term_name(term) for term, none in zip(terms, fitted.at_zero, strict=True) if none]
    notes = [tr("degrees of freedom after Satterthwaite, from the variances that are not zero")]
    notes += [
        tr(
            "the variance of {term} came out at zero: its groups differ no more than plots do",
            term=name,
        )
        for name in zero
    ]
    if not complete:
        notes.append(tr("some combinations stood in no plot: main effects are not tested"))
    return notes
