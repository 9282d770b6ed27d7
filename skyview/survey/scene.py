"""All that is known before an antenna is chosen: directions, what stands in front, fields.

Arrays run over antenna positions (A), stations (S) and random draws (D).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.place.channels import centre_mhz, channels_of
from skyview.survey.arrivals import Arrivals, arrivals_of
from skyview.survey.budget.chance import DRAWS, SEED, normal, uniform
from skyview.survey.budget.draws import SETS, loss_draws
from skyview.survey.budget.field import roof_field
from skyview.survey.budget.listen import Air, air_of
from skyview.survey.budget.parts import Bools, LossDraws, RoofField
from skyview.survey.budget.signals import Signals, signals_of
from skyview.survey.cameras import ViewCamera, camera_of
from skyview.survey.known import known_item
from skyview.survey.losses import Answer, Hindrance, hindrances
from skyview.survey.models import Station, Survey
from skyview.survey.screens import ViewScreen, screens_of
from skyview.survey.terrain import terrain_of
from skyview.survey.threads import in_threads

Leaf = Literal["in", "out"]

LOST = np.radians(45.0)
"""A view whose azimuth is no better than this shows no direction at all: our own choice."""

USUAL_HEIGHT_M = 3.0
"""Height of an antenna above a spot that names none: common practice, no source; always said."""

OVER_FREE_SPACE_DB = 6.0
"""No draw of a field exceeds free space by more: two waves of one strength in step."""


@dataclass(frozen=True)
class Scene:
    """A survey's stations at some antenna positions."""

    survey: Survey
    leaf: Leaf
    stations: tuple[Station, ...]
    """All of the survey: any of them may disturb another. (S,)"""
    places: tuple[tuple[str, float], ...]
    """Id of the spot and height above it of each position. (A,) [m]"""
    antenna_m: Array
    """East, north, up of each position. (A, 3) [m]"""
    cameras: dict[str, ViewCamera]
    screens: dict[str, list[ViewScreen]]
    signals: Signals
    arrivals: Arrivals
    met: Hindrance
    answers: tuple[tuple[Answer, ...], ...]
    """By position and station; none where they were not asked for."""
    seen: dict[str, Bools]
    """By view: whether it covers the arrival. (A, S)"""
    unseen_behind: Bools
    """An outline hid the direction from the camera and the antenna clears it. (A, S)"""
    field: RoofField
    losses: LossDraws
    warnings: tuple[str, ...]

    @property
    def photographed(self) -> Bools:
        """Whether any view covers the arrival. (A, S)"""
        covers = list(self.seen.values())
        return np.any(covers, axis=0) if covers else np.zeros(self.arrivals.azimuth.shape, bool)


def scene_of(
    survey: Survey,
    *,
    spots: Sequence[str] | None = None,
    heights_m: Sequence[float] | None = None,
    leaf: Leaf = "in",
    draws: int = DRAWS,
) -> Scene:
    """A survey's scene at some of its spots and heights, all of them if not told.

    Raises InputError where nothing can be said: no spot, no station, an unknown id.
    """
    places, antenna_m = places_of(survey, spots, heights_m)
    return scene_at(survey, places, antenna_m, leaf=leaf, draws=draws)


def scene_at(
    survey: Survey,
    places: Sequence[tuple[str, float]],
    antenna_m: Array,
    *,
    leaf: Leaf = "in",
    draws: int = DRAWS,
    quick_sets: int | None = None,
    answered: bool = False,
) -> Scene:
    """The scene at positions (A, 3) east, north, up; ``places`` names their spots and heights.

    With ``quick_sets`` the losses are drawn in so many sets without the exact loss of the middle,
    and there are no answers unless ``answered`` asks for them: a fraction of the time where only
    margins are wanted.
    """
    cameras = {view.id: camera_of(survey, view) for view in survey.views}
    notes = [note for camera in cameras.values() for note in camera.warnings]
    screens, more = screens_of(survey, cameras)
    stations = _stations(survey)
    frequency = _frequencies(survey.site.channel_plan, stations)
    terrain = terrain_of(survey, stations)
    arrivals = arrivals_of(survey, stations, antenna_m, screens, terrain)
    seen = _seen(cameras, arrivals)
    met = hindrances(antenna_m, arrivals, frequency, screens, cameras, leaf)
    answers: tuple[tuple[Answer, ...], ...] = ()
    if quick_sets is None or answered:
        answers = _answers(met, arrivals, wavelength_m(frequency))
    covers = list(seen.values())
    anywhere = np.any(covers, axis=0) if covers else np.zeros(arrivals.azimuth.shape, bool)
    behind = met.unseen_behind(seen)
    field = roof_field(survey, stations, antenna_m, arrivals, frequency, anywhere, terrain)
    exact, error = None, None
    if quick_sets is None:
        exact = np.array([[answer.loss_db for answer in row] for row in answers])
        error = np.array([[answer.error_db for answer in row] for row in answers])
    losses = loss_draws(
        survey,
        met,
        arrivals,
        antenna_m,
        cameras,
        screens,
        frequency,
        leaf,
        behind,
        exact,
        count=draws,
        seed=SEED,
        sets=quick_sets or SETS,
        joint_error_db=error,
    )
    return Scene(
        survey=survey,
        leaf=leaf,
        stations=tuple(stations),
        places=tuple(places),
        antenna_m=antenna_m,
        cameras=cameras,
        screens=screens,
        signals=signals_of(survey.site.channel_plan, stations, frequency),
        arrivals=arrivals,
        met=met,
        answers=answers,
        seen=seen,
        unseen_behind=behind,
        field=field,
        losses=losses,
        warnings=tuple(
            dict.fromkeys([*notes, *more, *(terrain.notes if terrain else ()), *field.warnings])
        ),
    )


