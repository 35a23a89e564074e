"""Source water: an analysis, in whatever way the laboratory counts, as one content."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from scenariokit.catalog.entries import Entry
from scenariokit.errors import Problem, RecordError, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.contents import CONTENT, key_problems, with_total_nitrogen
from scenariokit.nutrients.water.hardness import (
    alkalinity_from_bicarbonate,
    bicarbonate_from_alkalinity,
)
from scenariokit.nutrients.water.water_checks import (
    NOTED_SHARE,
    REFUSED_SHARE,
    charge_sums,
    imbalance_text,
)
from scenariokit.nutrients.water.water_reading import (
    BARE_NUMBER,
    MILLIEQUIVALENT,
    MOST,
    PARAMETERS,
    Analysis,
    as_given,
    read_analysis,
)
from scenariokit.quantities import with_unit
from scenariokit.units import Quantity, QuantityLike

_ALKALINITY_SLACK = 0.1
"""Share by which a stated alkalinity and a stated bicarbonate may differ."""
_EXAMPLE = 'analysis={"Ca": "60 mg/L", "HCO3": ("3.1", "meq/L")}'


@dataclass(frozen=True)
class SourceWater:
    """What comes out of the tap, the well or the rain butt.

    Parameters
    ----------
    id, label : str
        Its name in tables, and what a person reads.
    content : mapping of str to float
        Content keys to mg/L, elements as elements, ``N`` total nitrogen, HCO3
        as bicarbonate.
    alkalinity : float
        As CaCO3, mg/L.
    ec : float or None
        dS/m at 25 °C as measured; None if not known.
    ph : float or None
        None if not known.
    status : str
        How far the numbers can be trusted: own, invented, seen, ...
    as_given : mapping of str to (float, str), optional
        The numbers as the analysis had them, with the unit in which they were
        read; `water_problems` looks there for a wrong unit.

    Raises
    ------
    ArgumentError
        If a key is no content key, or a number is below zero or NaN.

    Notes
    -----
    Alkalinity is taken as bicarbonate, as it is below pH 8.3.

    Examples
    --------
    >>> SourceWater("own", "Own", {"Ca": 40.0}, 100.0, 0.3, 7.5, "own").content["Ca"]
    40.0
    """

    id: str
    label: str
    content: Mapping[str, float]
    alkalinity: float = 0.0
    ec: float | None = None
    ph: float | None = None
    status: str = "own"
    as_given: Mapping[str, tuple[float, str]] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        problems = key_problems(self.content, CONTENT, "content") or [
            Problem(
                f"content[{key}]",
                str(value),
                tr("is no amount"),
                tr("0 mg/L or more"),
                kind="range",
            )
            for key, value in self.content.items()
            if not 0 <= value <= MOST
        ]
        if problems:
            raise argument_error(problems, f"water {self.id}")
        # Entries are frozen and hashable, so that a water can be a key of a cache.
        object.__setattr__(self, "content", Entry(with_total_nitrogen(self.content)))
        object.__setattr__(self, "as_given", Entry(self.as_given))

    @property
    def concentrations(self) -> dict[str, Quantity]:
        """The content as quantities [mg/L], as recipes take it."""
        return {key: with_unit(value, "mg/L") for key, value in self.content.items()}


def source_water(
    analysis: Mapping[str, QuantityLike],
    *,
    id: str = "own",
    label: str = mark("Own water"),
    equivalents: bool = False,
    accept_imbalance: bool = False,
    status: str = "own",
) -> SourceWater:
    """Return a source water from its analysis.

    mg/L of an ion x mass share of the element; mmol/L x molar mass; meq/L x
    molar mass / charge.

    Parameters
    ----------
    analysis : mapping of str to quantity
        What was measured: Ca, Mg, Na, K, NO3 or N_nitrate (NO3-N), NH4 or
        N_ammonium (NH4-N), Cl, SO4 or S, HCO3 or alkalinity (as CaCO3), P,
        H2PO4 or PO4, Fe, Mn, Zn, B, Cu, Mo; and EC, pH. Values in mg/L or
        mmol/L; charges, for which there is no unit, as ``("3.1", "meq/L")`` or
        ``"3.1 meq/L"``.
    id, label : str, optional
        Names.
    equivalents : bool, optional
        Read bare numbers as meq/L; without it they are refused.
    accept_imbalance : bool, optional
        Take the analysis though its charges differ by more than 25 %, as one
        that is not complete.
    status : str, optional
        How far the numbers can be trusted.

    Returns
    -------
    SourceWater

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If a name is unknown, a value is no number, has no unit or lies outside
        its range, if one thing is given twice, or if the charges of cations and
        anions differ by more than 25 %. All at once.

    Notes
    -----
    What is not named counts as none. Alkalinity is taken as bicarbonate, as it
    is below pH 8.3. A value below detection: write 0, or half the limit of
    detection, and say so in the label.

    Warnings
    --------
    An analysis is of one day; wells change with the season. Water of unknown
    origin may hold what no analysis of nutrients shows: do not drink it.

    Examples
    --------
    >>> water = source_water(
    ...     {"Ca": "40 mg/L", "Na": "23 mg/L", "Cl": "35.5 mg/L", "HCO3": "2 meq/L", "pH": 7.4}
    ... )
    >>> round(water.alkalinity, 1), round(water.content["HCO3"], 1)
    (100.1, 122.0)
    """
    if not isinstance(analysis, Mapping) or not analysis:
        problem = Problem("analysis", str(analysis), tr("must map parameters to values, at least one"),
                          "", _EXAMPLE)  # fmt: skip
        raise argument_error([problem], "source_water")
    lines = [(str(name), value, None) for name, value in analysis.items()]
    read, problems = read_analysis(lines, MILLIEQUIVALENT if equivalents else "")
    problems = _with_hint(problems, lines) or _whole_problems(read, accept_imbalance)
    if problems:
        raise argument_error(problems, "source_water")
    return _water(read, id, label, status)


def water_from_row(row: Mapping[str, Any]) -> SourceWater:
    """Return a source water from a row of the catalogue.

    Parameters
    ----------
    row : mapping
        With the columns of ``waters``: plain mg/L under the content keys, ``ec``
        [dS/m] and ``ph``.

    Returns
    -------
    SourceWater

    Notes
    -----
    The waters of the catalogue are invented; ask the supplier for the analysis
    of the real one.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> round(water_from_row(catalog.load("waters")["hard_tap"]).alkalinity)
    238
    """
    content = {key: float(row[key]) for key in CONTENT if row.get(key) is not None}
    return SourceWater(
        id=row["id"],
        label=row["label"],
        content=content,
        alkalinity=alkalinity_from_bicarbonate.floats(content.get("HCO3", 0.0)),
        ec=row.get("ec"),
        ph=row.get("ph"),
        status=row.get("status") or "own",
        as_given={key: (content[key], "mg/L") for key in content if key in PARAMETERS},
    )


def water_from_rows(
    label: str,
    rows: Iterable[Sequence[Any]],
    file: str = "",
    *,
    id: str = "own",
    accept_imbalance: bool = False,
) -> SourceWater:
    """Return a source water from the lines of a file.

    Parameters
    ----------
    label : str
        What a person reads.
    rows : iterable of sequence
        Parameter, value, and unit as text: mg/L, mmol/L or meq/L; dS/m for EC,
        none for pH. A fourth item is the row in the file, for messages.
    file : str, optional
        The file's name for messages.
    id : str, optional
        Its name in tables.
    accept_imbalance : bool, optional
        As for `source_water`.

    Returns
    -------
    SourceWater

    Raises
    ------
    RecordError
        As `source_water`, with file and row.

    Examples
    --------
    >>> rows = [("Ca", 2, "meq/L"), ("alkalinity", 100, "mg/L"), ("EC", 200, "uS/cm")]
    >>> round(water_from_rows("Well", rows).ec, 3)
    0.2
    """
    lines: list[tuple[str, Any, int | None]] = []
    problems: list[Problem] = []
    for row in rows:
        if len(row) not in (3, 4):
            reason = tr("must be parameter, value and unit")
            problems.append(Problem("row", str(tuple(row)), reason))
            continue
        unit = "" if row[2] is None else str(row[2]).strip()
        lines.append((str(row[0]), (row[1], unit), row[3] if len(row) == 4 else None))
    if not lines and not problems:
        problems.append(Problem("rows", "", tr("hold no parameter")))
    read, found = read_analysis(lines)
    problems += found
    problems = problems or _whole_problems(read, accept_imbalance)
    if problems:
        raise RecordError([replace(one, file=file) for one in problems], label)
    return _water(read, id, label, "own")


def _content(read: Analysis) -> dict[str, float]:
    """Return the content of an analysis; a stated bicarbonate goes before alkalinity."""
    ordered = sorted(read.readings, key=lambda one: one.name == "HCO3")
    found = {one.key: one.milligrams for one in ordered}
    whole = with_total_nitrogen(found)
    return {key: whole[key] for key in CONTENT if key in whole}


def _alkalinity(read: Analysis) -> float:
    """Return alkalinity as CaCO3 [mg/L], as stated or of the bicarbonate."""
    stated = [one for one in read.readings if one.species == "CaCO3"]
    bicarbonate = stated[0].milligrams if stated else _content(read).get("HCO3", 0.0)
    return float(alkalinity_from_bicarbonate.floats(bicarbonate))


def _water(read: Analysis, id: str, label: str, status: str) -> SourceWater:
    return SourceWater(
        id=id,
        label=label,
        content=_content(read),
        alkalinity=_alkalinity(read),
        ec=read.ec,
        ph=read.ph,
        status=status,
        as_given=as_given(read.readings),
    )


def _whole_problems(read: Analysis, accept_imbalance: bool) -> list[Problem]:
    """Return what is wrong with an analysis whose lines are each good."""
    content, alkalinity = _content(read), _alkalinity(read)
    stated = bicarbonate_from_alkalinity.floats(alkalinity)
    found = []
    if abs(stated - content.get("HCO3", 0.0)) > _ALKALINITY_SLACK * stated:
        reason = tr(
            "is {stated:.3g} mg/L of bicarbonate, but HCO3 says {bicarbonate:.3g}",
            stated=stated,
            bicarbonate=content["HCO3"],
        )
        allowed = tr("one of the two, or both within 10 %")
        found.append(Problem("alkalinity", f"{alkalinity:.3g} mg/L", reason, allowed, kind="range"))
    sums = charge_sums(content)
    if sums.beyond(REFUSED_SHARE) and not accept_imbalance:
        reason = imbalance_text(sums, content, as_given(read.readings))
        allowed = tr("up to 25 %, or accept_imbalance=True for an analysis that is not complete")
        found.append(Problem(tr("charge balance"), "", reason, allowed, kind="range"))
    return found


def _with_hint(
    problems: list[Problem], lines: Sequence[tuple[str, Any, int | None]]
) -> list[Problem]:
    """Add to refused bare numbers that they would balance as meq/L, if they would."""
    bare = tr(BARE_NUMBER)
    if not any(one.reason == bare for one in problems):
        return problems
    read, wrong = read_analysis(lines, MILLIEQUIVALENT)
    mixed = any(unit != MILLIEQUIVALENT for _, unit in as_given(read.readings).values())
    sums = charge_sums(_content(read))
    if wrong or mixed or min(sums) <= 0 or sums.beyond(NOTED_SHARE):
        return problems
    reason = tr(
        "is a bare number; it needs a unit; the numbers balance if they are meq/L: give the unit, "
        "or equivalents=True"
    )
    return [replace(one, reason=reason) if one.reason == bare else one for one in problems]
