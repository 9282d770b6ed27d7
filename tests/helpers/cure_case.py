"""A roof where not everything comes in, and what a change to it makes of the margins."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from survey_scene import SITE, SIZE, box_ring, station
from whole_circle import WHOLE_CIRCLE

from skyview.survey.assess import assess
from skyview.survey.models import Survey, validate
from skyview.survey.results import Cure, PathRow

VIEW = {
    "id": "round",
    "photo": "photos/round.jpg",
    "size_px": list(SIZE),
    "spot": "ridge",
    "camera_enu_m": [0.0, 0.0, 6.5],
    "projection": WHOLE_CIRCLE,
    "prior": {"yaw_deg": 0, "yaw_sigma_deg": 0.3, "pitch_sigma_deg": 0.2, "roll_sigma_deg": 0.2},
}


def weak(name: str, azimuth_deg: float, erp_kw: float, channel: int = 30, **more: Any) -> dict:
    """A station 60 km away that needs 15 dB."""
    told = {"rf_channel": channel, "system": "atsc1", "polarization": "h", "erp_kw": erp_kw}
    return station(name, azimuth_deg, 60.0, **(told | more))


def thing(name: str, kind: str, distance_m: float, **more: Any) -> dict[str, Any]:
    """An obstruction seen from the one view."""
    where = {"distance_m": distance_m, "distance_from": "round", "distance_sigma_m": 0.5}
    return {"id": name, "kind": kind, **where, **more}


def outline(name: str, left: float, right: float, bottom: float, top: float) -> dict[str, Any]:
    """Its shape as a rectangle of azimuth and elevation [deg], down to the ground."""
    ring = box_ring(left, right, bottom, top)
    return {
        "id": f"{name}-1",
        "obstruction": name,
        "view": "round",
        "rings_px": [ring],
        "reaches_ground": True,
    }


def roof(**more: Any) -> dict[str, Any]:
    """A survey as plain data: a house to the north, a tree to the east, an antenna to the north."""
    data: dict[str, Any] = {
        "format": "skyview-survey",
        "version": 1,
        "revision": 1,
        "site": {**SITE, "position_sigma_m": 0.1, "surroundings": "suburban"},
        "spots": [
            {"id": "ridge", "enu_m": [0.0, 0.0, 5.0], "heights_m": [1.5]},
            {"id": "gable", "enu_m": [5.0, -3.0, 5.0], "heights_m": [2.0]},
        ],
        "limits": {"lines_checked": True, "unguyed_mast_m": 3.0},
        "views": [VIEW],
        "obstructions": [
            thing("house", "building", 30.0),
            thing("oak", "broadleaf", 20.0, depth_m=12.0),
        ],
        "outlines": [outline("house", -25, 20, -10, 3.0), outline("oak", 70, 110, -10, 12.0)],
        "stations": [
            weak("QNOR", 0.0, 20.0, 30),
            weak("QEAS", 90.0, 40.0, 24),
            weak("QVHF", 10.0, 1.0, 9),
            weak("QSOU", 180.0, 100.0, 33, must_have=True),
            weak("QNEA", 1.0, 500.0, 18),
        ],
        "antennas": [
            {
                "id": "main",
                "spot": "ridge",
                "height_m": 1.5,
                "aim_true_deg": 0.0,
                "gain_dbd": {"uhf": 8.0},
                "downlead": [
                    {"kind": "transformer"},
                    {"kind": "coax", "type": "rg59", "length_m": 30.0},
                ],
            }
        ],
    }
    return {**data, **more}


def survey(data: dict[str, Any]) -> Survey:
    """The survey of plain data, checked."""
    return validate(copy.deepcopy(data))


def rows(data: dict[str, Any], **asked: Any) -> dict[str, PathRow]:
    """Rows by station at the antenna's place, cures with them."""
    told = {"spots": ["ridge"], "heights_m": [1.5], "cures": True, **asked}
    return {row.station: row for row in assess(survey(data), **told).rows}


def edited(data: dict[str, Any], edit: Callable[[dict[str, Any]], None]) -> dict[str, Any]:
    """A changed copy."""
    changed = copy.deepcopy(data)
    edit(changed)
    return changed


def cure(row: PathRow, code: str) -> Cure:
    """The row's cure of one kind."""
    (found,) = [cure for cure in row.cures if cure.code == code]
    return found


def main_of(data: dict[str, Any]) -> dict[str, Any]:
    """The antenna of the roof."""
    return data["antennas"][0]
