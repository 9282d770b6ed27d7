"""The real server: killed at any moment, slow clients, two pages, shared with a phone."""

from __future__ import annotations

import json
import random
import shutil
import signal
import socket
import threading
import time

import httpx
import pytest
from bench_client import change, patch, revision
from bench_process import served

from skyview.survey.storage import load


def distance(folder):
    return next(o for o in load(folder).obstructions if o.id == "oak").distance_m


def move(server, value):
    body = {"base": server.revision(), "label": f"to {value}",
            "changes": [patch("obstructions", "oak", distance_m=value)]}  # fmt: skip
    return server.client.post("/api/changes", json=body)


def killed_while_working(folder, seed):
    """Change as fast as it goes, kill at a random moment: the last acknowledged and last asked."""
    chance = random.Random(seed)
    acknowledged = asked = distance(folder)
    with served(folder) as server:
        timer = threading.Timer(chance.uniform(0.5, 1.5), server.kill)
        base = server.revision()
        timer.start()
        try:
            for value in range(10, 10_000):
                asked = float(value)
                body = {"base": base, "label": f"to {value}",
                        "changes": [patch("obstructions", "oak", distance_m=asked)]}  # fmt: skip
                told = server.client.post("/api/changes", json=body)
                assert told.status_code == 200, told.text
                base, acknowledged = told.json()["revision"], asked
        except httpx.TransportError:
            pass
        timer.join()
    return acknowledged, asked


@pytest.fixture(scope="module")
def shared(sample_folder, tmp_path_factory):
    """One running server for tests that only move the oak."""
    with served(shutil.copytree(sample_folder, tmp_path_factory.mktemp("shared") / "s")) as server:
        yield server


SEEDS = [1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (2, 3))]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_killed_server_loses_nothing_that_it_acknowledged(small_folder, open_door, seed):
    folder = small_folder
    before = distance(folder)
    acknowledged, asked = killed_while_working(folder, seed)
    kept = distance(folder)
    assert kept in (acknowledged, asked)
    client = open_door(folder)
    rows = client.get("/api/history?limit=1000").json()["rows"]
    done = range(10, int(kept) + 1) if kept != before else []
    assert [row["label"] for row in rows] == [f"to {value}" for value in reversed(done)]
    for value in reversed(done):
        undone = client.post("/api/undo", json={"base": revision(client)})
        assert undone.status_code == 200
        assert distance(folder) == (value - 1 if value > 10 else before)


def events_of(server, until, seconds=60.0):
    """Names and data of events until one satisfies ``until``."""
    heard = []
    with server.client.stream("GET", "/api/events", timeout=seconds) as stream:
        name = None
        for line in stream.iter_lines():
            if line.startswith("event: "):
                name = line.removeprefix("event: ")
            elif line.startswith("data: "):
                heard.append((name, json.loads(line.removeprefix("data: "))))
                if until(heard):
                    return heard
    raise AssertionError("the stream ended")


def test_a_second_page_sees_what_the_first_does_and_what_other_programs_do(folder):
    from skyview.survey.edit import set_field
    from skyview.survey.storage import editing

    with served(folder) as server:
        other = httpx.Client(base_url=server.home, timeout=30, trust_env=False)

        def work():
            time.sleep(0.5)
            body = {"base": server.revision(), "label": "pace",
                    "changes": [patch("obstructions", "oak", distance_m=33)]}  # fmt: skip
            other.post("/api/changes", json=body, headers={"X-Skyview-Page": "page-0001"})
            with editing(folder) as edit:
                edit.survey = set_field(edit.survey, "title", "by hand")

        worker = threading.Thread(target=work)
        worker.start()
        heard = events_of(server, lambda h: sum(n == "revision" for n, _ in h) == 2)
        worker.join()
        other.close()
    assert heard[0][0] == "hello"
    first, second = (data for name, data in heard if name == "revision")
    assert (first["by"], first["label"]) == ("page-0001", "pace")
    assert first["history"]["undo"]["label"] == "pace"
    assert second["by"] is None
    assert second["revision"] == first["revision"] + 1


def test_the_server_stops_politely_though_pages_listen(folder):
    with served(folder) as server:

        def listen():
            with pytest.raises(AssertionError, match="the stream ended"):
                events_of(server, lambda heard: False)

        listener = threading.Thread(target=listen)
        listener.start()
        time.sleep(0.5)
        server.process.send_signal(signal.SIGINT)
        assert server.process.wait(timeout=60) == 130
        listener.join(timeout=60)
        assert (
            server.process.stderr.read().strip() == "skyview: interrupted: nothing was half-written"
        )


