"""The controls of the trial desk: which there are, and what stands in them."""

from __future__ import annotations

from typing import Any

from scenariokit.trials.meta import MethodOverStudies
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.widgets.field_panel import choice_field, many_field
from scenariokit.widgets.trial_state import ALL_STUDIES, DEMOS, OWN, TrialState

DESIGN_OPTIONS = [
    ("auto", "guess it from the records"),
    ("randomised", "drawn freely (completely randomised)"),
    ("blocks", "drawn in blocks"),
    ("latin", "Latin square: rows and columns"),
    ("split", "split plot: whole tanks and their parts"),
]


def trial_fields(state: TrialState) -> list[dict[str, Any]]:
    """Return the controls that the records and choices call for."""
    found = state.found
    sources = [(key, label) for key, (label, _) in DEMOS.items()]
    if state.own is not None:
        sources.append((OWN, f"Yours: {state.own.label}"))
    usual = [("", "none"), *((level, level.replace(":", " · ")) for level in state.levels())]
    fields = [
        choice_field("source", "Records", sources, help="Invented ones, or your own files."),
        choice_field("compare", "Compare", list(state.comparisons().items())),
    ]
    if len(state.studies()) > 1:
        studies = [(name, name) for name in state.studies()]
        fields.append(choice_field("study", "Study", [(ALL_STUDIES, "all together"), *studies]))
    if isinstance(found, StudiesSummary):
        usual = [("", f"most common: {found.common}"), *usual[1:]]
        levels = [(one.method, one.method) for one in found.over]
        fields.append(choice_field("forest", "Picture of", levels))
    else:
        fields.append(
            choice_field("design", "Design", DESIGN_OPTIONS,
                         help="How the plots were laid out. A file cannot tell whether lots "
                         "were drawn: choose where you know.")
        )  # fmt: skip
    fields.append(
        choice_field("control", "The usual one", usual,
                     help="All others are held against it. Choose it before you look.")
    )  # fmt: skip
    if state.loaded.has_occupied:
        fields.append(
            choice_field("per", "Yield per", [("tank", "area of water"),
                                              ("occupied", "area taken up in the room")])
        )  # fmt: skip
    if state.can_temper:
        fields.append(
            choice_field("temper", "Hear the other studies",
                         [("no", "no, this trial alone"), ("yes", "yes, as a named prior")],
                         help="Their pooled difference draws that of single plots towards it. "
                         "The answer is worth what those trials are worth.")
        )  # fmt: skip
    fields.append(choice_field("system", "Units", [("metric", "metric"), ("us", "US customary")]))
    varieties = state.varieties()
    if len(varieties) > 1:
        fields.append(many_field("varieties", "Varieties", [(one, one) for one in varieties]))
    return fields


def trial_values(state: TrialState) -> dict[str, Any]:
    """Return what stands in the controls."""
    choices, found = state.choices, state.found
    values = {
        "source": state.source, "compare": choices.compare, "study": choices.study,
        "design": choices.design, "control": choices.control, "per": choices.per,
        "system": choices.system, "temper": "yes" if choices.temper else "no",
        "varieties": list(choices.varieties or state.varieties()),
    }  # fmt: skip
    if isinstance(found, StudiesSummary):
        values["forest"] = pictured(state, found).method
    return values


def pictured(state: TrialState, found: StudiesSummary) -> MethodOverStudies:
    """Return the level whose studies are drawn: the one chosen, or that of most studies."""
    wanted = state.choices.forest
    ranked = sorted(found.over, key=lambda one: (one.method != wanted, -len(one.rows)))
    return ranked[0]
