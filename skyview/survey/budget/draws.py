"""The loss of everything marked near the paths, drawn again and again within what is known.

Calibration, outlines, distances and crowns are drawn in ``SETS`` sets of numbers spread evenly over
their likely range, and the joint loss of every set is computed by what each thing blocks, on grids
coarser than those of the middle's: against the exact joint loss of the same set 0.40 dB RMS below
28 dB, 0.43 where two or more things count (shared/draw_study.csv). Arrays run over draws (D),
antenna positions (A), stations (S).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from skyview.angles import Array
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.chance import DRAWS, SEED, normal
from skyview.survey.budget.parts import Bools, LossDraws
from skyview.survey.budget.quick import drawn_losses
from skyview.survey.budget.sets import errors_of, sets_of
from skyview.survey.cameras import ViewCamera
from skyview.survey.losses import Hindrance
from skyview.survey.models import Survey
from skyview.survey.screens import ViewScreen
from skyview.wave.screens import TRUSTED_LOSS_DB

SETS = 32
"""Sets of numbers; draw d takes set d modulo these."""

BEHIND_DB = 6.0
"""What may stand unseen behind a thing that the antenna clears: half of the draws lose nothing to
it, the others the upper half of a normal distribution of this sigma, one in ten more than 7.7 dB.
Our own choice."""

NINE_OF_TEN = 1.645
"""Sigmas within which nine of ten errors lie."""


def loss_draws(
    survey: Survey,
    met: Hindrance,
    arrivals: Arrivals,
    antenna_m: Array,
    cameras: dict[str, ViewCamera],
    screens: dict[str, list[ViewScreen]],
    frequency_mhz: Array,
    leaf: str,
    unseen_behind: Bools,
    joint_db: Array | None,
    count: int = DRAWS,
    seed: int = SEED,
    shares: bool = False,
    joint_error_db: Array | None = None,
    stations: Sequence[str] | None = None,
    sets: int = SETS,
) -> LossDraws:
    """Draws of the joint loss of all paths, and with ``shares`` of what each thing gives back.

    ``antenna_m`` (A, 3); ``frequency_mhz`` (S,); ``unseen_behind``, ``joint_db`` and
    ``joint_error_db`` (A, S): the exact joint loss of the middle, which may be left out (None)
    where there are many positions, and its error in nine cases of ten;
    ``stations``: their ids, the survey's if not given. A thing's numbers depend on its id, the
    seed and the number of ``sets`` alone; fewer sets take less time. Where nothing is unsure every
    draw is ``joint_db``.
    """
    names = list(stations) if stations is not None else [s.id for s in survey.stations]
    errors = errors_of(cameras, arrivals, sets, seed)
    drawn = [
        sets_of(
            screens[name],
            survey.outlines,
            antenna_m,
            arrivals,
            errors,
            frequency_mhz,
            leaf,
            sets,
            seed,
        )
        for name in met.names
    ]
    loss, gains = drawn_losses(met, arrivals, frequency_mhz, drawn, joint_db, sets, shares)
    which = np.arange(count) % sets
    loss, gains = loss[which], gains[:, which]
    if joint_db is not None and joint_error_db is not None:
        loss += _joint_error(joint_db, joint_error_db, names, count, seed)
    loss += np.where(unseen_behind, behind_db(names, count, seed)[:, None, :], 0.0).astype(
        np.float32
    )
    return LossDraws(loss, gains, met.names)


def behind_db(stations: Sequence[str], count: int, seed: int = SEED) -> Array:
    """Draws of what may stand unseen behind a thing that the antenna clears. (D, S) [dB]"""
    return BEHIND_DB * np.maximum(normal("behind", stations, count, seed), 0.0)


def _joint_error(
    joint_db: Array, error_db: Array, names: list[str], count: int, seed: int
) -> Array:
    """What the joint computation itself may be off; where only 'at least' is sure, upwards."""
    number = normal("joint", names, count, seed)[:, None, :] / NINE_OF_TEN
    return np.asarray(
        error_db * np.where(joint_db > TRUSTED_LOSS_DB, np.abs(number), number), np.float32
    )
