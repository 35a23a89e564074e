"""What single plots say once other trials are heard: in words, the prior named."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit.charts.frames import Showing
from scenariokit.language import tr
from scenariokit.report.trial_numbers import signed, span_text
from scenariokit.trials.pooled_prior import USUAL_CV
from scenariokit.trials.prior import TemperedDifference
from scenariokit.trials.unreplicated import UnreplicatedDifference

Pairs = Sequence[tuple[UnreplicatedDifference, TemperedDifference | None]]


def tempered_sentences(pairs: Pairs, showing: Showing) -> list[str]:
    """Return each difference of single plots as seen, and as it stands with its prior.

    Parameters
    ----------
    pairs : sequence of pairs
        From `tempered_differences`; none gives no sentence.
    showing : Showing
        Units of the reader.
    """
    if not pairs:
        return []
    said = [
        tr(
            "You chose to hear the other studies. The answer is worth what they are worth; plots "
            "treated alike are taken to vary by {percent:.0f} %.",
            percent=100 * USUAL_CV,
        )
    ]
    for seen, told in pairs:
        pair, observed = f"{seen.first} – {seen.second}", signed(seen.observed, showing)
        if told is None:
            said.append(
                tr(
                    "{pair}: seen {observed}; fewer than two other studies repeated both, so "
                    "nothing is heard.",
                    pair=pair,
                    observed=observed,
                )
            )
            continue
        said.append(
            tr(
                "{pair}: seen {observed}; with the prior of {prior} it is {difference} ({interval}). "
                "The plots seen here weigh {percent:.0f} %, the prior the rest.",
                pair=pair,
                observed=observed,
                prior=told.prior,
                difference=signed(told.difference, showing),
                interval=span_text(told.low, told.high, showing, differences=True),
                percent=100 * float(told.weight),
            )
        )
    return said
