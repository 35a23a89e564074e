"""What is usually uncertain about a comparison, and how much, said in the open."""

from __future__ import annotations

import functools
import re
from collections.abc import Sequence

from scenariokit.language import language, mark, tr
from scenariokit.scenario import Harvest, Scenario
from scenariokit.scenario.shown_labels import basis_text
from scenariokit.trials.unreplicated import USUAL_VARIATION
from scenariokit.uncertainty.inputs import Cause, Uncertain, Uncertainty
from scenariokit.uncertainty.placing import YIELD
from scenariokit.uncertainty.spreads import Spread, from_interval, lognormal, pert

SEASON, MARKET = "season", "market"
CAUSES = (
    Cause(SEASON, mark("How good the season is")),
    Cause(MARKET, mark("How dear the market is")),
)
SEASON_ON_YIELD = 0.6
"""Correlation of a yield with the season; common practice, no published source."""
SEASON_ON_CLIMATE = -0.5
"""A thirsty season is a worse one; common practice, no published source."""
MARKET_ON_PRODUCE = 0.7
MARKET_ON_MEDIUM = 0.4
"""Correlations of prices with the market; common practice, no published source."""
LEAST_DEGREES = 3.0
"""Degrees of freedom from which Student's t has a finite variance."""
_UNIT = "kg/m^2"

_FACTORS: tuple[tuple[str, tuple[float, float, float], str, float], ...] = (
    ("site.climate_factor", (0.75, 1.0, 1.35), SEASON, SEASON_ON_CLIMATE),
    ("prices.produce_price", (0.6, 1.0, 1.5), MARKET, MARKET_ON_PRODUCE),
    ("prices.medium_factor", (0.8, 1.0, 1.3), MARKET, MARKET_ON_MEDIUM),
    ("prices.labour_price", (0.8, 1.0, 1.3), "", 0.0),
    ("prices.water_price", (0.7, 1.0, 1.6), "", 0.0),
    ("crop.marketable_share", (0.85, 1.0, 1.08), "", 0.0),
)
"""Path, factor on the stated value (low, likeliest, high), cause and its strength."""


def usual_uncertainty(scenarios: Sequence[Scenario]) -> Uncertainty:
    """Return what is usually uncertain about these scenarios: yields, season, prices, use.

    Parameters
    ----------
    scenarios : sequence of Scenario
        Each of another method.

    Returns
    -------
    Uncertainty
        One yield for each method: from its plots' interval, if it was weighed
        in a trial; a wide spread, if only one plot was weighed; else PERT from
        low, usual and high. Shared by all methods: how thirsty the season is,
        prices, and the share that can be sold. Each input's `note` says what
        was assumed.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> found = usual_uncertainty([scenario_for("medium_bag"), scenario_for("wedge_pots")])
    >>> len(found.inputs), [cause.name for cause in found.causes]
    (8, ['season', 'market'])
    """
    return Uncertainty((*(_yield_of(one) for one in scenarios), *_shared(language())), CAUSES)


@functools.cache
def _shared(_language: str) -> tuple[Uncertain, ...]:
    """Return what all methods share: factors on what is stated, with notes in a language."""
    return tuple(
        Uncertain(
            path,
            pert(low, likely, high),
            relative=True,
            cause=cause,
            strength=strength,
            note=tr(
                "{low:g} to {high:g} times what is stated; common practice, no published source",
                low=low,
                high=high,
            ),
        )
        for path, (low, likely, high), cause, strength in _FACTORS
    )


def _yield_of(scenario: Scenario) -> Uncertain:
    spread, note = yield_spread(scenario)
    return Uncertain(
        YIELD,
        spread,
        method=scenario.method.id,
        cause=SEASON,
        strength=SEASON_ON_YIELD,
        label=tr("Yield: {method}", method=tr(scenario.method.label)),
        note=note,
    )


def yield_spread(scenario: Scenario) -> tuple[Spread, str]:
    """Return what is thought of a method's yield, and what that rests on.

    Parameters
    ----------
    scenario : Scenario
        Its harvest is looked at.

    Returns
    -------
    Spread
        In kg/m². Student's t about the mean of weighed plots, with the interval that they
        gave; lognormal with a CV of 0.35, that of small plots, after a single one; else PERT
        from the low, the usual and the high yield.
    str
        What it rests on.

    Notes
    -----
    Two or three plots count as four in the tails: their own t has no finite variance. The
    interval stays theirs. Where the usual yield was moved out of its range, the range says
    nothing of it, and a CV of 0.12 about it is taken.
    """
    harvest = scenario.harvest
    basis = basis_text(harvest.basis)
    low, usual, high = (
        float(end.magnitude) for end in (harvest.low, harvest.typical, harvest.high)
    )
    if usual == 0:
        return Spread("fixed", (0.0,), _UNIT), tr("no yield is stated")
    if not harvest.interval:
        widest = max(USUAL_VARIATION)
        spread = lognormal(harvest.typical, harvest.typical * widest)
        return spread, tr(
            "one plot was weighed: a CV of {variation:.0%} is taken, common practice, no published "
            "source",
            variation=widest,
        )
    if not low <= usual <= high:
        spread = lognormal(harvest.typical, harvest.typical * USUAL_VARIATION[1])
        return spread, tr(
            "outside its own range: a CV of {variation:.0%}, common practice, no published source",
            variation=USUAL_VARIATION[1],
        )
    if harvest.status == "trial":
        spread = from_interval(
            harvest.typical, harvest.low, harvest.high, degrees=_degrees(harvest)
        )
        return spread, tr("95 % interval of {basis}", basis=basis)
    if low == high:
        return Spread("fixed", (usual,), _UNIT), tr(
            "one yield without a range: {basis}", basis=basis
        )
    return Spread("pert", (low, usual, high), _UNIT), tr(
        "low, usual and high: {basis}", basis=basis
    )


def _degrees(harvest: Harvest) -> float | None:
    """Return the degrees of freedom of plots that were weighed, as the harvest's basis has them."""
    counted = re.match(r"(\d+) plots weighed", harvest.basis)
    return None if counted is None else max(float(counted.group(1)) - 1, LEAST_DEGREES)
