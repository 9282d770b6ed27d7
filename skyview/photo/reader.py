"""Opens a picture file with Pillow, or says in one sentence why not.

Every other module of this package gets its picture here, so limits, warnings and error
sentences exist once.
"""

from __future__ import annotations

import errno
import logging
import stat
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from PIL import Image, JpegImagePlugin

from skyview.errors import InputError, SkyviewError, StorageError

MAX_MEGAPIXELS = 250
"""Largest picture taken. 16320 x 12240 (199.8 million) is the largest phone picture known."""

JPEG_SETTING = "choose 'most compatible' (JPEG) in the phone's camera settings"

_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "AVIF", "GIF", "BMP")
_DNG_VERSION = 0xC612

_SUFFIXES = {
    ".jpg": ("JPEG", "MPO"),
    ".jpeg": ("JPEG", "MPO"),
    ".mpo": ("JPEG", "MPO"),
    ".png": ("PNG",),
    ".tif": ("TIFF",),
    ".tiff": ("TIFF",),
    ".webp": ("WEBP",),
    ".heic": ("HEIF",),
    ".heif": ("HEIF",),
    ".avif": ("AVIF",),
    ".gif": ("GIF",),
    ".bmp": ("BMP",),
}

_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_FILM_BRANDS = {b"qt  ", b"isom", b"iso2", b"mp41", b"mp42", b"M4V ", b"3gp4", b"3gp5", b"avc1"}

_NOT_PICTURES = (
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a zip archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"<svg", "an SVG drawing"),
    (b"<!DOCTYPE html", "a web page"),
    (b"<html", "a web page"),
)

# Pillow sets its pixel limit and raises its warnings through globals of the process.
_PILLOW = threading.RLock()

# Without a handler of its own the logging module prints Pillow's remarks on standard error.
logging.getLogger("PIL").addHandler(logging.NullHandler())


@dataclass
class Opened:
    """A picture whose header has been read and whose pixels have not."""

    path: Path
    """Where the file lies."""
    image: Image.Image
    """Pillow's picture, at its first frame."""
    stream: IO[bytes]
    """The open file below it."""
    format: str
    """The true format: JPEG, MPO, PNG, TIFF, WEBP, HEIF, AVIF, GIF or BMP."""
    notes: list[str] = field(default_factory=list)
    """Sentences about the file that the user should see."""


@contextmanager
def opened(path: str | Path) -> Iterator[Opened]:
    """The picture at ``path``, its first frame, closed again at the end of the block.

    Raises InputError for a file that is missing, empty, unreadable, no picture, of an unknown
    format or larger than `MAX_MEGAPIXELS`; StorageError where the disk fails.
    """
    path = Path(path)
    check_file(path)
    with open_stream(path) as stream, _quiet_pillow():
        image = _open_image(path, stream)
        try:
            _check_size(path, image)
            if image.format == "TIFF" and _DNG_VERSION in getattr(image, "tag_v2", {}):
                raise InputError("this is a raw file (DNG)", path, "format", JPEG_SETTING)
            notes = _suffix_notes(path, str(image.format))
            yield Opened(path, image, stream, str(image.format), notes)
        finally:
            image.close()


def check_file(path: Path) -> None:
    """Raise InputError unless ``path`` is an ordinary file that holds something."""
    try:
        status = path.stat()
    except FileNotFoundError as error:
        raise InputError("there is no such file", path, mend="check the name") from error
    except (OSError, ValueError) as error:
        raise _file_trouble(path, error) from error
    if stat.S_ISDIR(status.st_mode):
        raise InputError("this is a folder", path, "file", "name one picture in it")
    if not stat.S_ISREG(status.st_mode):
        raise InputError("this is not an ordinary file", path, "file", "name a picture")
    if status.st_size == 0:
        raise InputError("the file is empty", path, "file", "copy it from the phone again")


@contextmanager
def decoding(path: Path) -> Iterator[None]:
    """Turn whatever a decoder raises into one sentence. For calls into decoders only."""
    try:
        yield
    except SkyviewError:
        raise
    except MemoryError as error:
        raise InputError(
            "this machine has too little memory for the picture",
            path,
            "size",
            "save it with fewer pixels",
        ) from error
    except Exception as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise _file_trouble(path, error) from error
        raise InputError(
            "the picture is cut short or damaged",
            path,
            "pixels",
            "copy it from the phone again",
        ) from error


