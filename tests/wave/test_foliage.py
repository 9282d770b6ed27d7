"""Decibels per metre of crown against shared/radio_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.wave.foliage import (
    HIGHEST_MHZ,
    LOWEST_MHZ,
    MIDDLE_FACTOR,
    SPREAD_FACTOR_HIGH,
    SPREAD_FACTOR_LOW,
    figure_2_db_per_m,
    specific_attenuation_db_per_m,
)


@pytest.mark.parametrize("quantity", ["P833_fig2_gamma_vertical_pol", "P833_gamma_V_loglog"])
def test_figure_2(published, quantity):
    """Rec. ITU-R P.833-10, Figure 2."""
    for row in published(quantity):
        gamma = figure_2_db_per_m(row.number("f_MHz"))
        assert gamma == pytest.approx(row.value, abs=row.tolerance)


def test_loss_of_one_crown(published):
    """Rec. ITU-R P.833, section 3.1."""
    for row in published("P833_single_tree_Aet"):
        loss = row.number("d_m") * specific_attenuation_db_per_m(
            row.number("f_MHz"), "conifer", "in"
        )
        assert loss == pytest.approx(MIDDLE_FACTOR * row.value, abs=MIDDLE_FACTOR * row.tolerance)


def test_spread_of_the_published_models(published):
    """Woodland model and CCIR Report 236-2 at 500 MHz, 10 m, over the default; Weissberger's model
    lies between."""
    default = 10.0 * specific_attenuation_db_per_m(500.0, "tree", "in")
    (low,) = published("P833_woodland_Aev")
    (high,) = published("early_ITU_vegetation")
    (between,) = published("Weissberger_MED")
    assert low.value / default == pytest.approx(SPREAD_FACTOR_LOW, abs=0.005)
    assert high.value / default == pytest.approx(SPREAD_FACTOR_HIGH, abs=0.005)
    assert low.value < between.value < high.value
    middle = np.sqrt(low.value * high.value)
    assert middle / default == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(
    ("kind", "leaf", "share"),
    [
        ("conifer", "in", 1.0),
        ("conifer", "out", 1.0),
        ("broadleaf", "in", 1.0),
        ("broadleaf", "out", 1.0 / 1.2),
        ("dead_tree", "in", 1.0 / 1.2),
        ("dead_tree", "out", 1.0 / 1.2),
        ("tree", "in", 1.0),
        ("tree", "out", 1.0),
    ],
)
def test_leaf_state(kind, leaf, share):
    """About 20 % more in leaf, Rec. ITU-R P.833-10; twice 0.2 dB/m at 1 GHz."""
    assert specific_attenuation_db_per_m(1000.0, kind, leaf) == pytest.approx(0.4 * share)


def test_straight_on_logarithmic_scales():
    middle = np.sqrt(LOWEST_MHZ * HIGHEST_MHZ)
    gamma = specific_attenuation_db_per_m(middle, "tree", "in")
    assert gamma == pytest.approx(2 * np.sqrt(0.02 * 0.2))


@pytest.mark.parametrize("frequency", [29.9, 1000.1])
def test_a_frequency_outside_the_curve_is_refused(frequency):
    with pytest.raises(InputError, match=r"frequency_mhz: .* from 30 to 1000 MHz"):
        specific_attenuation_db_per_m(np.array([500.0, frequency]), "tree", "in")


def test_unknown_words_are_refused():
    with pytest.raises(InputError, match=r"kind: 'hedge' .* conifer, broadleaf, dead_tree, tree"):
        specific_attenuation_db_per_m(500.0, "hedge", "in")
    with pytest.raises(InputError, match=r"leaf: 'half' .* in, out"):
        specific_attenuation_db_per_m(500.0, "tree", "half")
