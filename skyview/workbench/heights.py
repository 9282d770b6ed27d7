"""Everything by height, worked out ahead of the hand that lifts the mast.

One table a spot, season and view: heights down, stations across. It is filled a few heights at a
time, those next to the mast as it stands first, so that the page can begin with a part of it.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.report.mount_words import refusal_sentence
from skyview.survey.assess import Assessment, assess
from skyview.survey.models import Survey
from skyview.survey.mounts import refused_at
from skyview.survey.plates import best_view
from skyview.survey.results import PathRow
from skyview.survey.scene import Leaf
from skyview.workbench.answers import chosen_spot
from skyview.workbench.basis import heard_basis
from skyview.workbench.drawn import (
    Places,
    distance_m,
    family_of,
    known,
    places_of,
    ring_pixels,
    shapes_of,
)
from skyview.workbench.jobs import Report

MOST_HEIGHTS = 161
TOP_M = 30.0
LEAST_STEP_M = 0.05
_AT_ONCE = (1, 2, 4)
"""So many heights together: the first at once, later ones more cheaply; the last figure stays.
More would be cheaper still, but whoever asks meanwhile waits for them."""

_PLAIN = (
    "path",
    "obstruction_loss_db",
    "loss_at_least",
    "clearance_deg",
    "clearance_m",
    "clearance_fresnel_radii",
    "obstruction",
    "unseen_behind",
    "beyond_horizon",
    "arrival_elevation_deg",
    "reception",
    "reception_probability",
)
"""Fields of a row that become a table of their own name."""

_DIGITS = {
    "obstruction_loss_db": 2,
    "clearance_deg": 3,
    "clearance_m": 3,
    "clearance_fresnel_radii": 3,
    "arrival_elevation_deg": 3,
    "reception_probability": 3,
}

_DRAWN = ("x_px", "y_px")
_ZONE = ("rx_px", "ry_px", "radius_m")


@dataclass(frozen=True)
class Question:
    """Which table is wanted."""

    basis: str
    spot: str
    leaf: Leaf
    view: str | None
    heights_m: tuple[float, ...]
    near_m: float = field(compare=False)


def question(
    survey: Survey,
    spot: str | None,
    leaf: Leaf,
    view: str | None,
    top_m: float,
    step_m: float,
    near_m: float | None,
) -> Question:
    """The table's heights, from 0 to the top. InputError for too many of them."""
    chosen = chosen_spot(survey, spot)
    if view is not None and all(v.id != view for v in survey.views):
        raise InputError(f"no view is called {view}", None, "view", "choose another")
    count = int(np.floor(top_m / step_m + 1e-9)) + 1
    if count > MOST_HEIGHTS:
        raise InputError(
            f"that would be {count} heights",
            None,
            "step_m",
            f"take a longer step: {MOST_HEIGHTS} heights at most",
        )
    heights = tuple(round(float(step_m * n), 4) for n in range(count))
    near = max([0.0, *chosen.heights_m]) if near_m is None else near_m
    return Question(heard_basis(survey), chosen.id, leaf, view, heights, near)


