"""Routes of a view: its picture, its angles, its pose, its skyline."""

from __future__ import annotations

import time
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import FileResponse, Response
from starlette.exceptions import HTTPException

from skyview.angles import wrap_360_deg
from skyview.errors import InputError
from skyview.survey.cameras import camera_of, declination_of
from skyview.survey.models import validate
from skyview.survey.proposals import accepted, check_strokes
from skyview.workbench import replies, replies_view
from skyview.workbench.angles import angles_message
from skyview.workbench.answers import antenna_at, chosen_place
from skyview.workbench.asking import (
    Height,
    MaybeSpot,
    PageId,
    TheBench,
    ViewId,
    answer,
    view_of,
)
from skyview.workbench.changes import changed
from skyview.workbench.ground import ground_message
from skyview.workbench.jobs import Report, apart
from skyview.workbench.messages import AcceptBody, SkylineBody, TryBody
from skyview.workbench.poses import calibrate_stale, pose_message
from skyview.workbench.routes_survey import CONFLICT
from skyview.workbench.skylines import find_proposals, proposals_message

router = APIRouter(prefix="/api", tags=["view"])

MOST_POINTS = 1000
Coordinates = Annotated[
    list[Annotated[float, Query(ge=-1e6, le=1e6, allow_inf_nan=False)]],
    Query(min_length=1, max_length=MOST_POINTS, description="Pixels; as many x as y. [px]"),
]
_FOR_EVER = {"cache-control": "private, max-age=31536000, immutable"}
_IMAGE: dict[int | str, dict[str, Any]] = {
    200: {"content": {"image/jpeg": {}}, "description": "A JPEG picture."}
}
Key = Annotated[str, Path(description="The key of a picture, which changes with its file.")]
Number = Annotated[int, Path(ge=0, le=100_000)]


@router.get("/picture", response_model=replies_view.PictureReply)
def picture(bench: TheBench, view: ViewId) -> dict[str, Any]:
    """How to show a view's picture; begins to cut it into tiles if need be."""
    survey = bench.desk.survey()
    chosen = view_of(survey, view)
    return bench.pictures.message(chosen, camera_of(survey, chosen).full_circle)


@router.get("/pictures/{key}/overview.jpg", response_class=FileResponse, responses=_IMAGE)
def overview(bench: TheBench, key: Key) -> Response:
    """The whole picture, small."""
    file = bench.pictures.overview(bench.desk.survey(), key)
    if file is None:
        raise HTTPException(404, "there is no such picture")
    return FileResponse(file, media_type="image/jpeg", headers=_FOR_EVER)


@router.get(
    "/pictures/{key}/{level}/{column}/{row}.jpg", response_class=FileResponse, responses=_IMAGE
)
def tile(bench: TheBench, key: Key, level: Number, column: Number, row: Number) -> Response:
    """One tile of a picture."""
    file = bench.pictures.tile(key, level, column, row)
    if file is None:
        raise HTTPException(404, "there is no such tile")
    return FileResponse(file, media_type="image/jpeg", headers=_FOR_EVER)


@router.get("/angles", response_model=replies_view.AnglesReply)
def angles(bench: TheBench, view: ViewId, request: Request) -> Response:
    """A view's directions as tables over its pixels, and what is drawn from them alone."""
    survey = bench.desk.survey()
    camera = camera_of(survey, view_of(survey, view))
    declination = declination_of(survey, camera.view).declination_deg
    return answer(request, angles_message(camera, survey.revision, declination))


