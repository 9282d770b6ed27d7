"""What goes wrong on a roof, each put into a small exact survey."""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from skyview.angles import wrap_180_deg
from skyview.place.declination import declination
from skyview.place.sun import sun_position
from skyview.report.pose_words import sentences
from skyview.survey.cameras import camera_of

sys.path.insert(0, str(Path(__file__).parent))
from trap_surveys import (
    CIRCLE_SIZE,
    CIRCLE_VIEW,
    FAR,
    PHONE,
    PHONE_SIZE,
    PHONE_VIEW,
    SITE,
    circle,
    findings,
    landmark_marks,
    pixel,
    survey_of,
)

ALARMS = {
    "swapped",
    "magnetic_for_true",
    "true_for_magnetic",
    "hour_slip",
    "mirrored",
    "upside_down",
    "span_misstated",
    "contradict",
    "probably_wrong",
}
TENTH_DEG = 0.1


def phone(marks, **more):
    return survey_of(PHONE_VIEW, PHONE_SIZE, marks, **more)


def yaw_off_deg(survey, true_deg):
    return abs(float(wrap_180_deg(survey.views[0].calibration.yaw_deg - true_deg)))


def test_good_marks_raise_no_alarm():
    survey = phone(landmark_marks(PHONE, "abcd"))
    assert not ALARMS & findings(survey).keys()
    assert yaw_off_deg(survey, 121.0) < TENTH_DEG


def test_near_landmark_is_named_with_what_it_leaves():
    """3 m of place at 60 m: 2.9 deg."""
    near = {"a": FAR["a"], "n": (130.0, 4.0, 60.0)}
    survey = phone(landmark_marks(PHONE, "an", near), things=near)
    found = findings(survey)["near"]
    assert found.marks == ["mn"]
    assert found.values["sigma_deg"] == pytest.approx(np.degrees(3.0 / 60.0), rel=1e-3)


def test_marks_in_a_narrow_sector_say_so_and_ask_for_another():
    tight = {"a": (120.0, 2.0, 4e3), "b": (122.0, 3.0, 5e3), "c": (123.0, 1.0, 6e3)}
    survey = phone(landmark_marks(PHONE, "abc", tight), things=tight)
    found = findings(survey)
    assert found["narrow_sector"].values["span_deg"] == pytest.approx(3.0, abs=0.1)
    further = found["next_landmark"].values
    assert further["then_deg"] < 0.5 * further["now_deg"]
    middle = (further["from_deg"] + further["to_deg"]) / 2
    assert abs(middle - 121.0) > 15.0


def test_bearings_alone_leave_the_elevation_rough_and_ask_for_what_settles_it():
    marks = [
        {
            "kind": "bearing",
            "azimuth_deg": azimuth,
            "north": "true",
            "points_px": [pixel(PHONE, azimuth, 1.0)],
        }
        for azimuth in (100.0, 120.0, 140.0)
    ]
    survey = phone(marks)
    found = findings(survey)
    assert found["elevation_rough"].values["elevation_sigma_deg"] > 1.5
    calibration = survey.views[0].calibration
    assert "pitch" in calibration.held
    assert calibration.azimuth_sigma_deg < 0.5
    told = " ".join(sentences("v", calibration))
    assert "level line" in told
    assert "landmark whose height is known" in told


def test_a_level_line_settles_what_bearings_leave():
    marks = [
        {
            "kind": "bearing",
            "azimuth_deg": 120.0,
            "north": "true",
            "points_px": [pixel(PHONE, 120.0, 1.0)],
        },
        {
            "kind": "level",
            "level_by": "spirit",
            "points_px": [pixel(PHONE, azimuth, 0.0) for azimuth in (95.0, 145.0)],
        },
    ]
    survey = phone(marks)
    assert "elevation_rough" not in findings(survey)
    assert survey.views[0].calibration.pitch_deg == pytest.approx(3.0, abs=TENTH_DEG)
    assert survey.views[0].calibration.roll_deg == pytest.approx(1.0, abs=TENTH_DEG)


