"""Random numbers that belong to names."""

from __future__ import annotations

import numpy as np

from skyview.survey.budget.chance import normal, uniform

NAMES = [f"Q{i}" for i in range(400)]


def test_a_name_keeps_its_numbers_whatever_else_is_asked():
    alone = normal("station", ["Q7"], 50)[:, 0]
    among = normal("station", NAMES, 80)[:50, 7]
    assert np.array_equal(alone, among)


def test_purposes_and_seeds_differ():
    one = uniform("station", ["Q"], 100)
    for other in (uniform("site", ["Q"], 100), uniform("station", ["Q"], 100, seed=3)):
        assert not np.any(one == other)


def test_they_are_normal_and_do_not_know_of_one_another():
    """Bounds of five standard errors: of a mean 1/sqrt(n), of a deviation 1/sqrt(2n)."""
    drawn = normal("station", NAMES, 2000)
    n = drawn.size
    assert abs(drawn.mean()) < 5.0 / np.sqrt(n)
    assert abs(drawn.std() - 1.0) < 5.0 / np.sqrt(2.0 * n)
    assert abs(np.mean(np.abs(drawn) < 1.0) - 0.682689) < 5.0 * np.sqrt(0.25 / n)
    between = np.corrcoef(drawn.T)[np.triu_indices(len(NAMES), 1)]
    assert np.abs(between).max() < 6.0 / np.sqrt(2000.0)
    along = np.mean(drawn[1:] * drawn[:-1])
    assert abs(along) < 5.0 / np.sqrt(n)
