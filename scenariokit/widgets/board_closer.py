"""A closer look: what takes longer than a slider move, with its progress and a way to stop it."""

from __future__ import annotations

import logging
import threading
import time
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from scenariokit.decide import (
    Advice,
    DriverShare,
    DriverValue,
    TrialValue,
    Turn,
    driver_shares,
    trial_values,
    values_of_learning,
)
from scenariokit.decide.partial_budgets import partial_budget_of
from scenariokit.economics import PartialBudget
from scenariokit.errors import InfeasibleError, ScenarioKitError
from scenariokit.language import mark, tr
from scenariokit.report.choice import turn_sentences
from scenariokit.report.choice_tables import budget_table, learning_sentences
from scenariokit.report.tables import said_list
from scenariokit.scenario import Comparison
from scenariokit.uncertainty import Ensemble, Stopped, ensemble
from scenariokit.widgets.choice_state import DRAWN, SEED, ChoiceState

if TYPE_CHECKING:
    from scenariokit.widgets.board import Board

log = logging.getLogger(__name__)

CLOSER_DRAWS = 2**16
SHARE_DRAWS = 2**12
REPLICATES = (1, 2, 3, 4, 5, 6, 8, 10, 12)
TRIAL_YEARS, TRIAL_HOURS = 2, 2
SHOWN_AFTER = 1.0
"""Seconds after which progress is shown."""


@dataclass(frozen=True)
class Closer:
    """What a closer look found.

    Parameters
    ----------
    advice : Advice
        From many more draws.
    turns : tuple of Turn
        What would change the choice.
    shares : tuple of DriverShare
        Where the spread of the difference between the first two comes from.
    values : tuple of DriverValue
        What is worth finding out.
    trials : tuple of TrialValue
        What one more trial is worth, by size.
    budget : PartialBudget
        Of all methods.
    remarks : tuple of str
        What could not be worked out, and why.
    """

    advice: Advice
    turns: tuple[Turn, ...]
    shares: tuple[DriverShare, ...]
    values: tuple[DriverValue, ...]
    trials: tuple[TrialValue, ...]
    budget: PartialBudget | None
    remarks: tuple[str, ...]


class BoardCloserLook:
    """A button, its progress and what it finds.

    Parameters
    ----------
    board : Board
        Whose methods are compared.
    state : ChoiceState
        What is set in the choice view.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What to display.
    """

    def __init__(self, board: Board, state: ChoiceState) -> None:
        self.board, self.state = board, state
        self.start, self.stop = widgets.Button(button_style=""), widgets.Button(disabled=True)
        board.wording.on(self.start, "description", mark("Take a closer look"))
        board.wording.on(self.stop, "description", mark("Stop"))
        self.progress = widgets.IntProgress(
            value=0, min=0, max=100, description="0 %", layout={"display": "none"}
        )
        self.result = widgets.HTML()
        self.start.add_class("sk-button")
        self.stop.add_class("sk-button")
        self.start.on_click(board.guarded(lambda _button: self.look()))
        self.stop.on_click(board.guarded(lambda _button: self._halt()))
        self._stopping = threading.Event()
        self._worker: threading.Thread | None = None
        row = widgets.HBox([self.start, self.stop, self.progress])
        self.widget = widgets.VBox(
            [
                board.wording.made(widgets.HTML(), "value", _closer_head), row, self.result,
            ]
        )  # fmt: skip

    # -- running ---------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether a look is under way."""
        return self._worker is not None and self._worker.is_alive()

    def clear(self) -> None:
        """Forget what was found, since the numbers changed, and stop a look under way."""
        self._stopping.set()
        self.result.value = ""

    def look(self, *, wait: bool = False) -> None:
        """Take a closer look, beside everything else that the page does.

        Parameters
        ----------
        wait : bool
            Come back only when it is done.
        """
        if self.running:
            return
        self._stopping = threading.Event()
        self.start.disabled, self.stop.disabled = True, False
        scenarios = self.state.scenarios
        comparison = self.board.state.compute()
        job = (scenarios, comparison, self._stopping)
        worker = threading.Thread(target=self._run, args=job, daemon=True)
        try:
            worker.start()
        except RuntimeError:
            # A browser's Python has no threads: do it now, with nothing beside it.
            self._run(*job)
            return
        self._worker = worker
        if wait:
            worker.join()

    def _halt(self) -> None:
        self._stopping.set()

    def _run(self, scenarios: Any, comparison: Comparison, stopping: threading.Event) -> None:
        """Work in a thread of its own, and show what comes of it."""
        begun = time.monotonic()

        def told(share: float) -> None:
            if stopping.is_set():
                raise Stopped("stopped")
            if time.monotonic() - begun > SHOWN_AFTER:
                self.progress.layout.display = None
                self.progress.value = round(100 * share)
                self.progress.description = tr("{percent:.0f} %", percent=100 * share)

        try:
            found = look_closer(self.state, scenarios, comparison, told)
            if not stopping.is_set():
                self.result.value = self._words(found)
        except Stopped:
            self.result.value = f"<p>{tr('Stopped; nothing was kept.')}</p>"
        except ScenarioKitError as error:
            self.result.value = f"<div class='sk-caution sk-care'>{escape(str(error))}</div>"
        except Exception:
            log.exception("the closer look failed")
            fault = tr("Something went wrong inside scenariokit; see the log.")
            self.result.value = f"<p>{fault}</p>"
        finally:
            self.progress.layout.display = "none"
            self.start.disabled, self.stop.disabled = False, True

    # -- words -----------------------------------------------------------------------

    def _words(self, found: Closer) -> str:
        showing, name = self.board.state.showing, self.state.objective
        labels = {one.method: tr(one.label) for one in found.advice.standings}
        chosen = labels.get(found.advice.chosen, "")
        turning = tr("What would change the choice of {method}", method=escape(chosen))
        parts = [
            f"<h3>{turning}</h3>",
            said_list(turn_sentences(found.turns, labels, showing)),
            f"<h3>{tr('What is worth finding out')}</h3>",
            said_list(
                [*learning_sentences(found.shares, found.values, found.trials, name, showing),
                 *found.remarks]
            ),
        ]  # fmt: skip
        if found.budget is not None:
            parts += [
                f"<h3>{tr('Partial budget')}</h3>",
                budget_table(found.budget, labels, showing),
            ]
        return "".join(parts)


