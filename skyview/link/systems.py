"""Television systems: what carrier to noise they need, in what bandwidth, at which levels.

A mode is written as in "64qam-2/3": modulation and code rate.
"""

from __future__ import annotations

import math

ATSC1_CN_DB = 15.0
"""Required C/N of ATSC 1.0 in planning: ISED BPR-10, Appendix 8."""

_DVBT_CN_DB = {
    "qpsk-1/2": 5.1,
    "qpsk-2/3": 6.9,
    "qpsk-3/4": 7.9,
    "qpsk-5/6": 8.9,
    "qpsk-7/8": 9.7,
    "16qam-1/2": 10.8,
    "16qam-2/3": 13.1,
    "16qam-3/4": 14.6,
    "16qam-5/6": 15.6,
    "16qam-7/8": 16.0,
    "64qam-1/2": 16.5,
    "64qam-2/3": 18.7,
    "64qam-3/4": 20.2,
    "64qam-5/6": 21.6,
    "64qam-7/8": 22.5,
}
_DVBT2_CN_DB = {
    "qpsk-1/2": 3.5,
    "qpsk-3/5": 4.7,
    "qpsk-2/3": 5.6,
    "qpsk-3/4": 6.6,
    "qpsk-4/5": 7.2,
    "qpsk-5/6": 7.7,
    "16qam-1/2": 8.7,
    "16qam-3/5": 10.1,
    "16qam-2/3": 11.4,
    "16qam-3/4": 12.5,
    "16qam-4/5": 13.3,
    "16qam-5/6": 13.8,
    "64qam-1/2": 13.0,
    "64qam-3/5": 14.8,
    "64qam-2/3": 16.2,
    "64qam-3/4": 17.7,
    "64qam-4/5": 18.7,
    "64qam-5/6": 19.4,
    "256qam-1/2": 17.0,
    "256qam-3/5": 19.4,
    "256qam-2/3": 20.8,
    "256qam-3/4": 22.9,
    "256qam-4/5": 24.3,
    "256qam-5/6": 25.1,
}
_ISDBT_CN_DB = {"64qam-3/4": 20.1}

MODES = {"dvbt": _DVBT_CN_DB, "dvbt2": _DVBT2_CN_DB, "isdbt": _ISDBT_CN_DB}
"""Required C/N by mode. [dB] DVB-T and DVB-T2 (64 800-bit code): what the NorDig Unified receiver
specification demands of a receiver (secondary text), implementation loss included, about 2 dB above
the theoretical Gaussian figure. ISDB-T: from memory, with margin; other modes are unknown here."""

USUAL_MODE = {"dvbt": "64qam-2/3", "dvbt2": "256qam-2/3", "isdbt": "64qam-3/4"}
"""Mode where a list names none: common practice, no source."""

_NOISE_BANDWIDTH_MHZ = {
    ("dvbt", 8.0): 7.61,
    ("dvbt", 7.0): 6.66,
    ("dvbt", 6.0): 5.71,
    ("dvbt2", 8.0): 7.61,
    ("dvbt2", 7.0): 6.66,
    ("dvbt2", 6.0): 5.71,
    ("isdbt", 8.0): 7.43,
    ("isdbt", 7.0): 6.50,
    ("isdbt", 6.0): 5.57,
}


def required_cn_db(system: str | None, mode: str | None = None) -> float:
    """Carrier to noise that a system needs; NaN where the threshold is not known. [dB]

    ``system`` is atsc1, atsc3, dvbt, dvbt2 or isdbt; ``mode`` as in "64qam-2/3", None for the
    usual one. There is no table for ATSC 3.0: its threshold is unknown unless the user gives it.

    Source: `ATSC1_CN_DB`, `MODES`.

    >>> required_cn_db("dvbt", "64qam-2/3"), required_cn_db("atsc1"), required_cn_db("atsc3")
    (18.7, 15.0, nan)
    """
    if system == "atsc1":
        return ATSC1_CN_DB
    modes = MODES.get(system or "", {})
    return modes.get((mode or USUAL_MODE.get(system or "", "")).lower(), math.nan)


def noise_bandwidth_mhz(system: str | None, channel_width_mhz: float) -> float:
    """Bandwidth in which the noise counts; the channel's width where no other is known. [MHz]

    Source: DVB-T in 8 and 7 MHz: RRC-06 (secondary text); 6 MHz and ISDB-T from memory; ATSC 1.0
    the whole 6 MHz: ISED BPR-10, Appendix 8.

    >>> noise_bandwidth_mhz("dvbt2", 8.0), noise_bandwidth_mhz("atsc1", 6.0)
    (7.61, 6.0)
    """
    return _NOISE_BANDWIDTH_MHZ.get((system or "", channel_width_mhz), channel_width_mhz)
