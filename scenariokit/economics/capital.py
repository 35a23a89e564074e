"""Equipment over its life: capital recovery, yearly cost, payback."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.quantities import checked, with_floats
from scenariokit.units import Floats

_CLEAR_RATE = 1e-6
"""Interest from which the present value can be taken as it is, without its limit for none."""


@checked("1/year", interest="interest_rate", years="service_life")
def capital_recovery(interest: Floats, years: Floats) -> Floats:
    """Return the yearly share that pays back a sum with interest.

    CRF = i / (1 - (1 + i)^-n), which is 1/n at i = 0.

    Parameters
    ----------
    interest : float
        i, interest per year, 0 to 1, scalar or array; 0 counts none.
    years : quantity
        n, years of use [year], above 0.

    Returns
    -------
    quantity
        CRF [1/year].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    Equal payments at the end of each year. Use a real rate (without inflation)
    with today's prices.

    Examples
    --------
    >>> round(capital_recovery(0.08, "10 year").m_as("1/year"), 6)
    0.149029
    """
    discount = -np.expm1(-np.asarray(years) * np.log1p(interest))
    # Interest too small to move `discount` off zero, with all its digits, is straight line.
    clear = discount > np.finfo(float).tiny
    return np.where(clear, interest / np.where(clear, discount, 1.0), 1 / np.asarray(years))[()]


def _annualised(price: Floats, salvage: Floats, years: Floats, interest: Floats) -> Floats:
    factor = capital_recovery.floats(interest, years)
    return (price - salvage) * factor + salvage * interest


@with_floats(_annualised)
@checked(
    "money/year",
    price="amount",
    salvage="amount",
    years="service_life",
    interest="interest_rate",
)
def annualised(price: Floats, salvage: Floats, years: Floats, interest: Floats) -> Floats:
    """Return the yearly cost of a piece of equipment, (C - S) CRF + S i.

    Parameters
    ----------
    price : quantity
        C, price now [money], scalar or array, 0 or more.
    salvage : quantity
        S, what it fetches at the end [money], at most `price`.
    years : quantity
        n, years of use [year], above 0.
    interest : float
        i, interest per year, 0 to 1; at 0 this is the straight line (C - S) / n.

    Returns
    -------
    quantity
        Yearly cost [money/year].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    InfeasibleError
        If the salvage value is above the price.

    Notes
    -----
    Repairs, cleaning and the place it stands on are not in it.

    Examples
    --------
    >>> cost = annualised("200 money", "20 money", "8 year", 0.08)
    >>> round(cost.m_as("money/year"), 2)
    32.92
    """
    if np.any(salvage > price):
        raise InfeasibleError(
            tr(
                "annualised: salvage ({salvage:g} money) is above price ({price:g} money); equipment that "
                "gains value has no yearly cost",
                salvage=np.max(salvage),
                price=np.min(price),
            )
        )
    return _annualised(price, salvage, years, interest)


@checked("money/crop", annual="annual_cost", crops_per_year="crops_per_year")
def per_crop(annual: Floats, crops_per_year: Floats) -> Floats:
    """Return the share of a yearly cost that one crop bears, a / N.

    Parameters
    ----------
    annual : quantity
        a, yearly cost [money/year], scalar or array, 0 or more.
    crops_per_year : quantity
        N [crop/year], above 0.

    Returns
    -------
    quantity
        Cost of one crop [money/crop].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> round(per_crop("32.92 money/year", "2 crop/year").m_as("money/crop"), 2)
    16.46
    """
    return annual / crops_per_year


def _payback(investment: Floats, yearly: Floats, interest: Floats) -> Floats:
    """Return years until `yearly` takings repay an investment; infinite where they never do."""
    top, net, rate = (np.asarray(value, float) for value in (investment, yearly, interest))
    # Takings that never repay it leave infinities and gaps here, which the last lines sort out.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = top / net
        grown = share * rate
        if rate.ndim == 0 and rate > _CLEAR_RATE:  # as nearly always: one pass of logarithms
            years = np.log1p(-grown) * (-1 / np.log1p(rate))
        else:
            # In this form each ratio is 1 in the limit, however small the interest.
            later = -np.log1p(-grown) / grown
            sooner = np.where(rate > 0, rate / np.log1p(rate), 1.0)
            # Where interest is lost in rounding, the straight line is what is left.
            years = np.where(grown > 0, share * later * sooner, share * sooner)
    years = np.where((net > 0) & (grown < 1), years, np.inf)
    return np.where(top > 0, years, 0.0)[()]


@with_floats(_payback)
@checked("year", investment="amount", yearly="yearly_takings", interest="interest_rate")
def payback(investment: Floats, yearly: Floats, interest: Floats = 0) -> Any:
    """Return how long it takes until yearly net takings have repaid an investment.

    n = I / A without interest; with interest i, n = -ln(1 - I i / A) / ln(1 + i),
    the number of yearly payments A whose present value is I.

    Parameters
    ----------
    investment : quantity
        I, paid at the start [money], scalar or array, 0 or more.
    yearly : quantity
        A, takings of a year less everything paid in that year [money/year],
        without any share of the investment; may be below zero.
    interest : float
        i, interest per year, 0 to 1.

    Returns
    -------
    quantity
        Years [year]; 0 where nothing is invested. Infinite where the takings never
        repay it: they are not above zero, or no more than the interest on it (A <= I i).

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    It says nothing of what comes after: compare it with the years of use.
    The discounted form solves the capital recovery equation A = I CRF(i, n)
    for n, so `capital_recovery` is its inverse.

    Examples
    --------
    >>> payback("100 money", "25 money/year").m
    4.0
    >>> round(payback("100 money", "25 money/year", 0.08).m, 4)
    5.0111
    """
    return _payback(investment, yearly, interest)
