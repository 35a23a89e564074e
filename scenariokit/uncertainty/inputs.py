"""Which numbers of a scenario are uncertain, and what drives several of them together."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.scenario import Scenario, leaves
from scenariokit.uncertainty.leaf_paths import leaf_parameters
from scenariokit.uncertainty.spread import Spread


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
        What the spread rests on.
    """

    path: str
    spread: Spread
    relative: bool = False
    method: str = ""
    cause: str = ""
    strength: float = 0.0
    label: str = ""
    note: str = ""

    def words(self) -> str:
        """Return what is thought of it, in plain words.

        Examples
        --------
        >>> from scenariokit.uncertainty import Uncertain, pert
        >>> Uncertain("prices.labour_price", pert(0.8, 1, 1.3), relative=True).words()
        'Cost of an hour of labour: most likely 1, from 0.8 to 1.3 times what is stated'
        """
        label, spread = name_of(self), self.spread.words()
        if self.relative:
            return tr("{label}: {spread} times what is stated", label=label, spread=spread)
        return f"{label}: {spread}"


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
        If a cause stands twice, an input names one that is not listed, its
        strength is not from -1 to 1 or stands without a cause, or a number
        stands twice.

    Notes
    -----
    The score of an input is s c + √(1 - s²) e with its cause c, its strength s
    and a part e of its own, all standard normal and independent (a Gaussian
    copula with one factor for each cause). Two inputs of one cause then have
    scores with the correlation s₁ s₂; inputs of different causes have none.
    Any such choice is a correlation that can be, unlike a table of them
    filled in by hand. Ties in the far tails are weak, as of all Gaussian
    copulas: a disaster that strikes everything at once needs a strength near 1.
    """

    inputs: tuple[Uncertain, ...]
    causes: tuple[Cause, ...] = ()
    drivers: tuple[str, ...] = field(init=False, compare=False)
    """What a person reads for each independent driver: causes, then each input's own part."""

    def __post_init__(self) -> None:
        """Check, and name the drivers: causes first, then each input's own part."""
        object.__setattr__(self, "inputs", tuple(self.inputs))
        object.__setattr__(self, "causes", tuple(self.causes))
        problems = [*self._bad_causes(), *self._twice()]
        if problems:
            raise argument_error(problems, "Uncertainty")
        names = [(tr(one.label or one.name), one.name) for one in self.causes]
        names += [(name_of(one), f"{one.path} {one.method}".strip()) for one in self.inputs]
        often = Counter(name for name, _ in names)
        unlike = (name if often[name] == 1 else f"{name} ({where})" for name, where in names)
        object.__setattr__(self, "drivers", tuple(unlike))

    def _bad_causes(self) -> list[Problem]:
        known = [one.name for one in self.causes]
        found = [
            Problem("causes", name or repr(name), tr("needs a name of its own"), kind="range")
            for name, count in Counter(known).items()
            if count > 1 or not name
        ]
        for one in self.inputs:
            where = tr("strength of {path}", path=one.path)
            if one.cause and one.cause not in known:
                field_at = tr("cause of {path}", path=one.path)
                found.append(Problem(field_at, one.cause, tr("is no cause that is listed"),
                                     ", ".join(known) or tr("none is listed"), kind="range"))  # fmt: skip
            if not -1 <= one.strength <= 1:
                reason = tr("is no correlation")
                found.append(Problem(where, f"{one.strength:g}", reason, "-1 to 1", kind="range"))
            elif one.strength and not one.cause:
                reason = tr("stands without a cause")
                found.append(Problem(where, f"{one.strength:g}", reason, "0", kind="range"))
        return found

    def _twice(self) -> list[Problem]:
        """Return the numbers that are given more than once for a method."""
        counted = Counter((one.path, one.method) for one in self.inputs)
        return [
            Problem("path", f"{path}{f' of {method}' if method else ''}",
                    tr("is given twice for the same method"), tr("each number once"), kind="range")
            for (path, method), count in counted.items()
            if count > 1 or (method and (path, "") in counted)
        ]  # fmt: skip

    def cause_of(self, one: Uncertain) -> int | None:
        """Return the number of the cause of an input, or None."""
        names = [cause.name for cause in self.causes]
        return names.index(one.cause) if one.cause else None

    def for_method(self, method: str) -> list[tuple[int, Uncertain]]:
        """Return the inputs that a method has, with their numbers."""
        return [
            (number, one) for number, one in enumerate(self.inputs) if one.method in ("", method)
        ]

    def correlations(self) -> Any:
        """Return the correlations of the inputs' normal scores, one row and column an input.

        Examples
        --------
        >>> from scenariokit.uncertainty import Cause, Uncertain, Uncertainty, pert
        >>> often = {"relative": True, "cause": "market"}
        >>> found = Uncertainty(
        ...     (
        ...         Uncertain("prices.produce_price", pert(0.8, 1, 1.3), strength=0.8, **often),
        ...         Uncertain("prices.water_price", pert(0.8, 1, 1.3), strength=-0.5, **often),
        ...     ),
        ...     (Cause("market", "How dear the market is"),),
        ... )
        >>> float(found.correlations()[0, 1])
        -0.4
        """
        strengths = np.array([one.strength for one in self.inputs])
        together = np.array([[a.cause == b.cause for b in self.inputs] for a in self.inputs])
        size = len(self.inputs)
        found = np.where(together.reshape(size, size), np.multiply.outer(strengths, strengths), 0.0)
        found[np.diag_indices(size)] = 1.0
        return found

    def assumptions(self) -> tuple[str, ...]:
        """Return what is assumed, a line for each input: its spread, its cause, what it rests on."""
        labels = {one.name: tr(one.label or one.name) for one in self.causes}
        lines = []
        for one in self.inputs:
            line = one.words()
            if one.strength:
                line = tr(
                    "{input}; moves with “{cause}” (correlation {correlation:g})",
                    input=line,
                    cause=labels[one.cause],
                    correlation=one.strength,
                )
            lines.append(f"{line}; {tr(one.note)}" if one.note else line)
        return tuple(lines)


def name_of(one: Uncertain) -> str:
    """Return what a person reads for an input: its label, or the parameter's own."""
    if one.label:
        return tr(one.label)
    described = leaf_parameters().get(one.path)
    name = one.path if described is None else tr(described.label)
    return f"{name} ({one.method})" if one.method else name


def labelled(path: str, scenario: Scenario) -> str:
    """Return the label of the parameter at a path of a scenario, or the path itself.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> labelled("prices.labour_price", scenario_for("medium_bag"))
    'Cost of an hour of labour'
    """
    known = {where: described.label for where, described, _ in leaves(scenario)}
    return tr(known[path]) if path in known else path
