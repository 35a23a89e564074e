from __future__ import annotations

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.climate import read_weather, reference_evapotranspiration
from scenariokit.errors import ArgumentError, RangeError, UnitError, ValidityWarning

AIR = "maximum_temperature [degC],minimum_temperature [degC]"
UCCLE = ("50.8 deg", "100 m")
LYON = (quantity(45 + 43 / 60, "deg"), "200 m")
DAY_18 = {
    "date": "2015-07-06", "maximum_temperature [degC]": "21.5",
    "minimum_temperature [degC]": "12.3", "maximum_humidity [%]": "84",
    "minimum_humidity [%]": "63", "wind_speed [km/h]": "10", "sunshine [hour]": "9.25",
}  # fmt: skip


def run(cells, place=UCCLE, **options):
    text = ",".join(cells) + "\n" + ",".join(cells.values()) + "\n"
    return reference_evapotranspiration(read_weather(text), *place, **options)


def test_reference_evapotranspiration_full_day_is_example_18():
    found = run(DAY_18, wind_height="10 m").rows[0]
    assert found.value == pytest.approx(3.8803, abs=5e-5)
    assert (found.method, found.assumed) == ("penman_monteith", ())
    assert found.measured == (
        "maximum_temperature", "minimum_temperature", "sunshine", "maximum_humidity",
        "minimum_humidity", "wind_speed",
    )  # fmt: skip


def test_reference_evapotranspiration_mean_humidity_is_example_18_with_less():
    given = {key: cell for key, cell in DAY_18.items() if "humidity" not in key}
    given["mean_humidity [%]"] = "73.5"
    assert run(given, wind_height="10 m").rows[0].value == pytest.approx(3.7875, abs=5e-5)


def test_reference_evapotranspiration_month_with_month_before_is_example_17():
    # Temperatures of March from memory; their mean is 29.2 degC.
    text = (
        f"date,{AIR},vapour_pressure [kPa],wind_speed [m/s],sunshine [hour]\n"
        "1997-03,34.4,24.0,,,\n"
        "1997-04,34.8,25.6,2.85,2,8.5\n"
    )
    north = quantity(13 + 44 / 60, "deg")
    found = reference_evapotranspiration(read_weather(text), north, "2 m")
    assert [row.method for row in found.rows] == ["hargreaves", "penman_monteith"]
    assert found.rows[1].value == pytest.approx(5.7161, abs=5e-5)
    assert found.rows[1].assumed == ("soil heat from the month before alone",)


def test_reference_evapotranspiration_only_temperatures_is_example_20_or_hargreaves():
    given = {"date": "7", AIR: "26.6,14.8"}
    assumed = run(given, LYON, temperatures_only="penman_monteith").rows[0]
    assert assumed.value == pytest.approx(4.5604, abs=5e-5)
    assert assumed.assumed == (
        "solar radiation from the temperature range",
        "vapour pressure from the lowest temperature",
        "wind of 2 m/s",
        "no heat into the soil",
    )
    plain = run(given, LYON).rows[0]
    assert plain.method == "hargreaves"
    assert plain.value == pytest.approx(5.033, abs=5e-4)


@pytest.mark.parametrize(
    ("column", "cell", "used"),
    [
        ("vapour_pressure [kPa]", "1.409", "vapour_pressure"),
        ("dew_point [degC]", "12.05", "dew_point"),
    ],
)
def test_reference_evapotranspiration_better_humidity_comes_first(column, cell, used):
    found = run(DAY_18 | {column: cell}, wind_height="10 m").rows[0]
    assert used in found.measured
    assert "maximum_humidity" not in found.measured
    assert found.value == pytest.approx(3.88, abs=0.01)


def test_reference_evapotranspiration_measured_radiation_comes_before_sunshine():
    found = run(DAY_18 | {"solar_radiation [MJ/m2/day]": "22.07"}, wind_height="10 m").rows[0]
    assert "solar_radiation" in found.measured
    assert found.value == pytest.approx(3.8801, abs=5e-4)


def test_reference_evapotranspiration_value_given_is_taken():
    found = run({"date": "2024-07-06", "reference_evapotranspiration [mm/day]": "4.2"})
    assert (found.rows[0].value, found.rows[0].method) == (4.2, "given")


def test_reference_evapotranspiration_blank_cell_falls_back_in_that_row_alone():
    text = f"date,{AIR},wind_speed [m/s]\n2024-07-06,26,15,3\n2024-07-07,26,15,\n2024-07-08,26,,3\n"
    found = reference_evapotranspiration(read_weather(text, name="own.csv"), *LYON)
    assert found.methods == {"penman_monteith": 1, "hargreaves": 1}
    assert [str(problem) for problem in found.problems] == [
        "own.csv, row 4: minimum_temperature: is missing, and every method needs it"
    ]
    assert found.values.m_as("mm/day").shape == (2,)
    assert found.step == "day"


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"sunshine [hour]": "17"}, "sunshine", "longer than the daylight"),
        ({"vapour_pressure [kPa]": "2.4"}, "vapour_pressure", "can hold"),
        ({"solar_radiation [MJ/m2/day]": "43"}, "solar_radiation", "above the air"),
    ],
)
def test_reference_evapotranspiration_impossible_row_has_no_value_and_is_named(
    cells, column, words
):
    found = run(DAY_18 | cells)
    assert found.rows == ()
    assert (found.problems[0].field, found.problems[0].row) == (column, 2)
    assert words in found.problems[0].reason


