"""Yield per area, ground and plant, and the marketable share, by method and variety."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit.trials import demo_records, group_measures, read_records

HEAD = (
    "study_id,plot_id,rep,treatment,genotype,planting_date,reservoir,plot_area [m^2],"
    "occupied_area [m^2],ntp,ttwp [kg],mtwp [kg]"
)


def records(*rows):
    return read_records("\n".join([HEAD, *rows])).rows


def test_group_measures_by_hand():
    """Yields 2, 3 and 4 kg/m²: mean 3, s 1, t(0.975; 2) 4.302653 (t table): 3 ± 2.484138."""
    rows = records(
        "S,1,1,pots,early,2026-05-01,,2,4,10,4,3",
        "S,2,2,pots,early,2026-05-01,,2,4,10,6,6",
        "S,3,3,pots,early,2026-05-01,,2,4,8,8,4",
    )
    found = group_measures(rows)
    assert len(found) == 1
    area = found[0].per_area
    assert (area.plots, area.mean.m_as("kg/m^2")) == (3, pytest.approx(3))
    half = 4.302653 / math.sqrt(3)
    assert area.low.m_as("kg/m^2") == pytest.approx(3 - half, abs=1e-6)
    assert area.high.m_as("kg/m^2") == pytest.approx(3 + half, abs=1e-6)
    assert found[0].per_occupied.mean.m_as("kg/m^2") == pytest.approx(1.5)
    assert found[0].per_plant.mean.m_as("kg/plant") == pytest.approx((0.4 + 0.6 + 1.0) / 3)
    share = found[0].marketable
    assert share.mean.m_as("percent") == pytest.approx(75)
    assert share.high.m_as("") == 1


def test_group_measures_one_plot_has_no_interval():
    found = group_measures(records("S,1,1,pots,early,2026-05-01,,2,4,10,4,3"))[0]
    assert found.per_area.low is None
    assert found.per_area.high is None
    assert found.per_area.plots == 1


def test_group_measures_plots_on_one_reservoir_are_one_plot():
    found = group_measures(
        records(
            "S,1,1,pots,early,2026-05-01,T1,1,,10,4,3",
            "S,2,2,pots,early,2026-05-01,T1,3,,30,16,8",
        )
    )[0]
    assert found.per_area.plots == 1
    assert found.per_area.mean.m_as("kg/m^2") == pytest.approx(5)
    assert found.per_plant.mean.m_as("kg/plant") == pytest.approx(0.5)
    assert found.per_occupied is None


def test_group_measures_what_was_not_harvested_counts_for_nothing():
    found = group_measures(
        records(
            "S,1,1,pots,early,2026-05-01,,2,4,10,,",
            "S,2,2,pots,early,2026-05-01,,2,4,10,0,0",
            "S,3,3,pots,early,2026-05-01,,2,4,10,4,2",
        )
    )[0]
    assert found.per_area.plots == 2
    assert found.per_area.mean.m_as("kg/m^2") == pytest.approx(1)
    assert found.marketable.plots == 1


def test_group_measures_demo_has_a_row_for_each_method_and_variety():
    found = group_measures(demo_records().rows)
    assert len(found) == len({(one.method, one.variety) for one in found}) == 8


@given(st.lists(st.floats(0.5, 20), min_size=2, max_size=6))
def test_group_measures_interval_holds_the_mean_and_no_less_than_nothing(weights):
    rows = records(
        *(f"S,{n},{n},pots,early,2026-05-01,,2,4,10,{w!r}," for n, w in enumerate(weights, 1))
    )
    area = group_measures(rows)[0].per_area
    assert 0 <= area.low.m <= area.mean.m <= area.high.m
