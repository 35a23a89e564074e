"""A blank worksheet to print: two pages for a group, filled in by hand."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Literal

from scenariokit.charts.trials import UNITS
from scenariokit.language import language, tr
from scenariokit.parameters import UnitSystem

Paper = Literal["a4", "letter"]
SIZES: dict[Paper, str] = {"a4": "A4", "letter": "letter"}

PLOT_ROWS = 10
READING_ROWS = 7
NUMBER_ROWS = 2
"""Empty rows below the numbers that are named."""
LINES = 3
"""Lines to write on below each question."""

STYLE = """
@page { size: %(size)s portrait; margin: 11mm 13mm 11mm 15mm; }
* { box-sizing: border-box; }
html { font: 10.5pt/1.3 system-ui, "DejaVu Sans", sans-serif; color: #1d2b2a; background: #fff; }
body { margin: 0 auto; max-width: 182mm; }
main { padding: 0; }
.page { break-after: page; }
.page:last-of-type { break-after: auto; }
h1 { font-size: 17pt; margin: 0; color: #0b4f54; }
h2 { font-size: 11.5pt; margin: 2.6mm 0 1mm; color: #0b4f54; border-bottom: 1.2pt solid #0b6e75; }
p { margin: 0.8mm 0; }
.top { display: flex; justify-content: space-between; align-items: baseline; gap: 6mm; }
.top small, .small { font-size: 8.5pt; color: #3d4d49; }
.who { display: grid; grid-template-columns: 2fr 1.4fr 1fr; gap: 5mm; margin-top: 2.5mm; }
.who div { border-bottom: 0.8pt solid #1d2b2a; height: 9mm; font-size: 8.5pt; color: #3d4d49; }
.boxes { display: grid; grid-template-columns: 1fr 1fr; gap: 4mm; }
.box { border: 0.8pt solid #5f706c; border-radius: 2mm; height: 30mm; padding: 1.5mm 2mm; }
.box b { display: block; }
.box span { font-size: 8.5pt; color: #3d4d49; }
table { border-collapse: collapse; width: 100%%; table-layout: fixed; }
th { overflow-wrap: anywhere; hyphens: auto; font-size: 8.5pt; font-weight: 600; text-align: left; background: #eef5f4;
  -webkit-print-color-adjust: exact; print-color-adjust: exact; }
th, td { border: 0.6pt solid #5f706c; padding: 0.6mm 1.2mm; vertical-align: middle; }
td { height: 6.3mm; }
.numbers td:first-child { font-size: 9.5pt; }
.line { border-bottom: 0.6pt solid #5f706c; height: 7mm; }
.care { border: 1.2pt solid #a3260b; border-radius: 2mm; padding: 1mm 2.5mm; margin-top: 2.5mm; }
.care h2 { border: 0; margin: 0; color: #8f1d06; }
.care ul { margin: 0.5mm 0; padding-left: 4.5mm; columns: 2; column-gap: 6mm; font-size: 8pt;
  line-height: 1.25; }
.care li { break-inside: avoid; margin-bottom: 0.6mm; }
ol { margin: 0; padding-left: 5mm; }
@media screen { main { padding: 8mm; } .page { margin-bottom: 12mm; } }
"""


def worksheet(
    *, paper: Paper = "a4", system: UnitSystem = "metric", methods: Sequence[str] = ()
) -> str:
    """Return the worksheet as one HTML page without anything from outside.

    Parameters
    ----------
    paper : {'a4', 'letter'}
        Size of the page; both give two pages.
    system : {'metric', 'us'}
        Units of the headings.
    methods : sequence of str, optional
        Labels of the methods compared, printed above the table of plots.

    Returns
    -------
    str
        HTML. Print it from a browser; one sheet on both sides is enough.

    Raises
    ------
    KeyError
        If the paper or the system is not known.

    Examples
    --------
    >>> from scenariokit.report.worksheet import worksheet
    >>> worksheet(paper="letter").count('class="page"')
    2
    """
    style = STYLE % {"size": SIZES[paper]}
    title = tr("Worksheet of a group")
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language().replace("_", "-"))}"><head>'
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>{escape(title)}</title><style>{style}</style></head><body><main>"
        f'<section class="page">{_first_page(title, system)}</section>'
        f'<section class="page">{_second_page(system, methods)}</section>'
        "</main></body></html>\n"
    )


def _first_page(title: str, system: UnitSystem) -> str:
    """Return guess, change, numbers before and after, and questions."""
    who = (tr("Name of the group (no personal names)"), tr("Place"), tr("Date"))
    boxes = (
        (tr("Our guess"), tr("Written before we looked: which one, and by how much?")),
        (tr("What we changed"), tr("One thing only. What did we leave as it was?")),
    )
    return "".join(
        [
            f'<div class="top"><h1>{escape(title)}</h1><small>scenariokit</small></div>',
            f'<div class="who">{"".join(f"<div>{escape(text)}</div>" for text in who)}</div>',
            f"<h2>{escape(tr('Guess first'))}</h2>",
            f'<div class="boxes">{"".join(_box(*one) for one in boxes)}</div>',
            f"<h2>{escape(tr('Numbers before and after the change'))}</h2>",
            _numbers(system),
            f"<h2>{escape(tr('Questions'))}</h2>",
            _questions(),
        ]
    )


def _second_page(system: UnitSystem, methods: Sequence[str]) -> str:
    """Return the tables of plots and of readings, and the cautions."""
    mass, area = ("lb", "ft²") if system == "us" else ("kg", "m²")
    named = tr("Methods: {names}", names=", ".join(tr(one) for one in methods)) if methods else ""
    rule = tr(
        "Yield = weight ÷ water surface of the tank. A blank weight was not harvested; a zero gave "
        "nothing. Tanks on one reservoir count as one plot."
    )
    plots = [
        (tr("Plot"), 9), (tr("Method"), 21), (tr("Variety"), 16),
        (tr("Tank area ({unit})", unit=area), 13), (tr("Weight ({unit})", unit=mass), 13),
        (tr("Yield ({unit})", unit=UNITS[system][1]), 13), (tr("Remark"), 15),
    ]  # fmt: skip
    depth, volume = ("in", "gal") if system == "us" else ("cm", "L")
    readings = [
        (tr("Date"), 13), (tr("Tank"), 10), (tr("EC (dS/m)"), 13),
        (tr("Water ({unit})", unit="°F" if system == "us" else "°C"), 13), (tr("pH"), 9),
        (tr("Depth ({unit})", unit=depth), 13), (tr("Added ({unit})", unit=volume), 14),
        (tr("Remark"), 15),
    ]  # fmt: skip
    meter = tr(
        "A meter with temperature compensation (ATC) shows EC at 25 °C already: do not correct it "
        "again."
    )
    return "".join(
        [
            f"<h2>{escape(tr('Weights of our plots'))}</h2>",
            f'<p class="small">{escape(named)}</p>' if named else "",
            _blank(plots, PLOT_ROWS),
            f'<p class="small">{escape(rule)}</p>',
            f"<h2>{escape(tr('Readings of our tank'))}</h2>",
            _blank(readings, READING_ROWS),
            f'<p class="small">{escape(meter)}</p>',
            _cautions(),
        ]
    )


def _box(title: str, hint: str) -> str:
    return f'<div class="box"><b>{escape(title)}</b><span>{escape(hint)}</span></div>'


def _numbers(system: UnitSystem) -> str:
    """Return the table of numbers before and after a change."""
    yields = UNITS[system][1]
    mass, volume = ("lb", "gal") if system == "us" else ("kg", "L")
    named = [
        tr("Yield ({unit})", unit=yields),
        tr("Cost of a {mass} of produce (money)", mass=mass),
        tr("Growing medium for a {mass} (money)", mass=mass),
        tr("Water for a {mass} ({volume})", mass=mass, volume=volume),
        tr("Days until the tank runs dry"),
    ]
    heads = [(tr("Number"), 34), (tr("Our guess"), 16), (tr("Before"), 16), (tr("After"), 16),
             (tr("Up or down?"), 18)]  # fmt: skip
    rows = [*named, *[""] * NUMBER_ROWS]
    body = "".join(f"<tr><td>{escape(one)}</td>{'<td></td>' * 4}</tr>" for one in rows)
    return f'<table class="numbers">{_heads(heads)}<tbody>{body}</tbody></table>'


def _questions() -> str:
    asked = (
        tr("Which number surprised us, and why?"),
        tr("What would have to be true for our choice to be wrong?"),
        tr("How many plots of each method stand behind our weights? What does that allow us to say?"),
        tr("What shall the next trial find out, and how many plots does it need?"),
    )  # fmt: skip
    lines = '<div class="line"></div>' * LINES
    return "<ol>" + "".join(f"<li>{escape(one)}{lines}</li>" for one in asked) + "</ol>"


def _blank(heads: Sequence[tuple[str, int]], rows: int) -> str:
    """Return an empty table; the second of each head is its share of the width."""
    body = f"<tr>{'<td></td>' * len(heads)}</tr>" * rows
    return f"<table>{_heads(heads)}<tbody>{body}</tbody></table>"


def _heads(heads: Sequence[tuple[str, int]]) -> str:
    cells = "".join(
        f'<th scope="col" style="width:{width}%">{escape(text)}</th>' for text, width in heads
    )
    return f"<thead><tr>{cells}</tr></thead>"


def cautions() -> list[str]:
    """Return the cautions for practical work, short enough for a printed sheet."""
    return [
        tr("Weight: 10 cm of water weigh about 100 kg on each square metre. Floor, balcony, roof or "
           "bench: ask a licensed engineer and follow the local building code first."),
        tr("Water: a small child can drown in a few centimetres. Rigid lids, no toddlers near open "
           "tanks, an adult beside every open tank."),
        tr("Acids: trained adults only, never a class. Acid into water, never water into acid."),
        tr("Salts: nitrates feed a fire, calcium nitrate damages eyes. Goggles, gloves, locked "
           "store, no food bottles; never let two stocks meet undiluted."),
        tr("Left-over solution carries nitrate: never into a drain, ditch or well; onto soil crops, "
           "under local rules."),
        tr("Green or sprouted potatoes are poisonous: keep light out, throw green ones away."),
        tr("Mosquitoes: no gap wider than 1 mm, look inside every 4 to 7 days."),
        tr("Food: food-grade plastic; no drums of unknown past, no treated timber, no galvanised "
           "metal. Wash hands; eat nothing where salts are weighed."),
    ]  # fmt: skip


def _cautions() -> str:
    listed = "".join(f"<li>{escape(line)}</li>" for line in cautions())
    return (
        f'<div class="care"><h2>{escape(tr("Take care"))}</h2><ul>{listed}</ul></div>'
        f'<p class="small">{escape(_sources())}</p>'
    )


def _sources() -> str:
    return tr(
        "Local codes, makers' safety data sheets and licensed people come before this sheet. "
        "Sources: water density, Kell 1975; drowning, US CPSC document 5006; mosquitoes, US CDC "
        "sheet CS258303 (mesh from memory); green potatoes, Commission Recommendation (EU) "
        "2022/561; salts, hazard statements H272, H302, H318; else common practice, no published "
        "source."
    )
