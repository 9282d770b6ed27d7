"""Field of every station at every antenna position, before anything marked stands in its way.

The curves of Rec. ITU-R P.1546 give the field over average country; what is special about the
roof enters once: its height here, what was photographed as screens elsewhere, and what was not
photographed as the term of its surroundings (`skyview.wave.clutter.receiving_height_gain_db`).
A marked hill that is a station's horizon is no screen: it counts here, by the terrain clearance
angle of the same Recommendation.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.link.antenna import table_pattern_db
from skyview.link.field import TERRAIN_SPREAD_DB, BaseField, base_field, spread_of
from skyview.link.height import (
    SITE_GROUND,
    EffectiveHeight,
    effective_height,
    height_above_average_terrain_m,
)
from skyview.place.bearings import geodesic
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.over_ground import ground_loss_db
from skyview.survey.budget.parts import Bools, RoofField
from skyview.survey.models import Station, Survey
from skyview.survey.terrain import Terrain
from skyview.wave.clutter import (
    clutter_of,
    open_height_gain_db,
    receiving_height_gain_db,
    terrain_clearance_loss_db,
)

USUAL_SURROUNDINGS = "suburban"
"""Where the survey names none: common practice, no source; said where it matters."""

SCANNED_SIGMA_DB = 2.0
"""What is left of the common error once a scan has re-centred it: our own choice, no source."""

LISTED_SIGMA_DB = 6.0
"""One sigma of a field strength that a list gives without one: our own choice, no source."""

TERRAIN_SITE_SHARE = 0.6
"""Of `TERRAIN_SPREAD_DB` the part common to the site, as in suburban surroundings, 3.6 dB; the
station's own is the root of the rest, 4.8 dB: our own choice, no source."""

LEAST_DISTANCE_M = 20.0
"""A transmitter nearer than this counts as this far: the term of the surroundings ends at 15 m."""


def roof_field(
    survey: Survey,
    stations: Sequence[Station],
    antenna_m: Array,
    arrivals: Arrivals,
    frequency_mhz: Array,
    photographed: Bools,
    terrain: Terrain | None = None,
) -> RoofField:
    """The fields at antennas (A, 3), east north up, of stations (S,) on ``frequency_mhz`` (S,).

    ``photographed`` (A, S) tells where a picture shows the direction. On paths whose ``terrain``
    is known the loss of its profile stands for that of the curves (`over_ground`). Raises
    InputError for surroundings that are not known.
    """
    surroundings = survey.site.surroundings or USUAL_SURROUNDINGS
    height_m = antenna_m[:, 2:3]
    distance = np.maximum(arrivals.distance_m, LEAST_DISTANCE_M)
    h1 = _h1(survey, stations, terrain)
    try:
        gain = receiving_height_gain_db(
            height_m, frequency_mhz, distance, h1.h1_m, surroundings, photographed
        )
        spread = spread_of(surroundings)
    except InputError as error:
        raise InputError(error.message, None, "site.surroundings", error.mend) from error
    opened = np.broadcast_to(open_height_gain_db(height_m, frequency_mhz), gain.shape)
    added = gain - opened
    pattern = _pattern_db(survey, stations)
    power = np.array([np.nan if s.erp_kw is None else s.erp_kw for s in stations])
    base = base_field(
        power * 10.0 ** (pattern / 10.0), distance, h1.h1_m, frequency_mhz, height_gain_db=gain
    )
    hill = np.where(
        arrivals.edge >= 0, terrain_clearance_loss_db(arrivals.shielding, frequency_mhz), 0.0
    )
    known = np.zeros(len(stations), bool) if terrain is None else terrain.known
    site_sigma, own_sigma = spread.site_db, np.full(len(stations), spread.station_db)
    wanted, unwanted = base.dependable_dbuv_m - hill, base.seldom_dbuv_m - hill
    loss = np.where(arrivals.edge >= 0, hill, np.nan)
    if terrain is not None and np.any(known):
        ground = ground_loss_db(terrain, stations, antenna_m[:, 2], frequency_mhz)
        loss = np.where(known, ground, loss)
        median = base.free_space_dbuv_m - ground + added
        rise = base.seldom_dbuv_m - base.median_dbuv_m
        wanted = np.where(known, np.minimum(median - rise, base.free_space_dbuv_m), wanted)
        unwanted = np.where(known, np.minimum(median + rise, base.free_space_dbuv_m), unwanted)
        site_sigma = TERRAIN_SITE_SHARE * TERRAIN_SPREAD_DB
        total = np.where(known, TERRAIN_SPREAD_DB, spread.total_db)
        own_sigma = np.sqrt(total**2 - site_sigma**2)
    listed = np.array([np.nan if s.field_dbuv_m is None else s.field_dbuv_m for s in stations])
    measured = ~np.isnan(listed)
    offset = survey.site.field_offset_db
    return RoofField(
        wanted_dbuv_m=np.where(measured, listed + gain, wanted) + (offset or 0.0),
        unwanted_dbuv_m=np.where(measured, listed + gain, unwanted) + (offset or 0.0),
        free_space_dbuv_m=np.where(
            np.isnan(base.free_space_dbuv_m), listed + gain, base.free_space_dbuv_m
        ),
        pattern_db=np.broadcast_to(pattern, gain.shape),
        surroundings_db=added,
        terrain_db=np.where(measured, np.nan, loss),
        measured=measured,
        site_sigma_db=site_sigma if offset is None else SCANNED_SIGMA_DB,
        station_sigma_db=_station_sigma_db(stations, own_sigma),
        warnings=_notes(survey, stations, h1, base, photographed, measured, terrain),
    )


