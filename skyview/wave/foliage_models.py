"""The published models of loss through foliage, each by name, for a ray of some metres in crowns.

They disagree by a factor of four in decibels at TV frequencies. The default of the package is
their middle, in `skyview.wave.foliage`; here the others can be chosen, and the spread between
those that are valid at a frequency can be had as an uncertainty. The way round a crown is no part
of any of them: the screens add that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.errors import InputError
from skyview.wave.foliage import figure_2_db_per_m, specific_attenuation_db_per_m

Array = NDArray[np.float64]

WEISSBERGER_BREAK_M = 14.0
"""Depth at which Weissberger's model changes its law."""

WOODLAND_A1_DB, WOODLAND_ALPHA = 1.37, 0.42
"""Greatest loss A1 f^alpha of a terminal in woodland: Rec. ITU-R P.833-10, Table 1, St Petersburg,
mixed forest with trees of 16 m (secondary text)."""


def weissberger_db(depth_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """Modified exponential decay, dense dry trees in leaf. [dB]

    ``depth_m`` [m] and ``frequency_mhz`` [MHz] broadcast. Valid from 230 MHz to 95 GHz, to 400 m.

    Source: M. A. Weissberger 1982 (secondary texts): 0.45 f^0.284 d to 14 m, beyond that
    1.33 f^0.284 d^0.588, f in GHz.

    >>> round(float(weissberger_db(100.0, 900.0)), 2)
    19.36
    """
    depth, f_ghz = np.asarray(depth_m, dtype=float), np.asarray(frequency_mhz, dtype=float) / 1e3
    law = np.where(depth <= WEISSBERGER_BREAK_M, 0.45 * depth, 1.33 * depth**0.588)
    return np.asarray(f_ghz**0.284 * law)


def early_itu_db(depth_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """The model of CCIR Report 236-2. [dB]

    ``depth_m`` [m] and ``frequency_mhz`` [MHz] broadcast. Valid from 200 MHz to 95 GHz, to 400 m.

    Source: CCIR Report 236-2 (secondary texts): 0.2 f^0.3 d^0.6, f in MHz.

    >>> round(float(early_itu_db(10.0, 500.0)), 2)
    5.14
    """
    return np.asarray(
        0.2 * np.asarray(frequency_mhz, dtype=float) ** 0.3 * np.asarray(depth_m, float) ** 0.6
    )


def woodland_db(depth_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """An antenna in a wood: the loss rises to a ceiling as waves come round and over. [dB]

    ``depth_m`` [m] inside the wood and ``frequency_mhz`` [MHz] broadcast. The ceiling was measured
    from 105.9 to 2117.5 MHz. InputError outside 30 to 1000 MHz.

    Source: Rec. ITU-R P.833-10, section 2.1, eqs (1) and (2): A_m (1 - exp(-d gamma / A_m)) with
    gamma of Figure 2, vertical polarization.

    >>> round(float(woodland_db(10.0, 500.0)), 2), round(float(woodland_db(1e4, 500.0)), 1)
    (1.23, 18.6)
    """
    ceiling = WOODLAND_A1_DB * np.asarray(frequency_mhz, dtype=float) ** WOODLAND_ALPHA
    gamma = figure_2_db_per_m(frequency_mhz)
    return np.asarray(-ceiling * np.expm1(-np.asarray(depth_m, dtype=float) * gamma / ceiling))


def single_tree_db(depth_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """One crown by the decibels per metre of Figure 2. [dB]

    ``depth_m`` [m] inside the crown and ``frequency_mhz`` [MHz] broadcast. InputError outside 30
    to 1000 MHz.

    Source: Rec. ITU-R P.833-10, section 3.1 (from memory) with Figure 2, vertical polarization.

    >>> round(float(single_tree_db(10.0, 500.0)), 2)
    1.27
    """
    return np.asarray(np.asarray(depth_m, dtype=float) * figure_2_db_per_m(frequency_mhz))


@dataclass(frozen=True)
class FoliageModel:
    """One model of the loss in leaf and where it holds."""

    loss_db: Callable[[ArrayLike, ArrayLike], Array]
    """Of depth [m] and frequency [MHz]."""
    lowest_mhz: float
    highest_mhz: float
    source: str


def _middle_db(depth_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    return np.asarray(
        np.asarray(depth_m, float) * specific_attenuation_db_per_m(frequency_mhz, "tree", "in")
    )


DEFAULT_MODEL = "middle"
MODELS = {
    DEFAULT_MODEL: FoliageModel(
        _middle_db, 30.0, 1000.0, "middle of the published models with the slope of P.833 Figure 2"
    ),
    "weissberger": FoliageModel(
        weissberger_db, 230.0, 95_000.0, "Weissberger's modified exponential decay"
    ),
    "early_itu": FoliageModel(early_itu_db, 200.0, 95_000.0, "CCIR Report 236-2"),
    "p833_woodland": FoliageModel(
        woodland_db, 105.9, 1000.0, "Rec. ITU-R P.833-10, section 2.1, St Petersburg"
    ),
    "p833_figure_2": FoliageModel(
        single_tree_db, 30.0, 1000.0, "Rec. ITU-R P.833-10, section 3.1 with Figure 2"
    ),
}
"""The models that may be chosen, by name. Fits made above 9 GHz (COST 235, FITU-R) are left out:
at 500 MHz they give up to 27 dB for 10 m."""


def foliage_loss_db(
    depth_m: ArrayLike,
    frequency_mhz: ArrayLike,
    kind: str,
    leaf: str,
    model: str = DEFAULT_MODEL,
) -> Array:
    """Loss of a ray through a crown by a model, the leaves minded. [dB]

    ``kind`` and ``leaf`` as in `skyview.wave.foliage.specific_attenuation_db_per_m`, whose factor
    for bare crowns is applied to every model. ``model`` is a name in `MODELS`. Raises InputError
    for another model, for a frequency at which the model does not hold, and as that function does.

    >>> round(float(foliage_loss_db(10.0, 500.0, "conifer", "in", "weissberger")), 2)
    3.7
    """
    chosen = MODELS.get(model)
    if chosen is None:
        raise InputError(
            f"{model!r} is not a known model of foliage",
            field="foliage_model",
            mend=f"give one of {', '.join(MODELS)}",
        )
    frequency = np.asarray(frequency_mhz, dtype=float)
    outside = ~_within(chosen, frequency)
    if np.any(outside):
        raise InputError(
            f"the model {model} does not hold at {frequency[outside].flat[0]:g} MHz",
            field="foliage_model",
            mend=f"take {DEFAULT_MODEL}, or stay within {chosen.lowest_mhz:g} to "
            f"{chosen.highest_mhz:g} MHz",
        )
    share = specific_attenuation_db_per_m(500.0, kind, leaf) / specific_attenuation_db_per_m(
        500.0, "tree", "in"
    )
    return np.asarray(chosen.loss_db(depth_m, frequency) * share)


def spread_of_models(depth_m: ArrayLike, frequency_mhz: ArrayLike) -> tuple[Array, Array]:
    """Least and greatest loss in leaf that a model valid at the frequency gives. [dB, dB]

    ``depth_m`` [m] and ``frequency_mhz`` [MHz], 30 to 1000, broadcast. The default model is among
    them: below 200 MHz, where the higher ones do not hold, it is the greatest.

    >>> low, high = spread_of_models(10.0, [60.0, 500.0])
    >>> low.round(2).tolist(), high.round(2).tolist()
    ([0.32, 1.23], [0.63, 5.14])
    """
    depth, frequency = np.broadcast_arrays(
        np.asarray(depth_m, dtype=float), np.asarray(frequency_mhz, dtype=float)
    )
    losses = [
        np.where(_within(model, frequency), model.loss_db(depth, frequency), np.nan)
        for model in MODELS.values()
    ]
    return np.nanmin(losses, axis=0), np.nanmax(losses, axis=0)


def holds(model: str, frequency_mhz: ArrayLike) -> NDArray[np.bool_]:
    """Whether the model of this name holds at the frequencies [MHz], as an array.

    >>> holds("weissberger", [69.0, 500.0]).tolist()
    [False, True]
    """
    return _within(MODELS[model], np.asarray(frequency_mhz, dtype=float))


def _within(model: FoliageModel, frequency_mhz: Array) -> NDArray[np.bool_]:
    return (frequency_mhz >= model.lowest_mhz) & (frequency_mhz <= model.highest_mhz)
