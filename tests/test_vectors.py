"""Vector verbs on one vector and on many."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from skyview.vectors import dot, length, unit

COORDINATE = st.floats(-1e6, 1e6)
VECTOR = st.tuples(COORDINATE, COORDINATE, COORDINATE)


@given(VECTOR, VECTOR)
def test_dot_agrees_with_the_sum_of_products(a, b):
    expected = sum(p * q for p, q in zip(a, b, strict=True))
    assert (
        abs(float(dot(a, b)) - expected)
        <= 1e-15 * sum(abs(p * q) for p, q in zip(a, b, strict=True)) * 4.0
    )


def test_dot_broadcasts_one_vector_against_many():
    many = np.arange(24.0).reshape(4, 2, 3)
    np.testing.assert_array_equal(dot(many, [1.0, 0.0, 2.0]), many[..., 0] + 2.0 * many[..., 2])


def test_length_of_one_and_of_many():
    assert float(length([2.0, 3.0, 6.0])) == 7.0
    np.testing.assert_array_equal(length([[1.0, 0.0, 0.0], [0.0, -3.0, 4.0]]), [1.0, 5.0])


@given(VECTOR.filter(lambda v: max(map(abs, v)) > 1e-6))
def test_unit_has_length_one_and_the_same_direction(vector):
    direction = unit(vector)
    assert abs(float(length(direction)) - 1.0) < 1e-14
    assert np.linalg.norm(np.cross(direction, vector)) <= 1e-14 * float(length(vector))
    assert float(dot(direction, vector)) > 0.0


def test_unit_of_a_zero_vector_is_nan_and_leaves_its_neighbours():
    directions = unit([[0.0, 0.0, 0.0], [0.0, 5.0, 0.0]])
    assert np.isnan(directions[0]).all()
    np.testing.assert_array_equal(directions[1], [0.0, 1.0, 0.0])
    assert np.isnan(unit([0.0, 0.0, 0.0])).all()
