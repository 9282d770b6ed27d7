"""Who may come in when the page is shared: keys that work once, and sessions.

A key stands in an address for a few minutes and lets one device in; the device then holds a
cookie that scripts cannot read. Both are random numbers that nobody guesses; wrong keys are
counted all the same.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from hashlib import sha256

KEY_MINUTES = 15
MOST_WRONG = 20
"""After so many wrong keys in ``WRONG_WITHIN_S`` seconds none is looked at for the rest of them."""

WRONG_WITHIN_S = 60.0
MOST_SESSIONS = 64


class TooManyError(Exception):
    """Too many wrong keys were tried."""


class Keys:
    """Keys and sessions of one running server, kept in memory only."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._keys: dict[bytes, float] = {}
        self._sessions: dict[bytes, None] = {}
        self._wrong: list[float] = []

    def new_key(self) -> str:
        """A key that lets one device in, once, within ``KEY_MINUTES``."""
        key = secrets.token_urlsafe(18)
        with self._lock:
            self._keys[_digest(key)] = self._clock() + 60.0 * KEY_MINUTES
        return key

    def exchange(self, key: str) -> str | None:
        """A session for a key, which is then used up; None for a wrong one.

        TooManyError while too many wrong ones were tried.
        """
        now, digest = self._clock(), _digest(key)
        with self._lock:
            self._wrong = [t for t in self._wrong if now - t < WRONG_WITHIN_S]
            if len(self._wrong) >= MOST_WRONG:
                raise TooManyError
            until = self._keys.pop(digest, None)
            if until is None or until < now:
                self._wrong.append(now)
                return None
            session = secrets.token_urlsafe(32)
            self._sessions[_digest(session)] = None
            while len(self._sessions) > MOST_SESSIONS:
                del self._sessions[next(iter(self._sessions))]
            return session

    def knows(self, session: str | None) -> bool:
        """Whether this is the session of a device that was let in."""
        if not session:
            return False
        with self._lock:
            return _digest(session) in self._sessions


def _digest(secret: str) -> bytes:
    """What is compared and kept in place of a secret: equal digests tell nothing by their time."""
    return sha256(secret.encode("utf-8", "surrogatepass")).digest()
