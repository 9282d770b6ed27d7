"""Routes of the answer: paths, heights, reasons, spots, the loss layer, the aim."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from skyview.errors import InputError
from skyview.survey.scene import Leaf
from skyview.workbench import replies_answer
from skyview.workbench.answers import camera_for, chosen_place
from skyview.workbench.asking import Height, MaybeSpot, MaybeView, TheBench, There, answer, view_of
from skyview.workbench.basis import scene_basis
from skyview.workbench.heights import LEAST_STEP_M, TOP_M, HeightTable, question
from skyview.workbench.jobs import Report
from skyview.workbench.losses import frequency_of, loss_message
from skyview.workbench.patterns import pattern_message
from skyview.workbench.reasons import reason_message
from skyview.workbench.spots import spots_message
from skyview.workbench.turns import turns_message

router = APIRouter(prefix="/api", tags=["answer"])

Metres = Annotated[float, Query(gt=0, le=TOP_M, allow_inf_nan=False, description="[m]")]
Step = Annotated[float, Query(ge=LEAST_STEP_M, le=5, allow_inf_nan=False, description="[m]")]
StationId = Annotated[str, Query(min_length=1, max_length=64, description="Id of a station.")]
Channel = Annotated[int | None, Query(ge=1, le=999, description="RF channel of the site's plan.")]
MaybeAntenna = Annotated[str | None, Query(max_length=64, description="Id of an antenna.")]
Megahertz = Annotated[
    float | None, Query(ge=30, le=3000, allow_inf_nan=False, description="Instead of one. [MHz]")
]


@router.get("/paths", response_model=replies_answer.PathsReply)
def paths(
    bench: TheBench,
    request: Request,
    there: There,
    view: MaybeView = None,
) -> Response:
    """Every station from one antenna position, what matters most first."""
    survey = bench.desk.survey()
    position = bench.answers.position(survey, there.spot, there.height_m, there.leaf)
    return answer(request, bench.answers.paths(survey, position, view))


@router.get("/heights", response_model=replies_answer.HeightsReply)
def heights(
    bench: TheBench,
    request: Request,
    spot: MaybeSpot = None,
    leaf: Leaf = "in",
    view: MaybeView = None,
    step_m: Step = 0.25,
    top_m: Metres = 10.0,
    near_m: Height = None,
) -> Response:
    """Everything by height, ahead of the slider; filled step by step by a job."""
    survey = bench.desk.survey()
    wanted = question(survey, spot, leaf, view, top_m, step_m, near_m)
    if not survey.stations:
        raise InputError("there are no stations yet", None, "stations", "drop a list of stations")
    job = bench.jobs.start(
        "heights",
        wanted,
        {"spot": wanted.spot, "leaf": leaf, "revision": survey.revision},
        HeightTable(survey, wanted),
        basis=wanted.basis,
        turn="behind",
    )
    job.raise_fault()
    table = job.work
    assert isinstance(table, HeightTable)
    return answer(request, table.message(survey, job.state, job.id, job.share))


@router.get("/why", response_model=replies_answer.WhyReply)
def why(
    bench: TheBench,
    station: StationId,
    there: There,
) -> dict[str, Any]:
    """Why one station comes in or not, at once; what would cure it, when the job is done."""
    survey = bench.desk.survey()
    position = bench.answers.position(survey, there.spot, there.height_m, there.leaf)
    return reason_message(bench.answers, bench.jobs, survey, position, station)


@router.get("/spots", response_model=replies_answer.SpotsReply)
def spots(bench: TheBench, request: Request, leaf: Leaf = "in") -> Response:
    """Spots and their heights side by side."""
    return answer(request, spots_message(bench.jobs, bench.desk.survey(), leaf))


@router.get("/aims", response_model=replies_answer.AimsReply)
def aims(
    bench: TheBench,
    request: Request,
    there: There,
    antenna: MaybeAntenna = None,
) -> Response:
    """What every heading brings at one antenna position, ahead of the hand that turns."""
    survey = bench.desk.survey()
    place = chosen_place(survey, there.spot, there.height_m)
    return answer(request, turns_message(bench.answers, survey, place, there.leaf, antenna))


@router.get(
    "/loss",
    response_model=replies_answer.LossReply,
    responses={202: {"model": replies_answer.Waiting, "description": "The work goes on."}},
)
def loss(
    bench: TheBench,
    request: Request,
    there: There,
    view: MaybeView = None,
    channel: Channel = None,
    frequency_mhz: Megahertz = None,
) -> Response:
    """The loss in every direction of a view at one frequency: long work of about a second."""
    survey = bench.desk.survey()
    megahertz = frequency_of(survey, channel, frequency_mhz)
    if view is not None:
        view_of(survey, view)
    position = bench.answers.position(survey, there.spot, there.height_m, there.leaf)
    camera = camera_for(survey, position, view)
    if camera is None:
        raise InputError("there is no picture yet", None, "view", "drop a photograph")
    name = camera.view.id
    told = channel if frequency_mhz is None else None

    def work(report: Report) -> dict[str, Any]:
        return loss_message(report, survey, bench.folder, position, name, megahertz, told)

    basis = scene_basis(survey)
    job = bench.jobs.start(
        "loss",
        (basis, position.spot, position.height_m, there.leaf, name, megahertz, told),
        {"view": name, "revision": survey.revision},
        work,
        basis=basis,
    )
    job.raise_fault()
    if job.state != "done":
        waiting = {"state": job.state, "job": job.id, "share": job.share}
        return answer(request, waiting, 202)
    return answer(
        request, {**job.found, "revision": survey.revision, "state": "done", "job": job.id}
    )


@router.get("/pattern", response_model=replies_answer.PatternReply)
def pattern(bench: TheBench, antenna: MaybeAntenna = None) -> dict[str, Any]:
    """An antenna's relative gain by offset from its aim."""
    return pattern_message(bench.desk.survey(), antenna)
