"""The application: routes, errors as sentences, the page's own files."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import os
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, Response
from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles

from skyview import __version__
from skyview.errors import InputError, SkyviewError, StorageError
from skyview.workbench import routes_answer, routes_files, routes_survey, routes_view
from skyview.workbench.bench import Bench
from skyview.workbench.desk import NoSurveyError, NothingError, StaleError
from skyview.workbench.gate import Door, Gate
from skyview.workbench.replies import Problem

STATIC = Path(__file__).parent / "static"

_EVERYWHERE = {
    400: "The request is not of the form that HTTP or JSON wants.",
    401: "This device has not been let in.",
    403: "Another page asked, or under another name.",
    404: "There is no such thing, or no survey is open.",
    405: "Not this method.",
    408: "The request came in too slowly.",
    413: "It is too large.",
    414: "The address is too long.",
    422: "It cannot be right; the sentence says what would be.",
    429: "Too many wrong keys.",
    500: "A fault of the program.",
    503: "The survey's folder cannot be read or written just now.",
}


def application(bench: Bench) -> FastAPI:
    """The application without its door: for the server, and for tests of single routes."""

    @contextlib.asynccontextmanager
    async def alive(_: FastAPI) -> AsyncIterator[None]:
        watching = asyncio.create_task(bench.watch())
        try:
            yield
        finally:
            watching.cancel()
            bench.hub.close()
            bench.jobs.close()

    app = FastAPI(
        title="skyview workbench",
        version=__version__,
        description="Mark on the picture, see the answer at once. Degrees, metres, MHz, dB.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=alive,
        responses={
            status: {"model": Problem, "description": text} for status, text in _EVERYWHERE.items()
        },
    )
    app.state.bench = bench
    for routes in (routes_survey, routes_files, routes_view, routes_answer):
        app.include_router(routes.router)
    _hear_errors(app)

    @app.get("/", include_in_schema=False)
    def page() -> Response:
        return FileResponse(STATIC / "index.html", headers={"cache-control": "no-cache"})

    app.mount("/static", _Static(directory=STATIC), name="static")
    return app


def guarded(bench: Bench, door: Door) -> Gate:
    """The application behind its door."""
    return Gate(application(bench), door)


class _Static(StaticFiles):
    """The page's files, asked for again each time: a new version must not meet an old one."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        response = super().file_response(*args, **kwargs)
        response.headers["cache-control"] = "no-cache"
        return response

    def lookup_path(self, path: str) -> tuple[str, os.stat_result | None]:
        # Older versions of the library let the file system stumble over it.
        return ("", None) if "\0" in path else super().lookup_path(path)


def _problem(
    status: int, message: str, field: str | None = None, mend: str | None = None, **more: Any
) -> Response:
    content = {"message": message, "field": field, "mend": mend, **more}
    # ASCII: what the client sent may hold halves of characters.
    return Response(json.dumps(content), status, media_type="application/json")


def _hear_errors(app: FastAPI) -> None:
    """Every error leaves as one sentence, the field it is about and what would mend it."""

    @app.exception_handler(SkyviewError)
    async def skyview_error(_: Request, error: SkyviewError) -> Response:
        status = 422 if isinstance(error, InputError) else 503
        if not isinstance(error, InputError | StorageError):
            status = 500
        return _problem(status, error.message, error.field, error.mend)

    @app.exception_handler(NoSurveyError)
    async def no_survey(_: Request, __: NoSurveyError) -> Response:
        return _problem(
            404, "no survey is open yet", None, "drop a photograph, or give the site's place"
        )

    @app.exception_handler(NothingError)
    async def nothing(_: Request, error: NothingError) -> Response:
        return _problem(409, error.message, None, None, code=error.code)

    @app.exception_handler(StaleError)
    async def stale(request: Request, error: StaleError) -> Response:
        bench: Bench = request.app.state.bench
        content = await asyncio.to_thread(bench.stale_message, error.base)
        return Response(json.dumps(content), 409, media_type="application/json")

    @app.exception_handler(RequestValidationError)
    async def invalid(_: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        place = [str(step) for step in first["loc"] if step not in ("body", "query", "path")]
        message = str(first["msg"])
        message = message[0].lower() + message[1:]
        return _problem(422, message, ".".join(place[:12])[:200] or None, None)

    @app.exception_handler(HTTPException)
    async def http(_: Request, error: HTTPException) -> Response:
        message = str(error.detail)
        mend = getattr(error, "mend", None)
        return _problem(error.status_code, message[0].lower() + message[1:], None, mend)

    @app.exception_handler(Exception)
    async def fault(_: Request, error: Exception) -> Response:
        logging.getLogger(__name__).error("a request failed", exc_info=error)
        return _problem(500, "the program failed at this", None, "try again; report it if it stays")
