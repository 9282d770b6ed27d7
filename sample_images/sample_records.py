"""The demo survey put together: obstructions, outlines, marks, stations, the file itself.

Used by make_samples.py alone; field names are those of the survey file.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping

import numpy as np
from sample_survey import (
    CROWN_FILL,
    EYE_HEIGHT_M,
    GROUND_AMSL_M,
    HILL_SIGMA_SHARE,
    HILLS,
    LANDMARK_SIGMA_M,
    LANDMARKS,
    SITE_DEG,
    THINGS,
    Errors,
    crown_depth_m,
    destination,
    hill_ring,
    lattice_ring,
    power_lines,
    rounded_ring,
    thing_ring,
)
from scene_truth import (
    Array,
    Picture,
    Scene,
    direction_to,
    hill_crest,
    silhouette_distance_m,
    thing_mask,
)
from shapely.geometry import Polygon

CLICK_SIGMA_PX = {"sweep": 1.5, "gable": 1.0, "mast": 1.0}
# call sign, place, bearing, km, antenna above sea, above average terrain, channel, virtual, kW,
# polarization, system, must have
STATIONS = [
    ("QVEL", "Velmarrow Peak", 93.6, 31.2, 1860, 1490, 22, "22.1", 15, "h", "atsc1", True),
    ("QSKA", "Skarnholt", 174.2, 24.3, 1530, 1180, 31, "31.1", 5, "h", "atsc1", True),
    ("QPEL", "Pellancey West", 351.6, 27.8, 1390, 980, 27, "27.1", 2, "h", "atsc1", True),
    ("QTES", "Tessmere Edge", 357.4, 41.5, 2010, None, 4, "4.1", 0.5, "h", "atsc1", False),
    ("QOND", "Ondry Down", 43.5, 36.4, 1720, 1290, 18, "18.1", 0.3, "h", "atsc1", False),
    ("QLOR", "Lorrowby", 331.0, 33.1, 1410, None, 25, "25.1", 0.05, "h", "atsc1", False),
    ("QWRA", "Wrayfen", 121.2, 21.6, 890, 610, 34, "34.1", 1, "h", "atsc1", False),
    ("QDUN", "Dunmarrick", 256.0, 46.7, 1650, None, 16, "16.1", 5, "h", "atsc1", False),
    ("QOST", "Ostrake Flats", 178.5, 108.4, 265, 140, 29, "29.1", 900, "h", "atsc1", False),
    ("QIVE", "Ivelsund", 318.0, 52.3, 2250, None, 5, "5.1", 0.02, "h", "atsc1", False),
    ("QKEL", "Kelmorrow", 106.2, 28.9, 1270, 860, 9, "9.1", 0.05, "h", "atsc1", False),
    ("QHES", "Hesterlow", 98.6, 18.4, 830, 540, 20, "20.1", 1, "h", "atsc3", False),
]
STATED = {"QHES": {"required_cn_db": 17.0}}
"""What the customer's list does not hold and the installer asked the station."""

ANTENNA = {
    "id": "main",
    "spot": "chimney",
    "height_m": 3.0,
    "aim_true_deg": 352.0,
    "length_m": 1.4,
    "gain_dbd": {"high_vhf": 5.0, "uhf": 8.0},
    "front_to_back_db": {"high_vhf": 10.0, "uhf": 14.0},
    "polarization": "h",
    "downlead": [
        {"kind": "transformer"},
        {"kind": "coax", "type": "rg59", "length_m": 28.0},
    ],
}
RECEIVER = {"sets": 3, "splitter_ways": 4}

STATION_FIELDS = (
    "id",
    "name",
    "latitude_deg",
    "longitude_deg",
    "antenna_amsl_m",
    "haat_m",
    "rf_channel",
    "virtual_channel",
    "erp_kw",
    "polarization",
    "system",
    "role",
    "must_have",
)


def station_records() -> list[dict]:
    """The stations as the survey file holds them."""
    bearing, distance = np.array([row[2:4] for row in STATIONS], dtype=float).T
    latitude, longitude = destination(bearing, 1000 * distance)
    records = [
        {
            "id": call,
            "name": name,
            "latitude_deg": round(float(north), 5),
            "longitude_deg": round(float(east), 5),
            "antenna_amsl_m": amsl,
            "haat_m": haat,
            "rf_channel": channel,
            "virtual_channel": virtual,
            "erp_kw": power,
            "polarization": polarization,
            "system": system,
            "role": "wanted",
            "must_have": must,
        }
        for (
            call,
            name,
            _,
            _,
            amsl,
            haat,
            channel,
            virtual,
            power,
            polarization,
            system,
            must,
        ), north, east in zip(STATIONS, latitude, longitude, strict=True)
    ]
    return [{**record, **STATED.get(str(record["id"]), {})} for record in records]


