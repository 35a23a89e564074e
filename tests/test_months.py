from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError

YEAR = quantity(np.arange(1.0, 13), "mm/day")


@given(st.dates(dt.date(2023, 1, 1), dt.date(2023, 12, 31)))
@settings(max_examples=50)
def test_day_of_year_any_date_agrees_with_calendar(date):
    assert climate.day_of_year(date.month, date.day) == date.timetuple().tm_yday


@pytest.mark.parametrize(
    ("month", "day", "field"), [(0, 1, "month"), (13, 1, "month"), (2, 29, "day"), (4, 0, "day")]
)
def test_day_of_year_impossible_date_raises(month, day, field):
    with pytest.raises(RangeError, match=field):
        climate.day_of_year(month, day)


@given(st.integers(1, 12), st.integers(1, 365))
@settings(max_examples=50)
def test_month_of_day_any_day_agrees_with_calendar(first, day):
    date = dt.date(2022, first, 1)
    later = dt.date(2022, 1, 1) + dt.timedelta((date.timetuple().tm_yday + day - 2) % 365)
    assert climate.month_of_day(day, first) == later.month


def test_month_of_day_after_december_comes_january():
    assert climate.month_of_day(np.array([31, 32, 366, 397]), 12).tolist() == [12, 1, 12, 1]


@pytest.mark.parametrize("day", [0, -3, [1, 0], [], float("nan")])
def test_month_of_day_day_below_one_raises(day):
    with pytest.raises(RangeError, match="counts from 1"):
        climate.month_of_day(day, 4)


def test_month_of_day_impossible_month_raises():
    with pytest.raises(RangeError, match="month"):
        climate.month_of_day(1, 13)


def test_daily_from_monthly_whole_year_has_month_lengths():
    found = climate.daily_from_monthly(YEAR, 1, 365).m_as("mm/day")
    values, counts = np.unique(found, return_counts=True)
    assert values.tolist() == list(range(1, 13))
    assert counts.tolist() == climate.MONTH_LENGTHS.tolist()


def test_daily_from_monthly_season_over_new_year_goes_on():
    found = climate.daily_from_monthly(YEAR, 12, 32).m_as("mm/day")
    assert found[[0, 30, 31]].tolist() == [12, 12, 1]


def test_daily_from_monthly_temperature_keeps_offset_unit():
    found = climate.daily_from_monthly(quantity(np.arange(12.0), "degC"), 4, 2)
    assert found.m_as("degC").tolist() == [3, 3]


def test_daily_from_monthly_ensemble_keeps_first_axis():
    double = quantity(np.stack([np.arange(12.0), np.arange(12.0) * 2]), "mm/day")
    assert climate.daily_from_monthly(double, 3, 40).shape == (2, 40)


@given(st.lists(st.floats(0, 500), min_size=12, max_size=12), st.integers(1, 12))
@settings(max_examples=50)
def test_daily_from_monthly_sums_whole_year_closes(sums, first):
    found = climate.daily_from_monthly_sums(quantity(sums, "mm"), first, 365)
    assert found.m_as("mm/day").sum() == pytest.approx(sum(sums), abs=1e-6)


@pytest.mark.parametrize("function", [climate.daily_from_monthly, climate.daily_from_monthly_sums])
@pytest.mark.parametrize(
    ("monthly", "first", "days", "error", "words"),
    [
        ([1] * 12, 1, 5, UnitError, "no quantity"),
        (quantity([1, 2], "mm"), 1, 5, RangeError, "twelve"),
        (quantity(1, "mm"), 1, 5, RangeError, "twelve"),
        (quantity([float("nan")] * 12, "mm"), 1, 5, RangeError, "NaN"),
        (YEAR, 13, 5, RangeError, "month"),
        (YEAR, 1, 0, RangeError, "days"),
        (YEAR, 1, 2.5, RangeError, "days"),
        (YEAR, 1, True, RangeError, "days"),
        ([1] * 12, 1, 0, ArgumentError, "2 problems"),
    ],
)
def test_daily_from_monthly_bad_argument_raises(function, monthly, first, days, error, words):
    with pytest.raises(error, match=words):
        function(monthly, first, days)
