"""Inputs made to take memory or time, each tried in a process of its own that is measured.

    python tests/helpers/hostile.py [NAME]...

prints a line for each: what became of it, processor seconds, megabytes more than before.
"""

from __future__ import annotations

import io
import json
import os
import resource
import struct
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image
from readers import READERS, refused

SPOT = {"id": "s", "enu_m": [0, 0, 6]}
SURVEY = {
    "format": "skyview-survey",
    "version": 1,
    "revision": 1,
    "title": "t",
    "site": {"latitude_deg": 40, "longitude_deg": -100},
    "spots": [{"id": "s", "enu_m": [0, 0, 6]}],
    "views": [{"id": "v", "photo": "photos/v.jpg", "size_px": [4000, 2000],
               "camera_enu_m": [0, 0, 8],
               "projection": {"kind": "equirectangular", "left_deg": -180, "right_deg": 180,
                              "top_deg": 60, "bottom_deg": -30}}],
}  # fmt: skip


def _chunk(kind: bytes, body: bytes) -> bytes:
    check = struct.pack(">I", zlib.crc32(kind + body))
    return struct.pack(">I", len(body)) + kind + body + check


def png(width: int, height: int, pixels: bytes, *more: bytes) -> bytes:
    """A PNG of bits whose compressed pixels may be anything."""
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
    rest = _chunk(b"IDAT", pixels) + _chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(more) + rest


def _zeros(count: int) -> bytes:
    return zlib.compress(bytes(count), 9)


