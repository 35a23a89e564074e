"""What is said of water through a season is true of its numbers, in the reader's units."""

from __future__ import annotations

import re

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.charts.frames import Showing
from scenariokit.report import (
    calendar_text,
    heat_sentences,
    medium_sentences,
    mishap_sentence,
    water_sentences,
)
from scenariokit.scenario import (
    medium_check,
    root_zone_months,
    scenario_for,
    tank_season,
    with_values,
)

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
LITRES_PER_SQUARE_METRE = 0.024542  # gallons per square foot: 0.264172 gal x 0.092903 m²
DRY = {"site.rain_share": 0}


def of(method, crop="potato", site="tern_hollow", **changes):
    return with_values(scenario_for(method, crop, site), changes)


def season(method, *, mishap=None, **more):
    return tank_season(of(method, **more), **(mishap or {}))


def numbers(text):
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", text)]


def said(lines, word):
    (found,) = [line for line in lines if word in line]
    return found


# -- where the water went ------------------------------------------------------------------


@pytest.mark.parametrize("method", ["medium_bag", "paper_wrap", "suspended_pot"])
def test_water_sentences_balance_is_the_seasons(method):
    found = season(method)
    shown = numbers(said(water_sentences(found, METRIC), "Plants took"))
    parts = found.season.totals.water
    wanted = [
        parts.transpiration, parts.evaporation, parts.top_up, parts.hand_fill, parts.rain,
        parts.overflow,
    ]  # fmt: skip
    assert shown == [round(part.m_as("L/m^2")) for part in wanted]


def test_water_sentences_us_amounts_are_gallons_on_a_square_foot():
    found = season("medium_bag")
    line = said(water_sentences(found, US), "Plants took")
    assert "gal/ft²" in line
    assert "L/m²" not in line
    litres = found.season.totals.water.transpiration.m_as("L/m^2")
    assert numbers(line)[0] == pytest.approx(litres * LITRES_PER_SQUARE_METRE, abs=0.05)


def test_water_sentences_ec_is_the_seasons():
    found = season("medium_bag", **{"feed.uptake_factor": 0.5})
    ec = found.ec.m_as("dS/m")
    begins, ends, highest, day = numbers(said(water_sentences(found, METRIC), "EC begins"))
    assert (begins, ends, highest) == pytest.approx((ec[0], ec[-1], ec.max()), abs=0.005)
    assert day == ec.argmax()


def test_water_sentences_dry_tank_is_said_with_its_day():
    held = season("medium_bag")
    assert "The tank never runs dry." in water_sentences(held, METRIC)
    dry = season("medium_bag", mishap={"valve_fails_on": 40})
    assert f"The tank is dry on day {dry.first_dry}." in water_sentences(dry, METRIC)
    assert "The tank never runs dry." not in water_sentences(dry, METRIC)


@pytest.mark.parametrize(("showing", "lowest"), [(METRIC, "3.0 cm"), (US, "1.2 in")])
def test_water_sentences_level_below_the_roots_is_said_though_the_tank_is_wet(showing, lowest):
    found = season("paper_wrap", site="dunmarrow")
    days = int(found.season.totals.days_below.m_as("day"))
    assert days > 0
    assert found.first_dry is None
    line = said(water_sentences(found, showing), "still feeds the roots")
    assert line.startswith(f"On {days} days")
    assert lowest in line
    usual = " ".join(water_sentences(season("medium_bag"), showing))
    assert "still feeds the roots" not in usual


@pytest.mark.parametrize(("showing", "unit"), [(METRIC, " cm"), (US, " in")])
def test_water_sentences_drowned_air_roots_are_said_with_the_level_to_keep(showing, unit):
    rain = np.zeros(12)
    rain[6] = 600.0
    found = season("suspended_pot", **{"site.rain": quantity(rain, "mm"), "site.rain_share": 1.0})
    line = said(water_sentences(found, showing), "live in air")
    first = found.drowned[0]
    assert f"from day {first.day} on" in line
    size = first.allowed.m_as("cm" if showing is METRIC else "inch")
    assert f"{size:.1f}{unit}" in line


# -- mishaps -------------------------------------------------------------------------------


def test_mishap_sentence_dry_tank_says_the_day():
    planned = season("medium_bag")
    broken = season("medium_bag", mishap={"valve_fails_on": 60})
    line = mishap_sentence(planned, broken, METRIC)
    assert line == f"With the mishap the tank is dry on day {broken.first_dry}."


def test_mishap_sentence_tank_that_is_dry_anyhow_goes_shorter():
    """Filled only every three weeks in a dry upland it is dry as planned, and drier with a miss."""
    values = {"method.level.fill_interval": "21 day", **DRY}
    planned = season("paper_wrap", site="dunmarrow", **values)
    found = season("paper_wrap", site="dunmarrow", mishap={"missed_fill": 70}, **values)
    assert planned.first_dry is not None
    line = mishap_sentence(planned, found, METRIC)
    assert line.endswith(f"dry on day {found.first_dry}, and plants go short of water.")


