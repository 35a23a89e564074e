"""A difference from few plots, drawn towards what was held before the trial."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

_YIELD = "kg/m^2"


@dataclass(frozen=True)
class Prior:
    """What was held of a difference before the trial, and by whom.

    Parameters
    ----------
    name : str
        Where it comes from, in words: "three trials of the year before".
    mean, sd : quantity
        Mean and standard deviation of the difference [kg/m²].
    """

    name: str
    mean: QuantityLike
    sd: QuantityLike


@dataclass(frozen=True)
class TemperedDifference:
    """An observed difference after a named prior has been heard.

    Parameters
    ----------
    prior : str
        Name of the prior; the result is worth what the prior is worth.
    observed, standard_error : quantity
        The difference seen and its standard error at the assumed variation.
    difference, sd, low, high : quantity
        Mean, standard deviation and central interval after both [kg/m²].
    weight : float
        Share of the observation in the mean; the rest is the prior's.
    chance_above_zero : float
        Probability that the difference is above zero, given the prior.
    """

    prior: str
    observed: Quantity
    standard_error: Quantity
    difference: Quantity
    sd: Quantity
    low: Quantity
    high: Quantity
    weight: Floats
    chance_above_zero: Floats


def with_prior(
    observed: QuantityLike,
    prior: Prior,
    *,
    mean: QuantityLike,
    cv: QuantityLike,
    plots: QuantityLike = 1,
    confidence: QuantityLike = 0.95,
) -> TemperedDifference:
    """Return an observed difference drawn towards what was held before.

    s = CV Y √(2/n), w = τ² / (τ² + s²); the difference is w d + (1 − w) m with
    standard deviation √w s.

    Parameters
    ----------
    observed : quantity
        d, first minus second [kg/m²].
    prior : Prior
        Its name, mean m and standard deviation τ of the difference.
    mean : quantity
        Y, mean yield of the two treatments [kg/m²].
    cv : float
        CV of plots treated alike.
    plots : int
        n, plots of each treatment.
    confidence : float
        Probability of the central interval.

    Returns
    -------
    TemperedDifference

    Raises
    ------
    ArgumentError
        If the prior has no name, or a value lacks its unit or lies outside its
        range.

    Notes
    -----
    Valid for normal plots and a normal prior, with CV taken as known. The prior
    must be named, because the answer depends on it: with one plot it often
    weighs more than what was seen.

    References
    ----------
    Gelman et al. 2013, Bayesian Data Analysis, 3rd edition, section 2.5 (normal
    mean with known variance); from memory.

    Examples
    --------
    >>> from scenariokit.trials.prior import Prior, with_prior
    >>> prior = Prior("like methods differ by half a kilogram", "0 kg/m^2", "0.5 kg/m^2")
    >>> seen = with_prior("1.1 kg/m^2", prior, mean="4.65 kg/m^2", cv=0.12)
    >>> print(f"{seen.difference:.2f~P}, weight of the trial {seen.weight:.2f}")
    0.32 kg/m², weight of the trial 0.29
    """
    from scipy.special import ndtr, ndtri

    subject = "with_prior"
    if not str(prior.name).strip():
        problem = Problem(
            "prior.name", "", tr("is empty: say where the prior comes from"),
            example="'three trials of the year before'", kind="range",
        )  # fmt: skip
        raise argument_error([problem], subject)
    found = checked_floats(
        subject,
        {
            "observed": (observed, "yield_difference"),
            "prior.mean": (prior.mean, "yield_difference"),
            "prior.sd": (
                prior.sd,
                Expect("yield_difference", True, mark("a prior has some width")),
            ),
            "mean": (
                mean,
                Expect("yield_per_area", True, mark("without yield there is no variation")),
            ),
            "cv": (cv, "coefficient_of_variation"),
            "plots": (plots, "plots_each"),
            "confidence": (confidence, "confidence"),
        },
    )
    error = found["cv"] * found["mean"] * np.sqrt(2 / np.asarray(found["plots"]))
    width = found["prior.sd"] ** 2
    weight = width / (width + error**2)
    middle = weight * found["observed"] + (1 - weight) * found["prior.mean"]
    spread = np.sqrt(weight) * error
    half = ndtri((1 + np.asarray(found["confidence"])) / 2) * spread
    return TemperedDifference(
        prior=prior.name,
        observed=with_unit(found["observed"], _YIELD),
        standard_error=with_unit(error, _YIELD),
        difference=with_unit(middle, _YIELD),
        sd=with_unit(spread, _YIELD),
        low=with_unit(middle - half, _YIELD),
        high=with_unit(middle + half, _YIELD),
        weight=_plain(weight),
        chance_above_zero=_plain(ndtr(middle / spread)),
    )


def _plain(value: Floats) -> Floats:
    return value.item() if isinstance(value, np.generic) else value
