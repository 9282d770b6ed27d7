"""Tropospheric scatter against shared/link_checks.csv."""

from __future__ import annotations

import pytest
from check_rows import rows

from skyview.link.scatter import scatter_angle, scatter_field_dbuv_m, scatter_loss_db


def test_loss():
    """Rec. ITU-R P.1812-6, eq. (44)."""
    for row in rows("P1812_troposcatter"):
        loss = scatter_loss_db(
            1e3 * row.number("d_km"),
            1e3 * row.number("f_GHz"),
            1e-3 * row.number("theta_mrad"),
            int(row.number("p_pct")),
        )
        assert loss == pytest.approx(row.value, abs=row.tolerance)


def test_field_agrees_with_the_form_of_the_curves():
    """Rec. ITU-R P.1546-6, section 13, from memory: 24.4 - 20 log d - 10 theta - L_f + 0.15 N0,
    L_f = 5 log f - 2.5 (log f - 3.3)^2, theta in degrees."""
    field = scatter_field_dbuv_m(200e3, 600.0, 0.0235)
    assert field == pytest.approx(24.4 - 46.02 - 13.46 - 13.89 + 0.68 + 48.75, abs=0.3)


def test_angle_is_that_beyond_both_horizons():
    assert scatter_angle(60e3, 300.0, 10.0) == 0.0
    assert scatter_angle(100e3, 300.0, 10.0) == pytest.approx(
        (100 - 71.4 - 13.0) / 8494.7, abs=2e-5
    )
