"""Killed without a word at any moment: the survey opens, and what was acknowledged is there."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest
from kills import INPUTS, ROWS, killed, laid_out, looked_at

from skyview.survey.storage import load

sys.path.insert(0, str(Path(__file__).parent))

from study_kills import COLUMNS, FIGURES, KILLS, study


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.work)
def test_a_kill_loses_nothing(forge, row, tmp_path):
    seeds = [1000, 1001] if row.work.startswith(("save", "import")) else [1000]
    kills = [killed(row, forge, tmp_path / str(seed), seed) for seed in seeds]
    assert [trouble for kill in kills for trouble in kill.troubles] == []


def test_what_must_not_be_is_seen(tmp_path):
    """The look at what a kill left is no formality: each kind of damage has its sentence."""
    laid_out(tmp_path)
    folder = tmp_path / "survey"

    def troubles(acknowledged, count=lambda survey, _: int(survey.title)):
        return " ".join(looked_at(tmp_path, count, acknowledged)[1])

    assert troubles(0) == ""
    assert "lost: 0 kept of 3 acknowledged" in troubles(3)
    (folder / "photos").mkdir()
    whole = (tmp_path / "in" / "p0.jpg").read_bytes()
    (folder / "photos" / "v0.jpg").write_bytes(whole[:-100])
    assert "half written: v0.jpg" in troubles(0)
    text = (folder / "survey.json").read_bytes()
    (folder / "survey.json").write_bytes(text[:-100])
    assert "does not open whole" in troubles(0)


def test_scraps_of_a_dead_writer_go_with_the_next_save(tmp_path):
    laid_out(tmp_path)
    folder = tmp_path / "survey"
    (folder / "photos").mkdir()
    (folder / ".survey.json-0011.part").write_bytes(b"{")
    (folder / "photos" / ".v0.jpg-0011.part").write_bytes(b"\xff\xd8")
    mine = folder / ".notes.part"
    mine.write_bytes(b"not of this program")
    assert looked_at(tmp_path, lambda *_: 0, 0) == (0, ("left lying: .notes.part",))
    assert mine.exists()
    assert load(folder).revision == 2


@pytest.mark.slow
def test_two_hundred_kills_lose_nothing(forge, tmp_path):
    rows = study(forge, tmp_path)
    assert sum(row["kills"] for row in rows) == KILLS
    assert sum(row["troubles"] for row in rows) == 0
    assert all(row["acknowledged"] > 0 for row in rows)
    with open(FIGURES, encoding="utf-8", newline="") as stream:
        kept = list(csv.DictReader(stream))
    assert list(kept[0]) == list(COLUMNS)
    assert [row["work"] for row in kept] == [row["work"] for row in rows]
    assert {row["troubles"] for row in kept} == {"0"}


def test_inputs_differ(tmp_path):
    laid_out(tmp_path)
    files = [Path(tmp_path / "in" / f"p{n}.jpg").read_bytes() for n in range(INPUTS)]
    assert len(set(files)) == INPUTS
