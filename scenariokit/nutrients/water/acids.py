"""Acid against the alkalinity of source water: how much, what it brings, and how not to be hurt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from scenariokit.catalog.entries import load
from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.chemistry import ATOMIC_MASSES, atoms, formula_mass
from scenariokit.nutrients.water.acidity import remaining_alkalinity
from scenariokit.nutrients.water.hardness import alkalinity_equivalents
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

PROTONS: Mapping[str, float] = {"HNO3": 1, "H3PO4": 1, "H2SO4": 2, "C6H8O7": 2}
"""Hydrogen ions of a molecule near pH 5.8."""

STRONG_ACID_CAUTIONS = (
    mark(
        "Strong acid burns skin and eyes for life. Adults only, never with a class or with "
        "children near; goggles, nitrile gloves and apron on, running water within reach."
    ),
    mark(
        "Pour acid INTO water, slowly, stirring; never water into acid. Plastic vessels, no "
        "metal. Never near bleach or other chlorine products: the gas kills."
    ),
    mark("Add half the dose, stir, wait some minutes, measure pH, then go on in small steps."),
    mark(
        "Follow the maker's safety data sheet and local rules; they come before this text. "
        "On skin or in eyes: rinse with much water at once and get medical help."
    ),
)
GENTLE_ACID_CAUTIONS = (
    mark("Citric acid irritates eyes: goggles on. Fit for a class with an adult."),
    mark("Microbes eat it and the pH comes back within days: for showing, not for growing."),
    mark("Add half the dose, stir, wait some minutes, measure pH, then go on in small steps."),
)
PHOSPHORIC_LIMIT = 2.25 / 128 / 100 * 1000
"""mL/L: 2.25 US fl oz in 100 US gal."""
_PHOSPHORIC_CAUTION = mark(
    "More than 0.176 mL of phosphoric acid in a litre of water (2.25 fl oz in 100 US "
    "gal) brings more phosphorus than crops need (University of Massachusetts Extension, "
    "Adjusting alkalinity with acids): use another acid for a part of it."
)
_NITRIC_CAUTION = mark(
    "Nitric acid is nitrate feed too: the nitrogen it brings counts in the recipe."
)


@dataclass(frozen=True)
class Acid:
    """An acid as it stands in the bottle.

    Parameters
    ----------
    id, label : str
        Its name in tables, and what a person reads.
    formula : str
        Chemical formula of the pure acid.
    mass_percent : float
        Grams of pure acid in 100 g of what is in the bottle, above 0 to 100.
    density : float
        Kilograms in a litre of what is in the bottle.
    protons : float
        Hydrogen ions that a molecule gives near pH 5.8.
    brings : str, optional
        Content key that comes with it: N_nitrate, P or S.
    hazard : str, optional
        Short plain words of caution.

    Raises
    ------
    ArgumentError
        If a number is outside its range, or `brings` is not in the formula.

    Warnings
    --------
    The bottle's label and the maker's safety data sheet decide.

    Examples
    --------
    >>> Acid("own", "Nitric acid 38 %", "HNO3", 38, 1.235, 1, "N_nitrate").protons
    1
    """

    id: str
    label: str
    formula: str
    mass_percent: float
    density: float
    protons: float
    brings: str = ""
    hazard: str = ""

    def __post_init__(self) -> None:
        subject = f"acid {self.id}".rstrip()
        checked_floats(
            subject,
            {
                "mass_percent": (with_unit(self.mass_percent, "percent"), "acid_percent"),
                "density": (with_unit(self.density, "kg/L"), "acid_density"),
            },
        )
        if not 0 < self.protons <= 3:
            problem = Problem("protons", str(self.protons), tr("is outside"), tr("above 0 to 3"),
                              kind="range")  # fmt: skip
            raise argument_error([problem], subject)
        if self.brings and atoms(self.formula)[_element(self.brings)] == 0:
            reason = tr("is not in {formula}", formula=self.formula)
            raise argument_error([Problem("brings", self.brings, reason)], subject)

    @property
    def strong(self) -> bool:
        """Whether it is a mineral acid, not an organic one."""
        return atoms(self.formula)["C"] == 0


class AcidStrength(NamedTuple):
    """How much acid a litre of the bottle holds."""

    molarity: Any
    equivalents: Any


@dataclass(frozen=True)
class AcidDose:
    """How much acid to add, and what comes with it.

    Parameters
    ----------
    acid : Acid
        The acid.
    volume : quantity
        Of what is in the bottle [mL].
    equivalents : quantity
        Alkalinity taken away, as charge [mmol/L], the same number as meq/L.
    residual : quantity
        Alkalinity left, as CaCO3 [mg/L].
    adds : dict of str to quantity
        Content keys to what the acid brings to each litre [mg/L]; nitric acid
        under both ``N`` and ``N_nitrate``. Take it off the recipe.
    cautions : tuple of str
        What a person must read before opening the bottle.
    """

    acid: Acid
    volume: Quantity
    equivalents: Quantity
    residual: Quantity
    adds: dict[str, Quantity]
    cautions: tuple[str, ...]


def acid_from_row(row: Mapping[str, Any]) -> Acid:
    """Return an acid from a row of the catalogue.

    Parameters
    ----------
    row : mapping
        With the columns of ``acids``.

    Returns
    -------
    Acid

    Warnings
    --------
    Densities and hazard words of the catalogue are from memory: the label on
    the bottle decides.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> acid_from_row(catalog.load("acids")["sulfuric_35"]).protons
    2.0
    """
    names = (
        "id", "label", "formula", "mass_percent", "density", "protons", "brings", "hazard",
    )  # fmt: skip
    return Acid(**{name: row[name] for name in names})


@checked(
    {"molarity": "mol/L", "equivalents": "mol/L"},
    mass_percent="acid_percent",
    density="acid_density",
)
def acid_strength(mass_percent: Floats, density: Floats, acid: str) -> AcidStrength:
    """Return how much acid a litre of the bottle holds, c = 1000 rho w / M.

    Parameters
    ----------
    mass_percent : quantity
        w, share of pure acid by mass, for example ``"60 %"``.
    density : quantity
        rho, mass of a litre of what is in the bottle [kg/L].
    acid : str
        Formula: ``"HNO3"``, ``"H3PO4"``, ``"H2SO4"`` or ``"C6H8O7"``; M is its
        molar mass [g/mol].

    Returns
    -------
    AcidStrength
        ``molarity`` c [mol/L], and ``equivalents``, hydrogen ions given near pH
        5.8, in mol/L (eq/L): one of HNO3 and H3PO4, two of H2SO4 and of citric
        acid.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    ArgumentError
        If the acid is unknown.

    Warnings
    --------
    These are strong acids: goggles and gloves, acid into water.

    Examples
    --------
    >>> f"{acid_strength('60 %', '1.367 kg/L', 'HNO3').equivalents.m_as('mol/L'):.2f} eq/L"
    '13.02 eq/L'
    """
    if not isinstance(acid, str) or acid not in PROTONS:
        problem = Problem("acid", str(acid), tr("is not known"), ", ".join(PROTONS), 'acid="HNO3"')
        raise argument_error([problem], "acid_strength")
    molarity = _molarity(mass_percent, density, acid)
    return AcidStrength(molarity, molarity * PROTONS[acid])


def _molarity(mass_percent: Floats, density: Floats, formula: str) -> Floats:
    return 10 * density * mass_percent / formula_mass(formula)


def acid_for_alkalinity(
    alkalinity: QuantityLike,
    volume: QuantityLike,
    acid: str | Acid,
    *,
    residual: QuantityLike | None = None,
    target_ph: float | None = None,
) -> AcidDose:
    """Return the acid that takes away the alkalinity of a volume of water.

    v = V (alk - alk_r) / N, with alk = 2 Alk / M_CaCO3 and N = c x protons.

    Parameters
    ----------
    alkalinity : quantity
        Alk, as CaCO3 [mg/L], scalar or array, 0 or more.
    volume : quantity
        V, water to treat [L].
    acid : str or Acid
        Id in the catalogue, or an acid of one's own; N is what a litre of the
        bottle gives [eq/L].
    residual : quantity, optional
        Alkalinity to leave, as CaCO3 [mg/L]: 25 to 50 mg/L (0.5 to 1 meq/L)
        leave pH near 5.8 to 6.
    target_ph : float, optional
        Or the pH to come to, 4.5 to 8.3: leaves `remaining_alkalinity`. One of
        the two must be given.

    Returns
    -------
    AcidDose
        Zero where the water has no more alkalinity than is to be left.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    ArgumentError
        If the acid is unknown, or not just one of `residual` and `target_ph` is
        given.

    Notes
    -----
    Counts one hydrogen ion for each P of phosphoric acid, as near pH 5.8.
    Ammonium and what the roots take up move the pH later.

    Warnings
    --------
    Strong acid burns for life: adults only, never with a class. Acid INTO
    water; goggles, gloves; no metal; never near bleach. Half the dose first,
    stir, measure. The maker's safety data sheet and local rules come first.

    References
    ----------
    University of Massachusetts Extension, Adjusting alkalinity with acids (the
    limit for phosphoric acid). The arithmetic agrees within 3 % with a printed
    table of rates for nitric and sulfuric acid.

    Examples
    --------
    >>> dose = acid_for_alkalinity("150 mg/L", "1000 L", "nitric_60", residual="25.02 mg/L")
    >>> f"{dose.volume.m_as('mL'):.0f} mL, {dose.adds['N_nitrate'].m_as('mg/L'):.1f} mg/L N"
    '192 mL, 35.0 mg/L N'
    """
    chosen = _acid(acid)
    if (residual is None) == (target_ph is None):
        reason = tr("give just one of them: what to leave, or the pH to come to")
        problem = Problem("residual, target_ph", "", reason, "", 'residual="25 mg/L"')
        raise argument_error([problem], "acid_for_alkalinity")
    given: dict[str, tuple[Any, str | Expect]] = {
        "alkalinity": (alkalinity, "alkalinity"),
        "volume": (volume, "solution_volume"),
    }
    if residual is None:
        given["target_ph"] = (target_ph, "target_ph")
    else:
        given["residual"] = (residual, "alkalinity")
    found = checked_floats("acid_for_alkalinity", given)
    before = found["alkalinity"]
    if residual is None:
        left = remaining_alkalinity.floats(before, found["target_ph"])
    else:
        left = np.minimum(found["residual"], before)
    return _dose(chosen, before, left, found["volume"])


def _dose(acid: Acid, before: Floats, left: Floats, volume: Floats) -> AcidDose:
    """Return a dose from plain alkalinities [mg/L] and litres."""
    taken = alkalinity_equivalents.floats(before - left)
    molarity = _molarity(acid.mass_percent, acid.density, acid.formula)
    per_litre = taken / (molarity * acid.protons)
    return AcidDose(
        acid=acid,
        volume=with_unit(per_litre * volume, "mL"),
        equivalents=with_unit(taken, "mmol/L"),
        residual=with_unit(left, "mg/L"),
        adds=_adds(acid, taken),
        cautions=_cautions(acid, per_litre),
    )


def _element(key: str) -> str:
    return key.split("_", maxsplit=1)[0]


def _adds(acid: Acid, taken: Floats) -> dict[str, Quantity]:
    if not acid.brings:
        return {}
    element = _element(acid.brings)
    per_molecule = atoms(acid.formula)[element] * ATOMIC_MASSES[element]
    brought = with_unit(taken / acid.protons * per_molecule, "mg/L")
    return dict.fromkeys((element, acid.brings), brought)


def _cautions(acid: Acid, per_litre: Floats) -> tuple[str, ...]:
    """Return what must be read; `per_litre` is mL of acid in a litre of water."""
    if not acid.strong:
        return tuple(tr(caution) for caution in GENTLE_ACID_CAUTIONS)
    more = []
    if acid.brings == "N_nitrate":
        more.append(_NITRIC_CAUTION)
    if acid.brings == "P" and np.any(per_litre > PHOSPHORIC_LIMIT):
        more.append(_PHOSPHORIC_CAUTION)
    return tuple(tr(caution) for caution in (*STRONG_ACID_CAUTIONS, *more))


def _acid(acid: str | Acid) -> Acid:
    if isinstance(acid, Acid):
        return acid
    known = load("acids")
    if not isinstance(acid, str) or acid not in known:
        problem = Problem(
            "acid", str(acid), tr("is not known"), ", ".join(known), 'acid="nitric_60"'
        )
        raise argument_error([problem], "acid_for_alkalinity")
    return acid_from_row(known[acid])
