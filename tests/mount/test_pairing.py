"""Pairs in the order of bearing, against every possible pairing; things that pass each other."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.mount.pairing import _in_order, kind_cost, pairs

FAMILIES = (("tree", "conifer"),)


def best_gain(cost):
    """Greatest gain of any pairing in order, by trying all."""
    gain = np.maximum(1.0 - cost, 0.0)
    rows, columns = cost.shape
    return max(
        sum(gain[i, j] for i, j in zip(some, others, strict=True))
        for count in range(min(rows, columns) + 1)
        for some in combinations(range(rows), count)
        for others in combinations(range(columns), count)
    )


@settings(max_examples=80, deadline=None)
@given(st.integers(1, 4), st.integers(1, 4), st.randoms(use_true_random=False))
def test_no_pairing_in_order_gains_more(rows, columns, random):
    cost = np.array([[random.uniform(0.0, 1.6) for _ in range(columns)] for _ in range(rows)])
    found = _in_order(cost)
    assert [p[0] for p in found] == sorted({p[0] for p in found})
    assert [p[1] for p in found] == sorted({p[1] for p in found})
    gain = sum(1.0 - cost[i, j] for i, j in found)
    assert gain == pytest.approx(best_gain(cost))


def test_a_near_tree_may_pass_a_far_house():
    bearings = np.radians([40.0, 50.0, 60.0]), np.radians([65.0, 50.2, 60.1])
    cost = np.full((3, 3), 2.0)
    np.fill_diagonal(cost, 0.1)
    assert {(p.first, p.second) for p in pairs(*bearings, cost)} == {(0, 0), (1, 1), (2, 2)}


def test_order_runs_across_north():
    bearings = np.radians([350.0, 5.0]), np.radians([352.0, 8.0])
    cost = np.array([[0.1, 0.3], [0.3, 0.1]])
    assert {(p.first, p.second) for p in pairs(*bearings, cost)} == {(0, 0), (1, 1)}


def test_kinds_of_another_family_never_pair():
    cost = kind_cost(["tree", "building"], ["conifer", "building"], FAMILIES)
    assert cost.tolist() == [[0.25, 1.0], [1.0, 0.0]]
