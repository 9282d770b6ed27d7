"""Every reader of the product with sound inputs to spoil, and what spoils them.

A reader takes bytes and a path to put them to. It gives back nothing; whatever it raises other
than SkyviewError is a fault, as is a sentence of several lines.
"""

from __future__ import annotations

import copy
import io
import json
import random
import warnings
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from PIL import ExifTags, Image
from rasterio.transform import Affine

from skyview.errors import LONGEST, SkyviewError
from skyview.photo.facts import read_header
from skyview.photo.pixels import read_pixels
from skyview.photo.projection import projection_guess
from skyview.survey.batch.evaluate import Outcome, Task
from skyview.survey.batch.journal import Journal
from skyview.survey.check import check
from skyview.survey.edit import add_item, set_field
from skyview.survey.json_text import load_text
from skyview.survey.lists.reader import read_landmark_list, read_station_list
from skyview.survey.lists.scans import read_scan_list, typed_scan
from skyview.survey.models import Landmark, Station
from skyview.survey.proposals import accepted
from skyview.survey.raster import Ground
from skyview.survey.samples import samples_folder
from skyview.survey.storage import load
from skyview.workbench.history import History

PLAN = "americas-6mhz"


@dataclass(frozen=True)
class Reader:
    """One way in."""

    name: str
    read: Callable[[bytes, Path], None]
    sound: Sequence[bytes]
    """Inputs that it takes as they are."""
    share: float = 1.0
    """Of the inputs of a long run: less for what is slow."""


def refused(reader: Reader, content: bytes, folder: Path) -> bool:
    """Whether it was refused, in one sentence; any other error goes on to the caller."""
    try:
        reader.read(content, folder)
    except SkyviewError as error:
        sentence = str(error)
        assert "\n" not in sentence, sentence
        assert len(sentence) < 3 * LONGEST + 200, sentence
        sentence.encode("utf-8", "surrogatepass")
        return True
    return False


def _survey(content: bytes, folder: Path) -> None:
    (folder / "survey.json").write_bytes(content)
    check(load(folder), folder)


def _list(content: bytes, folder: Path) -> None:
    file = folder / "list.csv"
    file.write_bytes(content)
    for station in read_station_list(file, plan=PLAN).stations:
        Station.model_validate(station)


def _landmarks(content: bytes, folder: Path) -> None:
    file = folder / "list.geojson"
    file.write_bytes(content)
    for landmark in read_landmark_list(file).landmarks:
        Landmark.model_validate(landmark)


def _scan(content: bytes, folder: Path) -> None:
    file = folder / "scan.csv"
    file.write_bytes(content)
    read_scan_list(file, plan=PLAN, rf_of={"6": 21})


def _typed(content: bytes, _: Path) -> None:
    typed_scan(content.decode("latin-1").split("\n"), PLAN, {"6": 21})


def _photo(content: bytes, folder: Path) -> None:
    file = folder / "photo.jpg"
    file.write_bytes(content)
    projection_guess(read_header(file))


def _pixels(content: bytes, folder: Path) -> None:
    file = folder / "photo.jpg"
    file.write_bytes(content)
    read_header(file)
    read_pixels(file, 64)


def _terrain(content: bytes, folder: Path) -> None:
    file = folder / "ground.tif"
    file.write_bytes(content)
    Ground(file).heights_m(np.array([40.0, 40.01, 90.0]), np.array([-100.0, -99.99, 0.0]))


def _journal(content: bytes, folder: Path) -> None:
    (folder / "history.jsonl").write_bytes(content)
    history = History(folder)
    history.read(4, "d", locked=True)
    for step in history.done:
        history.patch_of(step)


def _batch(content: bytes, folder: Path) -> None:
    (folder / "results.csv.journal").write_bytes(content)
    with Journal(folder / "results.csv") as journal:
        for name in ("a", "b"):
            if journal.has(Task(name, folder / name, "", "k")):
                journal.outcome(name)


