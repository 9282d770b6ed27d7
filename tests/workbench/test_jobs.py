"""Long work: told, stopped, not done twice, and apart from the server where it is heavy."""

from __future__ import annotations

import subprocess
import sys
import threading
import time

import pytest
from apart_work import add, die, refuse, sleep_long

from skyview.errors import InputError
from skyview.workbench.events import Hub
from skyview.workbench.jobs import Jobs, apart


class Ear(Hub):
    """Hears what would be sent to the pages."""

    def __init__(self):
        super().__init__()
        self.heard = []

    def publish(self, name, data):
        self.heard.append((name, data))


def wait(job, state):
    for _ in range(600):
        if job.state == state:
            return
        time.sleep(0.05)
    raise AssertionError(f"{job.state} instead of {state}")


def heard(hub, job, state):
    for _ in range(100):
        if any(d["id"] == job.id and d["state"] == state for _, d in list(hub.heard)):
            return True
        time.sleep(0.05)
    return False


def test_work_is_done_once_and_told():
    hub, runs = Ear(), []
    jobs = Jobs(hub)

    def work(report):
        runs.append(1)
        report(0.5)
        return "found"

    job = jobs.start("kind", "key", {}, work)
    wait(job, "done")
    assert jobs.start("kind", "key", {}, work) is job
    assert (job.found, runs) == ("found", [1])
    assert [d["state"] for _, d in hub.heard] == ["working", "working", "done"]
    assert [d["share"] for _, d in hub.heard] == [0.0, 0.5, 1.0]


def test_failed_work_says_why_and_is_tried_again_after_a_while(monkeypatch):
    hub = Ear()
    jobs = Jobs(hub)

    def work(report):
        raise InputError("it cannot be", None, "field", "do otherwise")

    job = jobs.start("kind", "key", {}, work)
    wait(job, "failed")
    assert job.error == {"message": "it cannot be", "field": "field", "mend": "do otherwise"}
    assert heard(hub, job, "failed")
    assert jobs.start("kind", "key", {}, work) is job
    with pytest.raises(InputError, match="it cannot be"):
        job.raise_fault()
    monkeypatch.setattr("skyview.workbench.jobs.RETRY_S", 0.0)
    assert jobs.start("kind", "key", {}, work) is not job


def test_work_can_be_stopped_and_older_questions_stop_by_themselves():
    hub = Ear()
    jobs, begun = Jobs(hub), threading.Event()

    def endless(report):
        while True:
            begun.set()
            report(0.1)
            time.sleep(0.01)

    first = jobs.start("heights", "a", {}, endless, basis="3")
    assert begun.wait(5)
    other = jobs.start("loss", "a", {}, endless, basis="3")
    jobs.start("heights", "b", {}, lambda report: None, basis="4")
    wait(first, "cancelled")
    assert other.state == "working"
    jobs.cancel(other)
    wait(other, "cancelled")


def test_of_one_slot_only_the_newest_question_is_answered():
    jobs, begun = Jobs(Ear()), threading.Event()

    def endless(report):
        while True:
            begun.set()
            report(0.1)
            time.sleep(0.01)

    def ask(key, work, slot):
        return jobs.start("skyline", key, {}, work, basis=key, slot=slot)

    elsewhere = ask("a", endless, "sweep")
    first = ask("b", lambda report: "first", "gable")
    wait(first, "done")
    assert ask("b", lambda report: "first", "gable") is first
    second = ask("c", endless, "gable")
    assert begun.wait(5)
    third = ask("b", lambda report: "anew", "gable")
    wait(second, "cancelled")
    wait(third, "done")
    assert (third.found, elsewhere.state) == ("anew", "working")
    jobs.close()


def test_apart_gives_back_what_was_found_and_what_went_wrong():
    shares = []
    assert apart(shares.append, add, 1, 2) == 3
    assert 0.5 in shares
    with pytest.raises(InputError) as caught:
        apart(shares.append, refuse)
    assert (caught.value.field, caught.value.mend) == ("place", "yes")
    with pytest.raises(Exception, match="ended by the system"):
        apart(shares.append, die)


def test_apart_ends_at_once_when_it_is_stopped():
    hub = Ear()
    jobs = Jobs(hub)
    job = jobs.start("skyline", "a", {}, lambda report: apart(report, sleep_long))
    for _ in range(300):
        if job.share >= 0.1:
            break
        time.sleep(0.05)
    start = time.monotonic()
    jobs.cancel(job)
    wait(job, "cancelled")
    assert time.monotonic() - start < 5.0


def test_work_apart_takes_no_module_from_the_working_folder(tmp_path):
    work, mine = tmp_path / "work", tmp_path / "mine"
    for folder in (work, mine):
        folder.mkdir()
    (mine / "cv2.py").write_text("open('taken', 'w')\n", encoding="utf-8")
    (work / "run.py").write_text(
        "from skyview.workbench.jobs import apart\n"
        "def answer(report):\n"
        "    return 42\n"
        "if __name__ == '__main__':\n"
        "    print(apart(lambda share: None, answer))\n",
        encoding="utf-8",
    )
    done = subprocess.run(
        [sys.executable, work / "run.py"], cwd=mine, capture_output=True, text=True, timeout=120
    )
    assert (done.stdout, done.stderr) == ("42\n", "")
    assert not (mine / "taken").exists()


def test_what_comes_behind_rests_while_somebody_waits():
    jobs, order = Jobs(Ear()), []
    begun, go = threading.Event(), threading.Event()

    def table(report):
        for step in range(3):
            report(step / 3)
            order.append(f"table {step}")
            begun.set()
            go.wait(20)

    behind = jobs.start("heights", "a", {}, table, turn="behind")
    assert begun.wait(20)

    def question(report):
        go.set()
        time.sleep(0.3)
        order.append("question")

    asked = jobs.start("spots", "a", {}, question)
    wait(asked, "done")
    wait(behind, "done")
    assert order == ["table 0", "question", "table 1", "table 2"]
    with jobs.asked():
        resting = jobs.start("heights", "b", {}, table, turn="behind")
        jobs.cancel(resting)
        wait(resting, "cancelled")
