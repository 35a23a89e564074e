"""Plots for tests of the mixed model, and dense matrices to compare with."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np

from scenariokit.trials.mixed.matrices import group_codes, indicators
from scenariokit.trials.plots import PlotTable

PUBLISHED = Path(__file__).parents[2] / "published"

# Strawberry varieties in four randomised blocks; source in tests/published/mixed_models.csv.
STRAWBERRY = {
    "E": (6.9, 6.5, 7.5, 5.3), "F": (6.5, 4.0, 6.4, 5.6), "G": (5.8, 7.0, 6.9, 6.5),
    "M": (7.9, 5.2, 6.1, 3.0), "P": (7.6, 3.8, 7.2, 7.4), "R1": (4.9, 2.7, 5.0, 1.4),
    "Re": (5.6, 4.5, 7.0, 5.2), "V": (6.3, 5.5, 7.6, 5.8),
}  # fmt: skip


def published(example):
    with (PUBLISHED / "mixed_models.csv").open(newline="", encoding="utf-8") as file:
        return {
            row["quantity"]: float(row["value"])
            for row in csv.DictReader(file)
            if row["example"] == example
        }


def strawberry():
    rows = [
        (name, str(block), value)
        for name, values in STRAWBERRY.items()
        for block, value in enumerate(values, start=1)
    ]
    names, blocks, values = zip(*rows, strict=True)
    return PlotTable(values, {"variety": names, "block": blocks})


def split_plot(squares, *, blocks=6, varieties=3, rates=4, seed=0):
    """Return a split plot trial whose mean squares are exactly `squares`.

    A draw is taken apart into its orthogonal strata; each is scaled to its mean
    square. Any such trial has the same analysis of variance.
    """
    rng = np.random.default_rng(seed)
    shape = (blocks, varieties, rates)
    draw = rng.normal(size=shape)
    strata = {"blocks": (0,), "variety": (1,), "whole_plot": (0, 1), "nitrogen": (2,),
              "interaction": (1, 2)}  # fmt: skip
    total, rest = np.zeros(shape), draw - draw.mean()
    freedom = {"blocks": blocks - 1, "variety": varieties - 1, "nitrogen": rates - 1}
    freedom["whole_plot"] = freedom["blocks"] * freedom["variety"]
    freedom["interaction"] = freedom["variety"] * freedom["nitrogen"]
    for name in ("blocks", "variety", "nitrogen", "whole_plot", "interaction"):
        others = tuple({0, 1, 2} - set(strata[name]))
        part = np.broadcast_to(rest.mean(axis=others, keepdims=True), shape)
        total = total + part * np.sqrt(squares[name] * freedom[name] / np.sum(part**2))
        rest = rest - part
    error = varieties * (blocks - 1) * (rates - 1)
    total = total + rest * np.sqrt(squares["sub_plot"] * error / np.sum(rest**2))
    labels = list(itertools.product(*(range(size) for size in shape)))
    names = [tuple(str(row[i]) for row in labels) for i in range(3)]
    values = total.ravel() + 200
    return PlotTable(values, dict(zip(("block", "variety", "nitrogen"), names, strict=True)))


def several_studies(seed, *, studies=5, repeats=3, drop=4, methods=("A", "B", "C")):
    """Return unbalanced plots of several studies; invented."""
    rng = np.random.default_rng(seed)
    rows = []
    for study in range(studies):
        shift = rng.normal(scale=0.8)
        for i, method in enumerate(methods):
            turn = rng.normal(scale=0.4)
            rows += [
                (str(study), method, 6 + shift + 0.5 * i + turn + rng.normal(scale=0.5))
                for _ in range(repeats)
            ]
    kept = np.sort(rng.permutation(len(rows))[: len(rows) - drop])
    study, method, value = zip(*(rows[i] for i in kept), strict=True)
    return PlotTable(value, {"study": study, "method": method})


def dense(plots, columns, terms, components):
    """Return V, (X'V⁻¹X)⁻¹, b and P by plain matrices of the size of the plots."""
    v = components[-1] * np.eye(len(plots))
    for term, variance in zip(terms, components[:-1], strict=True):
        codes, groups = group_codes(plots, term)
        z = indicators(codes, len(groups))
        v = v + variance * z @ z.T
    inverse = np.linalg.inv(v)
    covariance = np.linalg.inv(columns.T @ inverse @ columns)
    b = covariance @ columns.T @ inverse @ plots.yields
    p = inverse - inverse @ columns @ covariance @ columns.T @ inverse
    return v, covariance, b, p


def dense_deviance(plots, columns, terms, components):
    """Return −2 times the restricted log likelihood by plain matrices."""
    v, covariance, _, p = dense(plots, columns, terms, components)
    degrees = len(plots) - columns.shape[1]
    return (
        np.linalg.slogdet(v)[1]
        - np.linalg.slogdet(covariance)[1]
        + plots.yields @ p @ plots.yields
        + degrees * np.log(2 * np.pi)
    )
