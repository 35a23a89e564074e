"""A chart as a file: PNG, SVG or PDF, with title and date, made without any network."""

from __future__ import annotations

import copy
import datetime
import importlib.util
import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from scenariokit.charts.marks import MARKED, QUIET
from scenariokit.errors import InfeasibleError, ScenarioKitError
from scenariokit.language import date_text, tr
from scenariokit.report.safe_text import one_line, short_name, without_controls

Kind = Literal["png", "svg", "pdf"]
MIME = {"png": "image/png", "svg": "image/svg+xml", "pdf": "application/pdf"}
WIDTH = 720
"""Pixels of a file at scale 1, axes and all."""
SCALE = 2.0
TALLEST = 320
"""Pixels of the frame of a drawing to scale."""
TITLE_SIGNS = 66
"""Signs of a heading that go on one line."""
FONT = "DejaVu Sans, Arial, Helvetica, sans-serif"
"""What is at hand on nearly every machine; a page's own `system-ui` names no font of a file."""


class ExportError(ScenarioKitError, RuntimeError):
    """A file cannot be made on this machine."""


_ROLE = re.compile(r' aria-roledescription="[^"]*"')
_SPOKEN = re.compile(r' aria-(?:label|roledescription)="[^"]*"')


@dataclass(frozen=True)
class FilledChart:
    """A chart with its rows.

    Parameters
    ----------
    name, heading : str
        Its name in a file, and what stands above it.
    spec : mapping
        A Vega-Lite specification with named data sources.
    datasets : mapping
        Rows by data source.
    signals : mapping
        Values of the specification's parameters.
    selected : sequence of str
        Marked methods.
    aspect : float, optional
        Height of the frame divided by its width.
    table : sequence of sequence of str
        The numbers as text, headings first.
    """

    name: str
    heading: str
    spec: Mapping[str, Any]
    datasets: Mapping[str, Any]
    signals: Mapping[str, Any] = field(default_factory=dict)
    selected: Sequence[str] = ()
    aspect: float | None = None
    table: Sequence[Sequence[str]] = ()

    @property
    def description(self) -> str:
        """What it shows, for those who do not see it."""
        return str(self.spec.get("description", ""))


def filled_spec(chart: FilledChart) -> dict[str, Any]:
    """Return the specification with its rows and parameter values in it.

    Raises
    ------
    InfeasibleError
        If the specification asks for data from an address: charts bring their own.
    """
    spec: dict[str, Any] = copy.deepcopy(dict(chart.spec))
    _refuse_addresses(spec, chart.heading)
    spec.pop("$schema", None)  # an address; the version is given instead
    known = {**spec.get("datasets", {}), **copy.deepcopy(dict(chart.datasets))}
    spec["datasets"] = known
    values = {**chart.signals, MARKED: list(chart.selected)}
    for parameter in spec.get("params", []):
        if parameter["name"] in values:
            parameter["value"] = values[parameter["name"]]
    return spec


def chart_file(
    chart: FilledChart,
    kind: Kind,
    made_on: datetime.date | None = None,
    *,
    invented: bool = False,
) -> bytes:
    """Return a chart as a file, with its heading above and a line of date and data below that.

    Parameters
    ----------
    chart : FilledChart
        The chart.
    kind : {'png', 'svg', 'pdf'}
        PNG is drawn at twice its size.
    made_on : datetime.date, optional
        Date on the chart; today if left out.
    invented : bool
        Whether to say that its data is invented.

    Raises
    ------
    InfeasibleError
        If there is no such kind, or the chart asks for data from an address.
    ExportError
        If vl-convert-python is not installed, or cannot draw the chart.

    Notes
    -----
    Nothing is fetched: every address is refused, before drawing and by the
    drawing library. Letters come from fonts of this machine.
    """
    if kind not in get_args(Kind):
        raise InfeasibleError(
            tr("A chart can be saved as {known}, not as {kind}.",
               known=", ".join(get_args(Kind)), kind=repr(kind))
        )  # fmt: skip
    converter = _converter()
    spec = printed_spec(chart, made_on or datetime.date.today(), invented=invented)
    options: dict[str, Any] = {"allowed_base_urls": []}
    try:
        if kind == "png":
            return bytes(converter.vegalite_to_png(spec, scale=SCALE, **options))
        if kind == "pdf":
            return bytes(converter.vegalite_to_pdf(spec, **options))
        return _in_our_words(str(converter.vegalite_to_svg(spec, **options))).encode()
    except ValueError as error:
        raise ExportError(
            tr("{chart} could not be drawn: {reason}",
               chart=short_name(chart.heading), reason=str(error).splitlines()[0])
        ) from error  # fmt: skip


def _in_our_words(svg: str) -> str:
    """Return a picture without what the drawing library says of axes and marks, in English."""
    head, end, drawn = svg.partition(">")
    return _ROLE.sub("", head) + end + _SPOKEN.sub("", drawn)


def printed_spec(chart: FilledChart, made_on: datetime.date, *, invented: bool) -> dict[str, Any]:
    """Return the specification of a file: rows, heading, date, fixed width."""
    spec: dict[str, Any] = _printable(filled_spec(chart))
    said = tr("Made on {date}.", date=date_text(made_on))
    if invented:
        said = tr("Made on {date}; invented demo data.", date=date_text(made_on))
    spec["title"] = {
        "text": textwrap.wrap(short_name(chart.heading), TITLE_SIGNS)[:2], "subtitle": [said], "anchor": "start", "offset": 12,
        "fontSize": 16, "subtitleFontSize": 11, "subtitleColor": QUIET, "subtitlePadding": 4,
    }  # fmt: skip
    spec["width"] = WIDTH
    if chart.aspect is not None:
        spec["width"], spec["height"] = _frame(chart.aspect)
        spec["autosize"] = {"type": "pad", "contains": "padding"}
    else:
        spec["autosize"] = {"type": "fit-x", "contains": "padding"}
    config = dict(spec.get("config", {}))
    config["font"], config["background"] = FONT, "#ffffff"
    config["padding"] = 14
    spec["config"] = config
    return spec


def _frame(aspect: float) -> tuple[int, int]:
    """Return width and height of a frame of fixed shape that fits a page."""
    height = min(round(WIDTH * aspect), TALLEST)
    return round(height / aspect), height


def _printable(part: Any) -> Any:
    """Return a specification whose texts XML can hold: others end the drawing library, and Python."""
    if isinstance(part, str):
        return without_controls(part)
    if isinstance(part, Mapping):
        return {key: _printable(value) for key, value in part.items()}
    return [_printable(value) for value in part] if isinstance(part, list | tuple) else part


def _refuse_addresses(part: Any, heading: str) -> None:
    """Refuse a specification that would load something."""
    if isinstance(part, Mapping):
        for key, value in part.items():
            if key in ("url", "href") and value:
                raise InfeasibleError(
                    tr("{chart}: a chart brings its data along and loads nothing, so not {address}.",
                       chart=short_name(heading), address=one_line(str(value)))
                )  # fmt: skip
            _refuse_addresses(value, heading)
    elif isinstance(part, list):
        for value in part:
            _refuse_addresses(value, heading)


def can_draw() -> bool:
    """Return whether the drawing library for files is installed."""
    return importlib.util.find_spec("vl_convert") is not None


def _converter() -> Any:
    """Return the drawing library, loaded when the first file is made."""
    try:
        import vl_convert
    except ImportError as error:
        raise ExportError(
            tr("To save charts as files, install vl-convert-python: "
               "pip install 'scenariokit[export]'.")
        ) from error  # fmt: skip
    return vl_convert
