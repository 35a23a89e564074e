"""Invented results of a class: eight groups, for a wall that has to show something."""

from __future__ import annotations

import numpy as np

from scenariokit.trials.records import record_template

GROUPS: tuple[tuple[str, int, float], ...] = (
    ("Blue table", 3, 1.00),
    ("Window side", 3, 1.18),
    ("Herons", 4, 0.94),
    ("Red table", 2, 1.06),
    ("Night shift", 3, 0.88),
    ("Balcony club", 1, 1.25),
    ("Door side", 1, 0.80),
)
"""Name of a group, plots of each method, and how its place yields beside a middling one."""

METHODS = {"medium_bag": 5.6, "wedge_pots": 4.5, "perforated_tray": 3.4}
"""Invented yields [kg/m²]."""

VARIATION = 0.12
"""Standard deviation of plots treated alike, as a share of their mean."""

SEED = 20


def demo_rooms() -> list[tuple[str, bytes]]:
    """Return the files that eight invented groups hand in, by name and content.

    Returns
    -------
    list of (str, bytes)
        Seven plot records, two of them of single plots, one in US units; and one
        whose weights stand in grams while its heading says kilograms.

    Notes
    -----
    All weights are invented: drawn from one seed, so that they are always the same.

    Examples
    --------
    >>> from scenariokit.trials.demo_rooms import demo_rooms
    >>> len(demo_rooms()), demo_rooms()[0][0]
    (8, 'blue_table.csv')
    """
    draws = np.random.default_rng(SEED)
    files = []
    for group, count, place in GROUPS:
        system = "us" if group == "Red table" else "metric"
        files.append(_file(group, _plots(group, count, place, draws), system))
    wrong = _plots("Ducklings", 2, 1000.0, draws)
    return [*files, _file("Ducklings", wrong, "metric")]


def _file(group: str, rows: list[dict[str, object]], system: str) -> tuple[str, bytes]:
    name = group.lower().replace(" ", "_")
    return f"{name}.csv", record_template(rows, system=system).encode("utf-8")


def _plots(
    group: str, count: int, place: float, draws: np.random.Generator
) -> list[dict[str, object]]:
    """Return the plots of a group: every method in every block, one tank each."""
    rows: list[dict[str, object]] = []
    for block in range(1, count + 1):
        for method, usual in METHODS.items():
            weight = 0.72 * usual * place * (1 + VARIATION * float(draws.standard_normal()))
            rows.append(
                {
                    "study_id": group,
                    "plot_id": f"P{len(rows) + 1:02d}",
                    "rep": str(block),
                    "block": str(block),
                    "treatment": method,
                    "genotype": "early white",
                    "planting_date": "2026-04-20",
                    "harvest_date": "2026-08-18",
                    "plot_area": 0.72,
                    "ttwp": round(weight, 3),
                }
            )
    return rows
