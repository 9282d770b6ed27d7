"""The table: width kept, columns dropped by importance, plain when piped."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.report.table import columns_of, paths_table
from skyview.report.words import sentence


@pytest.fixture
def rows(make_row):
    return [
        make_row("QALD", 358.0, path="blocked", obstruction="block", clearance_deg=-5.0),
        make_row("QBEN", 12.0, beyond=True),
        make_row("QDUN", 40.0, path="through_trees", obstruction="oak", clearance_deg=1.25,
                 unseen=True),
        make_row("QKIN", 183.0, path="not_seen", spot="gable", height_m=1.5),
    ]  # fmt: skip


@pytest.mark.parametrize("width", [200, 120, 100, 80, 60, 40, 24, 12, 3])
def test_no_line_is_wider_than_the_terminal(rows, width: int) -> None:
    for line in paths_table(rows, width, plain=False).splitlines():
        assert columns_of(line) <= width


@given(st.text(min_size=1, max_size=30), st.integers(10, 150))
@settings(max_examples=40, deadline=None)
def test_hostile_names_break_neither_width_nor_lines(name: str, width: int) -> None:
    from skyview.survey.results import PathRow

    row = PathRow("s", 1.0, None, name, 9, 189.0, 1.0, 2.0, 0.1, 3.0, 0.2, 0.2, None, False,
                  "clear", False, name, {name: 1.0}, None, None, None, 0.4)  # fmt: skip
    text = paths_table([row], width, plain=False)
    assert all(columns_of(line) <= width for line in text.splitlines())
    assert "\x1b" not in text
    plain = paths_table([row], width, plain=True)
    assert len(plain.splitlines()) == len(paths_table([row], 500, plain=True).splitlines())
    assert "\t" not in plain


def _heading(text: str) -> str:
    return " ".join(text.splitlines()[1:3])


def test_columns_go_by_importance(rows) -> None:
    order = ["zones", "km", "compass", "channel", "clearance", "loss", "costs most", "bearing",
             "margin", "near path"]  # fmt: skip
    left = [
        {word for word in order if word in _heading(paths_table(rows, width, plain=False))}
        for width in range(200, 20, -4)
    ]
    assert left[0] == set(order)
    for wider, narrower in itertools.pairwise(left):
        assert narrower <= wider
    gone = sorted(order, key=lambda word: sum(word in heads for heads in left))
    assert gone == order
    assert "reception" in paths_table(rows, 30, plain=False)


def test_the_words_stay_to_the_last(rows) -> None:
    text = paths_table(rows, 24, plain=False)
    for row in rows:
        assert f"{row.station}    " in text
        assert row.reception in text
    assert "through trees" not in text
    wider = paths_table(rows, 44, plain=False)
    for word in ("blocked", "clear", "through trees", "not seen"):
        assert word in wider


def test_reception_and_margin_fit_eighty_columns(make_row) -> None:
    from dataclasses import replace

    from skyview.survey.results import Margin

    told = [("sure", Margin(3.0, 14.6, 25.0)), ("no", Margin(-41.0, -28.2, -14.0))]
    row = make_row("QALD", 358.0, path="through_trees", obstruction="maple_front")
    rows = [replace(row, reception=word, margin_db=margin) for word, margin in told]
    text = paths_table([*rows, row], 80, plain=False)
    lines = [line for line in text.splitlines() if line.startswith("QALD")]
    for line, part in zip(lines, ("══ sure", "┤├ no", "·· unknown"), strict=True):
        assert part in line
        assert "maple_front" in line
    assert "+15 ±11" in lines[0]
    assert "-28 ±14" in lines[1]
    assert "?" in lines[2]
    assert "±: " not in text
    assert "eight estimates in ten" in text.replace("\n", " ")


def test_plain_text_is_complete_and_undrawn(rows) -> None:
    text = paths_table(rows, 20, plain=True)
    assert not set(text) & set("\t─│┼⊙◒✿■◌…═╌┤├·")
    assert "through trees" in text
    assert "through_trees" not in text
    head = text.splitlines()[1]
    for part in ("bearing (° true)", "loss (dB)", "clearance (m)", "distance (km)"):
        assert part in head
    assert text.count("frequency (MHz)") == 2


def test_one_heading_for_each_spot_and_height(rows) -> None:
    lines = paths_table(rows, 100, plain=False).splitlines()
    assert [line for line in lines if line.startswith("Antenna")] == [
        "Antenna main, 3.0 m above ridge",
        "Antenna main, 1.5 m above gable",
    ]


def test_clearance_is_signed_and_remarks_are_short(rows) -> None:
    text = paths_table(rows, 96, plain=False)
    line = {row.split()[0]: row for row in text.splitlines() if row.startswith("Q")}
    assert line["QALD"].split()[-1] == "-5.0"
    assert line["QDUN"].split()[-1] in ("+1.2", "+1.3")
    assert " beyond" in line["QBEN"]
    assert " unseen" in line["QDUN"]
    assert "beyond: the earth hides" in text
    assert "unseen: an outline hid" in text
    assert "\nzones:" not in text


def test_the_table_ends_with_what_the_words_do_not_say(rows) -> None:
    assert paths_table(rows, 200, plain=True).endswith(sentence("whole_way"))


def test_no_row() -> None:
    assert paths_table([], 80, plain=False) == sentence("no_stations")


@pytest.mark.parametrize(("text", "columns"), [("QALD", 4), ("杉木", 4), ("é", 1), ("e\u0301", 1)])
def test_columns_of_wide_and_combining_letters(text: str, columns: int) -> None:
    assert columns_of(text) == columns
