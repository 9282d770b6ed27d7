"""Shares of sky at full size: what is asked of a pixel, the trees, large pictures."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.outline import shares
from skyview.outline.coarse import coarse_of, small_copy
from skyview.outline.ferns import DEPTH, ferns, share_of_sky
from skyview.outline.grain import FEATURES
from skyview.outline.shares import sides_of, sky_shares, tiles, worked
from skyview.outline.skyline import find_skyline

SKY, CROWN = (150, 180, 220), (40, 55, 30)


def twigs(height: int = 600, width: int = 800) -> tuple[np.ndarray, np.ndarray]:
    """A hedge below and single-pixel twigs above it; and where none of it is."""
    rng = np.random.default_rng(3)
    truth = np.ones((height, width), bool)
    truth[2 * height // 3 :] = False
    truth[height // 3 : 2 * height // 3, 5::9] = False
    rgb = np.where(truth[..., None], SKY, CROWN) + rng.normal(0.0, 1.5, (height, width, 3))
    return np.clip(rgb, 0, 255).astype(np.uint8), truth


def coarse_word(rgb: np.ndarray) -> np.ndarray:
    height, width = coarse_of(rgb).shape
    return np.repeat(np.arange(height) < 2 * height / 3, width).reshape(height, width)


def found(rgb: np.ndarray) -> np.ndarray:
    c = coarse_of(rgb)
    likely = np.where(coarse_word(rgb), 0.97, 0.03).astype(np.float32)
    return sky_shares(rgb, sides_of(small_copy(rgb, c.shape[::-1]), c, likely))


def test_twigs_of_one_pixel_are_found() -> None:
    rgb, truth = twigs()
    mask = found(rgb) > 127
    assert (mask[:190] == truth[:190]).mean() > 0.999
    there = slice(210, 390)
    assert (mask[there] == truth[there]).mean() > 0.97
    assert not mask[410:].any()


def test_a_pixel_of_both_has_a_share_between() -> None:
    rgb, _ = twigs()
    rgb[:400], rgb[401:] = SKY, CROWN
    rgb[400] = (112, 135, 161)
    share = np.median(found(rgb)[397:404, 100:700], axis=1)
    assert (share[:3] > 210).all()
    assert 25 < share[3] < 230
    assert (share[4:] < 20).all()


def test_tiles_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    rgb, _ = twigs()
    whole = found(rgb)
    monkeypatch.setattr(shares, "TILE_PX", 100)
    apart = np.abs(found(rgb).astype(int) - whole)
    # Enlarged planes are rounded anew in every tile.
    assert (apart > 40).mean() < 0.002


def test_large_pictures_are_worked_on_smaller(monkeypatch: pytest.MonkeyPatch) -> None:
    rgb, truth = twigs()
    truth[200:400] = True
    rgb[200:400] = SKY
    monkeypatch.setattr(shares, "WORKED_AREA_PX", 150_000)
    assert worked(rgb).shape == (300, 400, 3)
    mask = found(rgb)
    assert ((mask > 127) == truth[::2, ::2]).mean() > 0.999
    enlarged = find_skyline(rgb)
    assert enlarged.mask.shape == truth.shape
    assert enlarged.row_px.shape == truth.shape[1:]


def test_every_question_is_about_something_known() -> None:
    features, limits, odds = ferns()
    assert features.shape == limits.shape == (len(odds), DEPTH)
    assert features.min() >= 0
    assert features.max() < len(FEATURES)
    assert np.isfinite(odds).all()


def test_evidence_has_a_row_for_each_feature() -> None:
    rgb, _ = twigs()
    c = coarse_of(rgb)
    likely = np.where(coarse_word(rgb), 0.97, 0.03).astype(np.float32)
    count = 0
    for _box, zone, evidence in tiles(rgb, sides_of(small_copy(rgb, c.shape[::-1]), c, likely)):
        assert evidence.shape == (len(FEATURES), zone.sum())
        assert evidence.dtype == np.uint8
        count += len(share_of_sky(evidence))
    assert 0.2 < count / rgb[..., 0].size < 0.6
