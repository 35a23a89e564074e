from __future__ import annotations

import datetime
import io

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.climate import Gap, Weather, read_weather, weather_template
from scenariokit.errors import RecordError

AIR = "date,maximum_temperature [degC],minimum_temperature [degC]"


def daily(*lines, heading=AIR):
    return read_weather("\n".join([heading, *lines]) + "\n", name="own.csv")


def told(weather):
    """Return row and column of each problem."""
    return [(problem.row, problem.field) for problem in weather.problems]


def dates(weather):
    return [row["date"] for row in weather.rows]


def test_read_weather_days_are_read_with_day_of_year():
    found = daily("2024-12-31,20,10", "2025-01-01,21,11")
    assert found.step == "day"
    assert [row["day_of_year"] for row in found.rows] == [366, 1]
    assert found.problems == found.gaps == ()
    assert found.require() is found


def test_read_weather_units_of_the_heading_are_converted():
    found = daily(
        "2024-07-06,86,59,18,29.92,500,83",
        heading="date,maximum_temperature [degF],minimum_temperature [°F],wind_speed [km/h],"
        "rain [inch],solar_radiation [W/m2],mean_humidity [%]",
    )
    row = found.rows[0]
    assert row["maximum_temperature"] == pytest.approx(30)
    assert row["minimum_temperature"] == pytest.approx(15)
    assert row["wind_speed"] == pytest.approx(5)
    assert row["rain"] == pytest.approx(29.92 * 25.4)
    assert row["solar_radiation"] == pytest.approx(43.2)
    assert row["mean_humidity"] == 83


def test_read_weather_heading_without_unit_names_every_row():
    found = daily("2024-07-06,20", "2024-07-07,21", heading="date,maximum_temperature")
    assert told(found) == [(2, "maximum_temperature"), (3, "maximum_temperature")]
    assert "bare number" in found.problems[0].reason
    assert found.rows == ()


def test_read_weather_heading_of_wrong_dimension_raises():
    with pytest.raises(RecordError, match="another dimension"):
        daily("2024-07-06,20", heading="date,maximum_temperature [m/s]")


def test_read_weather_unknown_column_is_told_and_rows_are_kept():
    found = daily("2024-07-06,20,10,3", heading=AIR + ",wind_sped")
    assert len(found.rows) == 1
    assert "did you mean" in found.problems[0].reason


@pytest.mark.parametrize(
    ("heading", "cells", "column"),
    [
        ("maximum_temperature [degC],minimum_temperature [degC]", "10,12", "minimum_temperature"),
        ("maximum_temperature [degC],dew_point [degC]", "10,12", "dew_point"),
        ("maximum_humidity [%],minimum_humidity [%]", "40,60", "minimum_humidity"),
        ("mean_humidity [%],minimum_humidity [%]", "40,60", "minimum_humidity"),
        ("mean_humidity [%],maximum_humidity [%]", "60,40", "mean_humidity"),
        ("maximum_humidity [%]", "104", "maximum_humidity"),
        ("mean_humidity [%]", "0.83", "mean_humidity"),
        ("wind_speed [m/s]", "-1", "wind_speed"),
        ("sunshine [hour]", "25", "sunshine"),
        ("maximum_temperature [degC]", "warm", "maximum_temperature"),
    ],
)
def test_read_weather_impossible_values_leave_the_row_out_and_name_it(heading, cells, column):
    blanks = "," * cells.count(",")
    found = daily(
        f"2024-07-05,{blanks}", f"2024-07-06,{cells}", f"2024-07-07,{blanks}",
        heading=f"date,{heading}",
    )  # fmt: skip
    assert told(found) == [(3, column)]
    assert str(found.problems[0]).startswith("own.csv, row 3: ")
    assert dates(found) == ["2024-07-05", "2024-07-07"]
    assert found.gaps == (Gap("date", "2024-07-06", "2024-07-06", 1),)


def test_read_weather_same_value_twice_is_no_crossing():
    found = daily("2024-07-06,12,12")
    assert found.problems == ()


@pytest.mark.parametrize(
    "date", ["06/07/2024", "2024-13-01", "2024-02-30", "2024-00", "13", "0", "July", "2024-07-06T12:00"]
)  # fmt: skip
def test_read_weather_no_clear_date_is_named(date):
    found = daily(f"{date},20,10", "2024-07-07,20,10")
    assert told(found) == [(2, "date")]
    assert dates(found) == ["2024-07-07"]


def test_read_weather_second_row_of_a_date_is_not_used():
    found = daily("2024-07-06,20,10", "2024-07-6,25,10", "2024-07-07,20,10")
    assert told(found) == [(3, "date")]
    assert "repeats row 2" in found.problems[0].reason
    assert [row["maximum_temperature"] for row in found.rows] == [20, 20]


def test_read_weather_unsorted_row_is_named_and_put_in_its_place():
    found = daily("2024-07-06,20,10", "2024-07-08,21,10", "2024-07-07,22,10")
    assert told(found) == [(4, "date")]
    assert "row 3" in found.problems[0].reason
    assert dates(found) == ["2024-07-06", "2024-07-07", "2024-07-08"]
    assert found.gaps == ()


