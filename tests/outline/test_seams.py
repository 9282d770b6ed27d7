"""Where colours below the skyline tell that one thing ends and another begins."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.outline.seams import CONTRAST, clearest_near, contrast_of, corner_of, seams_of

PX_PER_DEG = 14.0
WALL, LEAVES = (180, 170, 160), (40, 60, 30)


def street(rise_deg: float, left: tuple, right: tuple, at: int = 300) -> tuple:
    """A picture of 600 x 400 pixels: two colours meet at a column under one level skyline."""
    rng = np.random.default_rng(3)
    rgb = np.full((400, 600, 3), (200, 220, 240), np.uint8)
    body = np.zeros((400, 600), bool)
    body[380 - round(rise_deg * PX_PER_DEG) :] = True
    body[:, :170] = body[:, 430:] = False
    body[380:] = True
    tone = np.where(np.arange(600)[None, :, None] < at, left, right)
    rgb = np.where(body[..., None], tone + rng.normal(0, 3, (400, 600, 1)), rgb)
    return rgb.clip(0, 255).astype(np.uint8), body


@pytest.mark.parametrize("at", [240, 300, 371])
def test_a_wall_beside_leaves_is_found_where_they_meet(at: int) -> None:
    contrast = contrast_of(*street(3.0, WALL, LEAVES, at), PX_PER_DEG)
    assert seams_of(contrast, [170, 430], 3.0 * PX_PER_DEG) == [pytest.approx(at, abs=2)]


def test_one_colour_is_one_thing() -> None:
    contrast = contrast_of(*street(3.0, WALL, WALL), PX_PER_DEG)
    assert seams_of(contrast, [170, 430], 3.0 * PX_PER_DEG) == []


def test_the_shaded_side_of_a_tall_thing_counts_less() -> None:
    lit, shaded = (90, 110, 60), (50, 65, 35)
    low, tall = (contrast_of(*street(r, lit, shaded), PX_PER_DEG)[300] for r in (2.0, 20.0))
    assert tall < 0.5 * low
    assert tall < CONTRAST


def test_a_step_of_the_skyline_makes_a_seam_clearer() -> None:
    rgb, body = street(2.0, WALL, LEAVES)
    plain = contrast_of(rgb, body, PX_PER_DEG)[300]
    body[:, 300:430] |= np.arange(400)[:, None] > 380 - 4.0 * PX_PER_DEG
    rgb[body & (rgb[..., 2] > 200)] = LEAVES
    step, rise = corner_of(body, PX_PER_DEG)
    assert step[300] == pytest.approx(2.0, abs=0.1)
    assert rise[400] == pytest.approx(4.0, abs=0.1)
    assert contrast_of(rgb, body, PX_PER_DEG)[300] > 1.2 * plain


def test_seams_keep_apart_and_the_clearest_stays() -> None:
    contrast = np.zeros(100)
    contrast[[20, 26, 60, 97]] = 5.0, 9.0, 5.0, 9.0
    assert seams_of(contrast, [100], 10.0) == [26, 60]


def test_a_notch_goes_to_the_seam_beside_it_and_no_farther() -> None:
    contrast = np.zeros(100)
    contrast[[40, 70]] = 6.0
    assert clearest_near(contrast, 45, 10.0, 10, 90) == 40
    assert clearest_near(contrast, 55, 10.0, 10, 90) == 55
    assert clearest_near(contrast, 45, 10.0, 42, 90) == 45
