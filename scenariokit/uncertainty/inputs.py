"""Which numbers of a scenario are uncertain, and what drives several of them together."""

from __future__ import annotations

from dataclasses import dataclass, field

from scenariokit.errors import Problem, argument_error
from scenariokit.scenario import Scenario, leaves
from scenariokit.uncertainty.spreads import Spread


@dataclass(frozen=True)
class Cause:
    """Something that moves several inputs at once, such as a season or a market.

    Parameters
    ----------
    name, label : str
        How inputs name it, and what a person reads.
    """

    name: str
    label: str


@dataclass(frozen=True)
class Uncertain:
    """One uncertain number of scenarios.

    Parameters
    ----------
    path : str
        Where it stands in a scenario, for example ``"prices.produce_price"``.
    spread : Spread
        What is thought of it, in a unit of its dimension; or, if `relative`, a
        plain factor.
    relative : bool
        Whether the spread is a factor on the scenario's own value.
    method : str
        Id of the one method that it belongs to. Empty for a number that all
        methods share: they then get the same draw, and what differs between
        them is the methods alone.
    cause : str
        Name of the cause that moves it too; empty for none.
    strength : float
        Correlation of its normal score with the cause, -1 to 1.
    label : str
        What a person reads; the parameter's own label if left out.
    note : str
        Where the spread comes from.
    """

    path: str
    spread: Spread
    relative: bool = False
    method: str = ""
    cause: str = ""
    strength: float = 0.0
    label: str = ""
    note: str = ""


@dataclass(frozen=True)
class Uncertainty:
    """All uncertain numbers of a comparison.

    Parameters
    ----------
    inputs : tuple of Uncertain
        The numbers; a path and method may stand once only.
    causes : tuple of Cause
        What drives several of them.

    Raises
    ------
    ArgumentError
        If an input names a cause that there is not, its strength is not from
        -1 to 1 or stands without a cause, or a number stands twice.

    Notes
    -----
    The score of an input is s c + sqrt(1 - s²) e with its cause c, its
    strength s and a part e of its own, all standard normal. Two inputs of one
    cause then have the correlation s1 s2 of their scores (a Gaussian copula
    with one factor for each cause).
    """

    inputs: tuple[Uncertain, ...]
    causes: tuple[Cause, ...] = ()
    drivers: tuple[str, ...] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        """Check, and number the drivers: causes first, then each input's own part."""
        problems = [*self._bad_causes(), *self._twice()]
        if problems:
            raise argument_error(problems, "Uncertainty")
        own = tuple(name_of(one) for one in self.inputs)
        object.__setattr__(self, "drivers", (*(one.label for one in self.causes), *own))

    def _bad_causes(self) -> list[Problem]:
        known = [one.name for one in self.causes]
        found = []
        for one in self.inputs:
            where = f"{one.path}.strength"
            if one.cause and one.cause not in known:
                found.append(Problem(f"{one.path}.cause", one.cause, "is no cause that is listed",
                                     ", ".join(known) or "none is listed", kind="range"))  # fmt: skip
            if not -1 <= one.strength <= 1:
                reason = "is no correlation"
                found.append(Problem(where, f"{one.strength:g}", reason, "-1 to 1", kind="range"))
            if one.strength and not one.cause:
                reason = "stands without a cause"
                found.append(Problem(where, f"{one.strength:g}", reason, "0", kind="range"))
        return found

    def _twice(self) -> list[Problem]:
        """Return the numbers that are given more than once."""
        found, seen = [], set()
        for one in self.inputs:
            shared = (one.path, "")
            if (one.path, one.method) in seen or (one.method and shared in seen):
                reason = "is given twice for the same method"
                found.append(Problem("path", one.path, reason, "each number once", kind="range"))
            seen.add((one.path, one.method))
        return found

    def cause_of(self, one: Uncertain) -> int | None:
        """Return the number of the cause of an input, or None."""
        names = [cause.name for cause in self.causes]
        return names.index(one.cause) if one.cause else None

    def for_method(self, method: str) -> list[tuple[int, Uncertain]]:
        """Return the inputs that a method has, with their numbers."""
        return [
            (number, one) for number, one in enumerate(self.inputs) if one.method in ("", method)
        ]


def name_of(one: Uncertain) -> str:
    """Return what a person reads for an input."""
    return one.label or one.path


def labelled(path: str, scenario: Scenario) -> str:
    """Return the label of the parameter at a path of a scenario, or the path itself.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> labelled("prices.labour_price", scenario_for("medium_bag"))
    'Cost of an hour of labour'
    """
    known = {where: described.label for where, described, _ in leaves(scenario)}
    return known.get(path, path)
