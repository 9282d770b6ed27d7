"""Focal length as a 35 mm equivalent, digital zoom, and the size of the picture as taken."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PIL import ExifTags

from skyview.photo.exif import Tags, checked, number

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
"""Diagonal of a 36 mm x 24 mm frame: 43.267 mm."""

_MM_PER_RESOLUTION_UNIT = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}
_SHORTEST_MM, _LONGEST_MM = 4.0, 3000.0


@dataclass(frozen=True)
class Lens:
    """Focal length as the tags have it."""

    focal_35mm: float | None
    """Focal length in millimetres on a 36 mm x 24 mm frame."""
    digital_zoom: float | None
    """Digital zoom ratio, 1 for none."""


def lens(tags: Tags, size_px: tuple[int, int]) -> Lens:
    """35 mm equivalent and digital zoom.

    The tag FocalLengthIn35mmFilm is taken to include digital zoom already; where it is missing
    the equivalent follows from the focal length and the focal-plane resolution, times the zoom.
    ``size_px`` is the picture's size, used where the tags do not give the size as taken.
    """
    zoom = number(tags.camera.get(ExifTags.Base.DigitalZoomRatio))
    if zoom is not None and zoom != 0.0 and not 1.0 <= zoom <= 200.0:
        tags.notes.append(f"A digital zoom of {zoom:.3g} is absurd; it is left out.")
        zoom = None
    zoom = zoom if zoom != 0.0 else 1.0
    tagged = number(tags.camera.get(ExifTags.Base.FocalLengthIn35mmFilm))
    if tagged != 0.0:
        focal = checked(
            tags,
            tags.camera,
            ExifTags.Base.FocalLengthIn35mmFilm,
            "35 mm focal length",
            _SHORTEST_MM,
            _LONGEST_MM,
        )
        if focal is not None:
            return Lens(focal, zoom)
    focal = _focal_from_sensor(tags, size_px)
    if focal is None:
        return Lens(None, zoom)
    tags.notes.append("The 35 mm focal length follows from the focal-plane resolution.")
    return Lens(focal * (zoom or 1.0), zoom)


def _focal_from_sensor(tags: Tags, size_px: tuple[int, int]) -> float | None:
    focal_mm = number(tags.camera.get(ExifTags.Base.FocalLength)) or 0.0
    unit = number(tags.camera.get(ExifTags.Base.FocalPlaneResolutionUnit, 2)) or 0.0
    across = number(tags.camera.get(ExifTags.Base.FocalPlaneXResolution)) or 0.0
    down = number(tags.camera.get(ExifTags.Base.FocalPlaneYResolution)) or across
    unit_mm = _MM_PER_RESOLUTION_UNIT.get(int(unit), 0.0)
    if min(focal_mm, across, down, unit_mm) <= 0.0:
        return None
    width, height = taken_size_px(tags) or size_px
    diagonal_mm = math.hypot(width / across, height / down) * unit_mm
    focal = focal_mm * FULL_FRAME_DIAGONAL_MM / diagonal_mm
    return focal if _SHORTEST_MM <= focal <= _LONGEST_MM else None


def taken_size_px(tags: Tags) -> tuple[int, int] | None:
    """Width and height as the camera wrote them, before any later crop."""
    width = number(tags.camera.get(ExifTags.Base.ExifImageWidth))
    height = number(tags.camera.get(ExifTags.Base.ExifImageHeight))
    if width is None or height is None or min(width, height) < 1.0:
        return None
    return int(width), int(height)
