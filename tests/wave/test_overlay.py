"""Overlapping shapes as regions, against their areas and the product of their transmissions."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.wave import overlay
from skyview.wave.coverage import cell_coverage
from skyview.wave.overlay import blocked_regions


def disc(x, y, radius, corners=24):
    turn = 2.0 * np.pi * np.arange(corners) / corners
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)


@pytest.mark.parametrize("amplitudes", [[0.5, 0.2, 0.8], [0.0, 0.5, 0.0], [0.3 + 0.4j, 0.9, 0.0]])
def test_blocked_parts_of_small_cells_multiply(amplitudes):
    """Cells far smaller than the shapes are covered or not: there both ways must agree."""
    shapes = [disc(0.0, 0.0, 1.0), disc(0.7, 0.1, 0.8), disc(0.3, -0.6, 0.9)]
    share = 1.0 - np.asarray(amplitudes)
    lines = np.linspace(-2.0, 2.0, 201)
    cells = [cell_coverage(shape, lines, lines) for shape in shapes]
    expected = 1.0 - np.prod([1.0 - b * c for b, c in zip(share, cells, strict=True)], axis=0)
    found = sum(
        region.blocked(share) * cell_coverage(region.ring, lines, lines)
        for region in blocked_regions(shapes)
    )
    whole = np.all([(cell == 0.0) | (cell == 1.0) for cell in cells], axis=0)
    assert whole.mean() > 0.9
    np.testing.assert_allclose(found[whole], expected[whole], atol=1e-9)


def test_shapes_apart_are_returned_as_they_are():
    shapes = [disc(0.0, 0.0, 1.0), disc(5.0, 0.0, 1.0)]
    regions = blocked_regions(shapes)
    assert [region.shapes for region in regions] == [(0,), (1,)]
    assert all(region.ring is shape for region, shape in zip(regions, shapes, strict=True))


def test_a_shape_in_a_keyhole_blocks_for_itself():
    outer = disc(0.0, 0.0, 3.0)
    ring = np.concatenate([outer, outer[:1], disc(0.0, 0.0, 2.0)[::-1][-1:], disc(0, 0, 2.0)[::-1]])
    regions = blocked_regions([ring, disc(0.0, 0.0, 1.0)])
    assert [region.shapes for region in regions] == [(0,), (1,)]


def test_too_many_common_areas_are_refused(monkeypatch):
    monkeypatch.setattr(overlay, "MOST_REGIONS", 20)
    assert blocked_regions([disc(0.01 * k, 0.0, 1.0) for k in range(6)]) is None
