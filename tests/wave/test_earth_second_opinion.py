"""The smooth earth against the Longley-Rice model of the reference library itmlogic (MIT).

Longley and Rice take Vogler's approximation of the smooth-earth residue series, another road to
the same loss. Compared beyond the radio horizon and below 50 dB, where scatter takes over there.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from itmlogic.preparatory_subroutines.qlrpfl import qlrpfl

from skyview.wave.earth import LAND, smooth_earth_loss_db
from skyview.wave.terrain import Profile, delta_bullington_loss

REFRACTIVITY = 301.0


def longley_rice(distance, heights, frequency):
    """Reference attenuation over flat ground, and the effective radius that it takes. [dB, m]"""
    wave_number = frequency / 47.7
    ground = complex(LAND.relative_permittivity, 376.62 * LAND.conductivity / wave_number)
    path = {
        "hg": list(heights),
        "wn": wave_number,
        "ens": REFRACTIVITY,
        "gme": 157e-9 * (1.0 - 0.04665 * math.exp(REFRACTIVITY / 179.3)),
        "zgnd": cmath.sqrt(ground - 1.0),
        "pfl": [200, distance / 200, *np.zeros(201)],
        "klim": 5,
        "klimx": 0,
        "lvar": 5,
        "mdvar": 12,
        "mdvarx": 11,
        "mdp": -1,
        "kwx": 0,
    }
    done = qlrpfl(path)
    assert done["kwx"] == 0
    return float(done["aref"]), 1.0 / path["gme"]


@pytest.mark.parametrize(
    ("frequency", "transmitter", "distances"),
    [
        (57.0, 300.0, [100e3, 120e3]),
        (57.0, 100.0, [60e3, 80e3, 100e3]),
        (195.0, 300.0, [100e3, 120e3]),
        (195.0, 100.0, [60e3, 80e3, 100e3]),
        (599.0, 300.0, [100e3, 120e3]),
        (599.0, 100.0, [60e3, 80e3]),
    ],
)
def test_beyond_the_horizon_both_agree(frequency, transmitter, distances):
    """Within 1.2 dB where the loss is 25 to 50 dB."""
    for distance in distances:
        reference, radius = longley_rice(distance, (transmitter, 10.0), frequency)
        assert 25.0 < reference < 50.0
        sphere = smooth_earth_loss_db(distance, transmitter, 10.0, frequency, radius_m=radius)
        assert sphere == pytest.approx(reference, abs=1.2)
        flat = Profile(np.linspace(0.0, distance, 201), np.zeros(201))
        whole = delta_bullington_loss(flat, transmitter, 10.0, frequency, radius_m=radius)
        assert whole.loss_db == pytest.approx(reference, abs=1.2)
