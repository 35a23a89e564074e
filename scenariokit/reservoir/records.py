"""What a simulated season gives back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from scenariokit.reservoir.tank import Tank
from scenariokit.units import Quantity


class WaterParts(NamedTuple):
    """Parts of the water balance [L/m²], by days or summed.

    ``top_up`` by valve, ``hand_fill``, ``rain``; ``overflow``, ``leak``,
    ``discharge``, ``drained``; ``transpiration`` and ``evaporation`` as met;
    ``deficit`` is transpiration that the plants wanted and did not get.
    """

    top_up: Any
    hand_fill: Any
    rain: Any
    overflow: Any
    leak: Any
    discharge: Any
    drained: Any
    transpiration: Any
    evaporation: Any
    deficit: Any

    def gain(self) -> Quantity:
        """Return what came in less what went out [L/m²]."""
        came = self.top_up + self.hand_fill + self.rain
        lost = self.overflow + self.leak + self.discharge + self.drained
        return came - lost - self.transpiration - self.evaporation


class SoluteParts(NamedTuple):
    """Parts of the balance of one solute [mg/m²], by days or summed.

    ``supplied`` by valve and hand; ``uptake``; ``unmet`` is uptake at the stated
    concentration for which there was none left; the rest as for water.
    """

    supplied: Any
    uptake: Any
    unmet: Any
    overflow: Any
    leak: Any
    discharge: Any
    drained: Any

    def gain(self) -> Quantity:
        """Return what came in less what went out [mg/m²]."""
        return (
            self.supplied - self.uptake - self.overflow - self.leak - self.discharge - self.drained
        )


@dataclass(frozen=True)
class SeasonTotals:
    """A season in sums, each of the shape of the ensemble.

    Parameters
    ----------
    water : WaterParts
        Sums over the season [L/m²].
    solutes : dict of str to SoluteParts
        Sums over the season [mg/m²].
    volume_at_planting, volume_at_harvest : quantity
        Free water [L/m²].
    depth_at_harvest, lowest_depth : quantity
        Level at the end, and the lowest at planting or at the end of a day [cm].
    concentrations : dict of str to quantity
        At harvest [mg/L]; NaN where the tank is dry then.
    at_planting, residual : dict of str to quantity
        Mass in the tank at planting, and left at harvest [mg/m²].
    days_below, days_above : quantity
        Days that end with the level below or above the band; 0 without a band.
    first_dry : quantity
        First day on which the water runs out; infinite if it never does.
    fills : array or int
        Number of fillings by hand that gave any water.
    """

    water: WaterParts
    solutes: dict[str, SoluteParts]
    volume_at_planting: Quantity
    volume_at_harvest: Quantity
    depth_at_harvest: Quantity
    lowest_depth: Quantity
    concentrations: dict[str, Quantity]
    at_planting: dict[str, Quantity]
    residual: dict[str, Quantity]
    days_below: Quantity
    days_above: Quantity
    first_dry: Quantity
    fills: Any

    def closure(self) -> dict[str, Any]:
        """Return how far water (``"water"``) and each solute fail to close.

        Returns
        -------
        dict of str to float or array
            What is unaccounted for, as a share of what was there and came in.
        """
        found = {
            "water": _unaccounted(
                self.volume_at_planting,
                self.volume_at_harvest,
                self.water.gain(),
                self.water.top_up + self.water.hand_fill + self.water.rain,
            )
        }
        for name, parts in self.solutes.items():
            ends = self.at_planting[name], self.residual[name]
            found[name] = _unaccounted(*ends, parts.gain(), parts.supplied)
        return found


def _unaccounted(start: Quantity, end: Quantity, gain: Quantity, supplied: Quantity) -> Any:
    scale = (start + supplied).magnitude
    return np.abs((end - start - gain).magnitude) / np.where(scale > 0, scale, 1.0)


@dataclass(frozen=True)
class Season:
    """A season day by day. The first axis is the day, further ones are the ensemble's.

    Parameters
    ----------
    tank : Tank
        The tank.
    day : quantity
        0 at planting, then the end of each day [day].
    volume : quantity
        Free water [L/m²] on those days.
    depth : quantity
        Level above the tank floor [cm] on those days.
    concentrations : dict of str to quantity
        Concentration [mg/L] on those days; NaN on days that end with a dry tank,
        where there is no solution to have one.
    water : WaterParts
        Water moved on each day, one row fewer than `day` [L/m²].
    solutes : dict of str to SoluteParts
        Solutes moved on each day [mg/m²].
    totals : SeasonTotals
        Sums, days outside the band, first dry day, fillings and what is left.
    """

    tank: Tank
    day: Quantity
    volume: Quantity
    depth: Quantity
    concentrations: dict[str, Quantity]
    water: WaterParts
    solutes: dict[str, SoluteParts]
    totals: SeasonTotals