def stations_csv(records: list[dict]) -> str:
    """The station list as a table; an unknown height is an empty cell."""
    text = io.StringIO()
    table = csv.DictWriter(text, STATION_FIELDS, lineterminator="\n")
    table.writeheader()
    for record in records:
        listed = {field: record[field] for field in STATION_FIELDS}
        table.writerow({**listed, "must_have": "yes" if record["must_have"] else "no"})
    return text.getvalue()


KNOWN_LINES = {"house_drop": {"voltage_kv": 0.24, "line_sigma_m": 0.3}}
"""What the utility said of a line, and how well a laser placed it; invented."""

CHIMNEY_M = (-2.8, -4.1, 4.9)
"""A spot without a picture of its own, on the side away from the house's power line."""


def obstruction(name: str, kind: str, view: str, **facts: object) -> dict:
    """One obstruction with the fields that are known."""
    return {"id": name, "kind": kind, "kind_by": "hand", "distance_from": view, **facts}


def outline(name: str, view: str, ring: Polygon, to_ground: bool) -> dict:
    """One shape in one view."""
    return {
        "id": f"{name}_{view}",
        "obstruction": name,
        "view": view,
        "by": "hand",
        "rings_px": [rounded_ring(ring)],
        "reaches_ground": to_ground,
    }


def shapes(
    scenes: Mapping[str, Scene], pictures: Mapping[str, Picture], errors: Errors
) -> tuple[list[dict], list[dict], dict[str, float]]:
    """Obstructions, outlines, and the true distance of each obstruction's plane. [m]"""
    things: list[dict] = []
    outlines: list[dict] = []
    planes: dict[str, float] = {}

    def add(name: str, kind: str, view: str, method: str, sigma: float, **facts: object) -> None:
        noted = errors.distance_m(planes[name], sigma)
        measure = {"distance_m": noted, "distance_sigma_m": sigma, "distance_by": method}
        things.append(obstruction(name, kind, view, **measure, **facts))

    for name, source, kind, method, sigma, views in THINGS:
        first = views.split()[0]
        planes[name] = silhouette_distance_m(scenes[first], thing_mask(scenes[first], source))
        facts: dict[str, object] = {"transmits": "cellular"} if name == "lattice" else {}
        if kind in CROWN_FILL:
            facts["depth_m"] = crown_depth_m(scenes[first], source, kind, planes[name])
        for view in views.split():
            scene, picture = scenes[view], pictures[view]
            thin = source == "lattice_mast"
            ring = (
                lattice_ring(scene, picture) if thin else thing_ring(scene, source, kind, picture)
            )
            outlines.append(outline(name, view, ring, True))
        add(name, kind, first, method, sigma, **facts)
    for name, start, end, view in HILLS:
        planes[name] = hill_crest(scenes[view], start, end)[2]
        ring = hill_ring(scenes[view], start, end, pictures[view])
        outlines.append(outline(name, view, ring, True))
        add(name, "hill", view, "map", round(HILL_SIGMA_SHARE * planes[name], -1))
    for name, line, ring in power_lines(scenes["sweep"], pictures["sweep"]):
        points = np.round(line, 2).tolist()
        facts = KNOWN_LINES.get(name, {})
        things.append(obstruction(name, "power_line", "sweep", **facts, line_enu_m=points))
        outlines.append(outline(name, "sweep", ring, False))
    return things, outlines, planes


def landmark_records(scene: Scene) -> list[dict]:
    """Landmarks as read off a map: position and height of the top."""
    points = np.array([scene.landmark(source)["world_xyz"] for _, source in LANDMARKS])
    azimuth, _, distance = direction_to(np.zeros(3), points * [1, 1, 0])
    latitude, longitude = destination(azimuth, distance)
    return [
        {
            "id": name,
            "latitude_deg": round(float(north), 7),
            "longitude_deg": round(float(east), 7),
            "top_amsl_m": round(GROUND_AMSL_M + float(up), 2),
            "sigma_m": LANDMARK_SIGMA_M,
        }
        for (name, _), north, east, up in zip(
            LANDMARKS, latitude, longitude, points[:, 2], strict=True
        )
    ]


