"""A view solved from its marks: the pose, its covariance, and what was noticed on the way."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from skyview.angles import wrap_360_deg
from skyview.calibrate.advice import Outlook, next_mark, outlook, sharpness
from skyview.calibrate.estimate import PoseEstimate, estimate_together
from skyview.calibrate.marks import Picture
from skyview.calibrate.spread import PosedPicture
from skyview.camera.projections import Equirectangular, Rectilinear
from skyview.place.declination import Declination
from skyview.survey.doubts import DOUBTFUL_SIGMAS, better_reading, is_doubtful
from skyview.survey.inputs import declination_of, digest_of, joined_views
from skyview.survey.models import Calibration, PoseFinding, Residual, Survey, View
from skyview.survey.priors import prior_of, projection_of
from skyview.survey.sights import MarkSet, mark_sets, ties_of

ROUGH_ELEVATION_DEG = 0.5
"""Elevations less sure than this hide most masts: their whole elevation is about as large."""

NARROW_SHARE = 0.15
"""Marks within this share of a picture's width leave its ends to the priors."""

MISSTATED_SIGMA = 0.04
"""Relative sigma of a panorama's scale once its metadata are doubted: our own choice."""

MISSTATED_GAIN = 6.0
"""How much more probable (natural log) doubted metadata must make the marks."""

COMPASS_SIGMAS = 2.0
"""A compass off by more of its sigmas is worth a word."""

TORN = 0.05
"""Another answer more probable than this leaves open which marks are right."""


@dataclass(frozen=True)
class _Solved:
    found: PoseEstimate
    picture: Picture
    marks: MarkSet
    magnetic: Declination
    misstated: bool


def solve(survey: Survey, view: View) -> tuple[Calibration, list[str]]:
    """Calibrate a view from its marks; also what was assumed or left out on the way.

    Views that share landmarks or ties with it are solved along, since they share their errors.
    """
    views = joined_views(survey, view)
    magnetic = declination_of(survey, view)
    sets = mark_sets(survey, views, magnetic)
    pictures, notes = [], []
    for other, marks in zip(views, sets, strict=True):
        projection, scale_sigma, assumed = projection_of(other)
        prior = prior_of(survey, other, projection, scale_sigma)
        pictures.append(Picture(projection, prior, marks.sights, marks.lines))
        notes += assumed + marks.notes if other is view else []
    ties, _ = ties_of(survey, views)
    found = estimate_together(pictures, ties)[0]
    misstated = False
    if isinstance(pictures[0].projection, Equirectangular) and is_doubtful(found, pictures[0]):
        loose = replace(
            pictures[0].prior, scale_sigma=MISSTATED_SIGMA, aspect_sigma=MISSTATED_SIGMA
        )
        doubted = [replace(pictures[0], prior=loose), *pictures[1:]]
        other_found = estimate_together(doubted, ties)[0]
        if other_found.cost < found.cost - MISSTATED_GAIN:
            found, pictures, misstated = other_found, doubted, True
    solved = _Solved(found, pictures[0], sets[0], magnetic, misstated)
    return _calibration_of(survey, view, solved), notes


def _calibration_of(survey: Survey, view: View, solved: _Solved) -> Calibration:
    found, projection = solved.found, solved.picture.projection
    lens = projection if isinstance(projection, Rectilinear) else None
    posed = PosedPicture(
        projection, found.vector, found.covariance, found.parameters, view.own_azimuth_sigma
    )
    grid = outlook(posed, view.size_px)
    sharp = sharpness(grid)
    findings = _findings(survey, view, solved, posed, grid)
    k1 = found.value("k1")
    return Calibration(
        yaw_deg=float(np.degrees(found.yaw)),
        pitch_deg=float(np.degrees(found.pitch)),
        roll_deg=float(np.degrees(found.roll)),
        scale=found.scale,
        level_row_px=found.level_row_px,
        k1=k1 if k1 is not None or lens is None else lens.k1,
        k2=lens.k2 if lens else None,
        log_aspect=found.value("log_aspect"),
        stretch=list(found.stretch),
        azimuth_sigma_deg=_degrees(sharp.azimuth),
        elevation_sigma_deg=_degrees(sharp.elevation),
        findings=findings,
        parameters=list(found.parameters),
        covariance=found.covariance.tolist(),
        solved=list(found.solved),
        held=list(found.held),
        residuals=_residuals(solved),
        digest=digest_of(survey, view),
    )


def _degrees(angle: float) -> float | None:
    return None if np.isnan(angle) else float(np.degrees(angle))


def _residuals(solved: _Solved) -> list[Residual]:
    """One entry a mark; of a mark with several points the mean, and the greatest doubt."""
    found, marks = solved.found, solved.marks
    ids = [*marks.sight_ids, *marks.line_ids]
    empty, count = np.full(len(marks.line_ids), np.nan), len(marks.sight_ids)
    columns = {
        "azimuth_residual_deg": np.degrees(np.concatenate([found.azimuth_residual, empty])),
        "elevation_residual_deg": np.degrees(np.concatenate([found.elevation_residual, empty])),
        "line_residual_deg": np.degrees(
            np.concatenate([np.full(count, np.nan), found.line_residual])
        ),
        "azimuth_without_deg": np.degrees(found.without.azimuth),
        "elevation_without_deg": np.degrees(found.without.elevation),
        "line_without_deg": np.degrees(found.without.line),
        "doubt_sigmas": found.without.doubt,
        "trust": found.trust,
    }
    answer = []
    for mark in dict.fromkeys(ids):
        own = [index for index, name in enumerate(ids) if name == mark]
        values = {}
        for name, column in columns.items():
            known = column[own][np.isfinite(column[own])]
            if known.size:
                values[name] = float(known.max() if name == "doubt_sigmas" else known.mean())
        answer.append(Residual(mark=mark, **values))
    return answer


