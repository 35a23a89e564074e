"""How long a page takes from a key pressed on a slider to the pixels that answer it.

Run with ``python -m pytest -o addopts= -s tests/benchmarks/test_slider_to_pixels.py``.
"""

from __future__ import annotations

import statistics
from typing import Any

import pytest

pytestmark = pytest.mark.browser

PRESSES = 26

PLAIN = """
import altair as alt
import ipywidgets as widgets
from scenariokit.widgets.chart_view import ChartView

METHODS = [f"method {n}" for n in range(6)]
bars = (
    alt.Chart(alt.NamedData(name="rows"), height=150, width="container", description="Bars")
    .mark_bar()
    .encode(x=alt.X("value:Q", scale=alt.Scale(domain=[0, 700])), y="method:N")
    .add_params(alt.param(name="marked", value=[]))
)
charts = [ChartView.from_altair(bars, heading=f"Chart {n}") for n in range(4)]
slider = widgets.IntSlider(value=10, min=1, max=100)

def update(change=None):
    rows = [{"method": one, "value": slider.value * (n + 1)} for n, one in enumerate(METHODS)]
    table = [["Method", "Value"], *[[row["method"], str(row["value"])] for row in rows]]
    for one in charts:
        one.update({"rows": rows}, None, table)

slider.observe(update, names="value")
update()
widgets.VBox([slider, *charts])
"""

WATCH = """
(charts) => {
  const figures = [...document.querySelectorAll(charts)];
  window.answered = () => new Promise((done) => {
    const before = figures.map((one) => one.dataset.updates);
    let pressed = null;
    document.addEventListener("keydown", (event) => { pressed = event.timeStamp; },
      { capture: true, once: true });
    const observer = new MutationObserver(() => {
      if (figures.some((one, index) => one.dataset.updates === before[index])) return;
      observer.disconnect();
      requestAnimationFrame(() => done(performance.now() - pressed));
    });
    for (const one of figures) {
      observer.observe(one, { attributes: true, attributeFilter: ["data-updates"] });
    }
  });
  return figures.length;
}
"""


def milliseconds_of_presses(
    page: Any, slider: str, charts: str = "figure[data-updates]", presses: int = PRESSES
) -> list[float]:
    """Return, for each press, the time from the key to the frame after the last chart's update.

    Parameters
    ----------
    page : playwright page
    slider : str
        Selector of the slider.
    charts : str
        Selector of the charts that change with it; all of them are waited for.
    presses : int
        How often an arrow key is pressed, to the right and back; the first one is not counted.
    """
    page.evaluate(WATCH, charts)
    page.locator(slider).focus()
    times = []
    there = presses // 2 + 1
    for key in ["ArrowRight"] * there + ["ArrowLeft"] * (presses + 1 - there):
        page.evaluate("() => { window.waiting = window.answered(); }")
        page.keyboard.press(key)
        times.append(page.evaluate("() => window.waiting"))
        page.wait_for_timeout(30)
    return times[1:]


def report(name: str, times: list[float]) -> float:
    """Print and return the median."""
    median = statistics.median(times)
    worst = sorted(times)[int(len(times) * 0.95)]
    print(f"\n{name}: median {median:.1f} ms, 95th percentile {worst:.1f} ms")
    return median


def test_slider_to_pixels_four_small_charts_answer_at_once(
    voila_page: Any, notebook_of: Any
) -> None:
    opened = voila_page(notebook_of("plain", PLAIN))
    opened.page.wait_for_function(
        "document.querySelectorAll('figure[data-updates]').length === 4", timeout=60_000
    )
    times = milliseconds_of_presses(opened.page, "[role=slider]")
    assert report("slider and four charts of six rows", times) > 0


def test_slider_to_pixels_the_whole_board(voila_page: Any) -> None:
    """Six methods, their charts, sentences and tables: the board as it is served."""
    opened = voila_page()
    page = opened.page
    page.wait_for_function(
        "() => [...document.querySelectorAll('.sk-view-methods > .sk-charts figure')]"
        ".filter(one => +one.dataset.updates > 0).length === 7",
        timeout=60_000,
    )
    slider = "[id='sk-common-site-climate_factor-slider']"
    # Cross-section and moisture profile do not change with the weather.
    charts = ".sk-view-methods > .sk-charts > :not(:nth-child(4)):not(:nth-child(5)) figure"
    times = milliseconds_of_presses(page, slider, charts)
    median = report("board, six methods, slider to pixels", times)
    assert median > 0
    assert opened.console_errors == []
