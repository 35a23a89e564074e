"""Files as a person may bring them, for the tests of the board."""

from __future__ import annotations

import dataclasses

from scenariokit import catalog

HARVEST = "plot,method,crop,tank_area [m^2],harvest_mass [kg]\n"
OWN_METHOD = {
    "id": "my_bag", "label": "My bag", "summary": "A bag.", "container_shape": "round",
    "container_length": 10, "container_width": 10, "container_height": 20,
    "plants_per_container": 1, "plants_per_area": 20, "base_height": 0, "medium_height": 10,
    "mix": "coir_pith", "volume_per_plant": 0.5, "crops_per_filling": 2, "top_up_fraction": 0,
    "sheet": "", "sheet_area_per_area": 0, "level_regime": "constant", "level_low": 1,
    "level_high": 3, "level_start": 3, "rim_height": 10, "displaced_fraction": 0.1,
    "open_fraction": 0.1, "labour_per_plant": 0.05, "crop": "potato", "yield_low": 2,
    "yield_typical": 3, "yield_high": 4, "supplies_like": "medium_bag",
}  # fmt: skip


def prices_file(base="tern_hollow", *, factor=1.0, currency="", leave_out=()):
    """Return a whole price list as CSV, each price multiplied."""
    listed = catalog.price_list(base)
    rows = {
        item: dataclasses.replace(row, package_price=row.package_price * factor)
        for item, row in listed.prices.items()
        if item not in leave_out
    }
    own = dataclasses.replace(listed, prices=rows, currency=currency or listed.currency)
    return catalog.template(own).encode()


def methods_file(*changes):
    return catalog.write_csv(
        [{**OWN_METHOD, **change} for change in changes], "own_methods"
    ).encode()
