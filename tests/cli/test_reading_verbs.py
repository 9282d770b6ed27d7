"""Answers of the reading verbs: envelope, fields, text for people and for pipes, exit codes."""

from __future__ import annotations

import json
import os
import pty
import re
import struct
import subprocess
import sys
import termios
import unicodedata
from fcntl import ioctl

import pytest
from PIL import Image

RUN = "import sys; from skyview.cli.main import run; sys.exit(run(sys.argv[1:]))"
PATH_FIELDS = {
    "spot", "antenna_height_m", "antenna", "station", "rf_channel", "frequency_mhz",
    "bearing_deg", "magnetic_bearing_deg", "bearing_sigma_deg", "distance_km",
    "arrival_elevation_deg", "optical_elevation_deg", "elevation_sigma_deg", "beyond_horizon",
    "path", "unseen_behind", "obstruction", "shares_db", "clearance_deg", "clearance_m",
    "clearance_fresnel_radii", "obstruction_loss_db",
}  # fmt: skip
LOCATE_FIELDS = {
    "view", "x_px", "y_px", "azimuth_deg", "elevation_deg", "azimuth_sigma_deg",
    "elevation_sigma_deg", "magnetic_azimuth_deg",
}  # fmt: skip
CALIBRATE_FIELDS = {
    "view", "solved", "yaw_deg", "pitch_deg", "roll_deg", "yaw_sigma_deg", "pitch_sigma_deg",
    "roll_sigma_deg", "marks",
}  # fmt: skip
PHOTO_FIELDS = {
    "file", "width_px", "height_px", "rotation_applied", "latitude_deg", "longitude_deg",
    "altitude_m", "position_sigma_m", "direction_deg", "direction_north", "focal_35mm", "taken",
    "utc_offset", "projection", "missing",
}  # fmt: skip


@pytest.fixture
def survey(roof, make_wall):
    """One wall, two stations, two spots with three heights between them; calibrated."""
    roof.data["spots"] = [
        {"id": "ridge", "enu_m": [0, 0, 6.5], "heights_m": [1.5, 3.0]},
        {"id": "gable", "enu_m": [4, 1, 6.5], "heights_m": [2.0]},
    ]
    roof.wall("block", make_wall(30.0, 60.0, 6.0, 0.0, 11.0), ground=True)
    roof.station("QLEFT", 30.0, 0.5)
    roof.station("QRIGHT", 200.0, 1.0, channel=9, name="Right Hill")
    return roof.solve()


def envelope(answer, verb: str, revision: int | None = 2) -> list[dict]:
    """Rows of an answer whose wrapping is as agreed, and whose numbers are all finite."""
    told = json.loads(answer.out, parse_constant=pytest.fail)
    assert list(told)[:4] == ["format", "version", "revision", "warnings"]
    assert told["format"] == f"skyview.{verb}"
    assert told["version"] == 1
    assert told["revision"] == revision
    assert all(isinstance(said, str) for said in told["warnings"])
    assert isinstance(told["rows"], list)
    return told["rows"]


def test_paths_has_a_row_for_each_spot_height_and_station(run, survey) -> None:
    rows = envelope(run.ok("paths", survey, "--json"), "paths")
    assert [(r["spot"], r["antenna_height_m"], r["station"]) for r in rows] == [
        (spot, height, station)
        for spot, height in (("ridge", 1.5), ("ridge", 3.0), ("gable", 2.0))
        for station in ("QLEFT", "QRIGHT")
    ]
    for row in rows:
        assert set(row) >= PATH_FIELDS
        assert row["path"] in {"clear", "grazing", "through_trees", "blocked", "not_seen"}
        assert isinstance(row["beyond_horizon"], bool)
        assert isinstance(row["unseen_behind"], bool)
        assert row["obstruction"] is None or row["obstruction"] in row["shares_db"]


def test_paths_can_be_narrowed(run, survey) -> None:
    rows = run.ok("paths", survey, "--spot", "ridge", "--height", 3, "--station", "QLEFT",
                  "--json").rows  # fmt: skip
    assert [(r["spot"], r["antenna_height_m"], r["station"]) for r in rows] == [
        ("ridge", 3.0, "QLEFT")
    ]
    any_height = run.ok("paths", survey, "--height", 7.25, "--station", "QLEFT", "--json").rows
    assert {r["antenna_height_m"] for r in any_height} == {7.25}


@pytest.mark.parametrize(("option", "known"), [("--spot", "ridge"), ("--station", "QLEFT")])
def test_paths_names_what_it_does_not_know(run, survey, option, known) -> None:
    sentence = run.refused("paths", survey, option, "nobody")
    assert "nobody" in sentence
    assert known in sentence


@pytest.mark.parametrize("height", ["-2", "nan"])
def test_paths_refuses_an_impossible_height(run, survey, height) -> None:
    assert "height" in run.refused("paths", survey, "--height", height)


