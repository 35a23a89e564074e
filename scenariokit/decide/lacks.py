"""What cannot be had at all: a method that needs it is ruled out, whatever else speaks for it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from scenariokit import catalog
from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark
from scenariokit.scenario import Scenario


@dataclass(frozen=True)
class LackKind:
    """A question that a grower answers with yes or no, or by naming things.

    Parameters
    ----------
    id, label : str
        How it is called, and what a person reads.
    question : str
        What it asks of a grower.
    help : str
        What follows from it.
    names_things : bool
        Whether the answer is a list of names; else it is yes or no.
    """

    id: str
    label: str
    question: str
    help: str
    names_things: bool = False


LACKS: dict[str, LackKind] = {
    one.id: one
    for one in (
        LackKind("no_medium", mark("No growing medium to be had"),
                 mark("Is there no growing medium to be had?"),
                 mark("Only methods without any are left; wrapping paper and sheets are no medium.")),
        LackKind("missing_components", mark("Parts of a growing medium that cannot be had"),
                 mark("Which of these can you not get?"),
                 mark("Methods whose mix holds one of them are ruled out; another mix may mend that."),
                 names_things=True),
        LackKind("no_held_level", mark("No float valve, so no held level"),
                 mark("Is there no water line or float valve to hold the level?"),
                 mark("Methods are left whose tank is filled by hand or whose level only falls.")),
        LackKind("no_filling_by_hand", mark("Nobody to fill by hand"),
                 mark("Is there nobody to fill a tank by hand during the season?"),
                 mark("Methods filled by hand every few days are ruled out. A level that only falls may "
                      "need a refill too: see the limit on days between fills.")),
        LackKind("no_electricity", mark("No electricity"),
                 mark("Is there no electricity?"),
                 mark("Rules nothing out: no method here has a pump, a lamp or a heater.")),
    )
}  # fmt: skip
"""What may be lacking, by id."""


@dataclass(frozen=True)
class Lack:
    """Something that a method needs and that cannot be had.

    Parameters
    ----------
    kind : LackKind
        What is lacking.
    needs : tuple of str
        What the method needs of it, as a person reads it.
    """

    kind: LackKind
    needs: tuple[str, ...]


def read_lacks(given: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return what is lacking, by id of `LACKS`, with the names given; what is not lacking left out.

    Parameters
    ----------
    given : mapping
        Id of `LACKS` to true or false, or to ids of media for ``missing_components``.

    Raises
    ------
    ArgumentError
        If there is no such id, an answer is of another kind, or a name is no medium.

    Notes
    -----
    Names are looked up among the media of the catalogue, so that a slip of the
    pen does not pass as something that nobody needs. A person's own media are
    known to `lacks` by the methods that hold them.
    """
    return _read(given, set(catalog.media()))


def _read(given: Mapping[str, Any], media: Collection[str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    problems = []
    for name, answer in given.items():
        if name not in LACKS:
            problems.append(Problem(name, "", "is nothing that can be lacking", ", ".join(LACKS),
                                    kind="range"))  # fmt: skip
        elif not LACKS[name].names_things:
            if not isinstance(answer, bool):
                problems.append(Problem(name, f"{answer}", "is no answer", "True or False",
                                        kind="range"))  # fmt: skip
            elif answer:
                found[name] = ()
        else:
            names = (answer,) if isinstance(answer, str) else tuple(answer)
            unknown = [one for one in names if one not in media]
            if unknown:
                problems.append(Problem(name, ", ".join(map(str, unknown)), "is no growing medium",
                                        ", ".join(sorted(media)), kind="range"))  # fmt: skip
            elif names:
                found[name] = names
    if problems:
        raise argument_error(problems, "lacks")
    return found


def lacks(scenario: Scenario, given: Mapping[str, Any]) -> tuple[Lack, ...]:
    """Return what a method needs of what cannot be had; empty if it can do without.

    Parameters
    ----------
    scenario : Scenario
        Of the method.
    given : mapping
        Id of `LACKS` to true or false, or to ids of media for ``missing_components``.

    Raises
    ------
    ArgumentError
        As in `read_lacks`.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> pots = scenario_for("wedge_pots")
    >>> [one.needs for one in lacks(pots, {"missing_components": ["coir_pith"]})]
    [('Coir pith',)]
    """
    own = {item for item, _ in scenario.method.medium.components} if scenario.method.medium else ()
    known = _read(given, {*catalog.media(), *own})
    rows = ((LACKS[name], _NEEDS[name](scenario, names)) for name, names in known.items())
    return tuple(Lack(kind, needs) for kind, needs in rows if needs)


def _medium(scenario: Scenario, _names: tuple[str, ...]) -> tuple[str, ...]:
    medium = scenario.method.medium
    return () if medium is None else (medium.label,)


def _components(scenario: Scenario, names: tuple[str, ...]) -> tuple[str, ...]:
    medium, labels = scenario.method.medium, catalog.media()
    used = () if medium is None else medium.components
    return tuple(
        labels[item].label if item in labels else item
        for item, share in used
        if item in names and share > 0
    )


def _held_level(scenario: Scenario, _names: tuple[str, ...]) -> tuple[str, ...]:
    return (mark("a float valve"),) if scenario.method.level.held else ()


def _filling(scenario: Scenario, _names: tuple[str, ...]) -> tuple[str, ...]:
    by_hand = scenario.method.level.regime == "hand-filled"
    return (mark("filling by hand"),) if by_hand else ()


def _nothing(_scenario: Scenario, _names: tuple[str, ...]) -> tuple[str, ...]:
    return ()


_NEEDS: dict[str, Callable[[Scenario, tuple[str, ...]], tuple[str, ...]]] = {
    "no_medium": _medium,
    "missing_components": _components,
    "no_held_level": _held_level,
    "no_filling_by_hand": _filling,
    "no_electricity": _nothing,
}
