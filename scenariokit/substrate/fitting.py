"""Fit the van Genuchten curve to a laboratory's points, and to a mix of known media."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from scenariokit.errors import Problem, ValidityWarning, argument_error
from scenariokit.language import tr
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.substrate.cost import check_shares, share_arguments
from scenariokit.substrate.curve import Hydraulics, effective_saturation
from scenariokit.units import Floats

NAMES = ("theta_residual", "theta_saturated", "vg_alpha", "vg_n")
STARTS = [(alpha, n) for alpha in (0.01, 0.05, 0.2, 1.0) for n in (1.3, 2.0, 4.0)]
"""alpha [1/cm] and n from which the search begins; the best end is kept."""
HARMLESS = (("theta_residual", "low"), ("theta_saturated", "high"))
POOR = 0.03
"""Root mean square error above which a fit is called poor; common practice, no published source."""
MIX_SUCTIONS = np.array([0.0, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 75.0, 100.0])


@dataclass(frozen=True)
class RetentionFit:
    """A fitted curve, and how good it is.

    Parameters
    ----------
    medium : Hydraulics
        The fitted curve, without conductivity.
    rmse : float
        Root mean square error of the water content.
    points : int
        Number of points fitted.
    fitted : int
        Number of parameters fitted; with as many points the curve passes
        through all of them, and `rmse` says nothing of its quality.
    bounds_hit : tuple of str
        Parameters that ended on the edge of their range: the points do not
        determine them.
    """

    medium: Hydraulics
    rmse: float
    points: int
    fitted: int
    bounds_hit: tuple[str, ...]


@checked(
    None,
    suctions="suction",
    water_contents="water_content",
    total_porosity=Expect("theta_saturated", optional=True),
)
def fit_retention(
    suctions: Floats, water_contents: Floats, total_porosity: Floats | None = None
) -> RetentionFit:
    """Return the van Genuchten curve nearest to a laboratory's points, by least squares.

    theta(h) = theta_r + (theta_s - theta_r) [1 + (alpha h)^n]^-m, m = 1 - 1/n.

    Parameters
    ----------
    suctions : quantity
        h of each point [cm], a list or array; pressures by `suction_from_pressure`.
    water_contents : sequence of float
        Water content by volume at each of them, 0 to 1.
    total_porosity : float, optional
        Fixes theta_s; then three points are enough, else four.

    Returns
    -------
    RetentionFit

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, the lists
        differ in length, or there are fewer suctions than parameters.

    Warns
    -----
    ValidityWarning
        If a parameter ends on the edge of its range, or the fit is poor.

    Notes
    -----
    Each point counts alike. The curve says nothing beyond the driest point.

    References
    ----------
    van Genuchten 1980, Soil Science Society of America J. 44:892 (the curve).

    Examples
    --------
    >>> fit = fit_retention(["10 cm", "50 cm", "100 cm"], [0.72, 0.42, 0.35], 0.95)
    >>> f"{fit.medium.vg_alpha:.4f~P}, n = {fit.medium.vg_n.m:.3f}, rmse {fit.rmse:.3f}"
    '0.1276 1/cm, n = 1.735, rmse 0.000'
    """
    fitted = 4 if total_porosity is None else 3
    _check_points(suctions, water_contents, total_porosity, fitted)
    values, error = _search(suctions, water_contents, total_porosity)
    edges = _edges(values, *_bounds(water_contents), fixed=total_porosity is not None)
    # No residual water, and a medium that is all pores, are usual ends that harm nothing.
    hit = [name for name, end in edges if (name, end) not in HARMLESS]
    if hit or error > POOR:
        why = tr("rmse is {error:.3f}", error=error)
        if hit:
            why = tr(
                "{names} ended on the edge of the range and rmse is {error:.3f}",
                names=", ".join(hit), error=error,
            )  # fmt: skip
        warnings.warn(
            tr(
                "fit_retention: {why}; the points do not fix the curve, so do not use it between or "
                "beyond them without a look",
                why=why,
            ),
            ValidityWarning,
            stacklevel=3,
        )
    names = tuple(name for name, _ in edges)
    return RetentionFit(_medium(values), error, int(np.size(suctions)), fitted, names)


def mixed_hydraulics(media: Sequence[Hydraulics], shares: Sequence[Any]) -> RetentionFit:
    """Return one curve for a mix, fitted to the shares' mean of its components' curves.

    theta(h) = sum(si theta_i(h)) at suctions from 0 to 100 cm.

    Parameters
    ----------
    media : sequence of Hydraulics
        The components, with scalar values.
    shares : sequence of float
        si, share of each by volume; they must add to 1.

    Returns
    -------
    RetentionFit
        Its `rmse` says how well one curve stands for the sum. The medium is
        marked illustrative whatever its components are.

    Raises
    ------
    UnitError, RangeError
        If a share has a dimension or lies outside its range, they do not add
        to 1, or there are not as many shares as media.

    Warns
    -----
    ValidityWarning
        If one curve does not stand for the sum.

    Notes
    -----
    A mix that loses volume has fewer coarse pores than this says: fine parts
    fill the gaps. The conductivity of a mix cannot be had from its parts.

    Examples
    --------
    >>> peat = Hydraulics(0.2415, 0.95, "0.1276 1/cm", 1.735)
    >>> perlite = Hydraulics(0.1447, 0.75, "0.584 1/cm", 1.547)
    >>> f"{mixed_hydraulics([peat, perlite], [0.5, 0.5]).medium.theta_saturated.m:.2f}"
    '0.85'
    """
    given = share_arguments(shares, "mixed_hydraulics")
    if len(media) != len(given):
        reason = tr(
            "there are {count} shares for {count2} media", count=len(given), count2=len(media)
        )
        raise argument_error(
            [
                Problem(
                    "shares", str(len(given)), reason, tr("one share for each medium"), kind="range"
                )
            ],
            "mixed_hydraulics",
        )
    weights = list(checked_floats("mixed_hydraulics", given).values())
    check_shares(weights, "mixed_hydraulics")
    held: Any = sum(
        weight * _curve(medium.curve, MIX_SUCTIONS)
        for weight, medium in zip(weights, media, strict=True)
    )
    full = float(held[0])
    found: RetentionFit = fit_retention.floats(MIX_SUCTIONS, held, full)
    return replace(found, medium=replace(found.medium, illustrative=True))


def _curve(values: Any, suctions: Floats) -> Floats:
    residual, full, alpha, n = values
    return residual + (full - residual) * effective_saturation(suctions, alpha, n)


def _plain(values: Floats) -> tuple[Any, ...]:
    """Return theta_r, theta_s, alpha and n from the numbers that are searched."""
    return values[0], values[1], np.exp(values[2]), 1 + np.exp(values[3])


def _search(
    suctions: Floats, water_contents: Floats, total_porosity: Floats | None
) -> tuple[Floats, float]:
    """Return the searched numbers with the least error from all starts, and that error."""
    from scipy.optimize import least_squares

    fixed = total_porosity is not None
    free = np.array([0, 2, 3] if fixed else [0, 1, 2, 3])
    whole = np.array([0.0, total_porosity if fixed else 0.0, 0.0, 0.0])
    low, high = (bound[free] for bound in _bounds(water_contents))

    def misses(searched: Floats) -> Floats:
        whole[free] = searched
        return _curve(_plain(whole), suctions) - water_contents

    full = min(max(float(np.max(water_contents)), 0.05) * 1.001, 0.9999)
    starts = [
        np.array([0.4 * np.max(water_contents), full, np.log(alpha), np.log(n - 1)])[free]
        for alpha, n in STARTS
    ]
    ends = [
        least_squares(misses, start, bounds=(low, high), xtol=1e-12, ftol=1e-12, gtol=1e-12)
        for start in starts
    ]
    best = min(ends, key=lambda end: end.cost)
    whole[free] = best.x
    return whole.copy(), float(np.sqrt(2 * best.cost / np.size(suctions)))


def _bounds(water_contents: Floats) -> tuple[Floats, Floats]:
    """Return lowest and highest theta_r, theta_s, ln alpha and ln(n - 1).

    theta_r stays below theta_s, or the curve stands on its head.
    """
    wettest = float(np.max(water_contents))
    low = np.array([0.0, max(0.9 * wettest, 0.05), np.log(1e-4), np.log(0.02)])
    high = np.array([min(0.85 * wettest, 0.9), 1.0, np.log(20.0), np.log(14.0)])
    return low, high


def _edges(values: Floats, low: Floats, high: Floats, *, fixed: bool) -> list[tuple[str, str]]:
    """Return which of the fitted numbers ended on which edge of their range."""
    reach = 1e-3 * (high - low)
    found = []
    for k, name in enumerate(NAMES):
        if fixed and name == "theta_saturated":
            continue
        if values[k] < low[k] + reach[k]:
            found.append((name, "low"))
        elif values[k] > high[k] - reach[k]:
            found.append((name, "high"))
    return found


def _medium(values: Floats) -> Hydraulics:
    residual, full, alpha, n = (float(value) for value in _plain(values))
    return Hydraulics(residual, full, with_unit(alpha, "1/cm"), n)


def _check_points(
    suctions: Floats, water_contents: Floats, total_porosity: Floats | None, fitted: int
) -> None:
    """Refuse points that cannot fix a curve; say all that is wrong."""
    problems: list[Problem] = []
    several = len(np.unique(suctions))
    shapes = np.shape(suctions), np.shape(water_contents)
    if shapes[0] != shapes[1] or len(shapes[0]) != 1:
        reason = tr("must be a list as long as suctions ({suctions})", suctions=np.size(suctions))
        problems.append(_fault("water_contents", np.size(water_contents), reason))
    elif several < fitted:
        reason = tr("too few different suctions; {fitted} or more are needed", fitted=fitted)
        problems.append(_fault("suctions", several, reason))
    elif np.ptp(water_contents) == 0:
        problems.append(_fault("water_contents", water_contents[0], tr("all are alike")))
    if total_porosity is not None and np.any(water_contents > total_porosity):
        reason = tr(
            "a water content ({water_contents:g}) lies above it",
            water_contents=np.max(water_contents),
        )
        problems.append(_fault("total_porosity", total_porosity, reason))
    if problems:
        raise argument_error(problems, "fit_retention")


def _fault(field: str, value: float, reason: str) -> Problem:
    return Problem(field, f"{value:g}", reason, kind="range")
