"""Whether the rows of a table can hold together: geometry, levels, yields, references."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any

from scenariokit.errors import Problem
from scenariokit.language import tr

Values = Mapping[str, Any]

_SLACK = 1 + 1e-9


def container_base_area(method: Values) -> float:
    """Return the base area of one container in cm²; a round one has its length as diameter."""
    if method["container_shape"] == "round":
        return math.pi * float(method["container_length"]) ** 2 / 4
    return float(method["container_length"] * method["container_width"])


def base_share(method: Values) -> float:
    """Return the share of the tank's area on which containers stand."""
    containers = method["plants_per_area"] / method["plants_per_container"]
    return float(containers * container_base_area(method) / 10_000)


def method_problems(method: Values) -> list[Problem]:
    """Return what cannot be true of a method's geometry and water levels."""
    found = [*_geometry_problems(method), *_level_problems(method)]
    if method["volume_per_plant"] > 0 and not method["mix"]:
        found.append(Problem("mix", "", tr("is missing, though volume_per_plant is not zero")))
    if bool(method["sheet"]) != (method["sheet_area_per_area"] > 0):
        value = f"{method['sheet_area_per_area']:g}"
        reason = tr("a sheet and its area go together: give both, or neither")
        found.append(Problem("sheet_area_per_area", value, reason))
    return found


def _geometry_problems(method: Values) -> list[Problem]:
    found = []
    share = base_share(method)
    if share > _SLACK:
        found.append(
            Problem("plants_per_area", f"{method['plants_per_area']:g}",
                    tr("the containers would cover {share:.2f} of the tank", share=share), tr("1 or less"))
        )  # fmt: skip
    height = method["medium_height"]
    if height > method["container_height"]:
        allowed = f"container_height ({method['container_height']:g} cm) or less"
        found.append(Problem("medium_height", f"{height:g}", tr("is above the container"), allowed))
    wanted = method["volume_per_plant"] * method["plants_per_container"]
    room = container_base_area(method) * height / 1000
    if wanted > room * _SLACK:
        reason = tr(
            "{wanted:.2f} L a container, which holds {room:.2f} L at medium_height",
            wanted=wanted,
            room=room,
        )
        value = f"{method['volume_per_plant']:g}"
        allowed = tr("{room:.3g} L or less", room=room / method["plants_per_container"])
        found.append(Problem("volume_per_plant", value, reason, allowed))
    return found


def _level_problems(method: Values) -> list[Problem]:
    if method["level_regime"] == "none":
        return []
    found = []
    names = ("level_low", "level_high", "level_start")
    low, high, start = (method[name] for name in names)
    rim = method["rim_height"]
    if not low <= high <= start:
        value = f"{low:g}, {high:g}, {start:g}"
        found.append(Problem(", ".join(names), value, tr("do not rise in this order")))
    if rim <= max(high, start):
        allowed = f"more than {max(high, start):g} cm, the highest level"
        found.append(Problem("rim_height", f"{rim:g}", tr("would overflow"), allowed))
    return found


def yield_problems(row: Values) -> list[Problem]:
    """Return a problem unless low, typical and high yield rise in this order."""
    low, typical, high = (row[f"yield_{name}"] for name in ("low", "typical", "high"))
    if low <= typical <= high:
        return []
    value = f"{low:g}, {typical:g}, {high:g}"
    return [
        Problem("yield_low, yield_typical, yield_high", value, tr("do not rise in this order"))
    ]  # fmt: skip


def uptake_problems(row: Values, crops: Mapping[str, Values]) -> list[Problem]:
    """Return what cannot be true of the uptake of a whole plant."""
    found = unknown_problems(row, "crop", crops)
    low, typical, high = (row[f"uptake_{name}"] for name in ("low", "typical", "high"))
    if not low <= typical <= high:
        value = f"{low:g}, {typical:g}, {high:g}"
        names = "uptake_low, uptake_typical, uptake_high"
        found.append(Problem(names, value, tr("do not rise in this order")))
    if found:
        return found
    produce = crops[row["crop"]][f"removal_{row['element']}"]
    least = 1.0 if row["basis"] == "produce" else produce
    if low * _SLACK < least:
        reason = tr("the whole plant would take up less than its produce holds")
        found.append(
            Problem("uptake_low", f"{low:g}", reason, tr("{least:g} or more", least=least))
        )
    return found


def band_problems(row: Values) -> list[Problem]:
    """Return a problem unless low, target and high concentration rise in this order."""
    low, target, high = (row[name] for name in ("low", "target", "high"))
    if low <= target <= high:
        return []
    value = f"{low:g}, {target:g}, {high:g}"
    return [Problem("low, target, high", value, tr("do not rise in this order"))]


TASKS = ("filling", "planting", "tending", "lifting", "cleaning")
"""The tasks that the labour for a plant is made of."""


def labour_problems(row: Values) -> list[Problem]:
    """Return a problem unless the shares of the tasks add to 1."""
    total = sum(row[task] for task in TASKS)
    if abs(total - 1) <= 1e-9:
        return []
    return [Problem(", ".join(TASKS), f"{total:g}", tr("the shares do not add to 1"))]


def medium_problems(medium: Values) -> list[Problem]:
    """Return what cannot be true of a growing medium's pores; what is not known passes."""
    found = []
    residual, saturated = medium["theta_residual"], medium["theta_saturated"]
    if None not in (residual, saturated) and residual >= saturated:
        allowed = tr("less than theta_saturated ({saturated:g})", saturated=saturated)
        found.append(
            Problem("theta_residual", f"{residual:g}", tr("leaves no water to take"), allowed)
        )
    pores = medium["total_porosity"]
    for name in ("theta_saturated", "air_at_10cm"):
        if None not in (medium[name], pores) and medium[name] > pores * _SLACK:
            allowed = tr("total_porosity ({pores:g}) or less", pores=pores)
            found.append(Problem(name, f"{medium[name]:g}", tr("is more than all pores"), allowed))
    return found


def unknown_problems(row: Values, column: str, allowed: Collection[str]) -> list[Problem]:
    """Return a problem if `column` names something that is not there; blank names nothing."""
    if not row[column] or row[column] in allowed:
        return []
    return [Problem(column, row[column], tr("is not known"), ", ".join(sorted(allowed)))]


def sort_rows(
    rows: Iterable[Values], file: str, find: Callable[[Values], list[Problem]]
) -> tuple[list[Values], list[Problem]]:
    """Return the rows in which `find` finds nothing, and what it found in the others."""
    good, problems = [], []
    for row in rows:
        found = find(row)
        if not found:
            good.append(row)
        problems += [
            Problem(item.field, item.value, item.reason, item.allowed, item.example, file,
                    row["_row"], item.kind)
            for item in found
        ]  # fmt: skip
    return good, problems
