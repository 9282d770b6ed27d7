"""The bound on simplified outlines against the exact field of both outlines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.wave.screens import Screen, field
from skyview.wave.simplify import simplified


def ragged(seed, vertices=300):
    """A ragged top over level ground, as a photograph gives it."""
    draw = np.random.default_rng(seed)
    x = np.sort(draw.uniform(-15.0, 15.0, vertices))
    top = np.cumsum(draw.standard_normal(vertices)) * 0.15 + 0.1 * draw.standard_normal(vertices)
    edge = np.stack([x, top - top.mean()], axis=1)
    return np.concatenate([edge, [[15.0, -20.0], [-15.0, -20.0]]])


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10_000), st.floats(0.4, 10.0), st.floats(8.0, 300.0))
def test_the_change_of_the_field_stays_within_the_bound(seed, wavelength, distance):
    ring = ragged(seed)
    short = simplified(ring, wavelength, distance, field_change=0.01)
    change = abs(
        field([Screen(distance, [ring], [0.0])], wavelength)
        - field([Screen(distance, [short.ring_m], [0.0])], wavelength)
    )
    assert change <= short.field_bound + 1e-9
    assert short.field_bound <= 0.01


def test_a_longer_wavelength_needs_fewer_vertices():
    ring = ragged(3)
    counts = [len(simplified(ring, wavelength, 60.0).ring_m) for wavelength in (0.4, 2.0, 10.0)]
    assert counts[0] > counts[1] > counts[2]
    assert counts[2] < len(ring) / 3


def test_what_blocks_less_may_be_drawn_more_coarsely():
    ring = ragged(4)
    opaque, thin = (simplified(ring, 2.0, 60.0, blocked=share) for share in (1.0, 0.1))
    assert len(thin.ring_m) < len(opaque.ring_m)


def test_a_ring_whose_every_vertex_counts_is_left_alone():
    square = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    same = simplified(square, 0.5, 10.0)
    assert np.array_equal(np.sort(same.ring_m, axis=0), np.sort(square, axis=0))
    assert same.field_bound == 0.0


def test_a_keyholed_ring_keeps_its_hole():
    turn = np.linspace(0.0, 2.0 * np.pi, 200)
    outer = 3.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    ring = np.concatenate([outer, 0.5 * outer[::-1]])
    short = simplified(ring, 1.0, 20.0)
    assert len(short.ring_m) < 150
    before, after = (field([Screen(20.0, [one], [0.0])], 1.0) for one in (ring, short.ring_m))
    assert abs(before - after) <= short.field_bound + 1e-9


def test_a_wavelength_must_be_above_zero():
    with pytest.raises(InputError, match="wavelength_m"):
        simplified(ragged(1), 0.0, 20.0)