def _h1(survey: Survey, stations: Sequence[Station], terrain: Terrain | None) -> EffectiveHeight:
    listed = np.array([np.nan if s.haat_m is None else s.haat_m for s in stations])
    if terrain is None:
        top = np.array([s.antenna_amsl_m for s in stations], float)
        return effective_height(listed, np.nan, top, survey.site.ground_amsl_m or 0.0)
    profile, top = terrain.profile, terrain.top_amsl_m
    over = height_above_average_terrain_m(profile.distance_m, profile.ground_amsl_m, top)
    return effective_height(listed, np.where(terrain.known, over, np.nan), top, terrain.site_amsl_m)


def _pattern_db(survey: Survey, stations: Sequence[Station]) -> Array:
    """What each transmitter sends towards the site, over its strongest. (S,) [dB]"""
    if not any(s.pattern for s in stations):
        return np.zeros(len(stations))
    azimuth, _ = geodesic(
        np.array([s.latitude_deg for s in stations]),
        np.array([s.longitude_deg for s in stations]),
        survey.site.latitude_deg,
        survey.site.longitude_deg,
    )
    tables = [np.array(s.pattern, float).T if s.pattern else np.zeros((2, 1)) for s in stations]
    return np.array(
        [
            float(table_pattern_db(angle, np.radians(table[0]), table[1]))
            for angle, table in zip(np.atleast_1d(azimuth), tables, strict=True)
        ]
    )


def _station_sigma_db(stations: Sequence[Station], usual_db: Array) -> Array:
    told = np.array([np.nan if s.field_sigma_db is None else s.field_sigma_db for s in stations])
    measured = np.array([s.field_dbuv_m is not None for s in stations])
    return np.where(measured, np.where(np.isnan(told), LISTED_SIGMA_DB, told), usual_db)


def _notes(
    survey: Survey,
    stations: Sequence[Station],
    h1: EffectiveHeight,
    base: BaseField,
    photographed: Bools,
    measured: Bools,
    terrain: Terrain | None,
) -> tuple[str, ...]:
    powerless = np.isnan(base.median_dbuv_m).all(axis=0) & ~measured
    guessed = (h1.source == SITE_GROUND) & ~powerless & ~measured
    unseen = ~photographed.any(axis=0) & ~powerless
    surroundings = survey.site.surroundings or USUAL_SURROUNDINGS
    told = "" if survey.site.surroundings else " (supposed: set site.surroundings)"
    clutter = "none" if clutter_of(surroundings) == 0.0 else f"that of {surroundings} surroundings"
    outside = base.frequency_outside.any(axis=0) & ~measured
    beyond = base.beyond_curves.any(axis=0) & ~measured & ~powerless
    unmapped = np.zeros(len(stations), bool) if terrain is None else ~terrain.known
    named = [
        (unmapped, "the terrain file does not cover the way to {}: average country is taken there"),
        (
            powerless,
            "the power of {} is not known: nothing can be said of its reception, nor of whom it "
            "disturbs",
        ),
        (
            guessed,
            "height above average terrain of {} is not known: taken as its antenna above the "
            "site's ground",
        ),
        (
            unseen,
            f"no picture shows the direction of {{}}: the clutter is taken as {clutter}{told}",
        ),
        (beyond, "{} lies beyond 200 km: only scatter in the air brings its signal here"),
        (outside, "{} sends outside 45 to 900 MHz, where the field was not checked"),
    ]
    return tuple(text.format(_named(stations, which)) for which, text in named if np.any(which))


def _named(stations: Sequence[Station], which: Bools) -> str:
    """The first few of the stations that are meant, and how many more."""
    names = [s.id for s, meant in zip(stations, which, strict=True) if meant]
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    return ", ".join(names[:4]) + more