def test_read_weather_problems_stand_in_the_order_of_rows():
    found = daily("2024-07-08,20,10", "2024-07-07,20,10", "2024-07-09,x,10", "2024-07-10,9,10")
    assert [row for row, _ in told(found)] == [3, 4, 5]
    with pytest.raises(RecordError, match="3 problems"):
        found.require()


def test_read_weather_missing_days_and_blank_cells_are_gaps_not_filled():
    found = daily(
        "2024-02-27,20,10,3", "2024-03-01,20,10,", "2024-03-02,,10,", "2024-03-03,20,10,2",
        heading=AIR + ",wind_speed [m/s]",
    )  # fmt: skip
    assert found.gaps == (
        Gap("date", "2024-02-28", "2024-02-29", 2),
        Gap("maximum_temperature", "2024-03-02", "2024-03-02", 1),
        Gap("wind_speed", "2024-03-01", "2024-03-02", 2),
    )
    assert len(found.rows) == 4
    assert found.rows[1]["wind_speed"] is None


def test_read_weather_blank_cells_up_to_the_end_and_empty_columns():
    found = daily(
        "2024-03-01,20,10,3,", "2024-03-02,20,10,,", heading=AIR + ",rain [mm],sunshine [hour]"
    )
    assert found.gaps == (Gap("rain", "2024-03-02", "2024-03-02", 1),)


def test_read_weather_months_of_a_southern_season_cross_the_year():
    found = daily("2023-11,25,12", "2023-12,27,14", "2024-02,28,15")
    assert found.step == "month"
    assert [row["day_of_year"] for row in found.rows] == [319, 349, 46]
    assert found.gaps == (Gap("date", "2024-01", "2024-01", 1),)


def test_read_weather_usual_months_may_begin_with_any():
    found = daily("11,25,12", "12,27,14", "1,28,15", "3,27,14")
    assert dates(found) == ["11", "12", "1", "3"]
    assert [row["year"] for row in found.rows] == [None] * 4
    assert found.problems == ()
    assert found.gaps == (Gap("date", "2", "2", 1),)


def test_read_weather_usual_months_twice_or_out_of_order_are_named():
    found = daily("1,25,12", "3,27,14", "2,28,15", "3,20,10")
    assert told(found) == [(4, "date"), (5, "date")]
    assert dates(found) == ["1", "2", "3"]


def test_read_weather_mixed_forms_of_date_are_named():
    found = daily("2024-07-06,20,10", "2024-08,20,10", "9,20,10")
    assert told(found) == [(3, "date"), (4, "date")]
    assert "begins with a day" in found.problems[0].reason


def test_read_weather_step_month_takes_first_days_for_months():
    text = f"{AIR}\n2024-07-01,20,10\n2024-08-01,22,11\n"
    found = read_weather(text, step="month")
    assert (found.step, dates(found)) == ("month", ["2024-07", "2024-08"])
    assert [row["day_of_year"] for row in found.rows] == [196, 227]
    assert found.gaps == ()
    assert len(read_weather(text).gaps) == 1


def test_read_weather_step_day_refuses_months():
    found = read_weather(f"{AIR}\n2024-07,20,10\n", step="day")
    assert told(found) == [(2, "date")]
    assert found.step == "day"


def test_read_weather_unknown_step_raises():
    with pytest.raises(RecordError, match="'week'"):
        read_weather(f"{AIR}\n2024-07,20,10\n", step="week")


def test_read_weather_decimal_comma_is_declared():
    text = AIR.replace(",", ";") + "\n2024-07-06;21,5;12,3\n"
    found = read_weather(text, decimal=",")
    assert found.rows[0]["maximum_temperature"] == 21.5


def test_read_weather_spreadsheet_dates_are_read():
    book = openpyxl.Workbook()
    book.active.append(AIR.split(","))
    book.active.append([datetime.datetime(2024, 7, 6), 20, 10])
    book.active.append([datetime.date(2024, 7, 7), 21, 11])
    stream = io.BytesIO()
    book.save(stream)
    assert dates(read_weather(stream.getvalue())) == ["2024-07-06", "2024-07-07"]


def test_read_weather_without_date_column_raises():
    with pytest.raises(RecordError, match="date"):
        read_weather("rain [mm]\n3\n")


@pytest.mark.parametrize(("system", "word"), [("metric", "degC"), ("us", "degF")])
def test_weather_template_reads_back(system, word):
    heading = weather_template(system=system)
    assert word in heading
    found = read_weather(heading + "2024-07-06\n")
    assert isinstance(found, Weather)
    assert found.problems == ()


@given(st.sets(st.integers(0, 400), min_size=1, max_size=30), st.randoms())
@settings(max_examples=50)
def test_read_weather_any_order_days_and_gaps_fill_the_span(offsets, random):
    start = datetime.date(2023, 6, 1)
    shuffled = list(offsets)
    random.shuffle(shuffled)
    found = daily(*[f"{start + datetime.timedelta(days=n)},20,10" for n in shuffled])
    assert dates(found) == sorted(dates(found))
    assert len(found.rows) == len(offsets)
    span = max(offsets) - min(offsets) + 1
    assert len(found.rows) + sum(gap.count for gap in found.gaps) == span
