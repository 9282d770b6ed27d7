"""Ids that are unique and can be typed."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from skyview.survey.lists.identity import LONGEST_ID, name_each
from skyview.survey.lists.reading import Notes


def _named(*pairs: tuple[str | None, str | None]) -> tuple[list[str], list[str]]:
    records = [{"id": own, "name": name} for own, name in pairs]
    notes = Notes()
    name_each(records, "S", notes)
    return [str(record["id"]) for record in records], notes.sentences()


def test_ids_from_names_and_numbers() -> None:
    ids, notes = _named(("QALD", None), (None, "Qalder Hill"), (None, None))
    assert ids == ["QALD", "Qalder-Hill", "S3"]
    assert notes == [
        "ids taken from names (1 row: Qalder-Hill)",
        "rows without id or name numbered (1 row: S3)",
    ]


def test_a_new_id_never_takes_one_of_the_list() -> None:
    ids, _ = _named(("QALD", None), ("QALD", None), ("QALD-2", None), (None, None), ("S4", None))
    assert ids == ["QALD", "QALD-3", "QALD-2", "S4-2", "S4"]


def test_blanks_and_length() -> None:
    ids, notes = _named(("QALD DT", None), ("Q" * 70, None), ("Q" * 71, None))
    assert ids == ["QALD-DT", "Q" * 64, "Q" * 62 + "-2"]
    assert notes[0].startswith("ids made typable")


@given(st.lists(st.sampled_from([None, "QA", "QA-2", "QA-3", "S1", "S2", "Q" * 64]), max_size=12))
def test_always_unique(ids: list[str | None]) -> None:
    found, _ = _named(*((own, None) for own in ids))
    assert len(set(found)) == len(found)
    assert all(0 < len(name) <= LONGEST_ID for name in found)
    for own, name in zip(ids, found, strict=True):
        assert own is None or own in found
        assert name
