"""Random surveys with known truth: how right the calibration is, and whether it knows.

Every case draws a picture, a pose about its prior, a site and things about where the survey says
they are, marks with clicks off by their sigma, and hands ``solve`` nothing but the survey. The
truth is projected by the camera models' ray-to-pixel side, which the estimator does not use, and
by the plane geometry of this file.

    python tests/calibrate/study_cases.py        writes shared/calibration_study.csv
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from pyproj import Geod

from skyview.camera import projections
from skyview.camera.pose import Camera
from skyview.camera.sweep import Swept
from skyview.constants import OPTICAL_K
from skyview.place.declination import declination
from skyview.place.elevation import horizon_dip, optical_elevation
from skyview.place.sun import sun_position
from skyview.survey.cameras import camera_of, solve
from skyview.survey.models import validate
from skyview.survey.priors import (
    K1_SIGMA,
    STITCHED_SCALE_SIGMA,
    STRETCH_SHARES,
    SWEEP_ASPECT_SIGMA,
)

EARTH = Geod(ellps="WGS84")
KINDS = ("landmark", "bearing", "sun", "shadow", "level", "plumb", "station", "tie")
PROJECTIONS = ("equirectangular", "cylindrical", "rectilinear", "fisheye")
SIZES = {
    "equirectangular": (8192, 2048),
    "cylindrical": (5200, 1450),
    "rectilinear": (4032, 3024),
    "fisheye": (4000, 4000),
}
SITE = (46.5, 11.0)
GROUND_M = 412.0
SIGMA_PX = 3.0
WITHIN = 1.959964
MOST_TRIES = 2000


class NotShownError(Exception):
    """The picture shows no such elevations."""


@dataclass(frozen=True)
class Outcome:
    """Errors and stated sigmas of one view at its test pixels. [deg]"""

    azimuth_off: np.ndarray
    elevation_off: np.ndarray
    azimuth_sigma: np.ndarray
    elevation_sigma: np.ndarray


def stated_projection(kind: str) -> dict:
    """What the survey says of the picture."""
    width, height = SIZES[kind]
    middle = [width / 2, height / 2]
    return {
        "equirectangular": {
            "kind": kind,
            "left_deg": -170,
            "right_deg": 170,
            "top_deg": 60,
            "bottom_deg": -30,
        },
        "cylindrical": {"kind": kind, "px_per_rad": 1230.0, "centre_px": middle},
        "rectilinear": {"kind": kind, "focal_px": 2900.0, "centre_px": middle},
        "fisheye": {"kind": kind, "px_per_rad": 1250.0, "centre_px": middle},
    }[kind]


def true_projection(kind: str, random: np.random.Generator) -> projections.Projection:
    """The picture's own geometry, drawn about what the survey says."""
    draw = random.standard_normal
    width, height = map(float, SIZES[kind])
    if kind == "equirectangular":
        # Not a whole turn, whose scale would be known exactly.
        left, right = np.radians([-170.0, 170.0]) * np.exp(STITCHED_SCALE_SIGMA * draw())
        scale = float(np.exp(STITCHED_SCALE_SIGMA * draw()))
        edges = float(left), float(right), np.pi / 3, -np.pi / 6
        return projections.Equirectangular((width, height), *edges, scale)
    scale = float(np.exp(0.04 * draw()))
    if kind == "rectilinear":
        middle = (width / 2, height / 2)
        return projections.Rectilinear(2900.0 * scale, middle, K1_SIGMA * draw())
    if kind == "fisheye":
        return projections.Fisheye(1250.0 * scale, (width / 2, height / 2))
    row = height / 2 + np.radians(10.0) * 1230.0 * draw()
    half = width / 1230.0 / 2.0
    stretch = [
        share * half / np.sqrt(order * (order + 1) / 2) * draw()
        for order, share in enumerate(STRETCH_SHARES, start=2)
    ]
    aspect = float(np.expm1(SWEEP_ASPECT_SIGMA * draw()))
    return Swept(1230.0 * scale, (width / 2, row), aspect, tuple(stretch), (0.0, width))


