"""The effect of each method in each study, with its standard error."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from scenariokit.errors import Problem, RecordError, argument_error
from scenariokit.language import mark, tr
from scenariokit.trials.heterogeneity import FloatArray
from scenariokit.trials.mixed.gls import estimates, products
from scenariokit.trials.mixed.matrices import fixed_part
from scenariokit.trials.mixed.reml import fit_components
from scenariokit.trials.plots import PlotTable, factor_text, factors_text

Scale = Literal["ratio", "difference", "mean"]
"""Ratio to the common method, difference from it, or the method's own mean."""

WITHIN = ("block", "method", "variety")
"""Factors whose main effects are taken out within a study, where they are recorded."""

NO_ERROR = mark(
    "no plot was repeated in this study, so it has no standard error: it is shown and not pooled"
)


@dataclass(frozen=True)
class StudyEffect:
    """The effect of one method in one study.

    Parameters
    ----------
    study, method : str
        Their levels.
    plots : int
        Plots of the method in the study.
    effect : float or None
        On the scale on which studies are pooled: natural logarithm of the
        ratio, difference [kg/m²] or mean [kg/m²]. None where it has no value.
    standard_error : float or None
        On the same scale; None where the study has none.
    degrees : int
        Degrees of freedom of the standard error.
    reason : str
        Why the study cannot be pooled; empty where it can.
    """

    study: str
    method: str
    plots: int
    effect: float | None
    standard_error: float | None
    degrees: int
    reason: str = ""


def study_effects(
    plots: PlotTable,
    common: str = "",
    *,
    scale: Scale = "ratio",
    treatment: str = "method",
    study: str = "study",
) -> tuple[StudyEffect, ...]:
    """Return the effect of each method in each study, with its standard error.

    Means are least squares means within the study, with one variance for all its
    plots; differences of blocks are taken out, and those of varieties where
    methods are compared, or the other way round. For a ratio of means a and b

    ln R = ln a − ln b,  var(ln R) = va/a² + vb/b² − 2 c/(a b)

    where va, vb and c are the variances of the two means and their covariance.

    Parameters
    ----------
    plots : PlotTable
        Plots of all studies; those not harvested are left out.
    common : str
        The method that all others are compared with; not used for means.
    scale : {'ratio', 'difference', 'mean'}
        Ratio to `common`, difference from it, or the method's own mean.
    treatment, study : str
        The factors.

    Returns
    -------
    tuple of StudyEffect
        By method and then by study. A study without repeated plots has no
        standard error and says so.

    Raises
    ------
    RecordError
        If a factor is not recorded.
    ArgumentError
        If `scale` is unknown, or no plot is of the common method.

    Notes
    -----
    Valid where plots of all methods of a study vary alike; the approximation
    of the variance of ln R holds while standard errors are below about a fifth
    of the means. With few degrees of freedom a study's standard error is itself
    uncertain, which pooling does not see.

    References
    ----------
    Hedges, Gurevitch and Curtis 1999, Ecology 80:1150, doi
    10.1890/0012-9658(1999)080[1150:TMAORR]2.0.CO;2 (log response ratio).

    Examples
    --------
    >>> from scenariokit.trials.study_effects import study_effects
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable(
    ...     [4.0, 4.4, 5.0, 5.4], {"method": ("A", "A", "B", "B"), "study": ("1",) * 4}
    ... )
    >>> one = study_effects(plots, "A")[0]
    >>> f"ln ratio {one.effect:.4f}, standard error {one.standard_error:.4f}"
    'ln ratio 0.2136, standard error 0.0612'
    """
    used = plots.known()
    missing = [
        Problem("factor", name, tr("is not recorded"), ", ".join(used.factors))
        for name in (treatment, study)
        if name not in used.factors
    ]
    if missing:
        raise RecordError(missing, "study_effects")
    problems = []
    if scale not in ("ratio", "difference", "mean"):
        problems.append(
            Problem("scale", str(scale), tr("is unknown"), "ratio, difference, mean", kind="range")
        )
    methods = used.levels(treatment)
    if scale != "mean" and common not in methods:
        reason = tr("is not the method of any harvested plot")
        problems.append(Problem("common", common, reason, ", ".join(methods), kind="range"))
    if problems:
        raise argument_error(problems, "study_effects")
    column = np.array(used.column(study))
    studies = {name: _Study(used.where(column == name), treatment) for name in used.levels(study)}
    return tuple(
        one.effect(name, method, common, scale)
        for method in methods
        if scale == "mean" or method != common
        for name, one in studies.items()
        if method in one.methods
    )


class _Study:
    """The means of one study's methods, with their covariance."""

    def __init__(self, plots: PlotTable, treatment: str) -> None:
        self.methods = plots.levels(treatment)
        codes = plots.codes(treatment)
        self.counts = np.bincount(codes)
        self.means: FloatArray = np.bincount(codes, weights=plots.yields) / self.counts
        self.covariance: FloatArray | None = None
        self.degrees, self.reason = 0, tr(NO_ERROR)
        adjust = [
            name
            for name in WITHIN
            if name in plots.factors and name != treatment and len(plots.levels(name)) > 1
        ]
        part = fixed_part(plots, (treatment,), adjust, interaction=True)
        coefficients = part.columns.shape[1]
        if np.linalg.matrix_rank(part.columns) < coefficients:
            self.reason = tr(
                "{treatment} and {others} cannot be told apart in this study: it is shown and not "
                "pooled",
                treatment=factor_text(treatment),
                others=factors_text(adjust),
            )
            return
        if len(plots) <= coefficients:
            return
        given = products(plots.yields, part.columns, ())
        self.degrees = len(plots) - coefficients
        size = float(plots.yields @ plots.yields)
        if given.rr <= 1e-20 * size:
            self.reason = tr(
                "plots treated alike gave exactly the same, which says nothing of how much they "
                "vary: the study is shown and not pooled"
            )
            return
        fitted = fit_components(given)
        found = estimates(given, fitted.solved, fitted.values, fitted.uncertainty)
        self.means = part.means @ found.coefficients
        self.covariance = part.means @ found.covariance @ part.means.T
        self.reason = ""

    def effect(self, study: str, method: str, common: str, scale: Scale) -> StudyEffect:
        """Return the effect of `method` in this study."""
        place = self.methods.index(method)
        row = np.zeros(len(self.methods))
        effect: float | None = float(self.means[place])
        reason = self.reason
        row[place] = 1.0
        if scale != "mean" and common not in self.methods:
            effect, reason = None, tr("{common} was not grown in this study", common=common)
        elif scale != "mean":
            other = self.methods.index(common)
            pair = float(self.means[place]), float(self.means[other])
            row[other] = -1.0
            effect = pair[0] - pair[1]
            if scale == "ratio" and min(pair) <= 0:
                effect, reason = None, tr("a mean of zero has no ratio on a logarithmic scale")
            elif scale == "ratio":
                effect = float(np.log(pair[0] / pair[1]))
                row[place], row[other] = 1 / pair[0], -1 / pair[1]
        error = None
        if not reason and self.covariance is not None:
            error = float(np.sqrt(row @ self.covariance @ row))
        degrees = 0 if error is None else self.degrees
        return StudyEffect(study, method, int(self.counts[place]), effect, error, degrees, reason)
