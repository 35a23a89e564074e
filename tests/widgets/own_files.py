"""Files as a person may bring them, for the tests of the board."""

from __future__ import annotations

import dataclasses
import io

import openpyxl

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
    """Return a whole price list as CSV, each price and freight multiplied."""
    listed = catalog.price_list(base)
    rows = {
        item: dataclasses.replace(
            row, package_price=row.package_price * factor, freight=row.freight * factor
        )
        for item, row in listed.prices.items()
        if item not in leave_out
    }
    own = dataclasses.replace(listed, prices=rows, currency=currency or listed.currency)
    return catalog.template(own).encode()


def methods_file(*changes):
    return catalog.write_csv(
        [{**OWN_METHOD, **change} for change in changes], "own_methods"
    ).encode()


WATER = (
    "water,label,parameter,value,unit\n"
    "well,Our well,Ca,80,mg/L\nwell,Our well,Mg,0.5,mmol/L\nwell,Our well,Na,1,meq/L\n"
    "well,Our well,HCO3,4,meq/L\nwell,Our well,Cl,1,meq/L\nwell,Our well,SO4,1,meq/L\n"
    "well,Our well,pH,7.4,\n"
)
"""A water of 80 mg/L of calcium, 200 mg/L of alkalinity as CaCO3, its charges even."""
FERTILISERS = (
    "id,label,formula,grade,calcium [%],stated_as,nitrate [%],ammonium [%],price [money/kg],hazard\n"
    "our_calcium,Our calcium nitrate,,15.5-0-0,19,element,14.4,1.1,0.8,oxidiser\n"
    "our_potash,Our potassium nitrate,KNO3,,,,,,1.2,oxidiser\n"
)
TARGETS = (
    "id,label,element,low,target,high,unit\n"
    "ours,Our aim,N,130,150,170,mg/L\nours,Our aim,P,20,30,40,mg/L\nours,Our aim,K,4,5,6,mmol/L\n"
    "ours,Our aim,Ca,80,110,140,mg/L\nours,Our aim,Mg,20,30,40,mg/L\n"
)


def with_comma(text):
    """Return a table as a spreadsheet with decimal commas saves it; a grade keeps its points."""
    return "\n".join(
        ";".join(
            cell.replace(".", ",") if isinstance(_cell(cell), float) else cell
            for cell in line.split(",")
        )
        for line in text.splitlines()
    )


def as_xlsx(text):
    """Return a table as a workbook, numbers as numbers."""
    book = openpyxl.Workbook()
    for line in text.splitlines():
        book.active.append([_cell(cell) for cell in line.split(",")])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def _cell(text):
    try:
        return float(text)
    except ValueError:
        return text or None
