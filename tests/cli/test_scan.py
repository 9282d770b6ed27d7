"""The verb scan: a list or typed rows in, the answer and the kept scan out."""

from __future__ import annotations

import json

import pytest

ROW = {"station", "rf_channel", "received", "predicted_probability", "difference_db", "cause",
       "next_test"}  # fmt: skip


ANTENNA = {"id": "main", "spot": "ridge", "height_m": 1.5, "aim_true_deg": 30,
           "gain_dbd": {"uhf": 6}, "front_to_back_db": {"uhf": 14},
           "downlead": [{"kind": "coax", "type": "rg6", "length_m": 20}]}  # fmt: skip


@pytest.fixture
def weak_roof(roof, make_wall):
    """A tree before one weak station, and three others."""
    told = {"system": "atsc1", "polarization": "h", "haat_m": 200.0, "erp_kw": 50.0}
    roof.wall("oak", make_wall(30.0, 25.0, 8.0, 0.0, 14.0), "broadleaf", ground=True, depth_m=9.0)
    for name, bearing, channel in (
        ("QTRE", 30.0, 30),
        ("QBIG", 210.0, 24),
        ("QEAS", 50.0, 20),
        ("QWES", 10.0, 33),
    ):
        roof.station(name, bearing, 0.5, channel=channel, distance_km=60.0, **told)
    roof.data["antennas"] = [ANTENNA]
    roof.data["site"]["surroundings"] = "suburban"
    roof.solve()
    return roof


@pytest.fixture
def kept(weak_roof):
    """The survey as it is on disk."""

    def read() -> dict:
        return json.loads((weak_roof.folder / "survey.json").read_text(encoding="utf-8"))

    return read


def channels(weak_roof) -> dict[str, int]:
    return {row["station"]: row["rf_channel"] for row in weak_roof.paths()}


def test_a_list_is_compared_and_kept(weak_roof, kept, tmp_path) -> None:
    file = tmp_path / "scan.csv"
    lines = [f"{c},yes,-55,24" for c in channels(weak_roof).values()]
    file.write_text("\n".join(["RF channel,Received,Level dBm,MER", *lines]), encoding="utf-8")
    told = weak_roof.runner.ok("scan", weak_roof.folder, file, "--taken", "2026-02-03", "--json")
    assert told.json["format"] == "skyview.scan"
    for row in told.rows:
        assert set(row) >= ROW
        assert row["received"] is True
    known = [row for row in told.rows if row["difference_db"] is not None]
    assert known
    for row in known:
        assert row["difference_db"] == pytest.approx(-55.0 - row["predicted_dbm"])
    (scan,) = kept()["scans"]
    assert scan["taken"] == "2026-02-03"
    assert len(scan["rows"]) == len(lines)
    assert scan["rows"][0]["strength_dbm"] == -55


def test_the_same_moment_replaces_and_another_adds(weak_roof, kept) -> None:
    row = f"{channels(weak_roof)['QTRE']} yes -60dBm"
    for taken in ("2026-01-01", "2026-07-01", "2026-07-01"):
        weak_roof.runner.ok("scan", weak_roof.folder, "--row", row, "--taken", taken)
    assert [scan["taken"] for scan in kept()["scans"]] == ["2026-01-01", "2026-07-01"]


def test_in_words(weak_roof) -> None:
    found = channels(weak_roof)
    rows = [part for c in found.values() for part in ("--row", f"{c} no")]
    out = weak_roof.runner.ok("scan", weak_roof.folder, *rows, "--taken", "2026-07-01").out
    text = " ".join(out.split())
    assert "station channel received predicted" in text
    assert "Next test:" in text or "Nothing stands out" in text
    assert "safe" not in text.lower()
    assert all(len(line) <= 120 for line in out.splitlines())
    again = weak_roof.runner.ok("scan", weak_roof.folder).out
    assert again == out


def test_the_offset_waits_for_the_line(weak_roof, kept) -> None:
    rows = [part for c in channels(weak_roof).values() for part in ("--row", f"{c} yes -70dBm")]
    refused = weak_roof.runner.refused("scan", weak_roof.folder, *rows, "--use-offset")
    assert "line is not cleared" in refused
    assert "terminals" in refused
    assert "scans" not in kept()
    weak_roof.runner.ok(
        "scan", weak_roof.folder, *rows, "--at", "terminals", "--taken", "2026-07-01",
        "--use-offset",
    )  # fmt: skip
    told = kept()
    assert told["scans"][0]["at"] == "terminals"
    offset = told["site"]["field_offset_db"]
    again = weak_roof.runner.ok("scan", weak_roof.folder, "--json").json
    assert again["offset"]["offset_db"] == pytest.approx(offset, abs=1.0)


def test_what_scan_refuses(weak_roof, tmp_path, kept) -> None:
    run, folder = weak_roof.runner, weak_roof.folder
    assert "no scan" in run.refused("scan", folder)
    assert "which scan" in run.refused("scan", folder, "--taken", "2026-01-01")
    assert "no such file" in run.refused("scan", folder, tmp_path / "none.csv")
    assert "date" in run.refused("scan", folder, "--row", "21 yes", "--taken", "yesterday")
    assert "attic" in run.refused("scan", folder, "--row", "21 yes", "--antenna", "attic")
    assert "scans" not in kept()
