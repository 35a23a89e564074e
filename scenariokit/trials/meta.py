"""The effect of a method over several studies: each study's, and what they say together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.trials.effect_pool import EffectPool, Pooling, pool_effects
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.study_effects import Scale, StudyEffect, study_effects
from scenariokit.units import Quantity


@dataclass(frozen=True)
class ForestRow:
    """One line of a picture of all studies.

    Parameters
    ----------
    study : str
        Its name.
    plots : int
        Plots of the method in the study.
    estimate, low, high : quantity or None
        Ratio without unit, or kg/m². No interval where the study has no
        standard error.
    weight : float
        Share of the study in the mean over studies; 0 where it is not pooled.
    reason : str
        Why it is not pooled; empty where it is.
    """

    study: str
    plots: int
    estimate: Quantity | None
    low: Quantity | None
    high: Quantity | None
    weight: float
    reason: str = ""


@dataclass(frozen=True)
class Interval:
    """A value with its interval: ratio without unit, or kg/m²."""

    estimate: Quantity
    low: Quantity
    high: Quantity


@dataclass(frozen=True)
class MethodOverStudies:
    """What all studies say of one method.

    Parameters
    ----------
    method, common : str
        The method, and the one it is compared with (empty for means).
    scale : {'ratio', 'difference', 'mean'}
        What the values are.
    rows : tuple of ForestRow
        The studies that are pooled.
    apart : tuple of ForestRow
        The studies that cannot be pooled, with the reason.
    fixed, random : Interval or None
        Mean over these studies as if all had one effect, and mean over studies
        like these; None with fewer than two studies.
    prediction : Interval or None
        Where the effect in another such study is to be expected; None with
        fewer than three.
    pool : EffectPool or None
        Q, I², τ² and the rest, on the scale of pooling.
    notes : tuple of str
        What a reader must know.
    """

    method: str
    common: str
    scale: Scale
    rows: tuple[ForestRow, ...]
    apart: tuple[ForestRow, ...]
    fixed: Interval | None
    random: Interval | None
    prediction: Interval | None
    pool: EffectPool | None
    notes: tuple[str, ...]


def meta_analysis(
    plots: PlotTable,
    common: str = "",
    *,
    scale: Scale = "ratio",
    treatment: str = "method",
    study: str = "study",
    pooling: Pooling | None = None,
) -> tuple[MethodOverStudies, ...]:
    """Return what all studies say of each method, and what each says.

    Parameters
    ----------
    plots, common, scale, treatment, study
        As for `study_effects`.
    pooling : Pooling, optional
        How studies are pooled; restricted maximum likelihood with the interval
        of Knapp and Hartung if left out.

    Returns
    -------
    tuple of MethodOverStudies
        One for each method other than the common one.

    Raises
    ------
    RecordError, ArgumentError
        As for `study_effects`; also if `pooling` names an unknown way or its
        confidence lies outside its range.
    InfeasibleError
        If no plot was harvested.

    Notes
    -----
    Each method is pooled by itself; two methods of one study share its plots of
    the common method, so their lines are not independent.

    References
    ----------
    As for `pool_effects`.

    Examples
    --------
    >>> from scenariokit.trials.meta import meta_analysis
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable(
    ...     [4.0, 4.4, 5.0, 5.4, 3.1, 3.3, 3.4, 4.0, 5.0, 5.6, 6.0, 6.1],
    ...     {"method": ("A", "A", "B", "B") * 3, "study": ("1",) * 4 + ("2",) * 4 + ("3",) * 4},
    ... )
    >>> b = meta_analysis(plots, "A")[0]
    >>> f"{b.random.estimate:.3f~P} ({b.random.low:.3f~P} to {b.random.high:.3f~P})"
    '1.178 (1.050 to 1.322)'
    """
    options = pooling or Pooling()
    level = checked_floats("meta_analysis", {"confidence": (options.confidence, "confidence")})
    if not len(plots.known()):
        raise InfeasibleError(tr("no plot was harvested: there is nothing to pool"))
    effects = study_effects(plots, common, scale=scale, treatment=treatment, study=study)
    shown = "" if scale == "mean" else common
    return tuple(
        _over_studies(
            [one for one in effects if one.method == method],
            (shown, scale),
            options,
            level["confidence"],
        )
        for method in dict.fromkeys(one.method for one in effects)
    )


def _over_studies(
    effects: Sequence[StudyEffect], what: tuple[str, Scale], options: Pooling, confidence: float
) -> MethodOverStudies:
    common, scale = what
    good = [one for one in effects if not one.reason]
    pool = None
    if len(good) > 1:
        pool = pool_effects(
            [one.effect for one in good], [one.standard_error for one in good], pooling=options
        )
    weights = [0.0] * len(good) if pool is None else list(pool.weights)
    return MethodOverStudies(
        method=effects[0].method,
        common=common,
        scale=scale,
        rows=tuple(
            _row(one, weight, scale, confidence) for one, weight in zip(good, weights, strict=True)
        ),
        apart=tuple(_row(one, 0.0, scale, confidence) for one in effects if one.reason),
        fixed=None if pool is None else _interval(pool.fixed[:1] + pool.fixed[2:4], scale),
        random=None if pool is None else _interval(pool.random[:1] + pool.random[2:4], scale),
        prediction=None
        if pool is None or pool.prediction is None
        else _interval((pool.random.estimate, *pool.prediction), scale),
        pool=pool,
        notes=_notes(effects, good, pool),
    )


def _notes(
    effects: Sequence[StudyEffect], good: Sequence[StudyEffect], pool: EffectPool | None
) -> tuple[str, ...]:
    notes = [] if pool is None else list(pool.notes)
    if pool is None:
        notes.append(
            tr(
                "{good} of {all} studies have a standard error; pooling needs two",
                good=len(good),
                all=len(effects),
            )
        )
    apart = len(effects) - len(good)
    if apart:
        notes.append(
            tr(
                "{apart} of {all} studies are shown apart and not pooled",
                apart=apart,
                all=len(effects),
            )
        )
    if any(one.degrees < 4 for one in good):
        notes.append(
            tr(
                "some standard errors rest on fewer than 4 degrees of freedom and are themselves "
                "uncertain; the mixed model over all plots uses them better"
            )
        )
    return tuple(notes)


def _present(value: float, scale: Scale) -> Quantity:
    """Return a value on the scale of pooling as a ratio or in kg/m²."""
    if scale == "ratio":
        with np.errstate(over="ignore"):  # an end beyond all numbers is infinite
            return with_unit(float(np.exp(value)), "")
    return with_unit(value, "kg/m^2")


def _interval(values: Sequence[float], scale: Scale) -> Interval:
    return Interval(*(_present(value, scale) for value in values))


def _row(one: StudyEffect, weight: float, scale: Scale, confidence: float) -> ForestRow:
    from scipy.special import ndtri

    effect, error = one.effect, one.standard_error
    low = high = None
    if effect is not None and error is not None:
        half = float(ndtri((1 + confidence) / 2)) * error
        low, high = _present(effect - half, scale), _present(effect + half, scale)
    estimate = None if effect is None else _present(effect, scale)
    return ForestRow(one.study, one.plots, estimate, low, high, weight, one.reason)
