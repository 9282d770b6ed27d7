"""Writes a panorama as a JPEG that tells its own geometry, whole or not at all."""

from __future__ import annotations

import contextlib
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from skyview.errors import InputError
from skyview.files import write_whole
from skyview.photo.exif import read_tags
from skyview.photo.reader import opened
from skyview.photo.xmp import NAMESPACE

_QUALITY = 90
_XMP_HEADER = b"http://ns.adobe.com/xap/1.0/\x00"
_SUFFIXES = (".jpg", ".jpeg")


@dataclass(frozen=True)
class PanoramaPlace:
    """Where an equirectangular picture lies in the full 360 x 180 deg one, in its pixels."""

    full_px: tuple[int, int]
    left_px: int
    top_px: int
    heading_deg: float | None
    """Azimuth of the full picture's middle; None where no compass told it."""
    frames: int
    """How many photographs it was joined from."""


def _check_name(path: str | Path) -> Path:
    """The path, if a panorama can be written under that name; else an InputError."""
    path = Path(path)
    if path.suffix.lower() not in _SUFFIXES:
        raise InputError("a panorama is a JPEG", path, mend="end its name in .jpg")
    if path.is_dir() or not path.parent.is_dir():
        raise InputError("there is no such folder", path, mend="make the folder first")
    return path


def write_panorama(
    path: str | Path,
    rgb: NDArray[np.uint8],
    place: PanoramaPlace,
    like: str | Path | None = None,
) -> None:
    """Write (height, width, 3) RGB with its geometry in the open panorama XMP.

    Position and time are taken over from the photograph ``like``. The file takes its name in one
    step when it is complete. Raises StorageError where it cannot be written.
    """
    path = _check_name(path)
    height, width = rgb.shape[:2]
    exif = _exif_like(like) if like is not None else Image.Exif()
    coded = io.BytesIO()
    Image.fromarray(rgb).save(coded, "JPEG", quality=_QUALITY, exif=exif.tobytes())
    jpeg = _with_packet(coded.getvalue(), _packet(place, (width, height)))
    write_whole(path, jpeg, "the panorama cannot be written")


def _packet(place: PanoramaPlace, size_px: tuple[int, int]) -> bytes:
    """The XMP packet: names and meanings as in ``photo.xmp``."""
    values: dict[str, object] = {
        "ProjectionType": "equirectangular",
        "UsePanoramaViewer": "True",
        "CroppedAreaImageWidthPixels": size_px[0],
        "CroppedAreaImageHeightPixels": size_px[1],
        "FullPanoWidthPixels": place.full_px[0],
        "FullPanoHeightPixels": place.full_px[1],
        "CroppedAreaLeftPixels": place.left_px,
        "CroppedAreaTopPixels": place.top_px,
        "PosePitchDegrees": "0.0",
        "PoseRollDegrees": "0.0",
        "SourcePhotosCount": place.frames,
        "StitchingSoftware": "skyview",
    }
    if place.heading_deg is not None:
        values["PoseHeadingDegrees"] = f"{place.heading_deg % 360.0:.4f}"
    attributes = "\n    ".join(f'GPano:{name}="{value}"' for name, value in values.items())
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
        ' <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">\n'
        f'  <rdf:Description rdf:about="" xmlns:GPano="{NAMESPACE}"\n    {attributes}/>\n'
        " </rdf:RDF>\n</x:xmpmeta>\n"
        '<?xpacket end="w"?>'
    ).encode()


def _with_packet(jpeg: bytes, packet: bytes) -> bytes:
    """The XMP segment goes behind the start marker and the Exif or JFIF segments."""
    at = 2
    while jpeg[at] == 0xFF and jpeg[at + 1] in (0xE0, 0xE1):
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    body = _XMP_HEADER + packet
    return jpeg[:at] + b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body + jpeg[at:]


def _exif_like(path: str | Path) -> Image.Exif:
    """Position and time of a photograph; neither its lens nor where it looked."""
    exif = Image.Exif()
    with opened(path) as picture:
        tags = read_tags(picture)
    place = {
        key: value
        for key, value in tags.gps.items()
        if key not in (ExifTags.GPS.GPSImgDirection, ExifTags.GPS.GPSImgDirectionRef)
    }
    kept = (
        ExifTags.Base.DateTimeOriginal,
        ExifTags.Base.OffsetTimeOriginal,
        ExifTags.Base.SubsecTimeOriginal,
    )
    detail = {int(key): tags.camera[key] for key in kept if key in tags.camera}
    if place:
        exif[ExifTags.IFD.GPSInfo] = place
    if detail:
        exif[ExifTags.IFD.Exif] = detail
    with contextlib.suppress(Exception):
        exif.tobytes()
        return exif
    return Image.Exif()
