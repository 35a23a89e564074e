"""A panel of controls made from descriptions; it holds no numbers of its own."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from scenariokit import units
from scenariokit.parameters import Parameter, UnitSystem

STATIC = Path(__file__).parent / "static"


class FieldPanel(anywidget.AnyWidget):
    """Sliders with number boxes, pickers and check lists, grouped by topic.

    Parameters
    ----------
    fields : list of dict
        What to show; made by `range_field`, `number_field`, `choice_field` and `many_field`.
    values : dict
        The value of each field by its key, in the unit shown.
    errors : dict
        A message to show under a field, by its key.
    """

    _esm = STATIC / "field_panel.js"
    _css = STATIC / "field_panel.css"
    fields = traitlets.List(traitlets.Dict()).tag(sync=True)
    values = traitlets.Dict().tag(sync=True)
    errors = traitlets.Dict().tag(sync=True)
    folded = traitlets.Bool(False).tag(sync=True)
    prefix = traitlets.Unicode("").tag(sync=True)


def range_field(
    key: str,
    described: Parameter,
    *,
    system: UnitSystem = "metric",
    currency: str = "money",
    topic: str | None = None,
    label: str = "",
) -> dict[str, Any]:
    """Return the description of a slider with a number box for one parameter.

    Parameters
    ----------
    key : str
        How the value is called in the panel's `values`.
    described : Parameter
        The glossary's entry: label, unit, ranges, help and source come from it.
    system : {'metric', 'us'}
        In which unit it is shown.
    currency : str
        What ``money`` is called.
    topic, label : str, optional
        Another heading or label than the parameter's own.
    """
    low, high, step = described.slider
    unit = described.shown_unit(system)
    shown_step = _nice(to_shown(step, described, system))
    return {
        "kind": "range",
        "key": key,
        "label": label or described.label,
        "unit": units.unit_label(unit, currency),
        "topic": described.topic if topic is None else topic,
        "low": _rounded(to_shown(low, described, system), shown_step, math.floor),
        "high": _rounded(to_shown(high, described, system), shown_step, math.ceil),
        "step": shown_step,
        "digits": digits_for(shown_step),
        "minimum": _bound(described.minimum, described, system),
        "maximum": _bound(described.maximum, described, system),
        "help": f"{described.help}\nSource: {described.source}.",
    }


def choice_field(
    key: str, label: str, options: Sequence[tuple[str, str]], *, topic: str = "", help: str = ""
) -> dict[str, Any]:
    """Return the description of a picker of one of several options (value, words)."""
    shared = {"key": key, "label": label, "topic": topic, "help": help, "unit": ""}
    return {"kind": "choice", "options": [list(option) for option in options], **shared}


def many_field(
    key: str, label: str, options: Sequence[tuple[str, str]], *, topic: str = "", help: str = ""
) -> dict[str, Any]:
    """Return the description of a list of options of which several may be ticked."""
    return {**choice_field(key, label, options, topic=topic, help=help), "kind": "many"}


def number_field(
    key: str, label: str, unit: str, *, topic: str = "", digits: int = 4, help: str = ""
) -> dict[str, Any]:
    """Return the description of a number box without a slider."""
    shared = {"key": key, "label": label, "topic": topic, "help": help, "unit": unit}
    ends = {"low": 0, "high": 1, "step": "any", "digits": digits, "minimum": 0, "maximum": None}
    return {"kind": "number", **ends, **shared}


def to_shown(value: float, described: Parameter, system: UnitSystem) -> float:
    """Return a number in the parameter's own unit as a number in the unit shown."""
    shown = described.shown_unit(system)
    if shown == described.unit:
        return float(value)
    return float(units.quantity(float(value), described.unit).m_as(units.unit_of(shown)))


def from_shown(value: float, described: Parameter, system: UnitSystem) -> Any:
    """Return a number in the unit shown as a quantity."""
    return units.quantity(float(value), described.shown_unit(system))


def _bound(value: float | None, described: Parameter, system: UnitSystem) -> float | None:
    return None if value is None else to_shown(value, described, system)


def _nice(step: float) -> float:
    """Return 1, 2 or 5 times a power of ten, the largest not above `step` by much."""
    power = 10.0 ** math.floor(math.log10(step))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if factor * power >= step * 0.75:
            return float(f"{factor * power:.12g}")
    return float(f"{10 * power:.12g}")


def _rounded(value: float, step: float, toward: Any) -> float:
    return float(f"{toward(round(value / step, 9)) * step:.12g}")


def digits_for(step: float) -> int:
    """Return the decimal places that a number moved in steps of `step` needs."""
    exponent = Decimal(f"{step:.12g}").normalize().as_tuple().exponent
    return max(0, -int(exponent))


def changed(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of `after` that differ from `before`."""
    return {key: value for key, value in after.items() if before.get(key) != value}
