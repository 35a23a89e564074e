"""Charts and file controls on a real page."""

from __future__ import annotations

from typing import Any

import pytest

pytestmark = pytest.mark.browser

DEMO = """
import logging
import altair as alt
import ipywidgets as widgets
from scenariokit.errors import ScenarioKitError
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver

METHODS = ("bag", "pots", "tray")

def rows(height):
    return [{"method": one, "value": height * (n + 1)} for n, one in enumerate(METHODS)]

def bars(name):
    marked = alt.param(name="marked", value=[])
    top = alt.param(name="top", value=10)
    faint = alt.condition(
        "length(marked) == 0 || indexof(marked, datum.method) >= 0", alt.value(1.0), alt.value(0.3)
    )
    return (
        alt.Chart(alt.NamedData(name=name), height=150, width="container", description=f"Bars of {name}")
        .mark_bar()
        .encode(
            x=alt.X("value:Q", scale=alt.Scale(domainMin=0, domainMax={"expr": "top"}, nice=False)),
            y=alt.Y("method:N"), opacity=faint,
        )
        .add_params(marked, top)
    )

def table(height):
    return [["Method", "Value"], *[[row["method"], f"{row['value']:.1f}"] for row in rows(height)]]

first = ChartView.from_altair(
    bars("one"), heading="First <b>bars</b>", selection_field="method", picture_name="first")
second = ChartView.from_altair(bars("two"), heading="Second bars", selection_field="method")
square = ChartView.from_altair(bars("three"), heading="Square", aspect=0.5)
broken = ChartView(spec={"mark": "nonsense", "data": {"name": "four"}}, heading="Broken")
slider = widgets.IntSlider(value=2, min=1, max=5, description="Height")
for name, one in zip(("first", "second", "square", "broken"), (first, second, square, broken)):
    one.add_class(f"demo-{name}")
slider.add_class("demo-slider")

def update(change=None):
    height = slider.value
    first.update({"one": rows(height)}, {"top": 20}, table(height))
    second.update({"two": rows(height)}, {"top": 5 * height})
    square.update({"three": rows(height)}, {"top": 20})

slider.observe(update, names="value")
update()
widgets.link((first, "selected"), (second, "selected"))
chosen = widgets.Label(value="chosen: none")
first.observe(lambda c: setattr(chosen, "value", f"chosen: {c['new']}"), names="selected")

picker = FilePicker(label="Prices to load", accept=".csv", max_bytes=1000, help="At most a page.")
got = widgets.Label(value="got: nothing")

def take(name, content):
    if b"bad" in content:
        raise ScenarioKitError("row 2: price = bad: not a number")
    got.value = f"got: {name} {len(content)} {content[:5]!r}"
    return "Two prices were read."

picker.on_file(take)
presses = []

def make():
    presses.append(1)
    return f"press {len(presses)}, height {slider.value}, café"

saver = FileSaver(make, label="Save the text", filename="text.csv", mime="text/csv")
picker.add_class("demo-picker"); saver.add_class("demo-saver")
widgets.VBox([slider, first, second, square, broken, chosen, picker, got, saver])
"""
FIRST, SECOND, SQUARE = ".demo-first", ".demo-second", ".demo-square"
BARS = "g.mark-rect.role-mark path"


@pytest.fixture(scope="module")
def demo(voila_page: Any, notebook_of: Any) -> Any:
    """The demonstration page, opened once."""
    opened = voila_page(notebook_of("demo", DEMO))
    for chart in (FIRST, SECOND, SQUARE):
        opened.page.wait_for_selector(f"{chart} figure[data-updates]", timeout=60_000)
    return opened


def widths(demo: Any, chart: str) -> list[float]:
    """Return the widths of the bars on the page, in pixels."""
    boxes = demo.page.locator(f"{chart} {BARS}").all()
    return [box.bounding_box()["width"] for box in boxes]


