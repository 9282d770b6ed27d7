"""Phone-like metadata written into JPEG bytes, so that the pixels stay as they were.

Used by make_samples.py alone. Exif goes into one APP1 segment, panorama XMP into a second; the
JFIF header is left out, as telephones do. No maker and no model is named.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from datetime import UTC, datetime

from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

PANORAMA_NAMESPACE = "http://ns.google.com/photos/1.0/panorama/"
XMP_HEADER = b"http://ns.adobe.com/xap/1.0/\x00"
FOCAL_35MM, FOCAL_MM = 27, IFDRational(57, 10)


@dataclass(frozen=True)
class Taken:
    """Where, when and how a picture says that it was taken."""

    time: datetime
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    position_error_m: float
    magnetic_direction_deg: float | None
    focal: bool
    orientation: int = 1


def sexagesimal(angle_deg: float) -> tuple[IFDRational, IFDRational, IFDRational]:
    """Degrees, minutes and hundredths of seconds of an angle without its sign."""
    hundredths = round(abs(angle_deg) * 360000)
    degrees, rest = divmod(hundredths, 360000)
    minutes, seconds = divmod(rest, 6000)
    return IFDRational(degrees, 1), IFDRational(minutes, 1), IFDRational(seconds, 100)


def exif_payload(size_px: tuple[int, int], taken: Taken) -> bytes:
    """The body of an Exif APP1 segment (Exif 2.32 tags, altitude above sea level)."""
    clock, offset = taken.time.strftime("%Y:%m:%d %H:%M:%S"), taken.time.strftime("%z")
    utc = taken.time.astimezone(UTC)
    exif = Image.Exif()
    exif[ExifTags.Base.ImageDescription] = "Rendered sample picture; the place is invented"
    exif[ExifTags.Base.Orientation] = taken.orientation
    exif[ExifTags.Base.DateTime] = clock
    detail = {
        ExifTags.Base.ExifVersion: b"0232",
        ExifTags.Base.DateTimeOriginal: clock,
        ExifTags.Base.OffsetTimeOriginal: f"{offset[:3]}:{offset[3:]}",
        ExifTags.Base.SubsecTimeOriginal: "000",
        ExifTags.Base.ColorSpace: 1,
        ExifTags.Base.ExifImageWidth: size_px[0],
        ExifTags.Base.ExifImageHeight: size_px[1],
    }
    if taken.focal:
        detail[ExifTags.Base.FocalLength] = FOCAL_MM
        detail[ExifTags.Base.FocalLengthIn35mmFilm] = FOCAL_35MM
    place = {
        ExifTags.GPS.GPSVersionID: b"\x02\x03\x00\x00",
        ExifTags.GPS.GPSLatitudeRef: "N" if taken.latitude_deg >= 0 else "S",
        ExifTags.GPS.GPSLatitude: sexagesimal(taken.latitude_deg),
        ExifTags.GPS.GPSLongitudeRef: "E" if taken.longitude_deg >= 0 else "W",
        ExifTags.GPS.GPSLongitude: sexagesimal(taken.longitude_deg),
        ExifTags.GPS.GPSAltitudeRef: b"\x00",
        ExifTags.GPS.GPSAltitude: IFDRational(round(10 * taken.altitude_m), 10),
        ExifTags.GPS.GPSTimeStamp: (
            IFDRational(utc.hour, 1),
            IFDRational(utc.minute, 1),
            IFDRational(utc.second, 1),
        ),
        ExifTags.GPS.GPSDateStamp: utc.strftime("%Y:%m:%d"),
        ExifTags.GPS.GPSMapDatum: "WGS-84",
        ExifTags.GPS.GPSHPositioningError: IFDRational(round(10 * taken.position_error_m), 10),
    }
    if taken.magnetic_direction_deg is not None:
        place[ExifTags.GPS.GPSImgDirectionRef] = "M"
        direction = round(100 * (taken.magnetic_direction_deg % 360))
        place[ExifTags.GPS.GPSImgDirection] = IFDRational(direction, 100)
    exif[ExifTags.IFD.Exif] = detail
    exif[ExifTags.IFD.GPSInfo] = place
    return exif.tobytes()


def panorama_payload(properties: dict[str, str]) -> bytes:
    """The body of an XMP APP1 segment with open panorama properties."""
    attributes = "\n    ".join(f'pano:{name}="{value}"' for name, value in properties.items())
    packet = (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
        ' <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">\n'
        f'  <rdf:Description rdf:about="" xmlns:pano="{PANORAMA_NAMESPACE}"\n    {attributes}/>\n'
        ' </rdf:RDF>\n</x:xmpmeta>\n<?xpacket end="w"?>'
    )
    return XMP_HEADER + packet.encode("utf-8")


def with_segments(jpeg: bytes, payloads: list[bytes]) -> bytes:
    """A JPEG whose JFIF header gives way to APP1 segments; all other bytes are kept."""
    rest = jpeg[2:]
    if rest[:2] == b"\xff\xe0":
        rest = rest[2 + struct.unpack(">H", rest[2:4])[0] :]
    segments = (b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body for body in payloads)
    return jpeg[:2] + b"".join(segments) + rest
