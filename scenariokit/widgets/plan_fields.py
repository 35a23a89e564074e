"""The controls of the planner: their descriptions, their values, and what they set."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scenariokit import catalog, units
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.parameters import Parameter
from scenariokit.widgets.field_panel import (
    choice_field,
    from_shown,
    many_field,
    number_field,
    range_field,
    text_field,
    to_shown,
)
from scenariokit.widgets.plan_state import PlanState
from scenariokit.widgets.wording import language_field, language_value

DESIGNS = [
    ("blocks", mark("blocks: each holds everything once")),
    ("randomised", mark("drawn freely over all tanks")),
    ("latin_square", mark("Latin square: rows and columns")),
    ("split_plot", mark("split plot: method per tank, variety per section")),
]
COMPARED = {
    "treatment": mark("methods"),
    "variety": mark("varieties"),
    "combination": mark("methods within varieties"),
}
NUMBERS = (2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 16, 20, 25)
SHARES = {
    "difference": ("relative_difference", ""),
    "cv": ("coefficient_of_variation", mark("Spread of like plots (CV)")),
    "power": ("power", ""),
    "alpha": ("significance_level", ""),
}
COUNTS = {"tank_count": "tank_count", "tank_sections": "tank_sections"}
SIDES = {
    "tank_length": ("tank_side", mark("Length of a tank")),
    "tank_width": ("tank_side", mark("Width of a tank")),
    "walkway": ("walkway", ""),
}
SURE, TANKS, BOOK, COST = (
    mark("How sure?"),
    mark("Tanks"),
    mark("Draw and field book"),
    mark("Cost"),
)


def pick_fields(state: PlanState) -> list[dict[str, Any]]:
    """Return the controls above the results: what is compared and how."""
    fields = [
        many_field("chosen", tr("Methods"), state.available(),
                   help=tr("Growing methods with a tank that grow potatoes.")),
        text_field("varieties", tr("Varieties, one on each line"), rows=3,
                   help=tr("With several, every method is combined with every variety.")),
        choice_field("design", tr("Design"), [(key, tr(words)) for key, words in DESIGNS],
                     help=tr("Blocks are groups of tanks alike in light and wind. A Latin square evens out two "
"directions. Drawn freely: for tanks that are all alike.")),
        choice_field("compare", tr("The difference is between"),
                     [(key, tr(COMPARED[key])) for key in state.comparable or ["treatment"]]),
        choice_field("replicates", tr("Replicates"),
                     [("needed", tr("as many as the difference needs")),
                      ("room", tr("as many as the tanks hold")),
                      *((str(number), str(number)) for number in _numbers(state))],
                     help=tr("Plots of each method, or of each method with each variety.")),
        choice_field("price_list", tr("Price list"),
                     [(key, tr(one.label)) for key, one in catalog.price_lists().items()],
                     help=tr("Invented lists.")),
        choice_field("system", tr("Units"), [("metric", tr("metric")), ("us", tr("US customary"))]),
        language_field(),
    ]  # fmt: skip
    return fields


def _numbers(state: PlanState) -> list[int]:
    """Return the replicates to choose from, those of an opened plan among them."""
    own = [state.replicates] if isinstance(state.replicates, int) else []
    return sorted({*NUMBERS, *own})


def pick_values(state: PlanState) -> dict[str, Any]:
    """Return the values of `pick_fields`."""
    return {
        "chosen": list(state.chosen),
        "varieties": "\n".join(state.varieties),
        "design": state.design,
        "compare": state.compared or (state.comparable or ["treatment"])[0],
        "replicates": str(state.replicates),
        "price_list": state.price_list,
        "system": state.system,
        "language": language_value(),
    }


def control_fields(state: PlanState) -> list[dict[str, Any]]:
    """Return the controls beside the results: numbers, tanks, seed, names."""
    currency = state.showing.currency
    fields = [
        range_field(key, parameter(name), topic=tr(SURE), label=tr(label))
        for key, (name, label) in SHARES.items()
    ]
    fields += [range_field(key, parameter(name), topic=tr(TANKS)) for key, name in COUNTS.items()]
    fields += [
        range_field(key, parameter(name), system=state.system, topic=tr(TANKS), label=tr(label))
        for key, (name, label) in SIDES.items()
    ]
    fields += [
        choice_field("watertight", tr("Water of the sections"),
                     [("no", tr("shared within a tank")), ("yes", tr("parted by watertight walls"))],
                     topic=tr(TANKS),
                     help=tr("Plots that share water share its faults and count as one.")),
        number_field("seed", tr("Seed of the draw"), "", topic=tr(BOOK), digits=0,
                     help=tr("The same seed always draws the same map. Write it down.")),
        text_field("study_id", tr("Short name of the trial"), topic=tr(BOOK)),
        text_field("planting_date", tr("Planting date"), date=True, topic=tr(BOOK)),
        choice_field("cost", tr("Cost of a crop"),
                     [("list", tr("from the price list")), ("own", tr("my own number"))], topic=tr(COST)),
    ]  # fmt: skip
    if state.own_cost is not None:
        described = parameter("cost_per_area")
        fields.append(
            range_field(
                "own_cost", described, system=state.system, currency=currency, topic=tr(COST)
            )
        )
    return fields


def control_values(state: PlanState) -> dict[str, Any]:
    """Return the values of `control_fields`."""
    found: dict[str, Any] = {key: getattr(state, key) for key in (*SHARES, *COUNTS)}
    found |= {
        key: _shown(getattr(state, key), parameter(name), state) for key, (name, _) in SIDES.items()
    }
    found |= {
        "watertight": "yes" if state.watertight else "no",
        "seed": state.seed,
        "study_id": state.study_id,
        "planting_date": state.planting_date,
        "cost": "list" if state.own_cost is None else "own",
    }
    if state.own_cost is not None:
        found["own_cost"] = _shown(state.own_cost, parameter("cost_per_area"), state)
    return found


def _shown(value: Any, described: Parameter, state: PlanState) -> float:
    own = float(units.quantity(value).m_as(units.unit_of(described.unit)))
    return to_shown(own, described, state.system)


def taken_over(values: Mapping[str, Any], state: PlanState) -> dict[str, Any]:
    """Return the fields of a state that moved controls set.

    Parameters
    ----------
    values : mapping
        Values of controls in the units shown.
    state : PlanState
        In whose units they are.
    """
    found: dict[str, Any] = {}
    for key, value in values.items():
        if key == "language":
            continue  # of the page, not of the plan
        if key == "chosen":
            found["chosen"] = tuple(one for one, _ in state.available() if one in value)
        elif key == "varieties":
            found["varieties"] = tuple(line.strip() for line in value.split("\n") if line.strip())
        elif key == "replicates":
            found["replicates"] = int(value) if value.isdigit() else value
        elif key == "watertight":
            found["watertight"] = value == "yes"
        elif key == "cost":
            found["own_cost"] = None if value == "list" else _usual_cost()
        elif key in (*COUNTS, "seed"):
            found[key] = int(value) if value == int(value) else value
        elif key in SIDES:
            found[key] = from_shown(value, parameter(SIDES[key][0]), state.system)
        elif key == "own_cost":
            found["own_cost"] = from_shown(value, parameter("cost_per_area"), state.system)
        else:
            found[key] = value
    return found


def _usual_cost() -> Any:
    described = parameter("cost_per_area")
    return units.quantity(described.default, described.unit)
