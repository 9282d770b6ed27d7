"""Height above average terrain and where it comes from."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.link.height import effective_height, height_above_average_terrain_m


def test_the_best_known_height_is_taken_and_named():
    best = effective_height(
        [np.nan, 120.0, np.nan], [np.nan, np.nan, -30.0], [500.0, 500.0, 400.0], 420.0
    )
    assert best.h1_m.tolist() == [80.0, 120.0, -30.0]
    assert best.source.tolist() == ["site_ground", "listed", "terrain"]


@pytest.mark.parametrize(("length", "mean"), [(40e3, 9e3), (10e3, 6e3), (16e3, 9e3)])
def test_mean_of_a_slope_is_its_middle(length, mean):
    """A slope of 1 m a km: the mean of 3 to 15 km is that at 9 km; of a 10 km path, 2 to 10 km."""
    d = np.linspace(0.0, length, int(length / 100.0) + 1)
    height = height_above_average_terrain_m(d, d / 1e3, 500.0)
    assert height == pytest.approx(500.0 - mean / 1e3, abs=1e-6)


def test_profiles_of_many_stations_and_none_in_the_span():
    d = np.array([[0.0, 5e3, 10e3, 20e3], [0.0, 1e3, 2e3, 100e3]])
    ground = np.array([[0.0, 100.0, 200.0, 900.0], [0.0, 1.0, 2.0, 3.0]])
    height = height_above_average_terrain_m(d, ground, [400.0, 300.0])
    assert height[0] == 250.0
    assert np.isnan(height[1])
