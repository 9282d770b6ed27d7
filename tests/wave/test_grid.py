"""Grid lines: where they run, how far apart they are."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from skyview.wave.grid import axis_lines

coordinates = st.lists(st.floats(-50.0, 50.0), min_size=2, max_size=60).map(np.array)


@given(coordinates, st.floats(0.05, 3.0))
def test_lines_rise_and_are_no_farther_apart_than_asked(at, spacing):
    lines = axis_lines(at, np.zeros(at.size), spacing, -20.0, 20.0)
    clipped = np.clip(at, -20.0, 20.0)
    if np.ptp(clipped) == 0.0:
        assert lines.size == 0
    else:
        assert lines[0] == clipped.min()
        assert lines[-1] == clipped.max()
        assert np.all(np.diff(lines) > 0.0)
        assert np.diff(lines).max() <= spacing * (1.0 + 1e-6)


def test_the_heavier_of_two_close_coordinates_keeps_its_line():
    at = np.array([0.0, 4.95, 5.05, 10.0])
    for weights, kept in (([0, 1, 2, 0], 5.05), ([0, 2, 1, 0], 4.95)):
        lines = axis_lines(at, np.array(weights, dtype=float), 1.0, -99.0, 99.0)
        assert kept in lines
        assert 10.0 - kept not in lines