class Case:
    """One random survey in the making."""

    def __init__(self, kind: str, random: np.random.Generator, views: int = 1) -> None:
        self.random, self.kind = random, kind
        self.metres = 5.0
        self.cameras: list[Camera] = []
        self.camera_m: list[np.ndarray] = []
        # The camera stands where nobody measured it exactly, at a site off by its sigma.
        self.site_m = np.array([*(self.metres * random.standard_normal(2)), 0.0])
        self.survey: dict = {
            "format": "skyview-survey",
            "version": 1,
            "revision": 1,
            "site": {
                "latitude_deg": SITE[0],
                "longitude_deg": SITE[1],
                "position_sigma_m": self.metres,
                "ground_amsl_m": GROUND_M,
                "time_zone": "UTC",
            },
            "views": [],
            "marks": [],
            "landmarks": [],
            "stations": [],
        }
        self.moment = self._daytime()
        for number in range(views):
            self._view(number)

    def _daytime(self) -> datetime:
        """A moment in 2021 to 2029 with the sun well up."""
        while True:
            moment = datetime(2021, 1, 1, tzinfo=UTC) + timedelta(
                minutes=int(self.random.integers(8 * 365 * 1440))
            )
            if 0.2 < float(sun_position(moment, *SITE)[1]) < 1.0:
                return moment

    def _view(self, number: int) -> None:
        random, draw = self.random, self.random.standard_normal
        yaw = random.uniform(0.0, 360.0)
        if number:
            yaw = np.degrees(self.cameras[0].yaw) + random.uniform(-15.0, 15.0)
        pitch = 0.0 if self.kind in ("cylindrical", "equirectangular") else random.uniform(-3, 8)
        true = np.radians([yaw + 10.0 * draw(), pitch + 2.0 * draw(), 2.0 * draw()])
        self.cameras.append(Camera(true_projection(self.kind, random), *map(float, true)))
        stated = np.array([3.0 * number, -1.0 * number, 9.0 + 0.5 * number])
        self.camera_m.append(stated + self.site_m + 0.2 * draw(3))
        width, height = SIZES[self.kind]
        prior = {"yaw_deg": float(np.mod(yaw, 360.0)), "yaw_sigma_deg": 10, "pitch_deg": pitch}
        self.survey["views"].append(
            {
                "id": f"v{number}",
                "photo": f"photos/v{number}.jpg",
                "size_px": [width, height],
                "camera_enu_m": stated.tolist(),
                "camera_sigma_m": 0.2,
                "taken": self.moment.isoformat(),
                "projection": stated_projection(self.kind),
                "prior": prior,
            }
        )

    def pixel(self, view: int, azimuth: float, elevation: float) -> list[float] | None:
        """Where a direction shows, with the click's error; None outside the picture."""
        ray = [
            np.sin(azimuth) * np.cos(elevation),
            np.cos(azimuth) * np.cos(elevation),
            np.sin(elevation),
        ]
        x, y = (float(v) for v in self.cameras[view].pixels(np.array(ray)))
        width, height = SIZES[self.kind]
        margin = 12.0
        if not (margin < x < width - margin and margin < y < height - margin):
            return None
        click = SIGMA_PX * self.random.standard_normal(2)
        return [x + click[0], y + click[1]]

    def direction(self, view: int, low: float = -3.0, high: float = 12.0) -> tuple[float, float]:
        """A direction somewhere in the picture, elevation within limits. [rad]"""
        width, height = SIZES[self.kind]
        for _ in range(MOST_TRIES):
            x, y = self.random.uniform(0.04, 0.96, 2) * (width, height)
            azimuth, elevation = self.cameras[view].directions(x, y)
            if np.radians(low) < elevation < np.radians(high):
                return float(azimuth), float(elevation)
        raise NotShownError

    def mark(self, kind: str, view: int, points: list | None, **fields: object) -> bool:
        """Add a mark; False where the picture does not show it."""
        if points is None or any(point is None for point in points):
            return False
        number = len(self.survey["marks"])
        self.survey["marks"].append(
            {
                "id": f"m{number}",
                "view": f"v{view}",
                "kind": kind,
                "points_px": points,
                "sigma_px": SIGMA_PX,
                **fields,
            }
        )
        return True

    def add(self, kind: str, view: int = 0) -> bool:
        """Add a random mark of a kind; False where none fits into the picture."""
        try:
            return getattr(self, f"_{kind}")(view)
        except NotShownError:
            return False

    def _thing(self, view: int, sigma_m: float) -> tuple[dict, list]:
        """Something on the map: where the map puts it, and where it shows."""
        azimuth, elevation = self.direction(view)
        distance = float(np.exp(self.random.uniform(np.log(300.0), np.log(15e3))))
        eye = self.camera_m[view]
        flat = distance * np.array([np.sin(azimuth), np.cos(azimuth)])
        base = GROUND_M + eye[2]
        low, high = base - 2000.0, base + 6000.0
        for _ in range(60):
            middle = (low + high) / 2
            if float(optical_elevation(base, middle, distance)) > elevation:
                high = middle
            else:
                low = middle
        off = sigma_m * self.random.standard_normal(3)
        east, north = eye[:2] + flat + off[:2]
        heading, reach = np.degrees(np.arctan2(east, north)), np.hypot(east, north)
        longitude, latitude, _ = EARTH.fwd(SITE[1], SITE[0], heading, reach)
        place = {"latitude_deg": latitude, "longitude_deg": longitude}
        return place | {"top": low + off[2]}, [self.pixel(view, azimuth, elevation)]

    def _landmark(self, view: int) -> bool:
        thing, points = self._thing(view, 3.0)
        number = len(self.survey["landmarks"])
        top = thing.pop("top")
        height = {} if self.random.random() < 0.25 else {"top_amsl_m": top}
        if not self.mark("landmark", view, points, landmark=f"t{number}"):
            return False
        self.survey["landmarks"].append({"id": f"t{number}", "sigma_m": 3.0, **thing, **height})
        return True

    def _station(self, view: int) -> bool:
        thing, points = self._thing(view, 5.0)
        number = len(self.survey["stations"])
        if not self.mark("station", view, points, station=f"Q{number}"):
            return False
        self.survey["stations"].append(
            {"id": f"Q{number}", "antenna_amsl_m": thing.pop("top"), "rf_channel": 21, **thing}
        )
        return True

    def _bearing(self, view: int) -> bool:
        azimuth, elevation = self.direction(view)
        draw = self.random.standard_normal
        magnetic = self.random.random() < 0.5
        stated = np.degrees(azimuth)
        if magnetic:
            year = self.moment.year + self.moment.timetuple().tm_yday / 365.25
            model = declination(*SITE, GROUND_M, year)
            if not hasattr(self, "compass_deg"):
                # The declination's own error and the compass's are the same for all readings.
                self.compass_deg = model.sigma_deg * draw() + 1.0 * draw()
            stated += -model.declination_deg + self.compass_deg + 1.0 * draw()
        else:
            stated += 0.2 * draw()
        fields: dict[str, object] = {"azimuth_deg": float(np.mod(stated, 360.0))}
        fields["north"] = "magnetic" if magnetic else "true"
        if self.random.random() < 0.5:
            fields["elevation_deg"] = float(np.degrees(elevation) + 0.2 * draw())
        return self.mark("bearing", view, [self.pixel(view, azimuth, elevation)], **fields)

    def _late(self) -> datetime:
        """The true moment of the picture: its clock is off by its sigma."""
        if not hasattr(self, "clock_s"):
            self.clock_s = 20.0 * self.random.standard_normal()
        return self.moment + timedelta(seconds=self.clock_s)

    def _sun(self, view: int) -> bool:
        azimuth, elevation = (float(v) for v in sun_position(self._late(), *SITE))
        bloom = np.radians(0.15) * self.random.standard_normal(2)
        azimuth += bloom[0] / np.cos(elevation)
        return self.mark("sun", view, [self.pixel(view, azimuth, elevation + bloom[1])])

    def _shadow(self, view: int) -> bool:
        """A stick's shadow on ground below the camera that is nearly level."""
        azimuth = float(sun_position(self._late(), *SITE)[0]) + np.pi
        azimuth += np.radians(0.5) * self.random.standard_normal()
        for _ in range(30):
            look, below = self.direction(view, -70.0, -8.0)
            drop = self.random.uniform(1.5, 4.0)
            foot = drop / np.tan(-below) * np.array([np.sin(look), np.cos(look)])
            tip = foot + self.random.uniform(1.0, 3.0) * np.array(
                [np.sin(azimuth), np.cos(azimuth)]
            )
            points = [
                self.pixel(view, np.arctan2(*end), -np.arctan2(drop, np.hypot(*end)))
                for end in (foot, tip)
            ]
            if self.mark("shadow", view, points):
                return True
        return False

    def _level(self, view: int) -> bool:
        sea = self.random.random() < 0.5
        sigma = np.radians(0.05 if sea else 0.2)
        line = sigma * self.random.standard_normal()
        if sea:
            line -= float(
                horizon_dip(GROUND_M + self.survey["views"][view]["camera_enu_m"][2], OPTICAL_K)
            )
        points = []
        for _ in range(int(self.random.integers(2, 5))):
            azimuth, _ = self.direction(view)
            points.append(self.pixel(view, azimuth, line + sigma * self.random.standard_normal()))
        by = "sea" if sea else "spirit"
        return self.mark("level", view, points, level_by=by)

    def _plumb(self, view: int) -> bool:
        azimuth, _ = self.direction(view)
        low, high = np.radians([self.random.uniform(-15, -3), self.random.uniform(4, 15)])
        lean = np.radians(0.2) * self.random.standard_normal()
        # Leaning across the line of sight about its lower end.
        shift = np.tan(lean) * (np.tan(high) - np.tan(low))
        top = azimuth + np.arctan(shift)
        points = [self.pixel(view, azimuth, low), self.pixel(view, top, high)]
        return self.mark("plumb", view, points)

    def _tie(self, view: int) -> bool:
        """A thing in both views, at 10 m to 1 km."""
        azimuth, elevation = self.direction(view, -5.0, 15.0)
        distance = float(np.exp(self.random.uniform(np.log(10.0), np.log(1000.0))))
        ray = np.array([np.sin(azimuth), np.cos(azimuth), np.tan(elevation)]) * np.cos(elevation)
        thing = self.camera_m[view] + distance * ray
        other = 1 - view
        east, north, up = thing - self.camera_m[other]
        seen = self.pixel(other, np.arctan2(east, north), np.arctan2(up, np.hypot(east, north)))
        own = self.pixel(view, azimuth, elevation)
        if seen is None or own is None:
            return False
        number = len(self.survey["marks"])
        self.mark("tie", view, [own], other=f"m{number + 1}")
        return self.mark("tie", other, [seen], other=f"m{number}")

    def outcome(self) -> Outcome:
        """Solve the first view and hold it against the truth at random pixels near the marks."""
        survey = validate(self.survey)
        view = survey.views[0]
        view.calibration, _ = solve(survey, view)
        picture = camera_of(survey, view).picture
        ends = [self.direction(0, -10.0, 30.0) for _ in range(4)]
        rays = np.array(
            [[np.sin(a) * np.cos(e), np.cos(a) * np.cos(e), np.sin(e)] for a, e in ends]
        )
        x, y = self.cameras[0].pixels(rays)
        azimuth, elevation = picture.camera.directions(x, y)
        sigma = picture.direction_sigma(x, y)
        turn = np.angle(np.exp(1j * (azimuth - np.array([a for a, _ in ends]))))
        return Outcome(
            np.degrees(turn),
            np.degrees(elevation - np.array([e for _, e in ends])),
            np.degrees(sigma[0]),
            np.degrees(sigma[1]),
        )


