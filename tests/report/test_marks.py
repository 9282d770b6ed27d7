"""The shapes of the path words."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.report import ink
from skyview.report.marks import beyond_arc, mark_box, mark_shapes
from skyview.report.words import PATH_WORDS

R = 11.0


@pytest.mark.parametrize("path", PATH_WORDS)
@pytest.mark.parametrize("radius", [7.5, 11.0, 14.85])
def test_a_mark_stays_in_its_box_and_grows_with_its_radius(path: str, radius: float) -> None:
    left, top, right, bottom = mark_box(0.0, 0.0, radius, beyond=False)
    for shape, unit in zip(mark_shapes(path, radius), mark_shapes(path, 1.0), strict=True):
        x, y = shape.points.T
        assert left <= x.min()
        assert x.max() <= right
        assert top <= y.min()
        assert y.max() <= bottom
        np.testing.assert_allclose(shape.points, radius * unit.points, atol=1e-9)


@pytest.mark.parametrize("path", PATH_WORDS)
def test_a_mark_lies_on_paper_and_bears_its_words_colour(path: str) -> None:
    shapes = mark_shapes(path, R)
    assert shapes[0].colour == ink.PAPER
    assert {s.colour for s in shapes[1:]} <= {ink.PAPER, ink.WORD_COLOURS[path]}
    assert ink.WORD_COLOURS[path] in {s.colour for s in shapes}


def test_clear_has_a_ring_and_a_point_in_its_centre() -> None:
    _, ring, point = mark_shapes("clear", R)
    assert ring.weight > 0
    np.testing.assert_allclose(np.hypot(*ring.points.T), 0.87 * R)
    assert point.weight == 0
    assert np.hypot(*point.points.T).max() < 0.3 * R


def test_grazing_is_full_in_its_lower_half() -> None:
    _, half, ring = mark_shapes("grazing", R)
    assert half.weight == 0
    assert half.points[:, 1].min() >= -1e-9
    assert half.points[:, 1].max() > 0.8 * R
    assert ring.weight > 0


def test_the_crown_has_eight_lobes_and_three_gaps() -> None:
    _, crown, *gaps = mark_shapes("through_trees", R)
    reach = np.hypot(*crown.points[:-1].T)
    peaks = (reach > np.roll(reach, 1)) & (reach >= np.roll(reach, -1))
    assert peaks.sum() == 8
    assert len(gaps) == 3
    assert all(gap.colour == ink.PAPER for gap in gaps)


def test_blocked_is_a_full_square() -> None:
    _, square = mark_shapes("blocked", R)
    assert len(square.points) == 4
    assert np.ptp(square.points[:, 0]) == pytest.approx(np.ptp(square.points[:, 1]))


def test_not_seen_is_a_broken_ring_with_nothing_in_it() -> None:
    _, *pieces = mark_shapes("not_seen", R)
    assert len(pieces) == 8
    angles = [np.unwrap(np.arctan2(p.points[:, 1], p.points[:, 0])) for p in pieces]
    assert sum(np.ptp(a) for a in angles) == pytest.approx(2 * np.pi * 0.58)
    assert all(np.hypot(*p.points.T).min() > 0.8 * R for p in pieces)


def test_the_arc_beyond_the_horizon_is_shallow_and_below() -> None:
    arc = beyond_arc(R)
    assert arc[:, 1].min() > R
    assert np.ptp(arc[:, 1]) < 0.3 * np.ptp(arc[:, 0])
    left, _, right, bottom = mark_box(0.0, 0.0, R, beyond=True)
    assert left <= arc[:, 0].min()
    assert arc[:, 0].max() <= right
    assert arc[:, 1].max() <= bottom
