"""What single plots say once other trials are heard: in words, the prior named."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit.charts.frames import Showing
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
        f"You chose to hear the other studies. The answer is worth what they are worth; plots "
        f"treated alike are taken to vary by {100 * USUAL_CV:.0f} %."
    ]
    for seen, told in pairs:
        name = f"{seen.first} – {seen.second}: seen {signed(seen.observed, showing)}"
        if told is None:
            said.append(f"{name}; fewer than two other studies repeated both, so nothing is heard.")
            continue
        span = span_text(told.low, told.high, showing, differences=True)
        said.append(
            f"{name}; with the prior of {told.prior} it is {signed(told.difference, showing)} "
            f"({span}). The plots seen here weigh {100 * float(told.weight):.0f} %, the prior the "
            "rest."
        )
    return said
