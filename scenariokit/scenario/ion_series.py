"""From elements in the tank to its ions day by day: their EC, and what roots give off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from scenariokit import reservoir
from scenariokit.nutrients.composition.contents import IONS
from scenariokit.nutrients.composition.species import SPECIES, ions_of_floats
from scenariokit.quantities import with_unit
from scenariokit.scenario.leaves import plain

FILLING, TOP_UP = "first filling", "top-up"
"""Tracers: litres of either whose salts are in a litre of the tank."""
CHARGES: Mapping[str, int] = {ion: SPECIES[ion].charge or 0 for ion in IONS}
KEPT = ("Na", "Cl", "HCO3")
"""What plants are taken to leave in the tank."""
_FORMS = ("N_nitrate", "N_ammonium")

Content = Mapping[str, Any]


class IonSeries(NamedTuple):
    """Plain numbers by days: EC in dS/m, alkalinity in mmol/L of charge."""

    ec: Any
    alkalinity: Any


def tracers() -> dict[str, reservoir.Solute]:
    """Return both tracers: what nobody takes up, so that water taken makes it stronger."""
    one, none = with_unit(1.0, "mg/L"), with_unit(0.0, "mg/L")
    return {
        FILLING: reservoir.Solute(inflow=none, start=one),
        TOP_UP: reservoir.Solute(inflow=one, start=none),
    }


def mixed(season: reservoir.Season, filling: Any, top_up: Any) -> Any:
    """Return by days what nobody takes up, in the unit in which both solutions are given.

    Parameters
    ----------
    season : Season
        With both tracers.
    filling, top_up : float or ndarray
        Concentration in the first filling and in the top-up, of the shape of the ensemble.
    """
    first, later = (plain(season.concentrations[name]) for name in (FILLING, TOP_UP))
    return first * filling + later * top_up


def nitrate_share(season: reservoir.Season, filling: Content, top_up: Content) -> Any:
    """Return the share of the nitrogen left at harvest that is nitrate, also of a dry tank."""
    first, later = (plain(season.totals.residual[name]) for name in (FILLING, TOP_UP))
    part, total = (
        first * filling.get(key, 0.0) + later * top_up.get(key, 0.0) for key in ("N_nitrate", "N")
    )
    return _share(part, total)


def _share(part: Any, total: Any) -> Any:
    """Return part ÷ total; 0 where there is none of either, NaN where neither is known."""
    upper, lower = np.broadcast_arrays(np.asarray(part, float), np.asarray(total, float))
    return np.divide(upper, lower, out=np.zeros_like(lower), where=lower != 0)[()]


def ion_series(
    season: reservoir.Season, elements: Mapping[str, Any], filling: Content, top_up: Content
) -> IonSeries:
    """Return EC and alkalinity by days.

    Parameters
    ----------
    season : Season
        With both tracers.
    elements : mapping
        Element to an object with its ``concentration`` by days.
    filling, top_up : mapping
        Content of either in mg/L.

    Notes
    -----
    Charges that neither solution accounts for, such as those of chelates, stay
    out: alkalinity is the charge of what was taken up, anions less cations.
    """
    content = {name: plain(one.concentration) for name, one in elements.items() if name != "N"} | {
        name: mixed(season, filling.get(name, 0.0), top_up.get(name, 0.0)) for name in KEPT
    }
    nitrogen = plain(elements["N"].concentration)
    came = mixed(season, filling.get("N", 0.0), top_up.get("N", 0.0))
    for form in _FORMS:
        part = mixed(season, filling.get(form, 0.0), top_up.get(form, 0.0))
        content[form] = nitrogen * _share(part, came)
    ions = ions_of_floats(content)
    brought = mixed(season, _charge(ions_of_floats(filling)), _charge(ions_of_floats(top_up)))
    alkalinity = _charge(ions) - brought
    ions["HCO3"] = ions["HCO3"] + np.maximum(alkalinity, 0.0)
    return IonSeries(_ec(ions), alkalinity)


def _charge(ions: Mapping[str, Any]) -> Any:
    """Return cations less anions in mmol/L of charge."""
    return sum((CHARGES[name] * amount for name, amount in ions.items()), start=0.0)


def _ec(ions: Mapping[str, Any]) -> Any:
    """Return the EC in dS/m, NaN where there is no water or the model does not reach."""
    from scenariokit.nutrients.conductivity.ions import electrical_conductivity

    named = dict(zip(ions, np.broadcast_arrays(*ions.values()), strict=True))
    wet = np.isfinite(named["K"])
    found = np.full(wet.shape, np.nan)
    found[wet] = electrical_conductivity.floats(
        {name: amount[wet] for name, amount in named.items()}, outside="nan"
    )
    return found