def _proposals(content: bytes, folder: Path) -> None:
    (folder / "skyline").mkdir(exist_ok=True)
    (folder / "skyline" / "gable.json").write_bytes(content)
    data, _ = accepted(dict(_STATE), folder, "gable")
    load_text(json.dumps(data))


def _fields(content: bytes, _: Path) -> None:
    text = content.decode("utf-8", "replace")
    path, _, value = text.partition("=")
    set_field(_SAMPLE, path, value)


def _items(content: bytes, _: Path) -> None:
    name, _, text = content.decode("utf-8", "replace").partition("=")
    add_item(_SAMPLE, name, text)


_SAMPLE_TEXT = (samples_folder() / "demo_survey.json").read_text("utf-8")
_SAMPLE = load_text(_SAMPLE_TEXT)
_STATE = json.loads(_SAMPLE_TEXT)
_SMALL = json.dumps(
    {
        key: (value[:3] if isinstance(value, list) else value)
        for key, value in _STATE.items()
        if key in ("format", "version", "revision", "title", "site", "spots", "stations", "limits",
                   "antennas", "landmarks")
    }
).encode()  # fmt: skip

_CSV = (
    b'id,name,lat,lon,rf,virtual,antenna_amsl_m,haat_m,erp_kw,pol,pattern\nQALD,"Qalder, Hill",'
    b'41-30-00 N,97-15-00 W,21,6.1,600,250,400,H,"0:0;90:-3"\nQBEL,b,41.6,-97.3,7,,500 ft,,,,\n'
)
_GEOJSON = (
    b'{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point",'
    b'"coordinates":[-97.25,41.5]},"properties":{"id":"QALD","rf_channel":21,"top_amsl_m":300,'
    b'"antenna_amsl_m":600,"pattern":[[0,0],[90,-3]],"must_have":true}}]}'
)
_MARKS = b"id,lat,lon,top_amsl_m,sigma_m\nmill,41.5,-97.25,310,3\nspire,41 30 N,97 W,300 ft,\n"
_SCANS = (
    b"channel,received,strength (dBm),MER,steady\n21,yes,-58,21,steady\n6.1,no,,,\n14,yes,-70,,no\n"
)
_TYPED = (b"21 yes -58dBm 21dB steady\n14 no", b"6.1 yes 60% unsteady")
_JOURNAL = b"".join(
    json.dumps(line).encode() + b"\n"
    for line in (
        {"id": 1, "do": "change", "label": "a", "revision": 2, "digest": "d",
         "patch": [{"part": "title", "old": "a", "new": "b"}]},
        {"id": 2, "do": "change", "label": "b", "revision": 3, "digest": "d",
         "patch": [{"list": "spots", "id": "s", "old": None, "new": {"id": "s"}},
                   {"order": "spots", "old": [], "new": ["s"]}]},
        {"do": "undo", "revision": 4, "digest": "d"},
    )
)  # fmt: skip
_BATCH = b"".join(
    json.dumps({"survey": name, "key": "k", "outcome": asdict(outcome)}).encode() + b"\n"
    for name, outcome in (
        ("a", Outcome(rows=({"station": "Q"},), plan=PLAN, photos=("photos/v.jpg",))),
        ("b", Outcome(terrain=("ground.tif", 12, 34), notes=("n",))),
    )
)
_PROPOSALS = json.dumps(
    {
        "format": "skyview.proposals",
        "version": 1,
        "revision": 3,
        "view": "gable",
        "outlines": [
            {"id": "gable-1", "kind": "building", "rings_px": [[[10, 10], [90, 10], [50, 80]]],
             "reaches_ground": True, "sky_share": None, "unsure": False, "azimuth_deg": [1, 2],
             "top_deg": 4}
        ],
    }
).encode()  # fmt: skip


