"""How long a connection may take to ask for something, and how many one device may hold.

The door bounds what comes after a request's head; here the head itself is bounded, since who
never ends it would hold one of the server's connections for good.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 10.0
"""From the first moment of a connection, or the first byte of a further request, to the end of
its head."""

MOST_EACH = 64
"""Connections that one address may hold; a browser opens six and one for the events."""


class Impatient(H11Protocol):
    """HTTP that closes connections whose request does not come, and those that are too many."""

    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        addresses = [_address(connection) for connection in self.connections]
        if addresses.count(_address(self)) > MOST_EACH:
            transport.abort()
        else:
            self._timer = self.loop.call_later(HEAD_SECONDS, self._give_up)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if not self._waits():
            self._stop_waiting()
        elif self._timer is None:
            self._timer = self.loop.call_later(HEAD_SECONDS, self._give_up)

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop_waiting()
        super().connection_lost(exc)

    def _waits(self) -> bool:
        """Whether no request is being answered."""
        return self.cycle is None or self.cycle.response_complete

    def _stop_waiting(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _give_up(self) -> None:
        self._timer = None
        if self._waits():
            self.transport.abort()


def _address(connection: Any) -> str | None:
    return connection.client[0] if connection.client else None
