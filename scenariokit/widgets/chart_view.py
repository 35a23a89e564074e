"""A chart that is drawn once and then only given new rows and parameter values."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, ClassVar

import traitlets

from scenariokit.errors import ArgumentError, Problem
from scenariokit.language import language, mark
from scenariokit.schema_library import schema_library
from scenariokit.widgets.engine import chart_engine, engine_key
from scenariokit.widgets.page_code import CHART_VIEW
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded

Row = Mapping[str, Any]


class ChartView(Worded, PageWidget):
    """A Vega-Lite chart in a figure with heading, description and a table of its numbers.

    Parameters
    ----------
    spec : dict
        A Vega-Lite specification whose data sources are named. A new one draws
        the chart anew; equal to the old one it does nothing.
    datasets : dict of str to list of dict
        The rows of each data source: text, finite numbers, booleans or ``None``.
        Times are milliseconds since 1970.
    signals : dict
        Values of the specification's parameters, by name.
    selected : list of str
        The marked values of `selection_field`; handed to the parameter
        ``marked`` where the specification has one.
    selection_field : str
        Field whose value a click on a mark selects; nothing is selected if empty.
        A click beside the marks clears; Shift, Ctrl or Cmd adds to the selection.
    heading, description : str
        Shown above the chart; read out in its place.
    aspect : float, optional
        Height of the plot's frame divided by its width; the specification's
        own height if left out.
    max_height : float
        With `aspect`: greatest height of the frame, in pixels.
    table_columns, table_rows : list
        The numbers as text, shown in a table below.
    picture_name : str
        File name without ending; when set, buttons save the chart as SVG and PNG.
    problem : str
        What is wrong, if the chart could not be drawn; set by the page.

    Notes
    -----
    Width follows the place on the page, for a single or layered chart; facets
    and concatenated charts keep the width of their specification. Set a trait
    to a new object to send it; a change inside the old one is not seen.
    """

    WORDS: ClassVar[dict[str, str]] = {
        "chart": mark("Chart"),
        "numbers": mark("Numbers as a table"),
        "numbers_of": mark("{heading}: numbers as a table"),
        "save_as": mark("Save chart as {kind}"),
        "failed": mark("This chart could not be drawn: {reason}."),
        "failed_with_table": mark(
            "This chart could not be drawn: {reason}. The table below still holds its numbers."
        ),
        "late": mark("the drawing code did not arrive"),
        "mark_by_keys": mark(
            "{heading}: arrow keys mark one method after the other in all charts, Escape marks none. "
            "“Method to adjust” opens one, too."
        ),
    }

    CODE = CHART_VIEW
    engine = traitlets.Unicode().tag(sync=True)
    engine_key = traitlets.Unicode().tag(sync=True)
    spec = traitlets.Dict().tag(sync=True)
    datasets = traitlets.Dict().tag(sync=True)
    signals = traitlets.Dict().tag(sync=True)
    selected = traitlets.List(traitlets.Unicode()).tag(sync=True)
    selection_field = traitlets.Unicode("").tag(sync=True)
    heading = traitlets.Unicode("").tag(sync=True)
    description = traitlets.Unicode("").tag(sync=True)
    aspect = traitlets.Float(None, allow_none=True).tag(sync=True)
    max_height = traitlets.Float(420.0).tag(sync=True)
    table_columns = traitlets.List(traitlets.Unicode()).tag(sync=True)
    table_rows = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)
    picture_name = traitlets.Unicode("").tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)
    _names: tuple[frozenset[str], frozenset[str]] | None = None

    def __init__(self, **traits: Any) -> None:
        schema_library()  # before Altair would load it whole
        super().__init__(**traits)

    @classmethod
    def from_altair(cls, chart: Any, **traits: Any) -> ChartView:
        """Return a view of an Altair chart.

        Parameters
        ----------
        chart : altair.Chart
            With ``altair.NamedData`` as its data.
        **traits
            Any of the parameters of `ChartView`.
        """
        view = cls(**traits)
        view.show(chart)
        return view

    def show(self, chart: Any) -> None:
        """Draw another chart: an Altair chart or a Vega-Lite specification.

        Rows and parameter values that the new chart has no place for are dropped.
        """
        spec = dict(chart) if isinstance(chart, Mapping) else chart.to_dict()
        sources, parameters = set(source_names(spec)), set(parameter_names(spec))
        with self.hold_sync():
            self.spec = spec
            self.description = spec.get("description", self.description)
            self.datasets = {key: rows for key, rows in self.datasets.items() if key in sources}
            self.signals = {key: one for key, one in self.signals.items() if key in parameters}

    def draw(self, make: Callable[..., Any], *arguments: Any) -> None:
        """Draw the chart that a function makes, made once for the same arguments and language.

        Parameters
        ----------
        make : callable
            Returns an Altair chart; nothing but arguments and language may change it.
        *arguments
            What it is called with: lists, and what can be a key of a dict.
        """
        keys = tuple(tuple(one) if isinstance(one, list) else one for one in arguments)
        self.show(_specification(language(), make, keys))

    def update(
        self,
        datasets: Mapping[str, Sequence[Row]] | None = None,
        signals: Mapping[str, Any] | None = None,
        table: Sequence[Sequence[str]] | None = None,
    ) -> None:
        """Give the chart new rows, parameter values and table, in one message.

        Parameters
        ----------
        datasets : mapping, optional
            New rows by data source; sources left out keep theirs.
        signals : mapping, optional
            New values by parameter; parameters left out keep theirs.
        table : sequence, optional
            The numbers as rows of text, headings first.

        Raises
        ------
        ArgumentError
            If the specification has no such data source or parameter, or a row
            holds something that a chart cannot show.
        """
        if self._names is None:
            self._names = frozenset(source_names(self.spec)), frozenset(parameter_names(self.spec))
        self._require("data source", datasets or {}, self._names[0])
        self._require("parameter", signals or {}, self._names[1])
        with self.hold_sync():
            if datasets:
                self.datasets = {**self.datasets, **datasets}
            if signals:
                self.signals = {**self.signals, **signals}
            if table is not None:
                head, *body = table
                self.table_columns = list(head)
                self.table_rows = [list(row) for row in body]

    @traitlets.observe("spec")
    def _forget_names(self, _change: dict[str, Any]) -> None:
        """Look for names anew in another specification."""
        self._names = None

    def _require(self, what: str, given: Mapping[str, Any], known: frozenset[str]) -> None:
        """Refuse names that the specification does not have."""
        allowed = ", ".join(sorted(known)) or "none"
        problems = [
            Problem(name, "", f"the chart has no such {what}", allowed=allowed)
            for name in given
            if name not in known
        ]
        if problems:
            raise ArgumentError(problems, f"chart {self.heading!r}")

    @traitlets.default("engine")
    def _default_engine(self) -> str:
        return f"IPY_MODEL_{chart_engine().model_id}"

    @traitlets.default("engine_key")
    def _default_engine_key(self) -> str:
        return engine_key()

    @traitlets.validate("datasets")
    def _plain_datasets(self, proposal: dict[str, Any]) -> dict[str, list[dict[str, Any]]]:
        return {name: plain_rows(name, rows) for name, rows in proposal["value"].items()}

    @traitlets.validate("signals")
    def _plain_signals(self, proposal: dict[str, Any]) -> dict[str, Any]:
        return plain_rows("signals", [proposal["value"]])[0]


@functools.lru_cache(maxsize=200)
def _specification(_language: str, make: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
    """Return the specification of a chart; to make and check one takes a tenth of a second."""
    return make(*arguments).to_dict()


def plain_rows(source: str, rows: Sequence[Row]) -> list[dict[str, Any]]:
    """Return rows of values that a page understands.

    Parameters
    ----------
    source : str
        Name of the data source, for the message.
    rows : sequence of mapping
        The rows; NumPy numbers become plain ones.

    Raises
    ------
    ArgumentError
        If a value is not text, a finite number, a boolean, ``None`` or a list of these.
    """
    problems: list[Problem] = []
    made = [
        {key: _plain(value, f"{source}.{key}", index, problems) for key, value in row.items()}
        for index, row in enumerate(rows, start=1)
    ]
    if problems:
        raise ArgumentError(problems, "chart")
    return made


def _plain(value: Any, field: str, row: int, problems: list[Problem]) -> Any:
    """Return one value in plain types; note a problem if there is no such value."""
    kind = type(value)  # a slider sends thousands of values, nearly all of them plain already
    if kind is str or value is None or (kind is float and math.isfinite(value)):
        return value
    if isinstance(value, list | tuple):
        return [_plain(one, field, row, problems) for one in value]
    number = value.item() if type(value).__module__ == "numpy" and value.ndim == 0 else value
    if isinstance(number, bool | str) or (
        isinstance(number, int | float) and math.isfinite(number)
    ):
        return number
    allowed = "text, a finite number, true or false, or None for a gap"
    problems.append(Problem(field, repr(value), "cannot be drawn", allowed=allowed, row=row))
    return None


def source_names(spec: Any) -> Iterator[str]:
    """Yield the names of the data sources of a specification."""
    if isinstance(spec, Mapping):
        data = spec.get("data")
        if isinstance(data, Mapping) and isinstance(data.get("name"), str):
            yield data["name"]
        for value in spec.values():
            yield from source_names(value)
    elif isinstance(spec, list):
        for value in spec:
            yield from source_names(value)


def parameter_names(spec: Mapping[str, Any]) -> Iterator[str]:
    """Yield the names of the parameters of a specification."""
    for param in spec.get("params", []):
        yield param["name"]
    for part in ("layer", "hconcat", "vconcat", "concat"):
        for inner in spec.get(part, []):
            yield from parameter_names(inner)
    if isinstance(spec.get("spec"), Mapping):
        yield from parameter_names(spec["spec"])
