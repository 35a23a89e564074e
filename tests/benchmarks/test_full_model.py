"""A whole cost and yield model beside the same model by hand, compiled, and in a workbook.

Run with ``python -m pytest -o addopts="" tests/benchmarks/test_full_model.py``; compare inside a
group. `.ci/speed_table.py` writes what comes out into the README. All sides use one thread but
LibreOffice, which uses what it likes.
"""

from __future__ import annotations

import functools
import importlib.util
import itertools
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cost_model_numpy as by_hand
import cost_workbook
import draws_scipy
import numpy as np
import pytest

from scenariokit.scenario import Scenario, outcome_values, scenario_for, with_draws
from scenariokit.uncertainty import (
    Uncertain,
    Uncertainty,
    draw_scores,
    ensemble,
    input_scores,
    pert,
    placed,
    usual_uncertainty,
)
from scenariokit.uncertainty.streaming import BLOCK
from scenariokit.widgets.board_state import DEFAULT_METHODS

MILLION, SMALL, LONG = 1_000_000, 2_000, 20_000
KEPT = ("yield_per_area", "cost_per_kilogram", "margin_per_area")
"""Outcomes whose draws are kept; the others are worked out too."""
FAR = 2.0
"""A ratio to hand-written NumPy from which something is wrong; what is wanted is 1.3 or less."""
MOST_MEMORY = 2e9


@dataclass(frozen=True)
class Case:
    """Scenarios with their draws, and the same numbers read out for the other sides."""

    scenarios: tuple[Scenario, ...]
    numbers: list[by_hand.Numbers]
    draws: list[dict[str, Any]]

    @property
    def size(self) -> int:
        """Number of draws."""
        return len(self.draws[0]["harvest.typical"])

    @functools.cached_property
    def water(self) -> list[tuple[Any, Any]] | None:
        """Each method's usual season; None where draws change its days."""
        days_drawn = "crop.kc_mid" in self.draws[0]
        return None if days_drawn else by_hand.usual_water(self.numbers)

    @functools.cached_property
    def compiled(self) -> tuple[list[Any], list[Any]]:
        """Numbers and draws as the compiled loop reads them."""
        import cost_model_numba

        return (
            [cost_model_numba.prepared(one) for one in self.numbers],
            [cost_model_numba.rows_of(one) for one in self.draws],
        )


@functools.cache
def scenarios() -> tuple[Scenario, ...]:
    return tuple(scenario_for(method) for method in DEFAULT_METHODS)


def thought(days: bool = False) -> Uncertainty:
    """Return what is usually uncertain; with `days` the crop's season as well."""
    usual = usual_uncertainty(scenarios())
    more = (
        Uncertain("crop.kc_mid", pert(0.9, 1, 1.1), relative=True),
        Uncertain("crop.days_late", pert("20 day", "30 day", "38 day")),
    )
    return Uncertainty((*usual.inputs, *(more if days else ())), usual.causes)


def pieces(size: int, block: int = BLOCK) -> list[slice]:
    return [slice(start, min(start + block, size)) for start in range(0, size, block)]


@functools.cache
def case(size: int, days: bool = False) -> Case:
    """Return a case of six methods. The draws are made once and are the same for every side."""
    uncertain = thought(days)
    places = placed(scenarios(), uncertain)
    found: list[dict[str, list[Any]]] = [{} for _ in places]
    for piece in pieces(size):
        given = input_scores(uncertain, draw_scores(uncertain, piece.start, piece.stop, 1))
        seen: dict[Any, Any] = {}
        for one, place in zip(found, places, strict=True):
            for path, values in place.values(given, seen).items():
                one.setdefault(path, []).append(values)
    draws = [{path: np.concatenate(parts) for path, parts in one.items()} for one in found]
    return Case(scenarios(), [by_hand.numbers_of(one) for one in scenarios()], draws)


def by_scenariokit(given: Case) -> Any:
    for piece in pieces(given.size):
        for at, scenario in enumerate(given.scenarios):
            drawn = {path: values[piece] for path, values in given.draws[at].items()}
            yield at, piece, outcome_values(with_draws(scenario, drawn), by_hand.OUTCOMES)


