"""What a check of a medium's water and air says in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from scenariokit.language import number_text, tr
from scenariokit.substrate.curve import Hydraulics
from scenariokit.substrate.flux import COARSE_N


def verdicts(flags: tuple[Any, Any, Any], numbers: Any, asked: Mapping[str, Any]) -> Any:
    """Return the three verdicts in words; for arrays the share of draws and the mean numbers."""
    moist, airy, delivers = flags
    top, air, limit, margin = (None if v is None else float(np.mean(v)) for v in numbers)
    suction, least = float(np.mean(asked["most_suction"])), float(np.mean(asked["least_air"]))
    dry = tr("does not stay moist")
    if np.mean(numbers[0]) <= suction:
        dry = tr("does not stay moist, no water reaches it")
    lines = [
        tr(
            "{say}: suction at the top {top:.1f} cm, at most {suction:g} cm asked",
            say=_say(moist, tr("stays moist"), dry),
            top=top,
            suction=suction,
        ),
        tr(
            "{say}: mean air-filled porosity {air:.2f}, at least {least:.2f} asked",
            say=_say(airy, tr("has air"), tr("lacks air")),
            air=air,
            least=least,
        ),
    ]
    if delivers is None or limit is None:
        lines.append(tr("delivery not known: the medium's conductivity is not given"))
    else:
        lines.append(
            tr(
                "{say}: {value} mm/day to the top, {margin:.2f} times the demand",
                say=_say(delivers, tr("can deliver the peak"), tr("cannot deliver the peak")),
                value=number_text(limit, ".3g" if limit < 1000 else ".0f"),
                margin=margin,
            )
        )
    return tuple(lines)


def _say(flag: Any, yes: str, no: str) -> str:
    if np.ndim(flag) == 0:
        return yes if flag else no
    return tr("{yes} in {mean:.0%} of the draws", yes=yes, mean=np.mean(flag))


def cautions(medium: Hydraulics, connected: Any, wick: Any) -> tuple[str, ...]:
    """Return where the result lies outside what its model covers."""
    lines = []
    if medium.illustrative:
        lines.append(
            tr(
                "The medium's numbers are illustrative, typical values from memory: put in "
                "laboratory values before deciding anything."
            )
        )
    if medium.conductivity is not None and np.any(medium.curve[3] < COARSE_N):
        lines.append(
            tr(
                "n is below {coarse_n:g}: the medium's flow is known to the order of magnitude only.",
                coarse_n=COARSE_N,
            )
        )
    if medium.conductivity is None and wick is not None:
        lines.append(
            tr(
                "The medium's conductivity is not given: the limit is the wick's alone, and the "
                "medium may carry less."
            )
        )
    if not np.all(connected):
        lines.append(
            tr(
                "Water does not reach the medium by itself: only roots in the water drink. Air and "
                "water are those of a pot that has just drained."
            )
        )
    return tuple(lines)
