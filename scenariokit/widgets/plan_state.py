"""What the planner of trials knows; no widget in it."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from scenariokit import catalog, units
from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr
from scenariokit.parameters import UnitSystem
from scenariokit.quantities import checked_floats
from scenariokit.scenario import evaluate, scenario_for
from scenariokit.scenario.build import DEFAULT_SITE
from scenariokit.scenario.trial_needs import plot_needs
from scenariokit.trials.planning.aim import Compared, PlannedDesign, TrialAim
from scenariokit.trials.planning.field_book import field_book_csv, field_book_xlsx
from scenariokit.trials.planning.field_sheet import field_book_text
from scenariokit.trials.planning.needs import PlotNeeds
from scenariokit.trials.planning.plan_document import PlanRequest, plan_text, read_plan
from scenariokit.trials.planning.proposal import TrialPlan, Wanted
from scenariokit.trials.planning.tanks import Tank, equal_tanks

CROP = "potato"
"""The records of plots are of tubers."""
FIRST_METHODS = ("medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray")
VIEW = ("system", "price_list", "own_cost")
"""What a saved plan keeps of how it was looked at."""


@dataclass(frozen=True)
class PlanState:
    """One state of the planner; a change makes another.

    Parameters
    ----------
    planting_date : str
        Year-month-day.
    methods : mapping
        The methods to choose from, rows of the catalogue.
    chosen : tuple of str
        Ids of the methods compared.
    varieties : tuple of str
        Names of the varieties.
    design, compare, replicates
        As in `TrialAim` and `propose`. `compare` gives way where it cannot be.
    cv, difference, alpha, power : float
        As in `TrialAim`.
    tank_count, tank_sections : int
        Tanks and sections in each.
    tank_length, tank_width, walkway : quantity
        Sides of a tank and the ways between them.
    watertight : bool
        Whether walls part the water of the sections.
    seed : int
        What the layout is drawn from.
    study_id : str
        A short name of the trial.
    system, price_list : str
        Units of the reader; a shipped price list.
    own_cost : quantity or None
        Cost of one crop of every method [money/m²], instead of the price list's.
    """

    planting_date: str
    methods: Mapping[str, Any] = field(default_factory=catalog.methods, repr=False)
    chosen: tuple[str, ...] = FIRST_METHODS
    varieties: tuple[str, ...] = field(default_factory=lambda: (tr("early white"),))
    design: PlannedDesign = "blocks"
    compare: Compared = "treatment"
    replicates: Wanted = "needed"
    cv: float = 0.12
    difference: float = 0.25
    alpha: float = 0.05
    power: float = 0.8
    tank_count: int = 24
    tank_sections: int = 1
    tank_length: Any = "120 cm"
    tank_width: Any = "60 cm"
    walkway: Any = "60 cm"
    watertight: bool = False
    seed: int = 1
    study_id: str = field(default_factory=lambda: tr("next trial"))
    system: UnitSystem = "metric"
    price_list: str = DEFAULT_SITE
    own_cost: Any = None

    # -- what there is to choose ------------------------------------------------------

    def available(self) -> list[tuple[str, str]]:
        """Return the methods with a tank that grow the crop: id and label."""
        return [
            (key, tr(row["label"]))
            for key, row in self.methods.items()
            if CROP in row["yields"] and row["level_regime"] != "none"
        ]

    @property
    def names(self) -> dict[str, str]:
        """What a person calls each method."""
        return {key: tr(row["label"]) for key, row in self.methods.items()}

    @property
    def comparable(self) -> list[Literal["treatment", "variety", "combination"]]:
        """What can be compared with these methods and varieties."""
        found: list[Literal["treatment", "variety", "combination"]] = []
        if len(self.chosen) > 1:
            found.append("treatment")
        if len(self.varieties) > 1:
            found.append("variety")
        return [*found, "combination"] if len(found) == 2 else found

    @property
    def compared(self) -> Compared | None:
        """What is compared: what was picked, if it can be."""
        return self.compare if self.compare in self.comparable else None

    @property
    def showing(self) -> Showing:
        """Units and currency of the reader."""
        return Showing(self.system, catalog.price_list(self.price_list).currency)

    # -- the plan -----------------------------------------------------------------------

    def tanks(self) -> tuple[Tank, ...]:
        """Return the tanks.

        Raises
        ------
        ArgumentError
            If a number or a size cannot be.
        """
        tanks = equal_tanks(
            self.tank_count, self.tank_length, self.tank_width, sections=self.tank_sections
        )
        return tuple(dataclasses.replace(tank, watertight=self.watertight) for tank in tanks)

    def request(self) -> PlanRequest:
        """Return all that the plan is made from.

        Raises
        ------
        ArgumentError
            If a name, a number or a size cannot be.
        """
        count = {"tank_count": (self.tank_count, "tank_count")}
        checked_floats("planner", {**count, "tank_sections": (self.tank_sections, "tank_sections")})
        aim = TrialAim(
            self.chosen, self.varieties, self.design, self.compared, self.cv, self.difference,
            self.alpha, self.power,
        )  # fmt: skip
        return PlanRequest(
            self.study_id, self.planting_date, aim, self.tanks(), self.seed, self.replicates,
            self.walkway, self._view(),
        )  # fmt: skip

    def _view(self) -> dict[str, Any]:
        cost = self.own_cost
        own = None if cost is None else float(cost.m_as(units.unit_of("money/m^2")))
        return {"system": self.system, "price_list": self.price_list, "own_cost": own}

    def needs(self, known: dict[tuple[str, str], PlotNeeds]) -> dict[str, PlotNeeds]:
        """Return what a square metre of each method needs.

        Parameters
        ----------
        known : dict
            Needs by method and price list; what is not there is added.

        Raises
        ------
        InfeasibleError
            If something that a method uses has no price.
        """
        found = {}
        for method in self.chosen:
            key = (method, self.price_list)
            if key not in known:
                scenario = scenario_for(
                    method, CROP, prices=self.price_list, methods=self.methods
                )  # fmt: skip
                known[key] = plot_needs(evaluate(scenario))
            found[method] = known[key]
        if self.own_cost is None:
            return found
        return {
            method: dataclasses.replace(one, cost_per_area=self.own_cost)
            for method, one in found.items()
        }

    def changed(self, **values: Any) -> PlanState:
        """Return another state, if all its values can be.

        Raises
        ------
        ArgumentError
            If a value cannot be; the message names it.
        """
        other = dataclasses.replace(self, **values)
        other.request()
        return other


@dataclass(frozen=True)
class PlanFiles:
    """The files that a plan can be had as.

    Parameters
    ----------
    state : PlanState
        The state of the planner.
    plan : TrialPlan
        The plan that was made of it.
    needs : dict
        What the methods need.
    """

    state: PlanState
    plan: TrialPlan
    needs: Mapping[str, PlotNeeds]

    def book(self) -> str:
        """Return the field book as CSV text."""
        return field_book_csv(self.plan.layout, self._details(), system=self.state.system)

    def workbook(self) -> bytes:
        """Return the field book as XLSX."""
        return field_book_xlsx(self.plan.layout, self._details(), system=self.state.system)

    def sheet(self) -> str:
        """Return the sheet to print, as text."""
        return field_book_text(self.plan.layout, self._details(), system=self.state.system)

    def document(self) -> str:
        """Return the plan as JSON text that opens again."""
        return plan_text(self.state.request(), self.plan.layout)

    def _details(self) -> Any:
        return self.state.request().details(self.needs)


def opened_plan(content: bytes, name: str, state: PlanState) -> PlanState:
    """Return the state that a saved plan holds.

    Parameters
    ----------
    content : bytes
        The file.
    name : str
        Its name, for messages.
    state : PlanState
        Whose methods it may name.

    Raises
    ------
    RecordError
        If the file cannot be read, or holds what this page cannot show.
    """
    request = read_plan(content, name=name)
    aim, tanks = request.aim, request.tanks
    problems = [*_unknown_methods(aim, state, name), *_unequal_tanks(tanks, name)]
    problems += _view_problems(request.view, name)
    if problems:
        raise RecordError(problems)
    first, own = tanks[0], request.view["own_cost"]
    return dataclasses.replace(
        state,
        planting_date=str(request.planting_date),
        chosen=tuple(aim.treatments),
        varieties=tuple(aim.varieties),
        design=aim.design,
        compare=aim.compare or "treatment",
        replicates=request.replicates,
        cv=aim.cv,
        difference=aim.difference,
        alpha=aim.alpha,
        power=aim.power,
        tank_count=len(tanks),
        tank_sections=first.sections,
        tank_length=first.length,
        tank_width=first.width,
        walkway=request.walkway,
        watertight=first.watertight,
        seed=request.seed,
        study_id=request.study_id,
        system=request.view["system"],
        price_list=request.view["price_list"],
        own_cost=None if own is None else units.quantity(float(own), "money/m^2"),
    )


def _unknown_methods(aim: TrialAim, state: PlanState, name: str) -> list[Problem]:
    known = [key for key, _ in state.available()]
    return [
        Problem("treatments", one, tr("is not a method known here"), ", ".join(known), file=name)
        for one in aim.treatments
        if one not in known
    ]


def _unequal_tanks(tanks: tuple[Tank, ...], name: str) -> list[Problem]:
    """Return a problem unless these are the tanks that `equal_tanks` makes."""
    first = tanks[0]
    made = equal_tanks(len(tanks), first.length, first.width, sections=first.sections)
    if tuple(dataclasses.replace(tank, watertight=first.watertight) for tank in made) == tanks:
        return []
    reason = tr("are not of one size, numbered in turn, each with water of its own")
    return [Problem("tanks", "", reason, tr("open it with read_plan instead"), file=name)]


def _view_problems(view: Mapping[str, Any], name: str) -> list[Problem]:
    lists = list(catalog.price_lists())
    allowed: dict[str, tuple[bool, str]] = {
        "system": (view.get("system") in ("metric", "us"), "metric, us"),
        "price_list": (view.get("price_list") in lists, ", ".join(lists)),
        "own_cost": (_is_cost(view.get("own_cost")), tr("null, or 0 or more")),
    }
    found = [
        Problem(f"view.{key}", str(view.get(key, "")), tr("cannot be"), words, file=name)
        for key, (good, words) in allowed.items()
        if not good
    ]
    found += [
        Problem(f"view.{key}", "", tr("is not known"), ", ".join(VIEW), file=name)
        for key in view
        if key not in VIEW
    ]
    return found


def _is_cost(value: Any) -> bool:
    if value is None:
        return True
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and 0 <= value <= 1e9


def today() -> str:
    """Return the day as year-month-day."""
    return datetime.datetime.now(tz=datetime.UTC).date().isoformat()