def test_a_body_that_trickles_is_given_up(folder, open_door, monkeypatch):
    """Three seconds instead of twenty, so that the test is short; the clock is the same."""
    from bench_client import HOST

    from skyview.workbench.gate import Door

    client = open_door(folder, Door(frozenset({HOST}), body_seconds=0.3))

    def trickle():
        for _ in range(20):
            yield b" "
            time.sleep(0.1)

    start = time.monotonic()
    refused = client.post(
        "/api/changes", content=trickle(), headers={"content-type": "application/json"}
    )
    assert refused.status_code in (408, 422)
    assert time.monotonic() - start < 10.0


def test_slow_clients_do_not_keep_others_waiting(shared):
    port = int(shared.home.rsplit(":", 1)[1])
    slow = []
    for _ in range(40):
        one = socket.create_connection(("127.0.0.1", port))
        head = f"POST /api/changes HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
        head += "Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{"
        one.send(head.encode())
        slow.append(one)
    start = time.monotonic()
    assert shared.client.get("/api/state").status_code == 200
    assert move(shared, 27).status_code == 200
    # The slow ones are given up after 20 s: an answer that waited for them would take as long.
    assert time.monotonic() - start < 15.0
    for one in slow:
        one.close()


def test_only_this_computer_is_let_in_unless_shared(shared):
    from skyview.workbench.server import own_addresses

    port = int(shared.home.rsplit(":", 1)[1])
    assert shared.home.startswith("http://127.0.0.1:")
    outside = [a for a in own_addresses() if not a.startswith("127.")]
    for address in outside:
        with pytest.raises(OSError), socket.create_connection((address, port), timeout=2):  # noqa: PT011
            pass


def test_a_phone_is_let_in_by_the_code_on_the_page(folder):
    with served(folder, "--share") as server:
        assert "key=" in server.address
        assert server.client.get("/api/survey").status_code == 401
        server.client.get(server.address)
        assert server.client.get("/api/survey").status_code == 200
        invited = server.client.post("/api/share").json()
        assert invited["qr_svg"].startswith("data:image/svg+xml;base64,")
        address = invited["address"]
        for _ in range(50):
            told = "".join(server.said)
            if told.count("/?key=") >= 2:
                break
            time.sleep(0.1)
        assert "a device has been let in" in told
        assert "█" in told or "▄" in told
        with httpx.Client(trust_env=False, timeout=30) as phone:
            host = address.split("/?")[0]
            assert phone.get(f"{host}/api/state").status_code == 401
            phone.get(address)
            assert phone.get(f"{host}/api/state").status_code == 200
        with httpx.Client(trust_env=False, timeout=30) as thief:
            assert thief.get(address).status_code == 401


def test_without_sharing_there_is_no_code(client):
    refused = client.post("/api/share")
    assert refused.status_code == 409
    assert refused.json()["code"] == "not_shared"


def test_without_a_survey_a_new_one_begins_where_the_program_runs(tmp_path):
    with served(None, cwd=tmp_path) as server:
        assert server.client.get("/api/state").json()["open"] is False
        assert list(tmp_path.iterdir()) == []
        place = {"latitude_deg": 40, "longitude_deg": -100}
        assert server.client.post("/api/begin", json=place).status_code == 201
    assert (tmp_path / "survey" / "survey.json").is_file()


def test_a_port_that_is_taken_is_one_sentence(shared, small_folder):
    import subprocess
    import sys

    from bench_process import RUN

    port = shared.home.rsplit(":", 1)[1]
    words = [sys.executable, "-c", RUN, "serve", str(small_folder), "--no-open", "--port", port]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.strip().endswith("choose another, or leave it out.")
    with served(small_folder) as second:
        assert second.home != shared.home


def test_servers_that_start_together_get_ports_of_their_own():
    from skyview.workbench.server import listen

    found = [listen(None, share=False) for _ in range(5)]
    try:
        assert len({one.port for one in found}) == 5
        for one in found:
            assert f"127.0.0.1:{one.port}" in one.hosts
    finally:
        for one in found:
            one.socket.close()


def test_two_servers_on_one_survey_do_not_lose_each_others_work(small_folder, open_door):
    """One in a process of its own, the other in this one."""
    other = open_door(small_folder)
    with served(small_folder) as one:
        assert move(one, 21).status_code == 200
        moved = change(other, patch("obstructions", "oak", distance_m=22), label="to 22")
        assert moved.status_code == 200
        assert move(one, 23).status_code == 200
        labels = [r["label"] for r in other.get("/api/history").json()["rows"]]
        assert labels == ["to 23", "to 22", "to 21"]
        undone = other.post("/api/undo", json={"base": revision(other)})
        assert undone.status_code == 200
        assert distance(small_folder) == 22
