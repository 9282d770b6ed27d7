"""The loss in every direction of a view at one frequency: the sky as the antenna meets it.

Every outline is carried to angles about the antenna, x the azimuth and y = asinh(tan(elevation)),
in radians: near level both are plain angles, and the scale is the same across and up everywhere
(Mercator's projection), so that a wave spreads alike in both. What stands is then a row of screens
in slopes, and azimuth closes on itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.ndimage import map_coordinates

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.outline.upright import Upright
from skyview.survey.assess import Assessment
from skyview.survey.losses import amplitude_of
from skyview.survey.models import Survey
from skyview.survey.results import Plate
from skyview.survey.screens import ViewScreen, nearest_view
from skyview.wave.aperture import loss_db
from skyview.wave.screens import Screen
from skyview.wave.skymap import SkyMap, sky_map

STEP_DEG = 0.15
"""Step of the layer's grid in azimuth and elevation."""

LONGEST_EDGE = np.radians(2.0)
"""Edges are divided to this angle before they are carried to angles."""

LOWEST = np.radians(-75.0)
"""What lies lower is taken to lie here: azimuths straight below have no meaning."""

DISTANCE_RATIO = 1.08
"""A wall whose far end is farther than this times its near end is cut into several screens."""

LAP = 0.7
"""The cut pieces of an opaque wall overlap by this many Fresnel angles of the step between them,
so that no wave slips through from one to the next. Beside the detours over a wall 12 m away and
130 degrees wide, at 551 MHz, that leaves 0.3 to 1.2 dB RMS; one screen leaves 1.1 to 1.7."""

NEAREST_M = 1.0
"""No screen is put nearer than this, where waves no longer spread as beside a thin screen."""

TURN = 2.0 * np.pi


@dataclass(frozen=True)
class LossLayer:
    """Loss over a regular grid of directions."""

    frequency_mhz: float
    """[MHz]"""
    azimuth_deg: Array
    """Of the columns, rising, continuous with the plate's. (columns,) [deg]"""
    elevation_deg: Array
    """Of the rows, rising. (rows,) [deg]"""
    loss_db: Array
    """Over free space, positive when weaker. (rows, columns) [dB]"""
    widened: float
    """How many times wider than wanted the computation's pixels were, as in
    `skyview.wave.skymap.SkyMap`."""


def layer_of(survey: Survey, found: Assessment, plate: Plate, frequency_mhz: float) -> LossLayer:
    """The layer of a plate: its antenna, its season, from level up to its top.

    Marked hills are part of the terrain, and no screens, where there is a terrain file.

    Raises InputError for a frequency outside 30..3000 MHz or a plate that lies below level.
    """
    place = next(spot for spot in survey.spots if spot.id == plate.spot)
    antenna_m = np.array(place.enu_m, float) + np.array([0.0, 0.0, plate.antenna_height_m])
    standing = {
        name: views
        for name, views in found.screens.items()
        if survey.site.terrain is None or views[0].obstruction.kind != "hill"
    }
    return loss_layer(
        standing,
        antenna_m,
        frequency_mhz,
        (plate.left_deg, plate.right_deg),
        (max(plate.bottom_deg, 0.0), plate.top_deg),
        plate.leaf,
    )


def loss_layer(
    screens: Mapping[str, Sequence[ViewScreen]],
    antenna_m: Array,
    frequency_mhz: float,
    azimuth_deg: tuple[float, float],
    elevation_deg: tuple[float, float],
    leaf: str = "in",
) -> LossLayer:
    """Loss of all solid obstructions together for every direction of a sector.

    ``screens`` by obstruction, one a view: the outline of the nearest view counts; ``antenna_m``
    (3,) east, north, up [m]; ``azimuth_deg`` and ``elevation_deg`` from and to [deg].
    The transmitters are taken to be far beyond everything that stands.

    Raises InputError for a frequency outside 30..3000 MHz or a sector without area.

    >>> open_sky = loss_layer({}, np.zeros(3), 600.0, (0.0, 30.0), (0.0, 20.0))
    >>> open_sky.loss_db.shape, float(abs(open_sky.loss_db).max())
    ((135, 201), 0.0)
    """
    if not 30.0 <= frequency_mhz <= 3000.0:
        raise InputError(
            f"no loss is computed at {frequency_mhz:g} MHz",
            field="--loss-at",
            mend="give 30 to 3000 MHz",
        )
    if not (azimuth_deg[0] < azimuth_deg[1] and elevation_deg[0] < elevation_deg[1]):
        raise InputError(
            "nothing of this view lies above level", field="view", mend="choose another view"
        )
    azimuth, elevation = (_steps(*ends) for ends in (azimuth_deg, elevation_deg))
    middle = float(np.radians(azimuth_deg[0] + azimuth_deg[1])) / 2.0
    x, y = np.radians(azimuth) - middle, _upward(np.radians(elevation))
    stand = screens_about(screens, antenna_m, frequency_mhz, middle, leaf)
    sky = sky_map(
        stand,
        float(wavelength_m(frequency_mhz)),
        (float(x[0]), float(y[0])),
        (float(x[-1]), float(y[-1])),
        period=TURN,
    )
    return LossLayer(frequency_mhz, azimuth, elevation, _losses(sky, x, y), sky.widened)


def _steps(low: float, high: float) -> Array:
    return np.linspace(low, high, int(np.ceil((high - low) / STEP_DEG - 1e-9)) + 1)


def _upward(elevation: Array) -> Array:
    return np.arcsinh(np.tan(elevation))


