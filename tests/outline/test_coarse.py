"""What the small copy knows of detail that it no longer shows, and of the ways of edges."""

from __future__ import annotations

import numpy as np

from skyview.outline.coarse import coarse_of


def test_detail_lost_in_the_small_copy_is_known() -> None:
    rgb = np.full((900, 1200, 3), 180, np.uint8)
    checks = (np.indices((450, 1200)).sum(0) % 2).astype(np.uint8)
    rgb[450:] = (174 + 12 * checks)[..., None]
    c = coarse_of(rgb)
    above, below = slice(10, 150), slice(185, 325)
    assert abs(c.lab[above, :, 0].mean() - c.lab[below, :, 0].mean()) < 1.0
    assert c.grain[below].mean() > c.grain[above].mean() + 1.0


def test_grain_of_a_large_picture_is_that_of_a_smaller_copy() -> None:
    rng = np.random.default_rng(1)
    coarse_grain = rng.integers(150, 200, (450, 600, 1), np.uint8)
    coarse_grain[:200] = 170
    large = np.repeat(np.repeat(np.repeat(coarse_grain, 6, 0), 6, 1), 3, 2)
    c = coarse_of(large)
    height = c.shape[0]
    assert c.grain[height // 2 + 10 :].mean() > c.grain[: height // 3].mean() + 1.0


def test_upright_and_level_edges_are_told_apart() -> None:
    rgb = np.full((300, 400, 3), 90, np.uint8)
    rgb[:, 10:190:12] = 200
    rgb[10:290:12, 210:390] = 200
    c = coarse_of(rgb)
    fence, boards = (slice(40, 260), slice(40, 150)), (slice(40, 260), slice(250, 360))
    assert c.upright[fence].mean() > 3 * c.level[fence].mean()
    assert c.level[boards].mean() > 3 * c.upright[boards].mean()


def test_blotches_are_rough_and_a_smooth_sky_is_not() -> None:
    rng = np.random.default_rng(2)
    rgb = np.full((300, 400, 3), 150, np.uint8)
    blotches = np.repeat(np.repeat(rng.integers(100, 200, (25, 67)), 6, 0), 6, 1)
    rgb[150:, :] = blotches[:150, :400, None]
    c = coarse_of(rgb)
    assert c.rough[170:].mean() > 5 * c.rough[:130].mean()
