"""Keys work once and for a while; guessing is slowed down."""

from __future__ import annotations

import pytest

from skyview.workbench.keys import KEY_MINUTES, MOST_SESSIONS, MOST_WRONG, Keys, TooManyError


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


def test_a_key_lets_one_device_in_once():
    keys = Keys()
    key = keys.new_key()
    session = keys.exchange(key)
    assert keys.knows(session)
    assert keys.exchange(key) is None
    assert not keys.knows(None)
    assert not keys.knows("")
    assert not keys.knows(key)


def test_keys_and_sessions_are_long_and_never_the_same():
    keys = Keys()
    some = {keys.new_key() for _ in range(200)}
    assert len(some) == 200
    assert min(map(len, some)) >= 24
    assert len(keys.exchange(some.pop())) >= 43


def test_a_key_grows_old():
    clock = Clock()
    keys = Keys(clock)
    key = keys.new_key()
    clock.now = 60.0 * KEY_MINUTES + 1.0
    assert keys.exchange(key) is None


def test_guessing_is_stopped_for_a_minute_even_for_the_right_key():
    clock = Clock()
    keys = Keys(clock)
    key = keys.new_key()
    for number in range(MOST_WRONG):
        assert keys.exchange(f"guess {number}") is None
    with pytest.raises(TooManyError):
        keys.exchange(key)
    clock.now = 61.0
    assert keys.exchange(key) is not None


def test_sessions_are_bounded():
    keys = Keys()
    sessions = [keys.exchange(keys.new_key()) for _ in range(MOST_SESSIONS + 1)]
    assert not keys.knows(sessions[0])
    assert keys.knows(sessions[-1])
