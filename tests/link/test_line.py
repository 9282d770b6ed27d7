"""Cable, splitters, filters and combiners against shared/link_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.link.line import (
    CABLES,
    METRES_PER_100_FT,
    coax_loss_db,
    filter_loss_db,
    splitter_loss_db,
)


@pytest.mark.parametrize("quantity", ["RG6_series6_max_attenuation_20C", "RG6_fit"])
def test_series_6_cable(quantity):
    """Data sheets of series-6 drop cable, from memory; 0.15 dB per 100 ft."""
    for row in rows(quantity):
        loss = coax_loss_db("rg6", METRES_PER_100_FT, row.number("f_MHz"))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize(
    ("cable", "values"), [("rg59", [2.05, 4.45, 5.95, 8.12]), ("rg11", [0.96, 2.25, 3.04, 4.35])]
)
def test_other_cables(cable, values):
    """Data sheets of series-59 and series-11 drop cable, from memory."""
    loss = coax_loss_db(cable, METRES_PER_100_FT, [55.0, 300.0, 550.0, 1000.0])
    np.testing.assert_allclose(loss, values, atol=0.15)


def test_splitters():
    """Common practice, splitter tutorial: 3.5, 7, 10.5 dB."""
    for row in rows("splitter_loss"):
        assert splitter_loss_db(row.number("ways")) == pytest.approx(row.value, abs=0.05)
    assert splitter_loss_db(1) == 0.0


@given(st.sampled_from(sorted(CABLES)), st.floats(0.0, 100.0), st.floats(45.0, 900.0))
def test_no_cable_costs_nothing_and_more_costs_more(cable, length, frequency):
    none, some, more = coax_loss_db(cable, [0.0, length, length + 1.0], frequency)
    assert none == 0.0
    assert none <= some < more
    assert coax_loss_db(cable, 10.0, frequency * 1.1) > coax_loss_db(cable, 10.0, frequency)


def test_the_better_cable_is_the_thicker():
    thin, usual, thick = (coax_loss_db(name, 20.0, 600.0) for name in ("rg59", "rg6", "rg11"))
    assert thin > usual > thick


def test_filter_passes_its_band_alone():
    loss = filter_loss_db([469.9, 470.0, 608.0, 608.1], 470.0, 608.0, 0.5, 30.0)
    assert loss.tolist() == [30.0, 0.5, 0.5, 30.0]


def test_what_is_unknown_is_refused():
    with pytest.raises(InputError, match=r"type: 'bell wire' .* rg6, rg59, rg11"):
        coax_loss_db("bell wire", 10.0, 600.0)
    with pytest.raises(InputError, match="length_m: a cable of -1 m"):
        coax_loss_db("rg6", -1.0, 600.0)
