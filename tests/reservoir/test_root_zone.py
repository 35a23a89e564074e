from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, reservoir
from scenariokit.errors import RangeError, UnitError


@pytest.mark.parametrize(
    ("temperature", "band"),
    [(9.9, "cold"), (10, "green"), (20, "green"), (20.1, "amber"), (25, "amber"),
     (25.1, "red"), (29.9, "red"), (30, "stop"), (45, "stop")],
)  # fmt: skip
def test_root_zone_band_edges_lie_where_they_should(temperature, band):
    assert reservoir.root_zone_band(quantity(float(temperature), "degC")) == band


def test_root_zone_band_array_in_fahrenheit():
    found = reservoir.root_zone_band(quantity([60.0, 80.0], "degF"))
    assert found.tolist() == ["green", "red"]


def test_root_zone_band_says_whose_judgement():
    assert "own judgement" in reservoir.root_zone_band.__doc__


@given(st.lists(st.floats(0, 60), min_size=1, max_size=40))
@settings(max_examples=50)
def test_days_in_bands_any_series_every_day_counts_once(series):
    found = reservoir.days_in_bands(quantity(np.array(series), "degC"))
    assert sum(found.values()) == len(series)


def test_days_in_bands_ensemble_counts_along_days():
    found = reservoir.days_in_bands(quantity([[15.0, 31.0], [22.0, 31.0]], "degC"))
    assert found["stop"].tolist() == [0, 2]
    assert found["amber"].tolist() == [1, 0]


def test_root_zone_band_bad_values_raise():
    with pytest.raises(UnitError, match="bare number"):
        reservoir.root_zone_band(20)
    with pytest.raises(RangeError, match="above"):
        reservoir.root_zone_band(quantity(120.0, "degC"))


def test_potato_bands_are_in_order_and_explained():
    edges = [band.above for band in reservoir.POTATO_BANDS]
    assert edges == sorted(edges)
    assert all("°C" in band.meaning for band in reservoir.POTATO_BANDS)
