"""One plot of each treatment: how large a difference would be worth believing.

Without a second plot of the same treatment nothing in a trial says how much
plots treated alike differ. What can be said rests on how much they usually
differ elsewhere; nothing here is a test of significance.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.quantities import checked, checked_floats, with_unit
from scenariokit.trials.plots import PlotTable, factor_text
from scenariokit.units import Floats, Quantity, QuantityLike

USUAL_VARIATION = (0.05, 0.12, 0.35)
"""Coefficients of variation of good research plots, of a usual trial and of small plots.

Error mean squares of potato trials: Tai 1971 and Talbot and Wheelwright 1989
give 5 to 11 %, a trial of small plots 35 %; 12 % lies between them.
"""

CAUTION = mark(
    "One plot proves little: a difference may come from the place in the room, the seed "
    "piece or the day of weighing as well as from the treatment. Repeat each treatment "
    "in two plots or more."
)

_YIELD = "kg/m^2"


@checked(
    _YIELD,
    mean="yield_per_area",
    cv="coefficient_of_variation",
    plots="plots_each",
    confidence="confidence",
)
def credible_difference(
    mean: QuantityLike, cv: QuantityLike, plots: QuantityLike = 1, confidence: QuantityLike = 0.95
) -> Quantity:
    r"""Return the difference that two like treatments stay within, at the usual variation.

    d = z √2 CV Y / √n

    Parameters
    ----------
    mean : quantity
        Y, mean yield of the two treatments [kg/m²].
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean:
        0.05 for good research plots, 0.12 usual, 0.35 for small plots.
    plots : int
        n, plots of each treatment.
    confidence : float
        How often like treatments stay within d; z is the matching two-sided
        quantile of the normal distribution, 1.96 for 0.95.

    Returns
    -------
    quantity
        d [kg/m²].

    Raises
    ------
    ArgumentError
        If an argument has no unit where one is due or lies outside its range.

    Notes
    -----
    Valid for independent plots of about normal yields. CV is taken from other
    trials and not from this one: it is a yardstick, not a test.

    References
    ----------
    Standard error of a difference of two means; any text of statistics, for
    example Snedecor and Cochran 1989, Statistical Methods, from memory.

    Examples
    --------
    >>> from scenariokit.trials.unreplicated import credible_difference
    >>> print(f"{credible_difference('4.5 kg/m^2', cv=0.12):.2f~P}")
    1.50 kg/m²
    """
    return _limit(mean, cv, 2 / np.asarray(plots, dtype=float), confidence)


def _limit(mean: Floats, cv: Floats, share: Floats, confidence: Floats) -> Floats:
    """Return z CV Y √share, where share is 1/n₁ + 1/n₂."""
    from scipy.special import ndtri

    z = ndtri((1 + np.asarray(confidence)) / 2)
    return z * np.asarray(cv) * np.asarray(mean) * np.sqrt(share)


@dataclass(frozen=True)
class CredibleDifference:
    """The difference that like treatments stay within, at one usual variation.

    Parameters
    ----------
    cv : float
        Coefficient of variation that was assumed.
    difference : quantity
        The limit [kg/m²].
    passed : bool
        Whether the observed difference is larger. This is no test: it is as
        good as the assumed variation.
    """

    cv: float
    difference: Quantity
    passed: bool


@dataclass(frozen=True)
class UnreplicatedDifference:
    """Two treatments of a trial with few or no replicates.

    Parameters
    ----------
    first, second : str
        Their levels.
    first_yield, second_yield : quantity
        Mean yield of their plots [kg/m²].
    plots : tuple of int
        Plots of each.
    observed : quantity
        First minus second [kg/m²].
    credible : tuple of CredibleDifference
        What like treatments stay within, for each variation, the smallest first.
    confidence : float
        How often they stay within it.
    """

    first: str
    second: str
    first_yield: Quantity
    second_yield: Quantity
    plots: tuple[int, int]
    observed: Quantity
    credible: tuple[CredibleDifference, ...]
    confidence: float

    @property
    def words(self) -> str:
        """What may be said, in plain sentences; the caution comes first."""
        size = self.observed.m_as(_YIELD)
        limits = ", ".join(
            tr(
                "{difference:.2f} (variation {cv:.0f} %)",
                difference=one.difference.m_as(_YIELD),
                cv=100 * one.cv,
            )
            for one in self.credible
        )
        if min(self.plots) > 1:
            head = tr("Both treatments were repeated: their own plots say more than what follows.")
        else:
            head = tr("One plot proves little.")
        if size >= 0:
            gave = mark("{first} gave {size:.2f} kg/m² more than {second}.")
        else:
            gave = mark("{first} gave {size:.2f} kg/m² less than {second}.")
        said = (
            head,
            tr(gave, first=self.first, size=abs(size), second=self.second),
            tr(
                "Treatments that are alike stay within {limits} kg/m² of each other in "
                "{confidence:.0f} of 100 trials of this size.",
                limits=limits,
                confidence=100 * self.confidence,
            ),
        )
        return " ".join(said)


def unreplicated_differences(
    plots: PlotTable,
    treatment: str = "method",
    *,
    variation: Sequence[QuantityLike] = USUAL_VARIATION,
    confidence: QuantityLike = 0.95,
) -> tuple[UnreplicatedDifference, ...]:
    """Return each two treatments beside the difference that would be worth believing.

    d = z CV Y √(1/n₁ + 1/n₂), for each coefficient of variation.

    Parameters
    ----------
    plots : PlotTable
        Plots of one study; those not harvested are left out.
    treatment : str
        The factor whose levels are compared.
    variation : sequence of float
        Coefficients of variation of plots treated alike; 5, 12 and 35 % if
        left out.
    confidence : float
        How often like treatments stay within d.

    Returns
    -------
    tuple of UnreplicatedDifference
        One for each pair, in the order of the file. There is no p value: a
        trial without replicates has none.

    Raises
    ------
    ArgumentError
        If `variation` or `confidence` lies outside its range.
    RecordError
        If the factor is not recorded.
    InfeasibleError
        If fewer than two treatments were harvested, or the plots are of
        several studies.

    Warnings
    --------
    One plot proves little. Do not report any of this as significant.

    Examples
    --------
    >>> from scenariokit.trials.plots import PlotTable
    >>> from scenariokit.trials.unreplicated import unreplicated_differences
    >>> plots = PlotTable([5.2, 4.1], {"method": ("bag", "tray")})
    >>> one = unreplicated_differences(plots)[0]
    >>> [f"{row.difference:.2f~P}" for row in one.credible], [row.passed for row in one.credible]
    (['0.64 kg/m²', '1.55 kg/m²', '4.51 kg/m²'], [True, False, False])
    """
    given = {f"variation[{i}]": (cv, "coefficient_of_variation") for i, cv in enumerate(variation)}
    found = checked_floats(
        "unreplicated_differences", {**given, "confidence": (confidence, "confidence")}
    )
    level = found.pop("confidence")
    if not found:
        problem = Problem(
            "variation", "", tr("is empty"), example="(0.05, 0.12, 0.35)", kind="range"
        )
        raise argument_error([problem], "unreplicated_differences")
    used = plots.known()
    names = np.array(used.column(treatment))
    if "study" in used.factors and len(used.levels("study")) > 1:
        raise InfeasibleError(
            tr(
                "the plots are of several studies, which differ in more than the treatment; compare "
                "within each study, or fit a mixed model over all"
            )
        )
    values = {name: used.yields[names == name] for name in used.levels(treatment)}
    if len(values) < 2:
        raise InfeasibleError(
            tr(
                "fewer than two levels of {treatment} were harvested",
                treatment=factor_text(treatment),
            )
        )
    return tuple(
        _pair(first, second, values, sorted(found.values()), level)
        for first, second in itertools.combinations(values, 2)
    )


def _pair(
    first: str, second: str, values: dict[str, Floats], cvs: Sequence[float], confidence: float
) -> UnreplicatedDifference:
    means = [float(values[name].mean()) for name in (first, second)]
    counts = (int(values[first].size), int(values[second].size))
    observed = means[0] - means[1]
    share = 1 / counts[0] + 1 / counts[1]
    limits = [float(_limit(sum(means) / 2, cv, share, confidence)) for cv in cvs]
    return UnreplicatedDifference(
        first=first,
        second=second,
        first_yield=with_unit(means[0], _YIELD),
        second_yield=with_unit(means[1], _YIELD),
        plots=counts,
        observed=with_unit(observed, _YIELD),
        credible=tuple(
            CredibleDifference(cv, with_unit(limit, _YIELD), abs(observed) > limit)
            for cv, limit in zip(cvs, limits, strict=True)
        ),
        confidence=confidence,
    )
