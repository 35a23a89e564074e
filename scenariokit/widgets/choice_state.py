"""What the choice view knows: limits, weights and what is looked at; plain state, no widget."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide import (
    LACKS,
    LIMITS,
    OBJECTIVES,
    Advice,
    BreakEven,
    Criterion,
    Swing,
    Turn,
    Weighing,
    WinMap,
    Wishes,
    advise,
    break_even,
    swing,
    turns,
    usual_criteria,
    weigh,
    win_map,
)
from scenariokit.decide.leaning import Leaning
from scenariokit.decide.over_range import YIELD, parameter_at
from scenariokit.language import mark, tr
from scenariokit.scenario import Comparison, Scenario
from scenariokit.uncertainty import Ensemble, Uncertainty, ensemble, usual_uncertainty
from scenariokit.widgets.board_file_choice import (
    DRAWS,
    FRONT,
    MAP,
    MEDIUM,
    NO_TURN,
    ChoiceSettings,
    usual_weights,
)
from scenariokit.widgets.board_paths import COMMON_PATHS, paths_of
from scenariokit.widgets.board_state import BoardState

SEED = 0
DRAWN = (
    "yield_per_area", "margin_per_area", "return_to_labour", "cost_per_usable_kilogram",
    "water_per_yield", "labour_per_area", "medium_volume_per_area", "investment_per_area",
    "season_water", "fullest_depth", "water_load", "autonomy",
)  # fmt: skip
"""Every outcome that the view may need of the draws."""
TURNING = (
    "prices.medium_factor", "prices.produce_price", "prices.labour_price", "prices.water_price",
    "prices.crops_per_year", "site.climate_factor", "crop.marketable_share", "harvest.typical",
)  # fmt: skip
"""Paths that are tried for what would change the choice."""
YIELD_LABEL = mark("Usual yield of this method")
LEANINGS: dict[Leaning, str] = {
    "average": mark("the average of all draws"),
    "cautious": mark("the average of the worst tenth of draws"),
    "regret": mark("the least regret where it is great"),
}
"""Rules by which methods are put in order, and what a person reads for them."""
MAP_CELLS = (12, 12)
"""Few enough that a slider move stays under its bar."""


@dataclass
class ChoiceState:
    """What a person set in the choice view.

    Parameters
    ----------
    board : BoardState
        The methods compared, and their numbers.
    limits : dict
        Id of each limit that is set, to its number in the limit's own unit.
    lacking : tuple of str
        What cannot be had: ids of `LACKS`, and of growing media after ``medium:``.
    objective : str
        The outcome by which methods are put in order.
    leaning : str
        The rule by which they are, of `LEANINGS`.
    front : tuple of str
        Outcomes on the two axes of the front.
    rival : str
        Id of the method beside the one in focus; empty for the best other.
    turning : str
        Path of the parameter whose crossing is drawn.
    mapped : tuple of str
        Paths on the two axes of the map.
    weights : dict
        How much each criterion counts, 0 to 10.
    draws : int
        How many draws are taken.
    """

    board: BoardState
    limits: dict[str, float] = field(default_factory=dict)
    lacking: tuple[str, ...] = ()
    objective: str = OBJECTIVES[0]
    leaning: Leaning = "average"
    front: tuple[str, str] = FRONT
    rival: str = ""
    turning: str = "prices.medium_factor"
    mapped: tuple[str, str] = MAP
    weights: dict[str, float] = field(default_factory=usual_weights)
    draws: int = DRAWS

    @property
    def scenarios(self) -> list[Scenario]:
        """The scenarios compared."""
        return [self.board.scenarios[key] for key in self.board.chosen]

    @property
    def criteria(self) -> tuple[Criterion, ...]:
        """What is weighed."""
        return usual_criteria()

    def uncertainty(self) -> Uncertainty:
        """Return what is taken as uncertain."""
        return usual_uncertainty(self.scenarios)

    def draw(self, draws: int | None = None) -> Ensemble:
        """Return the draws of all methods compared."""
        return ensemble(self.scenarios, self.uncertainty(), draws or self.draws, SEED, DRAWN)

    def settings(self) -> ChoiceSettings:
        """Return what is set, as the file of a board keeps it."""
        found = {one.name: getattr(self, one.name) for one in fields(ChoiceSettings)}
        return ChoiceSettings(
            **{**found, "limits": dict(self.limits), "weights": dict(self.weights)}
        )

    def take(self, settings: ChoiceSettings) -> None:
        """Take over what a file of a board keeps, as far as its methods have it."""
        for one in fields(ChoiceSettings):
            setattr(self, one.name, getattr(settings, one.name))
        self.limits, self.weights = dict(settings.limits), dict(settings.weights)
        self.keep()

    def advise(self, found: Ensemble, comparison: Comparison) -> Advice:
        """Return the recommendation of these draws, within the limits that are set."""
        given = {
            name: units.quantity(value, LIMITS[name].parameter.unit)
            for name, value in self.limits.items()
        }
        criteria = self.front if self.front[0] != self.front[1] else self.front[:1]
        wishes = Wishes(self.leaning, lacking=self._lacking())
        return advise(found, tuple(comparison), given, self.objective, criteria, wishes)

    def _lacking(self) -> dict[str, Any]:
        """Return what cannot be had, as `advise` takes it."""
        media = [one.removeprefix(MEDIUM) for one in self.lacking if one.startswith(MEDIUM)]
        found: dict[str, Any] = {one: True for one in self.lacking if one in LACKS}
        return {**found, "missing_components": media} if media else found

    def lack_options(self) -> list[tuple[str, str]]:
        """Return what may be ticked as not to be had: id and words."""
        asked = [(one.id, tr(one.label)) for one in LACKS.values() if not one.names_things]
        used = dict.fromkeys(
            item
            for one in self.scenarios
            if one.method.medium is not None
            for item, _ in one.method.medium.components
        )
        media = self.board.media
        return asked + [
            (f"{MEDIUM}{item}", tr("No {medium}", medium=tr(media[item]["label"]).lower()))
            for item in used
            if item in media
        ]

    def beside(self, advice: Advice) -> str:
        """Return the id of the method beside the one in focus: the rival, or the best other."""
        others = [key for key in self.board.chosen if key != self.board.focus]
        if self.rival in others:
            return self.rival
        best = [key for key in (advice.chosen, advice.runner_up) if key in others]
        return (best or others or [""])[0]

    def swing(self, other: str, uncertainty: Uncertainty) -> Swing:
        """Return what moves the objective of the method in focus, less that of another."""
        pair = [self.board.focused]
        if other:
            pair.append(self.board.scenarios[other])
        return swing(pair, uncertainty, self.objective)

    def crossing(self, other: str) -> BreakEven:
        """Return the method in focus and another over the range of the parameter picked."""
        own = self.turning.startswith(("method.", "harvest."))
        only = self.board.focus if own else ""
        return break_even(
            self.board.focused, self.board.scenarios[other], self.turning, self.objective, only=only
        )

    def weigh(self, comparison: Comparison) -> tuple[tuple[str, ...], Weighing | None]:
        """Return the methods that have a value in all criteria, and their weighted worth.

        A method that yields nothing has none for each kilogram; if all are
        such, nothing is weighed.
        """
        table = np.column_stack([comparison.values(one.name) for one in self.criteria])
        known = ~np.isnan(table).any(axis=1)
        ids = tuple(
            one.scenario.method.id for one, has in zip(comparison, known, strict=True) if has
        )
        if not ids:
            return (), None
        weights = [self.weights[one.name] for one in self.criteria]
        return ids, weigh(table[known], self.criteria, weights)

    def map(self) -> WinMap:
        """Return which method is best over the two parameters picked."""
        return win_map(self.scenarios, *self.mapped, self.objective, cells=MAP_CELLS)

    def turns(self, method: str) -> tuple[Turn, ...]:
        """Return what would make a method the best, or no longer the best."""
        labels = [
            tr(YIELD_LABEL if path == YIELD else parameter_at(self.scenarios, path).label)
            for path in TURNING
        ]
        return turns(self.scenarios, method, TURNING, self.objective, labels=labels)

    def turning_paths(self) -> list[tuple[str, str, bool]]:
        """Return path, parameter and whether it is the focused method's own, of what may be picked."""
        rows = [(path, name, False) for path, name, _ in COMMON_PATHS if path not in NO_TURN]
        return rows + [(path, name, True) for path, name, _ in paths_of(self.board.focused)]

    def keep(self) -> None:
        """Drop what the methods now compared do not have."""
        if self.turning not in {path for path, _, _ in self.turning_paths()}:
            self.turning = TURNING[0]
        offered = {key for key, _ in self.lack_options()}
        self.lacking = tuple(one for one in self.lacking if one in offered)
        if self.rival not in self.board.chosen:
            self.rival = ""


SHARED_PATHS: tuple[tuple[str, str], ...] = tuple(
    (path, name) for path, name, _ in COMMON_PATHS if path not in NO_TURN
)


def limit_values(state: ChoiceState, ticked: list[str]) -> dict[str, Any]:
    """Return the limits that are ticked, new ones at their usual value."""
    return {name: state.limits.get(name, LIMITS[name].parameter.default) for name in ticked}
