"""The whole chain: a survey in, an answer for every spot, height and station out.

Photographs give directions, outlines become upright screens in site metres, and every angle is
taken at the antenna. Here, and only here, geometry meets losses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array, unit_from_azimuth_elevation, wrap_360_deg
from skyview.link.systems import USUAL_MODE
from skyview.place.channels import probably_virtual
from skyview.place.declination import Declination
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.causes import Causes, causes_of
from skyview.survey.budget.cures import cures_of
from skyview.survey.budget.judged import Judged, judged
from skyview.survey.budget.signals import supposes_mode
from skyview.survey.budget.words import reception_word
from skyview.survey.cameras import ViewCamera, declination_of
from skyview.survey.finding import some
from skyview.survey.known import known_item
from skyview.survey.losses import path_word
from skyview.survey.models import Survey
from skyview.survey.places import doubtful_places
from skyview.survey.results import Cure, Margin, PathRow
from skyview.survey.scene import USUAL_HEIGHT_M, Leaf, Scene, scene_of
from skyview.survey.screens import ViewScreen
from skyview.survey.skylines import skyline_doubts

ROUGH = np.radians(3.0)
"""A view whose azimuth is no better than this is said to be rough: our own choice."""


@dataclass(frozen=True)
class Assessment:
    """What the survey's stations meet."""

    rows: tuple[PathRow, ...]
    """One row for each spot, height and station, in that order."""
    scene: Scene
    """All that the answer was worked out from."""
    causes: Causes
    """What each cause costs every position and station of the scene."""
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
    cures: bool = False,
) -> Assessment:
    """Every path of a survey, or of some of its spots, heights and stations.

    ``cures``: what would help is worked out too, which takes several times as long.

    Raises InputError where nothing can be said: no spot, no station, an unknown id.
    """
    scene = scene_of(survey, spots=spots, heights_m=heights_m, leaf=leaf)
    return assess_scene(scene, stations=stations, cures=cures)


def assess_scene(
    scene: Scene, *, stations: Sequence[str] | None = None, cures: bool = False
) -> Assessment:
    """The same of a scene that is there already, with its survey's antennas as they are."""
    survey = scene.survey
    shown = _chosen(survey, stations)
    told = judged(scene)
    causes = causes_of(told)
    found: dict[tuple[int, int], tuple[Cure, ...]] = {}
    if cures:
        asked = np.array([(a, s) for a in range(len(scene.places)) for s in shown])
        found = cures_of(told, causes.loss_db["line"], asked)
    magnetic = declination_of(survey)
    notes = [*scene.warnings, *told.kit.warnings, *_unknown_notes(told, shown)]
    notes += _general_notes(scene, magnetic)
    rows = _rows(told, shown, causes, found, magnetic)
    return Assessment(
        rows, scene, causes, magnetic, scene.cameras, scene.screens, tuple(dict.fromkeys(notes))
    )


def _chosen(survey: Survey, wanted: Sequence[str] | None) -> list[int]:
    """Indices of the stations that are asked for."""
    index = {station.id: i for i, station in enumerate(survey.stations)}
    if wanted is None:
        return list(index.values())
    return [index[known_item(survey.stations, name, "station").id] for name in wanted]


def _sigmas(
    survey: Survey,
    cameras: dict[str, ViewCamera],
    seen: dict[str, NDArray[np.bool_]],
    arrivals: Arrivals,
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
    told: Judged,
    shown: Sequence[int],
    causes: Causes,
    cures: Mapping[tuple[int, int], tuple[Cure, ...]],
    magnetic: Declination,
) -> tuple[PathRow, ...]:
    """The arrays as rows for people and programs; all arithmetic is done by now."""
    scene = told.scene
    arrivals, frequency = scene.arrivals, scene.signals.frequency_mhz
    bearing = np.degrees(arrivals.azimuth)
    compass = wrap_360_deg(bearing - magnetic.declination_deg)
    sigma_az, sigma_el = _sigmas(scene.survey, scene.cameras, scene.seen, arrivals)
    anywhere, wanted = scene.photographed, scene.signals.wanted
    margin = np.percentile(told.heard.margin_db, [10.0, 50.0, 90.0], axis=0)
    chance = told.probability
    rows = []
    for a, (spot, height) in enumerate(scene.places):
        for s in shown:
            station, answer = scene.stations[s], scene.answers[a][s]
            known = bool(wanted[s]) and not np.isnan(chance[a, s])
            rows.append(
                PathRow(
                    spot=spot,
                    antenna_height_m=height,
                    antenna=told.kit.stands[told.which[a, s]][a],
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
                    unseen_behind=bool(scene.unseen_behind[a, s]),
                    obstruction=answer.costliest,
                    shares_db=answer.shares_db,
                    clearance_deg=_known(np.degrees(answer.clearance)),
                    clearance_m=_known(answer.clearance_m),
                    clearance_fresnel_radii=_known(answer.clearance_radii),
                    obstruction_loss_db=answer.loss_db,
                    loss_error_db=answer.error_db,
                    loss_at_least=answer.at_least,
                    field_dbuv_m=_known(scene.field.wanted_dbuv_m[a, s]),
                    margin_db=Margin(*map(float, margin[:, a, s])) if known else None,
                    reception=reception_word(chance[a, s], known and bool(anywhere[a, s])),
                    reception_probability=float(chance[a, s]) if known else None,
                    losses_db=causes.listed(a, s),
                    cures=cures.get((a, s), ()),
                )
            )
    return tuple(rows)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _unknown_notes(told: Judged, shown: Sequence[int]) -> list[str]:
    """Stations of which nothing can be told for want of a threshold, or whose mode is supposed."""
    signals = told.scene.signals
    open_ended = signals.wanted & np.isnan(signals.required_cn_db)
    ids = [signals.ids[s] for s in shown if open_ended[s]]
    notes = []
    if ids:
        notes.append(
            f"the carrier to noise that {', '.join(ids)} needs is not known, so that reception is "
            "not either: give its system and mode, or required_cn_db"
        )
    for system, mode in USUAL_MODE.items():
        supposed = [
            station.id
            for station in (told.scene.stations[s] for s in shown)
            if station.role == "wanted" and supposes_mode(station) and station.system == system
        ]
        if supposed:
            notes.append(f"the mode of {some(supposed)} is not known: {mode} is supposed")
    return notes


def _general_notes(scene: Scene, magnetic: Declination) -> list[str]:
    survey = scene.survey
    notes = []
    if survey.site.ground_amsl_m is None and survey.site.terrain is None:
        notes.append(
            "site.ground_amsl_m is not known and taken as 0 m: elevations of stations are rough"
        )
    notes += [sentence for _, sentence in doubtful_places(survey)]
    notes += skyline_doubts(survey, scene.cameras, scene.screens)
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
        for name, camera in scene.cameras.items()
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
