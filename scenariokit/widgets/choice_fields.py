"""The controls of the choice view: limits, what is looked at, and weights."""

from __future__ import annotations

from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.decide import LIMITS, OBJECTIVES
from scenariokit.glossary import parameter
from scenariokit.language import mark, number_text, tr
from scenariokit.parameters import Parameter
from scenariokit.scenario import OUTCOMES
from scenariokit.widgets.choice_state import LEANINGS, SHARED_PATHS, ChoiceState
from scenariokit.widgets.field_panel import choice_field, many_field, range_field

_WEIGHT = Parameter(
    "criterion_weight", "w", mark("Weight"), "", 0, 10, (0, 10, 1), 5,
    mark("How much it counts beside the others; 0 leaves it out."), mark("your own judgement"),
    mark("Weights"),
)  # fmt: skip


def limit_fields(state: ChoiceState) -> list[dict[str, Any]]:
    """Return what may be limited or lacking, and a slider for each limit that is set."""
    showing = state.board.showing
    return [
        many_field("ticked", tr("Set a limit on"),
                   [(name, tr(kind.label)) for name, kind in LIMITS.items()],
                   help=tr("A method that breaks a limit is set aside, whatever speaks for it.")),
        many_field("lacking", tr("What cannot be had"), state.lack_options(),
                   help=tr("A method that needs it is set aside.")),
        *(
            range_field(name, LIMITS[name].parameter, system=showing.system,
                        currency=showing.currency, topic="")
            for name in state.limits
        ),
    ]  # fmt: skip


def pick_fields(state: ChoiceState) -> list[dict[str, Any]]:
    """Return the controls of what methods are put in order by, and of what is drawn."""
    labels, focus = state.board.chosen_labels(), state.board.focus
    objectives = [(name, tr(OUTCOMES[name].label)) for name in OBJECTIVES]
    axes = [(name, tr(OUTCOMES[name].label)) for name in _axes()]
    turning = [
        (path, _turning_words(parameter(name), own=own))
        for path, name, own in state.turning_paths()
    ]
    shared = [(path, tr(parameter(name).label)) for path, name in SHARED_PATHS]
    rivals = [("", tr("the best of the others")), *((k, v) for k, v in labels if k != focus)]
    return [
        choice_field("objective", tr("Put methods in order by"), objectives),
        choice_field(
            "leaning",
            tr("Going by"),
            [(key, tr(text)) for key, text in LEANINGS.items()],
            help=tr("Who cannot bear a bad season looks at the worst draws."),
        ),
        choice_field("x", tr("Across in the first chart"), axes),
        choice_field("y", tr("Upward in the first chart"), axes),
        choice_field("rival", tr("Beside the method to adjust"), rivals),
        choice_field("turning", tr("Where they meet: move"), turning),
        choice_field("map_x", tr("Across in the map"), shared),
        choice_field("map_y", tr("Upward in the map"), shared),
    ]


def _turning_words(described: Parameter, *, own: bool) -> str:
    label = tr(described.label)
    return tr("{parameter} (of this method alone)", parameter=label) if own else label


def _axes() -> tuple[str, ...]:
    """Return the outcomes that the first chart may show."""
    return (*OBJECTIVES, "labour_per_area", "medium_volume_per_area", "investment_per_area")


def weight_fields(state: ChoiceState) -> list[dict[str, Any]]:
    """Return a slider for the weight of each criterion, with what is poor and what excellent."""
    showing = state.board.showing
    fields = []
    for one in state.criteria:
        poor, best = (_anchor(value, one.name, showing) for value in (one.poor, one.excellent))
        label = tr("{criterion}: {poor} {unit} is poor, {best} excellent",
                   criterion=tr(one.label), poor=poor, unit=showing.unit(one.name), best=best)  # fmt: skip
        field = range_field(one.name, _WEIGHT, topic="", label=label)
        field["help"] = tr("{meaning} The two anchors are fixed: {source}.",
                           meaning=tr(_WEIGHT.help), source=tr(one.source))  # fmt: skip
        fields.append(field)
    return fields


def _anchor(value: float, name: str, showing: Showing) -> str:
    outcome = OUTCOMES[name]
    unit = outcome.shown_unit(showing.system)
    number = float(units.quantity(value, outcome.unit).m_as(units.unit_of(unit)))
    number *= showing.rate if "money" in unit else 1.0
    return number_text(number, ".3g").replace("-", "−")