def _grey(width: int, height: int) -> bytes:
    return png(width, height, _zeros(height * (1 + -(-width // 8))))


def _jpeg(width: int = 32, height: int = 16, **more: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.zeros((height, width, 3), np.uint8)).save(out, "JPEG", **more)
    return out.getvalue()


def _claims(width: int, height: int) -> bytes:
    """A small JPEG whose frame header claims another size."""
    small = bytearray(_jpeg())
    at = small.index(b"\xff\xc0") + 5
    small[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(small)


def _exif(entries: list[tuple[int, int, int, int]], following: int = 0) -> bytes:
    body = b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries))
    body += b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return _jpeg(exif=b"Exif\0\0" + body + struct.pack("<I", following) + b"\0" * 64)


def _laughs() -> bytes:
    lines = ['<!ENTITY a0 "ha">']
    lines += [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12)]
    return f"<?xml version='1.0'?><!DOCTYPE r [{''.join(lines)}]><r>&a11;</r>".encode()


def _with(**more: object) -> bytes:
    return json.dumps(SURVEY | more).encode()


def _outline(count: int) -> bytes:
    angle = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    ring = np.stack([2000 + 900 * np.cos(angle), 800 + 400 * np.sin(angle)], 1).round(3).tolist()
    return _with(
        obstructions=[{"id": "o", "kind": "building", "distance_m": 20}],
        outlines=[{"id": "r", "obstruction": "o", "view": "v", "rings_px": [ring]}],
    )


def _spaces(text: str, count: int, more: str) -> bytes:
    return (text + more * count).encode()


_HEAD = "id,latitude_deg,longitude_deg,antenna_amsl_m,rf_channel\n"
_POINT = '{"geometry":{"type":"Point","coordinates":[1,2]},"properties":{"id":"a"}}'
_TEXT = b"XML:com.adobe.xmp\0\1\0\0\0"

HOSTILE: dict[str, tuple[str, Callable[[], bytes]]] = {
    "png claims 100000 x 100000": ("pixels", lambda: png(100_000, 100_000, _zeros(99))),
    "png of 15000 x 15000 in 30 kB": ("pixels", lambda: _grey(15_000, 15_000)),
    "png claims 15000 x 15000, cut": ("pixels", lambda: png(15_000, 15_000, _zeros(999))),
    "png 1 x 60000": ("pixels", lambda: _grey(1, 60_000)),
    "png 60000 x 1": ("pixels", lambda: _grey(60_000, 1)),
    "png text of 200 MB": (
        "pixels", lambda: png(8, 8, _zeros(16), _chunk(b"iTXt", _TEXT + _zeros(200_000_000)))),
    "png profile of 200 MB": (
        "pixels", lambda: png(8, 8, _zeros(16), _chunk(b"iCCP", b"p\0\0" + _zeros(200_000_000)))),
    "jpeg claims 65500 x 65500": ("pixels", lambda: _claims(65_500, 65_500)),
    "jpeg claims 15000 x 15000": ("pixels", lambda: _claims(15_000, 15_000)),
    "jpeg 1 x 60000": ("pixels", lambda: _jpeg(1, 60_000)),
    "gif claims 65535 x 65535": (
        "pixels", lambda: b"GIF89a" + struct.pack("<HHBBB", 65535, 65535, 0, 0, 0) + b",\0\0\0\0"
        + struct.pack("<HHB", 65535, 65535, 0) + b"\2\1\1\0;"),
    "bmp claims 2000000000 rows": (
        "pixels", lambda: b"BM" + struct.pack("<IHHIIiiHHIIiiII", 70, 0, 0, 54, 40, 30000,
                                              2_000_000_000, 1, 24, 0, 0, 0, 0, 0, 0)),
    "exif of 4 billion values": ("photo", lambda: _exif([(0x927C, 7, 2**32 - 1, 8)] * 40)),
    "exif that follows itself": ("photo", lambda: _exif([(0x8769, 4, 1, 8), (0x8825, 4, 1, 8)], 8)),
    "xmp that doubles ten times": ("photo", lambda: _jpeg(xmp=_laughs())),
    "xmp 6000 elements deep": ("photo", lambda: _jpeg(xmp=b"<a>" * 6000 + b"</a>" * 6000)),
    "json 1000000 brackets deep": ("survey", lambda: b"[" * 1_000_000),
    "json 100000 objects deep": ("survey", lambda: b'{"a":' * 100_000 + b"1" + b"}" * 100_000),
    "json number of 1000000 digits": ("survey", lambda: _with(x=0)[:-2] + b"9" * 1_000_000 + b"}"),
    "json title of 30 MB": ("survey", lambda: _with(title="x" * 30_000_000)),
    "json key of 30 MB": ("survey", lambda: _with(**{"x" * 30_000_000: 1})),
    "json of 1000000 keys": ("survey", lambda: _with(**{f"k{n}": n for n in range(1_000_000)})),
    "json of 300000 keys, the last twice": (
        "survey", lambda: _with(x={f"k{n}": 0 for n in range(300_000)})[:-2] + b',"k299999":1}}'),
    "json same key 300000 times": (
        "survey", lambda: b"{" + b",".join([b'"a":1'] * 300_000) + b"}"),
    "json of 300000 spots": (
        "survey", lambda: _with(spots=[SPOT | {"id": f"s{n}"} for n in range(300_000)])
    ),
    "polygon of 1000000 corners": ("survey", lambda: _outline(1_000_000)),
    "json 70 MB": ("survey", lambda: b" " * 70_000_000),
    "csv of 1000000 columns": ("stations", lambda: _spaces("id", 1_000_000, ",a") + b"\n1\n"),
    "csv of one cell of 19 MB": ("stations", lambda: _spaces(_HEAD, 19_000_000, "x")),
    "csv of 9 million quotes": ("stations", lambda: _spaces(_HEAD, 9_000_000, '"')),
    "csv of 400000 rows": ("stations", lambda: _spaces(_HEAD, 400_000, "Q,40,-100,600,21\n")),
    "csv of 9 million empty lines": ("stations", lambda: _spaces(_HEAD, 9_000_000, "\n")),
    "csv of 25 MB": ("stations", lambda: bytes(25_000_000)),
    "csv pattern of 200000 points": (
        "stations", lambda: ("id,lat,lon,rf,antenna_amsl_m,pattern\nQ,40,-100,21,600,"
                             + ";".join(f"{n % 360}:-1" for n in range(200_000))).encode()),
    "geojson 100000 deep": ("landmarks", lambda: b'{"type":' + b"[" * 100_000),
    "geojson of 150000 points": (
        "landmarks", lambda: ('{"type":"FeatureCollection","features":['
                              + ",".join([_POINT] * 150_000) + "]}").encode()),
    "scan of 500000 rows": ("scan", lambda: _spaces("channel,received\n", 500_000, "21,yes\n")),
    "typed row of 1 MB": ("typed scan", lambda: b"21 " * 350_000),
    "journal line of 30 MB": ("journal", lambda: b'{"do":"' + b"x" * 30_000_000 + b'"}\n'),
    "journal of 200000 lines": (
        "journal", lambda: b'{"do":"undo","revision":1,"digest":"d"}\n' * 200_000),
    "field path of 3 MB": ("set", lambda: b"spots." * 500_000 + b"=1"),
    "item 50000 brackets deep": ("set --add", lambda: b"spots=" + b"[" * 50_000),
}  # fmt: skip
"""What it is, the reader that it is meant for, and how it is made."""


def measured(name: str, folder: Path) -> dict[str, object]:
    """What one input did, tried in a fork of this process."""
    reader_name, make = HOSTILE[name]
    reader = next(one for one in READERS if one.name == reader_name)
    content = make()
    telling, told = os.pipe()
    pid = os.fork()
    if pid == 0:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        start = time.process_time()
        try:
            end = "refused" if refused(reader, content, folder) else "taken"
        except BaseException as error:
            end = f"fault: {error!r}"[:300]
        seconds = time.process_time() - start
        after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        row = {"name": name, "end": end, "cpu_s": round(seconds, 2),
               "more_mb": (after - before) // 1024}  # fmt: skip
        os.write(told, json.dumps(row).encode())
        os._exit(0)
    os.close(told)
    with os.fdopen(telling, "rb") as stream:
        line = stream.read()
    os.waitpid(pid, 0)
    return dict(json.loads(line)) if line else {"name": name, "end": "fault: died"}


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        for chosen in sys.argv[1:] or HOSTILE:
            print(json.dumps(measured(chosen, Path(home))), flush=True)
