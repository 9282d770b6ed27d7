"""Connections that never ask, ask drop by drop, or are too many."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
import time

import pytest
import uvicorn
from bench_client import HOST

from skyview.workbench import patience
from skyview.workbench.app import guarded
from skyview.workbench.bench import Bench
from skyview.workbench.gate import Door


@pytest.fixture
def port(tmp_path, monkeypatch):
    """A server in this process whose patience is half a second; the protocol is the real one."""
    monkeypatch.setattr(patience, "HEAD_SECONDS", 0.5)
    listening = socket.create_server(("127.0.0.1", 0))
    number = listening.getsockname()[1]
    door = Door(frozenset({f"127.0.0.1:{number}", HOST}))
    config = uvicorn.Config(
        guarded(Bench(tmp_path / "new"), door), http=patience.Impatient, log_level="critical",
        ws="none", timeout_graceful_shutdown=1,
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve([listening])))
    thread.start()
    yield number
    server.should_exit = True
    thread.join()
    listening.close()


def head(port):
    return f"GET /api/state HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()


def drip(one, content):
    for letter in content:
        one.send(bytes([letter]))
        time.sleep(0.05)


def answered(one):
    """The whole answer, which is one object of JSON."""
    content = b""
    while not content.endswith(b"}}"):
        content += one.recv(10_000)
    return content


def seconds_until_closed(one, most=5.0):
    start = time.monotonic()
    one.settimeout(most)
    with contextlib.suppress(ConnectionResetError):
        while one.recv(1000):
            pass
    return time.monotonic() - start


def test_who_never_asks_is_cut_off(port):
    with socket.create_connection(("127.0.0.1", port)) as one:
        assert 0.3 < seconds_until_closed(one) < 4.0


def test_who_asks_drop_by_drop_is_cut_off(port):
    with socket.create_connection(("127.0.0.1", port)) as one:
        start = time.monotonic()
        with pytest.raises(OSError, match=r"reset|pipe"):
            drip(one, head(port)[:-1] * 10)
        assert time.monotonic() - start < 4.0


def test_a_second_request_drop_by_drop_is_cut_off_too(port):
    with socket.create_connection(("127.0.0.1", port)) as one:
        one.sendall(head(port))
        assert b"200 OK" in answered(one)
        one.sendall(b"GET /api/st")
        assert 0.3 < seconds_until_closed(one) < 4.0


def test_who_asks_again_and_again_stays(port):
    with socket.create_connection(("127.0.0.1", port)) as one:
        for _ in range(4):
            one.sendall(head(port))
            assert b"200 OK" in answered(one)
            time.sleep(0.3)


def test_one_device_cannot_hold_all_connections(port, monkeypatch):
    monkeypatch.setattr(patience, "HEAD_SECONDS", 30.0)
    monkeypatch.setattr(patience, "MOST_EACH", 8)
    with contextlib.ExitStack() as held:
        many = [
            held.enter_context(socket.create_connection(("127.0.0.1", port))) for _ in range(12)
        ]
        assert all(seconds_until_closed(one) < 4.0 for one in many[8:])
        many[0].sendall(head(port))
        assert b"200 OK" in answered(many[0])
