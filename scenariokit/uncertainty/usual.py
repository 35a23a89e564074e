"""What is usually uncertain about a comparison, and how much, said in the open."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit.errors import ArgumentError
from scenariokit.scenario import Scenario, leaves
from scenariokit.trials.unreplicated import USUAL_VARIATION
from scenariokit.uncertainty.inputs import Cause, Uncertain, Uncertainty
from scenariokit.uncertainty.spreads import Spread, fixed, from_interval, lognormal, pert

SEASON, MARKET = "season", "market"
CAUSES = (
    Cause(SEASON, "How good the season is"),
    Cause(MARKET, "How dear the market is"),
)
SEASON_ON_YIELD = 0.6
"""Correlation of a yield with the season; common practice, no published source."""
SEASON_ON_CLIMATE = -0.5
"""A thirsty season is a worse one; common practice, no published source."""
MARKET_ON_PRODUCE = 0.7
MARKET_ON_MEDIUM = 0.4
_PRACTICE = "common practice, no published source"

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
    inputs = [_yield_of(one) for one in scenarios]
    known = {path: described for one in scenarios for path, described, _ in leaves(one)}
    for path, (low, likely, high), cause, strength in _FACTORS:
        inputs.append(
            Uncertain(
                path,
                pert(low, likely, high),
                relative=True,
                cause=cause,
                strength=strength,
                label=known[path].label,
                note=f"{low:g} to {high:g} times what is stated; {_PRACTICE}",
            )
        )
    return Uncertainty(tuple(inputs), CAUSES)


def _yield_of(scenario: Scenario) -> Uncertain:
    spread, note = yield_spread(scenario)
    return Uncertain(
        "harvest.typical", spread, method=scenario.method.id, cause=SEASON,
        strength=SEASON_ON_YIELD, label=f"Yield: {scenario.method.label}", note=note,
    )  # fmt: skip


def yield_spread(scenario: Scenario) -> tuple[Spread, str]:
    """Return what is thought of a method's yield, and what that rests on."""
    harvest = scenario.harvest
    low, usual, high = (
        f"{float(end.magnitude)!r} kg/m^2" for end in (harvest.low, harvest.typical, harvest.high)
    )
    if float(harvest.typical.magnitude) == 0:
        return fixed(usual), "no yield is stated"
    if not harvest.interval:
        widest = max(USUAL_VARIATION)
        spread = lognormal(harvest.typical, harvest.typical * widest)
        return spread, f"one plot was weighed: a CV of {widest:.0%} is taken, {_PRACTICE}"
    if harvest.status == "trial":
        return from_interval(usual, low, high), f"95 % interval of {harvest.basis}"
    try:
        return pert(low, usual, high), f"low, usual and high yield: {harvest.basis}"
    except ArgumentError:  # a usual yield moved out of its own range
        spread = lognormal(harvest.typical, harvest.typical * USUAL_VARIATION[1])
        return spread, f"a CV of {USUAL_VARIATION[1]:.0%} about the usual yield"