@pytest.mark.parametrize(("showing", "lowest"), [(METRIC, "3.0 cm"), (US, "1.2 in")])
def test_mishap_sentence_level_below_the_roots_is_no_good_news(showing, lowest):
    """The tank is wet, but on more days than planned roots do not reach the water."""
    planned = season("paper_wrap", site="dunmarrow")
    found = season("paper_wrap", site="dunmarrow", mishap={"missed_fill": 70})
    before, after = (int(one.season.totals.days_below.m_as("day")) for one in (planned, found))
    assert after > before
    assert found.first_dry is None
    line = mishap_sentence(planned, found, showing)
    assert f"on {after} days instead of {before}" in line
    assert lowest in line
    assert "no plant goes short" not in line


@pytest.mark.parametrize("showing", [METRIC, US])
def test_mishap_sentence_that_does_no_harm_says_so(showing):
    planned = season("paper_wrap")
    found = season("paper_wrap", mishap={"missed_fill": 5})
    line = mishap_sentence(planned, found, showing)
    size = found.season.totals.lowest_depth.m_as("cm" if showing is METRIC else "inch")
    assert f"falls to {size:.1f}" in line
    assert line.endswith("no plant goes shorter than without.")


# -- heat ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("showing", "june"),
    [(METRIC, "June: 25 °C, warm: tuber growth declines;"), (US, "June: 77 °F, ")],
)
def test_heat_sentences_one_for_each_month_in_the_readers_degrees(showing, june):
    lines = heat_sentences(root_zone_months(of("medium_bag", site="dunmarrow")), "potato", showing)
    assert [line.split(":")[0] for line in lines] == ["March", "April", "May", "June", "July"]
    assert lines[3].startswith(june)
    assert all(line.endswith("mg/L of oxygen.") for line in lines)


def test_heat_sentences_say_nothing_of_tubers_to_who_grows_leaves():
    lines = heat_sentences(root_zone_months(of("deep_litre", "lettuce")), "lettuce", METRIC)
    assert lines
    assert not any("tuber" in line or "potato" in line for line in lines)


# -- growing medium ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "method", ["medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray"]
)
def test_medium_sentences_agree_with_the_verdicts(method):
    check = medium_check(of(method))
    moist, air, flow, *cautions = medium_sentences(check, METRIC)
    assert ("does not" in moist) == (not check.moist)
    assert (" lacks air" in air) == (not check.airy)
    assert ("cannot" in flow) == (not check.delivers)
    assert f"{check.top_suction.m_as('cm'):.1f} cm" in moist
    assert f"{check.mean_air_filled_porosity.m:.0%}" in air
    assert numbers(flow)[0] == round(check.delivery_limit.m_as("mm/day"))
    assert tuple(cautions) == check.cautions


def test_medium_sentences_us_units():
    check = medium_check(of("medium_bag"))
    moist, _, flow, *_ = medium_sentences(check, US)
    assert f"{check.top_suction.m_as('inch'):.1f} in, at most 19.7 in asked" in moist  # 50 cm
    assert "in a day" in flow
    assert numbers(flow)[0] == pytest.approx(check.delivery_limit.m_as("inch/day"), rel=0.05)
    assert not re.search(r"\bcm\b|\bmm\b", moist + flow)


def test_medium_sentences_out_of_reach_is_said_plainly():
    moist, _, flow, *_ = medium_sentences(medium_check(of("suspended_pot")), METRIC)
    assert "is not reached by water" in moist
    assert "cannot deliver" in flow


# -- calendar ------------------------------------------------------------------------------


def test_calendar_text_lists_every_fill_and_the_cautions():
    found = season("paper_wrap", **DRY)
    text = calendar_text(found, METRIC)
    for fill in found.calendar:
        row = f"{fill.day:>3}{fill.litres.m_as('L'):>10.1f}{fill.depth_before.m_as('cm'):>9.1f}"
        assert row in text
    total = sum(fill.litres.m_as("L") for fill in found.calendar)
    assert f"64 fillings, {total:.1f} L in all" in text
    assert found.scenario.method.label in text
    assert "tank of 4 m²" in text
    for word in ("level", "cover", "children", "mosquitoes"):
        assert word in text


def test_calendar_text_us_is_in_gallons_and_inches():
    found = season("paper_wrap", **DRY)
    text = calendar_text(found, US)
    rows = [numbers(line) for line in text.splitlines() if re.match(r" *\d+ +\d", line)]
    assert len(rows) == len(found.calendar)
    for (day, gallons, low, high), fill in zip(rows, found.calendar, strict=True):
        assert day == fill.day
        assert gallons == pytest.approx(fill.litres.m_as("L") / 3.785412, abs=0.05)
        assert low == pytest.approx(fill.depth_before.m_as("cm") / 2.54, abs=0.05)
        assert high == pytest.approx(fill.depth_after.m_as("cm") / 2.54, abs=0.05)
    assert sum(row[1] for row in rows) == pytest.approx(
        numbers(said(text.splitlines(), "in all"))[1], abs=0.05 * len(rows)
    )
    assert "tank of 43.1 ft²" in text
    assert "litres" not in text
    assert "children" in text


def test_calendar_text_without_fills_says_why_and_keeps_the_caution():
    for method, crop in (("medium_bag", "potato"), ("deep_litre", "lettuce")):
        text = calendar_text(season(method, crop=crop), METRIC)
        assert "A float valve holds the level, or the tank is filled once." in text
        assert "children" in text
