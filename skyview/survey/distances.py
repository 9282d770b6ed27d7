"""How far away each obstruction stands, by all that tells: measurements and several views.

Each source is normal in the inverse distance, where two views are, and measurements of a few per
cent are as well. Sources are combined by their weights; those that contradict each other are
named. Nothing is written back here: ``kept`` gives the survey that the user asked to keep.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.mount.meeting import NORMAL_95, Meeting, interval_m, meet
from skyview.survey.baselines import Advice, advice_for
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import WIRES
from skyview.survey.known import known_item
from skyview.survey.measurements import COMBINED, measurements_of, usual_sigma_m
from skyview.survey.models import Measured, Obstruction, Survey
from skyview.survey.sightings import middle_of, sighted, sightings_of

CONFLICT_SIGMAS = 2.58
"""Two sources farther apart than this many sigmas of their difference contradict each other: by
chance one pair in a hundred does."""


@dataclass(frozen=True)
class Source:
    """One thing that tells the distance."""

    by: str
    """How: paced, laser, ..., or the names of the views that meet."""
    distance_m: float
    """From the camera of the view asked for; inf where the lines of sight do not meet. [m]"""
    sigma_m: float
    """One sigma, to first order. [m]"""
    low_m: float
    """Near end of the 95 % interval. [m]"""
    high_m: float
    """Its far end; inf where nothing bounds it. [m]"""


@dataclass(frozen=True)
class Ranging:
    """What is known of one obstruction's distance."""

    obstruction: str
    """Its id."""
    view: str
    """Id of the view from whose camera it counts."""
    sources: tuple[Source, ...]
    """All that tells it; empty where nothing does."""
    combined: Source | None
    """All of them together."""
    enu_m: tuple[float, float, float | None] | None
    """Place of the middle, and the top where views tell it. [m]"""
    width_m: float | None
    """Across the line of sight, where views tell it. [m]"""
    width_sigma_m: float | None
    """One sigma of it. [m]"""
    top_sigma_m: float | None
    """One sigma of the top. [m]"""
    conflicts: tuple[tuple[str, str], ...]
    """Pairs of sources that contradict each other."""
    left_out: tuple[tuple[str, str], ...]
    """Views and their sides (left, right, top) that the picture's border or another thing hides."""
    misfit: bool
    """The views' angles do not fit one body: one may show another thing, or less of it."""
    advice: Advice | None
    """Where the views alone cannot tell the distance: what would."""


def rangings(
    survey: Survey, cameras: dict[str, ViewCamera], wanted: tuple[str, ...] = ()
) -> list[Ranging]:
    """What is known of the distance of every obstruction, or of those wanted.

    Raises InputError for an unknown id or one without an outline.
    """
    things = [thing for thing in survey.obstructions if thing.kind not in WIRES]
    known = {thing.id: thing for thing in things}
    for name in wanted:
        known_item(things, name, "obstruction")
    outlined = {outline.obstruction for outline in survey.outlines}
    for name in wanted:
        if name not in outlined:
            raise InputError(
                f"{name} has no outline in any view",
                field="outlines",
                mend="outline it with: skyview mark outline",
            )
    names = wanted or tuple(name for name in known if name in outlined)
    return [ranging_of(survey, cameras, known[name]) for name in names]


def ranging_of(survey: Survey, cameras: dict[str, ViewCamera], thing: Obstruction) -> Ranging:
    """What is known of the distance of one obstruction that is outlined somewhere."""
    seen = sightings_of(survey, thing, cameras)
    first = thing.distance_from if thing.distance_from in seen else next(iter(seen))
    seen = {first: seen[first], **seen}
    middles = {name: float(middle_of(s)) for name, s in seen.items()}
    singles = measurements_of(thing)
    repeated = {m.by for m in singles if [n.by for n in singles].count(m.by) > 1}
    sources = [
        replace(source, by=f"{m.by} from {m.view}") if m.by in repeated else source
        for m in singles
        if (source := _single(m, first, middles, cameras)) is not None
    ]
    met = meet(sighted(thing.kind, seen, cameras)) if len(seen) > 1 else None
    if met is not None and met.freedom[0] >= 0:
        sources.append(_several(met, tuple(seen)))
    else:
        met = None
    combined = _combined(sources)
    place = _place(combined, met, cameras[first], middles[first])
    told = met is not None and met.half_width_sigma_m[0] < met.half_width_m[0]
    return Ranging(
        obstruction=thing.id,
        view=first,
        sources=tuple(sources),
        combined=combined,
        enu_m=place,
        width_m=2.0 * float(met.half_width_m[0]) if met is not None and told else None,
        width_sigma_m=2.0 * float(met.half_width_sigma_m[0]) if met is not None and told else None,
        top_sigma_m=float(met.place_sigma_m[0, 2]) if met is not None and told else None,
        conflicts=_conflicts(sources),
        left_out=tuple(
            (name, side)
            for name, s in seen.items()
            for side, used in zip(("left", "right", "top"), s.used, strict=True)
            if not used
        ),
        misfit=met is not None and _does_not_fit(met),
        advice=advice_for(
            survey, cameras, thing, seen, combined.distance_m if combined else None, met
        ),
    )


