"""The map of a planned trial, to scale: tanks, sections and ways, what each plot is given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from scenariokit.charts.frames import Row, Showing
from scenariokit.charts.marks import INK, METHOD_COLOURS, QUIET, empty, finish, top_parameter
from scenariokit.language import tr
from scenariokit.trials.planning.aim import TrialAim
from scenariokit.trials.planning.layout import PlannedPlot
from scenariokit.trials.planning.plot_map import MapArea
from scenariokit.trials.planning.proposal import TrialPlan

GROUND, EMPTY = "#f1eee4", "#ffffff"
LIGHT_TEXT, DARK_TEXT = "#ffffff", "#0f1a18"
TEXT_COLOURS = (
    LIGHT_TEXT, DARK_TEXT, LIGHT_TEXT, LIGHT_TEXT, LIGHT_TEXT, DARK_TEXT, DARK_TEXT, LIGHT_TEXT,
)  # fmt: skip
"""What is written on each of `METHOD_COLOURS`."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
WIDE = 0.62
"""Width of a letter over its height, about."""
TALLEST = 1.5
"""Height of the picture over its width, at most."""
PICTURE = 330
MOST_HEIGHT = 700.0
"""Pixels of the picture, at most."""


def letter(number: int) -> str:
    """Return A, B ... Z, AA, AB ... for 0, 1 ..."""
    first, last = divmod(number, len(LETTERS))
    return (letter(first - 1) if first else "") + LETTERS[last]


def plot_codes(aim: TrialAim) -> dict[tuple[str, str], str]:
    """Return what is written on the plots of each treatment and variety.

    A letter for the treatment, and a number for the variety where there are
    several; where one treatment is grown throughout, a letter for the variety.
    """
    if len(aim.treatments) == 1:
        return {pair: letter(number) for number, pair in enumerate(aim.pairs)}
    several = len(aim.varieties) > 1
    varieties = aim.varieties or ("",)
    return {
        (treatment, variety): letter(one) + (str(other) if several else "")
        for one, treatment in enumerate(aim.treatments)
        for other, variety in enumerate(varieties, start=1)
    }


def plot_groups(aim: TrialAim, names: Mapping[str, str]) -> list[str]:
    """Return what has a colour of its own, with its letter, in the order of the letters.

    Parameters
    ----------
    aim : TrialAim
        The trial's.
    names : mapping
        What a person calls each treatment; its own name if it is not there.
    """
    if len(aim.treatments) == 1:
        shown: Sequence[str] = aim.varieties
    else:
        shown = [names.get(one, one) for one in aim.treatments]
    return [f"{letter(number)}  {name}" for number, name in enumerate(shown)]


def group_of(aim: TrialAim, plot: PlannedPlot) -> int:
    """Return the number of the colour of a plot."""
    if len(aim.treatments) == 1:
        return list(aim.varieties).index(plot.variety)
    return list(aim.treatments).index(plot.treatment)


def map_rows(plan: TrialPlan, names: Mapping[str, str]) -> dict[str, list[Row]]:
    """Return the rectangles and words of a map, in cm.

    Parameters
    ----------
    plan : TrialPlan
        The plan.
    names : mapping
        What a person calls each treatment.

    Returns
    -------
    dict
        Data sources ``ground`` (the whole ground and empty sections), ``tanks``
        and ``plots``.
    """
    plots = {plot.plot_id: plot for plot in plan.layout.plots}
    ground = [{"x": 0.0, "x2": plan.map.width, "y": 0.0, "y2": plan.map.height, "fill": GROUND,
               "what": tr("way")}]  # fmt: skip
    tanks, drawn = [], []
    for area in plan.map.areas:
        if area.kind == "empty":
            ground.append({**_rectangle(area), "fill": EMPTY, "what": tr("empty")})
        elif area.kind == "tank":
            tanks.append({**_rectangle(area), "text": _tank_words(plan, area.tank)})
        elif area.kind == "plot":
            drawn.append({**_rectangle(area), **_words(plan, plots[area.label], names)})
    return {"ground": ground, "tanks": tanks, "plots": drawn}


def _rectangle(area: MapArea) -> Row:
    return {
        "x": area.x,
        "x2": area.x + area.width,
        "y": area.y,
        "y2": area.y + area.height,
        "x_middle": area.x + area.width / 2,
        "y_middle": area.y + area.height / 2,
    }


