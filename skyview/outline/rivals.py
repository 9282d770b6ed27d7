"""Other ways of finding the sky, to hold against the one that grows it piece by piece.

A cut asks which colours belong to whom, wherever they stand; a flood asks how far one gets from
the top without climbing a wall; a sealed flood stops at the faintest wall, gaps closed; a ridge
line is sought where all others see sky. Each errs where the others do not: the cut takes hazy
hills for sky, the pieces take bright clouds for ground, the floods stop at a tree or a cloud. All
coarse.
"""

from __future__ import annotations

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask, Pixels, Plane
from skyview.outline.fields import sky_field
from skyview.outline.pieces import Growth, settled, unlike_sky

FIELD_SIZES_PX = (9.0, 27.0, 81.0)

SURE_DOUBT = 0.08
"""Grown sky of less doubt is the cut's seed."""

LIKELY_MISFIT, SURE_MISFIT = 0.2, 1.5
"""Colours less like the sky than this are probably, and surely, not sky for the cut."""

FOOT_SHARE = 0.12
"""So much of the picture's foot is not sky for the cut, unless the grown sky reaches it."""

CUT_ROUNDS, CUT_SEED = 2, 1

FLOODS = np.geomspace(0.5, 12.0, 9)
"""Heights of walls that the flood climbs, in units of noise."""

SEALED_WALL = 1.2
"""The sealed flood climbs none as high as this."""

STRETCH_PX = 13
"""Faint steps are averaged over so many coarse pixels along the horizon."""

RIDGE_BELOW, RIDGE_ABOVE = 0.02, 0.16
"""A ridge line is sought from below the lowest skyline up to here, as shares of the height."""

RIDGE_LEAST, RIDGE_MOST = 0.45, 4.0
"""Steps lower than the first repel the ridge line, those higher than both attract it no more."""

RIDGE_BEND = 0.25
"""What it costs the ridge line to move a row from one column to the next, in units of noise."""


def cut_sky(small: Pixels, c: Coarse, growth: Growth) -> Mask:
    """The sky by colour mixtures and a minimal cut between them, seeded by the grown sky.

    The mixtures and the cut are cv2.grabCut's: Rother, Kolmogorov and Blake, 'GrabCut', ACM
    Transactions on Graphics 23(3), 2004. ``small`` is the picture at the coarse size.
    """
    height = c.shape[0]
    seed = growth.sky & (growth.doubt < SURE_DOUBT)
    seed = seed if seed.sum() >= 50 else growth.sky
    if not seed.any():
        return seed
    expected, _ = sky_field(c.lab, seed.astype(np.float32), FIELD_SIZES_PX)
    misfit = unlike_sky(c.lab, expected)
    word = np.where(misfit > LIKELY_MISFIT, cv2.GC_PR_BGD, cv2.GC_PR_FGD).astype(np.uint8)
    word[misfit > SURE_MISFIT] = cv2.GC_BGD
    if growth.sky[int(0.97 * height) :].mean() < 0.3:
        word[int((1.0 - FOOT_SHARE) * height) :] = cv2.GC_BGD
    word[seed & (misfit < 1.0)] = cv2.GC_FGD
    is_sky: Mask = (word == cv2.GC_FGD) | (word == cv2.GC_PR_FGD)
    if (word == cv2.GC_FGD).any() and not is_sky.all():
        cv2.setRNGSeed(CUT_SEED)
        models = np.zeros((1, 65)), np.zeros((1, 65))
        bgr = np.ascontiguousarray(small[..., ::-1])
        cv2.grabCut(bgr, word, (0, 0, 1, 1), *models, CUT_ROUNDS, cv2.GC_INIT_WITH_MASK)
        is_sky = (word == cv2.GC_FGD) | (word == cv2.GC_PR_FGD)
    return is_sky


def flooded_sky(c: Coarse) -> Mask:
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


def sealed_sky(c: Coarse) -> Mask:
    """What a flood from the top covers that climbs no wall at all and slips through no gap."""
    wall = cv2.dilate((c.edge > SEALED_WALL).astype(np.uint8), np.ones((5, 5), np.uint8))
    _, label = cv2.connectedComponents(1 - wall, connectivity=4)
    top = max(3, c.shape[0] // 50)
    reached = np.bincount(label[:top].ravel(), minlength=label.max() + 1) > 0.04 * top * c.shape[1]
    reached[0] = False
    return cv2.dilate(reached[label].astype(np.uint8), np.ones((5, 5), np.uint8)) > 0


def level_steps(c: Coarse, within: Mask) -> Plane:
    """How much darker it is below a pixel than above, averaged along the horizon ``within``.

    In units of noise; 0 where either side lies outside.
    """
    weight = within.astype(np.float32)
    known = cv2.blur(weight, (STRETCH_PX, 1))
    along = cv2.blur(c.unit[..., 0] * weight, (STRETCH_PX, 1)) / np.maximum(known, 1e-3)
    along[known < 0.3] = np.nan
    step = np.roll(along, 1, axis=0) - np.roll(along, -2, axis=0)
    step[:2], step[-2:] = 0.0, 0.0
    return np.asarray(np.nan_to_num(step, copy=False))


def sky_over_ridge(c: Coarse, word: Mask) -> Mask:
    """The sky above the line that follows the highest faint steps low in the sky.

    The line is the best path through the columns (dynamic programming); where something stands
    before it, it passes hidden and pays nothing.
    """
    height, width = c.shape
    foot = np.where(word.any(0), height - 1 - word[::-1].argmax(0), 0)
    if not (foot > 0).any():
        return word
    lowest = int(np.quantile(foot[foot > 0], 0.9))
    first = max(3, lowest - int(RIDGE_ABOVE * height))
    last = min(height - 3, lowest + int(RIDGE_BELOW * height))
    if last - first < 8:
        return word
    inner = cv2.erode(word.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1) > 0
    gain = (
        np.clip(level_steps(c, inner) - RIDGE_LEAST, -1.0, RIDGE_MOST)[first:last]
        * inner[first:last]
    )
    total = np.empty_like(gain)
    total[:, 0] = gain[:, 0]
    for x in range(1, width):
        before = total[:, x - 1]
        best = before.copy()
        np.maximum(best[1:], before[:-1] - RIDGE_BEND, out=best[1:])
        np.maximum(best[:-1], before[1:] - RIDGE_BEND, out=best[:-1])
        total[:, x] = best + gain[:, x]
    row = np.empty(width, int)
    row[-1] = total[:, -1].argmax()
    for x in range(width - 2, -1, -1):
        near = slice(max(0, row[x + 1] - 1), row[x + 1] + 2)
        bend = RIDGE_BEND * np.abs(np.arange(near.start, min(near.stop, len(gain))) - row[x + 1])
        row[x] = near.start + (total[near, x] - bend).argmax()
    return word & (np.arange(height)[:, None] < first + row[None, :])


def hypotheses_of(small: Pixels, c: Coarse, growth: Growth) -> tuple[Mask, ...]:
    """The sky as the five ways of finding it see it: grown, cut, flooded, sealed, over a ridge."""
    pieces, cut = settled(c, growth), cut_sky(small, c, growth)
    return pieces, cut, flooded_sky(c), sealed_sky(c), sky_over_ridge(c, pieces | cut)
