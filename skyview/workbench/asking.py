"""What routes share: the bench, the page that asks, answers as JSON."""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Header, Query, Request
from fastapi.responses import Response

from skyview.errors import InputError
from skyview.survey.models import Survey, View
from skyview.survey.scene import Leaf
from skyview.workbench.bench import Bench

PAGE = r"^[A-Za-z0-9_-]{8,64}$"
_WORTH_PACKING = 4000


def bench_of(request: Request) -> Bench:
    """The bench of the application that was asked."""
    bench: Bench = request.app.state.bench
    return bench


TheBench = Annotated[Bench, Depends(bench_of)]
PageId = Annotated[
    str | None,
    Header(alias="X-Skyview-Page", pattern=PAGE, description="The tab; it comes back in events."),
]
ViewId = Annotated[str, Query(min_length=1, max_length=64, description="Id of a view.")]
MaybeView = Annotated[str | None, Query(min_length=1, max_length=64, description="Id of a view.")]
MaybeSpot = Annotated[
    str | None,
    Query(min_length=1, max_length=64, description="Id of a spot; the first if left out."),
]
Height = Annotated[
    float | None,
    Query(
        ge=0,
        le=60,
        allow_inf_nan=False,
        description="Antenna above the spot; its highest if left out. [m]",
    ),
]


@dataclass(frozen=True)
class Where:
    """The antenna position that is asked about."""

    spot: MaybeSpot = None
    height_m: Height = None
    leaf: Leaf = "in"


There = Annotated[Where, Depends()]


def answer(request: Request, content: dict[str, Any], status: int = 200) -> Response:
    """JSON, packed where it is large and the browser takes it."""
    body = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    headers = {}
    if len(body) > _WORTH_PACKING and "gzip" in request.headers.get("accept-encoding", ""):
        body = gzip.compress(body, 4)
        headers = {"content-encoding": "gzip", "vary": "accept-encoding"}
    return Response(body, status, headers, "application/json")


def view_of(survey: Survey, name: str) -> View:
    """The view of this id. InputError if there is none."""
    view = next((v for v in survey.views if v.id == name), None)
    if view is None:
        raise InputError(f"no view is called {name}", None, "view", "choose another")
    return view