def _words(plan: TrialPlan, plot: PlannedPlot, names: Mapping[str, str]) -> Row:
    """Return colour, letters and tooltip of a plot."""
    number = group_of(plan.aim, plot)
    return {
        "group": plot_groups(plan.aim, names)[number],
        "ink": TEXT_COLOURS[number % len(TEXT_COLOURS)],
        "code": plot_codes(plan.aim)[plot.treatment, plot.variety],
        "plot": plot.plot_id,
        "treatment": names.get(plot.treatment, plot.treatment),
        "variety": plot.variety or "–",
        "block": plot.block or "–",
        "place": _place(plan, plot),
    }


def _place(plan: TrialPlan, plot: PlannedPlot) -> str:
    sections = plan.layout.tank_of(plot).sections
    return (
        tr("{tank}, section {section}", tank=plot.tank, section=plot.section)
        if sections > 1
        else plot.tank
    )


def _tank_words(plan: TrialPlan, tank: str) -> str:
    """Return the name of a tank, and its block if it is all of one."""
    blocks = {plot.block for plot in plan.layout.plots if plot.tank == tank}
    one = next(iter(blocks)) if len(blocks) == 1 else ""
    return tr("{tank}, block {block}", tank=tank, block=one) if one else tank


def map_width(plan: TrialPlan) -> float:
    """Return the width of the picture in cm: a narrow ground leaves room beside it for the key."""
    return max(plan.map.width, plan.map.height / TALLEST)


def variety_key(aim: TrialAim) -> str:
    """Return what the numbers behind the letters mean; nothing where there are none."""
    if len(aim.treatments) == 1 or len(aim.varieties) < 2:
        return ""
    return ", ".join(f"{number}  {name}" for number, name in enumerate(aim.varieties, start=1))


def map_signals(plan: TrialPlan, walkway: float) -> dict[str, float | str]:
    """Return the parameters of the map: its size and how large its words may be, in cm; its key."""
    rows = [area for area in plan.map.areas if area.kind == "plot"]
    codes = max(len(code) for code in plot_codes(plan.aim).values())
    ids = max(len(area.label) for area in rows)
    longest = WIDE * max(codes * 1.1, ids * 0.85)
    room = min(min(area.height * 0.38, area.width * 0.9 / longest) for area in rows)
    return {
        "width_cm": map_width(plan),
        "height_cm": plan.map.height,
        "text_cm": room,
        "way_cm": walkway,
        "varieties": variety_key(plan.aim),
    }


def map_table(plan: TrialPlan, names: Mapping[str, str]) -> list[list[str]]:
    """Return the map as rows of text, headings first."""
    codes = plot_codes(plan.aim)
    return [
        [tr("Plot"), tr("Place"), tr("Block"), tr("Letter"), tr("Treatment"), tr("Variety")],
        *(
            [
                plot.plot_id,
                _place(plan, plot),
                plot.block or "–",
                codes[plot.treatment, plot.variety],
                names.get(plot.treatment, plot.treatment),
                plot.variety or "–",
            ]
            for plot in plan.layout.plots
        ),
    ]


_PIXELS = "(width / width_cm)"
_SIZE = f"clamp(text_cm * {_PIXELS}, 7, 17)"
_SMALL = f"text_cm * {_PIXELS} < 7"


