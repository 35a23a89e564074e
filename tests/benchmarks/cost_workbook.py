"""The model of `cost_model_numpy` as a workbook with live formulas, recalculated by LibreOffice.

One row for each draw and method, as a person lays it out: the methods' numbers on one sheet, the
season day by day on another, the draws on a third, and the outcomes in rows that refer to them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import cost_model_numpy as by_hand
import numpy as np
import openpyxl
from openpyxl.utils import get_column_letter as letter

SHARED = (
    "site.climate_factor", "prices.produce_price", "prices.medium_factor", "prices.labour_price",
    "prices.water_price", "crop.marketable_share",
)  # fmt: skip
"""Draws that all methods share, in the columns B to G; the methods' yields stand behind them."""
_FIRST_DAY = 3
_LIBRARY = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard"
 library:readonly="false" library:passwordprotected="false">
 <library:element library:name="Recalculation"/>
</library:library>
"""
_MACRO = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Recalculation"
 script:language="StarBasic">
Sub Recalculate(given As String, made As String, times As String)
  Dim hidden(0) As New com.sun.star.beans.PropertyValue
  hidden(0).Name = "Hidden"
  hidden(0).Value = True
  book = StarDesktop.loadComponentFromURL(given, "_blank", 0, hidden())
  number = FreeFile
  Open times For Output As #number
  For k = 1 To {rounds}
    started = GetSystemTicks()
    book.calculateAll()
    Print #number, CStr(GetSystemTicks() - started)
  Next k
  Close #number
  Dim kind(0) As New com.sun.star.beans.PropertyValue
  kind(0).Name = "FilterName"
  kind(0).Value = "Calc MS Excel 2007 XML"
  book.storeToURL(made, kind())
  book.close(True)
End Sub
</script:module>
"""
"""Recalculates an open workbook, by itself and timed, and saves it."""
_GIVEN = (
    "ec", "salinity_threshold", "salinity_slope", "plants", "days_initial", "days_development",
    "days_mid", "days_late", "kc_initial", "kc_mid", "kc_end", "rain_share", "open_fraction",
    "fullest_depth", "left_depth", "displaced", "strength", "top_up_strength", "salt_grams",
    "salt_price", "medium_litre_price", "mixing_loss", "medium_per_plant", "crops_per_filling",
    "top_up_share", "sheet_price", "sheet_area", "crops_per_sheet", "seed_price",
    "seed_per_plant", "consumables", "hours_per_plant", "loss_share", "interest",
    "crops_per_year",
)  # fmt: skip
_WORKED_OUT = {
    "kept": "=MAX(0,MIN(1,1-{salinity_slope}*({ec}-{salinity_threshold})/100))",
    "used": "=SUM(season!{use}{first_day}:{use}{last_day})",
    "caught": "=SUM(season!D{first_day}:D{last_day})*{rain_share}",
    "first": "=10*{fullest_depth}*(1-{displaced})",
    "left": "=10*{left_depth}*(1-{displaced})",
    "seed": "={seed_price}*{seed_per_plant}*{plants}",
    "litre": "={medium_litre_price}/(1-{mixing_loss})",
    "litres": "={medium_per_plant}*{plants}*(1+{top_up_share}*({crops_per_filling}-1))"
    "/{crops_per_filling}",
    "sheet": "={sheet_price}*{sheet_area}/{crops_per_sheet}",
    "equipment": "=SUM(equipment!F{first_item}:F{last_item})/{crops_per_year}",
    "new": "=SUM(equipment!C{first_item}:C{last_item})",
    "hours": "={hours_per_plant}*{plants}",
}
"""What follows from a method's numbers alone, once for all draws."""
_EACH = {
    "yield_per_area": "={harvest}*{kept}",
    "season_water": "={used}*{climate}",
    "solution_made": "=MAX(MAX({season_water}-{caught},0)+{left},{first})",
    "full": "={first}+({solution_made}-{first})*{top_up_strength}",
    "fertiliser_mass": "={salt_grams}*{strength}*{full}",
    "part_planting": "={seed}",
    "part_medium": "={litre}*{medium_factor}*{litres}",
    "part_sheet": "={sheet}",
    "part_consumables": "={consumables}",
    "part_equipment": "={equipment}",
    "part_nutrients": "={salt_price}*{strength}*{full}",
    "part_water": "={water_price}/1000*{solution_made}",
    "part_labour": "={labour_price}*{hours}",
    **{
        f"cost_{part}": f'=IF({{yield_per_area}}>0,{{part_{part}}}/{{yield_per_area}},"")'
        for part in by_hand.COST_PARTS
    },
    "cost_per_area": "=SUM({part_planting}:{part_labour})",
    "cost_per_kilogram": '=IF({yield_per_area}>0,{cost_per_area}/{yield_per_area},"")',
    "usable": "={yield_per_area}*{marketable}*(1-{loss_share})",
    "cost_per_usable_kilogram": '=IF({usable}>0,{cost_per_area}/{usable},"")',
    "takings_per_area": "={usable}*{produce_price}",
    "margin_per_area": "={takings_per_area}-{cost_per_area}",
    "labour_per_area": "={hours}",
    "investment_per_area": "={new}",
    "return_to_labour": '=IF({hours}>0,({margin_per_area}+{part_labour})/{hours},"")',
    "yearly": "=({margin_per_area}+{equipment})*{crops_per_year}",
    "payback": '=IF(AND({new}>0,{yearly}>{interest}*{new}),IF({interest}>0,'
    "-LN(1-{interest}*{new}/{yearly})/LN(1+{interest}),{new}/{yearly}),\"\")",
}  # fmt: skip
"""What is worked out in each row, step by step."""


