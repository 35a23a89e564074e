from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import climate, quantity
from scenariokit.errors import ArgumentError, RangeError

with (Path(__file__).parent / "published" / "crop_coefficients.csv").open(
    newline="", encoding="utf-8"
) as file:
    COEFFICIENTS = list(csv.DictReader(file))

POTATO = ["25 day", "30 day", "45 day", "30 day"]
POTATO_KC = [0.5, 1.15, 0.75]


@pytest.mark.parametrize("row", COEFFICIENTS, ids=lambda row: f"{row['crop']}-{row['value']}")
def test_crop_coefficient_worked_example_matches(row):
    lengths = [f"{length} day" for length in row["lengths"].split()]
    points = [float(point) for point in row["coefficients"].split()]
    found = climate.crop_coefficient(f"{row['day']} day", lengths, points).m_as("")
    assert abs(found - float(row["value"])) <= 0.5 * 10 ** -int(row["printed_digits"]) + 1e-9


def test_crop_coefficient_weeks_same_as_days():
    weeks = [quantity(float(length.split()[0]) / 7, "week") for length in POTATO]
    found = climate.crop_coefficient(quantity(40 / 7, "week"), weeks, POTATO_KC)
    assert found.m_as("") == pytest.approx(0.825, abs=1e-9)


def test_crop_coefficient_array_of_days_equals_scalars():
    days = [0, 25, 40, 130]
    found = climate.crop_coefficient(quantity(days, "day"), POTATO, POTATO_KC).m_as("")
    apart = [climate.crop_coefficient(f"{day} day", POTATO, POTATO_KC).m_as("") for day in days]
    np.testing.assert_allclose(found, apart)


def test_crop_coefficient_ensemble_of_lengths_broadcasts_against_days():
    initial = quantity([[20.0], [30.0]], "day")
    found = climate.crop_coefficient(
        quantity([10.0, 25.0, 35.0], "day"),
        [initial, "30 day", "45 day", "30 day"],
        POTATO_KC,
    )
    assert found.shape == (2, 3)
    # Computed by hand: 5 and 15 of 30 days risen; then 0 and 5 of 30.
    expected = [[0.5, 0.5 + 0.65 * 5 / 30, 0.825], [0.5, 0.5, 0.5 + 0.65 * 5 / 30]]
    np.testing.assert_allclose(found.m_as(""), expected)


def test_crop_coefficient_empty_stage_steps_without_warning():
    found = climate.crop_coefficient(
        quantity([25.0, 25.5, 70.0], "day"), ["25 day", "0 day", "45 day", "0 day"], POTATO_KC
    )
    assert found.m_as("").tolist() == [0.5, 1.15, 1.15]


def test_crop_coefficient_floats_after_season_stays_at_end():
    assert climate.crop_coefficient.floats(200.0, 25, 30, 45, 30, 0.5, 1.15, 0.75) == 0.75


def test_crop_coefficient_day_after_season_raises():
    with pytest.raises(RangeError, match="after the end of the season"):
        climate.crop_coefficient("131 day", POTATO, POTATO_KC)


@pytest.mark.parametrize(
    ("lengths", "points", "word"),
    [
        (POTATO[:3], POTATO_KC, "lengths"),
        (POTATO, [1.0], "coefficients"),
        ("25 day", POTATO_KC, "lengths"),
    ],
)
def test_crop_coefficient_wrong_count_names_argument(lengths, points, word):
    with pytest.raises(ArgumentError, match=word):
        climate.crop_coefficient("10 day", lengths, points)


def test_crop_coefficient_bad_values_all_named():
    with pytest.raises(ArgumentError) as caught:
        climate.crop_coefficient(10, ["25 L", *POTATO[1:]], [0.5, 3, 0.75])
    assert [problem.field for problem in caught.value.problems] == [
        "day", "lengths[initial]", "coefficients[mid]",
    ]  # fmt: skip


@given(
    stages=st.lists(st.floats(0, 100), min_size=4, max_size=4),
    points=st.lists(st.floats(0, 2), min_size=3, max_size=3),
    share=st.floats(0, 1),
)
@settings(max_examples=50)
def test_crop_coefficient_any_day_lies_between_its_points(stages, points, share):
    day = quantity(share * sum(stages), "day")
    found = climate.crop_coefficient(day, [quantity(n, "day") for n in stages], points).m_as("")
    assert min(points) - 1e-9 <= found <= max(points) + 1e-9


def test_season_demand_potato_sum_catches_off_by_one():
    # Computed by hand: daily coefficients of days 1 to 130 add to 117.625; trapezoid 117.5.
    days = quantity(np.arange(1, 131), "day")
    season = climate.crop_coefficient(days, POTATO, POTATO_KC)
    assert season.m_as("").sum() == pytest.approx(117.625, abs=1e-9)
    found = climate.season_demand("5 mm/day", season)
    assert found.m_as("mm") == pytest.approx(5 * 117.625, abs=1e-9)
    all_days = climate.crop_coefficient(quantity(np.arange(131), "day"), POTATO, POTATO_KC)
    assert np.trapezoid(all_days.m_as("")) == pytest.approx(117.5, abs=1e-9)


def test_season_demand_potato_in_europe_sums_to_130():
    # Stage lengths 30/35/50/30: FAO-56 Table 11 (April, Europe); sum computed by hand.
    lengths = ["30 day", "35 day", "50 day", "30 day"]
    season = climate.crop_coefficient(quantity(np.arange(1, 146), "day"), lengths, POTATO_KC)
    assert season.m_as("").sum() == pytest.approx(130.0, abs=1e-9)


def test_season_demand_one_day_equals_daily_demand():
    season = climate.season_demand("5 mm/day", 1.15, 1.2).m_as("L/m^2")
    assert season == pytest.approx(climate.daily_demand("5 mm/day", 1.15, 1.2).m_as("mm/day"))


def test_season_demand_ensemble_sums_over_last_axis():
    found = climate.season_demand(quantity([[1.0, 2.0], [3.0, 4.0]], "mm/day"), 1, 2)
    assert found.m_as("L/m^2").tolist() == [6, 14]


def test_season_demand_bad_arguments_all_named():
    with pytest.raises(ArgumentError) as caught:
        climate.season_demand(5, "2 m", 0)
    assert len(caught.value.problems) == 3


@given(st.floats(0, 30), st.floats(0, 2), st.floats(0.1, 5))
@settings(max_examples=50)
def test_daily_demand_any_input_is_product(eto, kc, factor):
    found = climate.daily_demand(quantity(eto, "mm/day"), kc, factor)
    assert found.m_as("L/m^2/day") == pytest.approx(eto * kc * factor)


@pytest.mark.parametrize(
    ("cover", "expected", "digits"), [(0, 5.25, 2), (0.85, 0.79, 2), (0.95, 0.26, 2)]
)
def test_tank_evaporation_covers_worked_cases(cover, expected, digits):
    # Computed by hand from 1.05 x 5 mm/day; cover efficiencies from reviews of reservoir covers.
    found = climate.tank_evaporation("5 mm/day", 1, cover).m_as("mm/day")
    assert abs(found - expected) <= 0.5 * 10**-digits + 1e-9


@given(st.floats(0, 1), st.floats(0, 1))
@settings(max_examples=50)
def test_tank_evaporation_cover_never_adds(open_fraction, cover):
    bare = climate.tank_evaporation("5 mm/day", open_fraction).m_as("mm/day")
    covered = climate.tank_evaporation("5 mm/day", open_fraction, cover).m_as("mm/day")
    assert 0 <= covered <= bare
