"""Stations, Fresnel zones and silhouettes in a view's pixels, as antennas at any height see them.

Shapes: H heights, S stations, V vertices. The page draws these numbers and computes none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array, azimuth_elevation_of
from skyview.report.words import obstruction_name
from skyview.survey.assess import Assessment
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import TREES, WIRES
from skyview.survey.models import Survey
from skyview.survey.plates import nearest_screen, screen_distance_m
from skyview.survey.results import PathRow
from skyview.survey.screens import nearest_view
from skyview.wave.fresnel import first_zone_radius_m
from skyview.workbench.poses import pixels_of

Flags = NDArray[np.bool_]

LONGEST_EDGE = np.radians(2.0)
"""Edges of silhouettes are divided to this angle, so that they bend as the picture does."""

_MOST_PARTS = 90


def family_of(kind: str) -> str:
    """How an outline is drawn: tree, line or solid.

    >>> family_of("conifer"), family_of("power_line"), family_of("mast")
    ('tree', 'line', 'solid')
    """
    return "tree" if kind in TREES else "line" if kind in WIRES else "solid"


@dataclass(frozen=True)
class Shape:
    """One thing's rings in site metres, from the view that shows it best to some antennas."""

    obstruction: str
    kind: str
    rings_m: tuple[Array, ...]
    """Each (V, 3) east, north, up; closed by joining the last vertex to the first."""
    foot_m: Array | None
    """East and north of its middle, None where nothing tells its place."""
    first: int
    """Index of the first of the antennas that it counts for."""
    last: int
    """Index of the last one."""


