"""The noncentral F distribution, from which every power is taken."""

from __future__ import annotations

import numpy as np

from scenariokit.trials.planning.elementwise import each
from scenariokit.units import Floats


def noncentral_beyond(
    critical: Floats, effect: Floats, error: Floats, noncentrality: Floats
) -> Floats:
    """Return the chance that a noncentral F lies beyond a critical value.

    P(F' > f) = Σ_k e^(-λ/2) (λ/2)^k / k! · I_y(ν₂/2, ν₁/2 + k),
    y = ν₂ / (ν₂ + ν₁ f)

    Parameters
    ----------
    critical : float
        f, scalar or array.
    effect, error : float
        ν₁ and ν₂, degrees of freedom.
    noncentrality : float
        λ, 0 or more.

    Returns
    -------
    float or array of float
        A chance, 0 to 1.

    Notes
    -----
    Summed here because ready-made routines fail where few degrees of freedom
    meet a large difference: some releases give NaN, others four digits.

    References
    ----------
    Abramowitz and Stegun 1964, Handbook of Mathematical Functions, 26.6.20;
    from memory.
    """
    return each(_beyond, float, critical, effect, error, noncentrality)


def _beyond(critical: float, effect: float, error: float, noncentrality: float) -> float:
    """Return the chance for one set of plain numbers."""
    from scipy.special import betainc, gammaln

    half = noncentrality / 2
    # Beyond ten standard deviations a Poisson count has less than 1e-20 left.
    reach = 10 * np.sqrt(half) + 40
    count = np.arange(max(0.0, np.floor(half - reach)), half + reach)
    log_weight = count * np.log(half) - gammaln(count + 1) if half > 0 else -1e3 * count
    weight = np.exp(log_weight - log_weight.max())
    tail = betainc(error / 2, effect / 2 + count, error / (error + effect * critical))
    # Rounding may carry a certainty past 1.
    return min(1.0, float(weight @ tail / weight.sum()))
