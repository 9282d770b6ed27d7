"""Regions along edges, and the tree in which they melt together."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.outline.regions import Regions, regions_of
from skyview.outline.settle import agreed


@pytest.fixture(scope="module")
def box() -> tuple[Regions, np.ndarray]:
    """A square room with a low inner wall and one gap in its outer wall; where it is."""
    edge = np.abs(np.random.default_rng(1).normal(0.0, 0.1, (120, 160))).astype(np.float32)
    edge[30:91, [50, 110]] = edge[[30, 90], 50:111] = 6.0
    edge[60, 51:110] = 1.5
    edge[50:53, 50] = 0.1
    inside = np.zeros(edge.shape, bool)
    inside[33:88, 53:108] = True
    return regions_of(edge), inside


def test_a_gap_in_a_wall_does_not_let_everything_through(box: tuple[Regions, np.ndarray]) -> None:
    regions, inside = box
    part, _ = regions.at(2.5)
    labels = part[regions.label]
    room = np.bincount(labels[inside]).argmax()
    assert (labels[inside] == room).mean() > 0.95
    assert (labels[:25] == room).mean() == 0.0


def test_walls_fall_from_the_lowest(box: tuple[Regions, np.ndarray]) -> None:
    regions, _ = box
    counts = [regions.at(level)[1] for level in (0.0, 0.3, 1.0, 2.0, 1e9)]
    assert counts[0] == regions.count
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] == 1
    assert (np.diff(regions.height[regions.count :]) >= 0.0).all()


def test_the_joining_height_is_that_of_the_wall_between(box: tuple[Regions, np.ndarray]) -> None:
    regions, _ = box
    wanted = np.zeros(regions.count, bool)
    wanted[regions.label[45, 80]] = True
    height = regions.reached_at(wanted)
    assert height[regions.label[45, 80]] == 0.0
    below, outside = height[regions.label[75, 80]], height[regions.label[10, 10]]
    assert 0.0 < below < outside
    none = regions.reached_at(np.zeros(regions.count, bool))
    assert (none > regions.height.max()).all()


def test_sums_over_the_tree_end_in_the_whole(box: tuple[Regions, np.ndarray]) -> None:
    regions, _ = box
    assert regions.melted_sum(regions.area)[-1] == regions.label.size


def test_no_region_lies_on_both_sides_of_a_split() -> None:
    split = np.zeros((60, 80), bool)
    split[:, 33:] = True
    regions = regions_of(np.zeros((60, 80), np.float32), split)
    share = regions.mean(split.astype(float))
    assert set(share.tolist()) <= {0.0, 1.0}


def test_what_is_held_hardly_takes_neighbours_along() -> None:
    parted = np.repeat([[0, 1]], [30, 90], axis=1) * np.ones((60, 1), int)
    r = regions_of(np.full((60, 120), 0.8, np.float32), parted)
    likely, held = np.array([0.01, 0.8]), np.array([True, False])
    assert agreed(r, likely)[1] < 0.5
    assert agreed(r, likely, held).round(2).tolist() == [0.01, 0.7]