def write_workbook(
    path: Path, methods: Sequence[by_hand.Numbers], draws: Sequence[Mapping[str, Any]], count: int
) -> None:
    """Write a workbook of the first `count` draws of each method.

    Parameters
    ----------
    path : Path
        Where.
    methods : sequence of Numbers
        With single numbers, all of one crop and place; each has a tank.
    draws : sequence of mapping
        For each method, path to an array of draws.
    count : int
        How many of them.
    """
    book = openpyxl.Workbook(write_only=True)
    items = _write_equipment(book.create_sheet("equipment"), methods)
    last = _write_season(book.create_sheet("season"), methods)
    _write_methods(book.create_sheet("methods"), methods, items, last)
    sheet = book.create_sheet("draws")
    columns = [draws[0][path] for path in SHARED] + [one["harvest.typical"] for one in draws]
    sheet.append(["draw", *SHARED, *(f"yield {at}" for at in range(len(methods)))])
    for k in range(count):
        sheet.append([k, *(float(column[k]) for column in columns)])
    sheet = book.create_sheet("model")
    sheet.append(["draw", "method", *_EACH])
    for k in range(count):
        for at in range(len(methods)):
            sheet.append([k, at, *_row(k * len(methods) + at + 2, k, at)])
    book.save(path)


def _write_equipment(sheet: Any, methods: Sequence[by_hand.Numbers]) -> list[tuple[int, int]]:
    """Write what each method buys, and return the first and the last row of each."""
    sheet.append(["method", "item", "price", "fetches at the end", "years", "cost a year"])
    spans, row = [], 2
    for at, one in enumerate(methods):
        for number, thing in enumerate(one.equipment):
            rate = f"methods!{letter(at + 2)}{_row_of('interest')}"
            back = f"IF({rate}>0,{rate}/(1-(1+{rate})^-E{row}),1/E{row})"
            yearly = f"=C{row}*((1-D{row})*{back}+D{row}*{rate})"
            given = (float(thing.price), float(thing.salvage), float(thing.years))
            sheet.append([at, number, *given, yearly])
            row += 1
        spans.append((row - len(one.equipment), row - 1))
    return spans


def _write_season(sheet: Any, methods: Sequence[by_hand.Numbers]) -> int:
    """Write a season day by day, a column a method, and return the row of the last day."""
    n = methods[0]
    cell = {name: f"methods!$B${_row_of(name)}" for name in _GIVEN}
    total = "({days_initial}+{days_development}+{days_mid}+{days_late})".format(**cell)
    rise = "MAX(0,MIN(1,($A{row}-{days_initial})/{days_development}))"
    fall = "MAX(0,MIN(1,($A{row}-{total}+{days_late})/{days_late}))"
    factor = f"={{kc_initial}}+{rise}*({{kc_mid}}-{{kc_initial}})+{fall}*({{kc_end}}-{{kc_mid}})"
    months = np.repeat(np.arange(12), by_hand.DAYS_IN_MONTH)
    start = int(np.sum(by_hand.DAYS_IN_MONTH[: n.planting_month - 1]))
    days = int(np.ceil(n.days_initial + n.days_development + n.days_mid + n.days_late))
    sheet.append(["water of a season, L/m², at a climate factor of 1"])
    sheet.append(["day", "month", "reference", "rain", "coefficient",
                  *(f"use {at}" for at in range(len(methods)))])  # fmt: skip
    for day in range(1, days + 1):
        month, row = int(months[(start + day - 1) % 365]), _FIRST_DAY + day - 1
        uses = [
            f"=IF($A{row}<={total},($E{row}+{by_hand.OPEN_WATER}*methods!"
            f"{letter(at + 2)}${_row_of('open_fraction')})*$C{row},0)"
            for at in range(len(methods))
        ]
        sheet.append([
            day, month + 1, float(n.reference[month]),
            f"=IF($A{row}<={total},{float(n.rain[month])!r}/{by_hand.DAYS_IN_MONTH[month]},0)",
            factor.format(row=row, total=total, **cell), *uses,
        ])  # fmt: skip
    return _FIRST_DAY + days - 1


