"""The tanks of a trial and the sections that they are parted into."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import Expect, checked_floats, with_unit
from scenariokit.trials.planning.names import is_name
from scenariokit.units import Quantity, QuantityLike

_SIDE = Expect("tank_side")


@dataclass(frozen=True)
class Tank:
    """One tank: its size, its sections and whose water it holds.

    Parameters
    ----------
    id : str
        Name of the tank, as it stands on a label.
    length, width : quantity
        Inner length and width of the water surface, 1 cm or more. Sections lie
        side by side along the length, all of one size.
    sections : int
        Parts of the tank that each are one plot, 1 or more.
    reservoir : str
        Name of the body of water, where several tanks share one; the tank's own
        if left out.
    watertight : bool
        Whether walls between the sections part the water too, so that every
        section has a reservoir of its own.

    Raises
    ------
    ArgumentError
        If a size, the number of sections or a name cannot be. All problems at
        once.

    Examples
    --------
    >>> from scenariokit.trials.planning.tanks import Tank
    >>> tank = Tank("T1", "240 cm", "60 cm", sections=4)
    >>> f"{tank.section_area:.2f~P}"
    '0.36 m²'
    """

    id: str
    length: QuantityLike
    width: QuantityLike
    sections: int = 1
    reservoir: str = ""
    watertight: bool = False

    def __post_init__(self) -> None:
        """Check the tank and keep its sides in cm."""
        problems = [*_name_problems(self), *_section_problems(self)]
        if problems:
            raise argument_error(problems, f"tank {self.id}")
        sides = checked_floats(
            f"tank {self.id}", {"length": (self.length, _SIDE), "width": (self.width, _SIDE)}
        )
        for side, value in sides.items():
            object.__setattr__(self, side, with_unit(float(value), "cm"))

    @property
    def area(self) -> Quantity:
        """Water surface of the tank [m²]."""
        return (self.length * self.width).to(units.unit_of("m^2"))

    @property
    def section_area(self) -> Quantity:
        """Water surface of one section [m²]."""
        return self.area / self.sections

    def reservoir_of(self, section: int) -> str:
        """Return the name of the body of water that feeds section 1, 2 ..."""
        own = self.reservoir or self.id
        return f"{own} section {section}" if self.watertight and self.sections > 1 else own


def _name_problems(tank: Tank) -> list[Problem]:
    return [
        Problem(field, repr(name), tr("is not a name"), tr("text without blanks around it"), "'T1'")
        for field, name, optional in (
            ("id", tank.id, False),
            ("reservoir", tank.reservoir, True),
        )
        if not (optional and name == "") and not is_name(name)
    ]


def _section_problems(tank: Tank) -> list[Problem]:
    count = tank.sections
    if isinstance(count, int) and not isinstance(count, bool) and count >= 1:
        return []
    reason = tr("is not a number of sections")
    return [Problem("sections", repr(count), reason, "1, 2, 3 ...", "4", kind="range")]


def equal_tanks(
    count: int, length: QuantityLike, width: QuantityLike, *, sections: int = 1, prefix: str = "T"
) -> tuple[Tank, ...]:
    """Return tanks of one size, named and numbered.

    Parameters
    ----------
    count : int
        How many, 1 or more.
    length, width : quantity
        Inner length and width of the water surface, 1 cm or more.
    sections : int
        Sections in each, 1 or more.
    prefix : str
        What stands before the number.

    Returns
    -------
    tuple of Tank

    Raises
    ------
    ArgumentError
        If there is no tank, or a size cannot be.

    Examples
    --------
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> [tank.id for tank in equal_tanks(3, "120 cm", "60 cm")]
    ['T1', 'T2', 'T3']
    """
    if isinstance(count, bool) or not isinstance(count, int) or count < 1:
        problem = Problem("count", repr(count), tr("is not a number of tanks"), "1, 2, 3 ...", "6")
        raise argument_error([problem], "equal_tanks")
    digits = len(str(count))
    return tuple(
        Tank(f"{prefix}{number:0{digits}}", length, width, sections)
        for number in range(1, count + 1)
    )


def distinct_tanks(tanks: Iterable[Tank]) -> tuple[Tank, ...]:
    """Return the tanks, or refuse two of one name.

    Raises
    ------
    ArgumentError
        If two tanks have one name.
    """
    kept = tuple(tanks)
    names = [tank.id for tank in kept]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        problems = [
            Problem("tanks", name, tr("names two tanks"), tr("a name for each")) for name in twice
        ]
        raise argument_error(problems, "tanks")
    return kept
