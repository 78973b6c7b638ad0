"""Colours of the drawings: apart for every eye, and never the only thing that tells lines apart."""

import re
from itertools import combinations

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from shapecut.papers.drawing import Layer
from shapecut.papers.svg import LAYER_STYLES

SEEN_BY = {
    "every cone": np.eye(3),
    "no long-wave cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
         [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle-wave cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
         [-0.011820, 0.042940, 0.968881]]
    ),
    "no short-wave cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
         [0.004733, 0.691367, 0.303900]]
    ),
}  # fmt: skip
"""Linear RGB as an eye without one kind of cones sees it: G. M. Machado, M. M. Oliveira and
L. A. F. Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE
Transactions on Visualization and Computer Graphics 15(6), 2009, severity 1."""

APART = 8.0
"""Least CIEDE2000 difference of areas that mean different things; 1 is just seen side by side."""

SIDE_BY_SIDE = (
    (Layer.CONTOUR, "fill", Layer.ROW, "fill"),
    (Layer.CONTOUR, "fill", Layer.CUT, "stroke"),
    (Layer.CONTOUR, "fill", Layer.BOARD_EDGE, "stroke"),
    (Layer.ROW, "fill", Layer.FIELD, "stroke"),
    (Layer.BLOCKING, "fill", Layer.JOIST, "fill"),
    (Layer.CONTOUR, "fill", Layer.BLOCKING, "fill"),
)


def colour(layer: Layer, part: str) -> np.ndarray:
    digits = re.search(rf"(?:^|;){part}:#([0-9a-f]+)", LAYER_STYLES[layer])[1]
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    return np.array([int(digits[k : k + 2], 16) for k in (0, 2, 4)]) / 255


def seen(rgb: np.ndarray, eye: np.ndarray) -> np.ndarray:
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    linear = np.clip(eye @ linear, 0, 1)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("eye", SEEN_BY.values(), ids=SEEN_BY.keys())
@pytest.mark.parametrize("pair", SIDE_BY_SIDE, ids=lambda p: f"{p[0].value}-{p[2].value}")
def test_neighbours_are_apart_for_every_eye(eye, pair):
    first, second = (rgb2lab(seen(colour(*side), eye)) for side in (pair[:2], pair[2:]))

    assert deltaE_ciede2000(first, second) > APART


def test_lines_differ_in_weight_or_dashes_too():
    """A black-and-white print still tells them apart."""
    lines = [Layer.CUT, Layer.BOARD_EDGE, Layer.FIELD]
    looks = []
    for layer in lines:
        width = float(re.search(r"stroke-width:([\d.]+)px", LAYER_STYLES[layer])[1])
        looks.append((width, "dasharray" in LAYER_STYLES[layer]))

    for (width, dashed), (other_width, other_dashed) in combinations(looks, 2):
        assert dashed != other_dashed or abs(width - other_width) > 0.5
