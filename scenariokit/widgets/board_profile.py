"""Water and air in the growing medium of the method in focus; it stands in two views of the board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scenariokit import units
from scenariokit.charts import axis_top, profile_chart, profile_rows
from scenariokit.charts.water import depth_unit
from scenariokit.language import mark, number_text, tr
from scenariokit.scenario import medium_profile
from scenariokit.widgets.board_charts import headed, thinned

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board


class BoardProfile:
    """The moisture profile, beside the cross-section: one slider moves both.

    Parameters
    ----------
    board : Board
        Whose method in focus is followed.

    Attributes
    ----------
    chart : ChartView
        What to display.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.chart = headed(board.wording, mark("Water and air in the growing medium"))

    def rebuild(self) -> None:
        """Make the chart anew, for another method or in other units."""
        state = self.board.state
        if state.focused.method.level.regime != "none":
            self.chart.draw(profile_chart, state.showing)

    def refresh(self) -> None:
        """Draw water and air in the medium of the method in focus."""
        state = self.board.state
        scenario, showing = state.focused, state.showing
        profile = medium_profile(scenario, media=state.media)
        rows = [] if profile is None else profile_rows(profile, showing)
        box, unit = scenario.method.container, units.unit_of(depth_unit(showing))
        level = float((scenario.method.level.high - box.base_height).m_as(unit))
        marks = [{"height": level, "text": tr("water level")}] if level > 0 and rows else []
        top = axis_top(row["height"] for row in rows)
        self.chart.layout.display = None if rows else "none"
        self.chart.update(
            {"profile": rows, "profile_marks": marks}, {"profile_top": top},
            [[tr("What"), tr("Height ({unit})", unit=units.unit_label(depth_unit(showing))), tr("% of volume")]]
            + [[row["series"], number_text(row["height"], ".1f"), f"{row['value']:.0f}"]
               for row in thinned(rows)],
        )  # fmt: skip
