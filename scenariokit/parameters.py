"""A parameter or an outcome is described once; everything else reads that description."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scenariokit.language import tr

UnitSystem = Literal["metric", "us"]
Direction = Literal["higher", "lower", "neither"]


@dataclass(frozen=True)
class Parameter:
    """One quantity that a person may set.

    From this one description come the check and its message, the slider and
    its unit, the column of a template and the entry in the glossary.

    Parameters
    ----------
    name : str
        The name used everywhere, in full words.
    symbol : str
        The symbol used in equations.
    label : str
        What a person reads beside the control.
    unit, us_unit : str
        The unit inside scenariokit, and the US customary one shown on request.
    minimum, maximum : float or None
        What is possible at all, in `unit`, both ends allowed.
    slider : tuple of float
        Lowest, highest and step of a slider, in `unit`: the usual range.
    default : float
        The usual value, in `unit`.
    help : str
        What it means, in one or two sentences.
    source : str
        Where the default or the range comes from.
    topic : str
        The heading under which a control stands.
    """

    name: str
    symbol: str
    label: str
    unit: str
    minimum: float | None
    maximum: float | None
    slider: tuple[float, float, float]
    default: float
    help: str
    source: str
    topic: str = ""
    us_unit: str = ""

    def shown_unit(self, system: UnitSystem) -> str:
        """Return the unit in which a person of that unit system reads it."""
        return self.us_unit if system == "us" and self.us_unit else self.unit

    @property
    def allowed(self) -> str:
        """The allowed range in words."""
        unit = f" {self.unit}" if self.unit else ""
        if self.minimum is not None and self.maximum is not None:
            return tr("{low:g} to {high:g}{unit}", low=self.minimum, high=self.maximum, unit=unit)
        if self.minimum is not None:
            return tr("{low:g}{unit} or more", low=self.minimum, unit=unit)
        if self.maximum is not None:
            return tr("{high:g}{unit} or less", high=self.maximum, unit=unit)
        return tr("any number of {unit}", unit=self.unit) if unit else tr("any number")

    @property
    def example(self) -> str:
        """How to write the usual value."""
        if not self.unit:
            return f"{self.default:g}"
        return f'"{self.default:g} {self.unit}"'


@dataclass(frozen=True)
class Outcome:
    """One quantity that `evaluate` gives back.

    Parameters
    ----------
    name, label : str
        Its name in full words and what a person reads.
    unit, us_unit : str
        The unit inside scenariokit, and the US customary one shown on request.
    better : {'higher', 'lower', 'neither'}
        Which direction a grower usually prefers.
    group : str
        The heading under which it stands.
    formula : str
        How it is found, in words.
    digits : int
        Decimal places that mean something to a reader.
    """

    name: str
    label: str
    unit: str
    better: Direction
    group: str
    formula: str
    us_unit: str = ""
    digits: int = 2

    def shown_unit(self, system: UnitSystem) -> str:
        """Return the unit in which a person of that unit system reads it."""
        return self.us_unit if system == "us" and self.us_unit else self.unit
