"""What is done is kept, whatever happens to the writer."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawer_case import put, records, request, task

from skyview.errors import StorageError
from skyview.survey.batch.evaluate import Outcome, evaluate, terrain_stamp
from skyview.survey.batch.journal import Journal


@pytest.fixture
def done(tmp_path):
    """Three surveys and their outcomes."""
    tasks = [task(put(tmp_path / name), f"key {name}") for name in ("a", "b", "c")]
    return [(one, evaluate(request(records()), one)) for one in tasks]


@pytest.fixture
def results(tmp_path):
    return tmp_path / "results.csv"


def fill(results, done) -> bytes:
    with Journal(results) as journal:
        for one, outcome in done:
            journal.add(one, outcome)
    return (results.parent / "results.csv.journal").read_bytes()


def test_what_went_in_comes_out(results, done):
    fill(results, done)
    with Journal(results) as journal:
        for one, outcome in done:
            assert journal.has(one)
            assert journal.outcome(one.survey) == outcome
            assert not journal.has(replace(one, key="another list"))


def test_a_line_cut_anywhere_costs_that_survey_alone(results, done):
    whole = fill(results, done)
    ends = [place + 1 for place, byte in enumerate(whole) if byte == 0x0A]
    file = results.parent / "results.csv.journal"
    for cut in sorted({*range(ends[0] - 3, ends[0] + 4), ends[1] - 1, ends[1], len(whole) - 1, 0}):
        file.write_bytes(whole[:cut])
        with Journal(results) as journal:
            there = [journal.has(one) for one, _ in done]
            assert there == [cut >= end for end in ends]
            for (one, outcome), has in zip(done, there, strict=True):
                if not has:
                    journal.add(one, outcome)
        with Journal(results) as journal:
            assert all(journal.outcome(one.survey) == outcome for one, outcome in done)


def test_the_newest_line_counts_and_tidying_leaves_it_alone(results, done):
    fill(results, done)
    one, outcome = done[0]
    newer = replace(one, key="newer"), replace(outcome, notes=("newer",))
    fill(results, [newer])
    with Journal(results) as journal:
        journal.tidy(["a", "c"])
    with Journal(results) as journal:
        assert journal.has(newer[0])
        assert not journal.has(one)
        assert journal.outcome("a").notes == ("newer",)
        assert journal.has(done[2][0])
        assert not journal.has(done[1][0])


def test_a_file_that_is_no_journal_is_begun_anew(results, done):
    (results.parent / "results.csv.journal").write_bytes(b'{"some": "file"}\n')
    fill(results, done)
    with Journal(results) as journal:
        assert all(journal.has(one) for one, _ in done)


def test_another_terrain_file_makes_a_line_stale(results, done):
    one, _ = done[0]
    (one.folder / "ground.tif").write_bytes(b"12345")
    stamp = terrain_stamp(one.folder, "ground.tif")
    fill(results, [(one, Outcome(terrain=stamp))])
    with Journal(results) as journal:
        assert journal.has(one)
        (one.folder / "ground.tif").write_bytes(b"123456")
        assert not journal.has(one)


def test_two_batches_never_write_the_same_results(results):
    with Journal(results), pytest.raises(StorageError, match="another batch"), Journal(results):
        pass


def test_where_nothing_can_be_written_it_says_so(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(StorageError), Journal(tmp_path / "file" / "results.csv"):
        pass