def by_numpy(given: Case) -> Any:
    return by_hand.in_blocks(given.numbers, given.draws, BLOCK, given.water)


def by_numba(given: Case) -> Any:
    import cost_model_numba

    return cost_model_numba.in_blocks(*given.compiled, BLOCK)


SIDES = {"scenariokit": by_scenariokit, "numpy": by_numpy, "numba": by_numba}


def kept(side: str, given: Case, names: tuple[str, ...] = KEPT) -> dict[str, Any]:
    """Return the draws of some outcomes, a row a method; each side works out all of them."""
    found = {name: np.empty((len(given.draws), given.size)) for name in names}
    for at, piece, values in SIDES[side](given):
        for name in names:
            found[name][at, piece] = values[name]
    return found


def ready(side: str) -> None:
    if side == "numba":
        pytest.importorskip("numba")


def described(benchmark: Any, row: str, side: str, given: int, **more: Any) -> None:
    """Note what the table in the README needs."""
    benchmark.extra_info.update(row=row, side=side, evaluations=given, **more)


def assert_same(found: dict[str, Any], expected: dict[str, Any]) -> None:
    """Hold two sides together; differences are judged by what they are differences of."""
    cost = expected["cost_per_area"] + expected["takings_per_area"]
    slack = {
        "margin_per_area": cost,
        "return_to_labour": cost / expected["labour_per_area"],
        "payback": 1e3 * np.nan_to_num(expected["payback"]),
    }
    for name, values in expected.items():
        here, there = np.broadcast_arrays(found[name], values)
        np.testing.assert_array_equal(np.isnan(here), np.isnan(there), err_msg=name)
        gap = np.nan_to_num(np.abs(here - there))
        allowed = 1e-9 * slack.get(name, np.abs(np.nan_to_num(there)))
        assert np.all(gap <= allowed), f"{name}: {np.max(gap)}"


# -- the sides agree -----------------------------------------------------------------


@pytest.mark.parametrize("days", [False, True], ids=["usual", "days"])
@pytest.mark.parametrize("side", ["numpy", "numba"])
def test_other_sides_agree_with_scenariokit(side, days):
    ready(side)
    given = case(500, days)
    expected = kept("scenariokit", given, by_hand.OUTCOMES)
    assert_same(kept(side, given, by_hand.OUTCOMES), expected)


def test_draws_of_scipy_agree_with_scenariokit():
    uncertain = thought()
    places = placed(scenarios(), uncertain)
    found = draws_scipy.scores(len(uncertain.drivers), 9)
    given = input_scores(uncertain, found)
    np.testing.assert_allclose(draws_scipy.with_causes(uncertain, found), given, rtol=1e-12)
    for place, values in zip(places, draws_scipy.values(places, given), strict=True):
        for path, own in place.values(given).items():
            np.testing.assert_allclose(values[path], own, rtol=1e-9, err_msg=path)


def give_up(reason: str) -> None:
    """Skip, or fail where LibreOffice was named or installed and must be there."""
    if os.environ.get("SCENARIOKIT_SOFFICE"):
        pytest.fail(f"{reason}, though SCENARIOKIT_SOFFICE names it")
    pytest.skip(reason)


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    """Return the seconds of opening, recalculating and saving, of each recalculation, and the file.

    Only the opening of the second workbook is timed: the first start fills a profile.
    """
    path = cost_workbook.soffice_path()
    if path is None:
        give_up("LibreOffice (Debian's libreoffice-calc-nogui) is not installed")
    folder = tmp_path_factory.mktemp("workbook")
    given = case(SMALL)
    tiny, whole = folder / "tiny.xlsx", folder / "whole.xlsx"
    cost_workbook.write_workbook(tiny, given.numbers, given.draws, 20)
    cost_workbook.write_workbook(whole, given.numbers, given.draws, SMALL)
    try:
        cost_workbook.recalculate(tiny, folder)
        started = time.perf_counter()
        made, seconds = cost_workbook.recalculate(whole, folder)
        return time.perf_counter() - started - sum(seconds) + min(seconds), seconds, made
    except (OSError, RuntimeError) as error:
        give_up(f"LibreOffice did not recalculate: {error}")


