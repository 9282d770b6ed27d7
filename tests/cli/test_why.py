"""``why`` and the reception in ``paths``: the contract, the season, what is refused."""

from __future__ import annotations

import csv
import json

import pytest

PATH_FIELDS = {"field_dbuv_m", "margin_db", "reception", "reception_probability", "losses_db",
               "cures"}  # fmt: skip
ANTENNA = {"id": "main", "spot": "ridge", "height_m": 1.5, "aim_true_deg": 30.0,
           "gain_dbd": {"uhf": 8.0},
           "downlead": [{"kind": "coax", "type": "rg59", "length_m": 30.0}]}  # fmt: skip


@pytest.fixture
def weak_roof(roof, make_wall):
    """A tree before one weak station, a strong station behind, and one whose need is unknown."""
    told = {"system": "atsc1", "polarization": "h", "haat_m": 200.0}
    roof.wall("oak", make_wall(30.0, 25.0, 8.0, 0.0, 14.0), "broadleaf", ground=True, depth_m=9.0)
    roof.station("QTRE", 30.0, 0.5, channel=30, distance_km=60.0, **told)
    roof.data["stations"][-1]["erp_kw"] = 8.0
    roof.station("QBIG", 210.0, 0.5, channel=24, **told)
    roof.data["stations"][-1]["erp_kw"] = 5000.0
    roof.station("QNEW", 45.0, 0.5, channel=26, system="atsc3")
    roof.data["antennas"] = [ANTENNA]
    roof.data["site"]["surroundings"] = "suburban"
    roof.solve()
    return roof


def test_paths_tell_reception(weak_roof) -> None:
    rows = {row["station"]: row for row in weak_roof.paths()}
    for row in rows.values():
        assert set(row) >= PATH_FIELDS
    tree, big, new = rows["QTRE"], rows["QBIG"], rows["QNEW"]
    assert tree["reception"] in ("likely", "doubtful", "no")
    assert tree["margin_db"]["p10"] < tree["margin_db"]["p50"] < tree["margin_db"]["p90"]
    assert 0.0 <= tree["reception_probability"] < 0.9
    assert tree["losses_db"]["obstruction:oak"] == pytest.approx(tree["shares_db"]["oak"])
    assert list(tree["losses_db"].values()) == sorted(tree["losses_db"].values(), reverse=True)
    assert (big["reception"], big["cures"]) == ("sure", [])
    assert new["margin_db"] is None
    assert (new["reception"], new["reception_probability"]) == ("unknown", None)
    for cure in tree["cures"]:
        assert set(cure) >= {"code", "text", "gain_db", "probability", "costs"}
        assert cure["text"].endswith(".")
        assert all(set(cost) >= {"station", "db"} and cost["db"] >= 1.0 for cost in cure["costs"])


def test_why_in_json(weak_roof) -> None:
    told = weak_roof.runner.ok("why", weak_roof.folder, "QTRE", "--json")
    assert told.json["format"] == "skyview.why"
    row = told.row
    assert set(row) >= {"station", "sentence", "causes", "cures"}
    assert row["station"] == "QTRE"
    assert "oak" in row["sentence"]
    assert "dB" not in row["sentence"]
    for cause in row["causes"]:
        assert set(cause) >= {"code", "db", "obstruction", "text"}
    (oak,) = [cause for cause in row["causes"] if cause["obstruction"] == "oak"]
    assert oak["code"] == "obstruction"
    (path,) = [r for r in weak_roof.paths() if r["station"] == "QTRE"]
    assert row["cures"] == path["cures"]
    assert [cause["db"] for cause in row["causes"]] == list(path["losses_db"].values())


def test_why_in_words(weak_roof) -> None:
    out = weak_roof.runner.ok("why", weak_roof.folder, "QTRE").out
    assert out.startswith("Antenna main, 1.5 m above ridge\n\nQTRE ")
    for part in ("What weakens it", "the tree “oak”", "What would help", "Trees out of leaf",
                 "power lines", "ladder", "Promises are given for trees in leaf"):  # fmt: skip
        assert part in " ".join(out.split())
    assert all(len(line) <= 100 for line in out.splitlines())
    assert "safe" not in out.lower()
    sure = weak_roof.runner.ok("why", weak_roof.folder, "QBIG").out
    assert "should come in well" in sure
    assert "What would help" not in sure


def test_why_at_another_place_and_season(weak_roof) -> None:
    def asked(*more: object) -> dict:
        return weak_roof.runner.ok("why", weak_roof.folder, "QTRE", "--json", *more).row

    here, high = asked(), asked("--height", 6.5)
    assert (here["antenna_height_m"], high["antenna_height_m"]) == (1.5, 6.5)
    assert high["margin_db"]["p50"] > here["margin_db"]["p50"]
    bare = asked("--season", "out")
    assert bare["leaf"] == "out"
    assert bare["reception_probability"] == here["other_leaf_probability"]
    assert bare["margin_db"]["p50"] >= here["margin_db"]["p50"]


def test_what_why_refuses(weak_roof) -> None:
    folder = weak_roof.folder
    assert "no station is called QZZZ" in weak_roof.runner.refused("why", folder, "QZZZ")
    assert "attic" in weak_roof.runner.refused("why", folder, "QTRE", "--spot", "attic")
    assert "--height" in weak_roof.runner.refused("why", folder, "QTRE", "--height", "-3")
    assert "survey.json" in weak_roof.runner.refused("why", folder / "nowhere", "QTRE")


def test_the_table_and_the_spreadsheet(weak_roof, tmp_path) -> None:
    file = tmp_path / "paths.csv"
    out = weak_roof.runner.ok("paths", weak_roof.folder, "-o", file).out
    assert "reception" in out
    assert "whole way from the transmitter" in out
    with file.open(encoding="utf-8", newline="") as stream:
        rows = {row["station"]: row for row in csv.DictReader(stream)}
    assert float(rows["QTRE"]["margin_p10_db"]) < float(rows["QTRE"]["margin_p90_db"])
    assert "obstruction:oak" in rows["QTRE"]["losses"]
    assert " dB to 0." in rows["QTRE"]["cures"]
    assert rows["QNEW"]["margin_p50_db"] == ""
    assert not any("{" in cell for row in rows.values() for cell in (row["cures"], row["losses"]))


def test_what_the_budget_lacks_is_said_once_with_its_mend(weak_roof) -> None:
    weak_roof.data["antennas"] = []
    weak_roof.save()
    rows = weak_roof.runner.ok("check", weak_roof.folder, "--json").rows
    said = {row["field"]: row for row in rows}
    assert said["stations.QNEW.required_cn_db"]["severity"] == "warning"
    assert "stations.QNEW.required_cn_db=" in said["stations.QNEW.required_cn_db"]["mend"]
    assert said["antennas"]["mend"].startswith("skyview set ")
    assert len(rows) == len(said)
    told = weak_roof.runner.ok("paths", weak_roof.folder, "--json")
    assert sum("carrier to noise that QNEW" in note for note in told.json["warnings"]) == 1
    assert json.dumps(told.json["warnings"]).count("no antenna") == 1