def look_closer(state: ChoiceState, scenarios: Any, comparison: Comparison, told: Any) -> Closer:
    """Return what takes longer than a slider move.

    Parameters
    ----------
    state : ChoiceState
        Limits, objective and the rest.
    scenarios : list of Scenario
        What is compared.
    comparison : Comparison
        The same, evaluated.
    told : callable
        Gets the share that is done, 0 to 1; may raise `Stopped`.
    """
    uncertainty = state.uncertainty()
    found = ensemble(
        scenarios, uncertainty, CLOSER_DRAWS, SEED, DRAWN,
        progress=lambda done, total: told(0.5 * done / total),
    )  # fmt: skip
    advice = state.advise(found, comparison)
    told(0.55)
    remarks: list[str] = []
    changes = state.turns(advice.chosen) if advice.chosen else ()
    told(0.7)
    shares: tuple[DriverShare, ...] = ()
    values: tuple[DriverValue, ...] = ()
    trials: tuple[TrialValue, ...] = ()
    try:
        if advice.runner_up:
            pair = [one for key in (advice.chosen, advice.runner_up)
                    for one in scenarios if one.method.id == key]  # fmt: skip
            shares = driver_shares(
                pair, uncertainty, state.objective, SHARE_DRAWS, SEED,
                lambda done, total: told(0.7 + 0.2 * done / total),
            )  # fmt: skip
            values = values_of_learning(_left(found, advice), state.objective)
            trials = _trials(_left(found, advice), comparison)
            remarks.append(_trial_remark())
    except InfeasibleError as error:
        remarks.append(f"{error}.")
    told(0.95)
    return Closer(advice, changes, shares, values, trials, partial_budget_of(comparison),
                  tuple(remarks))  # fmt: skip


def _closer_head() -> str:
    told = tr(
        "Takes some seconds: {draws:,} draws; what would change the choice; where the spread comes "
        "from; what is worth finding out; a partial budget.",
        draws=CLOSER_DRAWS,
    )
    return f"<h2>{tr('A closer look')}</h2><p>{told}</p>"


def _trial_remark() -> str:
    return tr(
        "A plot of a trial is counted with {hours} hours of work (common practice, no published "
        "source), plots of like methods with a CV of 12 %, and the choice with {years} years of "
        "crops on the tank that is set.",
        hours=TRIAL_HOURS, years=TRIAL_YEARS,
    )  # fmt: skip


def _left(found: Ensemble, advice: Advice) -> Ensemble:
    """Return the draws of the methods that were not ruled out."""
    keep = [number for number, one in enumerate(advice.standings) if one.left]
    return Ensemble(
        tuple(found.scenarios[number] for number in keep), found.uncertainty, found.seed,
        {name: rows[keep] for name, rows in found.outcomes.items()}, found.notes,
    )  # fmt: skip


def _trials(found: Ensemble, comparison: Comparison) -> tuple[TrialValue, ...]:
    """Return what trials of several sizes are worth for the tank stated."""
    scenario = comparison.evaluations[0].scenario
    crops = TRIAL_YEARS * float(scenario.prices.crops_per_year.magnitude)
    labour = float(scenario.prices.labour_price.magnitude)
    plot = f"{labour * TRIAL_HOURS:.9g} money"
    return trial_values(found, REPLICATES, cost_per_plot=plot, area=scenario.tank.area, crops=crops)
