"""Models of loss through foliage against shared/link_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.wave.foliage import (
    SPREAD_FACTOR_HIGH,
    SPREAD_FACTOR_LOW,
    specific_attenuation_db_per_m,
)
from skyview.wave.foliage_models import (
    MODELS,
    early_itu_db,
    foliage_loss_db,
    single_tree_db,
    spread_of_models,
    weissberger_db,
    woodland_db,
)


def megahertz(row):
    return 1e3 * row.number("f_GHz") if "f_GHz" in row.inputs else row.number("f_MHz")


@pytest.mark.parametrize(
    ("quantity", "model", "count"),
    [
        ("Weissberger_MED", weissberger_db, 17),
        ("early_ITU_vegetation", early_itu_db, 16),
        ("P833_woodland_Aev", woodland_db, 16),
        ("P833_single_tree_Aet", single_tree_db, 16),
    ],
)
def test_published_losses(quantity, model, count):
    """Secondary texts; 900 MHz and 100 m, 19.36 dB, is a published reference of Weissberger's."""
    found = rows(quantity)
    assert len(found) == count
    for row in found:
        loss = model(row.number("d_m"), megahertz(row))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


def test_ceiling_of_the_woodland():
    """Rec. ITU-R P.833-10, section 2.1, eq. (2)."""
    for row in rows("P833_Am_StPetersburg"):
        assert woodland_db(1e6, megahertz(row)) == pytest.approx(row.value, abs=row.tolerance)


def test_validity_as_the_rows_have_it():
    for name, quantity in (
        ("weissberger", "Weissberger_MED"),
        ("early_itu", "early_ITU_vegetation"),
    ):
        for row in rows(quantity):
            if "in_validity" not in row.inputs:
                continue
            model = MODELS[name]
            holds = model.lowest_mhz <= megahertz(row) <= model.highest_mhz
            assert holds is (row.inputs["in_validity"] == "yes")


def test_spread_agrees_with_the_default_model():
    low, high = spread_of_models(10.0, 500.0)
    default = foliage_loss_db(10.0, 500.0, "tree", "in")
    assert low / default == pytest.approx(SPREAD_FACTOR_LOW, abs=0.006)
    assert high / default == pytest.approx(SPREAD_FACTOR_HIGH, abs=0.006)
    assert default == pytest.approx(10.0 * specific_attenuation_db_per_m(500.0, "tree", "in"))


@given(
    st.floats(0.0, 60.0), st.floats(0.1, 20.0), st.floats(230.0, 1000.0),
    st.sampled_from(sorted(MODELS)),
)  # fmt: skip
def test_a_deeper_crown_costs_more_and_none_costs_nothing(depth, more, frequency, model):
    """Weissberger's two laws leave a step of 0.03 dB down at 14 m."""
    thin, thick, none = foliage_loss_db([depth, depth + more, 0.0], frequency, "tree", "in", model)
    assert thick >= thin - 0.04
    assert none == 0.0
    bare = foliage_loss_db(depth, frequency, "broadleaf", "out", model)
    assert bare == pytest.approx(thin / 1.2)


def test_what_does_not_hold_is_refused():
    with pytest.raises(InputError, match="weissberger does not hold at 60 MHz"):
        foliage_loss_db(5.0, [60.0, 500.0], "tree", "in", "weissberger")
    with pytest.raises(InputError, match=r"'jungle' is not a known model .* middle, weissberger"):
        foliage_loss_db(5.0, 500.0, "tree", "in", "jungle")
    assert np.isfinite(spread_of_models(10.0, 60.0)).all()
