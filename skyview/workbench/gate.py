"""What every request passes before anything looks at it, and what every answer carries.

Host and Origin must be names that the server itself was started under; a shared server wants a
session; bodies are bounded in bytes and in time.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from starlette.exceptions import HTTPException

from skyview.workbench.keys import Keys, TooManyError

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

MEGABYTE = 1_000_000
LARGEST_UPLOAD = 200 * MEGABYTE
LARGEST_LIST = 20 * MEGABYTE
LARGEST_BODY = 4 * MEGABYTE
UPLOADS = {
    "/api/photos": LARGEST_UPLOAD,
    "/api/stations": LARGEST_LIST,
    "/api/landmarks": LARGEST_LIST,
}
"""Paths that take files, and how large."""

BODY_SECONDS = 20.0
UPLOAD_SECONDS = 300.0
_LONGEST_URL = 20_000

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

HEADERS = (
    (b"content-security-policy", CONTENT_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(self)"),
)


@dataclass(frozen=True)
class Door:
    """Under which names the server is reached, and whether a session is wanted."""

    hosts: frozenset[str]
    """Values of Host that are ours, as ``127.0.0.1:8080``."""
    keys: Keys | None = None
    """None: only this computer can reach the server, and nobody is asked."""
    body_seconds: float = BODY_SECONDS
    upload_seconds: float = UPLOAD_SECONDS
    on_entry: Callable[[], None] | None = None
    """Called when a device has used up a key."""


class _RefusedError(HTTPException):
    """Refused at the door: an error that the frameworks pass on as it is."""

    def __init__(self, status: int, message: str, mend: str | None = None) -> None:
        super().__init__(status, message)
        self.mend = mend


class Gate:
    """The application behind its door."""

    def __init__(self, app: App, door: Door) -> None:
        self._app, self._door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            # Nothing here speaks WebSocket: such a request is answered by closing it.
            await send({"type": "websocket.close", "code": 1008})
            return
        started = False

        async def send_on(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        extra = list(HEADERS)
        if scope["path"].startswith("/api/") and not scope["path"].startswith("/api/pictures/"):
            extra.append((b"cache-control", b"no-store"))
        try:
            self._check_names(scope)
            cookie = self._check_session(scope)
            if cookie is not None:
                extra.append((b"set-cookie", cookie.encode()))
            await self._app(scope, self._bounded(scope, receive), send_on)
        except _RefusedError as refused:
            if not started:
                await _answer(send_on, refused)

    def _check_names(self, scope: Scope) -> None:
        """Host, Origin and where the browser says that the request comes from."""
        if len(scope.get("raw_path") or b"") + len(scope.get("query_string") or b"") > _LONGEST_URL:
            raise _RefusedError(414, "the address is too long")
        hosts = _values(scope, b"host")
        if len(hosts) != 1 or hosts[0].lower() not in self._door.hosts:
            raise _RefusedError(
                403,
                "this page is not served under that name",
                "open the address that was printed when the server started",
            )
        origins = _values(scope, b"origin")
        if any(origin.lower() != f"http://{hosts[0].lower()}" for origin in origins):
            raise _RefusedError(403, "another page asked for this", "use the page itself")
        site = _values(scope, b"sec-fetch-site")
        opened = (
            scope["path"] == "/"
            and scope["method"] in ("GET", "HEAD")
            and _values(scope, b"sec-fetch-mode") == ["navigate"]
        )
        if not opened and any(value not in ("same-origin", "none") for value in site):
            raise _RefusedError(403, "another page asked for this", "use the page itself")

    def _check_session(self, scope: Scope) -> str | None:
        """Pass a device that has a session or a key; a new session is given back as a cookie."""
        keys = self._door.keys
        name = cookie_name(_values(scope, b"host")[0])
        if keys is None or keys.knows(_cookie(scope, name)):
            return None
        wanted = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("key", [])
        if scope["path"] != "/" or not wanted:
            raise _RefusedError(
                401, "this device has not been let in", "scan the code, or open the whole address"
            )
        try:
            session = keys.exchange(wanted[0])
        except TooManyError:
            raise _RefusedError(
                429, "too many wrong keys were tried", "wait a minute, then ask for a new code"
            ) from None
        if session is None:
            raise _RefusedError(401, "this key is wrong, too old or used up", "ask for a new code")
        if self._door.on_entry is not None:
            self._door.on_entry()
        return f"{name}={session}; Path=/; HttpOnly; SameSite=Strict"

    def _bounded(self, scope: Scope, receive: Receive) -> Receive:
        """``receive`` that stops at the bounds of bytes and time."""
        is_upload = scope["path"] in UPLOADS
        most = UPLOADS.get(scope["path"], LARGEST_BODY)
        seconds = self._door.upload_seconds if is_upload else self._door.body_seconds
        for value in _values(scope, b"content-length"):
            if not value.isdecimal() or int(value) > most:
                raise _too_large(most)
        until = time.monotonic() + seconds
        taken, ended = 0, False

        async def bounded() -> Message:
            nonlocal taken, ended
            if ended:
                return await receive()
            try:
                message = await asyncio.wait_for(receive(), max(until - time.monotonic(), 0.001))
            except TimeoutError:
                raise _RefusedError(
                    408, "it came in too slowly", "try again nearer to the router"
                ) from None
            if message["type"] == "http.request":
                taken += len(message.get("body", b""))
                ended = not message.get("more_body", False)
                if taken > most:
                    raise _too_large(most)
            return message

        return bounded


def _too_large(most: int) -> _RefusedError:
    return _RefusedError(413, f"it is larger than {most // MEGABYTE} MB", "send a smaller file")


def _values(scope: Scope, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key == name]


def cookie_name(host: str) -> str:
    """The session's cookie: browsers share cookies between the ports of one computer.

    >>> cookie_name("127.0.0.1:8765")
    'skyview_8765'
    """
    return f"skyview_{host.rpartition(':')[2]}"


def _cookie(scope: Scope, name: str) -> str | None:
    jar: SimpleCookie = SimpleCookie()
    try:
        for value in _values(scope, b"cookie"):
            jar.load(value)
    except CookieError:
        return None
    return jar[name].value if name in jar else None


async def _answer(send: Send, refused: _RefusedError) -> None:
    content = {"message": refused.detail, "field": None, "mend": refused.mend}
    body = json.dumps(content).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": refused.status_code, "headers": headers})
    await send({"type": "http.response.body", "body": body})
