"""Random surveys: houses and crowns all round one picture, stations behind them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from survey_scene import CAMERA, SITE, SIZE, pixel, station
from whole_circle import WHOLE_CIRCLE

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.place.channels import centre_mhz
from skyview.survey.arrivals import Arrivals, arrivals_of
from skyview.survey.cameras import ViewCamera, camera_of
from skyview.survey.losses import Hindrance, hindrances
from skyview.survey.models import Survey, validate
from skyview.survey.screens import ViewScreen, screens_of

CHANNELS = (2, 4, 7, 9, 12, *range(14, 36))


def random_survey(
    seed: int,
    stations: int,
    things: int,
    aside_deg: float = 170.0,
    spots: int = 1,
    heights_m: tuple[float, ...] = (1.5,),
) -> Survey:
    """Things and stations within ``aside_deg`` of north; the first spot is below the camera."""
    draw = np.random.default_rng([41, seed])
    obstructions, outlines = [], []
    for k in range(things):
        kind = "broadleaf" if draw.random() < 0.5 else "building"
        obstruction, ring = _thing(draw, kind, aside_deg)
        obstructions.append({"id": f"thing{k}", **obstruction})
        outlines.append(
            {
                "id": f"o{k}",
                "obstruction": f"thing{k}",
                "view": "round",
                "rings_px": [ring],
                "reaches_ground": bool(kind == "building" or draw.random() < 0.5),
            }
        )
    return validate(
        {
            "format": "skyview-survey",
            "version": 1,
            "revision": 1,
            "site": {**SITE, "position_sigma_m": 3.0},
            "spots": [
                {"id": f"p{n}", "enu_m": [1.3 * n, n % 3, 5.0], "heights_m": list(heights_m)}
                for n in range(spots)
            ],
            "views": [
                {
                    "id": "round",
                    "photo": "photos/round.jpg",
                    "size_px": list(SIZE),
                    "camera_enu_m": list(CAMERA),
                    "projection": WHOLE_CIRCLE,
                    "prior": {
                        "yaw_deg": 0,
                        "yaw_sigma_deg": float(draw.choice([0.1, 0.5, 1.5])),
                        "pitch_sigma_deg": 0.3,
                        "roll_sigma_deg": 0.3,
                    },
                }
            ],
            "obstructions": obstructions,
            "outlines": outlines,
            "stations": [
                station(
                    f"S{n}",
                    float(draw.uniform(-aside_deg, aside_deg)),
                    float(draw.uniform(15.0, 90.0)),
                    rf_channel=int(draw.choice(CHANNELS)),
                )
                for n in range(stations)
            ],
        }
    )


def _thing(
    draw: np.random.Generator, kind: str, aside_deg: float
) -> tuple[dict[str, Any], list[list[float]]]:
    """One thing and its outline's ring in pixels."""
    middle, width = draw.uniform(-aside_deg, aside_deg), draw.uniform(2.0, 25.0)
    across = np.linspace(-0.5, 0.5, int(draw.integers(4, 30)))
    top = draw.uniform(0.0, 14.0)
    if kind == "building":
        edge = np.full(across.size, top) + draw.normal(0.0, 0.6, across.size)
    else:
        edge = top * np.sqrt(1.0 - 4.0 * across**2) - 1.0 + draw.normal(0.0, 0.2, across.size)
    left = pixel(middle - width / 2.0, 0.0)[0]
    ring = [
        [left + 10.0 * width * (x + 0.5), (60.0 - y) * 10.0]
        for x, y in zip(across, edge, strict=True)
    ]
    ring += [[left + 10.0 * width, 680.0], [left, 680.0]]
    distance = float(np.exp(draw.uniform(np.log(12.0), np.log(300.0))))
    thing = {"kind": kind, "distance_m": distance, "distance_from": "round"}
    if draw.random() < 0.5:
        thing["distance_sigma_m"] = 0.08 * distance
    return thing, ring


class Met(NamedTuple):
    """A survey's paths with what stands before them."""

    survey: Survey
    antenna_m: Array
    cameras: dict[str, ViewCamera]
    screens: dict[str, list[ViewScreen]]
    frequency_mhz: Array
    wavelength_m: Array
    arrivals: Arrivals
    met: Hindrance

    def exact_db(self) -> Array:
        """The exact joint loss of every path. (A, S)"""
        rows, columns = self.arrivals.azimuth.shape
        return np.array(
            [
                [
                    self.met.at(
                        a, s, self.wavelength_m[s], self.arrivals.distance_m[a, s], shares=False
                    ).loss_db
                    for s in range(columns)
                ]
                for a in range(rows)
            ]
        )


def meet(survey: Survey, leaf: str = "in") -> Met:
    """All spots and heights of a survey."""
    antenna = np.array(
        [
            np.array(spot.enu_m) + np.array([0.0, 0.0, height])
            for spot in survey.spots
            for height in spot.heights_m
        ]
    )
    cameras = {view.id: camera_of(survey, view) for view in survey.views}
    screens, _ = screens_of(survey, cameras)
    channels = np.array([s.rf_channel for s in survey.stations])
    frequency = np.asarray(centre_mhz(survey.site.channel_plan, channels), float)
    arrivals = arrivals_of(survey, list(survey.stations), antenna, screens)
    met = hindrances(antenna, arrivals, frequency, screens, cameras, leaf)
    wave = np.asarray(wavelength_m(frequency))
    return Met(survey, antenna, cameras, screens, frequency, wave, arrivals, met)
