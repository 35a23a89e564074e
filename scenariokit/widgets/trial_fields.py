"""The controls of the trial desk: which there are, and what stands in them."""

from __future__ import annotations

from typing import Any

from scenariokit.language import mark, tr
from scenariokit.trials.meta import MethodOverStudies
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.widgets.field_panel import choice_field, many_field
from scenariokit.widgets.trial_state import ALL_STUDIES, DEMOS, OWN, TrialState
from scenariokit.widgets.wording import language_field, language_value

DESIGN_OPTIONS = [
    ("auto", mark("guess it from the records")),
    ("randomised", mark("drawn freely (completely randomised)")),
    ("blocks", mark("drawn in blocks")),
    ("latin", mark("Latin square: rows and columns")),
    ("split", mark("split plot: whole tanks and their parts")),
]


def trial_fields(state: TrialState) -> list[dict[str, Any]]:
    """Return the controls that the records and choices call for."""
    found = state.found
    sources = [(key, tr(label)) for key, (label, _) in DEMOS.items()]
    if state.own is not None:
        sources.append((OWN, tr("Yours: {records}", records=state.own.label)))
    usual = [("", tr("none")), *((level, level.replace(":", " · ")) for level in state.levels())]
    fields = [
        choice_field(
            "source", tr("Records"), sources, help=tr("Invented ones, or your own files.")
        ),
        choice_field(
            "compare",
            tr("Compare"),
            [(key, tr(words)) for key, words in state.comparisons().items()],
        ),
    ]
    if len(state.studies()) > 1:
        studies = [(name, name) for name in state.studies()]
        fields.append(
            choice_field("study", tr("Study"), [(ALL_STUDIES, tr("all together")), *studies])
        )
    if isinstance(found, StudiesSummary):
        usual = [("", tr("most common: {level}", level=found.common)), *usual[1:]]
        levels = [(one.method, one.method) for one in found.over]
        fields.append(choice_field("forest", tr("Picture of"), levels))
    else:
        fields.append(
            choice_field("design", tr("Design"), [(key, tr(words)) for key, words in DESIGN_OPTIONS],
                         help=tr("How the plots were laid out. A file cannot tell whether lots were drawn: choose "
"where you know."))
        )  # fmt: skip
    fields.append(
        choice_field("control", tr("The usual one"), usual,
                     help=tr("All others are held against it. Choose it before you look."))
    )  # fmt: skip
    if state.loaded.has_occupied:
        fields.append(
            choice_field("per", tr("Yield per"), [("tank", tr("area of water")),
                                              ("occupied", tr("area taken up in the room"))])
        )  # fmt: skip
    if state.can_temper:
        fields.append(
            choice_field("temper", tr("Hear the other studies"),
                         [("no", tr("no, this trial alone")), ("yes", tr("yes, as a named prior"))],
                         help=tr("Their pooled difference draws that of single plots towards it. The answer is worth "
"what those trials are worth."))
        )  # fmt: skip
    systems = [("metric", tr("metric")), ("us", tr("US customary"))]
    fields += [choice_field("system", tr("Units"), systems), language_field()]
    varieties = state.varieties()
    if len(varieties) > 1:
        fields.append(many_field("varieties", tr("Varieties"), [(one, one) for one in varieties]))
    return fields


def trial_values(state: TrialState) -> dict[str, Any]:
    """Return what stands in the controls."""
    choices, found = state.choices, state.found
    values = {
        "source": state.source, "compare": choices.compare, "study": choices.study,
        "design": choices.design, "control": choices.control, "per": choices.per,
        "system": choices.system, "temper": "yes" if choices.temper else "no",
        "varieties": list(choices.varieties or state.varieties()), "language": language_value(),
    }  # fmt: skip
    if isinstance(found, StudiesSummary):
        values["forest"] = pictured(state, found).method
    return values


def pictured(state: TrialState, found: StudiesSummary) -> MethodOverStudies:
    """Return the level whose studies are drawn: the one chosen, or that of most studies."""
    wanted = state.choices.forest
    ranked = sorted(found.over, key=lambda one: (one.method != wanted, -len(one.rows)))
    return ranked[0]