def _write_methods(
    sheet: Any, methods: Sequence[by_hand.Numbers], items: list[tuple[int, int]], last: int
) -> None:
    """Write a row for each number of the methods, and below what follows from them."""
    sheet.append(["number", *(f"method {at}" for at in range(len(methods)))])
    for name in _GIVEN:
        sheet.append([name, *(float(getattr(one, name)) for one in methods)])
    for name, formula in _WORKED_OUT.items():
        cells = []
        for at in range(len(methods)):
            where = {given: f"{letter(at + 2)}{_row_of(given)}" for given in _GIVEN}
            cells.append(formula.format(
                **where, use=letter(at + 6), first_day=_FIRST_DAY, last_day=last,
                first_item=items[at][0], last_item=items[at][1],
            ))  # fmt: skip
        sheet.append([name, *cells])


def _row_of(name: str) -> int:
    """Return the row of a number on the sheet of methods."""
    return [*_GIVEN, *_WORKED_OUT].index(name) + 2


def _row(row: int, draw: int, at: int) -> list[str]:
    """Return the formulas of one draw of one method, in a row of the model."""
    cell = {name: f"methods!${letter(at + 2)}${_row_of(name)}" for name in (*_GIVEN, *_WORKED_OUT)}
    names = ("climate", "produce_price", "medium_factor", "labour_price", "water_price",
             "marketable")  # fmt: skip
    cell |= {name: f"draws!{letter(column + 2)}{draw + 2}" for column, name in enumerate(names)}
    cell["harvest"] = f"draws!{letter(len(SHARED) + 2 + at)}{draw + 2}"
    cell |= {name: f"{letter(column + 3)}{row}" for column, name in enumerate(_EACH)}
    return [formula.format(**cell) for formula in _EACH.values()]


def soffice_path() -> str | None:
    """Return where LibreOffice is, if anywhere."""
    return os.environ.get("SCENARIOKIT_SOFFICE") or shutil.which("soffice")


def recalculate(path: Path, folder: Path, rounds: int = 5) -> tuple[Path, list[float]]:
    """Open a workbook in LibreOffice without a window, recalculate it and save it.

    Parameters
    ----------
    path : Path
        The workbook.
    folder : Path
        Where the recalculated one goes, and LibreOffice's own profile.
    rounds : int
        How often every formula is worked out anew.

    Returns
    -------
    Path
        The recalculated workbook.
    list of float
        Seconds of each recalculation alone, with the workbook open.

    Raises
    ------
    RuntimeError
        If LibreOffice wrote nothing.
    """
    library = folder / "profile" / "user" / "basic" / "Standard"
    if not library.exists():  # the first start fills the profile, over whatever stands there
        _start(folder, "--terminate_after_init")
        library.mkdir(parents=True, exist_ok=True)
    (library / "script.xlb").write_text(_LIBRARY, encoding="utf-8")
    (library / "Recalculation.xba").write_text(_MACRO.format(rounds=rounds), encoding="utf-8")
    made, times = folder / f"recalculated_{path.name}", folder / "times.txt"
    given = ",".join(one.resolve().as_uri() for one in (path, made, times))
    said = _start(folder, f"macro:///Standard.Recalculation.Recalculate({given})")
    if not made.exists():
        raise RuntimeError(f"LibreOffice wrote no workbook: {said}")
    return made, [int(line) / 1000 for line in times.read_text(encoding="utf-8").split()]


def _start(folder: Path, what: str) -> str:
    """Start LibreOffice without a window on a profile of its own, and return what it said."""
    run = subprocess.run(
        [str(soffice_path()), f"-env:UserInstallation={(folder / 'profile').resolve().as_uri()}",
         "--headless", "--norestore", what],
        capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    return run.stdout + run.stderr


def read_outcomes(path: Path, methods: int) -> dict[str, Any]:
    """Return the outcomes of a recalculated workbook, a row a method and a column a draw."""
    book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    rows = book["model"].iter_rows(min_row=2, values_only=True)
    found = np.array([[np.nan if cell in (None, "") else cell for cell in row] for row in rows])
    book.close()
    columns = {name: at + 2 for at, name in enumerate(_EACH)}
    return {name: found[:, columns[name]].reshape(-1, methods).T for name in by_hand.OUTCOMES}
