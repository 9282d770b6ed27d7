"""Whatever the bytes, each reader takes them or refuses them in one sentence."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from readers import READERS, refused, spoilt, spoilt_json

from skyview.errors import InputError

sys.path.insert(0, str(Path(__file__).parent))

from study_inputs import COLUMNS, EACH, FIGURES, SEED, tried

CORPUS = Path(__file__).parent / "corpus"
BROKE = sorted(CORPUS.glob("*/*"))
BY_NAME = {reader.name.replace(" ", "_"): reader for reader in READERS}


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name)
def test_sound_inputs_are_taken(reader, tmp_path):
    for content in reader.sound:
        reader.read(content, tmp_path)


@pytest.mark.parametrize("file", BROKE, ids=lambda file: f"{file.parent.name}-{file.name}")
def test_what_once_broke_a_reader(file, tmp_path):
    """Each file raised something else than a sentence once; all of them are refused or read."""
    assert refused(BY_NAME[file.parent.name], file.read_bytes(), tmp_path) in (True, False)


def test_the_corpus_is_there():
    assert len(BROKE) >= 8
    assert {file.parent.name for file in BROKE} <= set(BY_NAME)


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name)
@settings(
    max_examples=30,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(chance=st.randoms(use_true_random=False), as_json=st.booleans(), data=st.data())
def test_spoilt_inputs(reader, tmp_path, chance, as_json, data):
    content = data.draw(st.sampled_from(reader.sound))
    changed = spoilt_json(content, chance) if as_json else spoilt(content, chance, content)
    refused(reader, changed, tmp_path)


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name)
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=200) | st.text(max_size=100).map(str.encode))
def test_any_bytes(reader, tmp_path, content):
    refused(reader, content, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name)
def test_very_many_spoilt_inputs(reader, tmp_path):
    row = tried(reader, round(EACH * reader.share), SEED + 1, tmp_path)
    assert row["faults"] == 0
    assert row["refused"] > 0 or reader.name.endswith("journal")
    assert row["taken"] > 0


def test_the_long_run_had_a_hundred_thousand_inputs():
    with open(FIGURES, encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert list(rows[0]) == list(COLUMNS)
    assert [row["reader"] for row in rows] == [reader.name for reader in READERS]
    assert sum(int(row["inputs"]) for row in rows) >= 100_000
    assert {row["faults"] for row in rows} == {"0"}


def test_a_title_that_steers_a_terminal_is_refused(tmp_path):
    content = (CORPUS / "survey" / "title_that_clears_the_terminal").read_bytes()
    with pytest.raises(InputError, match="title: holds a control character"):
        BY_NAME["survey"].read(content, tmp_path)
