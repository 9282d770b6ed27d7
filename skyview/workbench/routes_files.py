"""Routes for files that are dropped on the page: photographs, stations, landmarks."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, UploadFile

from skyview.errors import InputError
from skyview.survey.scene import Leaf
from skyview.workbench import replies
from skyview.workbench.asking import PageId, TheBench
from skyview.workbench.incoming import add_landmarks, add_photo, add_stations
from skyview.workbench.routes_survey import CONFLICT

router = APIRouter(prefix="/api", tags=["files"])

BaseField = Annotated[
    int | None, Form(ge=0, le=2**53, description="The revision that it is based on.")
]
FirmBase = Annotated[int, Form(ge=0, le=2**53, description="The revision that it is based on.")]


@router.post("/photos", response_model=replies.PhotoReply, status_code=201, responses=CONFLICT)
def photos(
    bench: TheBench,
    file: Annotated[UploadFile, File(description="A photograph of any kind that phones make.")],
    base: BaseField = None,
    id: Annotated[str | None, Form(max_length=64, description="Id of the new view.")] = None,
    spot: Annotated[str | None, Form(max_length=64, description="Where it was taken.")] = None,
    leaf: Annotated[Leaf | None, Form(description="Trees in or out of leaf.")] = None,
    latitude_deg: Annotated[float | None, Form(ge=-90, le=90, allow_inf_nan=False)] = None,
    longitude_deg: Annotated[float | None, Form(ge=-180, le=180, allow_inf_nan=False)] = None,
    page: PageId = None,
) -> dict[str, Any]:
    """Take a photograph in as a new view; a survey begins with its first."""
    if (latitude_deg is None) != (longitude_deg is None):
        raise InputError("a place is a latitude and a longitude", None, "site", "give both")
    place = None
    if latitude_deg is not None and longitude_deg is not None:
        place = latitude_deg, longitude_deg
    outcome, view, facts, notes = add_photo(
        bench.desk,
        file.file,
        file.filename or "",
        base,
        page,
        view_id=id or None,
        spot=spot or None,
        leaf=leaf,
        place_deg=place,
    )
    message = bench.change_message(outcome, view=view, missing=list(facts.missing))
    return message | {"notes": [*message["notes"], *notes]}


@router.post("/stations", response_model=replies.ListReply, responses=CONFLICT)
def stations(
    bench: TheBench,
    file: Annotated[UploadFile, File(description="CSV, TSV or GeoJSON.")],
    base: FirmBase,
    within_km: Annotated[float | None, Form(gt=0, le=2000, allow_inf_nan=False)] = None,
    bands: Annotated[str | None, Form(max_length=60, description="As in uhf,high_vhf.")] = None,
    replace: Annotated[bool, Form(description="Forget the stations that there are.")] = False,
    page: PageId = None,
) -> dict[str, Any]:
    """Read a list of stations into the survey."""
    outcome, read, notes = add_stations(
        bench.desk,
        file.file,
        file.filename or "",
        base,
        page,
        within_km=within_km,
        bands=bands,
        replace=replace,
    )
    message = bench.change_message(outcome, read=read)
    return message | {"notes": [*message["notes"], *notes]}


@router.post("/landmarks", response_model=replies.ListReply, responses=CONFLICT)
def landmarks(
    bench: TheBench,
    file: Annotated[UploadFile, File(description="CSV or GeoJSON.")],
    base: FirmBase,
    page: PageId = None,
) -> dict[str, Any]:
    """Read a list of landmarks into the survey."""
    outcome, read, notes = add_landmarks(bench.desk, file.file, file.filename or "", base, page)
    message = bench.change_message(outcome, read=read)
    return message | {"notes": [*message["notes"], *notes]}
