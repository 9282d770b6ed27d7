"""Frames of rendered streets, whose poses are known, joined."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.photo.pixels import read_pixels
from skyview.sweep.join import NoSweep, panorama, turn_frames
from skyview.sweep.register import FrameFacts


@pytest.fixture(scope="module")
def sector_joined(sector):
    return sector.joined()


@pytest.fixture(scope="module")
def circle_joined(circle):
    return circle.joined(told=False)


def test_azimuths_over_a_sector(sector, sector_joined):
    assert set(sector_joined.held) == set(range(4))
    assert np.ptp(sector.yaw_errors_deg(sector_joined)) < 0.15
    focal = next(iter(sector_joined.held.values())).focal_px
    assert abs(focal / sector.poses[0].focal_px - 1.0) < 0.003


def test_a_circle_closes_with_one_upright_frame_and_no_focal_length(circle, circle_joined):
    assert len(circle_joined.held) == 7
    assert circle_joined.canvas.closed
    assert np.ptp(circle.yaw_errors_deg(circle_joined)) < 0.1
    assert circle.tilt_error_deg(circle_joined) < 0.2
    assert [n.code for n in circle_joined.notices] == ["focal_untold"]


def test_sigmas_cover_the_errors(sector, sector_joined):
    errors = sector.yaw_errors_deg(sector_joined)
    errors -= errors.mean()
    sigmas = np.degrees([h.sigma["yaw"] for h in sector_joined.held.values()])
    assert np.all(np.abs(errors) < 3.0 * np.maximum(sigmas, 0.005))
    assert sector.tilt_error_deg(sector_joined) < 2.5 * np.degrees(sector_joined.level_sigma)


def test_order_does_not_matter(sector, sector_joined):
    back = type(sector)(sector.files[::-1], sector.poses[::-1]).joined()
    for number, held in sector_joined.held.items():
        assert np.degrees(abs(held.yaw - back.held[3 - number].yaw)) < 0.1


def test_frames_of_sky_and_of_elsewhere_are_left_out_with_their_reasons(sector, circle):
    sky = np.full((270, 360, 3), 200, np.uint8)
    files = [*sector.files, "sky", circle.files[0]]

    def read(number, longest):
        return sky if number == 4 else read_pixels(files[number], longest)

    facts = [FrameFacts(280.0, 0.04, "one")] * 5 + [FrameFacts(190.0, 0.04, "two")]
    found = turn_frames([(360, 270)] * 6, facts, read)
    assert set(found.held) == {0, 1, 2, 3}
    assert {n: left.code for n, left in found.left.items()} == {4: "textureless", 5: "no_overlap"}


def test_nothing_but_sky_is_no_sweep():
    def read(number, longest):
        return np.full((270, 360, 3), 180, np.uint8)

    with pytest.raises(NoSweep) as none:
        turn_frames([(360, 270)] * 3, [FrameFacts(280.0, 0.04, "one")] * 3, read)
    assert {left.code for left in none.value.left.values()} == {"textureless"}


def test_a_camera_that_moved_is_noticed_and_its_shift_told_by_distance(moved, sector_joined):
    (notice,) = [n for n in moved.joined().notices if n.code == "moved"]
    assert notice.values["worst_deg"] > 1.0
    at_10, at_100 = notice.values["deg_at_10_m"], notice.values["deg_at_100_m"]
    assert at_10 == pytest.approx(10.0 * at_100)
    assert at_10 == pytest.approx(np.degrees(notice.values["step_m"] / 10.0))
    assert "moved" not in [n.code for n in sector_joined.notices]


def test_the_panorama_shows_what_the_frames_show(circle, circle_joined):
    rgb, uncovered = panorama(circle_joined, circle.read)
    canvas = circle_joined.canvas
    assert rgb.shape == (canvas.height, canvas.width, 3)
    assert uncovered < 0.15
    own = circle.read(0, None).astype(float)
    camera = circle_joined.cameras.axes[list(circle_joined.held).index(0)]
    held = circle_joined.held[0]
    # A block about the middle of a frame, looked up in the panorama by its angles.
    x, y = np.meshgrid(np.arange(-30, 31, 3), np.arange(-30, 31, 3))
    rays = np.stack([x / held.focal_px, y / held.focal_px, np.ones(x.shape)], axis=-1) @ camera
    azimuth = np.arctan2(rays[..., 0], rays[..., 1])
    elevation = np.arctan2(rays[..., 2], np.hypot(rays[..., 0], rays[..., 1]))
    column = np.mod((azimuth + np.pi) * canvas.per_rad - canvas.left_px, canvas.full_px)
    row = (np.pi / 2 - elevation) * canvas.per_rad - canvas.top_px
    seen = rgb[row.astype(int), column.astype(int) % canvas.width].astype(float)
    height, width = own.shape[:2]
    true = own[(y + height / 2).astype(int), (x + width / 2).astype(int)]
    assert np.corrcoef(seen.ravel(), true.ravel())[0, 1] > 0.9


def test_the_circle_has_no_seam_at_its_ends(circle, circle_joined):
    rgb, _ = panorama(circle_joined, circle.read)
    value = rgb.astype(float).mean(axis=2)
    across_ends = np.abs(value[:, 0] - value[:, -1])
    usual = np.abs(np.diff(value, axis=1)).mean(axis=1)
    assert across_ends.mean() < 3.0 * usual.mean() + 2.0


@pytest.mark.slow
def test_a_turn_whose_ends_just_meet_closes_there(just_closing):
    """Its focal length is told 3 % too long: held there, the ends would be 7 deg apart."""
    found = just_closing.joined()
    assert np.ptp(just_closing.yaw_errors_deg(found)) < 0.15


@pytest.mark.slow
def test_a_step_of_a_hand_is_noticed_and_widens_the_azimuth(short_step):
    found = short_step.joined()
    (notice,) = [n for n in found.notices if n.code == "moved"]
    assert notice.values["step_m"] > 0.05
    assert found.local_sigma > np.radians(0.05)
    assert min(h.sigma["yaw"] for h in found.held.values()) >= found.local_sigma
