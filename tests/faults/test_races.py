"""Many writers at once: each change that was acknowledged is there, none is there twice."""

from __future__ import annotations

import json
import threading

from bench_client import put
from bench_process import served

from skyview.survey.storage import load

WRITERS = 4
CHANGES = 5


def spot(writer: int, number: int) -> dict[str, object]:
    return {"id": f"w{writer}-{number}", "enu_m": [number, writer, 5], "heights_m": [1]}


def test_command_lines_and_the_page_lose_nothing_to_each_other(forge, home):
    folder, acknowledged = home / "survey", set()
    start = load(folder).revision

    def post(server):
        for number in range(CHANGES):
            for _ in range(200):
                body = {"base": server.revision(), "label": "s",
                        "changes": [put("spots", **spot(9, number))]}  # fmt: skip
                told = server.client.post("/api/changes", json=body)
                assert told.status_code in (200, 409, 503), told.text
                if told.status_code == 200:
                    acknowledged.add(f"w9-{number}")
                    break

    with served(folder) as server:
        jobs = [
            forge.start(
                home,
                [["set", folder, "--add", "spots", json.dumps(spot(writer, number))]
                 for number in range(CHANGES)],
                name=f"w{writer}", stops=False, together=home / "go",
            )
            for writer in range(WRITERS)
        ]  # fmt: skip
        poster = threading.Thread(target=post, args=(server,))
        (home / "go").touch()
        poster.start()
        for job in jobs:
            job.wait()
        poster.join()
        history = server.client.get("/api/history?limit=1000").json()["rows"]
    for writer, job in enumerate(jobs):
        assert len(job.codes) == CHANGES
        assert set(job.codes) <= {0, 1}, job.said
        acknowledged |= {f"w{writer}-{n}" for n, code in enumerate(job.codes) if code == 0}
        refusals = [line for line in job.said.splitlines() if line]
        assert len(refusals) == job.codes.count(1)
        assert all("another program is writing this survey" in line for line in refusals)
    now = load(folder)
    found = [item.id for item in now.spots if item.id.startswith("w")]
    assert sorted(found) == sorted(acknowledged)
    assert now.revision == start + len(acknowledged)
    assert len(history) == len([name for name in acknowledged if name.startswith("w9")])
    assert len(acknowledged) > WRITERS


def test_a_stale_change_is_refused_and_told_what_is_new(forge, home):
    folder = home / "survey"
    with served(folder) as server:
        base = server.revision()
        assert forge.run(home, "set", folder, "title=Other").code == 0
        body = {"base": base, "label": "s", "changes": [put("spots", **spot(1, 1))]}
        told = server.client.post("/api/changes", json=body)
    assert told.status_code == 409
    assert load(folder).title == "Other"
    assert load(folder).revision == base + 1
