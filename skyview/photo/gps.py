"""Position and compass direction from the GPS tags, with their reference surface and north."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import ExifTags

from skyview.photo.exif import Tags, checked, number, text

_LOWEST_M, _HIGHEST_M = -500.0, 9000.0


@dataclass(frozen=True)
class Place:
    """Where the photographer stood, WGS 84."""

    latitude_deg: float | None
    longitude_deg: float | None
    altitude_m: float | None
    altitude_reference: str | None
    """'sea level', 'ellipsoid' or None."""
    position_sigma_m: float | None


def place(tags: Tags) -> Place:
    """Position, height and its reference surface, horizontal accuracy."""
    latitude = _coordinate(tags, 2, 1, "latitude", "NS", 90.0)
    longitude = _coordinate(tags, 4, 3, "longitude", "EW", 180.0)
    if latitude is None or longitude is None:
        latitude = longitude = None
    elif latitude == 0.0 and longitude == 0.0:
        tags.notes.append("The position is exactly 0, 0: cameras without a fix write that.")
    altitude, reference = _altitude(tags)
    sigma = checked(tags, tags.gps, 0x1F, "position error", 0.001, 1e6)
    if sigma is not None and sigma > 15.0:
        tags.notes.append(f"The phone itself calls its position uncertain by {sigma:.0f} m.")
    return Place(latitude, longitude, altitude, reference, sigma)


def _coordinate(
    tags: Tags, key: int, ref_key: int, name: str, halves: str, limit: float
) -> float | None:
    if key not in tags.gps:
        return None
    raw = tags.gps[key]
    parts = [number(part) for part in raw] if isinstance(raw, tuple | list) else [number(raw)]
    half = text(tags.gps.get(ref_key))[:1].upper()
    if not parts or len(parts) > 3 or any(part is None or part < 0.0 for part in parts):
        tags.notes.append(f"The {name} in the photo is not a number; it counts as missing.")
        return None
    whole, minutes, seconds = [*(float(part or 0.0) for part in parts), 0.0, 0.0][:3]
    degrees = whole + minutes / 60.0 + seconds / 3600.0
    if degrees > limit or minutes > 60.0 or seconds > 60.0:
        tags.notes.append(f"The {name} {degrees:.4g} deg in the photo is absurd; it is left out.")
        return None
    if half not in tuple(halves):
        tags.notes.append(
            f"The {name} in the photo does not say {' or '.join(halves)}; it counts as missing."
        )
        return None
    return -degrees if half == halves[1] else degrees


def _altitude(tags: Tags) -> tuple[float | None, str | None]:
    """Exif 3.0 redefined reference 0/1 from sea level to the ellipsoid and added 2/3."""
    height = checked(tags, tags.gps, 6, "altitude", 0.0, _HIGHEST_M)
    if height is None:
        return None, None
    reference = number(tags.gps.get(5))
    if reference not in (0.0, 1.0, 2.0, 3.0):
        tags.notes.append("The altitude in the photo does not say above what.")
        return height, None
    if reference in (1.0, 3.0):
        height = -height
    if height < _LOWEST_M:
        tags.notes.append(f"The altitude {height:.0f} m in the photo is absurd; it is left out.")
        return None, None
    version = text(tags.camera.get(ExifTags.Base.ExifVersion))
    if reference in (2.0, 3.0):
        return height, "sea level"
    if version >= "0300":
        return height, "ellipsoid"
    tags.notes.append(
        "The altitude is labelled sea level, but many phones write the height above the "
        "ellipsoid there (up to 107 m apart)."
    )
    return height, "sea level"


def direction(tags: Tags) -> tuple[float | None, str | None]:
    """Compass direction of the optical axis in [0, 360) and its north: true, magnetic, None."""
    heading = checked(tags, tags.gps, 0x11, "direction", 0.0, 360.0)
    if heading is None:
        return None, None
    north = {"T": "true", "M": "magnetic"}.get(text(tags.gps.get(0x10))[:1].upper())
    if north is None:
        tags.notes.append("The direction in the photo does not say true or magnetic north.")
    return heading % 360.0, north
