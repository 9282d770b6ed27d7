"""All that a photo tells before its pixels are looked at."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PIL import ExifTags

from skyview.photo.clock import clock
from skyview.photo.exif import Tags, number, read_tags
from skyview.photo.gps import direction, place
from skyview.photo.lens import lens, taken_size_px
from skyview.photo.projection import Kind, guess_and_reason, likely_kind
from skyview.photo.reader import Opened, opened
from skyview.photo.tilt import Tilt, gravity_in_note, tilt_from_gravity
from skyview.photo.xmp import Panorama, packet_of, read_panorama

_POSE_SIGMA_DEG = 2.0
"""Of the pitch and roll that a panorama's data state: that of a phone's level (judgement)."""

_SHAPE_TOLERANCE = 0.01


@dataclass(frozen=True)
class PhotoFacts:
    """The facts of one picture. Angles in degrees, lengths in metres; None for unknown."""

    file: str
    """The file as it was named."""
    format: str
    """The true format, whatever the name ends in."""
    width_px: int
    """Width of the upright picture."""
    height_px: int
    """Height of the upright picture."""
    rotation_applied: int
    """Degrees clockwise from the stored to the upright picture, after any mirroring; 0 for HEIC,
    which the decoder turns by its own data."""
    mirrored: bool
    """Whether the stored picture is mirrored left-right first."""
    latitude_deg: float | None
    """North positive, WGS 84."""
    longitude_deg: float | None
    """East positive, WGS 84."""
    altitude_m: float | None
    """Height above ``altitude_reference``; never good enough for near transmitters."""
    altitude_reference: str | None
    """'sea level', 'ellipsoid' or None, as the tags claim."""
    position_sigma_m: float | None
    """The phone's own figure for its horizontal error."""
    direction_deg: float | None
    """Compass direction of the camera, or of the panorama's heading, clockwise in [0, 360)."""
    direction_north: str | None
    """'true', 'magnetic' or None."""
    focal_35mm: float | None
    """Focal length in millimetres on a 36 mm x 24 mm frame, digital zoom included."""
    digital_zoom: float | None
    """Digital zoom ratio, 1 for none."""
    taken: str | None
    """ISO 8601 local time, with its offset where known."""
    utc_offset: str | None
    """'+hh:mm' east of Greenwich."""
    time_note: str | None
    """What is doubtful about the time."""
    tilt: Tilt | None
    """Pitch and roll as the phone felt them."""
    panorama: Panorama | None
    """The picture's place in a stitched panorama."""
    likely_kind: Kind
    """What the picture probably is, by its data and shape."""
    cut_from_px: tuple[int, int] | None
    """Size as taken, where the picture was cut to another shape afterwards."""
    missing: tuple[str, ...]
    """What is missing and what would settle it, in plain words."""
    notes: tuple[str, ...]
    """What is odd about the file."""


def read_header(path: str | Path) -> PhotoFacts:
    """The facts of the picture at ``path``, its pixels left alone.

    Broken metadata count as missing and leave a note. Raises InputError where the file is no
    picture that can be read, StorageError where the disk fails. A file cut short behind its
    header is noticed by ``read_pixels`` only.
    """
    with opened(path) as picture:
        tags = read_tags(picture)
        return _facts(str(path), picture, tags)


