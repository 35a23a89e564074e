"""Whether the yields are such as an analysis of variance takes them to be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenariokit.language import tr
from scenariokit.trials.analysis.anova import Analysis
from scenariokit.trials.analysis.designs import combined
from scenariokit.trials.plots import FloatArray


@dataclass(frozen=True)
class Test:
    """A statistic and the chance of a larger one (Shapiro-Wilk: a smaller one)."""

    __test__ = False

    statistic: float
    p: float


@dataclass(frozen=True, eq=False)
class ResidualChecks:
    """Residuals for pictures, and three tests.

    Parameters
    ----------
    fitted, residuals : array of float
        Of each plot harvested, kg/m².
    normal_scores : array of float
        Where each residual would stand if all followed a normal curve, in standard
        deviations; plotted against the residuals they should lie on a line.
    levene, bartlett : Test or None
        Whether all treatments vary alike; None where fewer than two treatments have
        plots enough.
    shapiro : Test or None
        Whether the residuals follow a normal curve; None where they are too few or alike.
    caution : str
        What such tests cannot do.
    notes : tuple of str
        What was left out.
    """

    fitted: FloatArray
    residuals: FloatArray
    normal_scores: FloatArray
    levene: Test | None
    bartlett: Test | None
    shapiro: Test | None
    caution: str
    notes: tuple[str, ...]


def residual_checks(analysis: Analysis, source: str | None = None) -> ResidualChecks:
    """Return residuals, normal scores and tests of equal variation and of normality.

    Normal scores are Φ⁻¹((i - 3/8)/(n + 1/4)) of the i-th smallest residual. Levene's F is
    that of an analysis of the residuals' distances from their treatment's median; Bartlett's
    compares the logarithms of the variances; Shapiro-Wilk's W is that of all residuals.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str, optional
        The treatment term whose levels are compared; left out, all treatments together, or
        the first alone where combinations have one plot each.

    Returns
    -------
    ResidualChecks

    Raises
    ------
    RangeError
        If there is no such term.

    Notes
    -----
    With blocks the residuals of one block hang together a little, and the tests are
    approximate. Look at the pictures first: one plot that was flooded shows there.

    References
    ----------
    Blom 1958, Statistical Estimates and Transformed Beta-Variables (scores); Brown and
    Forsythe 1974, J. American Statistical Association 69:364 (medians); Bartlett 1937, Proc.
    Royal Society A 160:268; Shapiro and Wilk 1965, Biometrika 52:591; from memory.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import completely_randomised
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8], {"method": tuple("AAABBB")})
    >>> found = residual_checks(analyse(plots, completely_randomised("method")))
    >>> round(found.bartlett.statistic, 3), found.residuals.round(2).tolist()
    (0.279, [-0.67, 0.13, 0.53, -0.4, 0.0, 0.4])
    """
    residuals = analysis.residuals
    groups, small = _groups(analysis, source)
    notes = []
    if small:
        notes.append(
            tr(
                "Fewer than two plots, not compared in spread: {treatments}.",
                treatments=", ".join(small),
            )
        )
    alike = any(np.ptp(group) <= 0 for group in groups)
    if alike:
        notes.append(tr("Some treatments' plots do not differ at all; Bartlett's test needs that."))
    worth = len(groups) > 1 and analysis.residual.mean_square > 0
    return ResidualChecks(
        fitted=analysis.fitted,
        residuals=residuals,
        normal_scores=normal_scores(residuals),
        levene=_levene(groups) if worth else None,
        bartlett=_bartlett(groups) if worth and not alike else None,
        shapiro=_shapiro(residuals) if analysis.residual.mean_square > 0 else None,
        caution=(
            tr(
                "With {plots} plots and {df} degrees of freedom only gross faults show; a large p is "
                "no proof that all is well.",
                plots=analysis.plots,
                df=analysis.residual.df,
            )
        ),
        notes=tuple(notes),
    )


def normal_scores(values: FloatArray) -> FloatArray:
    """Return Φ⁻¹((i - 3/8)/(n + 1/4)) for each value, i its rank; ties share their mean rank.

    References
    ----------
    Blom 1958, Statistical Estimates and Transformed Beta-Variables; from memory.

    Examples
    --------
    >>> normal_scores([2.0, 1.0, 3.0]).round(4).tolist()
    [0.0, -0.8694, 0.8694]
    """
    from scipy.special import ndtri
    from scipy.stats import rankdata

    found: FloatArray = ndtri((rankdata(values) - 0.375) / (len(values) + 0.25))
    return found


def _groups(analysis: Analysis, source: str | None) -> tuple[list[FloatArray], list[str]]:
    """Return the residuals of each treatment with two plots or more, and the other names."""
    if source is not None:
        term = analysis.term(source)
    else:
        term = analysis.design.treatments
        if len(set(combined(analysis.model.plots, term))) > analysis.plots / 2:
            term = term[:1]
    by_name: dict[tuple[str, ...], list[float]] = {}
    names = combined(analysis.model.plots, term)
    for name, value in zip(names, analysis.residuals.tolist(), strict=True):
        by_name.setdefault(name, []).append(value)
    large = [np.array(values) for values in by_name.values() if len(values) > 1]
    return large, [":".join(name) for name, values in by_name.items() if len(values) < 2]


def _levene(groups: list[FloatArray]) -> Test | None:
    from scipy.special import fdtrc

    spreads = [np.abs(group - np.median(group)) for group in groups]
    counts = np.array([len(group) for group in spreads], dtype=float)
    means = np.array([group.mean() for group in spreads])
    total, k = counts.sum(), len(groups)
    within = sum(float(((group - group.mean()) ** 2).sum()) for group in spreads)
    # With two plots each distance is half their difference: no spread of distances is left.
    if within <= 1e-24 * float(sum(group @ group for group in spreads)):
        return None
    middle = float(counts @ means) / total
    f = float(counts @ (means - middle) ** 2) / (k - 1) / (within / (total - k))
    return Test(f, float(fdtrc(k - 1, total - k, f)))


def _bartlett(groups: list[FloatArray]) -> Test:
    from scipy.stats import bartlett

    found = bartlett(*groups)
    return Test(float(found.statistic), float(found.pvalue))


def _shapiro(residuals: FloatArray) -> Test | None:
    from scipy.stats import shapiro

    # The approximation of its chance ends at 5,000 values.
    if not 3 <= len(residuals) <= 5000:
        return None
    found = shapiro(residuals)
    return Test(float(found.statistic), float(found.pvalue))
