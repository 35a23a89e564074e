"""An alpha design of oats: components, adjusted means and differences as they are published."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from scenariokit.trials import PlotTable, mixed_model

DATA = Path(__file__).parents[2] / "published" / "alpha_design.csv"


@pytest.fixture(scope="module")
def fitted():
    with DATA.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    plots = PlotTable(
        [float(row["value"]) for row in rows],
        {
            "replicate": tuple(row["replicate"] for row in rows),
            "block": tuple(row["block"] for row in rows),
            "variety": tuple(row["variety"] for row in rows),
        },
    )
    return mixed_model(plots, ("variety",), [("replicate", "block")], adjust=("replicate",))


def test_mixed_model_alpha_design_components_as_published(fitted):
    """Blocks .06194 and residual .08523 by REML, printed to five digits."""
    found = [one.variance for one in fitted.components]
    assert [float(getattr(one, "m", one)) for one in found] == pytest.approx(
        [0.06194, 0.08523], abs=6e-6
    )


def test_mixed_model_alpha_design_mean_variance_of_a_difference_as_published(fitted):
    """.07010875 by generalised least squares, printed to eight digits."""
    found = np.mean([one.standard_error.m**2 for one in fitted.differences()])
    assert found == pytest.approx(0.07010875, abs=5e-7)


def test_mixed_model_alpha_design_every_pair_of_24_is_told(fitted):
    assert len(fitted.differences()) == 24 * 23 // 2