def opacities(demo: Any, chart: str) -> list[str]:
    """Return the opacity of each bar."""
    script = "all => all.map(one => one.getAttribute('opacity') ?? '1')"
    return demo.page.locator(f"{chart} {BARS}").evaluate_all(script)


def test_chart_view_first_render_shows_its_rows_and_words(demo: Any) -> None:
    page = demo.page
    one, two, three = widths(demo, FIRST)
    assert two == pytest.approx(2 * one, rel=0.05)
    assert three == pytest.approx(3 * one, rel=0.05)
    figure = page.locator(f"{FIRST} figure")
    assert figure.get_attribute("aria-label") == "Bars of one"
    assert page.locator(f"{FIRST} figcaption").inner_text() == "First <b>bars</b>"
    assert (
        page.locator(f"{FIRST} {BARS}").first.get_attribute("aria-label") == "value: 2; method: bag"
    )
    demo.screenshot("chart_view")


def test_chart_view_new_rows_move_the_same_svg(demo: Any) -> None:
    page = demo.page
    page.evaluate(f"document.querySelector('{FIRST} svg').stamp = 'kept'")
    before = widths(demo, FIRST)
    handle = page.locator(".demo-slider [role=slider]")
    handle.focus()
    demo.after_update(FIRST, lambda: page.keyboard.press("ArrowRight"))
    after = widths(demo, FIRST)
    assert after == pytest.approx([width * 1.5 for width in before], rel=0.05)
    assert page.evaluate(f"document.querySelector('{FIRST} svg').stamp") == "kept"
    assert page.locator(f"{FIRST} svg").count() == 1


def test_chart_view_new_signal_moves_the_scale(demo: Any) -> None:
    page = demo.page
    before = widths(demo, SECOND)
    page.locator(".demo-slider [role=slider]").focus()
    demo.after_update(SECOND, lambda: page.keyboard.press("ArrowRight"))
    # rows and end of the axis grow alike, so the bars stay and the labels change
    assert widths(demo, SECOND) == pytest.approx(before, abs=1.5)
    labels = page.locator(f"{SECOND} g.role-axis-label text").all_text_contents()
    assert "20.0" in labels


def test_chart_view_click_marks_in_both_charts_through_python(demo: Any) -> None:
    page = demo.page
    bar = page.locator(f"{FIRST} {BARS}").nth(1)
    demo.after_update(SECOND, bar.click)
    page.wait_for_selector("text=chosen: ['pots']")
    assert opacities(demo, FIRST) == ["0.3", "1", "0.3"]
    assert opacities(demo, SECOND) == ["0.3", "1", "0.3"]
    other = page.locator(f"{SECOND} {BARS}").nth(2)
    demo.after_update(FIRST, lambda: other.click(modifiers=["Shift"]))
    page.wait_for_selector("text=chosen: ['pots', 'tray']")
    assert opacities(demo, FIRST) == ["0.3", "1", "1"]
    empty = {"x": 250, "y": 5}
    demo.after_update(SECOND, lambda: page.locator(f"{FIRST} svg").click(position=empty))
    page.wait_for_selector("text=chosen: []")
    assert opacities(demo, SECOND) == ["1", "1", "1"]


def test_chart_view_narrow_window_follows_the_width(demo: Any) -> None:
    page = demo.page
    page.set_viewport_size({"width": 500, "height": 900})
    page.wait_for_function(
        f"document.querySelector('{FIRST} svg').getBoundingClientRect().width < 500"
    )
    svg = page.locator(f"{FIRST} svg").bounding_box()["width"]
    room = page.locator(f"{FIRST} .sk-plot").bounding_box()["width"]
    assert svg == pytest.approx(room, abs=2)
    page.set_viewport_size({"width": 1280, "height": 900})
    page.wait_for_function(
        f"document.querySelector('{FIRST} svg').getBoundingClientRect().width > 600"
    )


