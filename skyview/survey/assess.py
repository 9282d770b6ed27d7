"""The whole chain: a survey in, an answer for every spot, height and station out.

Photographs give directions, outlines become upright screens in site metres, and every angle is
taken at the antenna. Here, and only here, geometry meets losses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from skyview.angles import Array, unit_from_azimuth_elevation, wrap_360_deg
from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.place.channels import centre_mhz, channels_of, probably_virtual
from skyview.place.declination import Declination
from skyview.survey.arrivals import Arrivals, arrivals_of
from skyview.survey.cameras import ViewCamera, camera_of, declination_of
from skyview.survey.losses import Hindrance, hindrances, path_word
from skyview.survey.models import Station, Survey
from skyview.survey.places import doubtful_places
from skyview.survey.results import PathRow
from skyview.survey.screens import ViewScreen, screens_of

Leaf = Literal["in", "out"]

ROUGH = np.radians(3.0)
"""A view whose azimuth is no better than this is said to be rough: our own choice."""

LOST = np.radians(45.0)
"""A view whose azimuth is no better than this shows no direction at all: our own choice."""

USUAL_HEIGHT_M = 3.0
"""Height of an antenna above a spot that names none: common practice, no source; always said."""


@dataclass(frozen=True)
class Assessment:
    """What the survey's stations meet."""

    rows: tuple[PathRow, ...]
    """One row for each spot, height and station, in that order."""
    declination: Declination
    """Declination at the site."""
    cameras: dict[str, ViewCamera]
    """The views' cameras by id."""
    screens: dict[str, list[ViewScreen]]
    """The obstructions' screens by id."""
    warnings: tuple[str, ...]
    """Plain sentences: what was assumed, what is missing."""


def assess(
    survey: Survey,
    *,
    spots: Sequence[str] | None = None,
    heights_m: Sequence[float] | None = None,
    stations: Sequence[str] | None = None,
    leaf: Leaf = "in",
) -> Assessment:
    """Every path of a survey, or of some of its spots, heights and stations.

    Raises InputError where nothing can be said: no spot, no station, an unknown id.
    """
    cameras = {view.id: camera_of(survey, view) for view in survey.views}
    notes = [note for camera in cameras.values() for note in camera.warnings]
    screens, more = screens_of(survey, cameras)
    chosen = _chosen_stations(survey, stations)
    places = _antenna_places(survey, spots, heights_m)
    antenna_m = np.array([place for _, _, place in places], float)
    frequency = _frequencies(survey.site.channel_plan, chosen)
    arrivals = arrivals_of(survey, chosen, antenna_m, screens)
    seen = _seen(cameras, arrivals)
    met = hindrances(antenna_m, arrivals, frequency, screens, cameras, leaf)
    magnetic = declination_of(survey)
    notes += more + _general_notes(survey, magnetic, cameras)
    rows = _rows(survey, chosen, places, arrivals, frequency, met, seen, cameras, magnetic)
    return Assessment(rows, magnetic, cameras, screens, tuple(dict.fromkeys(notes)))


def _chosen_stations(survey: Survey, wanted: Sequence[str] | None) -> list[Station]:
    if not survey.stations:
        raise InputError(
            "the survey has no stations",
            field="stations",
            mend="read a list with: skyview stations",
        )
    if wanted is None:
        return list(survey.stations)
    known = {s.id: s for s in survey.stations}
    missing = [name for name in wanted if name not in known]
    if missing:
        raise InputError(
            f"no station is called {missing[0]}",
            field="stations",
            mend=f"known: {', '.join(known)}",
        )
    return [known[name] for name in wanted]


def _frequencies(plan: str, chosen: list[Station]) -> Array:
    """Centre frequency of each station; InputError names the station whose channel is none."""
    try:
        return np.asarray(centre_mhz(plan, np.array([s.rf_channel for s in chosen])), float)
    except InputError as error:
        known = channels_of(plan)
        wrong = next(s for s in chosen if s.rf_channel not in known)
        field = f"stations.{wrong.id}.rf_channel"
        raise InputError(error.message, None, field, error.mend) from error


def _antenna_places(
    survey: Survey, wanted: Sequence[str] | None, heights_m: Sequence[float] | None
) -> list[tuple[str, float, Array]]:
    """Spot id, height and east north up of every antenna position."""
    if not survey.spots:
        raise InputError(
            "the survey has no spot for an antenna",
            field="spots",
            mend="add one with: skyview set SURVEY --add spots "
            '\'{"id": "ridge", "enu_m": [0, 0, 6], "heights_m": [1.5, 3]}\'',
        )
    known = {spot.id: spot for spot in survey.spots}
    missing = [name for name in wanted or () if name not in known]
    if missing:
        raise InputError(
            f"no spot is called {missing[0]}", field="spots", mend=f"known: {', '.join(known)}"
        )
    places = []
    for spot in [known[name] for name in wanted] if wanted else survey.spots:
        own = sorted(
            {a.height_m for a in survey.antennas if a.spot == spot.id and a.height_m is not None}
        )
        for height in heights_m or sorted({*spot.heights_m, *own}) or [USUAL_HEIGHT_M]:
            place = np.array(spot.enu_m, float) + np.array([0.0, 0.0, height])
            places.append((spot.id, float(height), place))
    return places