def random_case(random: np.random.Generator, kind: str | None, projection: str | None) -> Case:
    """A survey with marks of one kind, or of any; of one projection, or of any."""
    shown = projection or PROJECTIONS[random.integers(len(PROJECTIONS))]
    tied = kind == "tie" or (kind is None and random.random() < 0.2)
    case = Case(shown, random, 2 if tied else 1)
    kinds = [k for k in KINDS if k != "tie" or tied]
    wanted = int(random.integers(1, 6))
    if tied and kind == "tie":
        # What is tied to needs something of its own: the second view has landmarks.
        for _ in range(3):
            case.add("landmark", 1)
    for _ in range(wanted):
        case.add(kind or kinds[random.integers(len(kinds))])
    return case


def outcomes(
    count: int, kind: str | None = None, projection: str | None = None, seed: int = 5
) -> Iterator[Outcome]:
    """Outcomes of random cases that have at least one mark."""
    random = np.random.default_rng(seed)
    done = 0
    while done < count:
        case = random_case(random, kind, projection)
        if not any(mark["view"] == "v0" for mark in case.survey["marks"]):
            continue
        try:
            found = case.outcome()
        except NotShownError:
            continue
        done += 1
        yield found


def honesty(found: list[Outcome]) -> dict[str, float]:
    """Share of 95 % intervals that hold the truth, and median errors. One pixel a case."""
    azimuth = np.array([abs(o.azimuth_off[0]) for o in found])
    elevation = np.array([abs(o.elevation_off[0]) for o in found])
    az_sigma = np.array([o.azimuth_sigma[0] for o in found])
    el_sigma = np.array([o.elevation_sigma[0] for o in found])
    return {
        "azimuth_share": float(np.mean(azimuth <= WITHIN * az_sigma)),
        "elevation_share": float(np.mean(elevation <= WITHIN * el_sigma)),
        "azimuth_median_deg": float(np.median(azimuth)),
        "elevation_median_deg": float(np.median(elevation)),
    }


GROUPS = [(None, None), *((k, None) for k in KINDS), *((None, p) for p in PROJECTIONS)]


def study(path: Path, count: int) -> None:
    """Write the table of all groups."""
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(["marks", "projection", "cases", *honesty([next(outcomes(1))])])
        for number, (kind, projection) in enumerate(GROUPS):
            found = list(outcomes(count, kind, projection, seed=100 + number))
            row = [f"{value:.4f}" for value in honesty(found).values()]
            table.writerow([kind or "all", projection or "all", count, *row])
            file.flush()
            print(kind or "all", projection or "all", *row, flush=True)


if __name__ == "__main__":
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    study(Path(__file__).parents[2] / "shared" / "calibration_study.csv", cases)