def test_workbook_agrees_with_scenariokit(workbook):
    found = cost_workbook.read_outcomes(workbook[2], len(DEFAULT_METHODS))
    assert found["payback"].shape == (len(DEFAULT_METHODS), SMALL)
    assert_same(found, kept("scenariokit", case(SMALL), by_hand.OUTCOMES))


# -- the model alone, on the same draws ----------------------------------------------

ROUNDS = {(MILLION, False): 7, (SMALL, False): 100, (LONG, True): 5}


@functools.cache
def least(size: int, days: bool) -> dict[str, float]:
    """Return the least seconds of each side.

    The sides take turns, so that whatever else the machine does falls on all of them.
    """
    given = case(size, days)
    sides = [side for side in SIDES if side != "numba" or importlib.util.find_spec("numba")]
    taken: dict[str, list[float]] = {side: [] for side in sides}
    for _ in range(1 + ROUNDS[size, days]):  # the first warms up
        for side, seconds in taken.items():
            started = time.perf_counter()
            kept(side, given)
            seconds.append(time.perf_counter() - started)
    return {side: min(seconds[1:]) for side, seconds in taken.items()}


@pytest.mark.benchmark(group="model, 1,000,000 draws of six methods")
@pytest.mark.parametrize("side", SIDES)
def test_model_of_a_million_draws(benchmark, side):
    ready(side)
    seconds = least(MILLION, False)[side]
    described(benchmark, "model, a million draws", side, 6 * MILLION, seconds=seconds)
    found = benchmark.pedantic(kept, (side, case(MILLION)), rounds=2)
    assert found["margin_per_area"].shape == (6, MILLION)


@pytest.mark.benchmark(group="model, 2,000 draws of six methods")
@pytest.mark.parametrize("side", SIDES)
def test_model_of_two_thousand_draws(benchmark, side):
    ready(side)
    seconds = least(SMALL, False)[side]
    described(benchmark, "model, 2,000 draws", side, 6 * SMALL, seconds=seconds)
    found = benchmark.pedantic(kept, (side, case(SMALL)), rounds=20)
    assert found["margin_per_area"].shape == (6, SMALL)


@pytest.mark.benchmark(group="model, 2,000 draws of six methods")
def test_model_of_two_thousand_draws_in_a_workbook(benchmark, workbook):
    """Timed by LibreOffice itself: every formula worked out anew in the open workbook."""
    whole, seconds, _ = workbook
    described(benchmark, "model, 2,000 draws", "libreoffice", 6 * SMALL, seconds=min(seconds),
              opened_and_saved=whole)  # fmt: skip
    benchmark.pedantic(time.sleep, (min(seconds),), rounds=1)
    assert len(seconds) == 5


@pytest.mark.benchmark(group="season drawn day by day, 20,000 draws of six methods")
@pytest.mark.parametrize("side", SIDES)
def test_model_with_the_season_drawn(benchmark, side):
    """Coefficient and length of the late stage are drawn too: each draw has days of its own."""
    ready(side)
    seconds = least(LONG, True)[side]
    described(benchmark, "season drawn day by day", side, 6 * LONG, seconds=seconds)
    found = benchmark.pedantic(kept, (side, case(LONG, days=True)), rounds=2)
    assert found["margin_per_area"].shape == (6, LONG)


@pytest.mark.parametrize(("size", "days"), [(MILLION, False), (LONG, True)], ids=["usual", "days"])
def test_model_beside_numpy(capsys, size, days):
    seconds = least(size, days)
    own, other = seconds["scenariokit"], seconds["numpy"]
    with capsys.disabled():
        print(f"\n{size:,} draws: {own:.3f} s, NumPy {other:.3f} s, ratio {own / other:.2f}")
    assert own < FAR * other


