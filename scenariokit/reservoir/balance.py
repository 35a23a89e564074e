"""The daily balance of water and solutes on plain floats, many tanks at once.

The members of an ensemble are the last axis of every array; the state is one
row of members (and one row for each solute), which moves from day to day in
place. Nothing here knows units: litres, milligrams and days per m² of tank.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, TypeAlias

import numpy as np

from scenariokit.units import Floats

NEVER = np.inf
"""First dry day of a tank that never runs dry."""
TRACE = 1e-9
"""L/m² below which a tank counts as dry, and slack of a level beside its band."""
WATER_PARTS = (
    "top_up", "hand_fill", "rain", "overflow", "leak", "discharge", "drained",
    "transpiration", "evaporation", "deficit",
)  # fmt: skip
RATES = ("transpiration", "evaporation", "leak", "discharge", "rain")
DEMANDS = ("transpiration", "evaporation")
SOLUTE_PARTS = ("supplied", "uptake", "unmet", "overflow", "leak", "discharge", "drained")


@dataclass(frozen=True)
class Plan:
    """A season in plain floats. Each array ends with an axis of one or all members.

    Daily arrays are (days, members), `strength`, `inflow`, `fixed` and `factor` (solutes,
    members), the others (members,). `held` is the volume that a valve holds or
    a filling by hand restores; `fill_days` and `drain_days` count from 0.
    """

    days: int
    steps: int
    members: int
    start: Floats
    rim: Floats
    low: Floats
    high: Floats
    demand_factor: Floats
    transpiration: Floats
    evaporation: Floats
    rain: Floats
    leak: Floats
    discharge: Floats
    drained: Floats
    held: Floats
    valve_until: Floats
    fill_days: frozenset[int]
    drain_days: frozenset[int]
    strength: Floats
    inflow: Floats
    fixed: Floats
    factor: Floats

    def part(self, first: int, last: int) -> Plan:
        """Return the same season for some of the members; arrays are views."""
        cut: dict[str, Any] = {"members": last - first}
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray) and value.shape[-1] == self.members > 1:
                cut[field.name] = value[..., first:last]
        return replace(self, **cut)


Ledger: TypeAlias = tuple[dict[str, Floats], dict[str, Floats]]
"""Parts of the water balance, (rows, members), and of the solutes', (rows, solutes, members)."""


def new_ledger(rows: int, solutes: int, members: int) -> Ledger:
    """Return arrays of zeros for the parts of the balances."""
    return (
        {name: np.zeros((rows, members)) for name in WATER_PARTS},
        {name: np.zeros((rows, solutes, members)) for name in SOLUTE_PARTS},
    )


def ledger_part(ledger: Ledger, first: int, last: int) -> Ledger:
    """Return views of some of the members."""
    water, solutes = (
        {name: part[..., first:last] for name, part in half.items()} for half in ledger
    )
    return water, solutes


