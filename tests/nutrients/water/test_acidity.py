from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.water.acidity import bicarbonate_share, ph_window, remaining_alkalinity

PUBLISHED = Path(__file__).parents[2] / "published" / "acids.csv"
ROWS = [
    row
    for row in csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines())
    if row["check"] == "share_left"
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["acid_or_ph"])
def test_bicarbonate_share_gives_the_known_values(row):
    found = bicarbonate_share(float(row["acid_or_ph"])).m_as("percent")
    assert found == pytest.approx(float(row["value"]), abs=0.51)


def test_bicarbonate_share_is_half_at_pk():
    assert bicarbonate_share(6.35).m_as("") == pytest.approx(0.5)


@pytest.mark.parametrize("bad", [-0.1, 14.1, float("nan")])
def test_bicarbonate_share_no_ph_is_refused(bad):
    with pytest.raises(RangeError, match="ph"):
        bicarbonate_share(bad)


def test_remaining_alkalinity_worked_case_in_any_unit():
    # Computed by hand: 150 / (1 + 10^0.55) = 150 / 4.5481 = 32.98 mg/L.
    assert remaining_alkalinity("150 mg/L", 5.8).m_as("mg/L") == pytest.approx(32.98, abs=0.005)
    assert remaining_alkalinity("0.15 kg/m^3", 5.8).m_as("mg/L") == pytest.approx(32.98, abs=0.005)


def test_remaining_alkalinity_array_agrees_with_scalars():
    phs = np.array([5.5, 6.0, 6.5])
    together = remaining_alkalinity("150 mg/L", phs).m_as("mg/L")
    for ph, found in zip(phs, together, strict=True):
        assert remaining_alkalinity("150 mg/L", float(ph)).m_as("mg/L") == pytest.approx(found)


@pytest.mark.parametrize("ph", [4.4, 8.4])
def test_remaining_alkalinity_ph_outside_the_equation_is_refused(ph):
    with pytest.raises(RangeError, match=r"4\.5 to 8\.3"):
        remaining_alkalinity("150 mg/L", ph)


def test_remaining_alkalinity_without_unit_is_refused():
    with pytest.raises(UnitError, match="alkalinity"):
        remaining_alkalinity(150, 5.8)


@given(st.floats(1, 500), st.floats(4.5, 8.2))
def test_remaining_alkalinity_rises_with_ph_and_never_exceeds_the_first(alkalinity, ph):
    given_ = quantity(alkalinity, "mg/L")
    low, high = (remaining_alkalinity(given_, value).m_as("mg/L") for value in (ph, ph + 0.1))
    assert 0 < low < high < alkalinity


def test_ph_window_is_the_common_one_for_every_crop():
    for crop, row in catalog.crops().items():
        window = ph_window(crop)
        assert (window.low, window.high) == (5.5, 6.5)
        assert row.label in window.text
        assert window.source == "common practice, no published source"


@pytest.mark.parametrize("crop", ["oak", None])
def test_ph_window_unknown_crop_lists_those_there_are(crop):
    with pytest.raises(ArgumentError, match="potato"):
        ph_window(crop)
