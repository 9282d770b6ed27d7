"""The field where the ground's profile on the way is known: free space less its diffraction.

The median is free space less the delta-Bullington loss of Rec. ITU-R P.526, joined with
tropospheric scatter as Rec. ITU-R P.1812-6 joins them, so that scatter is the floor. How much
stronger or weaker the field is for a tenth of the time is taken from the curves of Rec. ITU-R
P.1546 at the same distance and heights: our own choice, since P.526 gives the median alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from skyview.angles import Array
from skyview.link.field import maximum_field_dbuv_m
from skyview.link.scatter import scatter_field_dbuv_m
from skyview.survey.models import Station
from skyview.survey.terrain import Terrain
from skyview.wave.earth import EFFECTIVE_RADIUS_M
from skyview.wave.terrain import Profile, delta_bullington_loss, skyline_from_receiver


def ground_loss_db(
    terrain: Terrain, stations: Sequence[Station], up_m: Array, frequency_mhz: Array
) -> Array:
    """Median loss over free space at antennas ``up_m`` (A,) above the site's ground. (A, S) [dB]

    Never below 0: free space is the ceiling. NaN where the profile is not known.
    """
    profile, top = terrain.profile, terrain.top_amsl_m
    vertical = np.array([s.polarization == "v" for s in stations])
    length = profile.length_m
    free = maximum_field_dbuv_m(length)
    back = Profile(length[:, None] - profile.distance_m[:, ::-1], profile.ground_amsl_m[:, ::-1])
    there, _ = skyline_from_receiver(back, top)

    def work(own_amsl_m: Array) -> Array:
        diffracted = (
            free
            - delta_bullington_loss(
                profile, top, own_amsl_m, frequency_mhz, vertical=vertical
            ).loss_db
        )
        here, _ = skyline_from_receiver(profile, own_amsl_m)
        bend = np.maximum(length / EFFECTIVE_RADIUS_M + there + here, 0.0)
        scattered = scatter_field_dbuv_m(length, frequency_mhz, bend)
        return np.maximum(free - joined_dbuv_m(diffracted, scattered), 0.0)

    return np.where(terrain.known, terrain.at_heights(up_m, work), np.nan)


def joined_dbuv_m(diffracted_dbuv_m: Array, scattered_dbuv_m: Array) -> Array:
    """The field of two ways of propagation together. [dB(uV/m)]

    Source: Rec. ITU-R P.1812-6, its combination of losses: -5 log(10^(-0.2 La) + 10^(-0.2 Lb)).

    >>> joined_dbuv_m(np.array([30.0, 10.0]), np.array([0.0, 10.0])).round(2).tolist()
    [30.0, 11.51]
    """
    scale = 5.0 / np.log(10.0)
    return np.asarray(
        scale * np.logaddexp(diffracted_dbuv_m / scale, scattered_dbuv_m / scale), float
    )
