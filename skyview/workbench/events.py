"""News for open pages: server-sent events, published from any thread."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable
from typing import Any

BEAT_S = 15.0
"""A comment line so often keeps the connection alive."""

MOST_PAGES = 32
_QUEUE = 256


class Hub:
    """Carries news to every page that listens."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pages: dict[asyncio.Queue[str | None], asyncio.AbstractEventLoop] = {}

    def publish(self, name: str, data: dict[str, Any]) -> None:
        """Send one event to all; a page that does not keep up is cut off and will come again."""
        text = as_event(name, data)
        with self._lock:
            pages = list(self._pages.items())
        for queue, loop in pages:
            if not loop.is_closed():
                loop.call_soon_threadsafe(_offer, queue, text)

    def close(self) -> None:
        """End every stream, so that the server can stop."""
        with self._lock:
            pages = list(self._pages.items())
        for queue, loop in pages:
            if not loop.is_closed():
                loop.call_soon_threadsafe(_offer, queue, None)

    async def listen(self, hello: Callable[[], dict[str, Any]]) -> AsyncIterator[str]:
        """Events as text, a greeting first, until the page goes away."""
        queue: asyncio.Queue[str | None] = asyncio.Queue(_QUEUE)
        loop = asyncio.get_running_loop()
        with self._lock:
            if len(self._pages) >= MOST_PAGES:
                oldest = next(iter(self._pages))
                loop.call_soon(_offer, oldest, None)
            self._pages[queue] = loop
        try:
            yield as_event("hello", await asyncio.to_thread(hello))
            while True:
                try:
                    text = await asyncio.wait_for(queue.get(), BEAT_S)
                except TimeoutError:
                    yield ": beat\n\n"
                    continue
                if text is None:
                    return
                yield text
        finally:
            with self._lock:
                self._pages.pop(queue, None)


def _offer(queue: asyncio.Queue[str | None], text: str | None) -> None:
    if queue.full():
        while not queue.empty():
            queue.get_nowait()
        text = None
    queue.put_nowait(text)


def as_event(name: str, data: dict[str, Any]) -> str:
    """One event as the stream has it.

    >>> as_event("revision", {"revision": 3})
    'event: revision\\ndata: {"revision": 3}\\n\\n'
    """
    return f"event: {name}\ndata: {json.dumps(data, ensure_ascii=False)}\n\n"
