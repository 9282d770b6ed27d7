"""Sweeps whose columns were laid down unevenly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import legendre

from skyview.camera.projections import Cylindrical
from skyview.camera.sweep import Swept, stretch_shapes

SPAN = (0.0, 5000.0)
STRETCHES = st.tuples(*(st.floats(-0.03, 0.03) for _ in range(3)))


def test_even_sweep_is_a_cylinder():
    x, y = np.linspace(0.0, 5000.0, 9), np.linspace(0.0, 1400.0, 9)
    swept = Swept(1200.0, (2500.0, 700.0), 0.0, (0.0, 0.0), SPAN)
    np.testing.assert_allclose(swept.rays(x, y), Cylindrical(1200.0, (2500.0, 700.0)).rays(x, y))


@given(st.floats(-0.05, 0.05), STRETCHES, st.floats(0.0, 5000.0), st.floats(0.0, 1400.0))
def test_pixels_come_back(aspect, stretch, x, y):
    swept = Swept(1200.0, (2500.0, 700.0), aspect, stretch, SPAN)
    back = swept.pixels(swept.rays(x, y))
    assert back == pytest.approx((x, y), abs=1e-6)


@given(st.floats(-0.05, 0.05), STRETCHES)
def test_the_column_ahead_stays_ahead(aspect, stretch):
    swept = Swept(1200.0, (1800.0, 700.0), aspect, stretch, SPAN)
    np.testing.assert_allclose(swept.rays(1800.0, 700.0), [0.0, 0.0, 1.0], atol=1e-12)


def test_shapes_are_legendre_polynomials():
    t = np.linspace(-1.0, 1.0, 11)
    values, slopes = stretch_shapes(t, 4)
    for index, order in enumerate(range(2, 6)):
        series = np.eye(order + 1)[order]
        np.testing.assert_allclose(values[:, index], legendre.legval(t, series), atol=1e-12)
        by_t = legendre.legval(t, legendre.legder(series))
        np.testing.assert_allclose(slopes[:, index], by_t, atol=1e-12)


def test_a_ray_behind_a_short_sweep_has_no_pixel_near_it():
    swept = Swept(1200.0, (1000.0, 700.0), 0.0, (0.05, 0.02), (0.0, 2000.0))
    x, _ = swept.pixels([0.0, 0.0, -1.0])
    assert np.isnan(x) or not 0.0 <= x <= 2000.0
