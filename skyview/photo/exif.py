"""The Exif tags of a picture as plain numbers, each checked, none trusted.

Tag numbers and meanings: CIPA DC-008 (Exif 2.32 and 3.0), read in secondary texts. A value that
is broken, negative where it cannot be, or absurd counts as missing and leaves a note.
"""

from __future__ import annotations

import math
import struct
import warnings
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import IO, Any

from PIL import ExifTags, Image

from skyview.photo.reader import Opened

Ifd = dict[int, Any]


@dataclass(frozen=True)
class Turn:
    """How decoded pixels come upright: mirror left-right first, then turn clockwise."""

    degrees: int
    """Clockwise, one of 0, 90, 180, 270."""
    mirrored: bool
    """Whether the stored picture is a mirror image."""


TURNS = {
    1: Turn(0, False),
    2: Turn(0, True),
    3: Turn(180, False),
    4: Turn(180, True),
    5: Turn(270, True),
    6: Turn(90, False),
    7: Turn(90, True),
    8: Turn(270, False),
}
"""Exif Orientation (0x0112) -> turn."""


@dataclass
class Tags:
    """What the file's Exif directories hold, as plain Python values."""

    main: Ifd = field(default_factory=dict)
    """IFD0."""
    camera: Ifd = field(default_factory=dict)
    """The Exif directory."""
    gps: Ifd = field(default_factory=dict)
    """The GPS directory."""
    orientation: int = 1
    """1 to 8, as the camera wrote it."""
    turn: Turn = TURNS[1]
    """What still has to be done to the pixels that the decoder gives."""
    stored_turn: Turn = TURNS[1]
    """What is done in all, by the decoder or after it."""
    notes: list[str] = field(default_factory=list)
    """Sentences on what was broken."""


def number(value: Any) -> float | None:
    """A finite float, or None for anything else (text, 1/0, a list of several numbers).

    >>> number((3,)), number(b"\\x02"), number(float("nan")), number("7")
    (3.0, 2.0, None, None)
    """
    if isinstance(value, tuple | list | bytes):
        if len(value) != 1:
            return None
        value = value[0]
    if value is None or isinstance(value, str | bytes):
        return None
    try:
        result = float(value)
    except (TypeError, ValueError, ArithmeticError):
        return None
    return result if math.isfinite(result) else None


def text(value: Any) -> str:
    """An ASCII tag without its padding; empty for anything else."""
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    return value.strip("\0 \t\r\n") if isinstance(value, str) else ""


def read_tags(picture: Opened) -> Tags:
    """All Exif of a picture not yet decoded. Whatever is in it, nothing is raised."""
    tags = Tags()
    with warnings.catch_warnings(record=True) as remarks:
        warnings.simplefilter("always")
        try:
            exif = _exif_of(picture)
        except Exception:
            tags.notes.append("The Exif data are damaged; they count as missing.")
            exif = Image.Exif()
        tags.main = _plain(lambda: exif, tags.notes, "main")
        tags.camera = _plain(lambda: exif.get_ifd(ExifTags.IFD.Exif), tags.notes, "camera")
        tags.gps = _plain(lambda: exif.get_ifd(ExifTags.IFD.GPSInfo), tags.notes, "GPS")
    if remarks:
        tags.notes.append("Part of the Exif data is damaged; that part counts as missing.")
    _set_turn(picture, tags)
    return tags


def _exif_of(picture: Opened) -> Image.Exif:
    """Parsed afresh: Pillow may have tried already and keeps what it had before it failed."""
    image = picture.image
    if image.format == "TIFF" or "Raw profile type exif" in image.info:
        return image.getexif()
    exif = Image.Exif()
    packet = image.info.get("exif")
    if packet is None and image.format == "PNG":
        # Image.getexif would decode all pixels to look for a chunk behind them.
        packet = _png_chunk(picture.stream, b"eXIf")
    if packet:
        exif.load(packet)
    return exif


def _png_chunk(stream: IO[bytes], name: bytes) -> bytes | None:
    where = stream.tell()
    try:
        stream.seek(8)
        while len(head := stream.read(8)) == 8:
            length, kind = struct.unpack(">I4s", head)
            if kind == name:
                return stream.read(length)
            stream.seek(length + 4, 1)
        return None
    finally:
        stream.seek(where)


def _plain(directory: Callable[[], Mapping[int, Any]], notes: list[str], name: str) -> Ifd:
    values: Ifd = {}
    try:
        source = directory()
        keys: Iterable[int] = list(source)
    except Exception:
        notes.append(f"The {name} directory of the Exif data is damaged; it counts as missing.")
        return values
    for key in keys:
        try:
            values[key] = source[key]
        except Exception:
            notes.append(f"Exif tag 0x{key:04X} is damaged; it counts as missing.")
    return values


def _set_turn(picture: Opened, tags: Tags) -> None:
    image = picture.image
    written = tags.main.get(ExifTags.Base.Orientation)
    value = number(written)
    if written is not None and value not in TURNS:
        tags.notes.append(f"Orientation {written!r:.20} is none of 1 to 8; taken as upright.")
    tags.orientation = int(value) if value in TURNS else 1
    if picture.format == "HEIF":
        original = image.info.get("original_orientation")
        if original in TURNS:
            tags.orientation = int(original)
            if original != 1:
                tags.notes.append(
                    f"The decoder has turned the picture upright already (orientation {original})."
                )
        return
    tags.stored_turn = TURNS[tags.orientation]
    if picture.format != "TIFF":  # Pillow turns TIFF itself while it decodes.
        tags.turn = tags.stored_turn


def checked(
    tags: Tags, directory: Ifd, key: int, name: str, low: float, high: float
) -> float | None:
    """The value of a tag within [low, high]; None, with a note unless it is just absent."""
    if key not in directory:
        return None
    value = number(directory[key])
    if value is None:
        tags.notes.append(f"The {name} in the photo is not a number; it counts as missing.")
        return None
    if not low <= value <= high:
        tags.notes.append(f"The {name} {value:.4g} in the photo is absurd; it counts as missing.")
        return None
    return value