class HeightTable:
    """One table, filled by a job and read by the page meanwhile."""

    def __init__(self, survey: Survey, wanted: Question) -> None:
        self.wanted = wanted
        self._survey = survey
        self._lock = threading.Lock()
        self._rows: dict[int, tuple[tuple[PathRow, ...], Places | None]] = {}
        self._silhouettes: list[dict[str, Any]] | None = None
        self._view: str | None = wanted.view
        spot = next(s for s in survey.spots if s.id == wanted.spot)
        self._foot_m = np.array(spot.enu_m, float)

    def __call__(self, report: Report) -> None:
        """Work it out, a few heights at a time."""
        heights = self.wanted.heights_m
        order = sorted(range(len(heights)), key=lambda n: abs(heights[n] - self.wanted.near_m))
        done, turn = 0, 0
        while done < len(order):
            part = order[done : done + _AT_ONCE[min(turn, len(_AT_ONCE) - 1)]]
            indices = sorted(part)
            found = assess(
                self._survey,
                spots=[self.wanted.spot],
                heights_m=[heights[n] for n in indices],
                leaf=self.wanted.leaf,
            )
            self._take(indices, found)
            done, turn = done + len(part), turn + 1
            report(done / len(heights))

    def antenna_m(self, indices: list[int]) -> Array:
        """Places (N, 3) of the antenna at some of the heights."""
        up = np.array([self.wanted.heights_m[n] for n in indices])
        result: Array = self._foot_m + up[:, None] * np.array([0.0, 0.0, 1.0])
        return result

    def _refused(self, survey: Survey) -> list[str | None]:
        """Why no antenna may stand at each height, as ``spots`` says it; nothing before somebody
        looked for power lines."""
        heights = self.wanted.heights_m
        if not survey.limits.lines_checked:
            return [None] * len(heights)
        places = [(self.wanted.spot, height) for height in heights]
        found = refused_at(survey, places, self.antenna_m(list(range(len(heights)))))
        return [refusal_sentence(one) if one else None for one in found]

    def _take(self, indices: list[int], found: Assessment) -> None:
        antennas = self.antenna_m(indices)
        count = len(found.rows) // len(indices)
        places: list[Places | None] = [None] * len(indices)
        parts = [found.rows[n * count : (n + 1) * count] for n in range(len(indices))]
        if self._survey.views:
            if self._view is None:
                view = best_view(self._survey, None, found, parts[0], antennas[0])
                self._view = view.id
            camera = found.cameras[self._view]
            places = [
                places_of(rows, found, camera, np.repeat(antenna[None], count, axis=0))
                for rows, antenna in zip(parts, antennas, strict=True)
            ]
            if self._silhouettes is None:
                self._silhouettes = self._shapes(found)
        with self._lock:
            for number, rows, place in zip(indices, parts, places, strict=True):
                self._rows[number] = (rows, place)

    def _shapes(self, found: Assessment) -> list[dict[str, Any]]:
        """Silhouettes at every height: one assessment's outlines serve them all."""
        assert self._view is not None
        camera = found.cameras[self._view]
        antennas = self.antenna_m(list(range(len(self.wanted.heights_m))))
        middle = antennas[len(antennas) // 2]
        told = []
        for shape in shapes_of(self._survey, found, antennas):
            rings = [ring_pixels(camera, ring, antennas) for ring in shape.rings_m]
            if not any(np.isfinite(ring).any() for ring in rings):
                continue
            x, y = ([_table(ring[..., axis]) for ring in rings] for axis in (0, 1))
            away, heights = distance_m(shape, middle), range(len(antennas))
            told.append(
                {
                    "obstruction": shape.obstruction,
                    "kind": shape.kind,
                    "family": family_of(shape.kind),
                    "distance_m": None if away is None else round(away, 2),
                    "first": shape.first,
                    "last": shape.last,
                    "rings": len(rings),
                    "x_px": [[ring[h] for ring in x] for h in heights],
                    "y_px": [[ring[h] for ring in y] for h in heights],
                }
            )
        return told

    def message(self, survey: Survey, state: str, job: str, share: float) -> dict[str, Any]:
        """The table as far as it is filled, for the survey as it is now."""
        with self._lock:
            rows = dict(self._rows)
            silhouettes = self._silhouettes or []
        count = len(self.wanted.heights_m)
        stations = [row.station for row in next(iter(rows.values()))[0]] if rows else []
        empty = [None] * len(stations)

        def table(of: Any) -> list[list[Any]]:
            return [of(*rows[n]) if n in rows else empty for n in range(count)]

        told = {
            "format": "skyview.heights",
            "version": 1,
            "revision": survey.revision,
            "spot": self.wanted.spot,
            "leaf": self.wanted.leaf,
            "view": self._view,
            "state": state,
            "job": job,
            "share": round(share, 3),
            "heights_m": list(self.wanted.heights_m),
            "ready": [n in rows for n in range(count)],
            "refused": self._refused(survey),
            "unguyed_mast_m": survey.limits.unguyed_mast_m,
            "stations": stations,
            "obstructions": [thing.id for thing in self._survey.obstructions],
            "silhouettes": silhouettes,
            "changes": _changes(self.wanted.heights_m, rows),
        }
        for name in _PLAIN:
            told[name] = table(lambda r, _p, name=name: [_cell(row, name) for row in r])
        for name in ("p10", "p50", "p90"):
            told[f"margin_{name}_db"] = table(
                lambda r, _p, name=name: [_margin_db(row, name) for row in r]
            )
        for name in _DRAWN:
            told[name] = table(lambda r, p, name=name: _column(r, p, name, 1))
        told["fresnel"] = {
            name: table(lambda r, p, name=name: _column(r, p, name, 3)) for name in _ZONE
        }
        return told


def _table(values: Array) -> list[list[float | None]]:
    rounded = np.round(values, 1)
    if np.isfinite(rounded).all():
        return [list(row) for row in rounded.tolist()]
    plain = rounded.astype(object)
    plain[~np.isfinite(rounded)] = None
    return [list(row) for row in plain.tolist()]


def _cell(row: PathRow, name: str) -> Any:
    value = getattr(row, name)
    digits = _DIGITS.get(name)
    return value if digits is None or value is None else round(value, digits)


def _margin_db(row: PathRow, name: str) -> float | None:
    margin = row.margin_db
    return None if margin is None else round(float(getattr(margin, name)), 2)


def _column(rows: tuple[PathRow, ...], places: Places | None, name: str, digits: int) -> list[Any]:
    if places is None:
        return [None] * len(rows)
    return [known(value, digits) for value in getattr(places, name)]


def _changes(
    heights_m: tuple[float, ...], rows: dict[int, tuple[tuple[PathRow, ...], Places | None]]
) -> list[dict[str, Any]]:
    """Where the word of a station changes on the way up, between neighbours that are ready."""
    told = []
    for number in range(1, len(heights_m)):
        if number in rows and number - 1 in rows:
            below, here = rows[number - 1][0], rows[number][0]
            told += [
                {
                    "height_m": heights_m[number],
                    "station": after.station,
                    "from": before.path,
                    "to": after.path,
                }
                for before, after in zip(below, here, strict=True)
                if before.path != after.path
            ]
    return told
