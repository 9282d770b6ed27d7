"""The verb sweep: what it answers, what it keeps, what it refuses and what it leaves behind."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pytest
import street_frames as sf
from click.testing import CliRunner

from skyview.cli.main import main
from skyview.photo.facts import read_header
from skyview.sweep import join

SIZE, FOCAL_PX = (480, 360), 370.0


@pytest.fixture(scope="module")
def frames(tmp_path_factory):
    poses = sf.sweep_poses(5, 3, 70.0, 2.0, size_px=SIZE, focal_px=FOCAL_PX)
    folder = tmp_path_factory.mktemp("frames")
    return sf.write(folder, sf.street(2), poses, 5), poses


@pytest.fixture(scope="module")
def house(tmp_path_factory, frames):
    """A survey with the frames in it, and what the command answered."""
    folder = tmp_path_factory.mktemp("house")
    where = ["--latitude", "40", "--longitude", "-100", "--spot", "ridge", "0", "0", "4.9"]
    assert CliRunner().invoke(main, ["new", str(folder / "s"), *where]).exit_code == 0
    words = ["sweep", *map(str, frames[0]), "-o", str(folder / "pano.jpg"), "--json"]
    answer = CliRunner().invoke(main, [*words, "--into", str(folder / "s"), "--spot", "ridge"])
    assert answer.exit_code == 0, answer.output
    return folder, json.loads(answer.stdout)


def test_the_answer_tells_every_frame(house, frames):
    (row,) = house[1]["rows"]
    assert house[1]["format"] == "skyview.sweep"
    assert [f["file"] for f in row["frames"]] == [f.name for f in frames[0]]
    for frame, pose in zip(row["frames"], frames[1], strict=True):
        assert frame["used"]
        assert set(frame["sigmas"]) == {"yaw_deg", "pitch_deg", "roll_deg", "focal_px"}
        assert frame["focal_px"] == pytest.approx(pose.focal_px, rel=0.01)
    turned = row["frames"][2]["yaw_deg"] - row["frames"][0]["yaw_deg"]
    true = frames[1][2].yaw_deg - frames[1][0].yaw_deg
    assert (turned - true + 180) % 360 - 180 == pytest.approx(0.0, abs=0.15)


def test_the_file_tells_its_own_geometry(house):
    folder, answer = house
    facts, (row,) = read_header(folder / "pano.jpg"), answer["rows"]
    assert (facts.width_px, facts.height_px) == (row["width_px"], row["height_px"])
    assert facts.panorama.kind == "equirectangular"
    assert facts.notes == ()


def test_the_survey_keeps_the_view_and_the_frames(house, frames):
    folder, answer = house
    survey = json.loads((folder / "s" / "survey.json").read_text())
    (view,) = survey["views"]
    assert view["id"] == "pano"
    assert view["camera_enu_m"] == [0, 0, 6.5]
    assert [f["file"] for f in view["frames"]] == [f.name for f in frames[0]]
    for file in frames[0]:
        copy = folder / "s" / "photos" / "pano-frames" / file.name
        assert copy.read_bytes() == file.read_bytes()
    assert answer["revision"] == survey["revision"]


def test_a_pixel_of_a_frame_means_the_same_in_the_panorama(house, frames, run):
    """The middle of a frame stands in the panorama at the yaw and pitch that its row tells."""
    folder, answer = house
    row, name = answer["rows"][0], frames[0][1].name
    survey = folder / "s"
    in_frame = run.ok("locate", survey, "pano", 240, 180, "--frame", name, "--json").row
    edges, held = row["projection"], row["frames"][1]
    off = (held["yaw_deg"] - edges["left_deg"] + 180) % 360 - 180
    x = off / (edges["right_deg"] - edges["left_deg"]) * row["width_px"]
    down = (edges["top_deg"] - held["pitch_deg"]) / (edges["top_deg"] - edges["bottom_deg"])
    in_panorama = run.ok("locate", survey, "pano", x, down * row["height_px"], "--json").row
    for key in ("azimuth_deg", "elevation_deg"):
        assert in_frame[key] == pytest.approx(in_panorama[key], abs=1e-6)
    assert in_frame["x_px"] == 240


def test_marks_made_in_frames_calibrate_the_panorama(house, frames, run, tmp_path):
    survey = tmp_path / "s"
    shutil.copytree(house[0] / "s", survey)
    for index, dx in ((0, -60), (2, 50)):
        pose, name = frames[1][index], frames[0][index].name
        ray = np.array([dx / pose.focal_px, 0.0, 1.0]) @ sf.axes_of(pose)
        bearing = np.degrees(np.arctan2(ray[0], ray[1])) % 360
        where = ["mark", "point", survey, "pano", 240 + dx, 180]
        run.ok(*where, "--bearing", bearing, "--frame", name)
    run.ok("calibrate", survey)
    pose, name = frames[1][1], frames[0][1].name
    row = run.ok("locate", survey, "pano", 240, 180, "--frame", name, "--json").row
    assert (row["azimuth_deg"] - pose.yaw_deg + 180) % 360 - 180 == pytest.approx(0.0, abs=0.2)


def test_an_unknown_frame_is_named(house, run):
    said = run.refused("locate", house[0] / "s", "pano", 1, 1, "--frame", "x.jpg")
    assert "no frame is called x.jpg" in said


def test_what_cannot_be_read_is_left_out_and_named(frames, tmp_path, run):
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(frames[0][0].read_bytes()[:3000])
    done = run.ok("sweep", *frames[0], bad, "-o", tmp_path / "p.jpg", "--json")
    last = done.row["frames"][-1]
    assert (last["file"], last["used"]) == ("bad.jpg", False)
    assert "cannot be read" in last["reason"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["a.jpg", "-o", "p.jpg"], "one frame makes no panorama"),
        (["a.jpg", "a.jpg", "-o", "p.jpg"], "a.jpg is named twice"),
        (["a.jpg", "b.jpg", "-o", "p.png"], "a panorama is a JPEG"),
        (["a.jpg", "b.jpg", "-o", "b.jpg"], "the panorama would take the place of a frame"),
        (["a.jpg", "b.jpg", "-o", "p.jpg"], "there is no such file"),
    ],
)
def test_bad_requests_get_one_sentence(words, says, run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert says in run.refused("sweep", *words)


def test_a_view_name_that_is_taken_is_refused_before_the_work(house, frames, run, tmp_path):
    into = ["--into", house[0] / "s"]
    said = run.refused("sweep", *frames[0], "-o", tmp_path / "pano.jpg", *into)
    assert "there is a view pano already" in said
    assert not (tmp_path / "pano.jpg").exists()


def test_an_interruption_leaves_nothing_half_written(frames, run, tmp_path, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(join, "paint", stop)
    done = run("sweep", *frames[0], "-o", tmp_path / "p.jpg")
    assert done.code == 130
    assert list(tmp_path.iterdir()) == []


def test_the_sample_turn_has_true_angles_and_a_level_horizon(samples, run, tmp_path):
    """Goals: azimuths within 0.15 deg over 300 deg, horizon within 0.2 deg; truth.json's poses."""
    truth = {t["picture"]: t for t in json.loads((samples / "truth.json").read_text())["turn"]}
    files = sorted(samples.glob("turn_*.jpg"), reverse=True)
    row = run.ok("sweep", *files, "-o", tmp_path / "pano.jpg", "--json").row
    assert all(frame["used"] for frame in row["frames"])
    off = [f["yaw_deg"] - truth[f["file"]]["yaw_deg"] for f in row["frames"]]
    off = (np.array(off) - off[0] + 180) % 360 - 180
    assert np.ptp(off) < 0.15
    for frame in row["frames"]:
        true = truth[frame["file"]]
        assert frame["pitch_deg"] == pytest.approx(true["pitch_deg"], abs=0.2)
        assert frame["roll_deg"] == pytest.approx(true["roll_deg"], abs=0.2)
    # The compass is what its frames say of it: 9 deg off on average.
    first = row["frames"][0]
    north = (first["yaw_deg"] - truth[first["file"]]["yaw_deg"] + 180) % 360 - 180
    assert north == pytest.approx(9.1, abs=0.3)
