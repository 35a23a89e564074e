"""The crop coefficient through a season, and its adjustment to a place."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit.errors import Problem, ValidityWarning, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked, checked_floats, with_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

_STAGES = ("initial", "development", "mid", "late")
_POINTS = ("initial", "mid", "end")


def _four_stages(
    day: Floats,
    initial: Floats,
    development: Floats,
    mid: Floats,
    late: Floats,
    kc_initial: Floats,
    kc_mid: Floats,
    kc_end: Floats,
) -> Floats:
    """Return Kc from plain floats; before the season its first, after it its last value."""
    rise = _progress(day - initial, development)
    fall = _progress(day - (initial + development + mid), late)
    return kc_initial + rise * (kc_mid - kc_initial) + fall * (kc_end - kc_mid)


def _progress(elapsed: Floats, length: Floats) -> Floats:
    """Return the part of a stage that has passed: 0 before it, 1 after; a step if it is empty."""
    span = np.where(np.asarray(length) > 0, length, 1.0)
    step = np.where(np.asarray(elapsed) > 0, 1.0, 0.0)
    return np.where(np.asarray(length) > 0, np.clip(elapsed, 0.0, span) / span, step)[()]


@with_floats(_four_stages)
def crop_coefficient(
    day: QuantityLike, lengths: Sequence[QuantityLike], coefficients: Sequence[Any]
) -> Quantity:
    """Return the crop coefficient Kc on a day of the season.

    Kc is constant in the first stage, rises or falls in a straight line to the
    mid-season value in the second, is constant in the third and goes in a
    straight line to the end value in the last:
    Kc = Kc_prev + (day - sum of earlier lengths) / length (Kc_next - Kc_prev).

    Parameters
    ----------
    day : quantity
        Days since planting [day], scalar or array; at its end a season's last
        day has the number that the lengths add to.
    lengths : sequence of four quantities
        Length of the initial, development, mid and late stage [day]. A stage
        may last 0 days; then the coefficient steps.
    coefficients : sequence of three floats
        Kc of the initial stage, of the mid stage and at the end, 0 to 2.

    Returns
    -------
    quantity
        Kc, a ratio.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or a day after the last stage.
    ArgumentError
        If there are not four lengths and three coefficients.

    Notes
    -----
    Tabulated Kc is for a field of the crop, wide in every direction, and
    includes evaporation from wet soil. A small bed in the open can lose more.
    Where a cover keeps the surface dry, give the basal coefficients instead.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 66.

    Examples
    --------
    >>> stages = ["25 day", "30 day", "45 day", "30 day"]
    >>> round(crop_coefficient("40 day", stages, [0.5, 1.15, 0.75]).m_as(""), 3)
    0.825
    """
    return _on_day("crop_coefficient", day, lengths, coefficients)


@with_floats(_four_stages)
def basal_crop_coefficient(
    day: QuantityLike, lengths: Sequence[QuantityLike], coefficients: Sequence[Any]
) -> Quantity:
    """Return the basal crop coefficient Kcb, the share of transpiration, on a day of the season.

    The curve of `crop_coefficient`, drawn through basal coefficients:
    Kcb = Kcb_prev + (day - sum of earlier lengths) / length (Kcb_next - Kcb_prev).

    Parameters
    ----------
    day : quantity
        Days since planting [day], scalar or array.
    lengths : sequence of four quantities
        Length of the initial, development, mid and late stage [day].
    coefficients : sequence of three floats
        Kcb of the initial stage, of the mid stage and at the end, 0 to 2.

    Returns
    -------
    quantity
        Kcb, a ratio.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or a day after the last stage.
    ArgumentError
        If there are not four lengths and three coefficients.

    Notes
    -----
    For a covered tank or a dry surface: Kcb leaves evaporation from wet soil
    out, so add what the tank itself loses, `tank_evaporation`.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 66 with
    the coefficients of Table 17.

    Examples
    --------
    >>> stages = ["25 day", "30 day", "45 day", "30 day"]
    >>> round(basal_crop_coefficient("40 day", stages, [0.15, 1.10, 0.65]).m_as(""), 3)
    0.625
    """
    return _on_day("basal_crop_coefficient", day, lengths, coefficients)


@checked(
    "",
    coefficient="crop_coefficient",
    wind_speed="wind_speed",
    minimum_humidity="relative_humidity",
    canopy_height="canopy_height",
)
def climate_adjusted_coefficient(
    coefficient: Floats, wind_speed: Floats, minimum_humidity: Floats, canopy_height: Floats
) -> Floats:
    """Return a tabulated crop coefficient, adjusted to the wind and humidity of a place.

    Kc = Kc_tab + [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3, with RHmin
    in percent and h in metres, for Kc_tab of 0.45 or more; a smaller one is
    given back as it is. The same holds for a basal coefficient Kcb.

    Parameters
    ----------
    coefficient : float
        Tabulated Kc or Kcb of the mid stage or the end of the season, 0 to 2,
        scalar or array. The initial coefficient is not adjusted this way.
    wind_speed : quantity
        u2, mean of the stage at 2 m [m/s].
    minimum_humidity : float or quantity
        RHmin, mean of the stage's daily minima, 0 to 1 or with a percent sign.
    canopy_height : quantity
        h, mean height of the plants in the stage [cm].

    Returns
    -------
    quantity
        Kc or Kcb, a ratio.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Warns
    -----
    ValidityWarning
        Outside u2 of 1 to 6 m/s, RHmin of 20 to 80 % or h of 0.1 to 10 m. The
        first two limits were seen in a published program of the method
        (pyfao56); that of h is from memory. Nothing is cut off.

    Notes
    -----
    Tabulated coefficients hold for RHmin of about 45 % and 2 m/s.

    References
    ----------
    Allen and others 1998, FAO-56, eq. 62 (mid stage), 65 (end) and 70 (basal), written from
    memory; confirmed by the mid-season coefficients of maize at two places printed there.

    Examples
    --------
    >>> f"{climate_adjusted_coefficient(1.20, '1.3 m/s', '75 %', '2 m').m_as(''):.2f}"
    '1.07'
    """
    percent = 100 * minimum_humidity
    height = canopy_height / 100
    outside = [
        name
        for name, value, low, high in (
            (tr("wind speed, 1 to 6 m/s"), wind_speed, 1, 6),
            (tr("minimum humidity, 20 to 80 %"), percent, 20, 80),
            (tr("canopy height, 0.1 to 10 m"), height, 0.1, 10),
        )
        if np.any(np.asarray(value) < low) or np.any(np.asarray(value) > high)
    ]
    if outside:
        warnings.warn(
            tr("outside what the adjustment was made for: {names}", names="; ".join(outside)),
            ValidityWarning,
            stacklevel=3,
        )
    change = (0.04 * (wind_speed - 2) - 0.004 * (percent - 45)) * (height / 3) ** 0.3
    return np.where(np.asarray(coefficient) >= 0.45, coefficient + change, coefficient)[()]


def _on_day(
    subject: str, day: QuantityLike, lengths: Sequence[QuantityLike], coefficients: Sequence[Any]
) -> Quantity:
    """Return the coefficient of a day, with every argument checked."""
    stages = _named(lengths, _STAGES, "lengths", subject)
    points = _named(coefficients, _POINTS, "coefficients", subject)
    found = checked_floats(
        subject,
        {"day": (day, "duration")}
        | {key: (value, "duration") for key, value in stages.items()}
        | {key: (value, "crop_coefficient") for key, value in points.items()},
    )
    total = sum(found[key] for key in stages)
    if np.any(found["day"] > total * (1 + 1e-12)):
        problem = Problem(
            "day",
            f"{np.max(found['day']):g} day",
            tr("is after the end of the season"),
            tr("0 to {total:g} day, the sum of the lengths", total=np.min(total)),
            kind="range",
        )
        raise argument_error([problem], subject)
    return with_unit(_four_stages(*found.values()), "")


def _named(values: Any, names: tuple[str, ...], key: str, subject: str) -> dict[str, Any]:
    """Return a sequence as name to value, or say how many values it must have."""
    count = len(values) if hasattr(values, "__len__") and not isinstance(values, str) else 1
    if count != len(names):
        reason = tr("must hold {count} values: {names}", count=len(names), names=", ".join(names))
        raise argument_error([Problem(key, str(values), reason)], subject)
    return {f"{key}[{name}]": value for name, value in zip(names, values, strict=True)}
