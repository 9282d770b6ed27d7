"""Pictures made by the tests themselves; no real maker's name in any of them."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import ExifTags, Image

SavePicture = Callable[..., Path]


def scene(width: int = 64, height: int = 48) -> Image.Image:
    """Sky above, roof below, so that it compresses like a photo."""
    rows = np.linspace(255, 0, height)[:, None]
    columns = np.linspace(0, 255, width)[None, :]
    rgb = np.stack(np.broadcast_arrays(rows, columns, 128.0), axis=-1)
    return Image.fromarray(rgb.astype(np.uint8))


def exif_bytes(
    main: dict[int, Any] | None = None,
    camera: dict[int, Any] | None = None,
    gps: dict[int, Any] | None = None,
) -> bytes:
    exif = Image.Exif()
    exif.update(main or {})
    exif.get_ifd(ExifTags.IFD.Exif).update(camera or {})
    exif.get_ifd(ExifTags.IFD.GPSInfo).update(gps or {})
    return exif.tobytes()


def maker_note(vector: tuple[float, float, float], order: str = ">") -> bytes:
    """A note of an invented maker: directory at byte 14, tag 8 three signed rationals."""
    head = b"Qphonecam\0\0\1" + (b"MM" if order == ">" else b"II")
    entry = struct.pack(f"{order}HHHII", 1, 0x0008, 10, 3, 14 + 2 + 12 + 4) + b"\0\0\0\0"
    parts = [part for value in vector for part in (round(value * 1e8), 10**8)]
    return head + entry + struct.pack(f"{order}6i", *parts)


FULL_CAMERA = {
    ExifTags.Base.DateTimeOriginal: "2026:06:01 14:05:00",
    ExifTags.Base.OffsetTimeOriginal: "+02:00",
    ExifTags.Base.SubsecTimeOriginal: "250",
    ExifTags.Base.FocalLengthIn35mmFilm: 26,
}
FULL_GPS = {
    0x01: "N",
    0x02: (47.0, 22.0, 12.0),
    0x03: "W",
    0x04: (8.0, 30.0, 36.0),
    0x05: b"\0",
    0x06: 412.5,
    0x07: (12.0, 5.0, 0.0),
    0x1D: "2026:06:01",
    0x10: "T",
    0x11: 141.25,
    0x1F: 4.5,
}


@pytest.fixture
def full_gps() -> dict[int, Any]:
    return dict(FULL_GPS)


@pytest.fixture
def note_with() -> Callable[..., bytes]:
    return maker_note


@pytest.fixture
def save(tmp_path: Path) -> SavePicture:
    """save(name, main=, camera=, gps=, size=, image=, **options of Image.save) -> path."""

    def write(
        name: str = "roof.jpg",
        *,
        main: dict[int, Any] | None = None,
        camera: dict[int, Any] | None = None,
        gps: dict[int, Any] | None = None,
        size: tuple[int, int] = (64, 48),
        image: Image.Image | None = None,
        **options: Any,
    ) -> Path:
        if main or camera or gps:
            options["exif"] = exif_bytes(main, camera, gps)
        path = tmp_path / name
        (image or scene(*size)).save(path, **options)
        return path

    return write


@pytest.fixture
def facts_photo(save: SavePicture) -> Path:
    """A photo that tells everything."""
    return save(
        camera={
            **FULL_CAMERA,
            ExifTags.Base.MakerNote: maker_note((-0.98, 0.0, -0.17)),
        },
        gps=FULL_GPS,
    )