def _seen(cameras: dict[str, ViewCamera], arrivals: Arrivals) -> dict[str, Array]:
    """Whether each view covers each arrival, (A, S) by view: a view that does not know where it
    looks shows nothing."""
    rays = unit_from_azimuth_elevation(arrivals.azimuth, arrivals.arrival)
    nothing = np.zeros(rays.shape[:-1], bool)
    return {
        name: camera.covers(rays) if camera.azimuth_sigma < LOST else nothing
        for name, camera in cameras.items()
    }


def _sigmas(
    survey: Survey, cameras: dict[str, ViewCamera], seen: dict[str, Array], arrivals: Arrivals
) -> tuple[Array, Array]:
    """Sigma of azimuth and elevation against the pictures; NaN elevation where none shows it."""
    own = survey.site.position_sigma_m / np.maximum(arrivals.distance_m, 1.0)
    azimuth = np.full(own.shape, np.inf)
    height = np.full(own.shape, np.nan)
    rays = unit_from_azimuth_elevation(arrivals.azimuth, arrivals.arrival)
    for name, camera in cameras.items():
        x, y = camera.picture.camera.pixels(rays)
        sigma_az, sigma_el = camera.picture.direction_sigma(x, y)
        better = seen[name].astype(bool) & (np.nan_to_num(sigma_az, nan=np.inf) < azimuth)
        azimuth, height = np.where(better, sigma_az, azimuth), np.where(better, sigma_el, height)
    return np.hypot(np.where(np.isfinite(azimuth), azimuth, 0.0), own), height


def _rows(
    survey: Survey,
    chosen: list[Station],
    places: list[tuple[str, float, Array]],
    arrivals: Arrivals,
    frequency: Array,
    met: Hindrance,
    seen: dict[str, Array],
    cameras: dict[str, ViewCamera],
    magnetic: Declination,
) -> tuple[PathRow, ...]:
    """The arrays as rows for people and programs; all arithmetic is done by now."""
    bearing = np.degrees(arrivals.azimuth)
    compass = wrap_360_deg(bearing - magnetic.declination_deg)
    sigma_az, sigma_el = _sigmas(survey, cameras, seen, arrivals)
    anywhere = np.any(list(seen.values()), axis=0) if seen else np.zeros(bearing.shape, bool)
    wave = wavelength_m(frequency)
    rows = []
    for a, (spot, height, _) in enumerate(places):
        antenna = next(
            (n.id for n in survey.antennas if n.spot == spot and n.height_m == height), None
        )
        for s, station in enumerate(chosen):
            answer = met.at(a, s, wave[s], arrivals.distance_m[a, s])
            rows.append(
                PathRow(
                    spot=spot,
                    antenna_height_m=height,
                    antenna=antenna,
                    station=station.id,
                    rf_channel=station.rf_channel,
                    frequency_mhz=float(frequency[s]),
                    bearing_deg=float(bearing[a, s]),
                    magnetic_bearing_deg=float(compass[a, s]),
                    bearing_sigma_deg=float(np.degrees(sigma_az[a, s])),
                    distance_km=float(arrivals.distance_m[a, s] / 1000.0),
                    arrival_elevation_deg=float(np.degrees(arrivals.arrival[a, s])),
                    optical_elevation_deg=float(np.degrees(arrivals.optical[a, s])),
                    elevation_sigma_deg=_known(np.degrees(sigma_el[a, s])),
                    beyond_horizon=bool(arrivals.beyond[a, s]),
                    path=path_word(answer, bool(anywhere[a, s])),
                    unseen_behind=bool(anywhere[a, s] and met.unseen_behind(a, s, seen)),
                    obstruction=answer.costliest,
                    shares_db=answer.shares_db,
                    clearance_deg=_known(np.degrees(answer.clearance)),
                    clearance_m=_known(answer.clearance_m),
                    clearance_fresnel_radii=_known(answer.clearance_radii),
                    obstruction_loss_db=answer.loss_db,
                    loss_error_db=answer.error_db,
                    loss_at_least=answer.at_least,
                )
            )
    return tuple(rows)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _general_notes(
    survey: Survey, magnetic: Declination, cameras: dict[str, ViewCamera]
) -> list[str]:
    notes = []
    if survey.site.ground_amsl_m is None:
        notes.append(
            "site.ground_amsl_m is not known and taken as 0 m: elevations of stations are rough"
        )
    notes += [sentence for _, sentence in doubtful_places(survey)]
    used = {a.spot for a in survey.antennas if a.height_m is not None}
    notes += [
        f"spot {spot.id} names no height: {USUAL_HEIGHT_M:g} m is taken"
        for spot in survey.spots
        if not spot.heights_m and spot.id not in used
    ]
    virtual = [
        s.id for s in survey.stations if probably_virtual(survey.site.channel_plan, s.rf_channel)
    ]
    if virtual:
        notes.append(
            f"RF channel above 36 of {', '.join(virtual)}: in the Americas that is probably the "
            "virtual channel"
        )
    if not magnetic.in_span:
        notes.append("the date lies outside the magnetic models: the nearest year was used")
    notes += [
        f"view {name} is only good to ±{np.degrees(camera.azimuth_sigma):.0f} degrees of azimuth: "
        "mark two things whose place is known before you trust a word"
        for name, camera in cameras.items()
        if camera.azimuth_sigma > ROUGH
    ]
    if not survey.views:
        notes.append("the survey has no view: every direction is not seen")
    if not survey.limits.lines_checked:
        notes.append(
            "nobody has said that power lines were looked for: look before anything is raised, "
            "then set limits.lines_checked=yes"
        )
    return notes