def test_two_landmarks_swapped_are_named():
    marks = landmark_marks(PHONE, "abcd")
    marks[0]["landmark"], marks[1]["landmark"] = "b", "a"
    survey = phone(marks)
    assert set(findings(survey)["swapped"].marks) == {"ma", "mb"}
    assert yaw_off_deg(survey, 121.0) < 0.2


def test_magnetic_bearings_taken_for_true_are_named():
    """Where the declination is 21.6 deg: the site of the sample pictures."""
    site = {"latitude_deg": -38.6417, "longitude_deg": -117.3925, "ground_amsl_m": 48.0}
    turn = declination(-38.6417, -117.3925, 48.0, 2026.1).declination_deg
    marks = [
        {
            "kind": "bearing",
            "azimuth_deg": azimuth,
            "north": "true",
            "points_px": [pixel(PHONE, azimuth, 0.5)],
        }
        for azimuth in (100.0, 120.0)
    ]
    marks.append({**marks[0], "azimuth_deg": 140.0 - turn, "points_px": [pixel(PHONE, 140.0, 0.5)]})
    survey = phone(marks, taken="2026-02-01T14:00:00-08:00")
    survey.site = survey.site.model_copy(update=site)
    found = findings(survey)
    assert found["magnetic_for_true"].marks == ["m2"]
    assert found["magnetic_for_true"].values["declination_deg"] == pytest.approx(turn, abs=0.1)
    assert yaw_off_deg(survey, 121.0) < 0.2


@pytest.mark.parametrize("hours", [-1, pytest.param(-2, marks=pytest.mark.slow), 1])
def test_a_whole_hour_slip_of_the_photo_s_time_is_named(hours):
    taken = datetime.fromisoformat("2026-03-01T08:30:00+01:00")
    azimuth, elevation = (float(v) for v in np.degrees(sun_position(taken, *SITE)))
    view = {**PHONE_VIEW, "prior": {**PHONE_VIEW["prior"], "pitch_deg": 3.0}}
    sun = {"kind": "sun", "points_px": [pixel(PHONE, azimuth, elevation)]}
    assert 0 < sun["points_px"][0][0] < PHONE_SIZE[0]
    slipped = (taken - timedelta(hours=hours)).isoformat()
    marks = [*landmark_marks(PHONE, "ab"), sun]
    survey = survey_of(view, PHONE_SIZE, marks, taken=slipped)
    assert findings(survey)["hour_slip"].values["hours"] == hours
    assert yaw_off_deg(survey, 121.0) < 0.2
    right = survey_of(view, PHONE_SIZE, marks, taken=taken.isoformat())
    assert not ALARMS & findings(right).keys()


@pytest.mark.parametrize("code", ["mirrored", "upside_down"])
def test_a_turned_picture_is_named(code):
    marks = landmark_marks(PHONE, "abcd")
    for mark in marks:
        x, y = mark["points_px"][0]
        height = PHONE_SIZE[1]
        mark["points_px"] = [[PHONE_SIZE[0] - x, height - y if code == "upside_down" else y]]
    assert code in findings(phone(marks))


def test_marks_either_side_of_the_seam_agree():
    """The picture's ends meet at azimuth 20: marks at 18 and 22, and one opposite."""
    things = {"a": (18.0, 2.0, 4e3), "b": (22.0, 3.0, 4e3), "c": (200.0, 2.0, 5e3)}
    camera = circle()
    marks = landmark_marks(camera, "abc", things)
    columns = [mark["points_px"][0][0] for mark in marks]
    assert max(columns[:2]) - min(columns[:2]) > 0.9 * CIRCLE_SIZE[0]
    survey = survey_of(CIRCLE_VIEW, CIRCLE_SIZE, marks, things)
    assert not ALARMS & findings(survey).keys()
    assert yaw_off_deg(survey, 200.0) < TENTH_DEG


