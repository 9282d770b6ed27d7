"""The terrain's skyline against hills that were marked: a check of the calibration."""

from __future__ import annotations

import numpy as np

from skyview.angles import unit_from_azimuth_elevation
from skyview.mount.sight import top_elevation
from skyview.survey.cameras import ViewCamera
from skyview.survey.models import Survey
from skyview.survey.raster import ground_of
from skyview.survey.screens import ViewScreen
from skyview.survey.terrain import LEAST_REACH_M, SKYLINE_REACH_M, skyline

MARKED_SIGMA_DEG = 0.2
"""One sigma of a hill's marked edge and of what stands on its crest: our own choice."""

GROUND_SIGMA_M = 10.0
"""One sigma of a terrain file's heights against one another: common practice, no source."""

BEHIND = 1.3
"""The file must reach this many times as far as the hill, lest the crest lie outside of it."""

DOUBT_SIGMAS = 3.0
"""A hill that lies this far off is told."""

STEPS = 41


def skyline_doubts(
    survey: Survey, cameras: dict[str, ViewCamera], screens: dict[str, list[ViewScreen]]
) -> list[str]:
    """Sentences on marked hills whose edge and the terrain's skyline disagree."""
    ground = ground_of(survey)
    if ground is None:
        return []
    notes = []
    for name, views in screens.items():
        for seen in views if views[0].obstruction.kind == "hill" else ():
            ring = seen.screen.points(seen.screen.parts[0][0])
            across = ring[:, :2] - seen.camera_m[:2]
            side = np.arctan2(across[:, 0], across[:, 1])
            turned = side[0] + np.angle(np.exp(1j * (side - side[0])))
            azimuth = np.linspace(turned.min(), turned.max(), STEPS)[1:-1]
            edge = top_elevation(
                ring, seen.screen.azimuth, seen.camera_m[None, :], azimuth[None, :]
            )[0]
            reach = BEHIND * seen.distance_m if seen.is_placed else SKYLINE_REACH_M
            reach = min(max(reach, LEAST_REACH_M), SKYLINE_REACH_M)
            told, away = skyline(survey, ground, seen.camera_m, azimuth, reach)
            gap = np.degrees(edge) - told
            if not np.any(np.isfinite(gap)):
                continue
            off = float(np.nanmedian(gap))
            rays = unit_from_azimuth_elevation(azimuth, np.nan_to_num(edge))
            picture = cameras[seen.view].picture
            _, sigma = picture.direction_sigma(*picture.camera.pixels(rays))
            own = np.degrees(np.hypot(sigma, np.arctan2(GROUND_SIGMA_M, away)))
            allowed = float(np.hypot(np.nanmedian(own), MARKED_SIGMA_DEG))
            if abs(off) > DOUBT_SIGMAS * allowed:
                notes.append(
                    f"hill {name} stands {abs(off):.1f} degrees {'above' if off > 0 else 'below'} "
                    f"the terrain's skyline in view {seen.view}, {abs(off) / allowed:.0f} sigmas: "
                    "check the calibration, the camera's height or the outline"
                )
    return notes