def _losses(sky: SkyMap, x: Array, y: Array) -> Array:
    """Loss between the map's directions, by cubics of the field's modulus. (rows, columns)"""
    column = (x - sky.x[0]) / (sky.x[1] - sky.x[0])
    row = (y - sky.y[0]) / (sky.y[1] - sky.y[0])
    at = np.meshgrid(row, column, indexing="ij")
    modulus = map_coordinates(np.abs(sky.field), at, order=3, mode="nearest")
    return np.asarray(loss_db(np.maximum(modulus, 0.0)), float)


def screens_about(
    screens: Mapping[str, Sequence[ViewScreen]],
    antenna_m: Array,
    frequency_mhz: float,
    middle: float,
    leaf: str = "in",
) -> list[Screen]:
    """What stands about the antenna, in slopes about level at the azimuth ``middle`` [rad].

    A slope is x = azimuth - middle, y = asinh(tan(elevation)), both in radians.
    """
    standing = []
    wave_m = float(wavelength_m(frequency_mhz))
    for views in screens.values():
        if views[0].is_wire:
            continue
        view = views[int(nearest_view(list(views), antenna_m[np.newaxis])[0])]
        amplitude = float(amplitude_of(view, np.array([frequency_mhz]), leaf)[0])
        standing += [
            Screen(distance, [ring * distance], [amplitude])
            for distance, ring in _pieces(
                view.screen, antenna_m, middle, 0.0 if amplitude else wave_m
            )
        ]
    return standing


def _pieces(
    screen: Upright, antenna_m: Array, middle: float, wave_m: float
) -> Iterator[tuple[float, Array]]:
    """Distance along level and ring in slopes of every part, long ones cut by distance.

    ``wave_m``: the wavelength by which pieces overlap, 0 for what overlaps would count twice.
    """
    normal = np.array([np.sin(screen.azimuth), np.cos(screen.azimuth)])
    gap = float((screen.foot_m - antenna_m[:2]) @ normal)
    facing = screen.azimuth if gap >= 0.0 else screen.azimuth + np.pi
    turned = (facing - middle + np.pi) % TURN - np.pi
    gap = abs(gap)
    for part in screen.parts:
        rings = [_seen(screen.points(ring) - antenna_m, facing) for ring in part]
        side = np.array([rings[0][:, 0].min(), rings[0][:, 0].max()])
        bounds = _bounds(side)
        for low, high in pairwise(bounds):
            distance = max(gap / np.cos(0.5 * (low + high)), NEAREST_M)
            lap = LAP * np.sqrt(wave_m * (DISTANCE_RATIO - 1.0) / distance)
            cut = [_keyholed(rings)] if len(bounds) == 2 else _strip(rings, low - lap, high + lap)
            for ring in cut:
                yield distance, ring + np.array([turned, 0.0])


def _seen(offset_m: Array, facing: float) -> Array:
    """Slopes of a closed line of points (N, 3) about the azimuth that the screen's plane faces."""
    ends = np.roll(offset_m, -1, axis=0)
    cross = np.linalg.norm(np.cross(offset_m, ends), axis=1)
    angle = np.arctan2(cross, np.sum(offset_m * ends, axis=1))
    count = np.maximum(np.ceil(angle / LONGEST_EDGE), 1).astype(int)
    start = np.repeat(np.arange(len(offset_m)), count)
    step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    points = offset_m[start] + (step / count[start])[:, np.newaxis] * (ends - offset_m)[start]
    ahead = points[:, 0] * np.sin(facing) + points[:, 1] * np.cos(facing)
    right = points[:, 0] * np.cos(facing) - points[:, 1] * np.sin(facing)
    up = np.arctan2(points[:, 2], np.hypot(ahead, right))
    return np.stack([np.arctan2(right, ahead), _upward(np.maximum(up, LOWEST))], axis=1)


def _bounds(side: Array) -> list[float]:
    """Azimuths from the plane's normal where a part between the two of ``side`` is cut."""
    near = 0.0 if side[0] < 0.0 < side[1] else float(np.abs(side).min())
    far = min(float(np.abs(side).max()), np.radians(89.0))
    if np.cos(near) <= DISTANCE_RATIO * np.cos(far):
        return [float(side[0]), float(side[1])]
    ratio = DISTANCE_RATIO ** np.arange(
        0.5, np.log(1.0 / np.cos(far)) / np.log(DISTANCE_RATIO) + 1.0
    )
    cut = np.arccos(1.0 / ratio)
    cut = np.concatenate([-cut[::-1], cut])
    inner = cut[(cut > side[0]) & (cut < side[1])]
    return [float(side[0]), *inner.tolist(), float(side[1])]


def _strip(rings: list[Array], low: float, high: float) -> list[Array]:
    """The shape between two azimuths, as keyholed rings."""
    shape = shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
    cut = shapely.get_parts(shapely.clip_by_rect(shape, low, -10.0, high, 10.0))
    return [
        _keyholed([np.asarray(ring.coords)[:-1] for ring in (piece.exterior, *piece.interiors)])
        for piece in cut
        if piece.geom_type == "Polygon" and piece.area > 0.0
    ]


def _keyholed(rings: list[Array]) -> Array:
    """One ring that runs round the edge, and to each hole, round it the other way, and back."""
    edge = rings[0]
    whole = [edge]
    for hole in rings[1:]:
        against = hole if _area(hole) * _area(edge) < 0.0 else hole[::-1]
        whole += [edge[:1], against, against[:1]]
    return np.concatenate([*whole, edge[:1]]) if len(rings) > 1 else edge


def _area(ring: Array) -> float:
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2.0
