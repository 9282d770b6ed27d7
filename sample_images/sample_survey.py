"""What the invented customer's installer would have written down: the demo survey's contents.

Used by make_samples.py alone. Names, places and stations are invented; the shapes come from the
rendered scene. Distances and clicks carry errors drawn with a fixed seed.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from pyproj import Geod
from scene_truth import (
    PANO_PX_PER_DEG,
    PANO_TOP_DEG,
    SAMPLE_PX,
    Array,
    Picture,
    Scene,
    direction_to,
    hill_crest,
    mask_rings,
    simplified,
    smooth_crown,
    thing_mask,
)
from shapely.geometry import LineString, Polygon, box

SITE_DEG = (-38.6417, -117.3925)
GROUND_AMSL_M = 48.0
UTC_OFFSET = "-08:00"
EYE_HEIGHT_M = 1.6
SEED = 20260201
OUTLINE_TOLERANCE_DEG = 0.15
MOST_VERTICES = 40
EARTH = Geod(ellps="WGS84")

# id, scene's name, kind, how the distance was had, its sigma in metres, views that mark it
THINGS = [
    ("apartments", "apartment_block", "building", "map", 3.0, "sweep gable mast"),
    ("oak", "broadleaf_09", "broadleaf", "laser", 1.0, "sweep gable mast"),
    ("maple_front", "broadleaf_02", "broadleaf", "paced", 1.0, "sweep gable mast"),
    ("maple_left", "broadleaf_03", "broadleaf", "paced", 1.5, "sweep gable mast"),
    ("spruce_east", "conifer_01", "conifer", "laser", 0.5, "sweep gable mast"),
    ("spruce_west", "conifer_02", "conifer", "paced", 1.0, "sweep gable mast"),
    ("spruce_north", "conifer_11", "conifer", "map", 3.0, "sweep mast"),
    ("spruce_south", "conifer_03", "conifer", "paced", 2.0, "sweep mast"),
    ("lime_back", "broadleaf_07", "broadleaf", "paced", 1.5, "sweep gable mast"),
    ("house_north", "house_04", "building", "laser", 0.5, "sweep gable mast"),
    ("house_east", "house_10", "building", "paced", 2.0, "sweep mast"),
    ("house_brick", "house_21", "building", "map", 3.0, "sweep mast"),
    ("pole", "utility_pole_3", "mast", "laser", 0.3, "sweep gable mast"),
    ("lattice", "lattice_mast", "mast", "map", 5.0, "sweep gable mast"),
]
LARGE_SHARE = 0.2
CROWN_FILL = {"broadleaf": 0.75, "conifer": 0.5}
# kind: samples closed and opened (0.18 deg each), tolerance of the outline in degrees
SMOOTHING = {
    "broadleaf": (9, 3, 0.15),
    "conifer": (9, 3, 0.15),
    "building": (5, 3, 0.2),
    "mast": (3, 1, 0.12),
}
# id, azimuths of a stretch of the crest at one distance, the view that shows it
HILLS = [
    ("hills_south", 164.8, 183.0, "sweep"),
]
HILL_SIGMA_SHARE = 0.05
HILL_FOOT_DEG = 0.5
LANDMARKS = [
    ("lattice_top", "mast_tip"),
    ("water_tower", "water_tower_tip"),
    ("block_corner_w", "apartment_parapet_corner_nn"),
    ("block_corner_e", "apartment_parapet_corner_pn"),
]
LANDMARK_SIGMA_M = 3.0
# The street's pole tops and conductors: heights below the top, sag of a span (scene generator)
POLES = [f"utility_pole_{number}_top" for number in range(1, 6)]
CONDUCTOR_BELOW_TOP_M, CONDUCTOR_SAG_M = 0.45, 0.72
CABLE_BELOW_TOP_M, CABLE_SAG_M, HALF_CROSSARM_M = 3.1, 0.95, 1.1
# The drop from pole 3 to the house: its ends in the street's frame seen from the pole, its sag
DROP_BELOW_TOP_M, DROP_ALONG_M, DROP_ACROSS_M, DROP_END_M, DROP_SAG_M = 2.4, 22.0, 7.2, 3.25, 0.35
LINE_SHOWN_FROM_DEG = 58.5


def destination(azimuth_deg: Array, distance_m: Array) -> tuple[Array, Array]:
    """Latitude and longitude of points seen from the site. [deg]"""
    count = np.shape(azimuth_deg)
    longitude, latitude, _ = EARTH.fwd(
        np.full(count, SITE_DEG[1]), np.full(count, SITE_DEG[0]), azimuth_deg, distance_m
    )
    return np.asarray(latitude), np.asarray(longitude)


def rounded_ring(polygon: Polygon) -> list[list[float]]:
    """Vertices without the closing repeat. [px]"""
    return np.round(np.array(polygon.exterior.coords)[:-1], 1).tolist()


class Errors:
    """Reading errors from one fixed seed, so that each run writes the same survey."""

    def __init__(self, seed: int) -> None:
        self.draw = np.random.default_rng(seed)

    def distance_m(self, true_m: float, sigma_m: float) -> float:
        """A distance as noted down: even within 0.8 sigma of the truth."""
        return round(true_m + sigma_m * self.draw.uniform(-0.8, 0.8), 1)

    def click_px(self, pixel: Array, sigma_px: float) -> list[float]:
        """A tapped pixel: normal errors, cut at two sigma."""
        step = np.clip(self.draw.normal(size=2), -2, 2) * sigma_px
        return np.round(np.asarray(pixel) + step, 1).tolist()

    def angle_deg(self, true_deg: float, sigma_deg: float) -> float:
        """A bearing as read: normal error, cut at two sigma."""
        return round((true_deg + sigma_deg * np.clip(self.draw.normal(), -2, 2)) % 360, 1)


def thing_ring(scene: Scene, name: str, kind: str, picture: Picture) -> Polygon:
    """What is seen of one thing in one picture: of its larger pieces the one that stands highest.

    Crowns are closed over gaps of 1.5 deg, walls over wires and twigs; poles stay as they are.
    """
    mask = thing_mask(scene, name)
    closing, opening, tolerance_deg = SMOOTHING[kind]
    rings = mask_rings(scene, smooth_crown(mask, closing, opening), picture)
    return highest(rings, tolerance_deg * picture.px_per_deg())


def highest(rings: list[Polygon], tolerance_px: float) -> Polygon:
    """The highest of the larger pieces, with few vertices."""
    large = [ring for ring in rings if ring.area > LARGE_SHARE * rings[0].area]
    return simplified(min(large, key=lambda ring: ring.bounds[1]), tolerance_px, MOST_VERTICES)


def crown_depth_m(scene: Scene, name: str, kind: str, distance_m: float) -> float:
    """Mean depth of a crown as deep as it is wide: a cone half, a ball three quarters. [m]"""
    thing = scene.obstruction(name)
    half = np.deg2rad((thing["az_max"] - thing["az_min"]) % 360) / 2
    return round(CROWN_FILL[kind] * 2 * distance_m * float(np.tan(half)), 1)


def lattice_ring(scene: Scene, picture: Picture) -> Polygon:
    """The lattice mast: too thin for the id picture, so from its feet and its tip."""
    thing = scene.obstruction("lattice_mast")
    rows = np.flatnonzero(thing_mask(scene, "lattice_mast").any(axis=1)).astype(float)
    foot = PANO_TOP_DEG - (SAMPLE_PX * rows.max() + 1.5) / PANO_PX_PER_DEG
    azimuth = np.array([thing["az_min"], thing["az_max"], thing["top_az"]])
    return Polygon(picture.to_pixel(azimuth, np.array([foot, foot, thing["top_el"]])))


def hill_ring(scene: Scene, first_deg: float, last_deg: float, picture: Picture) -> Polygon:
    """A stretch of the crest, closed along a level line below it."""
    azimuth, elevation, _ = hill_crest(scene, first_deg, last_deg)
    crest = LineString(picture.to_pixel(azimuth, elevation))
    crest = crest.simplify(0.5 * OUTLINE_TOLERANCE_DEG * picture.px_per_deg())
    foot = picture.to_pixel(azimuth[[-1, 0]], np.full(2, HILL_FOOT_DEG))
    return Polygon([*crest.coords, *foot]).buffer(0)


def line_points(ends: Array, sag_m: float, pieces: int) -> Array:
    """A hanging line through its supports (n, 3), `pieces` straight pieces a span. [m]"""
    share = np.arange(pieces)[:, None] / pieces
    spans = []
    for start, end in pairwise(ends):
        span = start + (end - start) * share
        span[:, 2] -= (4 * sag_m * share * (1 - share))[:, 0]
        spans.append(span)
    return np.vstack([*spans, ends[-1:]])


def power_lines(scene: Scene, picture: Picture) -> list[tuple[str, Array, Polygon]]:
    """The street's line and the drop to the house: id, polyline (n, 3), outline."""
    tops = np.array([scene.landmark(name)["world_xyz"] for name in POLES])
    down = np.array([0.0, 0.0, 1.0])
    line = line_points(tops - CONDUCTOR_BELOW_TOP_M * down, CONDUCTOR_SAG_M, 4)
    along = (tops[3] - tops[1]) / np.hypot(*(tops[3] - tops[1])[:2]) * [1, 1, 0]
    across = np.array([-along[1], along[0], 0.0])
    near = tops[1:4] + HALF_CROSSARM_M * across
    shown = line_points(near - CONDUCTOR_BELOW_TOP_M * down, CONDUCTOR_SAG_M, 8)
    below = line_points(tops[1:4] - CABLE_BELOW_TOP_M * down, CABLE_SAG_M, 8)
    band = np.vstack([shown, below[::-1]])
    first_px = float(picture.to_pixel(np.array(LINE_SHOWN_FROM_DEG), np.array(5.0))[0])
    window = box(first_px, 0, *picture.size_px)
    outline = Polygon(picture.to_pixel(*direction_to(scene.camera, band)[:2])).intersection(window)
    end = tops[2] + DROP_ALONG_M * along + DROP_ACROSS_M * across
    end[2] = DROP_END_M
    drop = line_points(np.array([tops[2] - DROP_BELOW_TOP_M * down, end]), DROP_SAG_M, 8)
    wire = LineString(picture.to_pixel(*direction_to(scene.camera, drop)[:2]))
    thin = wire.buffer(0.2 * picture.px_per_deg(), cap_style="flat").intersection(
        box(0, 0, *picture.size_px)
    )
    return [("street_line", line, outline), ("house_drop", drop, thin)]
