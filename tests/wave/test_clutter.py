"""Receiving height and clutter against shared/p1546_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.wave.clutter import (
    clutter_height_gain_db,
    height_slope_db,
    open_height_gain_db,
    receiving_height_gain_db,
)


def test_validation_cases_of_the_study_group():
    """Rec. ITU-R P.1546-6, Annex 5, section 9: 10 intermediate results, h2 1 to 19 m."""
    found = rows("P1546_h2_correction", "p1546_checks.csv")
    assert len(found) == 10
    for row in found:
        height, f = row.number("h2_m"), row.number("f_MHz")
        if row.inputs["clutter"] == "open":
            gain = open_height_gain_db(height, f)
        else:
            gain = clutter_height_gain_db(
                height, f, 1e3 * row.number("d_km"), row.number("h1_m"), row.number("R2_m")
            )
        assert gain == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize(("frequency", "slope"), [(599.0, 20.42), (195.0, 17.4), (57.0, 14.1)])
def test_slope(frequency, slope):
    """Rec. ITU-R P.1546-6, Annex 5, section 9: K = 3.2 + 6.2 log f."""
    assert height_slope_db(frequency) == pytest.approx(slope, abs=0.06)


@pytest.mark.parametrize(
    ("surroundings", "values"),
    [
        ("rural", [-16.8, -10.7, -6.1, -2.0, 0.0, 1.6, 3.6, 6.1]),
        ("suburban", [-17.0, -15.4, -12.6, -6.2, 0.0, 1.6, 3.6, 6.1]),
        ("urban", [-20.7, -19.8, -18.3, -15.3, -12.5, -8.6, 0.1, 2.6]),
        ("dense_urban", [-23.3, -22.6, -21.6, -19.8, -18.3, -16.4, -12.5, 0.0]),
    ],
)
def test_heights_amid_the_surroundings(surroundings, values):
    """Rec. ITU-R P.1546-6, Annex 5, section 9, evaluated by another script, at 599 MHz, 50 km and
    h1 300 m; whether the direction was photographed decides between the two terms."""
    heights = np.array([1.5, 3.0, 5.0, 8.0, 10.0, 12.0, 15.0, 20.0])
    args = (heights, 599.0, 50e3, 300.0, surroundings)
    np.testing.assert_allclose(receiving_height_gain_db(*args, False), values, atol=0.06)
    np.testing.assert_allclose(
        receiving_height_gain_db(*args, True), open_height_gain_db(heights, 599.0)
    )


@given(
    st.floats(1.0, 30.0), st.floats(0.0, 5.0), st.floats(45.0, 900.0), st.floats(0.0, 20.0),
    st.floats(2e3, 2e5), st.floats(10.0, 1200.0),
)  # fmt: skip
def test_more_height_never_loses_but_for_the_seam_at_the_clutter(h, more, f, clutter, d, h1):
    """J(0) is 6.033 dB where the formula has 6.03: a seam of 0.003 dB at the clutter's height."""
    low, high = clutter_height_gain_db([h, h + more], f, d, h1, clutter)
    assert high >= low - 0.005
    opened = open_height_gain_db([h, h + more], f)
    assert opened[1] >= opened[0]


def test_unknown_surroundings_are_refused():
    with pytest.raises(InputError, match=r"surroundings: 'jungle' .* rural, suburban, urban"):
        receiving_height_gain_db(8.0, 599.0, 50e3, 300.0, "jungle", True)