def _findings(
    survey: Survey, view: View, solved: _Solved, posed: PosedPicture, grid: Outlook
) -> list[PoseFinding]:
    found, picture, marks = solved.found, solved.picture, solved.marks
    answer = [
        PoseFinding(code="near", marks=[mark], values={"sigma_deg": float(np.degrees(sigma))})
        for mark, sigma in marks.near
    ]
    if is_doubtful(found, picture):
        reading = better_reading(survey, view, marks, picture, solved.magnetic)
        if reading is not None:
            answer.append(
                PoseFinding(code=reading.code, marks=reading.marks, values=reading.values)
            )
    answer += _wrong(solved) + _metadata(solved) + _north(survey, view, solved)
    elevation_deg = float(np.degrees(sharpness(grid).elevation))
    if elevation_deg > ROUGH_ELEVATION_DEG:
        values = {"elevation_sigma_deg": elevation_deg}
        answer.append(PoseFinding(code="elevation_rough", values=values))
    narrow = _narrow(view, solved, posed)
    further = next_mark(grid)
    if further is not None:
        values = {
            "from_deg": float(wrap_360_deg(np.degrees(further.from_azimuth))),
            "to_deg": float(wrap_360_deg(np.degrees(further.to_azimuth))),
            "now_deg": float(np.degrees(further.now)),
            "then_deg": float(np.degrees(further.then)),
        }
        narrow.append(PoseFinding(code=f"next_{further.kind}", values=values))
    return answer + narrow


def _wrong(solved: _Solved) -> list[PoseFinding]:
    """The mark that is probably wrong, or those that contradict each other."""
    found = solved.found
    ids = [*solved.marks.sight_ids, *solved.marks.line_ids]
    doubt = np.nan_to_num(found.without.doubt)
    wrong = (doubt > DOUBTFUL_SIGMAS) | (np.nan_to_num(found.trust, nan=1.0) < 0.5)
    torn = found.other_answers > TORN
    if torn:
        wrong |= np.nan_to_num(found.other_trust, nan=1.0) < 0.5
    if not wrong.any():
        return []
    worst = float(doubt[wrong].max())
    order = np.argsort(-doubt)
    named = list(dict.fromkeys(ids[i] for i in order if wrong[i]))
    code = "contradict" if len(named) > (1 if torn else 2) else "probably_wrong"
    return [
        PoseFinding(
            code=code,
            marks=named if code == "contradict" else named[:1],
            values={"doubt_sigmas": worst},
        )
    ]


def _metadata(solved: _Solved) -> list[PoseFinding]:
    """Where compass or panorama metadata are far from what the marks say."""
    found, prior, answer = solved.found, solved.picture.prior, []
    if prior.yaw is not None and "yaw" in found.solved:
        off = float(np.angle(np.exp(1j * (found.yaw - prior.yaw))))
        if abs(off) > COMPASS_SIGMAS * prior.yaw_sigma:
            values = {"off_deg": float(np.degrees(off))}
            answer.append(PoseFinding(code="compass_off", values=values))
    projection = solved.picture.projection
    if solved.misstated and isinstance(projection, Equirectangular):
        span = projection.right - projection.left
        true = span * float(np.exp(found.value("log_aspect") or 0.0)) / found.scale
        values = {"claimed_deg": float(np.degrees(span)), "solved_deg": float(np.degrees(true))}
        answer.append(PoseFinding(code="span_misstated", values=values))
    return answer


def _north(survey: Survey, view: View, solved: _Solved) -> list[PoseFinding]:
    """What the declination did to magnetic bearings."""
    own = [
        m.id
        for m in survey.marks
        if m.view == view.id and m.kind == "bearing" and m.north == "magnetic"
    ]
    if not own:
        return []
    magnetic = solved.magnetic
    values = {
        "declination_deg": magnetic.declination_deg,
        "declination_sigma_deg": magnetic.sigma_deg,
    }
    answer = [PoseFinding(code="declination", marks=own, values=values)]
    if not magnetic.in_span:
        values = {"year": magnetic.decimal_year}
        answer.append(PoseFinding(code="declination_year", marks=own, values=values))
    return answer


def _narrow(view: View, solved: _Solved, posed: PosedPicture) -> list[PoseFinding]:
    """All azimuths in one narrow sector of the picture."""
    sights = solved.marks.sights
    known = np.isfinite(sights.azimuth)
    if known.sum() < 2:
        return []
    span = float(np.ptp(sights.x_px[known])) / view.size_px[0]
    if span > NARROW_SHARE:
        return []
    middle = view.size_px[1] / 2.0
    azimuth, _ = posed.camera.directions(sights.x_px[known], sights.y_px[known])
    ends = np.array([0.02, 0.98]) * view.size_px[0]
    sigma = posed.direction_sigma(ends, np.full(2, middle))[0]
    values = {
        "span_deg": float(np.degrees(np.ptp(np.unwrap(np.sort(azimuth))))),
        "edge_sigma_deg": float(np.degrees(np.nanmax(sigma))) if np.isfinite(sigma).any() else 0.0,
    }
    return [PoseFinding(code="narrow_sector", values=values)]
