"""A recipe of 12 salts for 12 elements, beside bare least squares on the same numbers.

Run with ``python -m pytest -o addopts="" tests/benchmarks/test_recipe.py``. The
ratio is measured in one run. `solve` reads and checks what it is given, looks
whether the answer is the only one, and says what is out of its band; the bare
solver does none of it.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import nnls

from scenariokit.nutrients.composition.fertilisers import shelf
from scenariokit.nutrients.recipe.solve import solve
from scenariokit.nutrients.recipe.targets import target_set

SALTS = (
    "calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate", "magnesium_sulfate",
    "potassium_sulfate", "monoammonium_phosphate", "iron_edta", "boric_acid",
    "manganese_sulfate", "zinc_sulfate", "copper_sulfate", "sodium_molybdate",
)  # fmt: skip
PRICES = dict.fromkeys(SALTS, 2.0)  # money/kg, invented
AIM = "hoagland_1"


@pytest.fixture(scope="module")
def given():
    return target_set(AIM), shelf(SALTS)


def bare(given):
    """Return matrix and right-hand side of the same problem, relative to the targets."""
    targets, salts = given
    wanted = {key: band.target.m_as("mg/L") for key, band in targets.bands.items()}
    matrix = np.array(
        [
            [1000 * salts[name].shares.get(key, 0.0) / aim for name in sorted(salts)]
            for key, aim in wanted.items()
        ]
    )
    return matrix, np.ones(len(wanted))


def test_solve_same_grams_as_bare_least_squares(given):
    assert bare(given)[0].shape == (12, 12)
    plain, _ = nnls(*bare(given))
    found = solve(*given).rates
    np.testing.assert_allclose(
        [found[name].m_as("g/L") for name in sorted(SALTS)], plain, rtol=1e-7, atol=1e-12
    )


@pytest.mark.benchmark(group="recipe, 12 salts, 12 elements")
def test_solve_closest(benchmark, given):
    assert benchmark(solve, *given).unique


@pytest.mark.benchmark(group="recipe, 12 salts, 12 elements")
def test_solve_cheapest(benchmark, given):
    assert benchmark(solve, *given, prices=PRICES).cost.m > 0


@pytest.mark.benchmark(group="recipe, 12 salts, 12 elements")
def test_solve_every_salt_of_the_catalogue(benchmark, given):
    """The answer is not unique then, and the tidiest mix is looked for as well."""
    assert not benchmark(solve, given[0], shelf()).unique


@pytest.mark.benchmark(group="recipe, 12 salts, 12 elements")
def test_bare_least_squares(benchmark, given):
    found, _ = benchmark(nnls, *bare(given))
    assert found.shape == (12,)
