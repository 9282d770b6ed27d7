"""The sum over blocked parts: against the exact field of one screen, and against finer cells."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.wave.cascade import (
    COARSE,
    FINE,
    Quality,
    Stack,
    cascade_fields,
    cascade_fields_without,
    clip_slopes,
    screen_grids,
)
from skyview.wave.paths import boundary_fields

HOUSE = np.array([[-0.3, -0.4], [0.25, -0.4], [0.25, 0.02], [0.0, 0.12], [-0.3, 0.0]])
CROWN = np.array([[0.02, -0.05], [0.12, -0.03], [0.15, 0.06], [0.08, 0.14], [0.0, 0.06]])


def stack(distances, wavelength=1.0, slopes=((0.0, 0.0),), amplitudes=(0.0, 0.4, 0.2j)):
    outlines = [[HOUSE], [CROWN], [HOUSE + 0.1, CROWN - 0.05]][: len(distances)]
    blocked = [
        np.full((1, len(rings)), 1.0 - amplitude)
        for rings, amplitude in zip(outlines, amplitudes, strict=False)
    ]
    paths = len(slopes)
    return Stack(
        outlines,
        blocked,
        np.broadcast_to(np.asarray(distances, dtype=float), (paths, len(distances))),
        np.full(paths, wavelength),
        np.repeat(np.asarray(slopes, dtype=float)[:, np.newaxis], len(distances), axis=1),
    )


@pytest.mark.parametrize("wavelength", [0.45, 1.0, 9.0])
@pytest.mark.parametrize("slope", [(0.0, 0.0), (0.1, 0.05), (-0.4, 0.2)])
def test_one_screen_in_cells_is_near_its_exact_field(wavelength, slope):
    one = stack([30.0], wavelength, [slope])
    exact = boundary_fields(one)
    np.testing.assert_allclose(cascade_fields(one), exact, rtol=0, atol=2e-3)


@pytest.mark.parametrize("wavelength", [0.45, 1.0, 9.0])
@pytest.mark.parametrize("distances", [(20.0, 50.0, 130.0), (30.0, 31.0, 33.0)])
def test_finer_cells_and_a_wider_clip_change_little(distances, wavelength):
    several = stack(distances, wavelength)
    finest = cascade_fields(several, Quality(spacing=0.02, least=0.015, clip=25.0))
    assert abs(cascade_fields(several, FINE) - finest) < 3e-3
    assert abs(cascade_fields(several, COARSE) - finest) < 9e-3


def test_paths_that_share_a_grid_are_near_those_alone():
    slopes = [(0.0, 0.0), (0.02, -0.01), (-0.03, 0.04)]
    together = cascade_fields(stack([20.0, 50.0, 130.0], 1.0, slopes))
    for field, slope in zip(together, slopes, strict=True):
        alone = cascade_fields(stack([20.0, 50.0, 130.0], 1.0, [slope]))[0]
        assert abs(field - alone) < 3e-3


def test_the_fields_without_each_screen_of_several_paths():
    """One screen out of reach among them."""
    slopes = [(0.0, 0.0), (0.02, -0.01)]
    screens = [0, 1, 2]
    every = stack([20.0, 50.0, 130.0], 1.0, slopes)
    every.outlines[1] = [CROWN + 90.0]
    found = cascade_fields_without(every)
    assert found.shape == (4, 2)
    np.testing.assert_array_equal(found[0], cascade_fields(every))
    np.testing.assert_array_equal(found[2], found[0])
    for out in (0, 2):
        kept = [level for level in screens if level != out]
        rest = Stack(
            [every.outlines[level] for level in kept],
            [every.blocked[level] for level in kept],
            every.distance_m[:, kept],
            every.wavelength_m,
            every.slopes[:, kept],
        )
        assert np.all(np.abs(found[1 + out] - found[0]) > 0.05)
        np.testing.assert_allclose(found[1 + out], cascade_fields(rest), rtol=0, atol=3e-3)


def test_grids_made_for_more_paths_serve_some_of_them():
    """A path far aside: its part of the grid is cut out, its screens are those within reach."""
    slopes = [(0.0, 0.0), (0.02, -0.01), (-40.0, 0.0), (0.9, 0.0)]
    every = stack([20.0, 50.0, 130.0], 1.0, slopes)
    grids = screen_grids(every)
    levels = np.arange(3)
    for paths in (np.array([0, 1]), np.array([2]), np.array([3])):
        some = every.part(paths, levels)
        shared = cascade_fields(some, FINE, grids)
        np.testing.assert_allclose(shared, cascade_fields(some), rtol=0, atol=3e-3)
    assert cascade_fields(every.part(np.array([2]), levels), FINE, grids).tolist() == [1.0]


def test_screens_in_any_order_have_the_grids_of_their_own_gaps():
    every = stack([20.0, 50.0, 130.0])
    turned = every.part(np.array([0]), np.array([2, 0, 1]))
    for grid, same in zip(screen_grids(turned), [2, 0, 1], strict=True):
        for found, expected in zip(grid, screen_grids(every)[same], strict=True):
            np.testing.assert_array_equal(found, expected)


def test_shapes_out_of_reach_of_the_ray_change_nothing():
    away = stack([30.0], 1.0, [(40.0, 0.0)])
    assert cascade_fields(away).tolist() == [1.0]


def test_the_clip_limit_is_fifteen_fresnel_lengths():
    at = stack([20.0, 50.0], 0.8)
    assert clip_slopes(at, 1) == pytest.approx(15.0 * np.sqrt(0.8 * 50.0) / 50.0)
