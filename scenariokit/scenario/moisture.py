"""Water and air in the growing medium of a scenario, at the level it stands in."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from scenariokit import catalog, substrate, units
from scenariokit.scenario.flows import daily_water_use
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario, Sheet

CURVE = ("theta_residual", "theta_saturated", "vg_alpha", "vg_n")


Components = tuple[tuple[str, float], ...]


def mix_hydraulics(
    components: Components, media: Mapping[str, Any] | None = None
) -> substrate.Hydraulics | None:
    """Return the retention curve of a mix, or None if one of its components has none.

    Parameters
    ----------
    components : tuple of (str, float)
        Media and shares that add to 1.
    media : mapping, optional
        The rows that may be named, with a person's own; the catalogue's if left
        out. Nothing is known of a medium whose curve is blank.

    Notes
    -----
    A mix of several is illustrative, until a laboratory has measured yours. Its
    conductivity is the geometric mean of its parts', weighted by their shares:
    a guess at the order of magnitude, no published source. It is left out where
    that of a part is not known.
    """
    rows = catalog.media() if media is None else media
    if any(item not in rows for item, _ in components):
        return None
    return _mixed(tuple((rows[item], share) for item, share in components))


@functools.lru_cache(maxsize=256)
def _mixed(components: tuple[tuple[Any, float], ...]) -> substrate.Hydraulics | None:
    """Return the curve of rows and shares; a fit takes too long to do at each move."""
    if any(row[name] is None for row, _ in components for name in CURVE):
        return None
    parts = [_hydraulics_of(row) for row, _ in components]
    if len(parts) == 1:
        return parts[0]
    shares = [share for _, share in components]
    mixed = substrate.mixed_hydraulics(parts, shares).medium
    return dataclasses.replace(mixed, conductivity=_mean_conductivity(parts, shares))


def _hydraulics_of(row: Mapping[str, Any]) -> substrate.Hydraulics:
    """Return curve and, if known, conductivity of a row of the table of media."""
    known = row["conductivity"]
    carried = None if known is None else units.quantity(known, "cm/day")
    return substrate.Hydraulics.of_row(row, carried)


def _mean_conductivity(parts: Sequence[substrate.Hydraulics], shares: Sequence[float]) -> Any:
    """Return the geometric mean of conductivities by shares, or None if one is not known."""
    if any(part.conductivity is None for part in parts):
        return None
    logs = [np.log(plain(part.conductivity)) for part in parts]
    return units.quantity(float(np.exp(np.dot(shares, logs))), "cm/day")


def medium_profile(
    scenario: Scenario, points: int = 31, media: Mapping[str, Any] | None = None
) -> substrate.MoistureProfile | None:
    """Return water and air over the height of the medium, or None if nothing is known of it.

    `media` are rows of media, with a person's own; the catalogue's if left out. The level is the one that is held, or from which the tank is filled again.
    """
    known = _hydraulics(scenario, media)
    if known is None:
        return None
    box = scenario.method.container
    level = scenario.method.level.high - box.base_height
    found: substrate.MoistureProfile = substrate.moisture_profile(
        known, box.medium_height, level, points
    )
    return found


def medium_check(
    scenario: Scenario, media: Mapping[str, Any] | None = None
) -> substrate.CapillaryCheck | None:
    """Return whether the medium stays moist, has air and is fed, or None if nothing is known.

    `media` are rows of media, with a person's own; the catalogue's if left out.
    """
    known = _hydraulics(scenario, media)
    if known is None:
        return None
    method = scenario.method
    box = method.container
    containers = plain(method.plants_per_area) / plain(box.plants)
    standing = substrate.Standing(
        box.medium_height,
        box.base_height,
        method.level.high,
        # A share of 1 may come out a rounding error higher; more is no method.
        np.minimum(box.floor_area() * containers, 1.0),
    )
    use, _ = daily_water_use(scenario)
    peak = units.quantity(use.max(axis=-1), "L/m^2/day")
    wick = None if method.sheet is None else _wick(scenario, method.sheet, containers)
    return substrate.capillary_check(known, standing, peak, wick)


def _hydraulics(scenario: Scenario, media: Mapping[str, Any] | None) -> substrate.Hydraulics | None:
    method = scenario.method
    shallow = np.max(plain(method.container.medium_height)) <= 0
    if method.medium is None or method.level.regime == "none" or shallow:
        return None
    return mix_hydraulics(method.medium.components, media)


def _wick(scenario: Scenario, sheet: Sheet, containers: Any) -> substrate.SheetWick:
    """Return the sheet as a wick: both long edges hang into the water."""
    row = catalog.sheets()[sheet.item]
    box = scenario.method.container
    return substrate.SheetWick(
        conductivity=units.quantity(row["conductivity"], "cm/day"),
        thickness=units.quantity(row["thickness"], "mm"),
        maximum_rise=units.quantity(row["maximum_rise"], "cm"),
        width_per_area=units.quantity(2 * plain(box.length) / 100 * containers, "m/m^2"),
        run=box.width / 4,
    )
