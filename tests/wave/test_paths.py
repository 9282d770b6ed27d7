"""What is left out, merged and grouped before paths are computed."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.wave.cascade import Stack
from skyview.wave.paths import boundary_fields, merged, path_fields, standing

SQUARE = np.array([[-0.1, -0.1], [0.1, -0.1], [0.1, 0.1], [-0.1, 0.1]])


def stack(distances, blocked, wavelength=(1.0,), slopes=(0.0, 0.0)):
    paths = len(wavelength)
    return Stack(
        [[SQUARE + 0.03 * k] * np.shape(share)[1] for k, share in enumerate(blocked)],
        [np.asarray(share, dtype=complex) for share in blocked],
        np.broadcast_to(np.asarray(distances, dtype=float), (paths, len(distances))),
        np.asarray(wavelength, dtype=float),
        np.broadcast_to(np.asarray(slopes, dtype=float), (paths, len(distances), 2)),
    )


def test_only_what_stands_is_kept():
    kept = standing(stack([20.0, 30.0, 40.0], [[[1.0, 0.0]], [[0.0]], [[0.0], [0.5]]], (1.0, 2.0)))
    assert [len(rings) for rings in kept.outlines] == [1, 1]
    assert kept.distance_m[0].tolist() == [20.0, 40.0]


def test_screens_that_all_but_touch_become_one():
    three = stack([20.0, 50.0, 20.0001], [[[1.0]], [[0.5]], [[0.25]]])
    joined, pairs = merged(three)
    assert pairs == [(0, 2)]
    assert joined.distance_m[0].tolist() == [20.0, 50.0]
    assert [share.real.tolist() for share in joined.blocked] == [[[1.0, 0.25]], [[0.5]]]


def test_screens_apart_stay_apart():
    apart = stack([50.0, 20.0, 20.1], [[[1.0]], [[0.5]], [[0.25]]])
    joined, pairs = merged(apart)
    assert pairs == []
    assert sorted(joined.distance_m[0].tolist()) == [20.0, 20.1, 50.0]


def test_paths_of_every_wavelength_come_back_in_their_order():
    wavelength = np.array([8.0, 0.5, 8.1, 1.0, 0.51])
    found = path_fields(stack([20.0, 50.0], [[[1.0]], [[0.5]]], wavelength))
    for k, one in enumerate(wavelength):
        alone = path_fields(stack([20.0, 50.0], [[[1.0]], [[0.5]]], (one,)))[0]
        assert found[k] == pytest.approx(alone, abs=3e-3)


def test_drawn_distances_may_change_the_order_of_screens():
    both = stack([20.0, 50.0], [[[1.0]], [[0.5]]], (1.0, 1.0))
    swapped = both._replace(distance_m=np.array([[20.0, 50.0], [50.0, 20.0]]))
    found = path_fields(swapped)
    alone = path_fields(
        Stack(
            both.outlines[::-1],
            both.blocked[::-1],
            np.array([[20.0, 50.0]]),
            np.ones(1),
            np.zeros((1, 2, 2)),
        )
    )
    assert found[1] == pytest.approx(alone[0], abs=1e-6)
    assert abs(found[0] - found[1]) > 0.01


def test_nothing_that_stands_leaves_the_free_field():
    assert path_fields(stack([], [], (1.0, 2.0))).tolist() == [1.0, 1.0]


def test_amplitudes_drawn_for_one_screen_are_linear_in_what_is_blocked():
    share = np.array([[0.0], [0.5], [1.0]])
    field = boundary_fields(stack([20.0], [share], (1.0, 1.0, 1.0)))
    assert field[0] == 1.0
    assert field[1] == pytest.approx(0.5 * (field[0] + field[2]), abs=1e-12)
