"""The cross-section of a tank as a picture inside an HTML document."""

from __future__ import annotations

import base64
import datetime
from collections.abc import Mapping
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.charts.section import section_chart, section_rows, section_size
from scenariokit.language import tr
from scenariokit.report.chart_files import FilledChart, chart_file
from scenariokit.report.safe_text import one_line, short_name
from scenariokit.scenario import Comparison, Evaluation


def section_of(found: Evaluation, showing: Showing, spec: Mapping[str, Any]) -> FilledChart:
    """Return the cross-section of one method's tank, filled to its deepest.

    `spec` is that of `section_chart`, which is the same for every method.
    """
    method = found.scenario.method
    width, height = section_size(method)
    depth = float(units.magnitude(found["fullest_depth"], "cm"))
    label = short_name(tr(method.label))
    return FilledChart(
        name=f"section_{method.id}",
        heading=tr("Cross-section, to scale: {method}", method=label),
        spec=spec,
        datasets=section_rows(method, depth, showing),
        signals={"width_cm": width, "height_cm": height},
        aspect=height / width,
    )


def tank_pictures(
    comparison: Comparison, showing: Showing, made_on: datetime.date
) -> dict[str, str]:
    """Return the cross-section of every method as an HTML picture, by method id.

    Raises
    ------
    ExportError
        If vl-convert-python is not installed; `can_draw` tells beforehand.
    """
    made = {}
    spec = section_chart(showing).to_dict()
    for found in comparison:
        chart = section_of(found, showing, spec)
        packed = base64.b64encode(chart_file(chart, "svg", made_on)).decode("ascii")
        told = escape(one_line(chart.heading))
        made[found.scenario.method.id] = (
            f'<img alt="{told}" src="data:image/svg+xml;base64,{packed}">'
        )
    return made
