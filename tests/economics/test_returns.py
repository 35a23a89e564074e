"""Payback, losses and the return to an hour of work, against cases worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import economics, quantity
from scenariokit.errors import RangeError, UnitError


@pytest.mark.parametrize(
    ("invested", "yearly", "interest", "years"),
    [
        (100, 25, 0.0, 4.0),  # 100 / 25
        (100, 25, 0.08, 5.0111),  # -ln(1 - 100 x 0.08 / 25) / ln(1.08) = 0.385662 / 0.076961
        (100, 8, 0.08, np.inf),  # the interest alone eats the takings
        (100, 0, 0.0, np.inf),
        (100, -5, 0.05, np.inf),
        (0, 25, 0.05, 0.0),
        (0, -5, 0.05, 0.0),
    ],
)
def test_payback_worked_cases(invested, yearly, interest, years):
    found = economics.payback(
        quantity(float(invested), "money"), quantity(float(yearly), "money/year"), interest
    )
    assert found.m_as("year") == pytest.approx(years, abs=5e-5)


@settings(max_examples=50, deadline=None)
@given(years=st.floats(0.5, 60), interest=st.floats(0.0, 0.6), invested=st.floats(1, 1e6))
def test_payback_is_the_inverse_of_capital_recovery(years, interest, invested):
    share = economics.capital_recovery(interest, quantity(years, "year"))
    yearly = quantity(invested, "money") * share
    found = economics.payback(quantity(invested, "money"), yearly, interest).m_as("year")
    # Where interest has eaten nearly all of it, the years hang on the last digits.
    slack = np.exp(years * np.log1p(interest)) * 1e-12
    assert found == pytest.approx(years, rel=1e-9 + slack)


@settings(max_examples=50, deadline=None)
@given(
    interest=st.sampled_from([0.0, 5e-324, 1e-308, 1e-16, 1e-13]),
    invested=st.floats(1e-3, 1e6),
    years=st.floats(1e-3, 1e3),
)
def test_payback_vanishing_interest_is_the_simple_one(interest, invested, years):
    yearly = quantity(invested / years, "money/year")
    found = economics.payback(quantity(invested, "money"), yearly, interest)
    assert found.m == pytest.approx(years, rel=1e-9)


def test_payback_of_interest_that_just_eats_the_takings_is_never():
    # 100 x 0.08 = 8 a year of interest: at 8 never, a little above it late but some day.
    found = economics.payback("100 money", quantity([8.0, 8.0001], "money/year"), 0.08).m
    assert found[0] == np.inf
    assert found[1] == pytest.approx(-np.log(1 - 8 / 8.0001) / np.log(1.08), rel=1e-6)


def test_payback_of_next_to_no_takings_is_never_without_a_warning():
    found = economics.payback("1e12 money", quantity([5e-324, 1e-320], "money/year"), 0.05)
    np.testing.assert_array_equal(found.m, [np.inf, np.inf])


@settings(max_examples=50, deadline=None)
@given(invested=st.floats(1, 1e4), yearly=st.floats(1, 1e4), interest=st.floats(0, 0.5))
def test_payback_with_interest_is_never_sooner(invested, yearly, interest):
    paid, takings = quantity(invested, "money"), quantity(yearly, "money/year")
    simple = economics.payback(paid, takings).m
    assert economics.payback(paid, takings, interest).m >= simple * (1 - 1e-12)


def test_payback_takes_other_units():
    found = economics.payback("100 money", quantity(25 / 365.25, "money/day"), 0.08)
    assert found.m_as("year") == pytest.approx(5.0111, abs=5e-5)


def test_payback_arrays_mix_never_and_some():
    found = economics.payback(
        quantity([100.0, 100.0, 0.0], "money"), quantity([50.0, -1.0, 3.0], "money/year"), 0.0
    )
    np.testing.assert_array_equal(found.m_as("year"), [2.0, np.inf, 0.0])


def test_sold_share_takes_the_loss_from_what_is_fit():
    assert economics.sold_share(0.9, 0.2).m == pytest.approx(0.72)  # 0.9 x 0.8
    assert economics.sold_share("90 %").m == pytest.approx(0.9)


def test_margin_and_break_even_with_a_loss_agree():
    price = economics.break_even_price("12 money/m^2", "5 kg/m^2", 0.9, 0.1)
    assert price.m == pytest.approx(12 / (5 * 0.81))
    assert economics.margin(price, "5 kg/m^2", "12 money/m^2", 0.9, 0.1).m == pytest.approx(0)
    harvest = economics.break_even_yield("12 money/m^2", price, 0.9, 0.1)
    assert harvest.m == pytest.approx(5)


def test_return_to_labour_is_the_wage_where_nothing_is_left_over():
    hours, wage = quantity(0.7, "hour/m^2"), quantity(6.0, "money/hour")
    found = economics.return_to_labour("0 money/m^2", wage * hours, hours)
    assert found.m == pytest.approx(6)


@settings(max_examples=50, deadline=None)
@given(
    margin=st.floats(-50, 100), labour=st.floats(0, 50), hours=st.floats(0.01, 10),
    wage=st.floats(0, 40),
)  # fmt: skip
def test_return_to_labour_does_not_hang_on_the_wage_and_gives_the_margin_back(
    margin, labour, hours, wage
):
    """Whatever the hour is counted at: (return - wage) x hours is what is left at that wage."""
    before, ha = margin + labour, quantity(hours, "hour/m^2")
    left = quantity(before - wage * hours, "money/m^2")
    found = economics.return_to_labour(left, quantity(wage * hours, "money/m^2"), ha).m
    assert found == pytest.approx(before / hours, abs=1e-9 * (1 + wage + 1 / hours))
    assert (found - wage) * hours == pytest.approx(left.m, abs=1e-9 * (1 + wage * hours))


def test_labour_per_kilogram_worked_case():
    # Computed by hand: 0.75 / 5.
    assert economics.labour_per_kilogram("0.75 hour/m^2", "5 kg/m^2").m == pytest.approx(0.15)
    found = economics.labour_per_kilogram("45 minute/m^2", quantity([5.0, 2.5], "kg/m^2"))
    np.testing.assert_allclose(found.m_as("hour/kg"), [0.15, 0.3])


def test_labour_per_kilogram_of_no_harvest_says_why():
    with pytest.raises(RangeError, match="no labour per kilogram without a harvest"):
        economics.labour_per_kilogram("0.75 hour/m^2", "0 kg/m^2")


def test_return_to_labour_of_no_hours_is_refused():
    with pytest.raises(RangeError, match="no hour is worked"):
        economics.return_to_labour("3 money/m^2", "0 money/m^2", "0 hour/m^2")


def test_return_to_labour_needs_units():
    with pytest.raises(UnitError, match="margin_per_area"):
        economics.return_to_labour(3, "1 money/m^2", "1 hour/m^2")
