"""The water panel: one tank through its season, its growing medium, and a mishap to try."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from scenariokit import units
from scenariokit.cautions import USUAL_EC
from scenariokit.charts import (
    axis_top,
    season_chart,
    season_rows,
)
from scenariokit.charts.frames import Row, Showing
from scenariokit.charts.water import MISHAP, PLANNED, depth_unit
from scenariokit.glossary import parameter
from scenariokit.language import mark, number_text, tr
from scenariokit.report import (
    calendar_text,
    heat_sentences,
    medium_sentences,
    mishap_sentence,
    water_sentences,
)
from scenariokit.report.tables import spoken_list
from scenariokit.scenario import (
    Scenario,
    TankSeason,
    medium_check,
    root_zone_months,
    tank_season,
    thirstiest_day,
)
from scenariokit.widgets.board_charts import headed, thinned
from scenariokit.widgets.field_panel import FieldPanel, choice_field, range_field
from scenariokit.widgets.file_saver import FileSaver

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

NOTHING = ("none", mark("all goes as planned"))
USUAL_WORDS = (mark("lowest usual for potato"), mark("highest usual for potato"))


class BoardWater:
    """The season of the method in focus.

    Parameters
    ----------
    board : Board
        Whose method in focus is followed.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.title = widgets.HTML()
        self.says = widgets.HTML()
        self.what_if = FieldPanel(prefix="sk-what-if")
        self.depth = headed(board.wording, mark("Depth through the season"))
        self.ec = headed(board.wording, mark("EC through the season"))
        self.profile = board.profile.chart
        self.saver = FileSaver(
            filename="refill_calendar.txt", mime="text/plain", make=self.calendar,
        )  # fmt: skip
        board.wording.on(self.saver, "label", mark("Refill calendar to print (text)"))
        self.what_if.observe(board.guarded(lambda _change: self.refresh()), names="values")
        # Cross-section and profile stand in two views: one slider moves both, and the depth.
        charts = widgets.VBox([board.charts.section, self.profile, self.depth, self.ec])
        charts.add_class("sk-charts")
        self.widget = widgets.VBox([self.title, self.says, self.what_if, charts, self.saver])
        self.widget.add_class("sk-water")

    @property
    def _scenario(self) -> Scenario:
        return self.board.state.focused

    def calendar(self) -> str:
        """Return the refill calendar of the method in focus."""
        return calendar_text(tank_season(self._scenario), self.board.state.showing)

    def rebuild(self) -> None:
        """Make the charts and the mishaps of another method, or in other units."""
        scenario, showing = self._scenario, self.board.state.showing
        method = escape(tr(scenario.method.label))
        said = tr("Water through the season: {method}", method=method)
        self.title.value = f"<h2>{said}</h2>"
        level = scenario.method.level
        shown = level.regime != "none"
        for part in (self.what_if, self.depth, self.ec, self.saver):
            part.layout.display = None if shown else "none"
        if not shown:
            return
        title = tr("Depth ({unit})", unit=units.unit_label(depth_unit(showing)))
        told = tr("Depth of water day by day, as planned and with the mishap that is tried.")
        self.depth.draw(season_chart, "depth", title, told)
        told = tr("EC day by day, as planned and with the mishap that is tried.")
        self.ec.draw(season_chart, "ec", tr("EC (dS/m)"), told)
        mishaps = [(NOTHING[0], tr(NOTHING[1]))]
        if level.held:
            mishaps.append(("valve", tr("the float valve fails")))
        if level.regime == "hand-filled":
            mishaps.append(("fill", tr("one filling by hand is forgotten")))
        day = {**range_field("day", parameter("duration"), topic="", label=tr("On day")),
               "low": 2, "high": self._days()}  # fmt: skip
        kind = self.what_if.values.get("kind", "none")
        day_tried = self.what_if.values.get("day", max(thirstiest_day(scenario), 2))
        self.what_if.fields = [choice_field("kind", tr("What if"), mishaps), day]
        self.what_if.values = {
            "kind": kind if kind in dict(mishaps) else "none",
            "day": min(day_tried, self._days()),
        }

    def _days(self) -> int:
        crop = self._scenario.crop
        parts = (crop.days_initial, crop.days_development, crop.days_mid, crop.days_late)
        return round(sum(float(part.m_as(units.unit_of("day"))) for part in parts))

    def refresh(self) -> None:
        """Compute the season and show it."""
        scenario, showing = self._scenario, self.board.state.showing
        if scenario.method.level.regime == "none":
            self.says.value = f"<p>{tr('This method has no tank.')}</p>"
            return
        planned = tank_season(scenario)
        mishap = self._mishap(scenario)
        lines = water_sentences(planned, showing)
        if mishap is not None:
            lines.append(mishap_sentence(planned, mishap, showing))
        self._draw(planned, mishap, showing)
        lines += self._medium_lines()
        lines += heat_sentences(root_zone_months(scenario), scenario.crop.id, showing)
        assumed = tr(
            "Water as warm as the month's mean air; EC followed as one salt. Hang a thermometer in "
            "the tank and use a meter."
        )
        self.says.value = (
            f"<div class='sk-says'>{spoken_list(lines)}<p><small>{assumed}</small></p></div>"
        )

    def _mishap(self, scenario: Scenario) -> TankSeason | None:
        """Return the season with what is tried, or None."""
        kind, day = self.what_if.values.get("kind"), self.what_if.values.get("day", 2)
        if kind == "valve":
            return tank_season(scenario, valve_fails_on=round(day))
        if kind == "fill":
            return tank_season(scenario, missed_fill=round(day))
        return None

    def _draw(self, planned: TankSeason, mishap: TankSeason | None, showing: Showing) -> None:
        """Give depth and EC their rows."""
        depth, ec = season_rows(PLANNED, planned, showing)
        if mishap is not None:
            more_depth, more_ec = season_rows(MISHAP, mishap, showing)
            depth, ec = depth + more_depth, ec + more_ec
        level, last = planned.scenario.method.level, max(row["day"] for row in depth)
        lowest = float(level.low.m_as(units.unit_of(depth_unit(showing))))
        marks = [{"value": lowest, "text": tr("lowest that still feeds the roots")}]
        title = tr("Depth ({unit})", unit=units.unit_label(depth_unit(showing)))
        top = {"depth_days": last, "depth_top": axis_top(row["value"] for row in depth)}
        self.depth.update({"depth": depth, "depth_marks": marks}, top, _table(depth, title))
        usual = USUAL_EC if planned.scenario.crop.id == "potato" else ()
        band = [
            {"value": end, "text": tr(text)} for end, text in zip(usual, USUAL_WORDS, strict=False)
        ]
        high = axis_top([*(row["value"] for row in ec), *usual])
        ends = {"ec_days": last, "ec_top": high}
        self.ec.update({"ec": ec, "ec_marks": band}, ends, _table(ec, tr("EC (dS/m)")))

    def _medium_lines(self) -> list[str]:
        """Return what is to be said of water and air in the medium."""
        check = medium_check(self._scenario, self.board.state.media)
        if check is None:
            return [
                tr("Growing medium: none, or its curve is not known, so nothing is said of it.")
            ]
        return medium_sentences(check, self.board.state.showing)


def _table(rows: list[Row], what: str) -> list[list[str]]:
    """Return every few days of a chart as text, headings first."""
    return [
        [tr("Series"), tr("Day"), what],
        *(
            [
                row["series"],
                f"{row['day']:.0f}",
                "–" if row["value"] is None else number_text(row["value"], ".2f"),
            ]
            for row in thinned(rows)
        ),
    ]
