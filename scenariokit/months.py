"""Days and months of a season, and daily values from monthly ones."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.units import Quantity, QuantityLike, adopt, quantity

MONTH_LENGTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
"""Days in each month, January first, of a year of 365 days."""

DAYS_PER_YEAR = 365

_MONTHS_BY_DAY = np.repeat(np.arange(1, 13), MONTH_LENGTHS)


def month_of_day(day: Any, first_month: int) -> npt.NDArray[np.int64] | int:
    """Return the month, 1 to 12, in which a day of the season falls.

    Parameters
    ----------
    day : int or array
        Day number; day 1 is the 1st of `first_month`. The year has 365 days
        and begins again after them.
    first_month : int
        Month of planting, 1 to 12.

    Returns
    -------
    int or array of int
        The month.

    Raises
    ------
    RangeError
        If the month is not 1 to 12, or a day is below 1.

    Examples
    --------
    >>> month_of_day(32, 4)
    5
    """
    start = day_of_year(first_month)
    days = np.asarray(day)
    if days.size == 0 or not np.all(days >= 1):
        problem = Problem(
            "day", str(day), tr("counts from 1"), tr("1 or more"), "day=1", kind="range"
        )
        raise argument_error([problem], "month_of_day")
    index = (np.ceil(days).astype(np.int64) + start - 2) % DAYS_PER_YEAR
    months = _MONTHS_BY_DAY[index]
    return int(months) if months.ndim == 0 else months


def day_of_year(month: int, day: int = 1) -> int:
    """Return the number of a day in a year of 365 days, 1 for 1 January.

    Parameters
    ----------
    month : int
        1 to 12.
    day : int
        Day of that month, from 1.

    Returns
    -------
    int
        1 to 365.

    Raises
    ------
    RangeError
        If there is no such month, or the month no such day.

    Examples
    --------
    >>> day_of_year(4, 15)
    105
    """
    problems = []
    if month not in range(1, 13):
        problems.append(
            Problem("month", str(month), tr("is no month"), "1 to 12", "month=4", kind="range")
        )
    elif day not in range(1, int(MONTH_LENGTHS[month - 1]) + 1):
        last = MONTH_LENGTHS[month - 1]
        problems.append(
            Problem(
                "day",
                str(day),
                tr("month {month} has no such day", month=month),
                f"1 to {last}",
                kind="range",
            )
        )
    if problems:
        raise argument_error(problems, "day_of_year")
    return int(MONTH_LENGTHS[: month - 1].sum()) + int(day)


def daily_from_monthly(monthly: QuantityLike, first_month: int, days: int) -> Quantity:
    """Return each day's value of a quantity known as a mean per month.

    Every day of a month has the month's value.

    Parameters
    ----------
    monthly : quantity
        Twelve values, January first, on the last axis; any unit. For a sum per
        month, such as rain, use `daily_from_monthly_sums`.
    first_month : int
        Month of planting, 1 to 12; the first day is its 1st.
    days : int
        Length of the season, 1 or more; the year begins again after December.

    Returns
    -------
    quantity
        One value for each day, on the last axis, in the unit given.

    Raises
    ------
    UnitError
        If `monthly` is no quantity.
    RangeError
        If there are not twelve values, if one is NaN, or if the month or the
        number of days is impossible.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> year = quantity([1, 1, 2, 3, 4, 5, 5, 4, 3, 2, 1, 1], "mm/day")
    >>> daily_from_monthly(year, 4, 32)[-3:].m_as("mm/day").tolist()
    [3, 4, 4]
    """
    values, months = _monthly(monthly, first_month, days, "daily_from_monthly")
    return quantity(values.magnitude[..., months - 1], str(values.units))


def daily_from_monthly_sums(monthly: QuantityLike, first_month: int, days: int) -> Quantity:
    """Return each day's share of a quantity known as a sum per month.

    Every day of a month has the month's sum divided by its days.

    Parameters
    ----------
    monthly : quantity
        Twelve sums, January first, on the last axis; any unit, for example mm.
    first_month : int
        Month of planting, 1 to 12; the first day is its 1st.
    days : int
        Length of the season, 1 or more; the year begins again after December.

    Returns
    -------
    quantity
        One value for each day, on the last axis, in the unit given per day.

    Raises
    ------
    UnitError
        If `monthly` is no quantity.
    RangeError
        If there are not twelve values, if one is NaN, or if the month or the
        number of days is impossible.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> rain = quantity([62] * 12, "mm")
    >>> f"{daily_from_monthly_sums(rain, 1, 1)[0].m_as('mm/day'):.2f} mm/day"
    '2.00 mm/day'
    """
    values, months = _monthly(monthly, first_month, days, "daily_from_monthly_sums")
    spread = values.magnitude[..., months - 1] / MONTH_LENGTHS[months - 1]
    return quantity(spread, str(values.units)) / quantity(1, "day")


def _monthly(monthly: Any, first_month: int, days: int, subject: str) -> tuple[Any, Any]:
    """Return twelve checked values and the month of each day."""
    problems = []
    if not hasattr(monthly, "m_as"):
        problems.append(
            Problem(
                "monthly",
                str(monthly),
                tr("is no quantity"),
                tr("twelve values with a unit"),
                'monthly=quantity([1, 1, 2, 3, 4, 5, 5, 4, 3, 2, 1, 1], "mm/day")',
                kind="unit",
            )
        )
    elif np.ndim(monthly.magnitude) == 0 or np.shape(monthly.magnitude)[-1] != 12:
        problems.append(
            Problem(
                "monthly", str(monthly), tr("must hold twelve values, January first"), kind="range"
            )
        )
    elif not np.all(np.isfinite(monthly.magnitude)):
        problems.append(Problem("monthly", str(monthly), tr("holds NaN or infinity"), kind="range"))
    if isinstance(days, bool) or days != int(days) or days < 1:
        problems.append(
            Problem(
                "days",
                str(days),
                tr("is no number of days"),
                tr("1 or more"),
                "days=120",
                kind="range",
            )
        )
    if problems:
        raise argument_error(problems, subject)
    return adopt(monthly), np.asarray(month_of_day(np.arange(1, int(days) + 1), first_month))
