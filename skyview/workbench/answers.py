"""What every station's path meets, for the page: rows with their place in the picture.

One assessment serves paths, silhouettes, reasons and the loss layer of the same position; the
latest few are kept for as long as nothing changes that they rest on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.report.reception_words import chances, margin_cell, reception_word
from skyview.report.records import path_record
from skyview.report.words import loss, path_word
from skyview.survey.assess import Assessment, assess_scene
from skyview.survey.cameras import ViewCamera
from skyview.survey.models import Station, Survey
from skyview.survey.plates import best_view
from skyview.survey.results import PathRow
from skyview.survey.scene import Leaf, Scene, scene_of
from skyview.survey.why import position_of
from skyview.workbench.basis import answer_basis, scene_basis
from skyview.workbench.drawn import Places, known, places_of, silhouettes_message
from skyview.workbench.jobs import Jobs
from skyview.workbench.once import Once

KEPT = 12
"""So many positions are remembered."""
_RECEPTION_ORDER = ("sure", "likely", "doubtful", "no", "unknown")


@dataclass(frozen=True)
class Position:
    """Where an antenna stands, and what it meets there."""

    spot: str
    height_m: float
    leaf: Leaf
    antenna_m: Array
    """(3,) east, north, up."""
    rows: tuple[PathRow, ...]
    found: Assessment


class Answers:
    """Assessments of the survey on the desk; while one is worked out, other work rests."""

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        self._scenes: Once[Scene] = Once(KEPT)
        self._kept: Once[Assessment] = Once(KEPT)

    def assessed(self, survey: Survey, spot: str, height_m: float, leaf: Leaf) -> Assessment:
        """One spot and height, from memory where it was asked for before."""
        key = (answer_basis(survey), spot, height_m, leaf)
        return self._kept.get(key, lambda: assess_scene(self.scene(survey, spot, height_m, leaf)))

    def scene(self, survey: Survey, spot: str, height_m: float, leaf: Leaf) -> Scene:
        """What arrives at one spot and height: kept when an antenna is turned or exchanged."""

        def make() -> Scene:
            with self._jobs.asked():
                return scene_of(survey, spots=[spot], heights_m=[height_m], leaf=leaf)

        key = (scene_basis(survey), spot, height_m, leaf)
        return replace(self._scenes.get(key, make), survey=survey)

    def position(
        self, survey: Survey, spot: str | None, height_m: float | None, leaf: Leaf
    ) -> Position:
        """The spot and height that are meant, as `skyview.survey.why.position_of` has it.

        InputError for an unknown spot.
        """
        name, height_m = chosen_place(survey, spot, height_m)
        found = self.assessed(survey, name, height_m, leaf)
        antenna_m = antenna_at(survey, name, height_m)
        return Position(name, height_m, leaf, antenna_m, found.rows, found)

    def paths(self, survey: Survey, position: Position, view: str | None) -> dict[str, Any]:
        """Every station from one position, and the silhouettes, in one view's pixels."""
        camera = camera_for(survey, position, view)
        places, silhouettes = None, []
        if camera is not None:
            antennas = np.repeat(position.antenna_m[None, :], len(position.rows), axis=0)
            places = places_of(position.rows, position.found, camera, antennas)
            silhouettes = silhouettes_message(survey, position.found, camera, position.antenna_m)
        stations = {station.id: station for station in survey.stations}
        rows = [
            row_message(row, stations[row.station], places, index)
            for index, row in enumerate(position.rows)
        ]
        return {
            "format": "skyview.paths",
            "version": 1,
            "revision": survey.revision,
            "spot": position.spot,
            "height_m": position.height_m,
            "leaf": position.leaf,
            "view": None if camera is None else camera.view.id,
            "warnings": list(position.found.warnings),
            "rows": sorted(rows, key=importance),
            "silhouettes": silhouettes,
        }


def chosen_spot(survey: Survey, spot: str | None) -> Any:
    """The spot of this id, or the first. InputError if there is none."""
    if not survey.spots:
        raise InputError(
            "there is no spot for an antenna yet", None, "spots", "say where it may stand"
        )
    if spot is None:
        return survey.spots[0]
    chosen = next((s for s in survey.spots if s.id == spot), None)
    if chosen is None:
        raise InputError(f"no spot is called {spot}", None, "spot", "choose another")
    return chosen


def chosen_place(survey: Survey, spot: str | None, height_m: float | None) -> tuple[str, float]:
    """Spot and height, as `skyview.survey.why.position_of` has it; InputError as above."""
    chosen_spot(survey, spot)
    return position_of(survey, spot, height_m)


def antenna_at(survey: Survey, spot: str, height_m: float) -> Array:
    """East, north, up (3,) of an antenna above a spot. [m]"""
    foot_m = np.array(chosen_spot(survey, spot).enu_m, float)
    result: Array = foot_m + np.array([0.0, 0.0, height_m])
    return result


def camera_for(survey: Survey, position: Position, view: str | None) -> ViewCamera | None:
    """The camera of the view asked for, or of the best; None for a survey without views."""
    if not survey.views and view is None:
        return None
    chosen = best_view(survey, view, position.found, position.rows, position.antenna_m)
    return position.found.cameras[chosen.id]


def row_message(
    row: PathRow, station: Station, places: Places | None, index: int
) -> dict[str, Any]:
    """One row as the page gets it: the result's own fields, its words, its place in pixels."""
    told = path_record(row)
    place, zone = None, None
    if places is not None:
        place, zone = _place(places, index), _zone(row, places, index)
    chance = row.reception_probability
    return {
        **told,
        "word": path_word(row.path),
        "loss_text": loss(row),
        "reception_word": reception_word(row.reception),
        "margin_text": margin_cell(row.margin_db),
        "chances": None if chance is None else chances(chance),
        "name": station.name,
        "virtual_channel": station.virtual_channel,
        "must_have": station.must_have,
        "role": station.role,
        "place": place,
        "fresnel": zone,
    }


def _place(places: Places, index: int) -> dict[str, Any]:
    inside = bool(places.inside[index])
    return {
        "x_px": known(places.x_px[index]),
        "y_px": known(places.y_px[index]),
        "inside": inside,
        "side": None if inside else ("left" if places.on_left[index] else "right"),
        "sigma_x_px": known(places.sigma_x_px[index]),
        "sigma_y_px": known(places.sigma_y_px[index]),
    }


def _zone(row: PathRow, places: Places, index: int) -> dict[str, Any] | None:
    if row.obstruction is None or not np.isfinite(places.rx_px[index] + places.ry_px[index]):
        return None
    return {
        "x_px": known(places.x_px[index]),
        "y_px": known(places.y_px[index]),
        "rx_px": known(places.rx_px[index]),
        "ry_px": known(places.ry_px[index]),
        "radius_m": known(places.radius_m[index], 3),
        "obstruction": row.obstruction,
        "distance_m": known(places.distance_m[index], 2),
    }


def importance(row: dict[str, Any]) -> tuple[Any, ...]:
    """The order of the table: what the customer insists on, then what comes in best."""
    probability = row["reception_probability"]
    return (
        row["role"] == "interferer",
        not row["must_have"],
        _RECEPTION_ORDER.index(row["reception"]),
        -(probability if probability is not None else 0.0),
        row["obstruction_loss_db"],
        row["station"],
    )
