"""Routes of the survey itself: reading, changing, undoing, files coming in, events."""

from __future__ import annotations

import base64
from typing import Annotated, Any, get_args

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response, StreamingResponse
from starlette.exceptions import HTTPException

from skyview import __version__
from skyview.report import reception_words
from skyview.report.reception_words import reception_meaning, reception_word
from skyview.report.summary import CAUTIONS
from skyview.report.words import PATH_WORDS, kind_word, path_meaning, path_word, sentence
from skyview.survey.check import check
from skyview.survey.kinds import GROUNDED, TREES, WIRES
from skyview.survey.results import ReceptionWord
from skyview.workbench import replies
from skyview.workbench.asking import PageId, TheBench, answer
from skyview.workbench.changes import changed
from skyview.workbench.desk import NothingError
from skyview.workbench.drawn import family_of
from skyview.workbench.incoming import begun
from skyview.workbench.keys import KEY_MINUTES
from skyview.workbench.messages import BaseBody, BeginBody, ChangeBody

router = APIRouter(prefix="/api", tags=["survey"])

CONFLICT: dict[int | str, dict[str, Any]] = {
    409: {"model": replies.Conflict, "description": "Based on an old revision; nothing was stored."}
}
RECEPTION_WORDS: tuple[ReceptionWord, ...] = get_args(ReceptionWord)

_SENTENCES = (
    "whole_way", "beyond_horizon", "beyond_horizon_meaning", "unseen_behind",
    "unseen_behind_meaning", "caution_power_line", "lines_unchecked", "no_stations",
    "legend_terrain",
)  # fmt: skip
_RECEPTION_SENTENCES = ("promises", "no_causes", "no_cures", "cures_head", "causes_head")


@router.get("/state", response_model=replies.StateReply)
def state(bench: TheBench) -> dict[str, Any]:
    """What the page needs first."""
    survey = bench.desk.survey() if bench.desk.is_open else None
    return {
        "format": "skyview.state",
        "version": 1,
        "program": __version__,
        "open": survey is not None,
        "revision": None if survey is None else survey.revision,
        "title": None if survey is None else survey.title,
        "shared": bench.invite is not None,
        "history": bench.desk.history(),
    }


@router.get("/survey", response_model=replies.SurveyReply)
def survey(bench: TheBench, request: Request) -> Response:
    """The whole survey, as in its file."""
    content = bench.desk.state()
    return answer(
        request,
        {
            "format": "skyview.survey",
            "version": 1,
            "revision": content["revision"],
            "history": bench.desk.history(),
            "survey": content,
        },
    )


@router.get("/words", response_model=replies.WordsReply)
def words() -> dict[str, Any]:
    """Words that the page shows: kinds, path words, cautions."""
    return {
        "format": "skyview.words",
        "version": 1,
        "kinds": [
            {
                "kind": kind,
                "word": kind_word(kind),
                "family": family_of(kind),
                "reaches_ground": kind in GROUNDED,
            }
            for kind in dict.fromkeys([*TREES, *GROUNDED, *WIRES])
        ],
        "paths": [
            {"path": path, "word": path_word(path), "meaning": path_meaning(path)}
            for path in PATH_WORDS
        ],
        "receptions": [
            {"reception": word, "word": reception_word(word), "meaning": reception_meaning(word)}
            for word in RECEPTION_WORDS
        ],
        "sentences": {
            **{code: sentence(code) for code in _SENTENCES},
            **{code: reception_words.sentence(code) for code in _RECEPTION_SENTENCES},
        },
        "cautions": list(CAUTIONS),
    }


@router.get("/next", response_model=replies.NextReply)
def next_steps(bench: TheBench) -> dict[str, Any]:
    """What is missing and what to do next, in the order of the work."""
    current = bench.desk.survey()
    return {
        "format": "skyview.next",
        "version": 1,
        "revision": current.revision,
        "rows": [
            {"severity": f.severity, "field": f.field, "sentence": f.sentence}
            for f in check(current, bench.folder)
        ],
    }


@router.post("/begin", response_model=replies.ChangeReply, status_code=201, responses=CONFLICT)
def begin(bench: TheBench, body: BeginBody) -> dict[str, Any]:
    """Begin a survey at a place."""
    if bench.desk.is_open:
        raise NothingError("a survey is open already", "there_is_one")
    new, notes = begun(
        body.latitude_deg, body.longitude_deg, body.title, ground_amsl_m=body.ground_amsl_m
    )
    outcome = bench.desk.begin(new)
    return bench.change_message(outcome) | {"notes": notes}


@router.post("/changes", response_model=replies.ChangeReply, responses=CONFLICT)
def change(bench: TheBench, body: ChangeBody, page: PageId = None) -> dict[str, Any]:
    """Change the survey: all of it or nothing, as one step of undo."""
    outcome = bench.desk.change(
        body.base, body.label, page, lambda plain: changed(plain, body.changes)
    )
    return bench.change_message(outcome)


@router.post("/undo", response_model=replies.ChangeReply, responses=CONFLICT)
def undo(bench: TheBench, body: BaseBody, page: PageId = None) -> dict[str, Any]:
    """Take the last step back."""
    return bench.change_message(bench.desk.undo(body.base, page))


@router.post("/redo", response_model=replies.ChangeReply, responses=CONFLICT)
def redo(bench: TheBench, body: BaseBody, page: PageId = None) -> dict[str, Any]:
    """Make the step again that was undone last."""
    return bench.change_message(bench.desk.redo(body.base, page))


@router.get("/history", response_model=replies.HistoryListReply)
def history(bench: TheBench, limit: Annotated[int, Query(ge=1, le=1000)] = 50) -> dict[str, Any]:
    """The newest steps, those that can be redone first."""
    return {"format": "skyview.history", "version": 1, "rows": bench.desk.steps(limit)}


@router.get(
    "/events",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/event-stream": {}}, "description": "Server-sent events."}},
)
async def events(bench: TheBench) -> StreamingResponse:
    """News: hello, revision, job."""
    return StreamingResponse(bench.hub.listen(bench.hello), media_type="text/event-stream")


@router.get("/jobs", response_model=replies.JobsReply)
def jobs(bench: TheBench) -> dict[str, Any]:
    """Long work that runs or has ended lately."""
    return {"format": "skyview.jobs", "version": 1, "rows": bench.jobs.all()}


@router.delete("/jobs/{job}", response_model=replies.JobReply)
def cancel(bench: TheBench, job: str) -> dict[str, Any]:
    """Stop a piece of long work."""
    found = bench.jobs.get(job)
    if found is None:
        raise HTTPException(404, "there is no such work")
    bench.jobs.cancel(found)
    return found.told()


@router.post("/share", response_model=replies.ShareReply, responses=CONFLICT)
def share(bench: TheBench) -> dict[str, Any]:
    """A new address with a key that lets one device in, once."""
    if bench.invite is None:
        raise NothingError("this page is for this computer only", "not_shared")
    address, svg = bench.invite()
    return {
        "format": "skyview.share",
        "version": 1,
        "address": address,
        "qr_svg": "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode(),
        "minutes": KEY_MINUTES,
    }
