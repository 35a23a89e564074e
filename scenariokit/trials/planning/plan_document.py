"""A planned trial as one JSON text that opens again and draws the same layout."""

from __future__ import annotations

import dataclasses
import datetime
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NoReturn

from scenariokit import units
from scenariokit.errors import Problem, RecordError, ScenarioKitError
from scenariokit.language import mark, tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.trials.planning.aim import TrialAim
from scenariokit.trials.planning.drawing import Lot
from scenariokit.trials.planning.field_rows import BookDetails
from scenariokit.trials.planning.layout import Layout
from scenariokit.trials.planning.needs import Needs
from scenariokit.trials.planning.proposal import TrialPlan, Wanted, propose
from scenariokit.trials.planning.tanks import Tank
from scenariokit.units import QuantityLike

FORMAT = "scenariokit/trial-plan"
VERSION = 1
MAX_BYTES = 1_000_000

_PARTS = ("study_id", "planting_date", "aim", "tanks", "seed", "replicates", "walkway", "view")
_AIM = tuple(one.name for one in dataclasses.fields(TrialAim))
_TANK = tuple(one.name for one in dataclasses.fields(Tank))


@dataclass(frozen=True)
class PlanRequest:
    """All that a planned trial is made from.

    Parameters
    ----------
    study_id : str
        A short name of the trial.
    planting_date : date or str
        Day of planting; text as year-month-day.
    aim : TrialAim
        What it is to find out.
    tanks : tuple of Tank
        The tanks in the order in which one walks past.
    seed : int
        What the layout is drawn from, 0 or more.
    replicates : int or {'needed', 'room'}
        As in `propose`.
    walkway : quantity
        Width of the way between tanks.
    view : mapping
        How it was looked at, as plain values of JSON; nothing here reads it.

    Raises
    ------
    ArgumentError
        If a name, the date, the seed or the walkway cannot be.
    """

    study_id: str
    planting_date: datetime.date | str
    aim: TrialAim
    tanks: tuple[Tank, ...]
    seed: int
    replicates: Wanted = "needed"
    walkway: QuantityLike = "60 cm"
    view: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check what nothing else checks; keep the date as a date."""
        Lot(self.seed)
        object.__setattr__(self, "planting_date", self.details().planting_date)
        found = checked_floats("plan", {"walkway": (self.walkway, "walkway")})
        object.__setattr__(self, "walkway", with_unit(float(found["walkway"]), "cm"))
        object.__setattr__(self, "tanks", tuple(self.tanks))

    def details(self, needs: Needs | None = None) -> BookDetails:
        """Return what stands in every row of the field book."""
        return BookDetails(
            self.study_id, self.planting_date, variety=UNNAMED if not self.aim.varieties else "",
            needs=needs,
        )  # fmt: skip

    def plan(self, needs: Needs | None = None) -> TrialPlan:
        """Return the planned trial; see `propose`."""
        return propose(
            self.aim, self.tanks, seed=self.seed, replicates=self.replicates, needs=needs,
            walkway=self.walkway,
        )  # fmt: skip


UNNAMED = mark("not named")
"""Variety in the records of a trial that names none."""


def plan_text(request: PlanRequest, layout: Layout) -> str:
    """Return a planned trial as JSON text.

    Parameters
    ----------
    request : PlanRequest
        What it is made from.
    layout : Layout
        What was drawn from it: kept so that opening it can prove that nothing
        moved.

    Returns
    -------
    str
        Units stand in it; opened with `read_plan`.

    Examples
    --------
    >>> from scenariokit.trials.planning.aim import TrialAim
    >>> from scenariokit.trials.planning.plan_document import PlanRequest, plan_text, read_plan
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> tanks = equal_tanks(8, "120 cm", "60 cm")
    >>> request = PlanRequest("spring", "2026-05-01", TrialAim(["bag", "pots"]), tanks, seed=0)
    >>> read_plan(plan_text(request, request.plan().layout)) == request
    True
    """
    document = {
        "format": FORMAT,
        "version": VERSION,
        "study_id": request.study_id,
        "planting_date": str(request.planting_date),
        "aim": dataclasses.asdict(request.aim),
        "tanks": [_tank_part(tank) for tank in request.tanks],
        "seed": request.seed,
        "replicates": request.replicates,
        "walkway": _measure(request.walkway),
        "view": dict(request.view),
        "plots": _plots(layout),
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _measure(side: Any) -> str:
    return f"{float(side.m_as('cm'))!r} cm"


def _tank_part(tank: Tank) -> dict[str, Any]:
    values = {name: getattr(tank, name) for name in _TANK}
    return {**values, "length": _measure(tank.length), "width": _measure(tank.width)}


def _plots(layout: Layout) -> list[list[Any]]:
    """Return the plots as plain rows: name, tank, section, treatment, variety."""
    return [
        [plot.plot_id, plot.tank, plot.section, plot.treatment, plot.variety]
        for plot in layout.plots
    ]


def read_plan(content: str | bytes, *, name: str = "plan") -> PlanRequest:
    """Return the planned trial that a JSON text holds.

    Parameters
    ----------
    content : str or bytes
        What `plan_text` wrote.
    name : str
        The file's name, for messages.

    Returns
    -------
    PlanRequest

    Raises
    ------
    RecordError
        If it is not such a text, has an unknown, missing or impossible field, or
        its seed does not draw the plots that it lists: then the printed field
        book counts, and not this file.
    """
    document = _document(content, name)
    parts = [part for part in document if part not in ("format", "version", "plots")]
    _require(_PARTS, parts, name)
    _require(_AIM, _keys(document["aim"], "aim", name), name, "aim.")
    _keys(document["view"], "view", name)
    if not isinstance(document["tanks"], list):
        raise _bad("tanks", document["tanks"], tr("is not a list"), name)
    for number, tank in enumerate(document["tanks"], start=1):
        _require(_TANK, _keys(tank, f"tanks[{number}]", name), name, f"tanks[{number}].")
    request: PlanRequest = _guarded(lambda: _request(document), name)
    layout = _guarded(lambda: request.plan().layout, name)
    drawn, stored = _plots(layout), document.get("plots")
    if stored != drawn:
        reason = tr(
            "are not those that the seed draws: the file was changed, or another version wrote "
            "it; the printed field book counts"
        )
        raise _bad("plots", f"{len(drawn)} drawn", reason, name)
    return request


def _document(content: str | bytes, name: str) -> dict[str, Any]:
    """Return the decoded text, if it is a plan that this version knows."""

    def refuse(word: str) -> NoReturn:
        raise ValueError(f"holds {word}")

    try:
        if len(content) > MAX_BYTES:
            raise ValueError(f"is longer than {MAX_BYTES:,} characters")
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
        found = json.loads(text, parse_constant=refuse)
    except (ValueError, RecursionError) as error:
        raise _bad("file", "", tr("is not a JSON text ({error})", error=error), name) from error
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise _bad("format", "", tr("is not a planned trial"), name, FORMAT)
    if found.get("version") != VERSION or isinstance(found["version"], bool):
        reason = tr("is not a version that can be read here; a newer scenariokit may open it")
        raise _bad("version", found.get("version"), reason, name, str(VERSION))
    return found


def _request(document: Mapping[str, Any]) -> PlanRequest:
    aim = {**document["aim"]}
    for part in ("treatments", "varieties"):
        aim[part] = tuple(aim[part]) if isinstance(aim[part], list) else aim[part]
    tanks = tuple(
        Tank(**{**tank, "length": _side(tank["length"]), "width": _side(tank["width"])})
        for tank in document["tanks"]
    )
    return PlanRequest(
        study_id=document["study_id"],
        planting_date=document["planting_date"],
        aim=TrialAim(**aim),
        tanks=tanks,
        seed=document["seed"],
        replicates=document["replicates"],
        walkway=_side(document["walkway"]),
        view=document["view"],
    )


def _side(value: Any) -> Any:
    """Return a length; what is no text with a unit is refused by whoever takes it."""
    return units.quantity(value) if isinstance(value, str) else value


def _guarded(make: Callable[[], Any], name: str) -> Any:
    """Return what `make` does; say of what it refuses in which file it stands."""
    try:
        return make()
    except ScenarioKitError as error:
        raise _bad("plan", "", str(error), name) from error
    except (TypeError, ValueError, AttributeError, ArithmeticError, LookupError) as error:
        raise _bad(
            "plan",
            "",
            tr("holds a value of another kind than it must ({error})", error=error),
            name,
        ) from (error)


def _keys(part: Any, where: str, name: str) -> list[str]:
    if not isinstance(part, dict):
        raise _bad(where, part, tr("is not a group of fields"), name)
    return list(part)


def _require(wanted: tuple[str, ...], found: list[str], name: str, place: str = "") -> None:
    """Refuse fields that are missing or that nobody knows, all at once."""
    problems = [
        Problem(f"{place}{key}", "", tr("is missing"), file=name)
        for key in wanted
        if key not in found
    ]
    problems += [
        Problem(f"{place}{key}", "", tr("is not known"), ", ".join(wanted), file=name)
        for key in found
        if key not in wanted
    ]
    if problems:
        raise RecordError(problems)


def _bad(field: str, value: Any, reason: str, name: str, allowed: str = "") -> RecordError:
    text = "" if value in ("", None) else str(value)
    return RecordError([Problem(field, text, reason, allowed, file=name)])
