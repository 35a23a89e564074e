"""Numbers of a trial as a person reads them."""

from __future__ import annotations

import re
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.charts.trials import UNITS, yield_number, yield_unit
from scenariokit.language import number_text, tr

METRIC, US = UNITS["metric"], UNITS["us"]
_METRIC_YIELD = re.compile(r"(\d+(?:[.,]\d+)?(?:e[+-]?\d+)?) kg/m²")
"""With the decimal sign of any language; no yield reaches the thousands."""


def yield_text(value: Any, showing: Showing, *, unit: bool = True) -> str:
    """Return a yield as text, with two places in metric and three in US units."""
    digits = 3 if showing.system == "us" else 2
    text = number_text(yield_number(value, showing), f".{digits}f")
    return f"{text} {yield_unit(showing)}" if unit else text


def in_reader_units(text: str, showing: Showing) -> str:
    """Return a sentence with its yields in the reader's unit, two digits each."""
    if showing.system != "us":
        return text

    def turned(found: re.Match[str]) -> str:
        metric = units.quantity(float(found.group(1).replace(",", ".")), METRIC[0])
        return f"{number_text(float(metric.m_as(units.unit_of(US[0]))), '.2g')} {US[1]}"

    return _METRIC_YIELD.sub(turned, text)


def chance(p: float) -> str:
    """Return a chance as it is written beside a test.

    Examples
    --------
    >>> from scenariokit.report.trial_numbers import chance
    >>> chance(0.0313), chance(0.00002)
    ('p = 0.031', 'p < 0.001')
    """
    if p < 0.001:
        return f"p < {number_text(0.001, '.3f')}"
    return f"p = {number_text(p, '.3f')}"


def bare_chance(p: float) -> str:
    """Return a chance as it stands in a column of chances."""
    return chance(p).removeprefix("p = ").removeprefix("p ").replace(" ", "\u00a0")


def signed(value: Any, showing: Showing, *, unit: bool = True) -> str:
    """Return a difference of yields with its sign."""
    text = yield_text(value, showing, unit=unit)
    return text.replace("-", "−") if text.startswith("-") else f"+{text}"


def span_text(low: Any, high: Any, showing: Showing, *, differences: bool = False) -> str:
    """Return an interval of yields, or of their differences, without its unit."""
    if low is None or high is None:
        return tr("none exists")
    write = signed if differences else yield_text
    ends = [write(end, showing, unit=False) for end in (low, high)]
    return tr("{low} to {high}", low=ends[0], high=ends[1])
