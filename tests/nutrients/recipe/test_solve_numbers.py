"""The arithmetic of recipes beside a general-purpose optimiser, and its own corner cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from scenariokit.nutrients.composition.fertilisers import shelf
from scenariokit.nutrients.recipe import solve_numbers
from scenariokit.nutrients.recipe.solve_task import FloatLimits, make_task
from scenariokit.nutrients.recipe.targets import FloatBand

SALTS = ("calcium_nitrate", "potassium_nitrate", "monoammonium_phosphate", "ammonium_nitrate",
         "potassium_chloride", "magnesium_sulfate", "calcium_chloride")  # fmt: skip


def random_task(seed, share=0.1, chloride=60.0, water=None):
    rng = np.random.default_rng(seed)
    aims = dict(zip(("N", "P", "K", "Ca", "Mg", "S"), rng.uniform(20, 250, 6), strict=True))
    bands = {key: FloatBand(None, float(value), None) for key, value in aims.items()}
    return make_task(bands, shelf(SALTS), water or {}, FloatLimits(share, {"Cl": chloride}), 0.05)


def half_square(task, amounts):
    return 0.5 * float(np.sum((task.matrix @ amounts - task.wanted) ** 2))


@pytest.mark.parametrize("seed", range(12))
def test_closest_with_limits_agrees_with_a_general_optimiser(seed):
    task = random_task(seed)
    found = solve_numbers.closest(task)
    other = optimize.minimize(
        lambda x: half_square(task, x),
        np.full(len(task.names), 0.01),
        jac=lambda x: task.matrix.T @ (task.matrix @ x - task.wanted),
        bounds=[(0, None)] * len(task.names),
        constraints={"type": "ineq", "fun": lambda x: task.room - task.bounds @ x,
                     "jac": lambda x: -task.bounds},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 1000},
    )  # fmt: skip
    assert np.all(task.bounds @ found.amounts <= task.room + 1e-12)
    assert half_square(task, found.amounts) == pytest.approx(other.fun, rel=1e-6, abs=1e-9)
    assert half_square(task, found.amounts) <= other.fun + 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_closest_forces_meet_the_conditions_of_an_optimum(seed):
    # Karush, Kuhn and Tucker: no force left on what is used, none upwards on what is not.
    task = random_task(seed)
    found = solve_numbers.closest(task)
    force = task.matrix.T @ found.pull - task.bounds.T @ found.push
    assert np.all(np.abs(force[found.amounts > 0]) < 1e-9)
    assert np.all(force < 1e-9)
    assert np.all(found.push > -1e-9)
    slack = task.room - task.bounds @ found.amounts
    assert np.all(np.abs(found.push * slack) < 1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_closest_without_limits_is_plain_nonnegative_least_squares(seed):
    rng = np.random.default_rng(seed)
    bands = {key: FloatBand(None, float(rng.uniform(20, 250)), None) for key in ("N", "K", "Ca")}
    task = make_task(bands, shelf(SALTS), {}, FloatLimits(None, {}), 0.05)
    found = solve_numbers.closest(task)
    plain, _ = optimize.nnls(task.matrix, task.wanted)
    np.testing.assert_allclose(task.matrix @ found.amounts, task.matrix @ plain, atol=1e-10)


def test_closest_multipliers_come_exactly_within_few_rounds(monkeypatch):
    monkeypatch.setattr(solve_numbers, "_ROUNDS", 1)
    task = random_task(0)
    rough = solve_numbers.closest(task)
    over = np.max(task.bounds @ rough.amounts - task.room)
    assert 1e-8 < over < 1e-2
    monkeypatch.setattr(solve_numbers, "_ROUNDS", 10)
    exact = solve_numbers.closest(task)
    assert np.max(task.bounds @ exact.amounts - task.room) < 1e-12


def test_closest_without_the_first_solver_comes_to_the_same(monkeypatch):
    def circles(*arguments):
        raise RuntimeError("Maximum number of iterations reached.")

    task = random_task(2)
    first = solve_numbers.closest(task)
    monkeypatch.setattr(optimize, "nnls", circles)
    second = solve_numbers.closest(task)
    # The grams may differ, for this answer is not unique; what they hold does not.
    held = [task.matrix @ found.amounts for found in (first, second)]
    np.testing.assert_allclose(*held, atol=1e-9)
    for found in (first, second):
        assert np.all(task.bounds @ found.amounts <= task.room + 1e-12)


def test_attainable_room_of_water_with_ammonium_is_what_nitrate_can_balance():
    bands = {"N": FloatBand(None, 200.0, None), "K": FloatBand(None, 100.0, None)}
    limits, water = FloatLimits(0.15, {}), {"N": 20.0, "N_ammonium": 20.0}
    task = make_task(bands, shelf(["potassium_nitrate"]), water, limits, 0.05)
    assert task.room[0] < 0
    np.testing.assert_allclose(solve_numbers.attainable_room(task), task.room)
    stuck = make_task(bands, shelf(["potassium_sulfate"]), water, limits, 0.05)
    assert stuck.room[0] < 0
    np.testing.assert_allclose(solve_numbers.attainable_room(stuck), [0.0], atol=1e-12)


def test_cheapest_forces_price_the_bands():
    bands = {"K": FloatBand(90.0, 100.0, 110.0)}
    task = make_task(bands, shelf(["potassium_nitrate"]), {}, FloatLimits(None, {}), 0.05)
    found = solve_numbers.cheapest(task, np.array([2.0]))
    assert (task.matrix @ found.amounts)[0] == pytest.approx(0.9)
    assert found.pull[0] == pytest.approx(1.0)  # cost is counted in the dearest column


def test_tidiest_that_rounding_bars_keeps_the_mix_at_hand(monkeypatch):
    bands = {"K": FloatBand(None, 100.0, None)}
    salts = shelf(["potassium_nitrate", "potassium_chloride"])
    task = make_task(bands, salts, {}, FloatLimits(None, {}), 0.05)
    found = solve_numbers.closest(task)
    swaps = solve_numbers.swaps_of_closest(task, found)
    assert swaps.all()

    class Failed:
        x = None

    monkeypatch.setattr(optimize, "linprog", lambda *args, **options: Failed())
    assert solve_numbers.tidiest(task, found, swaps) is found


def test_swaps_of_closest_finds_only_what_can_move():
    # Potassium from two salts can be exchanged; magnesium comes from one alone.
    bands = {key: FloatBand(None, 50.0, None) for key in ("K", "Mg")}
    salts = shelf(["magnesium_sulfate", "potassium_chloride", "potassium_nitrate"])
    task = make_task(bands, salts, {}, FloatLimits(None, {}), 0.05)
    swaps = solve_numbers.swaps_of_closest(task, solve_numbers.closest(task))
    assert dict(zip(task.names, swaps.tolist(), strict=True)) == {
        "magnesium_sulfate": False, "potassium_chloride": True, "potassium_nitrate": True,
    }  # fmt: skip


def test_swaps_of_closest_at_a_limit_are_held_by_it():
    # With chloride at its ceiling and potassium short, no grams can move.
    bands = {"K": FloatBand(None, 200.0, None)}
    task = make_task(
        bands, shelf(["potassium_chloride"]), {}, FloatLimits(None, {"Cl": 10.0}), 0.05
    )
    found = solve_numbers.closest(task)
    assert found.push[0] > 0
    assert not solve_numbers.swaps_of_closest(task, found).any()
