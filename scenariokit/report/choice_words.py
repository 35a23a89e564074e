"""Numbers and shares of draws as the sentences on a choice have them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.language import number_text, tr
from scenariokit.scenario import OUTCOMES, shown


def said(value: Any, name: str, showing: Showing) -> str:
    """Return a quantity of an outcome's dimension as this person reads it, with its unit."""
    number = float(shown(value, OUTCOMES[name], showing.system, showing.rate))
    if math.isnan(number):
        return tr("no value")
    digits = OUTCOMES[name].digits
    while 0 < abs(number) < 10 ** (1 - digits) and digits < 4:
        digits += 1
    written = number_text(number, f",.{digits}f")
    return f"{written} {showing.unit(name)}".strip().replace("-", "−")


def number_words(value: float, unit: str, showing: Showing) -> str:
    """Return a plain number of a parameter's unit as this person reads it."""
    rate = showing.rate if "money" in unit else 1.0
    written = number_text(value * rate, ".3g")
    return f"{written} {units.unit_label(unit, showing.currency)}".strip()


def money(value: Any, showing: Showing) -> str:
    """Return an amount of money with its currency."""
    return f"{number_text(float(value.magnitude) * showing.rate, ',.0f')} {showing.currency}"


def in_hundred(share: float) -> str:
    """Return a share of draws as a count of a hundred, without claiming certainty.

    Examples
    --------
    >>> in_hundred(0.514), in_hundred(0.9996), in_hundred(0.0)
    ('51 of 100', 'more than 99 of 100', 'none')
    """
    if share <= 0:
        return tr("none")
    if share >= 1:
        return tr("all")
    if share < 0.01:
        return tr("fewer than 1 of 100")
    if share > 0.99:
        return tr("more than 99 of 100")
    return tr("{count} of 100", count=round(100 * share))


def of_draws(share: float) -> str:
    """Return a share of draws as a count of a hundred draws.

    Examples
    --------
    >>> of_draws(0.514), of_draws(1.0)
    ('51 of 100 draws', 'all draws')
    """
    if share <= 0:
        return tr("none of the draws")
    if share >= 1:
        return tr("all draws")
    if share < 0.01:
        return tr("fewer than 1 of 100 draws")
    if share > 0.99:
        return tr("more than 99 of 100 draws")
    return tr("{count} of 100 draws", count=round(100 * share))


def shown_labels(labels: Mapping[str, str]) -> dict[str, str]:
    """Return what a person reads for each method, in the language in use."""
    return {key: tr(label) for key, label in labels.items()}
