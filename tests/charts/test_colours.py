"""Colours stay apart for people who do not see red or green, or a shape tells the same."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest

from scenariokit.charts.marks import METHOD_COLOURS, METHOD_SHAPES, PART_COLOURS
from scenariokit.charts.nutrients import SOURCES
from scenariokit.charts.points import ELEMENT_COLOURS
from scenariokit.charts.section import _FILL, PARTS
from scenariokit.scenario import COST_PARTS

SIGHT = {
    "usual": np.eye(3),
    # Machado, Oliveira & Fernandes 2009, "A physiologically-based model for simulation of color
    # vision deficiency", IEEE Trans. Vis. Comput. Graph. 15:1291, severity 1.0, on linear RGB.
    # The figures are from memory.
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}
# Linear sRGB to XYZ, and the white of D65: IEC 61966-2-1, from memory.
XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
     [0.0193339, 0.1191920, 0.9503041]]
)  # fmt: skip
WHITE = np.array([0.95047, 1.0, 1.08883])
APART = 15.0
"""Least CIE 1976 difference; about 2.3 can just be told side by side. Our own choice."""

PALETTES = {
    "methods": METHOD_COLOURS,
    "parts of the cost": tuple(PART_COLOURS.values()),
    "nutrients": ELEMENT_COLOURS,
    "sources of nutrients": SOURCES,
    "cross-section": tuple(_FILL.values()),
}


def linear(colour):
    encoded = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """CIE 1976 L*a*b* of linear RGB."""
    ratio = XYZ @ np.clip(rgb, 0, 1) / WHITE
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_lab_white_and_red_are_as_published():
    """White is 100, 0, 0; sRGB red is 53.2, 80.1, 67.2 (from memory)."""
    np.testing.assert_allclose(lab(linear("#ffffff")), [100, 0, 0], atol=0.02)
    np.testing.assert_allclose(lab(linear("#ff0000")), [53.24, 80.09, 67.20], atol=0.05)


@pytest.mark.parametrize("sight", SIGHT)
def test_simulation_keeps_grey_grey(sight):
    """Each row of the matrix adds to one, so a slip in a figure shows."""
    np.testing.assert_allclose(SIGHT[sight].sum(axis=1), 1.0, atol=2e-6)


def test_simulation_takes_red_from_green():
    """Two colours that people who lack red or green cones take for one."""
    red, green = linear("#b5482a"), linear("#5d7d1f")
    usual = np.linalg.norm(lab(red) - lab(green))
    without = np.linalg.norm(lab(SIGHT["deuteranopia"] @ red) - lab(SIGHT["deuteranopia"] @ green))
    assert usual > 50
    assert without < 2


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("palette", PALETTES)
def test_palette_colours_are_apart_in_pairs(palette, sight):
    seen = {colour: lab(SIGHT[sight] @ linear(colour)) for colour in PALETTES[palette]}
    assert len(seen) == len(PALETTES[palette])
    for (one, first), (other, second) in itertools.combinations(seen.items(), 2):
        assert np.linalg.norm(first - second) >= APART, (one, other)


@pytest.mark.parametrize("colour", [*METHOD_COLOURS, *ELEMENT_COLOURS])
def test_point_colours_stand_out_from_white(colour):
    """WCAG 2.1, success criterion 1.4.11: 3 : 1 for what must be seen (from memory)."""
    luminance = float(XYZ[1] @ linear(colour))
    assert 1.05 / (luminance + 0.05) >= 3.0


def test_palettes_cover_what_they_name():
    assert len(METHOD_COLOURS) == len(METHOD_SHAPES) == len(set(METHOD_SHAPES)) == 8
    assert tuple(PART_COLOURS) == COST_PARTS
    assert tuple(_FILL) == PARTS
    assert all(re.fullmatch("#[0-9a-f]{6}", one) for row in PALETTES.values() for one in row)
