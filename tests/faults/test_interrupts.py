"""Ctrl-C in every command that takes its time: 130, one line, nothing half-written."""

from __future__ import annotations

import json
import random
import signal
import time

import pytest
from forge import IDLE
from long_verbs import LONG, is_whole

from skyview.survey.storage import editing

SENTENCE = "skyview: interrupted: nothing was half-written"


def interrupted(forge, home, verb, seconds, name="job"):
    """The command, interrupted after so many seconds: its exit code; everything is looked at."""
    revision = json.loads((home / "survey" / "survey.json").read_text("utf-8"))["revision"]
    job = forge.start(home, [verb.words], name=name)
    time.sleep(seconds)
    if job.codes == []:
        job.send(signal.SIGINT)
    code = job.wait()
    if code == IDLE:
        return code
    lines = [line for line in job.said.splitlines() if line and not line.startswith("note: ")]
    assert code in (0, 130), (verb, seconds, code, job.said)
    assert lines == ([SENTENCE] if code == 130 else []), (verb, seconds, lines)
    for written in verb.writes:
        file = home / written
        assert file.exists() or code == 130, (verb, written)
        assert not file.exists() or is_whole(file), (verb, written)
    assert list(home.rglob(".*.part")) == [], (verb, seconds)
    with editing(home / "survey", lock_timeout_s=0.5) as edit:
        assert edit.survey.revision in (revision, revision + 1)
    return code


@pytest.mark.parametrize("verb", LONG, ids=lambda verb: verb.name)
def test_one_interrupt(forge, home, verb):
    moment = random.Random(verb.name).uniform(0.01, 0.3)
    interrupted(forge, home, verb, moment)


@pytest.mark.slow
@pytest.mark.parametrize("verb", LONG, ids=lambda verb: verb.name)
def test_interrupts_all_along(forge, home, verb):
    """Twelve moments from the first to the last of the whole run."""
    start = time.monotonic()
    assert forge.run(home, *verb.words, name="whole").code == 0
    length = time.monotonic() - start
    codes = [interrupted(forge, home, verb, length * n / 12, f"job{n}") for n in range(12)]
    assert 130 in codes
