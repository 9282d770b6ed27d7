"""The sky of small painted pictures whose truth is known to the pixel."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.outline.skyline import find_skyline

GROUND, WALL = (60, 75, 45), (150, 120, 100)


def picture(sky: tuple[int, int, int], seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """A house and a pole on a plain under a graded sky, with grain; and its true sky."""
    rng = np.random.default_rng(seed)
    height, width = 360, 480
    rgb = np.empty((height, width, 3), float)
    rgb[:] = np.array(sky) * (0.8 + 0.2 * np.linspace(0, 1, height))[:, None, None]
    truth = np.ones((height, width), bool)
    for box, color in (
        ((slice(250, None), slice(None)), GROUND),
        ((slice(150, 300), slice(120, 260)), WALL),
        ((slice(100, 300), slice(360, 366)), (40, 40, 40)),
    ):
        rgb[box] = color
        truth[box] = False
    grain = rng.normal(0.0, 2.0, rgb.shape)
    return np.clip(rgb + grain, 0, 255).astype(np.uint8), truth


def intersection_over_union(mask: np.ndarray, truth: np.ndarray) -> float:
    sky = mask > 127
    return float((sky & truth).sum() / (sky | truth).sum())


@pytest.mark.parametrize("sky", [(120, 170, 235), (225, 225, 228), (95, 98, 105), (250, 170, 130)])
def test_plain_skies_are_found_to_the_pixel(sky: tuple[int, int, int]) -> None:
    rgb, truth = picture(sky)
    found = find_skyline(rgb)
    assert found.mask.shape == truth.shape
    assert found.mask.dtype == np.uint8
    assert intersection_over_union(found.mask, truth) > 0.99
    rows = np.where(truth.all(0), truth.shape[0], (~truth).argmax(0))
    assert np.median(np.abs(found.row_px - rows)) < 0.6
    assert np.abs(found.row_px - rows)[130:250].max() < 2.0


def test_the_same_picture_gives_the_same_answer() -> None:
    rgb, _ = picture((120, 170, 235))
    first, second = find_skyline(rgb), find_skyline(rgb)
    assert np.array_equal(first.mask, second.mask)
    assert first.confidence == second.confidence


def test_a_pole_is_not_overlooked() -> None:
    rgb, _ = picture((120, 170, 235))
    found = find_skyline(rgb)
    assert found.row_px[362] < 110
    assert (found.mask[130:230, 361:365] < 128).mean() > 0.9


def test_two_strokes_part_a_wall_of_the_skys_own_colour() -> None:
    rgb, truth = picture((225, 225, 228))
    wall = (slice(150, 300), slice(120, 260))
    rgb[wall] = (216, 216, 219)
    rgb[149:151, 120:260] -= 5
    one = find_skyline(rgb, solid=[(190, 230)])
    assert intersection_over_union(one.mask, truth) > 0.93
    assert not one.sure
    taught = find_skyline(rgb, solid=[(190, 230), (190, 170)])
    assert intersection_over_union(taught.mask, truth) > 0.97


def test_a_stroke_of_sky_brings_back_a_court_behind_walls() -> None:
    rgb, _truth = picture((120, 170, 235))
    rgb[60:70] = (50, 40, 40)
    rgb[60:360, 0:10] = rgb[60:360, -10:] = (50, 40, 40)
    taught = find_skyline(rgb, sky=[(60, 120)])
    assert (taught.mask[80:140, 20:100] > 127).mean() > 0.95


def test_what_is_known_not_to_be_sky_stays_solid() -> None:
    rgb, truth = picture((225, 225, 228))
    rgb[250:] = rgb[240:241]
    ground = np.zeros((36, 48), bool)
    ground[25:] = True
    assert (find_skyline(rgb).mask[290:] > 127).any()
    found = find_skyline(rgb, ground=ground)
    assert (found.mask[256:] < 128).all()
    assert intersection_over_union(found.mask, truth) > 0.97


@pytest.mark.parametrize("size", [(8, 8), (9, 300), (300, 9), (1, 1), (40, 2000)])
def test_pictures_of_any_size_are_answered(size: tuple[int, int]) -> None:
    rgb = np.random.default_rng(1).integers(0, 255, (*size, 3), np.uint8)
    found = find_skyline(rgb)
    assert found.mask.shape == size
    assert found.row_px.shape == found.sigma_px.shape == found.doubtful.shape == (size[1],)
    assert 0.0 <= found.confidence <= 1.0
    assert np.isfinite(found.sigma_px).all()


@pytest.mark.parametrize("level", [0, 128, 255])
def test_a_picture_of_one_colour_is_never_sure(level: int) -> None:
    found = find_skyline(np.full((200, 300, 3), level, np.uint8))
    assert not found.sure
    assert found.doubtful.all()


def test_noise_is_never_sure() -> None:
    rgb = np.random.default_rng(2).integers(0, 255, (240, 320, 3), np.uint8)
    assert not find_skyline(rgb).sure


def test_a_bright_cloud_is_not_ground() -> None:
    rgb, truth = picture((90, 140, 215))
    y, x = np.mgrid[:360, :480]
    cloud = ((x - 180) / 150.0) ** 2 + ((y - 70) / 35.0) ** 2 < 1.0
    rgb[cloud & truth] = np.clip(rgb[cloud & truth] * 0.2 + 190.0, 0, 255).astype(np.uint8)
    assert intersection_over_union(find_skyline(rgb).mask, truth) > 0.98


def test_leaves_before_the_sky_keep_their_gaps() -> None:
    rng = np.random.default_rng(11)
    rgb, truth = picture((200, 210, 222))
    leaves = np.kron(rng.random((30, 40)) < 0.5, np.ones((4, 4), bool))
    truth[20:140, 280:440] &= ~leaves
    rgb[20:140, 280:440][leaves] = (30, 50, 25)
    found = find_skyline(rgb).mask > 127
    there = np.zeros_like(truth)
    there[24:136, 284:436] = True
    assert (found[there] == truth[there]).mean() > 0.95


def test_masks_are_gone_through_in_strips_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    rgb, _ = picture((120, 170, 235))
    whole = find_skyline(rgb)
    monkeypatch.setattr("skyview.outline.doubt.STRIP_PX", 37)
    monkeypatch.setattr("skyview.outline.skyline.STRIP_PX", 41)
    parted = find_skyline(rgb)
    assert np.array_equal(parted.signals, whole.signals)
    assert np.array_equal(parted.row_px, whole.row_px)
