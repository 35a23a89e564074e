"""A panel of controls made from descriptions; it holds no numbers of its own."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, ClassVar

import traitlets

from scenariokit import units
from scenariokit.errors import Problem, ProblemsError, ScenarioKitError
from scenariokit.glossary import PARAMETERS
from scenariokit.language import mark, tr
from scenariokit.parameters import Parameter, UnitSystem
from scenariokit.widgets.page_code import FIELD_PANEL
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded


class FieldPanel(Worded, PageWidget):
    """Sliders with number boxes, pickers and check lists, grouped by topic.

    Parameters
    ----------
    fields : list of dict
        What to show; made by `range_field`, `number_field`, `choice_field`, `tabs_field`,
        `many_field` and `text_field`.
    values : dict
        The value of each field by its key, in the unit shown. A page never sets it whole.
    heard : int
        Number of the last move of a page that is in `values`.
    errors : dict
        A message to show under a field, by its key.
    page_of : str
        Class of the box around the app that this panel belongs to: the page notes
        the language there, and in the document where the app is the whole page.
    page_title : str
        What the document is then called; its own title stays if empty.
    """

    WORDS: ClassVar[dict[str, str]] = {
        "what_is": mark("What is {label}?"),
        "no_number": mark("Write a number, with a point as the decimal sign."),
    }

    CODE = FIELD_PANEL
    fields = traitlets.List(traitlets.Dict()).tag(sync=True)
    values = traitlets.Dict().tag(sync=True)
    heard = traitlets.Int(0).tag(sync=True)
    errors = traitlets.Dict().tag(sync=True)
    folded = traitlets.Bool(False).tag(sync=True)
    prefix = traitlets.Unicode("").tag(sync=True)
    page_of = traitlets.Unicode("").tag(sync=True)
    page_title = traitlets.Unicode("").tag(sync=True)

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.on_msg(self._received)

    def _received(self, _panel: Any, content: dict[str, Any], _buffers: Any) -> None:
        """Take in what a page says."""
        self.hear(content["moved"])

    def hear(self, moved: Sequence[Sequence[Any]]) -> None:
        """Take over what was moved on a page, and answer in one message.

        Parameters
        ----------
        moved : sequence of (int, str, value)
            Number, key and value of each move that the page has no answer to;
            the numbers rise by one with each move.
        """
        new = [one for one in moved if one[0] > self.heard]
        if not new:  # the answer did not arrive
            self.send_state(["heard", "values"])
            return
        with self.hold_sync():
            self.heard = new[-1][0]
            self.values = {**self.values, **{key: value for _, key, value in new}}


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
    # A difference of temperatures is no temperature: the step is what lies between two of them.
    span = to_shown(low + step, described, system) - to_shown(low, described, system)
    shown_step, least = _nice(span), _bound(described.minimum, described, system, inward=1)
    shown_low = _rounded(to_shown(low, described, system), shown_step, math.floor)
    if least is not None and shown_low < least:
        shown_low = _rounded(least, shown_step, math.ceil)
    return {
        "kind": "range",
        "key": key,
        "label": label or tr(described.label),
        "unit": units.unit_label(unit, currency),
        "topic": tr(described.topic) if topic is None else topic,
        "low": shown_low,
        "high": _rounded(to_shown(high, described, system), shown_step, math.ceil),
        "step": shown_step,
        "digits": digits_for(shown_step),
        "minimum": least,
        "maximum": _bound(described.maximum, described, system, inward=-1),
        "help": parameter_help(described),
    }


def parameter_help(described: Parameter) -> str:
    """Return what a parameter means and where its numbers come from."""
    return tr(
        "{meaning}\nSource: {source}.", meaning=tr(described.help), source=tr(described.source)
    )


def choice_field(
    key: str, label: str, options: Sequence[tuple[str, str]], *, topic: str = "", help: str = ""
) -> dict[str, Any]:
    """Return the description of a picker of one of several options (value, words)."""
    shared = {"key": key, "label": label, "topic": topic, "help": help, "unit": ""}
    return {"kind": "choice", "options": [list(option) for option in options], **shared}


def tabs_field(
    key: str, label: str, options: Sequence[tuple[str, str]], *, topic: str = "", help: str = ""
) -> dict[str, Any]:
    """Return the description of a row of buttons of which one is down (value, words)."""
    return {**choice_field(key, label, options, topic=topic, help=help), "kind": "tabs"}


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


def text_field(
    key: str, label: str, *, rows: int = 1, date: bool = False, topic: str = "", help: str = ""
) -> dict[str, Any]:
    """Return the description of a box for text of so many rows, or for a date.

    A date is sent as year-month-day; text is sent when the box is left.
    """
    shared = {"key": key, "label": label, "topic": topic, "help": help, "unit": ""}
    return {"kind": "text", "rows": rows, "input": "date" if date else "text", **shared}


def decimal_field() -> dict[str, Any]:
    """Return the description of a picker of the decimal sign in a person's files."""
    signs = [(".", tr("point: 1.5")), (",", tr("comma: 1,5"))]
    return choice_field("decimal", tr("Decimal sign in my files"), signs)


def to_shown(value: float, described: Parameter, system: UnitSystem) -> float:
    """Return a number in the parameter's own unit as a number in the unit shown."""
    shown = described.shown_unit(system)
    if shown == described.unit:
        return float(value)
    return float(units.quantity(float(value), described.unit).m_as(units.unit_of(shown)))


def from_shown(value: float, described: Parameter, system: UnitSystem) -> Any:
    """Return a number in the unit shown as a quantity."""
    return units.quantity(float(value), described.shown_unit(system))


def _bound(
    value: float | None, described: Parameter, system: UnitSystem, *, inward: int
) -> float | None:
    """Return a bound in the unit shown, short, and not outside the bound by rounding."""
    if value is None:
        return None
    exact = to_shown(value, described, system)
    short = float(f"{exact:.12g}")
    back = from_shown(short, described, system).m_as(units.unit_of(described.unit))
    return short if (back - value) * inward >= 0 else exact + inward * 1e-11 * abs(exact)


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


def refusal_text(error: ScenarioKitError) -> str:
    """Return why a value was refused, to stand beside its control.

    What a programmer calls an argument is called there as its control is, and
    the function that found it is not named.
    """
    if not isinstance(error, ProblemsError):
        return str(error)
    return "\n".join(str(_as_labelled(problem)) for problem in error.problems)


def _as_labelled(problem: Problem) -> Problem:
    described = PARAMETERS.get(problem.field)
    if described is None:
        return problem
    return replace(problem, field=tr(described.label), example="")


def attempts(
    moved: Mapping[str, Any], errors: Mapping[str, str], values: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Return which values to try, in order, after controls were moved.

    What was refused before and still stands in the panel is tried again, because
    another control may have made room for it; if it is refused again, what was
    moved is tried alone.
    """
    if not moved:
        return []
    waiting = {key: values[key] for key in errors if key in values and key not in moved}
    return [{**waiting, **moved}, dict(moved)] if waiting else [dict(moved)]
