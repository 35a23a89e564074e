"""Charts as files: what is in them, what they refuse, and what happens without the library."""

from __future__ import annotations

import datetime
import io
import subprocess
import sys
from xml.etree import ElementTree

import pytest
from hostile import HOSTILE, labelled
from PIL import Image

from scenariokit.charts import (
    axis_top,
    cost_rows,
    cost_stack_chart,
    section_chart,
    tradeoff_chart,
    tradeoff_rows,
)
from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import METHOD_COLOURS
from scenariokit.errors import InfeasibleError
from scenariokit.language import language_as
from scenariokit.report.chart_files import (
    SCALE,
    WIDTH,
    ExportError,
    FilledChart,
    chart_file,
    filled_spec,
    printed_spec,
)
from scenariokit.report.tank_picture import section_of
from scenariokit.scenario import compare, scenario_for

METRIC = Showing()
TODAY = datetime.date(2026, 5, 3)
SVG = "{http://www.w3.org/2000/svg}"


def filled(comparison, selected=()):
    rows = tradeoff_rows(comparison, METRIC)
    methods = [(one.scenario.method.id, one.scenario.method.label) for one in comparison]
    return FilledChart(
        "yield_cost", "Yield against cost", tradeoff_chart(methods, METRIC).to_dict(),
        {"tradeoff": rows},
        {"yield_top": axis_top(row["yield_high"] for row in rows),
         "cost_top": axis_top(row["cost_high"] for row in rows)},
        selected,
    )  # fmt: skip


@pytest.fixture(scope="module")
def comparison():
    return compare([scenario_for("medium_bag"), scenario_for("wedge_pots")])


def drawn(chart, **said):
    return ElementTree.fromstring(chart_file(chart, "svg", TODAY, **said))  # noqa: S314  our own


def words(root):
    return ["".join(one.itertext()) for one in root.iter(f"{SVG}text")]


def test_chart_file_svg_has_heading_units_date_and_invented_data(comparison):
    said = words(drawn(filled(comparison), invented=True))
    assert "Yield against cost" in said
    assert "Made on May 3, 2026; invented demo data." in said
    assert {"Yield (kg/m²)", "Cost of the produce (EUR/kg)"} <= set(said)
    assert "Made on May 3, 2026." in words(drawn(filled(comparison)))


def test_chart_file_svg_draws_each_method_in_its_own_colour(comparison):
    root = drawn(filled(comparison))
    points = [one for one in root.iter(f"{SVG}path") if "rotate" not in one.get("transform", "")]
    colours = {one.get("fill") for one in points} | {one.get("stroke") for one in root.iter()}
    assert set(METHOD_COLOURS[:2]) <= colours


def test_chart_file_marked_method_fades_the_others_and_is_named(comparison):
    root = drawn(filled(comparison, ("medium_bag",)))
    faint = [one for one in root.iter() if one.get("opacity") == "0.22"]
    assert faint
    assert not [one for one in drawn(filled(comparison)).iter() if one.get("opacity") == "0.22"]


def test_chart_file_png_is_drawn_at_twice_its_size_with_ink_on_white(comparison):
    picture = Image.open(io.BytesIO(chart_file(filled(comparison), "png", TODAY))).convert("RGB")
    assert picture.width == pytest.approx(SCALE * WIDTH, abs=2)
    assert picture.getpixel((1, 1)) == (255, 255, 255)
    assert len(picture.getcolors(1_000_000)) > 100


def test_chart_file_pdf_has_one_page_of_letters_that_can_be_read(comparison):
    made = chart_file(filled(comparison), "pdf", TODAY)
    assert made.startswith(b"%PDF-")
    assert b"/Font" in made or b"/ObjStm" in made
    assert made.rstrip().endswith(b"%%EOF")


def test_chart_file_drawing_to_scale_keeps_its_shape(comparison):
    found = next(iter(comparison))
    chart = section_of(found, METRIC, section_chart(METRIC).to_dict())
    spec = printed_spec(chart, TODAY, invented=False)
    assert spec["height"] / spec["width"] == pytest.approx(chart.aspect, rel=0.01)


@pytest.mark.parametrize("label", HOSTILE.values(), ids=HOSTILE)
def test_chart_file_hostile_label_is_drawn_as_text(label):
    root = drawn(filled(compare([labelled(label)]), ("wedge_pots",)))
    tags = {one.tag.removeprefix(SVG) for one in root.iter()}
    assert not tags & {"script", "image", "foreignObject", "a", "style"}
    assert not [key for one in root.iter() for key in one.keys() if key.startswith("on")]  # noqa: SIM118


def test_filled_spec_leaves_the_chart_as_it_is(comparison):
    chart = filled(comparison)
    before = repr(chart.spec)
    spec = filled_spec(chart)
    spec["config"]["font"] = "other"
    spec["datasets"]["tradeoff"][0]["yield"] = 0
    assert repr(chart.spec) == before
    assert chart.datasets["tradeoff"][0]["yield"] != 0
    assert "$schema" not in spec


@pytest.mark.parametrize(
    "spec",
    [
        {"data": {"url": "https://example.org/rows.csv"}, "mark": "bar"},
        {"layer": [{"data": {"url": "file:///etc/passwd"}, "mark": "bar"}]},
        {"mark": "image", "encoding": {"url": {"value": "https://example.org/a.png"}}},
        {"mark": {"type": "bar", "href": "https://example.org"}},
    ],
)
def test_chart_file_address_in_a_chart_is_refused(spec):
    with pytest.raises(InfeasibleError, match="loads nothing"):
        chart_file(FilledChart("a", "A", spec, {}), "svg", TODAY)


def test_chart_file_unknown_kind_is_refused_with_those_there_are(comparison):
    with pytest.raises(InfeasibleError, match=r"png, svg, pdf, not as 'gif'"):
        chart_file(filled(comparison), "gif", TODAY)


def test_chart_file_broken_chart_says_which():
    spec = {"mark": "no such mark", "encoding": {"x": {"field": "a"}}}
    with pytest.raises(ExportError, match="Broken could not be drawn"):
        chart_file(FilledChart("a", "Broken", spec, {}), "png", TODAY)


def test_chart_file_without_the_library_says_how_to_install_it(comparison, monkeypatch):
    monkeypatch.setitem(sys.modules, "vl_convert", None)
    with pytest.raises(ExportError, match=r"pip install 'scenariokit\[export\]'"):
        chart_file(filled(comparison), "png", TODAY)


def test_chart_files_drawing_library_is_loaded_only_when_used():
    code = (
        "import sys, scenariokit.report.chart_files, scenariokit.report.workbook;"
        "assert 'vl_convert' not in sys.modules; assert 'openpyxl' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_chart_file_numbers_have_the_signs_of_the_language(comparison):
    with language_as("es"):
        rows = cost_rows(comparison, METRIC)
        methods = [(one.scenario.method.id, one.scenario.method.label) for one in comparison]
        spec = cost_stack_chart(methods, METRIC).to_dict()
        chart = FilledChart("costs", "Costs", spec, {"costs": rows}, {"total_top": 4})
        said = words(drawn(chart))
    assert f"{rows[0]['total']:.2f}".replace(".", ",") in said
    assert any("2026" in one and "mayo" in one for one in said)
