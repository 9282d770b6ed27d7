"""Peaks and their prominence, against scipy.signal.find_peaks."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from skyview.outline.peaks import peaks_of

# Few heights, so that flat tops and equal ones are many.
ROWS = st.lists(st.integers(0, 5), min_size=1, max_size=40).map(np.array)


@given(ROWS, st.floats(0.1, 4.9))
def test_the_same_peaks_as_scipy_finds(values: np.ndarray, least: float) -> None:
    row = values.astype(float)
    np.testing.assert_array_equal(peaks_of(row), find_peaks(row)[0])
    np.testing.assert_array_equal(peaks_of(row, least), find_peaks(row, prominence=least)[0])


def test_none_where_nothing_rises() -> None:
    assert peaks_of(np.zeros(5)).tolist() == []
    assert peaks_of(np.arange(5.0), 0.5).tolist() == []
