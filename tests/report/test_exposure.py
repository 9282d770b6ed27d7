"""The photograph on the regular grid."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.report.exposure import exposed


def test_columns_follow_azimuth_and_rows_elevation(make_plate, full_circle_photo) -> None:
    plate = make_plate(left_deg=0.0, right_deg=100.0, bottom_deg=-20.0, top_deg=30.0)
    grid = exposed(plate, 0.0, 100.0, 200, 100)
    np.testing.assert_array_equal(grid, full_circle_photo[60:160, :200])


def test_the_seam_of_a_full_circle_does_not_show(make_plate) -> None:
    """Red falls from its most to 0 at north; nothing foreign may come between."""
    plate = make_plate(left_deg=-180.0, right_deg=180.0)
    grid = exposed(plate, -2.0, 2.0, 8, 4).astype(int)
    assert grid[0, :4, 0].min() >= 195
    assert grid[0, 4:, 0].max() <= 2
    assert (np.abs(grid[..., 2] - 80) <= 1).all()


def test_pixels_beyond_the_width_are_taken_round(make_plate) -> None:
    plate = make_plate(left_deg=300.0, right_deg=420.0)
    there = exposed(plate, 370.0, 380.0, 20, 10)
    here = exposed(make_plate(left_deg=0.0, right_deg=120.0), 10.0, 20.0, 20, 10)
    np.testing.assert_array_equal(there, here)


def test_paper_where_the_photograph_does_not_reach(make_plate) -> None:
    plate = make_plate(left_deg=0.0, right_deg=90.0, bottom_deg=20.0, top_deg=80.0)
    grid = exposed(plate, 0.0, 90.0, 90, 60)
    assert (grid[:20] == (252, 250, 244)).all()
    assert (grid[20:, :, 2] == 80).all()


def test_a_photograph_wider_than_the_resampler_takes(make_plate) -> None:
    width = 40_000
    photo = np.zeros((30, width, 3), np.uint8)
    photo[:, width // 2 :] = 200
    plate = make_plate(
        photo_rgb=photo,
        pixel_of=lambda az, el: (az / 360.0 * width, 15.0 - 0.5 * el),
        left_deg=0.0,
        right_deg=360.0,
        bottom_deg=-10.0,
        top_deg=10.0,
    )
    grid = exposed(plate, 0.0, 360.0, 720, 40)
    assert (grid[:, 5:355] == 0).all()
    assert (grid[:, 365:715] == 200).all()


def test_fine_detail_is_averaged_not_picked(make_plate) -> None:
    photo = np.zeros((180, 7200, 3), np.uint8)
    photo[:, ::2] = 200
    plate = make_plate(photo_rgb=photo, pixel_of=lambda az, el: (20.0 * az, 90.0 - 2.0 * el))
    grid = exposed(plate, 10.0, 100.0, 180, 30)
    assert grid[15].min() >= 90
    assert grid[15].max() <= 110


@pytest.mark.parametrize("left", [0.0, 500.0])
def test_a_plate_that_no_photograph_reaches_is_paper(make_plate, left: float) -> None:
    nowhere = make_plate(pixel_of=lambda az, el: (np.full(az.shape, np.nan), el))
    assert (exposed(nowhere, left, left + 10.0, 10, 10) == (252, 250, 244)).all()