def shapes_of(survey: Survey, found: Assessment, antenna_m: Array) -> list[Shape]:
    """All outlines and wires for antennas (H, 3), divided as finely as the middle one needs.

    Along a mast another view may come to stand nearer: a thing then has a shape for each.
    """
    middle, end = antenna_m[len(antenna_m) // 2], len(antenna_m) - 1
    shapes = []
    for name, screens in found.screens.items():
        nearest = nearest_view(screens, antenna_m)
        cuts = np.flatnonzero(np.diff(nearest)) + 1
        for first, last in zip([0, *cuts], [*(cuts - 1), end], strict=True):
            seen = screens[int(nearest[first])]
            upright = seen.screen
            rings = [upright.points(ring) for part in upright.parts for ring in part]
            shapes.append(
                Shape(
                    name,
                    seen.obstruction.kind,
                    tuple(_divided(ring, middle) for ring in rings),
                    upright.foot_m if seen.is_placed else None,
                    int(first),
                    int(last),
                )
            )
    for thing in survey.obstructions:
        if thing.kind in WIRES and thing.line_enu_m:
            line = np.array(thing.line_enu_m, float)
            ring = np.concatenate([line, line[-2:0:-1]])
            foot = line[np.argmin(np.hypot(*(line[:, :2] - middle[:2]).T)), :2]
            shapes.append(Shape(thing.id, thing.kind, (_divided(ring, middle),), foot, 0, end))
    return shapes


def _divided(ring_m: Array, antenna_m: Array) -> Array:
    """The ring with its edges cut to ``LONGEST_EDGE`` as the antenna sees them."""
    ends = np.roll(ring_m, -1, axis=0)
    one, other = ring_m - antenna_m, ends - antenna_m
    cross = np.linalg.norm(np.cross(one, other), axis=1)
    angle = np.arctan2(cross, np.sum(one * other, axis=1))
    count = np.clip(np.ceil(angle / LONGEST_EDGE), 1, _MOST_PARTS).astype(int)
    start = np.repeat(np.arange(len(ring_m)), count)
    step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return np.asarray(ring_m[start] + (step / count[start])[:, None] * (ends - ring_m)[start])


def ring_pixels(camera: ViewCamera, ring_m: Array, antenna_m: Array) -> Array:
    """Pixels (H, V, 2) of one ring from antennas (H, 3): NaN where the view shows nothing.

    In a full circle x runs on over the joint, alike at every height.
    """
    azimuth, elevation = azimuth_elevation_of(ring_m[None, :, :] - antenna_m[:, None, :])
    pixels = pixels_of(camera, azimuth, elevation)
    if camera.full_circle:
        width = float(camera.view.size_px[0])
        pixels[..., 0] = np.unwrap(pixels[..., 0], axis=1, period=width)
        pixels[:, :, 0] += width * np.round((pixels[:1, :1, 0] - pixels[:, :1, 0]) / width)
        pixels[..., 0] -= width * np.floor(np.mean(pixels[..., 0]) / width)
    return pixels


def silhouettes_message(
    survey: Survey, found: Assessment, camera: ViewCamera, antenna_m: Array
) -> list[dict[str, Any]]:
    """Every silhouette in a view's pixels from one antenna (3,), those out of view left out."""
    told = []
    for shape in shapes_of(survey, found, antenna_m[None, :]):
        rings = [ring_pixels(camera, ring, antenna_m[None, :])[0] for ring in shape.rings_m]
        shown = [ring for ring in rings if np.isfinite(ring).any()]
        if shown:
            distance = distance_m(shape, antenna_m)
            told.append(
                {
                    "obstruction": shape.obstruction,
                    "kind": shape.kind,
                    "family": family_of(shape.kind),
                    "label": obstruction_name(shape.obstruction, shape.kind, distance),
                    "distance_m": distance,
                    "rings_px": [nulled_points(ring) for ring in shown],
                }
            )
    return told


def nulled_points(ring: Array) -> list[list[float] | None]:
    """Points with None for those that the view does not show."""
    shown = np.isfinite(ring[:, 0] + ring[:, 1]).tolist()
    rounded = np.round(ring, 1).tolist()
    return [point if ok else None for point, ok in zip(rounded, shown, strict=True)]


def distance_m(shape: Shape, antenna_m: Array) -> float | None:
    """Horizontal distance to a thing's middle, None where its place is not known."""
    return None if shape.foot_m is None else float(np.hypot(*(shape.foot_m - antenna_m[:2])))


@dataclass(frozen=True)
class Places:
    """Where rows lie in a view: arrays over rows (N,)."""

    x_px: Array
    y_px: Array
    inside: Flags
    on_left: Flags
    """Of those outside: whether the left edge is the nearer one."""
    sigma_x_px: Array
    sigma_y_px: Array
    rx_px: Array
    """Half width and height of the first Fresnel zone, NaN without an obstruction."""
    ry_px: Array
    radius_m: Array
    distance_m: Array


def places_of(
    rows: Sequence[PathRow], found: Assessment, camera: ViewCamera, antenna_m: Array
) -> Places:
    """Where each row's wave comes from in the picture; ``antenna_m`` (N, 3), one a row."""
    azimuth = np.radians([row.bearing_deg for row in rows])
    elevation = np.radians([row.arrival_elevation_deg for row in rows])
    pixels = pixels_of(camera, azimuth, elevation)
    x, y = pixels[:, 0], pixels[:, 1]
    sigma_az = np.radians([row.bearing_sigma_deg for row in rows])
    sigma_el = np.radians([row.elevation_sigma_deg or 0.0 for row in rows])
    width, height = camera.view.size_px
    with np.errstate(invalid="ignore"):
        inside = np.isfinite(x) & (y >= 0.0) & (y <= height)
        if not camera.full_circle:
            inside &= (x >= 0.0) & (x <= width)
    middle = float(camera.picture.camera.directions(width / 2.0, height / 2.0)[0])
    radius, distance = _zones(rows, found, antenna_m, azimuth)
    angle = np.arctan2(radius, distance)
    across = angle / np.maximum(np.cos(elevation), 0.1)

    def aside(by_azimuth: Array, by_elevation: Array) -> Array:
        moved = pixels_of(camera, azimuth + by_azimuth, elevation + by_elevation, near_x=x)
        result: Array = np.linalg.norm(moved - pixels, axis=1)
        return result

    none = np.zeros(len(rows))
    return Places(
        x_px=x,
        y_px=y,
        inside=inside,
        on_left=np.sin(azimuth - middle) < 0.0,
        sigma_x_px=aside(sigma_az, none),
        sigma_y_px=aside(none, sigma_el),
        rx_px=aside(across, none),
        ry_px=aside(none, angle),
        radius_m=radius,
        distance_m=distance,
    )


def _zones(
    rows: Sequence[PathRow], found: Assessment, antenna_m: Array, azimuth: Array
) -> tuple[Array, Array]:
    """Radius of each row's first Fresnel zone at its obstruction, and how far that is. [m]"""
    distance = np.full(len(rows), np.nan)
    names = np.array([row.obstruction or "" for row in rows])
    for name, screens in found.screens.items():
        mine = np.flatnonzero(names == name)
        if mine.size:
            screen = nearest_screen(screens, antenna_m[mine[0]]).screen
            distance[mine] = screen_distance_m(screen, antenna_m[mine], azimuth[mine])
    far = np.array([1000.0 * row.distance_km for row in rows])
    known = np.isfinite(distance)
    radius = np.full(len(rows), np.nan)
    frequency = np.array([row.frequency_mhz for row in rows])
    radius[known] = first_zone_radius_m(
        frequency[known], distance[known], np.maximum(far - distance, 1.0)[known]
    )
    return radius, distance


def known(value: float, digits: int = 1) -> float | None:
    """A rounded figure, None for NaN."""
    return round(float(value), digits) if np.isfinite(value) else None
