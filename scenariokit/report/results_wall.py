"""What the results wall says: what all rooms show, what they cannot, what became of each file."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from scenariokit.charts.frames import Showing
from scenariokit.charts.results_wall import MOST_METHODS
from scenariokit.charts.trials import yield_number, yield_unit
from scenariokit.errors import Problem
from scenariokit.language import tr, tr_n
from scenariokit.report.tables import problems_list
from scenariokit.report.trial_numbers import chance
from scenariokit.trials.room_results import (
    FEWEST_ROOMS,
    FEWEST_TO_EXPECT,
    MethodInRooms,
    RoomResults,
)

MOST_TOLD = 3
"""Problems of a file that are told in full on the wall."""
DOUBT = 0.05
"""Chance of Cochran's Q below which rooms are said to differ by more than their plots explain."""


def wall_sentences(found: RoomResults, showing: Showing) -> list[str]:
    """Return what all rooms show together, and what they cannot show.

    Parameters
    ----------
    found : RoomResults
        What `room_results` gave.
    showing : Showing
        Units of the reader.
    """
    if not found.plots:
        return [tr("No plot has been handed in yet. The wall looks again every few seconds.")]
    rooms = tr_n("{count} room", "{count} rooms", len(found.rooms))
    plots = tr_n("{count} plot", "{count} plots", found.plots)
    said = [tr("{rooms}, {plots} harvested.", rooms=rooms, plots=plots)]
    return [*said, *_limits(found), *(_method_sentence(one, showing) for one in found.methods)]


def _method_sentence(one: MethodInRooms, showing: Showing) -> str:
    """Return what all rooms say of one method."""
    name = tr(one.method)
    if one.pooled is None or one.pool is None:
        return tr(
            "{method}: no mean over rooms, because that takes {fewest} rooms that repeated their "
            "plots; there are {count}.",
            method=name, fewest=FEWEST_ROOMS, count=one.replicated,
        )  # fmt: skip
    parts = [
        tr(
            "{method}: {mean:.2f} {unit} as the mean of {count} rooms that repeated their plots "
            "(95 % interval {low:.2f} to {high:.2f}).",
            method=name,
            mean=yield_number(one.pooled.estimate, showing),
            unit=yield_unit(showing),
            count=one.replicated,
            low=max(yield_number(one.pooled.low, showing), 0.0),
            high=yield_number(one.pooled.high, showing),
        ),
        _spread_words(one),
    ]
    if one.another is not None:
        parts.append(
            tr(
                "Another such room may find {low:.2f} to {high:.2f} {unit}.",
                low=max(yield_number(one.another.low, showing), 0.0),
                high=yield_number(one.another.high, showing),
                unit=yield_unit(showing),
            )
        )
    return " ".join(parts)


def _spread_words(one: MethodInRooms) -> str:
    """Return in words how much rooms differ, beside what their plots explain."""
    pool = one.pool
    if pool is None:
        return ""
    if pool.q_p < DOUBT:
        return tr(
            "Rooms differ by more than their plots explain ({chance}; {share:.0f} % of the "
            "variation is among rooms): place, season, variety or the weighing count too.",
            chance=chance(pool.q_p), share=100 * pool.i_squared,
        )  # fmt: skip
    return tr(
        "Rooms differ by no more than their plots explain ({chance}); with {count} rooms that "
        "proves little.",
        chance=chance(pool.q_p), count=pool.studies,
    )  # fmt: skip


def _limits(found: RoomResults) -> list[str]:
    """Return what a reader must know before anything is read off the wall."""
    rooms = [room for one in found.methods for room in one.rooms]
    said = []
    single = sum(room.plots == 1 for room in rooms)
    if single:
        said.append(
            tr_n(
                "One plot proves little: {count} hollow mark rests on a single plot and has no "
                "interval.",
                "One plot proves little: {count} hollow marks rest on a single plot each and have "
                "no interval.",
                single,
            )
        )
    beyond = sum(room.beyond for room in rooms)
    if beyond:
        said.append(
            tr_n(
                "{count} mark at the edge lies beyond every record (20 kg/m², lamp-lit chambers; "
                "Wheeler 2006). It is shown and not counted: look at unit, area and decimal sign.",
                "{count} marks at the edge lie beyond every record (20 kg/m², lamp-lit chambers; "
                "Wheeler 2006). They are shown and not counted: look at unit, area and decimal "
                "sign.",
                beyond,
            )
        )
    if len(found.methods) > MOST_METHODS:
        said.append(
            tr(
                "{count} methods were handed in; the picture shows the {most} that stood in most "
                "rooms, the table all.",
                count=len(found.methods),
                most=MOST_METHODS,
            )
        )
    if len(found.rooms) > 1:
        said.append(
            tr(
                "Two marks of different rooms differ in more than the method. Compare methods "
                "within a room."
            )
        )
    said += list(found.notes)
    return said


def counts_line(files: int, refused: int, rooms: int, looked_at: str) -> str:
    """Return one line on the files handed in, and when the wall last looked."""
    parts = [
        tr_n("{count} file handed in", "{count} files handed in", files),
        tr_n("{count} room on the wall", "{count} rooms on the wall", rooms),
    ]
    if refused:
        parts.append(
            tr_n("{count} file could not be used", "{count} files could not be used", refused)
        )
    parts.append(tr("last looked at {time}", time=looked_at))
    return " · ".join(parts)


def files_list(files: Sequence[tuple[str, int, Sequence[str], Sequence[Problem]]]) -> str:
    """Return what became of each file as HTML, those with something to mend first.

    Parameters
    ----------
    files : sequence of tuple
        Name, number of plots taken, rooms, and what was refused or wants a look.
    """
    if not files:
        return ""
    lines = []
    for name, plots, rooms, problems in sorted(files, key=lambda one: (not one[3], one[0])):
        taken = tr_n("{count} plot taken", "{count} plots taken", plots)
        who = f" ({escape(', '.join(rooms))})" if rooms else ""
        told = problems_list(problems[:MOST_TOLD]) if problems else ""
        if len(problems) > MOST_TOLD:
            more = tr("and {count} more of this file", count=len(problems) - MOST_TOLD)
            told += f"<p>{escape(more)}</p>"
        lines.append(f"<li><b>{escape(name)}</b>: {escape(taken)}{who}{told}</li>")
    return f"<ul>{''.join(lines)}</ul>"


def wall_rules() -> list[str]:
    """Return how the wall is read: for the room, beside the picture."""
    return [
        tr("A filled mark has an interval from its own plots; a hollow mark has none."),
        tr(
            "A diamond is the mean of rooms. It stands only where {fewest} rooms repeated their "
            "plots; where {more} did, the words below say what another room may find.",
            fewest=FEWEST_ROOMS, more=FEWEST_TO_EXPECT,
        ),
        tr("Intervals that overlap do not prove that two methods are alike."),
    ]  # fmt: skip
