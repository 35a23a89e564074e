"""A small app over one function: sliders from its own description, a sentence and a curve."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from scenariokit import units
from scenariokit.charts.curve import curve_chart
from scenariokit.charts.frames import axis_top
from scenariokit.errors import InfeasibleError, RangeError, ScenarioKitError
from scenariokit.glossary import parameter
from scenariokit.language import mark, number_text, tr
from scenariokit.parameters import Parameter, UnitSystem
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.field_panel import (
    FieldPanel,
    attempts,
    changed,
    from_shown,
    range_field,
    refusal_text,
    to_shown,
)
from scenariokit.widgets.page_guide import PageGuide

log = logging.getLogger(__name__)
POINTS = 61
OF_ONE_KIND = (
    mark("Bottom"),
    mark("Top"),
    mark("Minimum temperature"),
    mark("Maximum temperature"),
)
"""What two arguments of one parameter are called, after their names."""


@dataclass
class LessonModel:
    """What a lesson app knows; no widget in it.

    Parameters
    ----------
    function : callable
        A public function of scenariokit whose result is one quantity.
    vary : str
        The argument along which the curve is drawn.
    values : dict
        Argument to its present quantity.
    """

    function: Callable[..., Any]
    vary: str
    values: dict[str, Any]

    def __post_init__(self) -> None:
        """Check that the function can be explored."""
        if not isinstance(getattr(self.function, "result_unit", None), str):
            raise TypeError("only a function whose result is one quantity can be explored")
        if self.vary not in self.arguments:
            known = ", ".join(self.arguments)
            raise KeyError(f"{self.vary!r} is no argument that can vary; those are: {known}")
        for name, described in self.arguments.items():
            self.values.setdefault(name, units.quantity(described.default, described.unit))

    @property
    def arguments(self) -> dict[str, Parameter]:
        """Each argument and the parameter that it is; optional ones only if a value is given."""
        expectations = self.function.expectations  # type: ignore[attr-defined]
        return {
            name: parameter(row.name)
            for name, row in expectations.items()
            if not row.optional or name in self.values
        }

    def result(self) -> Any:
        """Return the function's value at the present values."""
        return self.function(**self.values)

    def curve(self, low: Any, high: Any) -> tuple[Any, Any]:
        """Return the varied argument between two quantities, and the result along it.

        A low end of zero that the function refuses is left out, and so is every
        point that cannot be together with the other values.
        """
        unit = self.arguments[self.vary].unit
        numbers = np.linspace(low.m_as(units.unit_of(unit)), high.m_as(units.unit_of(unit)), POINTS)
        if self.function.expectations[self.vary].above_zero:  # type: ignore[attr-defined]
            numbers = numbers[numbers > 0]
        along = units.quantity(numbers, unit)
        try:
            return along, self.function(**{**self.values, self.vary: along})
        except (InfeasibleError, RangeError):
            return self._possible(along)

    def _possible(self, along: Any) -> tuple[Any, Any]:
        """Return the points of a curve that are possible, and the result at each."""
        here = self.values[self.vary].m_as(along.units)
        points, found = [], []
        for number in sorted([*along.magnitude, here]):  # `here` is possible, or nothing is shown
            point = units.quantity(number, str(along.units))
            try:
                found.append(self.function(**{**self.values, self.vary: point}))
            except (InfeasibleError, RangeError):
                continue
            points.append(number)
        unit = self.function.result_unit  # type: ignore[attr-defined]
        numbers = [one.m_as(units.unit_of(unit)) for one in found]
        return units.quantity(np.array(points), str(along.units)), units.quantity(
            np.array(numbers), unit
        )


