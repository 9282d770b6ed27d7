"""Scans as receivers write them and as people type them."""

from __future__ import annotations

import pytest

from skyview.errors import InputError
from skyview.survey.lists.scans import read_scan_list, typed_scan

PLAN = "americas-6mhz"


@pytest.fixture
def read(tmp_path):
    def reading(text, **more):
        file = tmp_path / "scan.csv"
        file.write_text(text, encoding="utf-8")
        return read_scan_list(file, plan=PLAN, rf_of={"6": 21}, **more)

    return reading


@pytest.mark.parametrize(
    ("header", "cell", "field", "value"),
    [
        ("Strength (dBm)", "-58", "strength_dbm", -58.0),
        ("level", "-58", "strength_dbm", -58.0),
        ("Level dBuV", "50.75", "strength_dbm", -58.0),
        ("Signal (dBµV)", "50.75", "strength_dbm", -58.0),
        ("level", "-9.25 dBmV", "strength_dbm", -58.0),
        ("Strength (%)", "73", "strength_percent", 73.0),
        ("signal", "73%", "strength_percent", 73.0),
        ("signal bars", "4", "strength_bars", 4.0),
    ],
)
def test_strengths_in_their_units(read, header, cell, field, value):
    """75 ohm: dBuV = dBm + 108.75, dBmV = dBm + 48.75, from 10 log 75 = 18.75."""
    (row,) = read(f"RF channel,{header},Received\n21,{cell},yes\n").scan
    assert row[field] == pytest.approx(value)
    assert row["received"] is True


def test_usual_columns_of_a_semicolon_list_with_decimal_commas(read):
    found = read("Kanal;Pegel [dBµV];MER (dB);Locked;Stable\n21;55,2;31,4;ja;no\n9;;;nein;\n")
    assert found.scan[0]["cn_db"] == pytest.approx(31.4)
    assert found.scan[0]["strength_dbm"] == pytest.approx(55.2 - 108.75)
    assert found.scan[0]["steady"] is False
    assert found.scan[1] == {"rf_channel": 9, "received": False}


def test_virtual_channels_find_their_station(read):
    found = read("virtual,snr\n6.1,20\n6.2,21\n44.1,19\n")
    assert found.scan == [
        {"rf_channel": 21, "virtual_channel": "6.1", "received": True, "cn_db": 20.0}
    ]
    assert [row.field for row in found.rejected] == ["virtual_channel"]
    assert any("several rows" in note for note in found.assumed)
    assert any("counts as yes" in note for note in found.assumed)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("snr,level dBm\n20,-50\n", "channel"),
        ("ch,level\n21,50\n", "unit"),
        ("ch,level dBm\n21,-400\n", "no strength"),
        ("ch,received\n21,perhaps\n", "neither yes nor no"),
        ("ch,snr\n21,120\n", "no carrier to noise"),
        ("ch,signal %\n21,130\n", "outside"),
    ],
)
def test_what_no_list_can_mean_is_refused(read, text, word):
    with pytest.raises(InputError, match=word):
        read(text)


def test_rows_as_typed():
    rows = typed_scan(
        ["21 yes -58dBm 21dB steady", "9 no", "6.1 yes 4 bars unsteady", "14,yes,71%"],
        PLAN,
        {"6": 30},
    )
    assert rows == [
        {"rf_channel": 21, "received": True, "strength_dbm": -58.0, "cn_db": 21.0, "steady": True},
        {"rf_channel": 9, "received": False},
        {"rf_channel": 30, "received": True, "virtual_channel": "6.1", "strength_bars": 4.0,
         "steady": False},
        {"rf_channel": 14, "received": True, "strength_percent": 71.0},
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "word"),
    [("21", "no row"), ("400 yes", "neither"), ("21 -58dBm", "whether"), ("21 yes maybe", "maybe"),
     ("21 yes -300dBm", "no strength"), ("7.1 yes", "neither")],
)  # fmt: skip
def test_what_cannot_be_typed(text, word):
    with pytest.raises(InputError, match=word):
        typed_scan([text], PLAN, {})