def marks(
    scenes: Mapping[str, Scene], pictures: Mapping[str, Picture], errors: Errors, declination: float
) -> list[dict]:
    """What the installer tapped in each view."""
    found = []
    for view, picture in pictures.items():
        sigma = CLICK_SIGMA_PX[view]
        for name, source in LANDMARKS:
            point = scenes[view].landmark(source)
            if not point["visible"]:
                continue
            pixel = picture.to_pixel(np.array(point["azimuth"]), np.array(point["elevation"]))
            found.append(
                {
                    "id": f"{view}_{name}",
                    "view": view,
                    "kind": "landmark",
                    "landmark": name,
                    "points_px": [errors.click_px(pixel, sigma)],
                    "sigma_px": 2.0 * sigma,
                }
            )
    sweep = pictures["sweep"]
    base = np.array(scenes["sweep"].landmark("utility_pole_3_top")["world_xyz"])
    on_pole = direction_to(
        scenes["sweep"].camera, base * [1, 1, 0] + np.outer([9.3, 2.5], [0, 0, 1])
    )
    level = [np.array([17.0, 131.0, 178.0]), np.zeros(3)]
    found.append(
        {
            "id": "sweep_pole",
            "view": "sweep",
            "kind": "plumb",
            "points_px": [errors.click_px(p, 1.5) for p in sweep.to_pixel(*on_pole[:2])],
            "sigma_px": 3.0,
        }
    )
    found.append(
        {
            "id": "sweep_eye_level",
            "view": "sweep",
            "kind": "level",
            "level_by": "spirit",
            "points_px": [errors.click_px(p, 4.0) for p in sweep.to_pixel(*level)],
            "sigma_px": 5.0,
        }
    )
    found.append(bearing_mark(scenes, pictures, errors, "gable", "house_21_gable_tip_p", 0.2, None))
    found.append(
        bearing_mark(scenes, pictures, errors, "mast", "house_05_gable_tip_p", 0.6, declination)
    )
    return found


def bearing_mark(
    scenes: Mapping[str, Scene],
    pictures: Mapping[str, Picture],
    errors: Errors,
    view: str,
    source: str,
    sigma_deg: float,
    declination_deg: float | None,
) -> dict:
    """A bearing from a map (no declination given) or by sighting compass (magnetic)."""
    point = scenes[view].landmark(source)
    pixel = pictures[view].to_pixel(np.array(point["azimuth"]), np.array(point["elevation"]))
    north = point["azimuth"] - (declination_deg or 0.0)
    return {
        "id": f"{view}_bearing",
        "view": view,
        "kind": "bearing",
        "azimuth_deg": errors.angle_deg(north, sigma_deg),
        "north": "true" if declination_deg is None else "magnetic",
        "points_px": [errors.click_px(pixel, 1.0)],
        "sigma_px": round(float(np.hypot(2.0, sigma_deg * pictures[view].px_per_deg())), 1),
    }


def survey_record(
    views: list[dict], parts: Mapping[str, list[dict]], cameras: Mapping[str, Array]
) -> dict:
    """The whole survey file."""
    spots = [
        {
            "id": name,
            "enu_m": np.round(cameras[view] - [0, 0, EYE_HEIGHT_M], 2).tolist(),
            "heights_m": [1.5, 3.0],
        }
        for name, view in (("ridge", "sweep"), ("gable", "gable"))
    ]
    spots.append({"id": "chimney", "enu_m": list(CHIMNEY_M), "heights_m": [1.5, 3.0]})
    return {
        "format": "skyview-survey",
        "version": 1,
        "revision": 1,
        "title": "House at 12 Tern Rise, Pellancey, Ondermere Island (invented)",
        "site": {
            "latitude_deg": SITE_DEG[0],
            "longitude_deg": SITE_DEG[1],
            "position_sigma_m": 3.0,
            "ground_amsl_m": GROUND_AMSL_M,
            "channel_plan": "americas-6mhz",
            "time_zone": "Etc/GMT+8",
            "surroundings": "suburban",
        },
        "spots": spots,
        "limits": {"unguyed_mast_m": 3.0, "lines_checked": True},
        "views": views,
        **parts,
        "antennas": [ANTENNA],
        "receiver": RECEIVER,
    }


def one_item_a_line(record: dict) -> str:
    """JSON with one line for each top field and for each item of a list of objects."""
    lines = []
    for key, value in record.items():
        if isinstance(value, list) and value and isinstance(value[0], dict | list):
            items = ",\n  ".join(json.dumps(item, allow_nan=False) for item in value)
            lines.append(f" {json.dumps(key)}: [\n  {items}\n ]")
        else:
            lines.append(f" {json.dumps(key)}: {json.dumps(value, allow_nan=False)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"