@router.get("/locate", response_model=replies_view.LocateReply)
def locate(bench: TheBench, view: ViewId, x: Coordinates, y: Coordinates) -> dict[str, Any]:
    """Exact directions of pixels, with their sigma."""
    if len(x) != len(y):
        raise InputError("pixels come in pairs", None, "x", "give as many x as y")
    survey = bench.desk.survey()
    camera = camera_of(survey, view_of(survey, view))
    x_px, y_px = np.array(x), np.array(y)
    azimuth, elevation = (np.degrees(v) for v in camera.picture.camera.directions(x_px, y_px))
    sigmas = [np.degrees(v) for v in camera.picture.direction_sigma(x_px, y_px)]
    declination = declination_of(survey, camera.view).declination_deg
    magnetic = wrap_360_deg(azimuth - declination)
    columns = (x_px, y_px, azimuth, elevation, *sigmas, magnetic)
    return {
        "format": "skyview.locate",
        "version": 1,
        "revision": survey.revision,
        "view": view,
        "rows": [
            {
                name: float(value) if np.isfinite(value) else None
                for name, value in zip(replies_view.Located.model_fields, line, strict=True)
            }
            for line in np.stack(columns, axis=1)
        ],
    }


@router.get("/pose", response_model=replies.Pose)
def pose(bench: TheBench, view: ViewId) -> dict[str, Any]:
    """Where a view looks, and how far each mark is off."""
    survey = bench.desk.survey()
    return pose_message(survey, view_of(survey, view))


@router.post("/pose/try", response_model=replies_view.TryReply)
def try_pose(bench: TheBench, body: TryBody) -> dict[str, Any]:
    """The pose that some changes would give; nothing is stored."""
    state = bench.desk.state()
    try:
        tried = validate(changed(state, body.changes))
    except InputError as error:
        raise InputError(error.message, None, error.field, error.mend) from None
    view = view_of(tried, body.view)
    start = time.perf_counter()
    solved = calibrate_stale(tried)
    return {
        "format": "skyview.try",
        "version": 1,
        "revision": state["revision"],
        "pose": pose_message(tried, view),
        "notes": list(solved.notes),
        "solve_ms": round(1000.0 * (time.perf_counter() - start), 1),
    }


@router.get("/ground", response_model=replies_view.GroundReply)
def ground(
    bench: TheBench,
    request: Request,
    view: ViewId,
    spot: MaybeSpot = None,
    height_m: Height = None,
) -> Response:
    """The terrain's skyline as an antenna sees it; as the camera does where none is named."""
    survey = bench.desk.survey()
    eye = None
    if spot is not None or height_m is not None:
        eye = antenna_at(survey, *chosen_place(survey, spot, height_m))
    return answer(request, ground_message(survey, view_of(survey, view), eye))


@router.post("/skyline", response_model=replies.JobReply, status_code=202)
def skyline(bench: TheBench, body: SkylineBody) -> dict[str, Any]:
    """Find a view's sky and propose outlines: long work. The newest strokes of a view win."""
    view = view_of(bench.desk.survey(), body.view)
    sky, solid = tuple(body.sky), tuple(body.solid)
    check_strokes(view.size_px, {"sky": sky, "solid": solid})

    def work(report: Report) -> bool:
        return bool(apart(report, find_proposals, bench.folder, view.id, sky, solid))

    key = (view.id, bench.desk.survey().revision, sky, solid)
    job = bench.jobs.start(
        "skyline", key, {"view": view.id}, work, basis=repr(key), slot=view.id, turn="aside"
    )
    return job.told()


@router.get("/proposals", response_model=replies_view.ProposalsReply)
def proposals(bench: TheBench, view: ViewId, request: Request) -> Response:
    """What was found in a view: outlines, and the skyline to snap to."""
    survey = bench.desk.survey()
    return answer(request, proposals_message(bench.folder, survey, view_of(survey, view)))


@router.post("/proposals/accept", response_model=replies.ChangeReply, responses=CONFLICT)
def accept(bench: TheBench, body: AcceptBody, page: PageId = None) -> dict[str, Any]:
    """Take proposed outlines into the survey."""
    view_of(bench.desk.survey(), body.view)
    outcome = bench.desk.change(
        body.base,
        "take proposed outlines",
        page,
        lambda plain: accepted(plain, bench.folder, body.view, body.ids)[0],
    )
    return bench.change_message(outcome)
