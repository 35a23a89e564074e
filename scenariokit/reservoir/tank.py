"""The tank: how much water lies in it at each level when things stand in the water."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from scenariokit.errors import InfeasibleError, Problem
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked_floats, with_unit
from scenariokit.reservoir.measured import Measured, measured, plain
from scenariokit.reservoir.sizing import LITRES_PER_CM
from scenariokit.units import Floats, Quantity, QuantityLike

SLACK = 1e-9
"""Share by which rounding may lift a level above the rim."""


@dataclass(frozen=True)
class Tank(Measured):
    """A tank with upright walls and what stands in its water.

    Parameters
    ----------
    rim : quantity
        Height of the rim or overflow above the tank floor [cm], above 0.
    heights : quantity
        Breakpoints [cm], rising from 0 along the first axis: from each of them
        up to the next, and from the last up to the rim, the solid fraction is
        the one of the same place. A second axis is that of an ensemble.
    solid_fraction : float or array
        Share of the cross-section taken by containers and medium, 0 to 0.99,
        one for each breakpoint.
    area : quantity
        Tank area [m²], 1 if not given. It only turns L/m² into litres.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range, or if the
        breakpoints do not rise from 0 or do not fit the solid fractions.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> from scenariokit.reservoir import Tank
    >>> pots = Tank("20 cm", quantity([0, 2, 10], "cm"), [0.0, 0.5, 0.0])
    >>> f"{pots.water_at('12 cm'):.0f~P}, {pots.level_of('80 L/m^2'):.0f~P}"
    '80 l/m², 12 cm'
    """

    rim: Any = field(
        metadata=measured("depth", above_zero=True, why=mark("a tank without walls holds nothing"))
    )
    heights: Any = field(default=None, metadata=measured("depth"))
    solid_fraction: Any = field(default=None, metadata=measured("displaced_fraction"))
    area: Any = field(default=None, metadata=measured("tank_area"))
    shape: tuple[int, ...] = field(init=False, repr=False, default=())

    def faults(self) -> list[Problem]:
        """Return what is wrong with the breakpoints, and keep the shape of the ensemble."""
        heights, solid = plain(self.heights), plain(self.solid_fraction)
        heights, solid = (item if item.ndim else item[np.newaxis] for item in (heights, solid))
        if len(heights) != len(solid):
            text = f"{len(heights)} heights and {len(solid)} fractions"
            return [
                Problem("solid_fraction", text, tr("one is needed for each height"), kind="range")
            ]
        if np.any(heights[0] != 0) or np.any(np.diff(heights, axis=0) <= 0):
            return [
                Problem(
                    "heights", str(heights.tolist()), tr("must rise from 0 upwards"), kind="range"
                )
            ]
        try:
            shape = np.broadcast_shapes(
                heights.shape[1:], solid.shape[1:], plain(self.rim).shape, plain(self.area).shape
            )
        except ValueError:
            text = f"rim {plain(self.rim).shape}, heights {heights.shape}, fractions {solid.shape}"
            return [Problem("shapes", text, tr("do not broadcast together"), kind="range")]
        object.__setattr__(self, "shape", shape)
        return []

    def segments(self) -> tuple[Floats, Floats]:
        """Return breakpoints [cm] and litres per cm of depth above each, breakpoints first."""
        heights, solid = plain(self.heights), plain(self.solid_fraction)
        full = heights.reshape(-1) if heights.ndim < 2 else heights
        open_ = LITRES_PER_CM * (1 - (solid.reshape(-1) if solid.ndim < 2 else solid))
        # Members stand in trailing axes, so that breakpoints come first in both.
        axes = len(self.shape) + 1
        full, open_ = (
            item.reshape((len(item), *(1,) * (axes - item.ndim), *item.shape[1:]))
            for item in (full, open_)
        )
        return full, open_

    def litres(self, depth: Floats) -> Floats:
        """Return the free water [L/m²] below a depth [cm], both plain."""
        heights, slope = self.segments()
        total: Floats = 0.0
        for number, (low, rate) in enumerate(zip(heights, slope, strict=True)):
            over = np.maximum(depth - low, 0)
            if number + 1 < len(heights):
                over = np.minimum(over, heights[number + 1] - low)
            total = total + over * rate
        return total

    def centimetres(self, volume: Floats) -> Floats:
        """Return the depth [cm] of a volume of free water [L/m²], both plain."""
        heights, slope = self.segments()
        depth: Floats = 0.0
        left = volume
        for number, (low, rate) in enumerate(zip(heights, slope, strict=True)):
            over = np.maximum(left, 0) / rate
            if number + 1 < len(heights):
                step = heights[number + 1] - low
                over, left = np.minimum(over, step), left - step * rate
            depth = depth + over
        return depth

    def water_at(self, depth: QuantityLike) -> Quantity:
        """Return the free water below a level.

        Parameters
        ----------
        depth : quantity
            Level above the tank floor [cm], not above the rim.

        Returns
        -------
        quantity
            Free water [L/m²].

        Raises
        ------
        UnitError, RangeError
            If the value has the wrong unit or lies outside its range.
        InfeasibleError
            If it lies above the rim.
        """
        found = checked_floats("Tank.water_at", {"depth": (depth, "depth")})["depth"]
        self.below_rim("depth", found)
        return with_unit(self.litres(found), "L/m^2")

    def level_of(self, volume: QuantityLike) -> Quantity:
        """Return the level at which a volume of free water stands.

        Parameters
        ----------
        volume : quantity
            Free water [L/m²], not more than up to the rim.

        Returns
        -------
        quantity
            Level above the tank floor [cm].

        Raises
        ------
        UnitError, RangeError
            If the value has the wrong unit or lies outside its range.
        InfeasibleError
            If it would stand above the rim.
        """
        found = checked_floats("Tank.level_of", {"volume": (volume, Expect("stored_water"))})
        depth = self.centimetres(found["volume"])
        self.below_rim("volume", depth)
        return with_unit(depth, "cm")

    def below_rim(self, name: str, depth: Floats) -> None:
        """Refuse a level [cm] above the rim.

        Raises
        ------
        InfeasibleError
            If `depth` lies above the rim.
        """
        rim = plain(self.rim)
        if np.any(depth > rim * (1 + SLACK)):
            raise InfeasibleError(
                tr(
                    "{name}: a level of {depth:g} cm lies above the rim ({rim:g} cm)",
                    name=name,
                    depth=np.max(depth),
                    rim=np.min(rim),
                )
            )