def test_chart_view_aspect_gives_the_frame_its_shape(demo: Any) -> None:
    page = demo.page
    for width in (700, 1280):  # the second time the greatest height decides
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_timeout(600)
        breadth, height = page.locator(f"{SQUARE} path.background").first.evaluate(
            "one => [one.getBoundingClientRect().width, one.getBoundingClientRect().height]"
        )
        assert height == pytest.approx(breadth * 0.5, abs=1.5)
        assert height <= 420.5


def test_chart_view_table_twin_opens_by_keyboard_with_current_numbers(demo: Any) -> None:
    page = demo.page
    page.locator(f"{FIRST} summary").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{FIRST} tbody tr")
    cells = page.locator(f"{FIRST} tbody tr").nth(2).locator("th, td")
    height = int(page.locator(".demo-slider .widget-readout").inner_text())
    assert cells.all_inner_texts() == ["tray", f"{3 * height:.1f}"]
    page.locator(".demo-slider [role=slider]").focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(
        "text => document.querySelector('.demo-first tbody tr:nth-child(3) td').innerText === text",
        arg=f"{3 * (height - 1):.1f}",
    )
    assert page.locator(f"{SECOND} details").is_hidden()


def test_chart_view_save_as_svg_downloads_the_picture(demo: Any) -> None:
    with demo.page.expect_download() as waiting:
        demo.page.get_by_role("button", name="Save chart as SVG").click()
    assert waiting.value.suggested_filename == "first.svg"
    assert waiting.value.path().read_text("utf-8").startswith("<svg")


def test_chart_view_bad_specification_says_so_in_its_figure(demo: Any) -> None:
    problem = demo.page.locator(".demo-broken [role=alert]")
    problem.wait_for()
    assert problem.inner_text().startswith("This chart could not be drawn: ")
    assert any("Broken" in text for text in demo.console_errors)


def test_file_picker_chosen_file_arrives_and_may_come_twice(demo: Any) -> None:
    page = demo.page
    control = page.get_by_label("Prices to load")
    file = {"name": "prices.csv", "mimeType": "text/csv", "buffer": b"item,price\n"}
    for _ in range(2):
        control.set_input_files(file)
        page.wait_for_selector("text=Two prices were read.")
        page.wait_for_selector("text=got: prices.csv 11 b'item,'")
    control.set_input_files({**file, "buffer": b"item,bad"})
    page.wait_for_selector("text=row 2: price = bad: not a number")
    assert control.get_attribute("aria-invalid") == "true"


def test_file_picker_large_file_is_refused_before_it_is_sent(demo: Any) -> None:
    page = demo.page
    before = page.get_by_text("got:").inner_text()
    control = page.get_by_label("Prices to load")
    control.set_input_files({"name": "big.csv", "mimeType": "text/csv", "buffer": b"x" * 1500})
    page.wait_for_selector("text=big.csv is too large: 1.5 kB; at most 1 kB are read.")
    page.wait_for_timeout(300)
    assert page.get_by_text("got:").inner_text() == before


def test_file_saver_press_downloads_content_made_at_that_moment(demo: Any) -> None:
    page = demo.page
    button = page.get_by_role("button", name="Save the text")
    button.focus()
    texts = []
    for _ in range(2):
        with page.expect_download() as waiting:
            page.keyboard.press("Enter")
        assert waiting.value.suggested_filename == "text.csv"
        texts.append(waiting.value.path().read_text("utf-8"))
    assert texts[0].startswith("press 1, height")
    assert texts[1].startswith("press 2, height")
    assert texts[1].endswith("café")


def test_page_leaves_no_global_and_goes_nowhere_else(demo: Any) -> None:
    page = demo.page
    assert page.evaluate("[typeof vega, typeof vegaEmbed, typeof vegaLite]") == ["undefined"] * 3
    assert page.evaluate("document.documentElement.lang").split("-")[0] == "en"
    assert page.title() == "demo"
    assert demo.outside_requests == []
    assert [text for text in demo.console_errors if "Broken" not in text] == []
