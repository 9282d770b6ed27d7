"""Propagation between cells against quadrature of Fresnel integrals."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.wave.fresnel import fresnel_integral
from skyview.wave.kernel import to_cells, to_cells_rounded, to_ray

TARGET = np.array([-3.0, -1.2, 0.0, 0.4, 2.0])
SOURCE = np.array([-7.0, -1.0, 0.1, 0.4, 5.0, 9.0])


def averaged(target, source, wavelength, gap, nodes=400):
    """Mean over each target cell of the differences of Fresnel integrals, Gauss-Legendre."""
    node, weight = np.polynomial.legendre.leggauss(nodes)
    at = target[:-1, None] + np.diff(target)[:, None] * (node + 1.0) / 2.0
    scale = np.sqrt(2.0 / (wavelength * gap))
    integral = fresnel_integral((source - at[..., None]) * scale)
    return np.einsum("q,tqs->ts", weight / 2.0, np.diff(integral, axis=-1))


@pytest.mark.parametrize("gap", [0.3, 2.0, 20.0, 500.0])
@pytest.mark.parametrize("wavelength", [0.5, 6.0])
def test_averages_match_quadrature(wavelength, gap):
    exact = averaged(TARGET, SOURCE, wavelength, gap)
    factor = to_cells(TARGET, SOURCE, np.array(wavelength), np.array(gap))
    np.testing.assert_allclose(factor, exact, rtol=0, atol=5e-5)


@pytest.mark.parametrize("gap", [0.3, 2.0, 20.0])
def test_rounded_lines_are_those_of_the_table(gap):
    """The same as of lines moved by hand to steps of sqrt(wavelength x gap/2)/1024."""
    wavelength = np.array([0.5, 0.7])
    step = np.sqrt(wavelength * gap / 2.0)[:, None] / 1024.0
    moved = [np.rint(lines / step) * step for lines in (TARGET, SOURCE)]
    exact = to_cells(*moved, wavelength, np.full(2, gap))
    lines = [np.tile(lines, (2, 1)) for lines in (TARGET, SOURCE)]
    rounded = to_cells_rounded(*lines, wavelength, np.full(2, gap))
    np.testing.assert_allclose(rounded, exact, rtol=0, atol=5e-5)
    near = to_cells(*lines, wavelength, np.full(2, gap))
    assert 0.0 < np.abs(rounded - near).max() < 5e-3


def test_what_rounding_moves_from_one_cell_goes_to_the_next():
    """All cells together radiate as one does: 70 of them, none of a whole number of steps."""
    lines = np.linspace(-3.0, 2.0, 71) + 1e-3 * np.sin(np.arange(71.0))
    target = np.array([-0.5, 0.25, 1.7])
    many = to_cells_rounded(target, lines, np.array(0.5), np.array(9.0)).sum(axis=1)
    one = to_cells(target, lines[[0, -1]], np.array(0.5), np.array(9.0))[:, 0]
    np.testing.assert_allclose(many, one, rtol=0, atol=2e-3)


def test_a_cell_narrower_than_a_step_receives_nothing():
    target = np.array([0.0, 1.0, 1.0 + 1e-6, 2.0])
    factor = to_cells_rounded(target, SOURCE, np.array(0.5), np.array(9.0))
    assert np.all(factor[1] == 0.0)
    assert np.all(np.isfinite(factor))


def test_without_a_gap_the_field_goes_straight_on():
    factor = to_cells(TARGET, TARGET, np.array(1.0), np.array(1e-9))
    np.testing.assert_allclose(factor, (1.0 + 1.0j) * np.eye(4), rtol=0, atol=2e-3)


def test_paths_are_independent_of_each_other():
    wavelength, gap = np.array([0.5, 3.0]), np.array([9.0, 70.0])
    lines = np.stack([SOURCE, 2.0 * SOURCE])
    both = to_cells(lines - 1.0, lines, wavelength, gap)
    for k in range(2):
        one = to_cells(lines[k] - 1.0, lines[k], wavelength[k], gap[k])
        np.testing.assert_array_equal(both[k], one)


def test_the_ray_collects_differences_of_fresnel_integrals():
    factor = to_ray(SOURCE, np.array(2.0), np.array(4.0))
    np.testing.assert_allclose(factor, np.diff(fresnel_integral(SOURCE * 0.5)), atol=1e-6)
