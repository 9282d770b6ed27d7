"""Where what stands under the skyline changes its colour or its texture: one thing ends there.

A crown before a far wall, two crowns of different green, a house beside the wood behind it: the
skyline alone need not fall between them. All sizes are in degrees, through the pixels per degree.
"""

from __future__ import annotations

import cv2
import numpy as np
from scipy.ndimage import minimum_filter1d

from skyview.angles import Array
from skyview.outline.coarse import Mask, Pixels, lab_of
from skyview.outline.peaks import peaks_of

BAND_DEG = (0.15, 1.8)
"""What lies so far below the skyline is looked at."""

BESIDE_DEG = 0.9
"""Means are taken over so much on either side."""

UNIT = np.array([8.0, 4.0, 4.0, 4.0])
"""Differences of L*, a*, b* and of fine detail that weigh alike: our own choice."""

DETAIL_DEG = 0.1
"""Detail is what a blur of this sigma takes away."""

CONTRAST = 4.0
"""From this on two things part. Chosen on the three sample panoramas, where about seven in ten
such places lie where the distance changes by half or more, and half of these are found."""

CORNER_DEG, CORNER_BESIDE_DEG = 1.0, 0.5
"""A step of the skyline by the first or more, over the second on either side, counts double."""

AROUND_DEG, TALL_DEG = 12.0, 5.0
"""The second above what is within the first, colour counts half: tall things have a lit and a
shaded side."""


def contrast_of(rgb: Pixels, body: Mask, px_per_deg: float) -> Array:
    """How clearly two things part at every column, by what is just below the skyline. (W,)

    0 where both sides are alike.

    ``rgb`` (H, W, 3) and ``body`` (H, W), what is no sky, at the same size.

    >>> rgb = np.full((60, 80, 3), 90, np.uint8)
    >>> rgb[:, 40:] = (30, 80, 20)
    >>> int(contrast_of(rgb, np.ones((60, 80), bool), 10.0).argmax())
    40
    """
    lab = lab_of(rgb)
    blurred = cv2.GaussianBlur(lab, (0, 0), max(0.5, DETAIL_DEG * px_per_deg))
    detail = np.abs(lab - blurred).sum(axis=-1, keepdims=True)
    top = np.where(body.any(0), body.argmax(0), len(body))
    down = np.arange(len(body))[:, None] - top
    first, last = BAND_DEG
    band = body & (down >= round(first * px_per_deg)) & (down < round(last * px_per_deg))
    count = band.sum(0)
    mean = (np.concatenate([lab, detail], axis=-1) * band[..., None]).sum(0)
    mean = mean / np.maximum(count, 1)[:, None] / UNIT
    known = (count > 0).astype(float)
    total = np.concatenate([np.zeros((1, 4)), np.cumsum(mean * known[:, None], axis=0)])
    many = np.concatenate([[0.0], np.cumsum(known)])
    at = np.arange(body.shape[1])
    reach = max(2, round(BESIDE_DEG * px_per_deg))
    left, right = np.maximum(at - reach, 0), np.minimum(at + reach, body.shape[1])
    before, after = many[at] - many[left], many[right] - many[at]
    step = (total[at] - total[left]) / np.maximum(before, 1.0)[:, None]
    step = step - (total[right] - total[at]) / np.maximum(after, 1.0)[:, None]
    enough = np.minimum(before, after) >= reach / 2.0
    corner, rise = corner_of(body, px_per_deg)
    weight = (1.0 + np.minimum(corner / CORNER_DEG, 1.0)) / (1.0 + rise / TALL_DEG)
    return np.where(enough, np.linalg.norm(step, axis=1) * weight, 0.0)


def corner_of(body: Mask, px_per_deg: float) -> tuple[Array, Array]:
    """The skyline's step at every column and its rise above what is around, (W,) each. [deg]

    >>> body = np.zeros((50, 90), bool)
    >>> body[40:] = True
    >>> body[20:, 45:] = True
    >>> step, rise = corner_of(body, 10.0)
    >>> float(step[45]), float(rise[60])
    (2.0, 2.0)
    """
    height, width = body.shape
    rise = (height - np.where(body.any(0), body.argmax(0), height)) / px_per_deg
    reach = max(2, round(CORNER_BESIDE_DEG * px_per_deg))
    padded = np.pad(rise, reach, mode="edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, reach), axis=1)
    step = np.abs(middle[:width] - middle[reach : reach + width])
    around = max(3, round(AROUND_DEG * px_per_deg))
    return step, rise - minimum_filter1d(rise, 2 * around + 1)


def seams_of(contrast: Array, taken: list[int], apart_px: float) -> list[int]:
    """Columns where things part by their colour, none nearer to another or to ``taken`` ones than
    ``apart_px``; the clearest first.

    >>> seams_of(np.array([0.0, 1.0, 5.0, 1.0, 0.0, 4.0, 0.0]), [6], 2.0)
    [2]
    """
    peaks = peaks_of(contrast)
    peaks = peaks[contrast[peaks] >= CONTRAST]
    chosen: list[int] = []
    for peak in sorted(peaks.tolist(), key=lambda place: -contrast[place]):
        if all(abs(peak - other) >= apart_px for other in [*taken, *chosen]):
            chosen.append(peak)
    return sorted(chosen)


def clearest_near(contrast: Array, at: int, reach_px: float, left: int, right: int) -> int:
    """The column of the clearest seam within ``reach_px`` of a notch and between two tops, or the
    notch itself.

    >>> clearest_near(np.array([0.0, 1.0, 5.0, 1.0, 0.0, 1.0, 0.0]), 4, 3.0, 0, 6)
    2
    """
    first, last = max(left + 1, round(at - reach_px)), min(right, round(at + reach_px) + 1)
    if last <= first:
        return at
    best = first + int(contrast[first:last].argmax())
    return best if contrast[best] >= CONTRAST else at