def _single(
    measured: Measured, first: str, middles: dict[str, float], cameras: dict[str, ViewCamera]
) -> Source | None:
    """A measurement as a distance from the first view's camera; None if that view lies behind."""
    sigma = measured.sigma_m
    sigma = usual_sigma_m(measured.by, measured.distance_m) if sigma is None else sigma
    distance = measured.distance_m
    if measured.view != first and measured.view in middles:
        origin = np.array(cameras[measured.view].view.camera_enu_m[:2])
        place = origin + distance * _ahead(middles[measured.view])
        camera = np.array(cameras[first].view.camera_enu_m[:2])
        distance = float((place - camera) @ _ahead(middles[first]))
        if distance <= 0.0:
            return None
    return _source(measured.by, 1.0 / distance, max(sigma, 1e-3) / distance**2)


def _ahead(azimuth: float) -> Array:
    return np.array([np.sin(azimuth), np.cos(azimuth)])


def _source(by: str, inverse: float, inverse_sigma: float) -> Source:
    low, high = interval_m(np.array(inverse), np.array(inverse_sigma))
    distance = 1.0 / inverse if inverse > 0.0 else np.inf
    return Source(by, distance, distance**2 * inverse_sigma, float(low), float(high))


def _several(met: Meeting, views: tuple[str, ...]) -> Source:
    return _source(
        f"views {' + '.join(views)}", float(met.inverse_m[0]), float(met.inverse_sigma[0])
    )


def _inverse(source: Source) -> tuple[float, float]:
    """Inverse distance and its sigma, also of lines that do not meet."""
    near = 1.0 / source.low_m
    if np.isfinite(source.distance_m):
        middle = 1.0 / source.distance_m
        return middle, source.sigma_m * middle**2
    return 0.0, near / NORMAL_95


def _combined(sources: list[Source]) -> Source | None:
    if not sources:
        return None
    inverse, sigma = np.array([_inverse(s) for s in sources]).T
    weight = 1.0 / sigma**2
    names = " and ".join(dict.fromkeys(s.by for s in sources))
    return _source(names, float(weight @ inverse / weight.sum()), float(weight.sum() ** -0.5))


def _conflicts(sources: list[Source]) -> tuple[tuple[str, str], ...]:
    pairs = []
    for one, other in combinations(sources, 2):
        (a, a_sigma), (b, b_sigma) = _inverse(one), _inverse(other)
        if abs(a - b) > CONFLICT_SIGMAS * np.hypot(a_sigma, b_sigma):
            pairs.append((one.by, other.by))
    return tuple(pairs)


def _does_not_fit(met: Meeting) -> bool:
    """Whether the angles contradict one body: chi-squared beyond its 99th percentile."""
    from scipy.stats import chi2

    freedom = int(met.freedom[0])
    return freedom > 0 and float(met.chi2[0]) > float(chi2.ppf(0.99, freedom))


def _place(
    combined: Source | None, met: Meeting | None, camera: ViewCamera, middle: float
) -> tuple[float, float, float | None] | None:
    if combined is None or not np.isfinite(combined.distance_m):
        return None
    azimuth = float(met.azimuth[0]) if met is not None else middle
    origin = np.array(camera.view.camera_enu_m)
    east, north = origin[:2] + combined.distance_m * _ahead(azimuth)
    if met is None or not np.isfinite(met.place_m[0, 2]):
        return float(east), float(north), None
    rise = (met.place_m[0, 2] - origin[2]) / met.distance_m[0]
    return float(east), float(north), float(origin[2] + rise * combined.distance_m)


def kept(survey: Survey, found: list[Ranging]) -> Survey:
    """The survey with the combined distances written into its obstructions.

    Single measurements go on in ``measured``. Obstructions whose sources contradict each other,
    or whose distance nothing bounds, are left as they are.
    """
    by_id = {r.obstruction: r for r in found if is_keepable(r)}
    things = []
    for thing in survey.obstructions:
        ranging = by_id.get(thing.id)
        if ranging is None or ranging.combined is None or ranging.enu_m is None:
            things.append(thing)
            continue
        east, north, up = ranging.enu_m
        things.append(
            thing.model_copy(
                update={
                    "measured": measurements_of(thing),
                    "distance_m": round(ranging.combined.distance_m, 2),
                    "distance_sigma_m": round(ranging.combined.sigma_m, 2),
                    "distance_by": COMBINED + ranging.combined.by,
                    "distance_from": ranging.view,
                    "enu_m": (round(east, 2), round(north, 2), round(up or 0.0, 2)),
                }
            )
        )
    return survey.model_copy(update={"obstructions": things})


def is_keepable(found: Ranging) -> bool:
    """Whether there is a distance to write back: bounded, without a contradiction, and telling
    more than the one measurement that stands there already."""
    return (
        found.combined is not None
        and (len(found.sources) > 1 or found.width_m is not None)
        and bool(np.isfinite(found.combined.high_m))
        and not found.conflicts
        and not found.misfit
    )