def picture(form: str) -> bytes:
    """A small picture with Exif, GPS and panorama XMP."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif.get_ifd(ExifTags.IFD.Exif).update(
        {ExifTags.Base.DateTimeOriginal: "2026:06:01 14:05:00",
         ExifTags.Base.FocalLengthIn35mmFilm: 26, ExifTags.Base.DigitalZoomRatio: 1.5}
    )  # fmt: skip
    exif.get_ifd(ExifTags.IFD.GPSInfo).update(
        {1: "N", 2: (47.0, 22.0, 12.5), 3: "E", 4: (8.0, 30.0, 1.5), 0x10: "M", 0x11: 10.5}
    )
    noise = np.random.default_rng(5).integers(0, 60, (24, 48, 3), dtype=np.uint8)
    out, more = io.BytesIO(), {}
    if form in ("JPEG", "WEBP"):
        space = "http://ns.google.com/photos/1.0/panorama/"
        more["xmp"] = (
            f"<x:xmpmeta xmlns:x='adobe:ns:meta/'><r xmlns:G='{space}' "
            "G:ProjectionType='equirectangular' G:FullPanoWidthPixels='96' "
            "G:FullPanoHeightPixels='48' G:CroppedAreaImageWidthPixels='48' "
            "G:CroppedAreaImageHeightPixels='24' G:CroppedAreaLeftPixels='3' "
            "G:CroppedAreaTopPixels='4' G:PoseHeadingDegrees='120.5'/></x:xmpmeta>"
        ).encode()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        Image.fromarray(noise).save(out, form, exif=exif, **more)
    return out.getvalue()


def ground() -> bytes:
    """A small GeoTIFF of ground heights round 40 N, 100 W."""
    heights = np.random.default_rng(3).integers(200, 400, (16, 16)).astype("int16")
    with rasterio.MemoryFile() as memory:
        with memory.open(
            driver="GTiff", width=16, height=16, count=1, dtype="int16", crs="EPSG:4326",
            transform=Affine(0.01, 0, -100.08, 0, -0.01, 40.08), nodata=-32768,
        ) as raster:  # fmt: skip
            raster.write(heights, 1)
        return bytes(memory.read())


PICTURES = tuple(picture(form) for form in ("JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP"))

READERS = (
    Reader("survey", _survey, (_SMALL, _SAMPLE_TEXT.encode()), 0.6),
    Reader("stations", _list, (_CSV, _GEOJSON)),
    Reader("landmarks", _landmarks, (_MARKS, _GEOJSON)),
    Reader("scan", _scan, (_SCANS,)),
    Reader("typed scan", _typed, _TYPED),
    Reader("photo", _photo, PICTURES),
    Reader("pixels", _pixels, PICTURES, 0.5),
    Reader("terrain", _terrain, (ground(),), 0.2),
    Reader("journal", _journal, (_JOURNAL,)),
    Reader("batch journal", _batch, (_BATCH,)),
    Reader("proposals", _proposals, (_PROPOSALS,), 0.3),
    Reader("set", _fields, (b"spots.ridge.enu_m=[0, 0, 6]", b"title=Mine",
                            b"site.latitude_deg=12.5", b"views.gable.taken=2026-06-01T12:00",
                            b"limits.lines_checked=yes"), 0.5),
    Reader("set --add", _items, (b'spots={"id": "n", "enu_m": [1, 2, 3], "heights_m": [1]}',
                                 b'landmarks={"id": "n", "latitude_deg": 1, "longitude_deg": 2}'),
           0.5),
)  # fmt: skip

_ODD = (
    b"NaN", b"Infinity", b"-Infinity", b"1e999", b"-0", b"9" * 400, b"1" * 5000, b"null", b"true",
    b"{}", b"[]", b'""', b"[" * 2000, b'{"a":' * 300, b"\xff\xfe", b"\x00", b"\xed\xa0\x80",
    b"\\ud800", b"\xef\xbb\xbf", b"=1+1", b"../..", b"\r", b"\n", b",", b";", b"\t", b'"', b"'",
    b"<b>", b"#", b"0x1F", b"1_000", b"\xc2\xa0", b"\xd9\xa3", b"e", b"-", b"+", b".", b"1e308",
    b"-1e308", b"1e-320", b"2147483648", b"18446744073709551616", b"A" * 3000,
)  # fmt: skip


def spoilt(content: bytes, chance: random.Random, other: bytes) -> bytes:
    """The input with one to four changes: bytes, pieces, odd values, values swapped for others."""
    changed = bytearray(content)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(changed) + 1)
        length = min(chance.choice((0, 1, 1, 2, 4, 8, 40)), len(changed) - at)
        match chance.randrange(8):
            case 0:
                changed[at : at + length] = chance.randbytes(length or 1)
            case 1:
                del changed[at : at + length]
            case 2:
                changed[at:at] = chance.choice(_ODD)
            case 3:
                changed[at : at + length] = chance.choice(_ODD)
            case 4:
                changed[at:at] = changed[at : at + length] * chance.choice((2, 3, 50))
            case 5:
                start = chance.randrange(len(other) + 1)
                changed[at : at + length] = other[start : start + chance.choice((1, 4, 30))]
            case 6 if changed:
                changed[at % len(changed)] ^= 1 << chance.randrange(8)
            case 7:
                _swap_value(changed, chance)
        if chance.random() < 0.02:
            del changed[at:]
    return bytes(changed)


def _swap_value(changed: bytearray, chance: random.Random) -> None:
    """Put an odd value where a number stands."""
    digits = [n for n, byte in enumerate(changed) if 48 <= byte <= 57]
    if not digits:
        return
    start = stop = chance.choice(digits)
    while stop < len(changed) and changed[stop] in b"0123456789.eE+-":
        stop += 1
    while start > 0 and changed[start - 1] in b"0123456789.eE+-":
        start -= 1
    changed[start:stop] = chance.choice(_ODD)


def spoilt_json(content: bytes, chance: random.Random) -> bytes:
    """JSON with one to three values replaced, removed, doubled or put elsewhere; still JSON."""
    try:
        data = json.loads(content)
    except ValueError:
        return content
    for _ in range(chance.randint(1, 3)):
        places = list(_places(data))
        if not places:
            break
        holder, key = chance.choice(places)
        value: Any = copy.deepcopy(chance.choice(_VALUES))
        match chance.randrange(4):
            case 0:
                del holder[key]
            case 1:
                other_holder, other_key = chance.choice(places)
                holder[key] = json.loads(json.dumps(other_holder[other_key], default=str))
            case 2:
                holder[key] = [holder[key]] if chance.random() < 0.5 else {"id": holder[key]}
            case _:
                holder[key] = value
    return json.dumps(data).encode()


_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 0.5, 1e308, -1e308, 2**63, 2**70, 10**30, float("nan"),
    float("inf"), "", " ", "a", "x" * 2000, "../x", "<b>", "\ud800", "\u202e", "=1", [], {}, [[]],
    [0, 0], [1, 2, 3], [[0, 0], [0, 0], [0, 0]], [[1, 1]] * 200, {"id": "x"}, "2026-13-40T99:00",
    "NaN", 360, -360, 90.0000001, 1e-300,
)  # fmt: skip


def _places(data: Any) -> list[tuple[Any, Any]]:
    found = []
    if isinstance(data, dict | list):
        keys = list(data) if isinstance(data, dict) else range(len(data))
        for key in keys:
            found.append((data, key))
            found += _places(data[key])
    return found


def inputs(reader: Reader, count: int, seed: int) -> Any:
    """Spoilt inputs of a reader, the same for the same seed."""
    chance = random.Random(f"{reader.name} {seed}")
    for number in range(count):
        content = chance.choice(reader.sound)
        if content[:1] == b"{" and number % 2:
            yield spoilt_json(content, chance)
        else:
            yield spoilt(content, chance, chance.choice(reader.sound))
