"""The page that stands alone: complete, closed to the network, and harmless."""

from __future__ import annotations

import base64
import datetime
import hashlib
import html
import json
import re
from html.parser import HTMLParser

import pytest
from hostile import HOSTILE, labelled
from test_chart_files import filled

from scenariokit.charts.frames import Showing
from scenariokit.errors import InfeasibleError
from scenariokit.report.chart_files import FilledChart
from scenariokit.report.standalone import Drawing, standalone_page
from scenariokit.scenario import OUTCOMES, compare, scenario_for

METRIC = Showing()
TODAY = datetime.date(2026, 5, 3)
DRAWING = Drawing(
    (("vega", "exports.end = '</script>';"), ("vega-embed", "exports.open = '<!--';")),
    "BSD <licence>",
)
KEYS = ("medium_bag", "wedge_pots", "suspended_pot")
HEADINGS = [["Method", "Yield"], ["Bag & <pots>", "6.60"]]


def page(*scenarios, charts=None):
    comparison = compare(scenarios)
    drawn = [filled(comparison)] if charts is None else charts
    return standalone_page(comparison, METRIC, drawn, DRAWING, TODAY)


@pytest.fixture(scope="module")
def document():
    return page(*(scenario_for(key) for key in KEYS))


class Elements(HTMLParser):
    """Notes tags and attributes as a browser would find them."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes = [], set()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}


def read(document):
    found = Elements()
    found.feed(document)
    return found


def scripts(document):
    return re.findall(r"(?s)<script([^>]*)>(.*?)</script>", document)


def data(document):
    return json.loads(next(text for kind, text in scripts(document) if "json" in kind))


def test_standalone_page_policy_names_its_one_script_by_hash(document):
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', document)
    (script,) = [text for kind, text in scripts(document) if not kind]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none';")
    assert "unsafe-eval" not in policy
    assert "http" not in policy


def test_standalone_page_library_cannot_end_the_script(document):
    (script,) = [text for kind, text in scripts(document) if not kind]
    assert r"exports.end = '<\/script>';" in script
    assert r"exports.open = '<\!--';" in script
    assert len(scripts(document)) == 2


def test_standalone_page_has_charts_with_rows_and_a_word_for_each_method(document):
    held = data(document)
    (chart,) = held["charts"]
    assert [row["method"] for row in chart["spec"]["datasets"]["tradeoff"]] == list(KEYS)
    assert [key for key, _ in held["methods"]] == list(KEYS)
    assert document.count("data-method=") == len(KEYS)
    assert set(held["words"]) == {"marked", "none", "failed"}


def test_standalone_page_holds_numbers_cautions_sources_and_licences(document):
    said = html.unescape(document)
    for described in OUTCOMES.values():
        assert described.label in said
    for found in compare([scenario_for(key) for key in KEYS]):
        for caution in found.cautions:
            assert caution.text in said
            assert caution.source in said
    assert "Demo data is invented" in said
    assert "common practice, no published source" in said
    assert "BSD &lt;licence&gt;" in document


def test_standalone_page_chart_has_its_numbers_as_a_table():
    comparison = compare([scenario_for("medium_bag")])
    chart = filled(comparison)
    twin = FilledChart("a", "Yield & <cost>", chart.spec, chart.datasets, table=HEADINGS)
    made = standalone_page(comparison, METRIC, [twin], DRAWING, TODAY)
    assert '<th scope="row">Bag &amp; &lt;pots&gt;</th><td>6.60</td>' in made
    assert "<figcaption>Yield &amp; &lt;cost&gt;</figcaption>" in made


def test_standalone_page_loads_nothing(document):
    body = re.sub(r"(?s)<script.*?</script>", "", document)
    tags = set(read(body).tags)
    assert not tags & {"link", "img", "iframe", "object", "embed", "base", "form"}
    assert not read(body).attributes & {"src", "href", "srcset", "action"}


def test_standalone_page_chart_with_an_address_is_refused():
    chart = FilledChart("a", "A", {"data": {"url": "https://example.org"}, "mark": "bar"}, {})
    with pytest.raises(InfeasibleError, match="loads nothing"):
        page(scenario_for("medium_bag"), charts=[chart])


@pytest.mark.parametrize("label", HOSTILE.values(), ids=HOSTILE)
def test_standalone_page_hostile_text_changes_no_tag(label):
    plain, hostile = read(page(labelled("pots"))), read(page(labelled(label)))
    assert hostile.tags == plain.tags
    assert hostile.attributes <= plain.attributes
    assert len(scripts(page(labelled(label)))) == 2
    assert data(page(labelled(label)))["methods"] == [["wedge_pots", label]]
