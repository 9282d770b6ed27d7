"""Typed changes: how text becomes a value, and what is said when it does not."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.survey.edit import add_item, remove_item, set_field
from skyview.survey.json_text import load_text, to_text
from skyview.survey.models import Survey, new_survey

TEXT = Path(__file__).with_name("example_survey.json").read_text("utf-8")


@pytest.fixture
def survey() -> Survey:
    return load_text(TEXT)


def at(survey: Any, path: str) -> Any:
    """What an attribute path like spots.0.enu_m leads to."""
    for step in path.split("."):
        survey = survey[int(step)] if step.isdecimal() else getattr(survey, step)
    return survey


@pytest.mark.parametrize(
    ("path", "text", "place", "value"),
    [
        ("antennas.main.aim_true_deg", "143.5", "antennas.0.aim_true_deg", 143.5),
        ("antennas.0.aim_true_deg", "-7", "antennas.0.aim_true_deg", -7.0),
        ("antennas.main.aim_true_deg", "null", "antennas.0.aim_true_deg", None),
        ("antennas.main.aim_true_deg", "None", "antennas.0.aim_true_deg", None),
        ("antennas.main.pattern", "cos4", "antennas.0.pattern", "cos4"),
        ("antennas.main.pattern", '{"uhf": [[0, 0]]}', "antennas.0.pattern", {"uhf": [(0, 0)]}),
        ("antennas.main.pattern.uhf", "[[9, -3]]", "antennas.0.pattern", {"uhf": [(9, -3)]}),
        ("antennas.main.downlead.1.length_m", "25", "antennas.0.downlead.1.length_m", 25.0),
        ("limits.lines_checked", "yes", "limits.lines_checked", True),
        ("limits.lines_checked", "True", "limits.lines_checked", True),
        ("limits.lines_checked", "no", "limits.lines_checked", False),
        ("limits.unguyed_mast_m", "null", "limits.unguyed_mast_m", 3.0),
        ("receiver.sets", "4", "receiver.sets", 4),
        ("spots.ridge.enu_m", "[3, 1, 8]", "spots.0.enu_m", (3.0, 1.0, 8.0)),
        ("spots.ridge.enu_m.2", "8.25", "spots.0.enu_m.2", 8.25),
        ("spots.ridge.heights_m", "[]", "spots.0.heights_m", []),
        ("stations.QALD.virtual_channel", "12", "stations.0.virtual_channel", "12"),
        ("stations.QALD.virtual_channel", "6.10", "stations.0.virtual_channel", "6.10"),
        ("stations.QALD.virtual_channel", '"6.10"', "stations.0.virtual_channel", "6.10"),
        ("stations.QALD.name", "true", "stations.0.name", "true"),
        ("stations.QALD.name", "none", "stations.0.name", None),
        ("stations.QALD.must_have", "no", "stations.0.must_have", False),
        ("title", "Roof 7", "title", "Roof 7"),
        ("title", "7", "title", "7"),
        ("views.v1.leaf", "out", "views.0.leaf", "out"),
        ("views.v1.projection.left_deg", "-170", "views.0.projection.left_deg", -170.0),
        (
            "views.v1.projection",
            '{"kind": "rectilinear", "focal_px": 3000}',
            "views.0.projection.focal_px",
            3000.0,
        ),
        ("marks.m1.points_px.0.1", "410", "marks.0.points_px.0.1", 410.0),
        ("promises.0.word", "sure", "promises.0.word", "sure"),
    ],
)
def test_text_becomes_what_fits_the_field(
    survey: Survey, path: str, text: str, place: str, value: Any
) -> None:
    changed = set_field(survey, path, text)
    assert at(changed, place) == value
    assert type(at(changed, place)) is type(value)


def test_the_survey_given_is_left_as_it_was(survey: Survey) -> None:
    set_field(survey, "antennas.main.gain_dbd.uhf", "12")
    assert survey == load_text(TEXT)


def test_parts_that_are_not_there_yet_are_made() -> None:
    bare = add_item(new_survey(40.0, -100.0), "spots", '{"id": "ridge", "enu_m": [0, 0, 6]}')
    bare = add_item(bare, "antennas", '{"id": "main", "spot": "ridge"}')
    assert set_field(bare, "antennas.main.gain_dbd.uhf", "12").antennas[0].gain_dbd == {"uhf": 12.0}
    assert set_field(bare, "receiver.sets", "2").receiver.sets == 2


def test_ids_may_hold_dots_and_digits(survey: Survey) -> None:
    for key in ("old.shed", "old", "0"):
        survey = add_item(survey, "spots", f'{{"id": "{key}", "enu_m": [0, 0, 1]}}')
    survey = set_field(survey, "spots.old.shed.enu_m", "[1, 1, 1]")
    survey = set_field(survey, "spots.0.enu_m", "[2, 2, 2]")
    places = {spot.id: spot.enu_m[0] for spot in survey.spots}
    assert places == {"ridge": 2.0, "old.shed": 1.0, "old": 0.0, "0": 2.0}
    assert [s.id for s in remove_item(survey, "spots.old.shed").spots] == ["ridge", "old", "0"]


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        (
            "antennas.main.aim_deg",
            "140",
            "antennas.main.aim_deg: aim_deg is not a field here; did you mean aim_true_deg?",
        ),
        ("antena.main.aim_true_deg", "140", "antena is not a field here; did you mean antennas?"),
        ("", "140", "an empty name is not a field here; the fields here are format, version"),
        (
            "antennas.mian.aim_true_deg",
            "140",
            'antennas.mian.aim_true_deg: nothing in this list is called "mian"; did you mean main?',
        ),
        ("spots.7.enu_m", "[]", 'nothing in this list is called "7"; there are ridge'),
        ("spots.-1.enu_m", "[]", 'nothing in this list is called "-1"'),
        ("views.v1.frames.0.file", "a", 'nothing in this list is called "0"; the list holds 0'),
        ("title.more", "x", "title.more: more is not a field here; nothing can stand below it"),
        ("revision", "3", "revision: the program keeps this field itself; leave it alone"),
        ("format", "x", "format: the program keeps this field itself"),
        (
            "antennas.main.aim_true_deg",
            "north",
            'antennas.main.aim_true_deg: "north" is not a number; '
            "expected: azimuth from true north [deg]",
        ),
        ("antennas.main.aim_true_deg", "NaN", "NaN is not a finite number"),
        ("antennas.main.aim_true_deg", "400", "400 is too large, it must be at most 360"),
        ("antennas.main.aim_true_deg", "1,5", '"1,5" is not a number'),
        ("antennas.main.aim_true_deg", '"140"', '"140" is text, not a number'),
        ("limits.lines_checked", "maybe", '"maybe" is neither true nor false; write true or false'),
        ("limits.lines_checked", "1", "1 is neither true nor false"),
        ("receiver.sets", "2.5", "2.5 is not a whole number"),
        ("site.latitude_deg", "null", "null is not a number"),
        ("spots.ridge.enu_m", "[1, 2]", "[1, 2] holds too few values"),
        ("spots.ridge.enu_m.5", "1", 'nothing in this list is called "5"; the list holds 3'),
        (
            "spots.ridge.id",
            "roof",
            "views.v1.spot: 'ridge' is not the id of any of the spots (and 1 more); there are roof",
        ),
        ("antennas.main.spot", "rigde", "did you mean ridge?"),
        ("views.v1.projection.kind", "rectilinear", "left_deg is not a field here"),
    ],
)
def test_what_does_not_fit_is_said(survey: Survey, path: str, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        set_field(survey, path, text)
    assert said in str(caught.value)


def test_below_what_has_no_kind(survey: Survey) -> None:
    survey = set_field(survey, "views.v1.projection", "null")
    survey = set_field(survey, "outlines.o1.rings_px", "[[[1, 1], [9, 1], [5, 9]]]")
    with pytest.raises(InputError, match="has no kind yet; set that first"):
        set_field(survey, "views.v1.projection.left_deg", "-180")


def test_a_list_that_is_not_there() -> None:
    with pytest.raises(InputError, match="the list is empty; add an item first"):
        set_field(new_survey(40.0, -100.0), "spots.ridge.enu_m", "[0, 0, 0]")


def test_add_below_an_item(survey: Survey) -> None:
    survey = add_item(survey, "antennas.main.downlead", '{"kind": "filter"}')
    assert [part.kind for part in survey.antennas[0].downlead][-1] == "filter"
    survey = add_item(survey, "outlines.o1.rings_px", "[[4, 2], [6, 2], [5, 4]]")
    assert len(survey.outlines[0].rings_px) == 2
    survey = add_item(survey, "stations.QALD.pattern", "[90, -3]")
    assert survey.stations[0].pattern == [(90.0, -3.0)]


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        ("spots", '{"id": "ridge", "enu_m": [0, 0, 1]}', 'spots: the id "ridge" is taken'),
        ("spots", '{"id": "shed"}', "spots.shed.enu_m: it is missing; add it; expected: east"),
        ("spots", '{"id": "shed", "enu": [1]}', "spots.shed.enu: enu is not a field here"),
        ("spots", "{id: shed}", "spots: it is not JSON (expecting property name"),
        ("spots", '{"id": "sh', "spots: it ends too early"),
        ("spots", "3", "spots.1: 3 is not an object"),
        ("spotz", "{}", "spotz: spotz is not a field here; did you mean spots?"),
        ("site", "{}", "site: it is not a list; lists are spots, views"),
        ("spots.ridge.enu_m", "3", "spots.ridge.enu_m: it is not a list"),
    ],
)
def test_what_cannot_be_added_is_said(survey: Survey, path: str, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        add_item(survey, path, text)
    assert str(caught.value).startswith(said)


def test_remove_by_id_and_by_path(survey: Survey) -> None:
    assert remove_item(survey, "o1").outlines == []
    assert remove_item(survey, "outlines.o1").outlines == []
    assert remove_item(survey, "promises.0").promises == []
    shorter = remove_item(survey, "antennas.main.downlead.0").antennas[0].downlead
    assert [part.kind for part in shorter] == ["coax", "filter"]
    assert remove_item(remove_item(survey, "o1"), "maple").obstructions == []


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "ridge",
            "spots.ridge: it is still used by views.v1.spot, antennas.main.spot; "
            "remove or change these first.",
        ),
        (
            "v1",
            "views.v1: it is still used by marks.m1.view, obstructions.maple.distance_from, "
            "outlines.o1.view",
        ),
        ("QALD", "stations.QALD: it is still used by promises.0.station"),
        ("antennas.main", "antennas.main: it is still used by scans.0.antenna"),
        ("mapel", 'nothing here has the id "mapel"; did you mean maple?'),
        ("zzzzz", 'nothing here has the id "zzzzz"; name an item by its id, or write LIST.ID'),
        ("limits.lines_checked", "limits.lines_checked: it is not an item of a list"),
        ("spots.shed", 'spots.shed: nothing in this list is called "shed"; there are ridge'),
        ("spots.ridge.enu_m.0", "spots.ridge.enu_m.2: [0, 7.5] holds too few values"),
    ],
)
def test_what_cannot_be_removed_is_said(survey: Survey, name: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        remove_item(survey, name)
    assert said in str(caught.value)


def test_an_id_in_two_lists_takes_a_path(survey: Survey) -> None:
    survey = add_item(survey, "landmarks", '{"id": "o1", "latitude_deg": 0, "longitude_deg": 1}')
    with pytest.raises(InputError, match=r'"o1" is the id of several items; write landmarks\.o1'):
        remove_item(survey, "o1")
    assert remove_item(survey, "landmarks.o1").outlines


WORDS = sorted({*re.findall(r"\w+", TEXT), "0", "1", "-1", "", "a b", "prior", "k1", "[key]"})
VALUES = st.sampled_from(
    [
        "1",
        "-2.5",
        "yes",
        "null",
        "[]",
        "{}",
        "[[1, 2]]",
        '{"kind": "coax"}',
        '"x"',
        "NaN",
        "[" * 5000,
    ]
) | st.text(max_size=6)
LISTS = ("spots", "views", "marks", "outlines", "stations", "antennas", "promises", "scans")


@given(
    st.lists(st.sampled_from(WORDS), max_size=2),
    st.sampled_from([(name, "0") for name in LISTS] + [("limits",), ("site",), ("receiver",), ()]),
    st.sampled_from([set_field, add_item, lambda survey, path, _: remove_item(survey, path)]),
    VALUES,
)
def test_any_change_is_a_survey_or_an_input_error(
    below: list[str], start: tuple[str, ...], change: Any, text: str
) -> None:
    before = load_text(TEXT)
    try:
        after = change(before, ".".join([*start, *below]), text)
    except InputError:
        after = before
    assert load_text(to_text(after)) == after
    assert before == load_text(TEXT)
