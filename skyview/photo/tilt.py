"""Pitch and roll of the camera from the acceleration vector in one maker's note.

Derived, not yet held against a photo of known tilt: hence the wide sigma.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import Any

SIGMA_DEG = 4.0
"""Twice the +/-2 deg usual for a phone's level, as the chain of signs is unverified (judgement)."""

_DIRECTORY_AT = 14
_ACCELERATION = 0x0008
_SIGNED_RATIONAL = 10
_ENTRY_BYTES = 12

_RIGHT_AND_UP = {
    1: ((0.0, -1.0), (1.0, 0.0)),
    3: ((0.0, 1.0), (-1.0, 0.0)),
    6: ((1.0, 0.0), (0.0, 1.0)),
    8: ((-1.0, 0.0), (0.0, -1.0)),
}
"""Orientation -> the picture's right and up in device axes (x right, y up the screen)."""


@dataclass(frozen=True)
class Tilt:
    """How the camera was held."""

    pitch_deg: float
    """Elevation of the optical axis, positive when it looks up."""
    roll_deg: float
    """Positive when the camera is turned clockwise as the photographer sees it."""
    sigma_deg: float
    """One standard deviation of either."""


def tilt_from_gravity(
    vector: tuple[float, float, float], orientation: int, sigma_deg: float = SIGMA_DEG
) -> Tilt | None:
    """Tilt of the rear camera from gravity in device axes, in units of g.

    x points right and y up the upright screen, z out of it, so a phone held upright measures
    (0, -1, 0). ``orientation`` is the Exif value; None for mirrored pictures, for a phone that
    was shaken (length outside 0.8 to 1.2 g) and within 6 deg of straight up or down, where roll
    means nothing.

    pitch = asin(g_z); with u = -g, roll = atan2(-u . right, u . up). Derived from the axes.

    >>> tilt_from_gravity((0.0, -1.0, 0.0), 6)
    Tilt(pitch_deg=0.0, roll_deg=0.0, sigma_deg=4.0)
    """
    length = math.hypot(*vector)
    if orientation not in _RIGHT_AND_UP or not 0.8 <= length <= 1.2:
        return None
    x, y, z = (part / length for part in vector)
    right, up = _RIGHT_AND_UP[orientation]
    along_right = -(x * right[0] + y * right[1])
    along_up = -(x * up[0] + y * up[1])
    if math.hypot(along_right, along_up) < 0.1:
        return None
    # Adding zero turns -0.0 into 0.0.
    pitch = math.degrees(math.asin(max(-1.0, min(1.0, z)))) + 0.0
    roll = math.degrees(math.atan2(-along_right, along_up)) + 0.0
    return Tilt(round(pitch, 3), round(roll, 3), sigma_deg)


def gravity_in_note(note: Any) -> tuple[float, float, float] | None:
    """The acceleration vector of a maker note, or None where there is none of this build.

    Such a note holds its byte order at byte 12 and a directory at byte 14, with offsets counted
    from the note's own start; tag 0x0008 is three signed rationals. The build is recognised by
    all of that together. None for broken notes.
    """
    if not isinstance(note, bytes) or note[12:14] not in (b"MM", b"II"):
        return None
    order = ">" if note[12:14] == b"MM" else "<"
    try:
        (entries,) = struct.unpack_from(f"{order}H", note, _DIRECTORY_AT)
        for index in range(min(entries, 512)):
            at = _DIRECTORY_AT + 2 + _ENTRY_BYTES * index
            tag, kind, count, offset = struct.unpack_from(f"{order}HHII", note, at)
            if (tag, kind, count) == (_ACCELERATION, _SIGNED_RATIONAL, 3):
                parts = struct.unpack_from(f"{order}6i", note, offset)
                return parts[0] / parts[1], parts[2] / parts[3], parts[4] / parts[5]
    except (struct.error, ZeroDivisionError):
        return None
    return None
