"""How far the found sky can be trusted as a whole.

Other ways of finding the sky, each too simple to be believed, are held against what was found:
where they agree it is hardly wrong. What they say, and how weak the evidence was, goes into a
logistic regression on painted and rendered pictures whose sky is known.
"""

from __future__ import annotations

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Pixels
from skyview.outline.fields import length
from skyview.outline.pieces import Growth

SIGNALS = (
    "doubt_sky", "doubt_solid", "moved", "islands", "unreached", "foot", "flood", "layers",
    "first_wall", "texture",
)  # fmt: skip
"""Doubtful share of the pieces taken as sky, and of those not; change by the full size; sky that
does not touch the top; smooth pixels never reached; share of the picture's foot that is sky;
difference from the highest flood that does not leak to the foot; sky directly above its border
that a wall parts from the sky above; sky below the first wall of its column; texture of the sky.
Roots of shares, so that small ones count."""

WEIGHTS = np.array(
    [-10.199, -7.233, -4.212, -0.458, -1.721, -1.283, -3.192, -1.394, -0.206, 0.179, 6.044]
)
"""As tests/benchmarks/skyline_figures.py --fit prints them; the last stands alone."""

WALL, JUMP = 1.2, 1.2
"""A wall is a sharp step higher than this, with colours on both sides at least this far apart."""

SMOOTH_TEXTURE = 0.6

FLOODS = np.geomspace(0.5, 12.0, 9)


def confidence_of(signals: Array) -> float:
    """Probability that the mask is right to 3 %, from the values of ``SIGNALS``."""
    return float(1.0 / (1.0 + np.exp(-(WEIGHTS @ np.append(signals, 1.0)))))


def signals_of(c: Coarse, growth: Growth, word: Mask, mask: Pixels) -> Array:
    """The values of ``SIGNALS``, each 0 where nothing speaks against the mask."""
    height, width = c.shape
    size = max(float(word.sum()), 1.0)
    fine = cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA) > 127
    count, label = cv2.connectedComponents(word.astype(np.uint8), connectivity=8)
    at_top = np.bincount(label[:2].ravel(), minlength=count) > 0
    at_top[0] = False
    smooth = (c.texture < SMOOTH_TEXTURE) & ~growth.sky & ~growth.ground
    layers, below = _walls(c, word)
    shares = [
        float(growth.doubt[word].sum()) / size,
        float(growth.doubt[~word].sum()) / size,
        _difference(fine, word),
        float((word & ~at_top[label]).sum()) / size,
        float(smooth.sum()) / size,
        float(word[-max(2, height // 50) :].mean()),
        _difference(_flood(c), word),
        layers,
        below,
    ]
    texture = float(np.median(c.texture[word])) if word.any() else 10.0
    return np.array([*np.sqrt(shares), np.log(texture + 0.1)])


def _difference(one: Mask, other: Mask) -> float:
    """1 - intersection over union."""
    return 1.0 - float((one & other).sum()) / max(float((one | other).sum()), 1.0)


def _flood(c: Coarse) -> Mask:
    """What the highest flood from the top covers that does not leak to the foot."""
    best = np.zeros(c.shape, bool)
    foot = max(2, c.shape[0] // 15)
    for level in FLOODS:
        count, label = cv2.connectedComponents((c.edge < level).astype(np.uint8), connectivity=4)
        reached = np.bincount(label[:3].ravel(), minlength=count) > 0.04 * 3 * c.shape[1]
        reached[0] = False
        covered = reached[label]
        if covered[-foot:].mean() > 0.02:
            break
        best = covered
    return cv2.morphologyEx(best.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8)) > 0


def _walls(c: Coarse, word: Mask) -> tuple[float, float]:
    """Shares of the sky that lie under a column's last wall before the border, and its first."""
    reach = 4
    if len(word) <= 2 * reach:
        return 0.0, 0.0
    jump = np.zeros(c.shape, np.float32)
    jump[reach:-reach] = length(c.unit[2 * reach :] - c.unit[: -2 * reach])
    inner = cv2.erode(word.astype(np.uint8), np.ones((9, 9), np.uint8), borderValue=1) > 0
    wall = inner & (c.edge > WALL) & (c.softness < 0.5) & (jump > JUMP)
    rows = np.arange(len(wall))[:, None]
    first = np.where(wall.any(0), wall.argmax(0), len(wall))
    last = np.where(wall, rows, len(wall) * (wall.sum(0) == 0)).max(0)
    size = max(float(word.sum()), 1.0)
    return float((word & (rows > last)).sum()) / size, float((word & (rows > first)).sum()) / size