# -- draws, and everything from seed to outcomes -------------------------------------


@pytest.mark.benchmark(group="normal scores, 131,072 draws")
@pytest.mark.parametrize("side", ["scenariokit", "scipy"])
def test_scores(benchmark, side):
    uncertain, power = thought(), 17
    drivers = len(uncertain.drivers)

    def make():
        if side == "scipy":
            return draws_scipy.scores(drivers, power)
        return draw_scores(uncertain, 0, 1 << power, 1)

    described(benchmark, "scrambled Sobol scores", side, 6 << power)
    assert benchmark.pedantic(make, rounds=7, warmup_rounds=1).shape == (drivers, 1 << power)


@pytest.mark.benchmark(group="from scores to values, 20,000 draws")
@pytest.mark.parametrize("side", ["scenariokit", "scipy"])
def test_values(benchmark, side):
    uncertain = thought()
    places = placed(scenarios(), uncertain)
    given = input_scores(uncertain, draw_scores(uncertain, 0, LONG, 1))

    def make():
        if side == "scipy":
            return draws_scipy.values(places, given)
        seen: dict[Any, Any] = {}
        return [place.values(given, seen) for place in places]

    described(benchmark, "from scores to values", side, 6 * LONG)
    assert len(benchmark.pedantic(make, rounds=3, warmup_rounds=1)) == 6


def whole_by_hand(draws: int, seed: int) -> dict[str, Any]:
    """Return outcomes from a seed on with SciPy's draws and the model in NumPy."""
    uncertain = thought()
    places = placed(scenarios(), uncertain)
    given = draws_scipy.scores(len(uncertain.drivers), (draws - 1).bit_length(), seed)
    values = draws_scipy.values(places, draws_scipy.with_causes(uncertain, given[:, :draws]))
    return kept("numpy", Case(scenarios(), case(SMALL).numbers, values))


@pytest.mark.benchmark(group="from seed to outcomes")
@pytest.mark.parametrize(
    ("side", "draws", "rounds"),
    [("scenariokit", SMALL, 60), ("scipy", SMALL, 5), ("scenariokit", MILLION, 5)],
    ids=["scenariokit-2,000", "scipy-2,000", "scenariokit-1,000,000"],
)
def test_from_seed_to_outcomes(benchmark, side, draws, rounds):
    """Each round has a seed of its own, since the draws of a seed are remembered."""
    described(benchmark, f"from seed to outcomes, {draws:,} draws", side, 6 * draws)
    seeds = itertools.count(1)

    def run(seed):
        if side == "scipy":
            return whole_by_hand(draws, seed)["margin_per_area"]
        return ensemble(scenarios(), thought(), draws, seed).floats("margin_per_area")

    found = benchmark.pedantic(run, setup=lambda: ((next(seeds),), {}), rounds=rounds)
    assert found.shape == (6, draws)


MEMORY = """
from pathlib import Path
from scenariokit.scenario import scenario_for
from scenariokit.uncertainty import ensemble, usual_uncertainty
scenarios = [scenario_for(method) for method in {methods}]
found = ensemble(scenarios, usual_uncertainty(scenarios), {draws})
assert found.draws == {draws}
lines = Path("/proc/self/status").read_text().splitlines()
print(next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")))
"""
"""The greatest memory that the process itself had, in KiB; `getrusage` may count its parent's."""


@pytest.mark.benchmark(group="memory")
def test_ensemble_of_a_million_draws_stays_below_two_gigabytes(benchmark):
    if not Path("/proc/self/status").exists():
        pytest.skip("only Linux tells a process's greatest memory")
    code = MEMORY.format(methods=DEFAULT_METHODS, draws=MILLION)
    command = [sys.executable, "-c", code]

    def peak():
        run = subprocess.run(command, capture_output=True, text=True, check=True)
        return 1024 * int(run.stdout)

    found = benchmark.pedantic(peak, rounds=1)
    described(benchmark, "memory", "scenariokit", 6 * MILLION, bytes=found)
    assert found < MOST_MEMORY
