"""A person's own weather in a site: months from days, the rest left as it was."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from scenariokit import climate
from scenariokit.errors import RecordError
from scenariokit.scenario import evaluate, scenario_for, site_with_weather
from scenariokit.widgets.board_state import BoardState

HEAD = "date,maximum_temperature [degC],minimum_temperature [degC],rain [mm]\n"
TWO_MONTHS = HEAD + "2026-06,24,14,30\n2026-07,28,16,\n"


@pytest.fixture(scope="module")
def site():
    return scenario_for("medium_bag").site


def test_site_with_weather_of_months_takes_those_and_leaves_the_rest(site):
    own = site_with_weather(site, climate.read_weather(TWO_MONTHS))
    assert own.months == (6, 7)
    assert own.few == ()
    assert own.methods == ("hargreaves",)
    before, after = site.reference_evapotranspiration.m, own.site.reference_evapotranspiration.m
    others = [month for month in range(12) if month not in (5, 6)]
    np.testing.assert_array_equal(before[others], after[others])
    by_hand = climate.hargreaves(
        "24 degC", "14 degC", climate.extraterrestrial_radiation(site.latitude, 166)
    )
    assert after[5] == pytest.approx(by_hand.m_as("mm/day"), rel=1e-6)
    assert own.site.mean_temperature.m[5:7].tolist() == [19, 22]
    assert own.site.rain.m[5] == 30
    assert own.site.rain.m[6] == site.rain.m[6]  # blank in the file: as it was


def test_site_with_weather_of_days_is_their_mean_and_rain_that_of_a_month(site):
    text = HEAD + "2026-06-01,20,10,1\n2026-06-02,30,20,3\n"
    own = site_with_weather(site, climate.read_weather(text))
    assert own.few == (6,)
    assert own.site.mean_temperature.m[5] == pytest.approx(20)
    assert own.site.rain.m[5] == pytest.approx(2 * 30)


def test_site_with_weather_names_gaps_and_bad_rows(site):
    text = HEAD + "2026-06-01,20,10,1\n2026-06-04,9,12,1\n2026-06-05,22,12,0\n"
    own = site_with_weather(site, climate.read_weather(text, name="mine.csv"))
    assert [problem.row for problem in own.problems] == [3]
    assert own.gaps


def test_site_with_weather_without_a_usable_row_raises(site):
    weather = climate.read_weather("date,rain [mm]\n2026-06-01,3\n", name="mine.csv")
    with pytest.raises(RecordError, match=r"mine\.csv: no row can be used"):
        site_with_weather(site, weather)


def test_load_weather_changes_every_method_and_survives_a_file():
    state = BoardState()
    before = state.compute().values("season_water")
    state.load_weather(b"\xef\xbb\xbf" + TWO_MONTHS.encode(), "mine.csv")
    after = state.compute().values("season_water")
    assert np.all(after > before)
    again = BoardState()
    again.load(state.save().encode(), "board.json")
    np.testing.assert_allclose(again.compute().values("season_water"), after)
    again.pick_site("tern_hollow")
    np.testing.assert_allclose(again.compute().values("season_water"), before)


def test_load_weather_unusable_changes_nothing():
    state = BoardState()
    before = dict(state.scenarios)
    with pytest.raises(RecordError):
        state.load_weather(b"", "mine.csv")
    assert state.scenarios == before


def test_evaluate_hotter_file_uses_more_water(site):
    one = scenario_for("medium_bag")
    hot = HEAD + "".join(f"2026-{month:02d},36,20,0\n" for month in range(1, 13))
    own = site_with_weather(site, climate.read_weather(hot))
    assert (
        evaluate(dataclasses.replace(one, site=own.site))["season_water"]
        > evaluate(one)["season_water"]
    )