def test_paths_for_people_says_what_the_words_cover(run, survey) -> None:
    told = run.ok("paths", survey).out
    assert "QLEFT" in told
    assert "blocked" in told
    assert "clear" in told
    assert told.count("last few hundred metres") == 1


def test_locate_rows(run, survey) -> None:
    rows = envelope(run.ok("locate", survey, "v1", 720, 240, 840.5, 200.25, "--json"), "locate")
    assert [(r["view"], r["x_px"], r["y_px"]) for r in rows] == [
        ("v1", 720, 240), ("v1", 840.5, 200.25)
    ]  # fmt: skip
    assert all(set(r) >= LOCATE_FIELDS for r in rows)
    text = run.ok("locate", survey, "v1", 720, 240).out
    assert len(text.splitlines()) <= 3


def test_locate_wants_pairs_and_a_known_view(run, survey) -> None:
    assert "pair" in run.refused("locate", survey, "v1", 720)
    assert "v9" in run.refused("locate", survey, "v9", 720, 240)
    assert run("locate", survey, "v1").code == 2
    assert run("locate", survey, "v1", "left", "up").code == 2


def test_locate_outside_the_picture_does_not_answer_in_silence(run, survey) -> None:
    """The picture has 360 rows; row 380 shows nothing, and no direction may stand unremarked."""
    answer = run("locate", survey, "v1", 720, 380, "--json")
    if answer.code != 2:
        assert answer.row["elevation_deg"] is None or answer.json["warnings"]


def test_calibrate_rows(run, survey) -> None:
    (row,) = envelope(run.ok("calibrate", survey, "--json"), "calibrate")
    assert set(row) >= CALIBRATE_FIELDS
    assert "yaw" in row["solved"]
    assert {mark["mark"] for mark in row["marks"]} == {"m0", "m1", "m2", "m3", "m4"}
    for mark in row["marks"]:
        assert abs(mark["azimuth_residual_deg"]) < 0.01
        assert abs(mark["elevation_residual_deg"]) < 0.01


def test_calibrate_holds_what_one_bearing_cannot_tell(roof) -> None:
    roof.data["marks"] = [dict(roof.data["marks"][2], elevation_deg=None)]
    roof.save()
    answer = roof.runner.ok("calibrate", roof.folder, "--json")
    (row,) = envelope(answer, "calibrate")
    assert row["solved"] == ["yaw"]
    assert row["pitch_deg"] == pytest.approx(0.0, abs=1e-3)
    assert row["pitch_sigma_deg"] == pytest.approx(3.0, rel=0.02)
    text = roof.runner.ok("calibrate", roof.folder).out
    assert "pitch" in text
    assert "held" in text


def test_calibrate_without_marks_says_that_nothing_is_solved(roof) -> None:
    roof.data["marks"] = []
    roof.save()
    row = roof.runner.ok("calibrate", roof.folder, "v1", "--json").row
    assert row["solved"] == []
    assert row["yaw_deg"] == pytest.approx(6.0)
    assert row["yaw_sigma_deg"] == pytest.approx(10.0)
    assert "want of marks" in roof.runner.ok("calibrate", roof.folder, "v1").out


def test_calibrate_of_an_unknown_view(run, survey) -> None:
    assert "v9" in run.refused("calibrate", survey, "v9")


def test_photo_rows(run, samples) -> None:
    (row,) = envelope(run.ok("photo", samples / "ridge_frame_3.jpg", "--json"), "photo", None)
    assert set(row) >= PHOTO_FIELDS
    assert (row["width_px"], row["height_px"]) == (2016, 1512)
    assert row["rotation_applied"] in (90, 270, -90)
    assert row["projection"]["kind"] == "rectilinear"
    assert row["direction_north"] in ("true", "magnetic", None)
    assert row["focal_35mm"] == 27
    assert row["utc_offset"] == "-08:00"
    assert isinstance(row["missing"], list)


def test_photo_of_a_sweep_asks_for_what_it_lacks(run, samples) -> None:
    told = run.ok("photo", samples / "ridge_sweep.jpg")
    assert "5151" in told.out
    assert "missing" in told.out


def test_check_rows_tell_what_to_type_next(run, tmp_path) -> None:
    folder = tmp_path / "s"
    run.ok("new", folder, "--latitude", 12, "--longitude", -40)
    answer = run.ok("check", folder, "--json")
    rows = envelope(answer, "check", 1)
    said = " ".join(f"{r['field']} {r['sentence']}" for r in rows)
    for lacking in ("views", "stations", "lines_checked", "ground_amsl_m"):
        assert lacking in said
    text = run.ok("check", folder).out
    assert "power line" in text
    assert "skyview set" in text


def test_check_of_a_whole_survey_is_content(run, survey) -> None:
    rows = run.ok("check", survey, "--json").rows
    assert [r for r in rows if r["severity"] == "missing"] == []