def test_reference_evapotranspiration_wide_range_is_limited_to_clear_sky_and_told():
    found = run({"date": "2024-07-06", AIR + ",wind_speed [m/s]": "38,10,2"}, LYON).rows[0]
    assert "solar radiation from the temperature range, limited to a clear sky" in found.assumed


def test_reference_evapotranspiration_coast_counts_more_radiation():
    given = {"date": "2024-07-06", AIR + ",wind_speed [m/s]": "26,16,2"}
    assert run(given, coastal=True).rows[0].value > run(given).rows[0].value


@pytest.mark.parametrize(
    ("cells", "method"),
    [
        ({AIR: "-25,-35"}, "hargreaves"),
        ({AIR + ",mean_humidity [%],sunshine [hour],wind_speed [m/s]": "2,1,100,5,0"},
         "penman_monteith"),
    ],
)  # fmt: skip
def test_reference_evapotranspiration_below_zero_counts_as_zero_and_is_told(cells, method):
    found = run({"date": "2024-01-01"} | cells, ("60 deg", "0 m")).rows[0]
    assert (found.value, found.method) == (0, method)
    assert "counted as 0" in found.assumed[-1]


def test_reference_evapotranspiration_polar_night_has_no_value():
    text = f"date,{AIR}\n2024-06-21,8,2\n2024-12-21,-8,-12\n"
    with pytest.warns(ValidityWarning):
        found = reference_evapotranspiration(read_weather(text), "75 deg", "0 m")
    assert [row.date for row in found.rows] == ["2024-06-21"]
    assert "does not rise" in found.problems[0].reason


def months(names, wind="2"):
    lines = [f"{name},{20 + n},{10 + n},{wind}" for n, name in enumerate(names)]
    return read_weather("\n".join([f"date,{AIR},wind_speed [m/s]", *lines]) + "\n")


def test_reference_evapotranspiration_months_take_soil_heat_from_both_sides():
    names = ["2023-11", "2023-12", "2024-01"]
    found = reference_evapotranspiration(months(names), "-34.5 deg", "50 m").rows
    assert "no heat into the soil" in found[0].assumed
    assert not any("soil" in word for word in found[1].assumed)
    assert "soil heat from the month before alone" in found[2].assumed


def test_reference_evapotranspiration_usual_year_goes_round_in_a_circle():
    names = ["11", "12", *map(str, range(1, 11))]
    found = reference_evapotranspiration(months(names), "-34.5 deg", "50 m")
    assert len(found.rows) == 12
    assert not any("soil" in word for row in found.rows for word in row.assumed)


def test_reference_evapotranspiration_month_next_to_a_gap_takes_no_wrong_neighbour():
    found = reference_evapotranspiration(months(["2023-11", "2024-01"]), "-34.5 deg", "50 m")
    assert all("no heat into the soil" in row.assumed for row in found.rows)


def test_reference_evapotranspiration_month_without_temperatures_is_no_neighbour():
    text = f"date,{AIR},wind_speed [m/s]\n2023-11,,,2\n2023-12,26,15,2\n"
    found = reference_evapotranspiration(read_weather(text), "-34.5 deg", "50 m")
    assert "no heat into the soil" in found.rows[0].assumed
    assert [problem.field for problem in found.problems] == [
        "maximum_temperature", "minimum_temperature",
    ]  # fmt: skip


def test_reference_evapotranspiration_south_equals_north_half_a_year_on():
    # January in the south against July in the north: nearer the sun, so more.
    given = AIR + ",wind_speed [m/s]"
    south = run({"date": "2024-01-04", given: "28,15,2"}, ("-40 deg", "50 m")).rows[0].value
    north = run({"date": "2024-07-04", given: "28,15,2"}, ("40 deg", "50 m")).rows[0].value
    assert north < south < 1.08 * north


def test_reference_evapotranspiration_no_rows_gives_nothing():
    found = reference_evapotranspiration(read_weather(f"date,{AIR}\n2024-7-7,1,2\n"), *UCCLE)
    assert found.rows == ()
    assert found.values.m_as("mm/day").size == 0


@pytest.mark.parametrize(
    ("place", "options", "error", "words"),
    [
        ((45, "100 m"), {}, UnitError, "latitude"),
        (("95 deg", "100 m"), {}, RangeError, "latitude"),
        (("45 deg", "100 m"), {"wind_height": "10 cm"}, RangeError, "wind_height"),
        ((quantity([45.0, 50.0], "deg"), "100 m"), {}, ArgumentError, "one number"),
        (("45 deg", "1 m"), {"temperatures_only": "guess"}, ArgumentError, "no method"),
    ],
)
def test_reference_evapotranspiration_bad_place_raises(place, options, error, words):
    with pytest.raises(error, match=words):
        run(DAY_18, place, **options)


def test_reference_evapotranspiration_units_of_the_file_do_not_matter():
    us = {
        "date": "2015-07-06", "maximum_temperature [degF]": "70.7",
        "minimum_temperature [degF]": "54.14", "maximum_humidity [%]": "84",
        "minimum_humidity [%]": "63", "wind_speed [mph]": repr(10 / 1.609344),
        "sunshine [min]": "555",
    }  # fmt: skip
    one, other = (run(cells, wind_height="10 m").values.m_as("mm/day") for cells in (DAY_18, us))
    np.testing.assert_allclose(one, other)