def map_chart(groups: Sequence[str], showing: Showing) -> Any:
    """Return the empty map; a metre across is as long as a metre down.

    Parameters
    ----------
    groups : sequence of str
        What `plot_groups` gives.
    showing : Showing
        Units of the reader.

    Returns
    -------
    altair.LayerChart
        Reads what `map_rows` and `map_signals` give. Its frame must be given the
        shape height_cm : width_cm. Plot numbers that would be too small to read
        are left to the table.
    """
    import altair as alt

    colours = [METHOD_COLOURS[number % len(METHOD_COLOURS)] for number in range(len(groups))]
    x, y = _axes(alt, showing)
    ground = (
        alt.Chart(empty(alt, "ground"))
        .mark_rect(stroke=QUIET, strokeWidth=0.7, strokeDash=[4, 3])
        .encode(x=x, x2="x2:Q", y=y, y2="y2:Q", color=alt.Color("fill:N", scale=None),
                tooltip=alt.Tooltip("what:N", title=tr("Here")))
    )  # fmt: skip
    plots = alt.Chart(empty(alt, "plots"))
    boxes = plots.mark_rect(stroke="#ffffff", strokeWidth=1).encode(
        x=x, x2="x2:Q", y=y, y2="y2:Q",
        color=alt.Color(
            "group:N", title=None, scale=alt.Scale(domain=list(groups), range=colours),
            legend=alt.Legend(orient="bottom", columns=1, symbolType="square", symbolSize=160,
                              labelLimit=330),
        ),
        tooltip=[
            alt.Tooltip(f"{field}:N", title=title)
            for field, title in (("plot", tr("Plot")), ("place", tr("Tank")), ("block", tr("Block")),
                                 ("treatment", tr("Treatment")), ("variety", tr("Variety")))
        ],
    )  # fmt: skip
    middle = plots.encode(
        x=alt.X("x_middle:Q"), y=alt.Y("y_middle:Q"), color=alt.Color("ink:N", scale=None)
    )
    codes = middle.mark_text(
        fontWeight="bold", fontSize=alt.ExprRef(f"1.1 * {_SIZE}"),
        dy=alt.ExprRef(f"{_SMALL} ? 0 : -0.5 * {_SIZE}"),
    ).encode(text="code:N")  # fmt: skip
    numbers = middle.mark_text(
        fontSize=alt.ExprRef(f"0.85 * {_SIZE}"), dy=alt.ExprRef(f"0.62 * {_SIZE}"),
        opacity=alt.ExprRef(f"{_SMALL} ? 0 : 1"),
    ).encode(text="plot:N")  # fmt: skip
    tanks = alt.Chart(empty(alt, "tanks")).encode(x=x, y=y)
    walls = tanks.mark_rect(filled=False, stroke=INK, strokeWidth=2).encode(x2="x2:Q", y2="y2:Q")
    labels = tanks.mark_text(
        align="left", baseline="bottom", dy=-2, color=INK,
        fontSize=alt.ExprRef(f"clamp(0.45 * way_cm * {_PIXELS}, 6, 11)"),
        opacity=alt.ExprRef(f"way_cm * {_PIXELS} < 9 ? 0 : 1"),
    ).encode(text="text:N")  # fmt: skip
    layers = alt.layer(ground, boxes, codes, numbers, walls, labels)
    key = alt.TitleParams(
        text=alt.ExprRef("varieties"), orient="bottom", anchor="start", fontSize=12,
        fontWeight="normal", color=INK,
    )  # fmt: skip
    chart = layers.resolve_scale(color="independent").properties(title=key)
    chart = chart.add_params(
        *(top_parameter(alt, name) for name in ("width_cm", "height_cm", "text_cm", "way_cm")),
        alt.param(name="varieties", value=""),
    )
    return finish(
        chart,
        tr(
            "Map of the trial to scale, seen from above: tanks with their plots, each with the "
            "letter and colour of its treatment and its number; ways are plain, empty sections "
            "white."
        ),
        PICTURE,
    )


def _axes(alt: Any, showing: Showing) -> tuple[Any, Any]:
    """Return both axes of the ground, in metres or feet, with the first row at the top."""
    feet = showing.system == "us"
    labels = f"format(datum.value / {30.48 if feet else 100}, '.0f')"
    step = 304.8 if feet else 100
    unit = "ft" if feet else "m"

    def axis(top: str) -> Any:
        values = {"expr": f"sequence(0, {top} + 1, {step} * ceil({top} / {step} / 8))"}
        return alt.Axis(labelExpr=labels, values=values, grid=False)

    def scale(top: str, *, down: bool) -> Any:
        return alt.Scale(
            domainMin=0, domainMax={"expr": top}, nice=False, zero=False, reverse=down
        )  # fmt: skip

    x = alt.X("x:Q", title=tr("From the left ({unit})", unit=unit), axis=axis("width_cm"),
              scale=scale("width_cm", down=False))  # fmt: skip
    y = alt.Y("y:Q", title=tr("From the first row ({unit})", unit=unit), axis=axis("height_cm"),
              scale=scale("height_cm", down=True))  # fmt: skip
    return x, y