def _facts(file: str, picture: Opened, tags: Tags) -> PhotoFacts:
    width, height = picture.image.size
    if tags.turn.degrees in (90, 270):
        width, height = height, width
    panorama = read_panorama(packet_of(picture.image.info), (width, height), tags.notes)
    optics = lens(tags, (width, height))
    rendered = number(tags.camera.get(ExifTags.Base.CustomRendered))
    kind = likely_kind((width, height), panorama, rendered, optics.focal_35mm)
    where = place(tags)
    heading, north = _heading(tags, panorama)
    when = clock(tags)
    tilt = _tilt(tags, panorama, kind)
    cut_from = _cut_from(tags, kind, (width, height))
    _note_zoom(tags, optics.digital_zoom)
    facts = PhotoFacts(
        file=file,
        format=picture.format,
        width_px=width,
        height_px=height,
        rotation_applied=tags.stored_turn.degrees,
        mirrored=tags.stored_turn.mirrored,
        latitude_deg=where.latitude_deg,
        longitude_deg=where.longitude_deg,
        altitude_m=where.altitude_m,
        altitude_reference=where.altitude_reference,
        position_sigma_m=where.position_sigma_m,
        direction_deg=heading,
        direction_north=north,
        focal_35mm=optics.focal_35mm,
        digital_zoom=optics.digital_zoom,
        taken=when.taken,
        utc_offset=when.utc_offset,
        time_note=when.time_note,
        tilt=tilt,
        panorama=panorama,
        likely_kind=kind,
        cut_from_px=cut_from,
        missing=(),
        notes=(*picture.notes, *tags.notes),
    )
    return replace(facts, missing=_missing(facts))


def _heading(tags: Tags, panorama: Panorama | None) -> tuple[float | None, str | None]:
    """A panorama's angles count from its own heading, so that one goes before the camera's."""
    heading, north = direction(tags)
    if panorama is None or panorama.heading_deg is None:
        return heading, north
    if heading is not None:
        apart = abs((heading - panorama.heading_deg + 180.0) % 360.0 - 180.0)
        if apart <= 1.0:
            return panorama.heading_deg, north
        tags.notes.append(
            f"Panorama heading {panorama.heading_deg:.1f} and camera direction {heading:.1f} deg "
            "differ; the panorama's is used."
        )
    return panorama.heading_deg, None


def _tilt(tags: Tags, panorama: Panorama | None, kind: Kind) -> Tilt | None:
    if panorama is not None:
        return Tilt(panorama.pitch_deg, panorama.roll_deg, _POSE_SIGMA_DEG)
    vector = gravity_in_note(tags.camera.get(ExifTags.Base.MakerNote))
    if vector is None or kind != "single photo":
        return None
    tilt = tilt_from_gravity(vector, tags.orientation)
    if tilt is not None:
        tags.notes.append("The tilt is derived from the phone's acceleration; check it by marks.")
    return tilt


def _cut_from(tags: Tags, kind: Kind, size_px: tuple[int, int]) -> tuple[int, int] | None:
    taken = taken_size_px(tags)
    if taken is None or kind != "single photo":
        return None
    shape = max(size_px) / min(size_px)
    taken_shape = max(taken) / min(taken)
    rounding = 1.0 / min(size_px)
    fits_inside = max(size_px) <= max(taken) and min(size_px) <= min(taken)
    if abs(shape / taken_shape - 1.0) <= _SHAPE_TOLERANCE + rounding or not fits_inside:
        return None
    tags.notes.append(
        f"The picture was cut after it was taken ({taken[0]} x {taken[1]}): its middle need not "
        "be the camera's axis."
    )
    return taken


def _note_zoom(tags: Tags, zoom: float | None) -> None:
    if zoom is not None and zoom > 1.02:
        tags.notes.append(
            f"Digital zoom {zoom:.3g}: the focal length is taken to include it, as most phones "
            "write it, with a wide sigma."
        )


def _missing(facts: PhotoFacts) -> tuple[str, ...]:
    gaps = []
    if facts.latitude_deg is None:
        gaps.append("position: none in the photo; give the roof's latitude and longitude")
    if facts.direction_deg is None:
        gaps.append("compass direction: none in the photo; mark two landmarks or the sun")
    elif facts.direction_north is None:
        gaps.append("kind of north: true or magnetic is not told; mark one landmark or the sun")
    reason = guess_and_reason(facts)[1]
    if reason is not None:
        gaps.append(reason)
    if facts.taken is None:
        gaps.append("time: none in the photo; give date and time if the sun or leaves matter")
    elif facts.utc_offset is None:
        gaps.append("offset from UTC: not told; give the time zone before the sun is used")
    if facts.tilt is None:
        gaps.append("tilt: not told; mark a level line, something plumb or two landmarks")
    return tuple(gaps)