def test_a_mark_beyond_the_seam_is_the_same_mark():
    things = {"a": (18.0, 2.0, 4e3), "b": (22.0, 3.0, 4e3), "c": (200.0, 2.0, 5e3)}
    marks = landmark_marks(circle(), "abc", things)
    first = survey_of(CIRCLE_VIEW, CIRCLE_SIZE, marks, things)
    findings(first)
    low = min(marks[:2], key=lambda mark: mark["points_px"][0][0])
    low["points_px"] = [[low["points_px"][0][0] + CIRCLE_SIZE[0], low["points_px"][0][1]]]
    second = survey_of(CIRCLE_VIEW, CIRCLE_SIZE, marks, things)
    findings(second)
    one, other = first.views[0].calibration, second.views[0].calibration
    assert other.yaw_deg == pytest.approx(one.yaw_deg, abs=0.05)


def test_a_350_degree_panorama_that_claims_360():
    things = {
        "a": (40.0, 2.0, 4e3),
        "b": (120.0, 3.0, 4e3),
        "c": (200.0, 2.0, 5e3),
        "d": (290.0, 1.0, 3e3),
        "e": (350.0, 2.0, 3e3),
    }
    camera = circle(350.0)
    survey = survey_of(CIRCLE_VIEW, CIRCLE_SIZE, landmark_marks(camera, "abcde", things), things)
    found = findings(survey)["span_misstated"].values
    assert found["claimed_deg"] == pytest.approx(360.0)
    assert found["solved_deg"] == pytest.approx(350.0, abs=0.5)
    seen = camera_of(survey, survey.views[0])
    assert not seen.full_circle
    azimuth, _ = seen.picture.camera.directions(*pixel(camera, 340.0, 5.0))
    assert abs(float(wrap_180_deg(np.degrees(azimuth) - 340.0))) < 0.2


def test_a_wrong_mark_among_good_ones_is_named_and_loses_its_say():
    marks = landmark_marks(PHONE, "abcd")
    marks[2]["points_px"][0][0] += 150.0
    survey = phone(marks)
    found = findings(survey)
    assert found["probably_wrong"].marks == ["mc"]
    by_mark = {r.mark: r for r in survey.views[0].calibration.residuals}
    assert by_mark["mc"].trust < 0.01
    assert by_mark["mc"].azimuth_without_deg == pytest.approx(np.degrees(150.0 / 2900.0), rel=0.15)
    assert all(by_mark[m].trust > 0.9 for m in ("ma", "mb", "md"))
    assert yaw_off_deg(survey, 121.0) < TENTH_DEG


def test_two_marks_that_contradict_each_other_leave_both_answers_open():
    marks = landmark_marks(PHONE, "ab")
    marks[1]["points_px"][0][0] -= 300.0
    survey = phone(marks)
    found = findings(survey)
    assert set(found["contradict"].marks) == {"ma", "mb"}
    picture = camera_of(survey, survey.views[0]).picture
    azimuth, _ = picture.camera.directions(*pixel(PHONE, 121.0, 3.0))
    sigma, _ = picture.direction_sigma(*pixel(PHONE, 121.0, 3.0))
    off = abs(float(wrap_180_deg(np.degrees(azimuth) - 121.0)))
    assert off < 2.0 * np.degrees(sigma)
    assert np.degrees(sigma) > 1.0


def test_a_compass_far_off_is_told_and_does_not_pull():
    view = {**PHONE_VIEW, "prior": {"yaw_deg": 171, "pitch_deg": 2.5}}
    survey = survey_of(view, PHONE_SIZE, landmark_marks(PHONE, "abc"))
    assert findings(survey)["compass_off"].values["off_deg"] == pytest.approx(-50.0, abs=0.2)
    assert yaw_off_deg(survey, 121.0) < TENTH_DEG


def test_a_date_outside_the_magnetic_models_is_told():
    mark = {
        "kind": "bearing",
        "azimuth_deg": 100.0,
        "north": "magnetic",
        "points_px": [pixel(PHONE, 104.0, 0.5)],
    }
    found = findings(phone([mark], taken="2041-02-01T14:00:00+01:00"))
    assert found["declination_year"].marks == ["m0"]
    assert found["declination"].values["declination_sigma_deg"] > 0.25
    inside = findings(phone([mark], taken="2026-02-01T14:00:00+01:00"))
    assert "declination_year" not in inside