class Balance:
    """State of the tanks and the record of what went through them.

    Parameters
    ----------
    plan : Plan
        The season.
    daily : bool
        Keep each day apart; otherwise sums over the season in a single row,
        and memory does not grow with the days.
    ledger : pair of dict, optional
        Arrays of zeros in which to sum up water and solutes, as `new_ledger` makes them.
    """

    def __init__(self, plan: Plan, *, daily: bool, ledger: Ledger | None = None) -> None:
        shape, solutes = (plan.members,), len(plan.strength)
        rows = plan.days if daily else 1
        self.plan, self.daily = plan, daily
        self.volume = np.array(np.broadcast_to(plan.start, shape))
        self.mass = np.array(np.broadcast_to(plan.strength, (solutes, *shape)))
        self.mass *= self.volume
        self.water, self.solutes = ledger or new_ledger(rows, solutes, plan.members)
        self.volumes = np.empty((rows + 1, *shape))
        self.masses = np.empty((rows + 1, solutes, *shape))
        self.volumes[0], self.masses[0] = self.volume, self.mass
        self.lowest = self.volume.copy()
        self.below, self.above, self.fills = (np.zeros(shape, dtype=np.int64) for _ in range(3))
        self.first_dry = np.full(shape, NEVER)
        self._spare = np.empty(shape)
        self._salt, self._strength = (np.empty((solutes, *shape)) for _ in range(2))
        self._step = 1.0 / plan.steps
        self._scale = dict.fromkeys(DEMANDS, plan.demand_factor * self._step)
        self._buffers = {name: np.empty(shape) for name in ("wanted", *RATES)}
        self._rates: dict[str, Floats] = {}
        self._low, self._high = plan.low - TRACE, plan.high + TRACE
        self._capped = bool(np.isfinite(plan.high).any())
        self._proportional = bool(plan.factor.any())
        self._greatest = plan.fixed.max(axis=-1)
        self._ample = np.full(solutes, -np.inf)
        # Bounds known for the season spare most days a look at every member.
        self._peaks = {
            name: (getattr(plan, name).max(axis=-1) * np.max(self._scale.get(name, self._step)))
            for name in RATES
        }
        self._peaks = {name: peak.tolist() for name, peak in self._peaks.items()}
        self._least = float(self.volume.min())
        self._highest_low = float(self._low.max())
        self._valve_spans = float(plan.valve_until.min()), float(plan.valve_until.max())
        self._held_safely = bool(plan.held.min() > TRACE)
        self._row = 0

    def run(self) -> Balance:
        """Go through the season and return self."""
        plan = self.plan
        for day in range(plan.days):
            self._row = day if self.daily else 0
            if day in plan.drain_days:
                self._drain(plan.drained[day])
            if day in plan.fill_days:
                self._fill()
            self._rates = self._rates_of(day)
            valve = self._valve_of(day + 1)
            # A valve that works on every tank meets every demand.
            safe = valve is plan.held and self._held_safely
            for _ in range(plan.steps):
                if "rain" in self._rates:
                    self._rain(self._rates["rain"])
                self._withdraw(valve, day, safe=safe)
                self._least = float(self.volume.min())
                if self._least <= TRACE:
                    new = (self.volume <= TRACE) & (self.first_dry == NEVER)
                    self.first_dry[new] = day + 1
            self._close_day(day + 1)
        self.volumes[-1], self.masses[-1] = self.volume, self.mass
        self._sum_solutes()
        return self

    def _sum_solutes(self) -> None:
        """Note what follows from the water that moved: the supply, and uptake as stated."""
        given = self.water["top_up"] + self.water["hand_fill"]
        np.multiply(self.plan.inflow, given[:, np.newaxis], out=self.solutes["supplied"])
        if not self._proportional:
            drunk, uptake = self.water["transpiration"], self.solutes["uptake"]
            np.multiply(self.plan.fixed, drunk[:, np.newaxis], out=uptake)
            uptake -= self.solutes["unmet"]

    def _rates_of(self, day: int) -> dict[str, Floats]:
        """Return what flows in one step of a day; flows that are nil are left out."""
        found: dict[str, Floats] = {}
        for name in RATES:
            if name == "transpiration" or self._peaks[name][day] > 0:
                scale = self._scale.get(name, self._step)
                found[name] = self._buffers[name]
                np.multiply(getattr(self.plan, name)[day], scale, out=found[name])
        return found

    def _valve_of(self, number: int) -> Floats | None:
        """Return the volume held on a day, -inf where the valve is shut; None if all are."""
        first, last = self._valve_spans
        if number >= last:
            return None
        held = self.plan.held
        return held if number < first else np.where(number < self.plan.valve_until, held, -np.inf)

    def _drain(self, wanted: Floats) -> None:
        """Let out solution at its concentration, not more than there is."""
        taken = np.minimum(wanted, self.volume)
        self.water["drained"][self._row] += taken
        if len(self.mass):
            lost = self.mass * (taken / np.maximum(self.volume, TRACE))
            self.solutes["drained"][self._row] += lost
            self.mass -= lost
            self._ample[:] = -np.inf
        self.volume -= taken
        self._least = float(self.volume.min())

    def _fill(self) -> None:
        """Fill up by hand to the level of the regime."""
        added = np.maximum(self.plan.held - self.volume, 0)
        self.fills += added > 0
        self._supply("hand_fill", added)

    def _supply(self, name: str, added: Floats) -> None:
        self.water[name][self._row] += added
        self.volume += added
        if len(self.mass):
            self.mass += np.multiply(self.plan.inflow, added, out=self._salt)

    def _rain(self, rain: Floats) -> None:
        """Fill the freeboard; what runs over the rim takes well-mixed solution along."""
        rim = self.plan.rim
        self.water["rain"][self._row] += rain
        self.volume += rain
        if not (self.volume > rim).any():
            return
        over = np.maximum(self.volume - rim, 0)
        self.water["overflow"][self._row] += over
        self.volume -= over
        if len(self.mass):
            lost = self.mass * -np.expm1(-over / rim)
            self.solutes["overflow"][self._row] += lost
            self.mass -= lost
            self._ample[:] = -np.inf

    def _withdraw(self, valve: Floats | None, day: int, *, safe: bool) -> None:
        """Take water for a step, the valve giving back what brings the level below its own."""
        taken = {name: rate for name, rate in self._rates.items() if name != "rain"}
        wanted = taken["transpiration"]
        for rate in list(taken.values())[1:]:
            wanted = np.add(wanted, rate, out=self._buffers["wanted"])
        losses: list[str] = [name for name in ("leak", "discharge") if name in taken]
        if losses or self._proportional:
            np.divide(self.mass, np.maximum(self.volume, TRACE), out=self._strength)
        if valve is not None:
            added = np.subtract(valve, self.volume, out=self._spare)
            added += wanted
            self._supply("top_up", np.maximum(added, 0, out=added))
        peak = sum(self._peaks[name][day] for name in taken)
        if not safe and self._least < peak and (self.volume < wanted).any():
            allowed = np.minimum(wanted, self.volume)
            share = allowed / np.where(wanted > 0, wanted, 1.0)
            taken = {name: rate * share for name, rate in taken.items()}
            missed = self._rates["transpiration"] - taken["transpiration"]
            self.water["deficit"][self._row] += missed
            wanted = allowed
        for name, amount in taken.items():
            self.water[name][self._row] += amount
        if len(self.mass):
            self._withdraw_solutes(taken, losses, self._peaks["transpiration"][day])
        self.volume -= wanted

    def _withdraw_solutes(
        self, taken: dict[str, Floats], losses: list[str], most_drunk: float
    ) -> None:
        """Take solutes: with what leaks and is run off, and what plants take up."""
        plan, row, drunk = self.plan, self._row, taken["transpiration"]
        for name in losses:
            lost = np.minimum(self._strength * taken[name], self.mass)
            self.solutes[name][row] += lost
            self.mass -= lost
        if self._proportional:
            wish = np.multiply(self._strength, plan.factor, out=self._salt)
            wish += plan.fixed
            wish *= drunk
        else:
            wish = np.multiply(plan.fixed, drunk, out=self._salt)
        checked = losses or self._proportional or not self._is_ample(most_drunk)
        if checked and (wish > self.mass).any():
            met = np.minimum(wish, self.mass)
            self.solutes["unmet"][row] += wish - met
            wish = met
        if self._proportional:
            self.solutes["uptake"][row] += wish
        self.mass -= wish
        if checked:
            self.mass.min(axis=-1, out=self._ample)

    def _is_ample(self, most_drunk: float) -> bool:
        """Return whether all tanks surely hold what is taken up as stated.

        `_ample` is the least mass of each solute when it was last looked at, less
        the most that can have been taken up since. That spares most days a look
        at every member; what else lowers the mass sets it back.
        """
        self._ample -= self._greatest * most_drunk
        return bool(self._ample.min() >= 0)

    def _close_day(self, number: int) -> None:
        np.minimum(self.lowest, self.volume, out=self.lowest)
        if self._least < self._highest_low:
            self.below += self.volume < self._low
        if self._capped:
            above = self.volume > self._high
            if above.any():
                self.above += above
        if self.daily:
            self.volumes[number], self.masses[number] = self.volume, self.mass