def test_schema_accepts_what_the_verbs_write(run, survey) -> None:
    schema = run.ok("schema").json
    assert "json-schema.org" in schema["$schema"]
    assert schema["additionalProperties"] is False
    assert {"format", "version", "revision", "site"} <= set(schema["required"])
    stored = json.loads((survey / "survey.json").read_text(encoding="utf-8"))
    assert set(stored) <= set(schema["properties"])
    for name in ("spots", "limits", "views", "landmarks", "marks", "obstructions", "outlines",
                 "stations", "antennas", "receiver", "promises", "scans"):  # fmt: skip
        assert name in schema["properties"]


@pytest.mark.parametrize("ending", [".png", ".svg", ".pdf"])
def test_draw_writes_each_format(run, survey, tmp_path, ending) -> None:
    file = tmp_path / f"out{ending}"
    run.ok("draw", survey, "-o", file, "--station", "QLEFT", "--width", 1000)
    start = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}[ending]
    assert file.read_bytes().startswith(start)
    if ending == ".png":
        with Image.open(file) as picture:
            assert 950 <= picture.width <= 1050
    if ending == ".svg":
        assert "QRIGHT" in file.read_text(encoding="utf-8")


def test_draw_shows_the_loss_at_the_frequencies_asked_for(run, survey, tmp_path) -> None:
    file = tmp_path / "loss.svg"
    run.ok("draw", survey, "-o", file, "--loss-at", 551, "--loss-at", 69.5, "--width", 1000)
    text = file.read_text(encoding="utf-8")
    assert "551 MHz" in text
    assert text.index("551 MHz") < text.rindex("69.5 MHz")
    assert "20 MHz" in run.refused("draw", survey, "-o", tmp_path / "o.png", "--loss-at", 20)


def test_draw_refuses_what_it_cannot_do(run, survey, tmp_path) -> None:
    assert ".gif" in run.refused("draw", survey, "-o", tmp_path / "out.gif")
    assert "nobody" in run.refused("draw", survey, "-o", tmp_path / "o.png", "--station", "nobody")
    assert "v9" in run.refused("draw", survey, "-o", tmp_path / "o.png", "--view", "v9")
    nowhere = tmp_path / "no" / "o.png"
    assert run("draw", survey, "-o", nowhere).code in (1, 2)
    assert list(tmp_path.glob("*.png")) == []


@pytest.mark.parametrize("words", [["bogus"], ["paths"], ["paths", "s", "--nope"], ["mark"]])
def test_a_wrong_command_line_is_exit_2(run, words) -> None:
    answer = run(*words)
    assert answer.code == 2
    assert "Traceback" not in answer.err


def test_warnings_go_to_standard_error_and_exit_0(roof) -> None:
    roof.station("QA", 30.0, 0.5)
    roof.data["landmarks"] = [
        {"id": "here", **{k: roof.data["site"][k] for k in ("latitude_deg", "longitude_deg")}}
    ]
    roof.data["marks"].append(
        {"id": "pole", "view": "v1", "kind": "landmark", "landmark": "here",
         "points_px": [[700, 200]], "sigma_px": 2}
    )  # fmt: skip
    roof.save()
    answer = roof.runner.ok("calibrate", roof.folder)
    assert "pole" in answer.err
    assert "pole" in " ".join(roof.runner.ok("calibrate", roof.folder, "--json").json["warnings"])


def on_a_terminal(columns: int, *words: object) -> str:
    """Standard output of the product on a terminal so wide."""
    ours, theirs = pty.openpty()
    ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    plain = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES", "NO_COLOR")}
    with subprocess.Popen(
        [sys.executable, "-c", RUN, *map(str, words)],
        stdin=theirs, stdout=theirs, stderr=subprocess.DEVNULL,
        env=plain | {"TERM": "xterm", "PYTHONIOENCODING": "utf-8"},
    ):  # fmt: skip
        os.close(theirs)
        parts = []
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:
                break
            if not part:
                break
            parts.append(part)
    os.close(ours)
    return b"".join(parts).decode("utf-8")


def cells(line: str) -> int:
    """Columns that a line takes on a terminal, its colour codes left out."""
    bare = re.sub(r"\x1b\[[0-9;]*m", "", line)
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in bare)


@pytest.mark.parametrize("columns", [60, 100])
def test_a_terminal_s_width_is_respected(survey, columns) -> None:
    shown = on_a_terminal(columns, "paths", survey, "--spot", "ridge")
    assert "QLEFT" in shown
    assert "blocked" in shown
    for line in shown.splitlines():
        assert cells(line) <= columns, line


@pytest.mark.parametrize(
    "words", [("paths",), ("check",), ("calibrate",), ("locate", "v1", 700, 200)]
)
def test_piped_text_is_plain(run, survey, words) -> None:
    verb, *rest = words
    answer = run.ok(verb, survey, *rest)
    assert "\x1b" not in answer.out + answer.err
    assert "\r" not in answer.out + answer.err
    assert not any("\u2500" <= c <= "\u259f" for c in answer.out)


def test_answers_are_short(run, survey) -> None:
    assert len(run.ok("calibrate", survey).out.splitlines()) <= 12
    assert len(run.ok("paths", survey, "--spot", "gable").out.splitlines()) <= 12