def joint_db(scene: Scene, met: Hindrance, a: int, s: int) -> float:
    """The joint loss of one path of a scene with other things in its way, on wider grids. [dB]"""
    wave = float(wavelength_m(scene.signals.frequency_mhz[s]))
    return met.at(a, s, wave, float(scene.arrivals.distance_m[a, s]), shares=False).loss_db


def air_in(scene: Scene) -> Air:
    """The waves at the scene's positions, drawn within everything that is not known of them."""
    count = len(scene.losses.loss_db)
    names, field = scene.signals.ids, scene.field
    common = field.site_sigma_db * normal("site", [""], count)
    own = field.station_sigma_db * normal("station", names, count)
    off = np.where(field.measured, own, common + own)[:, None, :]
    ceiling = field.free_space_dbuv_m + OVER_FREE_SPACE_DB
    return air_of(
        scene.signals,
        scene.arrivals.azimuth,
        np.minimum(field.wanted_dbuv_m + off, ceiling),
        np.minimum(field.unwanted_dbuv_m + off, ceiling),
        scene.losses.loss_db,
        2.0 * np.pi * uniform("phase", names, count),
    )


def places_of(
    survey: Survey, wanted: Sequence[str] | None, heights_m: Sequence[float] | None
) -> tuple[list[tuple[str, float]], Array]:
    """Spot, height and east north up of every antenna position asked for."""
    if not survey.spots:
        raise InputError(
            "the survey has no spot for an antenna",
            field="spots",
            mend="add one with: skyview set SURVEY --add spots "
            '\'{"id": "ridge", "enu_m": [0, 0, 6], "heights_m": [1.5, 3]}\'',
        )
    places, points = [], []
    chosen = [known_item(survey.spots, name, "spot") for name in wanted or ()]
    for spot in chosen or survey.spots:
        own = sorted(
            {a.height_m for a in survey.antennas if a.spot == spot.id and a.height_m is not None}
        )
        for height in heights_m or sorted({*spot.heights_m, *own}) or [USUAL_HEIGHT_M]:
            places.append((spot.id, float(height)))
            points.append(np.array(spot.enu_m, float) + np.array([0.0, 0.0, height]))
    return places, np.array(points)


def _stations(survey: Survey) -> list[Station]:
    if not survey.stations:
        raise InputError(
            "the survey has no stations",
            field="stations",
            mend="read a list with: skyview stations",
        )
    return list(survey.stations)


def _frequencies(plan: str, chosen: list[Station]) -> Array:
    """Centre frequency of each station; InputError names the station whose channel is none."""
    try:
        return np.asarray(centre_mhz(plan, np.array([s.rf_channel for s in chosen])), float)
    except InputError as error:
        known = channels_of(plan)
        wrong = next(s for s in chosen if s.rf_channel not in known)
        field = f"stations.{wrong.id}.rf_channel"
        raise InputError(error.message, None, field, error.mend) from error


def _seen(cameras: dict[str, ViewCamera], arrivals: Arrivals) -> dict[str, Bools]:
    """Whether each view covers each arrival, (A, S) by view: a view that does not know where it
    looks shows nothing."""
    rays = unit_from_azimuth_elevation(arrivals.azimuth, arrivals.arrival)
    nothing = np.zeros(rays.shape[:-1], bool)
    return {
        name: np.asarray(camera.covers(rays), bool) if camera.azimuth_sigma < LOST else nothing
        for name, camera in cameras.items()
    }


def _answers(met: Hindrance, arrivals: Arrivals, wave_m: Array) -> tuple[tuple[Answer, ...], ...]:
    """The joint loss of every path; only those with several things in front take long."""
    found = np.empty(arrivals.azimuth.shape, object)

    def work(paths: list[tuple[int, ...]]) -> None:
        for a, s in paths:
            found[a, s] = met.at(a, s, wave_m[s], arrivals.distance_m[a, s])

    in_threads(work, list(np.ndindex(found.shape)))
    return tuple(tuple(row) for row in found)