class Lesson:
    """A lesson app: sliders on the left, the answer and its curve on the right.

    Parameters
    ----------
    function : callable
        A public function of scenariokit whose result is one quantity.
    vary : str
        The argument along which the curve is drawn.
    answer : str
        What the result is called.
    values : mapping, optional
        Where sliders begin: argument to a quantity or a string with a unit.
    system : {'metric', 'us'}
        Units shown for the sliders.
    result_unit : str, optional
        Another unit for the result than the function's own.
    currency : str
        What ``money`` is called.
    """

    def __init__(
        self,
        function: Callable[..., Any],
        *,
        vary: str,
        answer: str,
        values: Mapping[str, Any] | None = None,
        system: UnitSystem = "metric",
        result_unit: str = "",
        currency: str = "EUR",
    ) -> None:
        begin = {name: units.quantity(value) for name, value in (values or {}).items()}
        self.model = LessonModel(function, vary, begin)
        self.system, self.answer, self.currency = system, tr(answer), currency
        self.result_unit = result_unit or function.result_unit  # type: ignore[attr-defined]
        self.panel = FieldPanel(prefix=f"sk-lesson-{id(self):x}")
        self.says = widgets.HTML()
        self.chart = ChartView(
            heading=tr(
                "{answer} as it follows {argument}", answer=self.answer, argument=self._name(vary)
            )
        )
        self._fill()
        self.chart.show(curve_chart(self._title(vary), self._answer_title()))
        self.refresh()
        self.panel.observe(self._moved, names="values")
        right = widgets.VBox(
            [PageGuide(), self.says, self.chart], layout={"flex": "2 1 22rem", "min_width": "0"}
        )
        self.panel.layout.flex = "1 1 17rem"
        self.widget = widgets.HBox(
            [self.panel, right], layout={"flex_flow": "row wrap", "grid_gap": "0 1.5rem"}
        )

    def _ipython_display_(self) -> None:
        """Show the app where a notebook cell ends with it."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]

    def _label(self, argument: str) -> str:
        """Return what an argument is called; two of one parameter need names of their own."""
        arguments = self.model.arguments
        described = arguments[argument]
        if sum(one is described for one in arguments.values()) > 1:
            return tr(argument.replace("_", " ").capitalize())
        return tr(described.label)

    def _name(self, argument: str) -> str:
        label = self._label(argument)
        return label[0].lower() + label[1:]

    def _title(self, argument: str) -> str:
        described = self.model.arguments[argument]
        unit = units.unit_label(described.shown_unit(self.system), self.currency)
        return f"{self._label(argument)} ({unit})" if unit else self._label(argument)

    def _answer_title(self) -> str:
        unit = units.unit_label(self.result_unit, self.currency)
        return f"{self.answer} ({unit})" if unit else self.answer

    def _fill(self) -> None:
        """Make one slider for each argument of the function."""
        arguments = self.model.arguments
        self.panel.fields = [
            range_field(
                name,
                described,
                system=self.system,
                currency=self.currency,
                topic="",
                label=self._label(name),
            )
            for name, described in arguments.items()
        ]
        self.panel.values = {
            name: to_shown(
                self.model.values[name].m_as(units.unit_of(described.unit)), described, self.system
            )
            for name, described in arguments.items()
        }

    def _moved(self, change: dict[str, Any]) -> None:
        """Take over moved sliders, or say beside them why they cannot be."""
        moved = changed(change["old"], change["new"])
        before, refused = dict(self.model.values), ""
        try:
            for attempt in attempts(moved, self.panel.errors, change["new"]):
                try:
                    self._take_over(attempt)
                except ScenarioKitError as error:
                    self.model.values, refused = dict(before), refusal_text(error)
                    continue
                kept = {key: text for key, text in self.panel.errors.items() if key not in attempt}
                self.panel.errors = kept
                return
        except Exception:
            self.model.values = before
            log.exception("the lesson could not carry out a change")
            self.says.value = tr(
                "Something went wrong inside scenariokit; the log holds the details."
            )
            return
        self.panel.errors = {**self.panel.errors, **dict.fromkeys(moved, refused)}

    def _take_over(self, values: Mapping[str, Any]) -> None:
        """Set arguments to numbers in the units shown, and compute anew."""
        for name, value in values.items():
            described = self.model.arguments[name]
            self.model.values[name] = from_shown(value, described, self.system)
        self.refresh()

    def refresh(self) -> None:
        """Compute and show the answer and its curve."""
        described = self.model.arguments[self.model.vary]
        low, high, _ = described.slider
        shown = units.unit_of(described.shown_unit(self.system))
        result_unit = units.unit_of(self.result_unit)
        answer = float(self.model.result().m_as(result_unit))
        along, found = self.model.curve(
            units.quantity(low, described.unit), units.quantity(high, described.unit)
        )
        xs, ys = along.m_as(shown), found.m_as(result_unit)
        here = float(self.model.values[self.model.vary].m_as(shown))
        unit = units.unit_label(self.result_unit, self.currency)
        text = f"{number_text(answer, '.3g')} {unit}".strip()
        rows = [{"x": float(x), "y": float(y)} for x, y in zip(xs, ys, strict=True)]
        top = axis_top([max(answer * 1.2, float(np.median(ys)) * 2.2, 1e-9)])
        self.chart.update(
            {"curve": rows, "here": [{"x": here, "y": answer, "text": text}]},
            {"x_low": float(xs[0]), "x_high": float(xs[-1]), "y_top": top},
            [[self._title(self.model.vary), self._answer_title()]]
            + [[number_text(row["x"], ".3g"), number_text(row["y"], ".3g")] for row in rows[::5]],
        )
        self.says.value = (
            f'<p data-spoken style="font-size:1.15rem">{escape(self.answer)}: '
            f"<strong>{escape(text)}</strong></p>"
        )


def explore(function: Callable[..., Any], **options: Any) -> Lesson:
    """Return a lesson app over one function; as the last line of a cell it is shown.

    Parameters
    ----------
    function : callable
        A public function of scenariokit whose result is one quantity.
    **options
        See `Lesson`.
    """
    return Lesson(function, **options)
