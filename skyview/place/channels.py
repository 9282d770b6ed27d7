"""Channel plans: from an RF channel number to its centre, its width and its band.

Four plans are known by name: ``americas-6mhz``, ``europe-8mhz``, ``australia-7mhz`` and
``japan-6mhz``. Channel numbers are the ones on the air, never the virtual ones on the screen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.errors import InputError

Band = Literal["low_vhf", "high_vhf", "uhf"]

CHANNEL_9A: Final = 109
"""Number that stands for the Australian channel 9A, whose name is no whole number: it lies
between 9 and 10, and 109 is used by no plan. Our own convention; ``channel_name`` undoes it."""

_HIGH_VHF_FROM_MHZ = 140.0
_UHF_FROM_MHZ = 300.0


@dataclass(frozen=True)
class _Rule:
    """Channels first..last lie at base_mhz + step_mhz N, each step_mhz wide unless said."""

    first: int
    last: int
    base_mhz: float
    step_mhz: float
    width_mhz: float


_SEVENTH = 1.0 / 7.0
_PLANS: dict[str, tuple[_Rule, ...]] = {
    # 47 CFR 73.603(a). 37 is radio astronomy; 38-69 were television channels on the same raster
    # before they went to other services (from memory).
    "americas-6mhz": (
        _Rule(2, 4, 45.0, 6.0, 6.0),
        _Rule(5, 6, 49.0, 6.0, 6.0),
        _Rule(7, 13, 135.0, 6.0, 6.0),
        _Rule(14, 36, 389.0, 6.0, 6.0),
        _Rule(38, 69, 389.0, 6.0, 6.0),
    ),
    # GE06 channel tables (secondary text): Band III on the 7 MHz raster, UHF on the 8 MHz one;
    # 49-69 were in use before the 800 and 700 MHz clearances.
    "europe-8mhz": (
        _Rule(5, 12, 142.5, 7.0, 7.0),
        _Rule(21, 69, 306.0, 8.0, 8.0),
    ),
    # Vision carriers of the analogue plan + 2.25 MHz (secondary text); 9A lies between 9 and 10.
    "australia-7mhz": (
        _Rule(6, 9, 135.5, 7.0, 7.0),
        _Rule(CHANNEL_9A, CHANNEL_9A, 205.5 - 7.0 * CHANNEL_9A, 7.0, 7.0),
        _Rule(10, 12, 142.5, 7.0, 7.0),
        _Rule(28, 51, 333.5, 7.0, 7.0),
    ),
    # ARIB STD-B21 table 10-2 (VHF) and its 1/7 MHz rule; 7 and 8 overlap by 2 MHz.
    "japan-6mhz": (
        _Rule(1, 3, 87.0 + _SEVENTH, 6.0, 6.0),
        _Rule(4, 7, 149.0 + _SEVENTH, 6.0, 6.0),
        _Rule(8, 12, 147.0 + _SEVENTH, 6.0, 6.0),
        _Rule(13, 52, 395.0 + _SEVENTH, 6.0, 6.0),
    ),
}


def channels_of(plan: str) -> tuple[int, ...]:
    """All channel numbers that have a frequency in the plan, in order of frequency.

    Channels that television has since left are among them (38-69 in the Americas, 49-69 in
    Europe). Raises InputError for an unknown plan.

    >>> channels_of("australia-7mhz")[:6]
    (6, 7, 8, 9, 109, 10)
    """
    return tuple(n for rule in _rules(plan) for n in range(rule.first, rule.last + 1))


def centre_mhz(plan: str, rf_channel: ArrayLike) -> NDArray[np.float64]:
    """Centre of an RF channel, of one or of an array of them. [MHz]

    The sources stand beside each plan's rules. Raises InputError naming the plan's channels
    for a number outside them, and for 37 in the Americas, which is radio astronomy.

    >>> float(centre_mhz("americas-6mhz", 36))
    605.0
    >>> centre_mhz("europe-8mhz", [21, 48]).tolist()
    [474.0, 690.0]
    """
    number, index, rules = _rule_of(plan, rf_channel)
    base = np.array([rule.base_mhz for rule in rules])
    step = np.array([rule.step_mhz for rule in rules])
    return np.asarray(base[index] + step[index] * number, dtype=float)[()]


def width_mhz(plan: str, rf_channel: ArrayLike) -> NDArray[np.float64]:
    """Width of an RF channel, of one or of an array of them. [MHz] Raises as ``centre_mhz``.

    >>> width_mhz("europe-8mhz", [5, 21]).tolist()
    [7.0, 8.0]
    """
    _, index, rules = _rule_of(plan, rf_channel)
    return np.array([rule.width_mhz for rule in rules])[index][()]


def band_of(frequency_mhz: float) -> Band:
    """The band of one frequency [MHz], by which antennas are told apart.

    VHF and UHF meet at 300 MHz (ITU Radio Regulations No. 2.1, bands 8 and 9). Low and high VHF
    are parted at 140 MHz, in the gap between the highest low channel (108 MHz, Japan) and the
    lowest high one (170 MHz, Japan): common practice, no source. Raises InputError outside
    30-3000 MHz.

    >>> band_of(57.0), band_of(195.0), band_of(605.0)
    ('low_vhf', 'high_vhf', 'uhf')
    """
    if not 30.0 <= frequency_mhz <= 3000.0:
        raise InputError(
            f"{frequency_mhz:g} MHz is neither VHF nor UHF",
            field="frequency_mhz",
            mend="give a frequency from 30 to 3000 MHz",
        )
    if frequency_mhz < _HIGH_VHF_FROM_MHZ:
        return "low_vhf"
    return "high_vhf" if frequency_mhz < _UHF_FROM_MHZ else "uhf"


def probably_virtual(plan: str, rf_channel: ArrayLike) -> NDArray[np.bool_]:
    """Whether a number is more likely a virtual channel than one on the air.

    True above 36 in the Americas, where no television is left above 608 MHz (47 CFR 73.603(a)),
    while virtual channels still carry the old numbers. False in the other plans.

    >>> bool(probably_virtual("americas-6mhz", 44)), bool(probably_virtual("europe-8mhz", 44))
    (True, False)
    """
    _rules(plan)
    above = np.asarray(rf_channel) > 36
    return (above if plan == "americas-6mhz" else np.zeros_like(above))[()]


def channel_at(plan: str, frequency_mhz: float) -> int:
    """The channel whose centre lies nearest to a frequency [MHz] within half its width.

    Raises InputError when no channel of the plan holds the frequency.

    >>> channel_at("europe-8mhz", 474.166)
    21
    """
    channels = np.array(channels_of(plan))
    away = np.abs(centre_mhz(plan, channels) - frequency_mhz)
    nearest = int(np.argmin(away)) if np.isfinite(frequency_mhz) else 0
    if not away[nearest] <= width_mhz(plan, channels[nearest]) / 2.0:
        raise InputError(
            f"{frequency_mhz:g} MHz lies in no channel of {plan}",
            field="frequency_mhz",
            mend=f"give the channel number, one of {_ranges(plan)}",
        )
    return int(channels[nearest])


def channel_name(rf_channel: int) -> str:
    """How people write a channel number: 109 is 9A, any other the number itself.

    >>> channel_name(109), channel_name(21)
    ('9A', '21')
    """
    return "9A" if rf_channel == CHANNEL_9A else str(rf_channel)


def _rules(plan: str) -> tuple[_Rule, ...]:
    if plan not in _PLANS:
        raise InputError(
            f"{str(plan)[:40]!r} is no channel plan",
            field="channel_plan",
            mend=f"use one of {', '.join(_PLANS)}",
        )
    return _PLANS[plan]


def _ranges(plan: str) -> str:
    """The plan's channels in words, as "2-36, 38-69"."""
    spans: list[list[int]] = []
    for rule in _rules(plan):
        if spans and rule.first == spans[-1][1] + 1:
            spans[-1][1] = rule.last
        else:
            spans.append([rule.first, rule.last])
    return ", ".join(
        channel_name(first) + (" (written 109)" if first == CHANNEL_9A else "")
        if first == last
        else f"{first}-{last}"
        for first, last in spans
    )


def _rule_of(
    plan: str, rf_channel: ArrayLike
) -> tuple[NDArray[np.int64], NDArray[np.int64], tuple[_Rule, ...]]:
    """The numbers, and for each the index of its rule."""
    rules = _rules(plan)
    number = np.asarray(rf_channel)
    if number.dtype.kind not in "iuf":
        raise _no_channel(plan, str(rf_channel)[:40])
    first = np.array([rule.first for rule in rules])
    last = np.array([rule.last for rule in rules])
    inside = (number[..., None] >= first) & (number[..., None] <= last)
    good = inside.any(axis=-1) & (np.mod(np.where(np.isfinite(number), number, 0.5), 1) == 0)
    if not good.all():
        raise _no_channel(plan, f"{number[~good].flat[0]:g}")
    return number.astype(np.int64), np.argmax(inside, axis=-1), rules


def _no_channel(plan: str, written: str) -> InputError:
    astronomy = plan == "americas-6mhz" and written == "37"
    return InputError(
        "RF channel 37 is radio astronomy and carries no television"
        if astronomy
        else f"{written} is no RF channel of {plan}",
        field="rf_channel",
        mend=f"use one of {_ranges(plan)}",
    )
