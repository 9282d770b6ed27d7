"""How far the found sky can be trusted as a whole.

Other ways of finding the sky, each too simple to be believed, are held against what was found:
where they agree it is hardly wrong. What they say, and how weak the evidence was, goes into a
logistic regression on painted and rendered pictures whose sky is known.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Pixels, Plane
from skyview.outline.fields import length, summed
from skyview.outline.pieces import Growth
from skyview.outline.shares import Sides

SIGNALS = (
    "grown", "cut", "flooded", "sealed", "ridge", "doubt_sky", "doubt_solid", "disputed",
    "moved", "islands", "unreached", "foot", "layers", "first_wall", "weak", "faint",
    "undecided", "ragged", "long_wall", "texture", "least",
)  # fmt: skip
"""Difference of each hypothesis from the word; doubtful share of the pieces taken as sky, and of
those not; what is probably wrong among the regions; change by the full size; sky that does not
touch the top; smooth pixels never reached; share of the picture's foot that is sky; sky directly
above its border that a wall parts from the sky above; sky below the first wall of its column;
share of the border with a weak step; how faint the border is; what is probably wrong among the
pixels of full size; length of the border; width of the widest sharp wall within the sky; texture
of the sky; share of the picture that is sky. Roots of shares, so that small ones count."""

WEIGHTS = np.array(
    [
        *(-0.47, 0.86, 0.138, 0.546, -1.053, -2.221, 0.036, -10.043, -5.864, -0.971, -0.025),
        *(-0.535, -2.074, 1.058, -1.393, -1.676, -7.807, 0.888, -0.639, 0.002, -0.673, 4.15),
    ]
)
"""As tests/benchmarks/fit_regions.py prints them; the last stands alone."""

WEAK_STEP, LONG_WALL = 3.0, 1.6

WALL, JUMP = 1.2, 1.2
"""A wall is a sharp step higher than this, with colours on both sides at least this far apart."""

SMOOTH_TEXTURE = 0.6

STRIP_PX = 256
"""Large masks are gone through in strips of so many rows."""


def confidence_of(signals: Array) -> float:
    """Probability that the mask is right to 3 %, from the values of ``SIGNALS``."""
    odds = float(np.clip(WEIGHTS @ np.append(signals, 1.0), -30.0, 30.0))
    return float(1.0 / (1.0 + np.exp(-odds)))


def signals_of(
    c: Coarse,
    growth: Growth,
    hypotheses: Sequence[Mask],
    doubt: Plane,
    sides: Sides,
    mask: Pixels,
) -> Array:
    """The values of ``SIGNALS``, each 0 where nothing speaks against the mask."""
    height, width = c.shape
    word = sides.word
    size = max(float(word.sum()), 1.0)
    fine = cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA) > 127
    count, label = cv2.connectedComponents(word.astype(np.uint8), connectivity=8)
    at_top = np.bincount(label[:2].ravel(), minlength=count) > 0
    at_top[0] = False
    smooth = (c.texture < SMOOTH_TEXTURE) & ~growth.sky & ~growth.ground & ~word
    layers, below = _walls(c, word)
    weak, faint = _border(c, sides)
    shares = [
        *(_difference(other, word) for other in hypotheses),
        float(growth.doubt[word].sum()) / size,
        float(growth.doubt[~word].sum()) / size,
        float(doubt.sum()) / size,
        _difference(fine, word),
        float((word & ~at_top[label]).sum()) / size,
        float(smooth.sum()) / size,
        float(word[-max(2, height // 50) :].mean()),
        layers,
        below,
        weak,
        faint,
        *_unsettled(mask),
        _long_wall(c, word),
    ]
    texture = float(np.median(c.texture[word])) if word.any() else 10.0
    least = float(np.log(word.mean() + 0.01))
    return np.array([*np.sqrt(shares), np.log(texture + 0.1), least])


def _border(c: Coarse, sides: Sides) -> tuple[float, float]:
    """Share of the border whose step is weak, and the noise of shares along it, 0 to 1."""
    word = sides.word.astype(np.uint8)
    border = sides.word & (cv2.erode(word, np.ones((3, 3), np.uint8), borderValue=1) == 0)
    if not border.any():
        return 1.0, 1.0
    step = cv2.dilate(c.edge, np.ones((3, 3), np.uint8))[border]
    contrast = summed((sides.sky - sides.solid) ** 2)[border]
    noise = (sides.sky_variance[border] + 1e-4) / (contrast + 1e-6)
    return float((step < WEAK_STEP).mean()), float(np.minimum(noise, 1.0).mean())


def _long_wall(c: Coarse, word: Mask) -> float:
    """Width of the widest sharp wall well within the sky, as a share of the picture's."""
    inner = cv2.erode(word.astype(np.uint8), np.ones((9, 9), np.uint8), borderValue=1) > 0
    wall = inner & (c.edge > LONG_WALL) & (c.softness < 0.5)
    _, _, stats, _ = cv2.connectedComponentsWithStats(wall.astype(np.uint8), connectivity=8)
    return float(stats[1:, cv2.CC_STAT_WIDTH].max(initial=0)) / c.shape[1]


def _unsettled(mask: Pixels) -> tuple[float, float]:
    """Expected errors of single pixels, and the border's length, both for each pixel of sky."""
    count = cv2.calcHist([mask], [0], None, [256], [0, 256]).ravel()
    wrong = np.minimum(np.arange(256), 255 - np.arange(256)) / 255.0
    border = sum(_steps(mask[top : top + STRIP_PX + 1]) for top in range(0, len(mask), STRIP_PX))
    size = max(float(count[128:].sum()), 1.0)
    return float(count @ wrong) / size, border / size


def _steps(strip: Pixels) -> int:
    """How often sky changes into not-sky along rows and columns; the last row is the next one's."""
    sky = np.asarray(cv2.threshold(strip, 127, 1, cv2.THRESH_BINARY)[1], np.uint8)
    own = sky[:STRIP_PX]
    return cv2.countNonZero(sky[1:] ^ sky[:-1]) + cv2.countNonZero(own[:, 1:] ^ own[:, :-1])


def _difference(one: Mask, other: Mask) -> float:
    """1 - intersection over union."""
    return 1.0 - float((one & other).sum()) / max(float((one | other).sum()), 1.0)


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
