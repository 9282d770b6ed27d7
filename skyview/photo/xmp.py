"""The open panorama XMP ("Photo Sphere XMP Metadata"): how a picture lies on sphere or cylinder.

Properties are read as attributes or child elements with any prefix, by their namespace.
Meanings follow the published property list, read in a secondary text.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

NAMESPACE = "http://ns.google.com/photos/1.0/panorama/"
"""The identifier of the panorama properties; a name, not a link."""

_LARGEST_PACKET_BYTES = 4_000_000
_SHAPE_TOLERANCE = 0.01


@dataclass(frozen=True)
class Panorama:
    """Where a picture lies in the full panorama, in pixels of the panorama as stitched."""

    kind: str
    """'equirectangular' or 'cylindrical'."""
    full_px: tuple[float, float]
    """Width and height of the complete 360 x 180 deg picture."""
    crop_px: tuple[float, float]
    """Width and height of this picture when it was stitched."""
    left_px: float
    """Where this picture begins in the full one, from its left edge."""
    top_px: float
    """Where it begins from the top; for a cylinder from the horizon, negative above it."""
    heading_deg: float | None
    """Compass heading of the centre, clockwise from north; which north is not told."""
    pitch_deg: float
    """Elevation of the centre."""
    roll_deg: float
    """Positive when the camera is turned clockwise: the horizon then turns counter-clockwise."""


def packet_of(info: dict[Any, Any]) -> bytes | None:
    """The XMP packet among the extras that a decoder found."""
    for key in ("xmp", "XML:com.adobe.xmp"):
        packet = info.get(key)
        if isinstance(packet, str):
            packet = packet.encode("utf-8", "replace")
        if isinstance(packet, bytes) and packet.strip(b"\0 \r\n\t"):
            return packet.strip(b"\0 \r\n\t")
    return None


def read_panorama(
    packet: bytes | None, size_px: tuple[int, int], notes: list[str]
) -> Panorama | None:
    """The panorama facts of an XMP packet, or None; what is broken goes to ``notes``.

    ``size_px`` is the picture as it is now: a picture that was resized keeps its shape and its
    angles, one that was cut after stitching keeps neither and is refused. Entities, document
    type declarations and packets above 4 MB are not read.
    """
    if packet is None:
        return None
    if len(packet) > _LARGEST_PACKET_BYTES:
        notes.append("The XMP data are too large to be true; they count as missing.")
        return None
    try:
        root = fromstring(packet, forbid_dtd=True)
    except (DefusedXmlException, ParseError, ValueError, LookupError, RecursionError):
        notes.append("The XMP data are damaged or unsafe; they count as missing.")
        return None
    found = _properties(root)
    if not found:
        return None
    try:
        return _panorama(found, size_px, notes)
    except ValueError as error:
        notes.append(f"The panorama data contradict themselves ({error}); they are left out.")
        return None


def _properties(root: Element) -> dict[str, str]:
    prefix = f"{{{NAMESPACE}}}"
    found: dict[str, str] = {}
    for element in root.iter():
        for name, value in element.attrib.items():
            if name.startswith(prefix):
                found.setdefault(name.removeprefix(prefix), value.strip())
        if isinstance(element.tag, str) and element.tag.startswith(prefix):
            found.setdefault(element.tag.removeprefix(prefix), (element.text or "").strip())
    return found


def _panorama(found: dict[str, str], size_px: tuple[int, int], notes: list[str]) -> Panorama | None:
    sizes = {"CroppedAreaImageWidthPixels", "FullPanoWidthPixels", "ProjectionType"}
    if not sizes & found.keys():
        return None
    kind = found.get("ProjectionType", "").lower()
    if not kind:
        kind = "equirectangular"
        notes.append("The panorama data name no projection; taken as equirectangular.")
    if kind not in ("equirectangular", "cylindrical"):
        notes.append(f"The panorama projection {kind[:30]!r} is not known here; it is left out.")
        return None
    crop = (
        _length(found, "CroppedAreaImageWidthPixels", size_px[0]),
        _length(found, "CroppedAreaImageHeightPixels", size_px[1]),
    )
    full = (_length(found, "FullPanoWidthPixels"), _length(found, "FullPanoHeightPixels"))
    left = _real(found, "CroppedAreaLeftPixels", 0.0)
    top = _real(found, "CroppedAreaTopPixels", 0.0)
    _check_fit(kind, full, crop, (left, top), size_px)
    heading = _real(found, "PoseHeadingDegrees", math.nan, -360.0, 360.0)
    return Panorama(
        kind,
        full,
        crop,
        left,
        top,
        None if math.isnan(heading) else heading % 360.0,
        _real(found, "PosePitchDegrees", 0.0, -90.0, 90.0),
        _real(found, "PoseRollDegrees", 0.0, -180.0, 180.0),
    )


def _check_fit(
    kind: str,
    full: tuple[float, float],
    crop: tuple[float, float],
    corner: tuple[float, float],
    size_px: tuple[int, int],
) -> None:
    across, down = size_px[0] / crop[0], size_px[1] / crop[1]
    rounding = 1.0 / min(size_px)
    if abs(across / down - 1.0) > _SHAPE_TOLERANCE + rounding:
        raise ValueError("the picture was cut after it was stitched")
    slack = 1.0 + _SHAPE_TOLERANCE
    if crop[0] > full[0] * slack or corner[0] < 0.0 or corner[0] + crop[0] > full[0] * slack:
        raise ValueError("the picture is wider than its panorama")
    if kind == "equirectangular" and (corner[1] < 0.0 or corner[1] + crop[1] > full[1] * slack):
        raise ValueError("the picture is taller than its panorama")


def _length(found: dict[str, str], name: str, default: float | None = None) -> float:
    value = _real(found, name, default, 0.0)
    if value < 1.0:
        raise ValueError(f"{name} is {value:g}")
    return value


def _real(
    found: dict[str, str],
    name: str,
    default: float | None,
    low: float = -1e7,
    high: float = 1e7,
) -> float:
    if name not in found:
        if default is None:
            raise ValueError(f"{name} is missing")
        return default
    try:
        value = float(found[name])
    except ValueError:
        raise ValueError(f"{name} is no number") from None
    if not low <= value <= high:
        raise ValueError(f"{name} is out of range")
    return value
