"""What the crown of a tree leaves of a wave that goes straight through it.

Decibels per metre of crown by frequency: the middle of the published models, with their spread
beside it. They disagree by a factor of four in decibels at TV frequencies, so the default is a
starting point and a measured value of the site is worth more.
Rec. ITU-R P.833-10 is used as quoted in secondary texts, its section 3.1 from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.errors import InputError

LOWEST_MHZ, HIGHEST_MHZ = 30.0, 1000.0
"""The frequencies between which `specific_attenuation_db_per_m` answers. Rec. ITU-R P.833-10:
Figure 2 starts at 30 MHz, and a single obstruction is treated as depth times decibels per metre
at or below 1 GHz (section 3.1)."""

AT_LOWEST_DB_PER_M, AT_HIGHEST_DB_PER_M = 0.02, 0.2
"""Rec. ITU-R P.833-10, Figure 2, vertical polarization, in leaf, read off at 30 MHz and 1 GHz
(within 15 %); straight between on logarithmic scales. Horizontal polarization is attenuated less
below 1 GHz: the default errs on the side of loss."""

LEAF_FACTOR = 1.2
"""In leaf over out of leaf, in decibels: about 20 % more per metre in leaf, Rec. ITU-R P.833-10,
stated near 1 GHz; used here over the whole range for want of another rule."""

MIDDLE_FACTOR = 2.0
"""The default over Figure 2, which is the lowest of the published models valid in the TV bands:
for 10 m of crown at 500 MHz they give 1.23 dB (woodland model, Rec. ITU-R P.833-10, section 2.1,
eq. (1), St Petersburg), 1.27 dB (Figure 2), 3.7 dB (modified exponential decay, Weissberger) and
5.14 dB (CCIR Report 236-2). The default is the middle of that spread on a logarithmic scale,
2.5 dB, with the frequency's slope of Figure 2, the one curve that covers all TV bands. Fits made
above 9 GHz (COST 235, FITU-R) are left out: they do not hold at TV frequencies."""

SPREAD_FACTOR_LOW = 0.48
"""Least of those published losses over the default one, for 10 m of crown at 500 MHz."""

SPREAD_FACTOR_HIGH = 2.02
"""Greatest of those published losses over the default one, same crown."""

KINDS = ("conifer", "broadleaf", "dead_tree", "tree")
LEAF_STATES = ("in", "out")


def figure_2_db_per_m(frequency_mhz: ArrayLike) -> NDArray[np.float64]:
    """Rec. ITU-R P.833-10, Figure 2: vertical polarization, in leaf. [dB/m]

    ``frequency_mhz`` [MHz], a number or an array, 30 to 1000; InputError outside.

    >>> round(float(figure_2_db_per_m(500.0)), 4)
    0.1269
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    outside = (frequency < LOWEST_MHZ) | (frequency > HIGHEST_MHZ)
    if np.any(outside):
        raise InputError(
            f"foliage loss is not known at {frequency[outside].flat[0]:g} MHz",
            field="frequency_mhz",
            mend=f"give a frequency from {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz",
        )
    exponent = np.log(AT_HIGHEST_DB_PER_M / AT_LOWEST_DB_PER_M) / np.log(HIGHEST_MHZ / LOWEST_MHZ)
    return np.asarray(AT_LOWEST_DB_PER_M * (frequency / LOWEST_MHZ) ** exponent)


def specific_attenuation_db_per_m(
    frequency_mhz: ArrayLike, kind: str, leaf: str
) -> NDArray[np.float64]:
    """Loss of a metre of crown, ``MIDDLE_FACTOR`` times `figure_2_db_per_m`. [dB/m]

    ``frequency_mhz`` [MHz], a number or an array, 30 to 1000; ``kind`` is conifer, broadleaf,
    dead_tree or tree (kind not known); ``leaf`` is in or out. A broadleaf crown out of leaf and
    a dead tree at any time have 1/1.2 of the value in leaf. A conifer keeps its needles, and a
    tree of unknown kind is taken to keep its leaves, so that the loss is not understated.

    Raises InputError for a frequency outside 30 to 1000 MHz, another kind or another leaf state.

    Source: Rec. ITU-R P.833-10, Figure 2, scaled; see the constants above.

    >>> round(float(specific_attenuation_db_per_m(500.0, "conifer", "in")), 4)
    0.2537
    >>> round(float(specific_attenuation_db_per_m(500.0, "broadleaf", "out")), 4)
    0.2114
    """
    _require_one_of(kind, KINDS, "kind")
    _require_one_of(leaf, LEAF_STATES, "leaf")
    in_leaf = MIDDLE_FACTOR * figure_2_db_per_m(frequency_mhz)
    bare = kind == "dead_tree" or (kind == "broadleaf" and leaf == "out")
    return np.asarray(in_leaf / LEAF_FACTOR if bare else in_leaf)


def _require_one_of(value: str, choices: tuple[str, ...], field: str) -> None:
    if value not in choices:
        raise InputError(
            f"{value!r} is not a known {field} of a crown",
            field=field,
            mend=f"give one of {', '.join(choices)}",
        )