def _file_trouble(path: Path, error: Exception) -> SkyviewError:
    if isinstance(error, PermissionError):
        return InputError("you may not read this file", path, "file", "change its permissions")
    if isinstance(error, OSError) and error.errno not in (errno.ENAMETOOLONG, errno.ENOTDIR):
        reason = error.strerror or "unknown trouble"
        return StorageError(f"the file cannot be read ({reason})", path, "file", "try again")
    return InputError("this is no name of a file", path, "file", "check the name")


def open_stream(path: Path) -> IO[bytes]:
    try:
        return path.open("rb")
    except OSError as error:
        raise _file_trouble(path, error) from error


@contextmanager
def _quiet_pillow() -> Iterator[None]:
    """Our own size limit in place of Pillow's, and none of its warnings."""
    with _PILLOW, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        limit = Image.MAX_IMAGE_PIXELS
        Image.MAX_IMAGE_PIXELS = None
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = limit


def _open_image(path: Path, stream: IO[bytes]) -> Image.Image:
    with decoding(path):
        head = stream.read(64)
        stream.seek(0)
    if _is_heif(head):
        return _open_heif(path, stream)
    _refuse_webp_bomb(path, head)
    Image.init()
    try:
        return Image.open(stream, formats=[name for name in _FORMATS if name in Image.OPEN])
    except MemoryError:
        with decoding(path):
            raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise _file_trouble(path, error) from error
        return _second_try(path, stream, head, error)


def _second_try(path: Path, stream: IO[bytes], head: bytes, error: Exception) -> Image.Image:
    """A JPEG whose index of further frames is broken still has its first frame."""
    if not head.startswith(b"\xff\xd8"):
        raise _not_readable(path, head) from error
    with decoding(path):
        stream.seek(0)
        return JpegImagePlugin.JpegImageFile(stream)


def _is_heif(head: bytes) -> bool:
    if head[4:8] != b"ftyp" or head[8:12] not in _HEIF_BRANDS:
        return False
    length = min(int.from_bytes(head[:4], "big"), len(head))
    return b"avif" not in [head[at : at + 4] for at in range(8, length, 4)]


def _open_heif(path: Path, stream: IO[bytes]) -> Image.Image:
    try:
        from pillow_heif import HeifImageFile
    except ImportError as error:
        raise InputError(
            "HEIC pictures need the extra skyview[heic]",
            path,
            "format",
            f"install it or {JPEG_SETTING}",
        ) from error
    with decoding(path):
        image: Image.Image = HeifImageFile(stream)
    return image


def _refuse_webp_bomb(path: Path, head: bytes) -> None:
    """An extended WebP claims memory for its whole canvas as soon as it is opened."""
    if head[:4] == b"RIFF" and head[8:16] == b"WEBPVP8X" and len(head) >= 30:
        width = int.from_bytes(head[24:27], "little") + 1
        height = int.from_bytes(head[27:30], "little") + 1
        _refuse_large(path, width, height)


def _check_size(path: Path, image: Image.Image) -> None:
    width, height = image.size
    if width < 1 or height < 1:
        raise InputError("the picture has no pixels", path, "size", "copy it again")
    _refuse_large(path, width, height)


def _refuse_large(path: Path, width: int, height: int) -> None:
    if width * height > MAX_MEGAPIXELS * 1_000_000:
        raise InputError(
            f"the picture is {width} x {height} pixels ({width * height / 1e6:.0f} megapixels), "
            f"more than {MAX_MEGAPIXELS} megapixels",
            path,
            "size",
            "save it smaller",
        )


def _suffix_notes(path: Path, true_format: str) -> list[str]:
    suffix = path.suffix.lower()
    if suffix in _SUFFIXES and true_format not in _SUFFIXES[suffix]:
        return [f"The name ends in {suffix}, but the picture is {true_format}."]
    return []


def _not_readable(path: Path, head: bytes) -> InputError:
    mend = "give a JPEG, PNG, TIFF, WebP or HEIC picture"
    for mark, words in _NOT_PICTURES:
        if head.startswith(mark):
            return InputError(f"this is {words}, not a picture", path, "format", mend)
    if head[4:8] == b"ftyp" and head[8:12] in _FILM_BRANDS:
        return InputError("this is a film, not a picture", path, "format", mend)
    if all(byte >= 32 or byte in b"\t\n\r" for byte in head):
        return InputError("this is a text file, not a picture", path, "format", mend)
    return InputError(
        "this is no picture that can be read: unknown format, or damaged at its start",
        path,
        "format",
        mend,
    )
